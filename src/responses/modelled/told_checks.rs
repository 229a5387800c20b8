//! Checks of a model of means in words.

use super::checked::checks;
use super::numbers::{CheckedUnit, MeanChecks};
use super::options::MeanModelSpec;
use super::told_shared::{Of, around, methods, notes, options, references, signed};
use crate::answer::{Answer, MadeWith, Sheet};
use crate::control::Control;
use crate::error::Result;
use crate::report::fitted;
use crate::report::numbers::{p_value, plural, whole};
use crate::responses::amounts::Amounts;
use crate::responses::told::unit_of;
use crate::trial::Trial;

/// Powers of the mean between which variances may grow without harm to the limits (`tests/calibration/means.md`); 1.5 is expected.
const EXPECTED: (f64, f64) = (1.0, 2.0);

/// The answer.
pub(super) fn answer(trial: &Trial, spec: &MeanModelSpec, control: &Control) -> Result<Answer<MeanChecks>> {
    let found = checks(trial, spec, control)?;
    let of = Of {
        response: &found.response,
        mean_of: found.mean_of,
        primary: found.primary,
        n_left_out: found.n_left_out,
        fewest: None,
    };
    let (places, above) = around(trial, spec);
    let mut made = options(&of, spec);
    made.push(("confidence", found.confidence.to_string()));
    Ok(signed(
        trial,
        Answer {
            kind: "mean_checks".to_owned(),
            sentence: decision(&found),
            details: details(&found),
            notes: notes(&of, spec, &[], trial),
            methods: format!(
                "{} Residuals are in standard deviations of their own, as the variances of combinations have them; the growth of the variance is the slope of its logarithm on that of the mean over combinations, weighted by their degrees of freedom; and each unit was left out in turn.",
                methods(&of, spec, &places, &above)
            ),
            references: references(&of).into_iter().map(str::to_owned).collect(),
            table: table(&found),
            made_with: MadeWith::new(&made),
            numbers: found,
        },
    ))
}

/// Tests that a single unit carries: shown with all of them and not without it.
fn carried(found: &MeanChecks) -> Vec<String> {
    let alpha = 1.0 - found.confidence;
    let turns = found.without.iter().filter(|one| (one.p < alpha) != (one.largest_p < alpha) && one.p < alpha);
    turns.map(|one| format!("{} hangs on {}", one.effect.replace('_', " "), one.largest_without)).collect()
}

/// True where variances grow with the mean otherwise than expected.
fn otherwise(found: &MeanChecks) -> bool {
    found.growth_low.zip(found.growth_high).is_some_and(|(low, high)| low > EXPECTED.1 || high < EXPECTED.0)
}

fn decision(found: &MeanChecks) -> String {
    let unit = found.unit.replace('_', " ");
    let mut wrong = carried(found);
    if found.n_far > 0 {
        let verb = if found.n_far == 1 { "lies" } else { "lie" };
        wrong.push(format!("{} {verb} far from what is expected", whole(found.n_far, &unit, &plural(&unit))));
    }
    if otherwise(found) {
        wrong.push("the spread grows with the mean otherwise than expected".to_owned());
    }
    match wrong.split_first() {
        None => format!("Nothing speaks against this model of {} {}.", found.units.len(), plural(&unit)),
        Some((first, rest)) => {
            let rest: Vec<String> = rest.iter().map(|one| format!("; {one}")).collect();
            fitted(&format!("Look again: {first}"), &rest)
        }
    }
}

fn details(found: &MeanChecks) -> Vec<String> {
    let unit = found.unit.replace('_', " ");
    let amounts = Amounts::of(&found.response, found.mean_of, 0.0);
    let mut lines: Vec<String> = found
        .without
        .iter()
        .map(|one| {
            format!(
                "{}: {} with all {}; from {} (without {}) to {} (without {}).",
                crate::report::capital(&one.effect.replace('_', " ")),
                p_value(one.p),
                plural(&unit),
                p_value(one.smallest_p),
                one.smallest_without,
                p_value(one.largest_p),
                one.largest_without
            )
        })
        .collect();
    let mut far: Vec<&CheckedUnit> = found.units.iter().filter(|one| one.residual.is_some()).collect();
    far.sort_by(|a, b| b.residual.map_or(0.0, f64::abs).total_cmp(&a.residual.map_or(0.0, f64::abs)));
    if let Some(one) = far.first() {
        lines.push(format!(
            "Furthest from what is expected: {unit} {}, {} where {} is expected ({:.1} standard deviations).",
            one.unit,
            amounts.said(one.mean),
            amounts.said(one.expected),
            one.residual.unwrap_or_default()
        ));
    }
    if let Some(((growth, low), high)) = found.growth.zip(found.growth_low).zip(found.growth_high) {
        lines.push(format!(
            "The variance of {} grows as the mean to the power {growth:.1} (95 % interval {low:.1} to {high:.1}); the limits take 1.5 where a combination's own trays say little.",
            plural(&unit)
        ));
    }
    lines
}

fn table(found: &MeanChecks) -> Sheet {
    let rows = &found.units;
    let mut table = Sheet::default();
    table.text("unit", rows.iter().map(|one| one.unit.clone()));
    table.plain("mean", rows.iter().map(|one| one.mean)).of_unit(&unit_of(&found.response));
    table.plain("expected", rows.iter().map(|one| one.expected)).of_unit(&unit_of(&found.response));
    table.plain("residual", rows.iter().map(|one| one.residual));
    table.count("size", rows.iter().map(|one| one.size));
    table
}
