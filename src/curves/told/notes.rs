//! The cautions that stand beside a strength curve.

use super::differences::differ_in_form;
use super::figures::{CurveDifferences, OneCurve, ShapeFit, StrengthCurve, StrengthsFor};
use super::law_words;
use crate::answer::Note;
use crate::curves::find::{Located, NOTED, SPOKEN_OF, Withheld};
use crate::curves::input::CurveInput;
use crate::curves::shape::{Shape, ShapeChoice};
use crate::estimate::TestName;
use crate::math::search::Verdict;
use crate::rates::few_events;
use crate::report::cautions::Claims;
use crate::report::{capital, cautions, join, number, p_value, percent};

/// Strengths this far apart (highest over lowest above 0) are more than one trial usually spans.
const WIDE: f64 = 1e4;

fn of_trays(input: &CurveInput) -> Option<Note> {
    if input.pooled {
        return Some(cautions::no_trays(Claims::Intervals));
    }
    (!input.counted).then(|| cautions::trays_ignored(Claims::Intervals))
}

/// Strengths without a unit: how to give them one.
fn undeclared(input: &CurveInput) -> Option<Note> {
    let text = "The strengths have no unit and no substance: declare them when loading, for example strength=Strength(\"IBA\", unit=\"mg/L\", method=\"quick dip\"), and every answer names them and warns of unusual ones.";
    input.strength.is_none().then(|| Note::new("strength_not_declared", text))
}

pub(super) fn curves(found: &StrengthCurve) -> Vec<Note> {
    let input = &found.input;
    let mut notes: Vec<Note> = of_trays(input).into_iter().chain(input.notes.iter().cloned()).collect();
    notes.extend(undeclared(input));
    if found.spread_assumed {
        let text = format!(
            "No strength was given to two units ({}), so how they differ cannot be seen; the planning correlation of 0.05 stands in, and the intervals rest on it.",
            input.unit_of
        );
        notes.push(Note::new("spread_assumed", text));
    }
    let known = found.spread.as_ref().filter(|spread| spread.few_events() && !input.options.trays.is_law());
    notes.extend(known.map(few_events));
    notes.extend(law_words::notes(found));
    let few = |curve: &OneCurve| curve.strengths.iter().any(|level| level.n_units < 4);
    if input.counted && !found.spread_assumed && found.curves.iter().any(few) {
        notes.push(cautions::few_trays());
    }
    if input.options.shape != ShapeChoice::Auto {
        let text = "The shape was chosen beforehand: the intervals hold no doubt about it. shape=\"auto\" weighs several shapes.";
        notes.push(Note::new("shape_chosen", text));
    }
    for curve in &found.curves {
        of_curve(curve, found, &mut notes);
    }
    notes.extend(common_hump(found));
    notes.push(cautions::best_strength());
    notes.push(cautions::chemical());
    notes
}

/// Curves of their own that show no best, where their takes together do better between the ends than at either: what to ask instead.
fn common_hump(found: &StrengthCurve) -> Option<Note> {
    let curves = &found.curves;
    let first = curves.first()?;
    let same = |curve: &OneCurve| {
        curve.strengths.len() == first.strengths.len()
            && curve.strengths.iter().zip(&first.strengths).all(|(a, b)| a.strength.total_cmp(&b.strength).is_eq())
    };
    if curves.len() < 2 || curves.iter().any(|curve| curve.best.located == Located::Inside || !same(curve)) {
        return None;
    }
    // The mean take of the curves at each strength, with limits.
    let n = curves.len() as f64;
    let mean = |at: usize| {
        let own = || curves.iter().filter_map(|curve| curve.strengths.get(at));
        let value = own().map(|one| one.value).sum::<f64>() / n;
        let below = own().map(|one| (one.value - one.low).powi(2)).sum::<f64>().sqrt() / n;
        let above = own().map(|one| (one.high - one.value).powi(2)).sum::<f64>().sqrt() / n;
        (value, below, above)
    };
    let all: Vec<(f64, f64, f64)> = (0..first.strengths.len()).map(mean).collect();
    let [lowest, inner @ .., highest] = all.as_slice() else { return None };
    let (at, best) = inner.iter().enumerate().max_by(|a, b| a.1.0.total_cmp(&b.1.0))?;
    let better = |than: &(f64, f64, f64)| best.0 - than.0 > best.1.hypot(than.2);
    let column = found.input.options.within.first().filter(|_| better(lowest) && better(highest))?;
    let strength = number(first.strengths.get(at + 1)?.strength);
    let columns: Vec<String> = found.input.options.within.iter().map(|name| format!("{name:?}")).collect();
    let asked = if columns.len() == 1 { columns.join(", ") } else { format!("[{}]", columns.join(", ")) };
    Some(Note::new(
        "common_curve",
        format!(
            "Each curve alone has too few trays to show a best, yet over all levels of {column} together {strength} does better than the lowest and the highest strength. Ask for their common curve: trial.strength_curve(common={asked})"
        ),
    ))
}

fn of_curve(curve: &OneCurve, found: &StrengthCurve, notes: &mut Vec<Note>) {
    let said = found.input.options.outcome.words();
    let place = if found.curves.len() > 1 { format!("{}: ", curve.name) } else { String::new() };
    let positive: Vec<f64> = curve.strengths.iter().map(|level| level.strength).filter(|d| *d > 0.0).collect();
    if curve.strengths.iter().all(|level| level.strength > 0.0) {
        let text =
            format!("{place}Strength 0 was not tested, so nothing is known of {} without hormone.", said.the_take);
        notes.push(Note::new("no_zero_strength", text));
    }
    if let (Some(low), Some(high)) = (positive.first(), positive.last())
        && high / low > WIDE
    {
        let text =
            format!("{place}The strengths span a factor of {}; check that all are in one unit.", number(high / low));
        notes.push(Note::new("wide_strengths", text));
    }
    if curve.all_alike {
        let text = format!(
            "{place}All {} {} or none did: there is no curve to fit, only a bound for each strength.",
            said.cuttings, said.rooted
        );
        notes.push(Note::new("all_alike", text));
    }
    if !curve.out.is_empty() {
        let named: Vec<String> = curve.out.iter().map(|out| format!("{} ({})", out.shape.name(), out.why)).collect();
        notes.push(Note::new("shapes_left_out", format!("{place}Shapes left out: {}.", join(&named))));
    }
    let Some(lead) = curve.shapes.first() else { return };
    notes.extend(lack_of_fit(curve, &place));
    if lead.verdict != Verdict::Fitted {
        let verdict = if lead.verdict == Verdict::Caution { "fitted with caution" } else { "not fitted" };
        let reason = lead.reason.clone().unwrap_or_default();
        notes.push(Note::new("curve_open", format!("{place}{}: {verdict}, {reason}.", lead.shape.name())));
    }
}

/// Shapes with some weight that miss the strengths' own rates, and what is left of the others.
fn lack_of_fit(curve: &OneCurve, place: &str) -> Option<Note> {
    let missing = |one: &&ShapeFit| one.weight >= SPOKEN_OF && one.lack_p.is_some_and(|p| p <= NOTED);
    let missing: Vec<&ShapeFit> = curve.shapes.iter().filter(missing).collect();
    let least = missing.iter().filter_map(|one| one.lack_p).reduce(f64::min)?;
    let weight: f64 = missing.iter().map(|one| one.weight).sum();
    // Forms of one shape with other d0 are one name.
    let mut names: Vec<&str> = missing.iter().map(|one| one.shape.name()).collect();
    names.dedup();
    let silent = missing.iter().filter(|one| one.say <= 0.0).count();
    let misses = format!(
        "{place}{} {} the strengths' own rates by more than chance would ({})",
        capital(&join(&names)),
        if names.len() > 1 { "miss" } else { "misses" },
        p_value(least)
    );
    let text = if 1.0 - weight < SPOKEN_OF || curve.best.withheld == Some(Withheld::NoCurveFits) {
        format!("{misses}, and no likelier shape fits; read the rates of the strengths.")
    } else {
        let left_out = match (silent == missing.len(), names.len()) {
            (false, _) => "",
            (true, 1) => " and has no say in the curve",
            (true, _) => " and have no say in the curve",
        };
        let others = percent(1.0 - weight);
        format!(
            "{misses}{left_out}; shapes with {others} of the weight do not. Read the rates of the strengths beside the curve."
        )
    };
    Some(Note::new("lack_of_fit", text))
}

pub(super) fn strengths_for(found: &StrengthsFor, input: &CurveInput) -> Vec<Note> {
    let mut notes: Vec<Note> = of_trays(input).into_iter().chain(law_words::which_rate(input)).collect();
    if found.rows.iter().any(|row| row.outside) {
        let text = "The strength lies beyond the tested range: it rests on the shape of the curve alone, and no trial has seen it.";
        notes.push(Note::new("outside_tested_range", text));
    }
    if found.rows.iter().any(|row| row.value.is_none()) {
        let the_take = input.options.outcome.words().the_take;
        let text =
            format!("A curve that does not reach {the_take} at any strength gives no estimate, at most a bound.");
        notes.push(Note::new("take_not_reached", text));
    }
    notes.push(cautions::best_strength());
    notes.push(cautions::chemical());
    notes
}

pub(super) fn comparison(found: &CurveDifferences, input: &CurveInput) -> Vec<Note> {
    let mut notes: Vec<Note> = of_trays(input).into_iter().chain(law_words::distances(input)).collect();
    if let Some(bays) = input.bays.as_ref().filter(|bays| bays.between) {
        notes.push(bays.note());
    }
    if found.compared.tests.iter().any(|test| test.method == TestName::SameForm && test.p <= 0.05) {
        let text = if differ_in_form(found) {
            "The curves differ in form, so no single distance or relative potency describes them; read each curve."
        } else {
            "The curves are not one form at different strengths, so no relative potency describes them; nothing speaks against a difference in height alone."
        };
        notes.push(Note::new("not_one_form", text));
    }
    if found.compared.shape == Shape::Cedergreen {
        let text = "Curves of the shape cedergreen are compared as a whole only: the stimulation keeps its own d0, so one form has no other place. Another shape gives the distance.";
        notes.push(Note::new("no_distance", text));
    }
    notes
}
