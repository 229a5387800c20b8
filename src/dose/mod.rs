//! The strength curve: how the take follows hormone strength, where it is best, and how sure that is.
//!
//! Strength 0 is a real value: curves are drawn on `x = ln(1 + d / d0)` or treat 0 as its own limit, never on `ln 0`.
//! Trays enter by effective counts: cuttings divided by the design effect of their strength's trays, with one correlation for
//! the whole trial. Likelihood ratios are then judged by F, their roots by t, on the degrees of freedom of that spread.

mod adequate;
mod answer;
mod averaged;
mod axis;
mod best;
mod bootstrap;
mod candidates;
mod compared;
mod confine;
mod counts;
mod curve;
mod fieller;
mod figures;
mod fit;
mod input;
mod joint;
mod likelihood;
mod notes;
mod run;
mod shape;
mod starts;
mod target;
mod words;

pub use answer::{compare_curves, strength_curve, strength_curve_of, strengths_for};
pub use best::{Best, Located, StrengthLimits};
pub use bootstrap::Bootstrap;
pub use compared::{Compared, Shift};
pub use figures::{
    CurveComparison, Line, OneCurve, Parameter, ShapeFit, ShapeOut, StrengthCurve, StrengthLevel, StrengthsFor,
};
pub use input::{CurveGroup, CurveInput, CurveOptions, TrayCount};
pub use shape::Shape;
pub use target::StrengthFor;
