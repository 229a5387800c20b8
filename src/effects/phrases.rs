//! Small wording helpers shared by the answers of this folder.

use std::collections::BTreeMap;

use crate::answer::Note;
use crate::effects::averaging::Average;
use crate::models::{Model, Ready};
use crate::report::cautions;
use crate::report::numbers::join;

pub(crate) use crate::report::capital;

/// How the other factors were averaged over, in a methods paragraph.
pub(crate) fn averaging_words(average: &Average, at: &BTreeMap<String, String>) -> String {
    let how = match average {
        Average::Equal => "averaged over the other factors with equal weights".to_owned(),
        Average::Observed => "averaged over the other factors by their share of the cuttings".to_owned(),
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
    let text = format!(
        "The model lets {by} act differently by {}: what stands here is an average. If the interaction matters, look within the \
         levels of the other factor.",
        larger.name
    );
    Some(Note::new("main_effect_under_interaction", text))
}
