//! Small wording helpers shared by the answers of this folder.

use std::collections::BTreeMap;

use crate::answer::Note;
use crate::effects::average::Average;
use crate::models::{Model, Ready};
use crate::report::cautions;
use crate::report::numbers::join;
use crate::report::references as cited;
use crate::trial::UnitKind;

/// What was averaged over: the other factors of the model, by name where they are few, and what was held, between commas; nothing where
/// neither is so.
pub(crate) fn averaged_between_commas(
    model: &Model,
    average: &Average,
    held: &[&str],
    at: &BTreeMap<String, String>,
) -> String {
    let others = others(model, held, at);
    let words = averaging_words(average, at);
    let alone = averaging_words(average, &BTreeMap::new());
    let words = match (average, others.len()) {
        (Average::Mix(_), _) => words,
        (_, 0) => words.replacen(&alone, "", 1).trim_start_matches(", ").to_owned(),
        (_, 1..=3) => words.replacen("the other factors", &join(&others), 1),
        _ => words,
    };
    if words.is_empty() { words } else { format!(", {words},") }
}

/// The factors of a model that are neither among `held` nor kept at a level.
fn others(model: &Model, held: &[&str], at: &BTreeMap<String, String>) -> Vec<String> {
    let spec = &model.spec;
    let is_number = |name: &String| {
        spec.numeric.contains(name)
            || spec.polynomials.contains_key(name)
            || model.units.covariates.iter().any(|one| one.name == *name)
    };
    let mut names: Vec<String> = Vec::new();
    for name in model.coefficients.iter().filter_map(|one| one.effect.as_ref()) {
        let kept = held.contains(&name.as_str()) || at.contains_key(name);
        if !kept && !name.contains(" x ") && !is_number(name) && !names.contains(name) {
            names.push(name.clone());
        }
    }
    names
}

/// How the other factors were averaged over, in a methods paragraph.
pub(crate) fn averaging_words(average: &Average, at: &BTreeMap<String, String>) -> String {
    let how = match average {
        Average::Alike => "averaged over the other factors with equal weights".to_owned(),
        Average::AsStuck => "averaged over the other factors by their share of the cuttings".to_owned(),
        Average::Mix(mix) => {
            let one = |(name, shares): (&String, &BTreeMap<String, f64>)| {
                let sum: f64 = shares.values().sum();
                let shares = shares
                    .iter()
                    .map(|(level, share)| format!("{level} {} %", crate::report::numbers::number(100.0 * share / sum)));
                format!("{name}: {}", join(&shares.collect::<Vec<_>>()))
            };
            format!("averaged over the mix {}", mix.iter().map(one).collect::<Vec<_>>().join("; "))
        }
    };
    let held: Vec<String> = at.iter().map(|(name, value)| format!("{name} {value}")).collect();
    if held.is_empty() { how } else { format!("{how}, at {}", join(&held)) }
}

/// The chemical caution, where levels of the declared strength are set beside each other.
pub(crate) fn strength_caution(model: &Model, by: &str) -> Option<Note> {
    (model.spec.strength.as_deref() == Some(by)).then(cautions::chemical)
}

/// Shares that did not sum to 1.
pub(crate) fn averaging_note(scaled: &[String]) -> Option<Note> {
    if scaled.is_empty() {
        return None;
    }
    let text = format!("The shares of {} did not sum to 1; they were scaled so that they do.", join(scaled));
    Some(Note::new("mix_scaled", text))
}

/// A caution when levels of a factor are averaged over another with which they interact.
pub(crate) fn interaction_note(ready: &Ready, by: &str, kept: &[&str]) -> Option<Note> {
    let place = |name: &str| ready.frame.variables.iter().position(|variable| variable.name == name);
    let own = place(by)?;
    let held: Vec<usize> = kept.iter().filter_map(|name| place(name)).chain([own]).collect();
    let larger = ready.frame.terms.iter().find(|term| {
        term.variables.len() > 1 && term.variables.contains(&own) && !term.variables.iter().all(|v| held.contains(v))
    })?;
    let others: Vec<&str> = (larger.variables.iter().filter(|one| **one != own))
        .filter_map(|one| ready.frame.variables.get(*one).map(|variable| variable.name.as_str()))
        .collect();
    let text = format!(
        "The model lets {by} act differently by {}: what stands here is an average. If the interaction matters, look within the \
         levels of the other factor.",
        join(&others)
    );
    Some(Note::new("main_effect_under_interaction", text))
}

/// What rates of a model with places hold for.
pub(crate) fn places_note(model: &Model, over: &[String], at_hand: &[String]) -> Vec<Note> {
    let over = (!over.is_empty()).then(|| cautions::holds_over_places(&join(over)));
    let in_trays = model.units.kind == UnitKind::Tray;
    let at_hand = (!at_hand.is_empty()).then(|| cautions::holds_for_places_at_hand(&join(at_hand), in_trays));
    over.into_iter().chain(at_hand).collect()
}

/// How limits come to hold over places, in a methods paragraph.
pub(crate) fn places_in_words(over: &[String]) -> String {
    if over.is_empty() {
        return String::new();
    }
    format!(
        ", and hold over further levels of {}: their variance is that with these as random places, a combination of mean squares with \
         Satterthwaite's (1946) degrees of freedom",
        join(over)
    )
}

/// Where limits of rates come from, in a methods paragraph.
pub(crate) fn limits_in_words(model: &Model, over: &[String]) -> &'static str {
    if combined(model, over) {
        "limits are Wilson's on the number of cuttings that would say as much (standard errors by the delta method), with a t quantile, \
         and reach 0 or 100 % where that was counted"
    } else {
        "limits come from the delta method on the logit scale, and reach 0 or 100 % where that was counted"
    }
}

/// True where rates are judged by combinations of mean squares.
fn combined(model: &Model, over: &[String]) -> bool {
    !over.is_empty() || model.strata.above.is_some()
}

/// The work behind them.
pub(crate) fn add_places_cited(references: &mut Vec<String>, model: &Model, over: &[String]) {
    let places = (!over.is_empty()).then_some(cited::SATTERTHWAITE_1946);
    let limits = combined(model, over).then_some(cited::WILSON_1927);
    for work in places.into_iter().chain(limits) {
        if !references.iter().any(|one| one == work) {
            references.push(work.to_owned());
        }
    }
}
