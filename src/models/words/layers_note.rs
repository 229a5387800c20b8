//! Which recorded unit judged what, in notes and the methods paragraph.

use crate::answer::Note;
use crate::layers::Component;
use crate::models::enter::{Frame, TrayMode, constant};
use crate::models::errors::{Above, carrier};
use crate::models::kept::Model;
use crate::report::{agree, degrees_of_freedom, join, whole};

/// One note per effect or group of effects with the same judges, and one on what the layers share.
pub(super) fn notes(model: &Model) -> Vec<Note> {
    let Some(above) = &model.strata.above else { return Vec::new() };
    let mut notes = Vec::new();
    for (layers, effects) in judged(model, above) {
        let names: Vec<&str> = layers.iter().map(|one| one.name.as_str()).collect();
        let (names, effects) = (join(&names), join(&effects));
        if let Some(hidden) = layers.iter().find(|one| one.df < 0.5) {
            let place = &hidden.name;
            let text = format!(
                "{effects} and {place} cannot be told apart: no second {place} with the same {effects} shows how these differ. One \
                 {place} per level gives an estimate and no test: rates are shown, but no test or interval of {effects} is given. Repeat \
                 it on more levels of {place}."
            );
            notes.push(Note::new("confounded_with_whole_plot", text));
            continue;
        }
        let df = match layers.as_slice() {
            [only] => format!(
                " ({} between its levels; where other units add to the error, a test has its own)",
                degrees_of_freedom(only.df)
            ),
            _ => ", each counted once".to_owned(),
        };
        let so = agree(&effects, "is constant", "are constant");
        let tested = agree(&effects, "it is", "they are");
        let text = format!("{effects} {so} within {names}, so {tested} tested against {names}{df}.");
        notes.push(Note::new("tested_against_whole_plots", text));
    }
    notes.extend(in_common(above));
    for (place, other) in &above.layers.alike {
        let text = format!("{place} puts the same trays together as {other}, so it is counted once, as {other}.");
        notes.push(Note::new("units_alike", text));
    }
    notes
}

/// What trays of one place are seen to share; where they share nothing beyond chance that is said, not the contrary.
fn in_common(above: &Above) -> Option<Note> {
    let known: Vec<&Component> = above.layers.components.iter().filter(|one| one.df > 0.5).collect();
    // A correlation that is 0 in three decimals is none to a reader.
    let (shared, none): (Vec<&Component>, Vec<&Component>) =
        known.into_iter().partition(|one| one.correlation >= 0.0005);
    let mut parts = Vec::new();
    if !shared.is_empty() {
        let told: Vec<String> = shared.iter().map(|one| format!("{} ({:.3})", one.name, one.correlation)).collect();
        parts.push(match shared.as_slice() {
            [one] => {
                format!("Trays of one {} have something in common (correlation {:.3}).", one.name, one.correlation)
            }
            _ => format!("Trays of one {} have something in common (correlation in brackets).", join(&told)),
        });
    }
    if !none.is_empty() {
        let told: Vec<&str> = none.iter().map(|one| one.name.as_str()).collect();
        parts.push(format!("Trays of one {} are no more alike than others, as far as these data show.", join(&told)));
    }
    (!parts.is_empty()).then(|| {
        parts.push(
            "Each rate and comparison has the error of the units it draws on, with degrees of freedom of its own."
                .to_owned(),
        );
        Note::new("units_above_trays", parts.join(" "))
    })
}

/// Effects by the layers that judge them.
fn judged<'a>(model: &'a Model, above: &'a Above) -> Vec<(Vec<&'a Component>, Vec<&'a str>)> {
    let mut found: Vec<(Vec<usize>, Vec<&str>)> = Vec::new();
    let interactions = model.spec.interactions.iter().map(|parts| parts.join(" x "));
    let known: Vec<&String> = above.effects.iter().flatten().collect();
    for effect in model.spec.effects.iter().cloned().chain(interactions) {
        let Some(name) = known.iter().find(|known| ***known == effect) else { continue };
        let judges = above.judging(name);
        match found.iter_mut().find(|(layers, _)| *layers == judges) {
            Some((_, effects)) => effects.push(name.as_str()),
            None => found.push((judges, vec![name.as_str()])),
        }
    }
    let component = |at: &usize| above.layers.components.get(*at);
    found.into_iter().map(|(layers, effects)| (layers.iter().filter_map(component).collect(), effects)).collect()
}

/// The sentences of the methods paragraph.
pub(super) fn methods(model: &Model, above: &Above) -> String {
    let one = |component: &Component| {
        format!(
            "{} ({}, {}, correlation {:.3})",
            component.name,
            whole(component.levels, "level", "levels"),
            degrees_of_freedom(component.df),
            component.correlation
        )
    };
    let layers: Vec<String> = above.layers.components.iter().map(one).collect();
    let mut text = format!(
        " Above the trays ({}) stand {}, each with a correlation of its own by analysis of variance of tray rates about the effects \
         (Henderson 1953, method 3; none below 0). The variance of every rate and comparison is the combination of mean squares it draws \
         on, with Satterthwaite's (1946) degrees of freedom; F of several contrasts has those of Fai and Cornelius (1996).",
        degrees_of_freedom(above.layers.tray.df),
        join(&layers)
    );
    for (layers, effects) in judged(model, above) {
        let names: Vec<&str> = layers.iter().map(|one| one.name.as_str()).collect();
        let effects = join(&effects);
        if layers.iter().any(|one| one.df < 0.5) {
            let (is, was) = (agree(&effects, "is", "are"), agree(&effects, "was", "were"));
            text.push_str(&format!(" {effects} {is} confounded with {} and {was} not tested.", join(&names)));
        } else {
            let was = agree(&effects, "was", "were");
            text.push_str(&format!(" {effects} {was} tested against {}.", join(&names)));
        }
    }
    text
}

/// Units that a law of the trays leaves out.
pub(super) fn left_out(frame: &Frame) -> Option<Note> {
    let names = &frame.placing.left_out;
    if names.is_empty() {
        return None;
    }
    let told = join(names);
    let it = agree(&told, "it", "them");
    let text = format!(
        "{told} {} in the trial, and this law of the trays leaves {it} out, as if trays of one {} had nothing in common: name {it} among \
         the effects, or in random=. The default, trays=\"auto\", allows for {it} by itself.",
        agree(&told, "stands", "stand"),
        names.join(" or ")
    );
    Some(Note::new("units_left_out", text))
}

/// Units above the tray within which an effect is constant and which this way of counting trays leaves out.
pub(super) fn not_carried(model: &Model, frame: &Frame) -> Option<Note> {
    let counted =
        matches!(model.trays, TrayMode::Dispersion | TrayMode::Robust | TrayMode::BetaBinomial | TrayMode::Random);
    let robust = model.trays == TrayMode::Robust;
    let taken = carrier(frame, &model.units).map(|factor| factor.name.as_str()).filter(|_| !robust);
    let own = if robust { model.spec.robust_by.as_deref().or(plots(model)) } else { taken };
    let left = frame.placing.layers.iter().filter(|place| {
        let carries = frame.variables.iter().any(|one| constant(one, &place.codes));
        let layered = model.strata.layers.iter().any(|layer| layer.name == place.name);
        counted && carries && !layered && Some(place.name.as_str()) != own
    });
    let names: Vec<&str> = left.map(|place| place.name.as_str()).collect();
    if names.is_empty() {
        return None;
    }
    let text = format!(
        "An effect is constant within {}, and this way of counting trays does not allow for what trays of one {} have in common: its \
         tests raise too many false alarms. The default, trays=\"auto\", allows for it.",
        join(&names),
        names.join(" or ")
    );
    Some(Note::new("units_not_carried", text))
}

fn plots(model: &Model) -> Option<&str> {
    model.units.whole_plot.as_ref().map(|plots| plots.name.as_str())
}
