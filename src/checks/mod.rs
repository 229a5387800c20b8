//! Does a fitted model hold? Residuals, leverage and influence of trays, goodness of fit, calibration and the link.

mod answer;
mod calibration;
mod goodness;
mod influence;
mod link_check;
mod numbers;
mod of_model;
mod residuals;
mod view;
mod words;

pub use calibration::{CalibrationGroup, HosmerLemeshow};
pub use goodness::{Dispersion, GoodnessOfFit};
pub use link_check::LinkCheck;
pub use numbers::{CheckOptions, Checks, TrayCheck};
