//! What options accept, told to Python from the types that read it.

use pyo3::prelude::*;

use crate::choice::names;
use crate::compare::{Claim, MarginTest};
use crate::counts::{DifferenceMethod, LawOfCounts, OddsRatioMethod, PairedMethod, RatioMethod, UnconditionalOrder};
use crate::curves::{BlocksUse, CurveTrays, Shape};
use crate::effects::{Adjust, Adjustment, LetterOrder, RateOf, Scale};
use crate::layout::LayoutKind;
use crate::models::{Link, StatisticKind, TrayMode};
use crate::plan::{Boundary, Question, TrayLaw};
use crate::rates::{CorrelationMethod, IntervalMethod, Sides, TargetMethod, TraysUse};
use crate::responses::MeanOf;
use crate::steps::{GradeWeights, Kept, TimeEvent, YieldOf};
use crate::tables::AssociationMethod;
use crate::trial::{BadRows, GradesOf, Outcome, ResponseKind, ResponseUnit};

/// What is left out where a value is chosen by the question itself.
fn or_auto(names: Vec<&'static str>) -> Vec<&'static str> {
    std::iter::once("auto").chain(names).collect()
}

/// Each choice by the name of its type in Python, with its values in the order of the documentation.
#[pyfunction]
fn all() -> Vec<(&'static str, Vec<&'static str>)> {
    vec![
        ("BadRows", names::<BadRows>()),
        ("Trays", names::<TraysUse>()),
        // A share that reaches a grade is asked by its response.
        ("Outcome", Outcome::OF_DEATHS.map(Outcome::name).to_vec()),
        ("GradesOf", names::<GradesOf>()),
        ("CurveTrays", names::<CurveTrays>()),
        ("CurveBlocks", names::<BlocksUse>()),
        ("ModelTrays", names::<TrayMode>()),
        ("Link", names::<Link>()),
        ("EffectTestKind", or_auto(names::<StatisticKind>())),
        ("IntervalMethod", names::<IntervalMethod>()),
        ("DifferenceMethod", names::<DifferenceMethod>()),
        ("RatioMethod", names::<RatioMethod>()),
        ("OddsRatioMethod", names::<OddsRatioMethod>()),
        ("Adjustment", names::<Adjustment>()),
        ("AssociationMethod", names::<AssociationMethod>()),
        ("CorrelationMethod", names::<CorrelationMethod>()),
        ("Sides", names::<Sides>()),
        ("TargetMethod", names::<TargetMethod>()),
        ("Claim", names::<Claim>()),
        ("MarginMethod", names::<MarginTest>()),
        ("UnconditionalMethod", names::<UnconditionalOrder>()),
        ("PairedMethod", names::<PairedMethod>()),
        ("Shape", or_auto(names::<Shape>())),
        ("OneStep", Adjust::SINGLE.map(Adjust::name).to_vec()),
        ("RateScale", names::<Scale>()),
        ("RateOf", names::<RateOf>()),
        ("LetterOrder", names::<LetterOrder>()),
        ("LayoutKind", names::<LayoutKind>()),
        ("Question", names::<Question>()),
        ("TrayLaw", names::<TrayLaw>()),
        ("Boundary", names::<Boundary>()),
        ("GradeWeights", names::<GradeWeights>()),
        ("Kept", names::<Kept>()),
        ("YieldOf", names::<YieldOf>()),
        ("TimeEvent", names::<TimeEvent>()),
        ("LawOfCounts", names::<LawOfCounts>()),
        ("MeanOf", names::<MeanOf>()),
        ("ResponseKind", names::<ResponseKind>()),
        ("ResponseUnit", names::<ResponseUnit>()),
    ]
}

pub(super) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(all, module)?)
}
