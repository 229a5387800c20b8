//! What the strengths to test next say in words.

use super::numbers::{Criterion, NextCurve, NextDesign, NextStrengths, Why};
use crate::answer::Note;
use crate::curves::find::Withheld;
use crate::curves::input::CurveInput;
use crate::curves::told::{Decided, NAMED, heading, strength};
use crate::report::{cautions, facts, join, number, whole, words};
use crate::trial::Outcome;
use crate::units::plausibility;

/// Most words of a decision that lists strengths: a hint before it has room.
const MOST_LISTED: usize = 25;

pub(super) fn name(criterion: Criterion) -> &'static str {
    match criterion {
        Criterion::BestStrength => "best strength",
        Criterion::WholeCurve => "whole curve",
    }
}

/// What trays at a strength are for, of whatever was counted.
pub(super) fn purpose(why: Why, outcome: Outcome) -> String {
    let said = outcome.words();
    match why {
        Why::Control if outcome.is_part() => format!("the control: the {} without any", said.rate),
        _ => why.words().replace("the take", said.the_take),
    }
}

/// Is strength 0 among the strengths?
fn has_zero(design: &NextDesign) -> bool {
    design.strengths.iter().any(|one| one.strength <= 0.0)
}

/// The decision: where to put the trays for the first purpose of each curve.
pub(super) fn decided(found: &NextStrengths, unit: &str) -> Decided {
    let (lead, more) = match found.curves.as_slice() {
        [only] => of_one(only, unit),
        several => (of_several(several, unit), None),
    };
    let first = || found.curves.iter().filter_map(|curve| curve.designs.first());
    let control = (!first().all(has_zero)).then(|| "; keep strength 0 as the control".to_owned());
    (lead, control.into_iter().chain(more).collect())
}

/// Where to put the trays of one curve, and what that narrows.
fn of_one(curve: &NextCurve, unit: &str) -> (String, Option<String>) {
    let Some(design) = curve.designs.first() else {
        return ("These curves give no hint where to test next".to_owned(), None);
    };
    let places = &design.strengths;
    let at = if places.len() > NAMED + 1 {
        let ends = places.first().zip(places.last());
        let ends = ends.map_or((0.0, 0.0), |(low, high)| (low.strength, high.strength));
        format!("{} strengths from {} to {}{unit}", places.len(), number(ends.0), number(ends.1))
    } else {
        let each: Vec<String> =
            places.iter().map(|one| format!("{} ({})", number(one.strength), one.n_units)).collect();
        format!("{}{unit}", join(&each))
    };
    let narrower = match design.criterion {
        Criterion::BestStrength => "; that narrows the best strength".to_owned(),
        Criterion::WholeCurve => "; that narrows the whole curve".to_owned(),
    };
    (format!("Next time put {} at {at}", whole(curve.n_units, "tray", "trays")), Some(narrower))
}

/// The strengths of each of a few curves; of many, that they stand below.
fn of_several(curves: &[NextCurve], unit: &str) -> String {
    let one = |curve: &NextCurve| {
        let strengths = curve.designs.first().map(|design| {
            let each: Vec<String> = design.strengths.iter().map(|one| number(one.strength)).collect();
            join(&each)
        });
        format!("{} at {}", curve.name, strengths.unwrap_or_default())
    };
    let each: Vec<String> = curves.iter().map(one).collect();
    let listed = format!("Next time test {}{unit}; trays for each stand below", each.join("; "));
    if curves.len() <= NAMED && words(&listed) <= MOST_LISTED {
        return listed;
    }
    let names: Vec<&str> = curves.iter().map(|curve| curve.name.as_str()).collect();
    let whose =
        if names.len() > NAMED + 1 { format!("{} curves", names.len()) } else { format!("each of {}", join(&names)) };
    let trays = curves.first().map_or(0, |curve| curve.n_units);
    let alike = curves.iter().all(|curve| curve.n_units == trays);
    let trays = if alike { whole(trays, "tray", "trays") } else { "the trays".to_owned() };
    format!("Next time put {trays} for {whose} at the strengths listed below")
}

/// Where the trays go for each curve and aim, a fact a line.
pub(super) fn details(found: &NextStrengths, outcome: Outcome) -> Vec<String> {
    let several = found.curves.len() > 1;
    let mut said = Vec::new();
    for curve in &found.curves {
        let start = if several { format!("{}: ", heading(&curve.name)) } else { String::new() };
        for design in &curve.designs {
            said.extend(facts(&in_words(design, curve, &found.unit)).into_iter().map(|fact| format!("{start}{fact}")));
        }
    }
    let narrows = |curve: &NextCurve| curve.designs.iter().any(|one| one.criterion == Criterion::BestStrength);
    if found.curves.iter().any(narrows) {
        let the_take = outcome.words().the_take;
        let few = if outcome.is_part() { format!("few {}", outcome.words().root) } else { "little roots".to_owned() };
        said.push(format!("Trays a little to both sides of the best tell more of its place than trays at it: there {the_take} changes with the strength, at the top it hardly does. Far out, where {few}, they tell of the shape alone."));
    }
    said
}

fn in_words(design: &NextDesign, curve: &NextCurve, unit: &str) -> String {
    let places: Vec<String> = design
        .strengths
        .iter()
        .map(|one| {
            let beyond = if one.outside { ", beyond the tested range" } else { "" };
            format!("{} ({}{beyond})", strength(one.strength, unit), whole(one.n_units, "tray", "trays"))
        })
        .collect();
    let trays = whole(curve.n_units, "tray", "trays");
    let control = if has_zero(design) { "" } else { ", beside strength 0 as the control" };
    match design.criterion {
        Criterion::BestStrength => format!("To narrow the best strength put {trays} at {}{control}.", join(&places)),
        Criterion::WholeCurve => {
            let placed = if curve.designs.len() > 1 { "them" } else { trays.as_str() };
            format!("To narrow the whole curve put {placed} at {}{control}.", join(&places))
        }
    }
}

pub(super) fn notes(found: &NextStrengths, input: &CurveInput) -> Vec<Note> {
    let mut notes = Vec::new();
    if input.groups.iter().any(|group| input.stay_below(&group.levels).is_some()) {
        let text = "Where more cuttings die no trays are placed: strengths end at the lowest tested one at which deaths are known to have risen.";
        notes.push(Note::new("ends_where_deaths_rise", text));
    }
    let all = || found.curves.iter().flat_map(|curve| &curve.designs).flat_map(|design| &design.strengths);
    if all().any(|one| one.outside) {
        let text = "Some strengths lie beyond the tested range, since the best may lie there: no trial has seen them, they may burn the base. Try a few cuttings first.";
        notes.push(Note::new("outside_tested_range", text));
    }
    for curve in &found.curves {
        if curve.withheld == Some(Withheld::NoCurveFits) {
            let text = format!(
                "{}: no curve fits the strengths' own {}, so there is no best strength to narrow yet; the strengths given here are those of a curve that may be wrong. Test the old strengths again among them.",
                curve.name,
                input.options.outcome.words().takes
            );
            notes.push(Note::new("lack_of_fit", text));
        } else if curve.designs.iter().all(|design| design.criterion != Criterion::BestStrength) {
            let text = format!(
                "{}: no shape with a top has a say, so the best strength cannot be narrowed by design; test strengths where it may lie.",
                curve.name
            );
            notes.push(Note::new("no_top", text));
        }
    }
    if let Some(declared) = &input.strength {
        let mut unusual: Vec<Note> = all().filter_map(|one| plausibility(one.strength, declared)).collect();
        unusual.dedup();
        notes.extend(unusual);
    }
    notes.push(Note::new(
        "local_design",
        "The places are good for curves like those fitted; where these are wrong they are less good. A strength clearly above the expected best keeps the curve honest.",
    ));
    notes.push(cautions::best_strength());
    notes.push(cautions::chemical());
    notes
}
