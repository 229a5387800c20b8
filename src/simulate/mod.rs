//! Simulated trials with a known answer, for the calibration of the defaults and for planning.

mod layered;
mod replicates;
mod split_plot;
mod trays;

pub use layered::{LayeredDesign, TraySlot, UnitLayer, UnitRole, UnitSpread};
pub use replicates::replicates;
pub use split_plot::SplitPlotDesign;
pub use trays::{Blocks, DrawnTrial, TrayDesign, TraySizes};
pub(crate) use trays::{coded, shifted};
