//! From fitted curves to how they differ.

use super::figured::strengths;
use super::figures::CurveDifferences;
use crate::control::Control;
use crate::curves::find::{Fits, JudgedBy, Placed, Shift, Withheld, bests_compared, compare};
use crate::curves::fit::Curve;
use crate::error::{CurveError, Result};
use crate::estimate::{TestName, TestResult};

/// The curve whose averaged take is the highest at every strength tested in any of them.
fn higher_everywhere(curves: &[&Curve]) -> Option<usize> {
    let strengths: Vec<f64> = curves.iter().flat_map(|curve| &curve.data.levels).map(|level| level.strength).collect();
    let take = |curve: &Curve, strength: f64| -> f64 {
        curve.counting().iter().map(|(member, share)| share * member.fitted.rate(&curve.data, strength)).sum()
    };
    let tops = |at: &usize| {
        let own = curves.get(*at);
        strengths.iter().all(|d| {
            let here = own.map_or(f64::NAN, |curve| take(curve, *d));
            curves.iter().enumerate().all(|(other, curve)| other == *at || take(curve, *d) < here)
        })
    };
    (0..curves.len()).find(tops)
}

pub(super) fn test(found: &CurveDifferences, name: TestName) -> Option<&TestResult> {
    found.compared.tests.iter().find(|test| test.method == name)
}

pub(super) fn shown(test: Option<&TestResult>, found: &CurveDifferences) -> bool {
    test.is_some_and(|test| test.p <= 1.0 - found.confidence)
}

/// Are the curves shown to differ in more than height? Then nothing is said of every strength at once.
pub(super) fn differ_in_form(found: &CurveDifferences) -> bool {
    shown(test(found, TestName::SameButForHeight), found)
}

/// How far the curves lie apart; no ratio of odds for every strength where they differ in form.
pub(super) fn distances(found: &CurveDifferences) -> impl Iterator<Item = &Shift> {
    let ratios = !differ_in_form(found) && !shown(test(found, TestName::SameForm), found);
    let of_height = |one: &&Shift| one.measure.starts_with("odds ratio");
    found
        .compared
        .distances
        .iter()
        .filter(move |one| ratios || !of_height(one))
        .chain(found.compared.heights.iter().filter(|_| !differ_in_form(found)))
}

/// Sets the curves against each other: tests, distances, best strengths; rates of strengths where no distance describes the curves.
pub(super) fn differences(fits: &Fits, control: &Control) -> Result<CurveDifferences> {
    let (input, ready) = (fits.input(), fits.ready());
    let names = input.names();
    let options = &input.options;
    let bays = input.bays.as_ref().filter(|bays| bays.between);
    let by = JudgedBy { judge: &ready.judge, bays, confidence: options.confidence };
    let curves: Vec<&Curve> = ready.curves.iter().map(|(_, curve)| curve).collect();
    let compared = compare(&curves, &names, options.zero_scale, &by, control)?;
    let bests = fits.placed(control)?.iter().zip(&curves);
    let bests: Vec<(Placed, Option<Withheld>)> =
        bests.map(|(placed, curve)| (*placed, curve.withheld(placed.located))).collect();
    let axis = curves.first().map(|curve| curve.data.axis).ok_or(CurveError::OneCurve)?;
    let bests = bests_compared(&bests, &names, &axis, (&ready.judge, options.confidence));
    let higher = higher_everywhere(&curves);
    let mut found = CurveDifferences {
        names,
        compared,
        bests,
        higher,
        takes: Vec::new(),
        df: ready.judge.df,
        confidence: options.confidence,
    };
    if differ_in_form(&found) || distances(&found).next().is_none() {
        let own = fits.each().map(|(counts, curve, _)| strengths(counts, curve, options.confidence));
        found.takes = own.collect::<Result<_>>()?;
    }
    Ok(found)
}
