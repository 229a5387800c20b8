//! What is told of fitted curves: figures (`figures`) and their making (`figured`, `differences`), then words (`phrases` for all answers; `law_words`,
//! `stay_below`, `decision`, `words`, `compare_words`, `notes`), then answers with all their faces (`answer`).

mod answer;
mod compare_words;
mod decision;
mod differences;
mod figured;
mod figures;
pub(super) mod law_words;
mod notes;
mod phrases;
mod stay_below;
mod words;

pub use answer::{compare_curves, strength_curve, strength_curve_of, strengths_for};
pub(super) use answer::{curve_of, differences_of, forms_in_common, strengths_of};
pub(super) use figured::{figures, line, named_blocks, shape_fits, strengths};
pub use figures::{
    CurveDifferences, Line, OneCurve, Parameter, ShapeFit, ShapeOut, StrengthCurve, StrengthLevel, StrengthsFor,
};
pub(crate) use phrases::about;
pub(super) use phrases::{
    Decided, NAMED, aloud, each_for, heading, noun, opening, span, strength, trees, unit, whole_trees,
};
pub(super) use words::located;
