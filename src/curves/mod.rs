//! The strength curve: how the take follows hormone strength, where it is best, and how sure that is.
//!
//! Strength 0 is a real value: curves are drawn on `x = ln(1 + d / d0)` or treat 0 as its own limit, never on `ln 0`.
//! Trays enter by effective counts: cuttings divided by the design effect of their strength's trays, with one correlation for
//! the whole trial. Likelihood ratios are then judged by F, their roots by t, on the degrees of freedom of that spread. Or they follow a
//! law of their own (`fit/beside`), which also takes blocks out. Where bays carry a treatment beside the strengths, the heights of curves are judged
//! by bays (`input/bays`, `fit/level`). Takes hold over these and over places that are taken out (`input/over`).
//!
//! In reading order, each folder knowing those before it: what a curve can be (`shape`), from a trial to trays (`input`), fitting (`fit`), what is
//! found along fitted curves (`find`) and told of them (`told`); then questions beside it (`damage`, `next`, `surface`). `kept` holds fitted curves that
//! answer all questions, `of_trial` asks a trial.

mod damage;
mod find;
mod fit;
mod input;
mod kept;
mod next;
mod of_trial;
mod shape;
mod surface;
mod told;

pub use damage::{DamageCurve, DamageOptions, DamageThreshold, Threshold, damage_threshold};
pub use find::{
    Best, BestOf, BestsCompared, Bootstrap, Compared, Located, Shift, StrengthFor, StrengthLimits, StrengthMethod,
    Withheld,
};
pub use input::{
    BlocksUse, CurveBays, CurveBlocks, CurveGroup, CurveInput, CurveOptions, CurvePlaces, CurveTrays, LevelOverBays,
    StayBelow, TrayCount,
};
pub use kept::FittedCurves;
pub use next::{Criterion, NextCurve, NextDesign, NextOptions, NextStrength, NextStrengths, Why, next_strengths};
pub use shape::{Shape, ShapeChoice};
pub use surface::{
    BestAt, ResponseSurface, SurfaceGrid, SurfaceInput, SurfaceOptions, SurfaceTop, SurfaceTray, response_surface,
    response_surface_of,
};
pub(crate) use told::about;
pub use told::{
    CurveDifferences, Line, OneCurve, Parameter, ShapeFit, ShapeOut, StrengthCurve, StrengthLevel, StrengthsFor,
    compare_curves, strength_curve, strength_curve_of, strengths_for,
};
