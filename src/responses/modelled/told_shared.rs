//! What all answers of a model of means say alike: how they were made, which cautions hold, where each treatment stands.

use super::options::MeanModelSpec;
use crate::answer::{Answer, Note};
use crate::effects::{Adjust, Adjustment};
use crate::report::cautions;
use crate::report::numbers::{join, plural};
use crate::report::references::{BELL_MCCAFFREY_2002, HOTHORN_BRETZ_WESTFALL_2008, SATTERTHWAITE_1946};
use crate::report::references_responses::{COCHRAN_1977, KONIETSCHKE_2012, RIDOUT_1998};
use crate::responses::MeanOf;
use crate::responses::told::{of_response, of_those_rooted};
use crate::trial::{Response, ResponseKind, Trial, answer_of_units};

/// Whose answer it is.
pub(super) struct Of<'a> {
    pub(super) response: &'a Response,
    pub(super) mean_of: MeanOf,
    pub(super) primary: bool,
    pub(super) n_left_out: u64,
    /// The fewest trays of a level; none where levels are not counted.
    pub(super) fewest: Option<u64>,
}

/// Cautions of every answer.
pub(super) fn notes(of: &Of<'_>, spec: &MeanModelSpec, by: &[&str], trial: &Trial) -> Vec<Note> {
    let mut notes = Vec::new();
    // What carries a treatment counts, not the trays within.
    let above = by.first().and_then(|own| carried(trial, own));
    match above {
        Some((place, fewest)) if fewest < 4 => notes.push(cautions::few_units(&place)),
        None if of.fewest.is_some_and(|fewest| fewest < 4) => notes.push(cautions::few_units("tray")),
        _ => {}
    }
    notes.extend(of_response(of.response, of.primary, of.n_left_out, trial));
    if of.mean_of == MeanOf::Rooted {
        notes.push(of_those_rooted(&of.response.column));
    }
    if let [own, kept @ ..] = by {
        notes.extend(interaction(spec, own, kept));
    }
    let strength = trial.options().strength_treatment();
    notes.extend(by.iter().find(|name| strength == Some(**name)).map(|_| cautions::chemical()));
    notes
}

/// A caution where levels are averaged over a treatment with which they interact.
fn interaction(spec: &MeanModelSpec, by: &str, kept: &[&str]) -> Option<Note> {
    let open = |set: &&Vec<String>| {
        set.iter().any(|name| name == by) && set.iter().any(|name| name != by && !kept.contains(&name.as_str()))
    };
    let set = spec.interactions.iter().find(open)?;
    let others: Vec<&str> = set.iter().map(String::as_str).filter(|name| *name != by).collect();
    let text = format!(
        "The model lets {by} act differently by {}: what stands here is an average. If the interaction matters, look within the levels of the other treatment.",
        join(&others)
    );
    Some(Note::new("main_effect_under_interaction", text))
}

/// How means and their variances are worked out, for a reviewer to redo.
pub(super) fn methods(of: &Of<'_>, spec: &MeanModelSpec, places: &[String], above: &[String]) -> String {
    let name = &of.response.column;
    let (each, weights) = match of.mean_of {
        MeanOf::Stuck => (
            "its total over its cuttings stuck (those that did not root count 0; ratio estimates)",
            "the number of cuttings stuck",
        ),
        MeanOf::Rooted => (
            "its total over its rooted cuttings that were measured (ratio estimates)",
            "the number of rooted cuttings measured",
        ),
    };
    let mut effects = spec.effects.clone();
    effects.extend(spec.interactions.iter().map(|set| set.join(" x ")));
    let beside = if places.is_empty() {
        String::new()
    } else {
        format!(", with {} beside {}", join(places), if effects.len() == 1 { "it" } else { "them" })
    };
    let carried = if above.is_empty() {
        String::new()
    } else {
        format!(
            " What was given to {names} as a whole is judged by the means of {names} over what their trays were given, all else by trays within them; a mean draws on both.",
            names = join(&above.iter().map(|one| plural(&one.replace('_', " "))).collect::<Vec<_>>())
        )
    };
    format!(
        "Means of {name} per tray, each {each}, were fitted by least squares weighted by {weights} with effects of {}{beside}.{carried} The variance of a contrast is the sum of squared residuals, each raised by its unit's share (Bell and McCaffrey), combination by combination of treatments. That of a combination is never below what its cuttings alone make it, and is averaged with what all combinations lead to expect, in proportion to the mean to the power 1.5, which counts as two degrees of freedom. Limits and P of single contrasts go by t on Satterthwaite's degrees of freedom.{}",
        join(&effects),
        if of.response.kind == ResponseKind::Count {
            format!(" As rooting and {name} share their trays, how the two vary together is in the totals.")
        } else {
            String::new()
        }
    )
}

/// Works behind every answer.
pub(super) fn references(of: &Of<'_>) -> Vec<&'static str> {
    let mut found = vec![COCHRAN_1977, BELL_MCCAFFREY_2002, SATTERTHWAITE_1946];
    found.extend((of.response.kind == ResponseKind::Count).then_some(RIDOUT_1998));
    found
}

/// What the model was asked for, as options of a record.
pub(super) fn options(of: &Of<'_>, spec: &MeanModelSpec) -> Vec<(&'static str, String)> {
    let sets: Vec<String> = spec.interactions.iter().map(|set| set.join(" x ")).collect();
    vec![
        ("response", of.response.column.clone()),
        ("mean_of", of.mean_of.name().to_owned()),
        ("effects", join(&spec.effects)),
        ("interactions", join(&sets)),
    ]
}

/// The place whose levels had a treatment as a whole, and how many of them a level has at the least.
pub(super) fn carried(trial: &Trial, by: &str) -> Option<(String, u64)> {
    let given = trial.units().given_to().into_iter().find(|one| one.treatment == by)?;
    let fewest = given.levels.iter().map(|(_, units)| *units).min()?;
    Some((given.unit, fewest))
}

/// That a treatment was given to places as a whole, and how many these are.
pub(super) fn carried_line(trial: &Trial, by: &str) -> Option<String> {
    let (place, fewest) = carried(trial, by)?;
    let name = crate::report::capital(&by.replace('_', " "));
    let places = plural(&place.replace('_', " "));
    Some(format!("{name} was given to {places} as a whole, {fewest} of them at the least for a level."))
}

/// The answer with what the trial adds to each.
pub(super) fn signed<T>(trial: &Trial, answer: Answer<T>) -> Answer<T> {
    trial.signed(answer_of_units(trial.units(), answer))
}

/// Recorded columns beside the treatments, and units above the tray that treatments were given to.
pub(super) fn around(trial: &Trial, spec: &MeanModelSpec) -> (Vec<String>, Vec<String>) {
    let units = trial.units();
    let mut above: Vec<String> = Vec::new();
    for given in units.given_to().into_iter().filter(|one| spec.effects.contains(&one.treatment)) {
        if !above.contains(&given.unit) {
            above.push(given.unit);
        }
    }
    let recorded = [&units.season, &units.block, &units.whole_plot, &units.stock_plant].into_iter().flatten();
    let several = |one: &&crate::trial::Factor| one.codes.iter().any(|code| Some(code) != one.codes.first());
    let beside = recorded.filter(several).map(|one| one.name.clone()).collect();
    (beside, above)
}

/// How a family was judged together.
pub(super) fn way(together: Adjust) -> String {
    match together {
        Adjust::List(Adjustment::None) => "not adjusted for their number".to_owned(),
        Adjust::Joint => {
            "judged together by the joint normal law of their scores (Hothorn, Bretz and Westfall 2008), each brought to its own t (Konietschke, Hothorn and Brunner 2012)"
                .to_owned()
        }
        other => format!("adjusted for their number by {}", other.in_words()),
    }
}

/// Works behind it.
pub(super) fn sources(together: Adjust) -> Vec<&'static str> {
    match together {
        Adjust::Joint => vec![HOTHORN_BRETZ_WESTFALL_2008, KONIETSCHKE_2012],
        Adjust::List(list) => crate::effects::cited(list).to_vec(),
        _ => Vec::new(),
    }
}
