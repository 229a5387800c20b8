//! The strength curve: how the take follows hormone strength, where it is best, and how sure that is.
//!
//! Strength 0 is a real value: curves are drawn on `x = ln(1 + d / d0)` or treat 0 as its own limit, never on `ln 0`.
//! Trays enter by effective counts: cuttings divided by the design effect of their strength's trays, with one correlation for
//! the whole trial. Likelihood ratios are then judged by F, their roots by t, on the degrees of freedom of that spread. Or they follow a
//! law of their own (`beside`), which also takes blocks out. Where bays carry a treatment beside the strengths, the heights of curves are judged by
//! bays (`bays`). Takes hold over these and over places that are taken out (`over`).

mod adequate;
mod along;
mod answer;
mod averaged;
mod axis;
mod bays;
mod beside;
mod best;
mod blocks;
mod bootstrap;
mod cache;
mod candidates;
mod common;
mod compare_words;
mod compared;
mod confine;
mod counts;
mod curve;
mod damage;
mod damage_words;
mod decision;
mod fieller;
mod figures;
mod fit;
mod held;
mod hormesis;
mod hull;
mod input;
#[cfg(test)]
mod invented;
mod joint;
mod kept;
mod law_words;
mod layers;
mod likelihood;
mod next_answer;
mod next_strengths;
mod notes;
mod of_trial;
mod outcomes;
mod over;
mod pairs;
mod run;
mod shape;
mod single_best;
mod starts;
mod stated;
mod stay_below;
mod surface;
mod surface_answer;
mod surface_input;
mod surface_run;
mod target;
mod words;

pub use answer::{compare_curves, strength_curve, strength_curve_of, strengths_for};
pub use bays::CurveBays;
pub use best::{Best, Located, StrengthLimits};
pub use blocks::CurveBlocks;
pub use bootstrap::Bootstrap;
pub use compared::{Compared, Shift};
pub use damage::{DamageCurve, DamageOptions, DamageThreshold, Threshold, damage_threshold};
pub use figures::{
    CurveDifferences, Line, OneCurve, Parameter, ShapeFit, ShapeOut, StrengthCurve, StrengthLevel, StrengthsFor,
};
pub use input::{BlocksUse, CurveGroup, CurveInput, CurveOptions, CurveTrays, TrayCount};
pub use kept::FittedCurves;
pub use next_answer::{NextCurve, NextOptions, NextStrengths, next_strengths};
pub use next_strengths::{Criterion, NextDesign, NextStrength, Why};
pub use outcomes::{beside_deaths, strength_curve_of_trial};
pub use over::{CurvePlaces, LevelOverBays};
pub use shape::Shape;
pub use single_best::{BestOf, BestsCompared};
pub use stated::Withheld;
pub use stay_below::StayBelow;
pub use surface_answer::{response_surface, response_surface_of};
pub use surface_input::{SurfaceInput, SurfaceOptions, SurfaceTray};
pub use surface_run::{BestAt, ResponseSurface, SurfaceGrid, SurfaceTop};
pub use target::StrengthFor;
