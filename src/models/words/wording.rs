//! Notes, verdict and methods text of a model.

use super::{law_words, layers_note};
use crate::answer::Note;
use crate::math::search::Verdict;
use crate::models::design::Inseparable;
use crate::models::enter::{Confined, Frame, TrayMode};
use crate::models::errors::{TrayCorrelation, split_plot};
use crate::models::fit::robust;
use crate::models::kept::{Model, is_robust, is_used};
use crate::rates::more_alike;
use crate::report::cautions::Claims;
use crate::report::{agree, cautions, degrees_of_freedom, join, references as cited};
use crate::trial::{
    EarlierWords, UnitKind, Units, Value, earlier_words, follows_time, notes_of_units, text_of_units, time_note,
};

/// Every caution of a fitted model.
pub(crate) fn notes(model: &Model, frame: &Frame) -> Vec<Note> {
    let mut notes: Vec<Note> = Vec::new();
    notes.extend(tray_note(model));
    notes.extend(robust::notes(model));
    notes.extend(law_words::notes(model));
    notes.extend(separation_note(model));
    notes.extend(few_events_note(model));
    let held = model.strata.correlation.map_or(model.strata.tray.dispersion <= 1.0, |known| known.estimate < 0.0);
    notes.extend(more_alike(
        "tray",
        model.strata.raw_dispersion.filter(|_| held),
        model.strata.tray.df.unwrap_or_default(),
    ));
    notes.extend(kept_note(frame));
    if let Some((outer, inner)) = &frame.placing.together {
        let text = format!("{inner} lies within {outer}, so taking out {inner} takes out {outer} as well.");
        notes.push(Note::new("taken_out_together", text));
    }
    notes.extend(model.strata.confined.iter().map(confined_note));
    if model.strata.above.is_some() {
        notes.extend(layers_note::notes(model));
    } else {
        notes.extend(whole_plot_note(model, frame));
        notes.extend(layers_note::not_carried(model, frame));
        notes.extend(layers_note::left_out(frame));
    }
    notes.extend(entering_notes(model, frame));
    let effects = model.units.treatments.iter().filter(|one| model.spec.effects.contains(&one.name));
    notes.extend(effects.filter_map(|one| Some(time_note(&one.name, &follows_time(&model.units, one)?))));
    notes.extend(told(model).map(|words| words.note));
    let (confounded, absent): (Vec<_>, Vec<_>) = model.inseparable.iter().partition(|alias| !alias.with.is_empty());
    if !confounded.is_empty() {
        notes.push(Note::new("inseparable", inseparable_text(&confounded)));
    }
    let empty = empty_combinations(frame);
    if !empty.is_empty() || !absent.is_empty() {
        let text = format!("No cuttings were set for {}; rates that would need them are not given.", listing(&empty));
        notes.push(Note::new("empty_combinations", text));
    }
    notes_of_units(&model.units, notes)
}

/// The places that stay in the model though nobody asked about them.
fn kept_note(frame: &Frame) -> Option<Note> {
    let kept: Vec<String> = frame.terms.iter().filter(|term| !term.asked).map(|term| term.name.clone()).collect();
    let text = match kept.as_slice() {
        [] => return None,
        [one] => format!("{one} was part of the layout, so it stays in the model as an additive factor."),
        several => format!("{} were part of the layout, so they stay in the model as additive factors.", join(several)),
    };
    Some(Note::new("block_kept", text))
}

/// Weights, units without weight, interactions that entered with a larger one, trays of one cutting.
fn entering_notes(model: &Model, frame: &Frame) -> Vec<Note> {
    let mut notes = Vec::new();
    if !frame.left_out.is_empty() {
        let names: Vec<String> = frame.left_out.iter().map(|unit| unit_name(&model.units, *unit)).collect();
        let text = format!("Weight 0, so no part in the model: {}.", listing(&names));
        notes.push(Note::new("zero_weight", text));
    }
    if let Some(column) = &model.spec.weights {
        let text = format!(
            "Each count's log-likelihood was multiplied by {column}: a count of weight 2 tells as much as two such counts."
        );
        notes.push(Note::new("weighted", text));
    }
    if !frame.added.is_empty() {
        let text = format!(
            "{} entered as well: an interaction can be read only beside those of fewer effects inside it.",
            frame.added.join(" and ")
        );
        notes.push(Note::new("smaller_interactions_added", text));
    }
    let single = !frame.per_unit.stuck.is_empty() && frame.per_unit.stuck.iter().all(|m| *m == 1.0);
    if single && model.units.kind == UnitKind::Tray {
        let text = "Every tray holds one cutting, so how trays differ cannot be seen apart from chance.";
        notes.push(Note::new("one_cutting_per_tray", text));
    }
    notes
}

/// A unit by its tray and treatments.
fn unit_name(units: &Units, unit: usize) -> String {
    let factors = units.tray.iter().chain(&units.treatments);
    let names = factors.filter_map(|factor| factor.label(unit).map(|level| format!("{} {level}", factor.name)));
    let names: Vec<String> = names.collect();
    if names.is_empty() { format!("unit {}", unit + 1) } else { names.join(", ") }
}

/// So few events that the spread of trays rests on next to nothing.
fn few_events_note(model: &Model) -> Option<Note> {
    let w = model.spec.outcome.words();
    let text = if let Some(known) = model.strata.correlation {
        let TrayCorrelation { floor, events, .. } = known;
        known.few_events().then(|| {
            format!(
                "Only about {events:.0} {} of the rarer outcome ({}) are expected under the effects, so trays can \
                 hardly show how they differ. A planning correlation of {floor:.3} within trays was used in place of what they show.",
                w.cuttings, w.either
            )
        })?
    } else {
        let (rooted, stuck): (u64, u64) = (model.units.rooted.iter().sum(), model.units.stuck.iter().sum());
        let events = rooted.min(stuck.saturating_sub(rooted));
        if !(model.trays == TrayMode::Dispersion || is_used(model)) || events >= model.n_units {
            return None;
        }
        let what = if is_used(model) { "tests by the likelihood of such a law raise" } else { "a dispersion raises" };
        format!(
            "Only {events} {} of the rarer outcome ({}) in {} trays: trays can hardly show how they differ, and \
             where they differ much {what} too many false alarms. The default, trays=\"auto\", allows for that.",
            w.cuttings, w.either, model.n_units
        )
    };
    Some(Note::new("few_events", text))
}

fn tray_note(model: &Model) -> Option<Note> {
    if matches!(model.trays, TrayMode::Dispersion | TrayMode::Effective | TrayMode::Robust) || is_used(model) {
        return None;
    }
    Some(if model.units.kind == UnitKind::Pooled {
        cautions::no_trays(Claims::Both)
    } else if model.spec.trays == TrayMode::Ignore {
        cautions::trays_ignored(Claims::Both)
    } else {
        Note::new(
            "no_tray_information",
            "The trays leave no degrees of freedom beside the effects, so their differences cannot be seen. Cuttings are \
             treated as independent and intervals are too narrow.",
        )
    })
}

fn separation_note(model: &Model) -> Option<Note> {
    if !model.penalised {
        return None;
    }
    if model.spec.penalised && model.separated.is_empty() {
        return Some(Note::new("penalised", "The penalised likelihood was used, as asked."));
    }
    let text = format!(
        "All or none {} in {}. A plain fit would put such rates at exactly 0 or 100 % with endless odds ratios, so the \
         penalised likelihood of Firth was used{}.",
        model.spec.outcome.words().rooted,
        listing(&model.separated),
        if model.trays == TrayMode::Effective && !model.spec.penalised {
            " for rates; tests and limits come from scores, which need no estimate there"
        } else {
            ", with limits and tests from its profile"
        }
    );
    Some(Note::new("separation", text))
}

fn whole_plot_note(model: &Model, frame: &Frame) -> Option<Note> {
    let whole = model.strata.whole_plots.as_ref().filter(|_| !is_robust(model))?;
    let (effects, name) = (join(&whole.effects), &whole.name);
    let (is, it_is) = (agree(&effects, "is", "are"), agree(&effects, "it is", "they are"));
    let confounded = whole.error.is_none() && split_plot(frame, &model.units).is_some();
    let note = if model.trays == TrayMode::BetaBinomial {
        let text = format!(
            "{effects} {is} constant within {name}, and the beta-binomial model knows trays only. Rates are shown, but no test or \
             interval is given; trays=\"random\" or trays=\"dispersion\" gives one."
        );
        Note::new("not_for_whole_plots", text)
    } else if confounded {
        Note::new(
            "confounded_with_whole_plot",
            format!(
                "{effects} and {name} cannot be told apart: no second {name} with the same {effects} shows how these differ. \
                 Rates are shown, but no test or interval of {effects} is given. Repeat it in other places or runs."
            ),
        )
    } else {
        let error = whole.error?;
        let df = error.df?;
        Note::new(
            "tested_against_whole_plots",
            format!(
                "{effects} {is} constant within {name}, so {it_is} tested against {name} on {}.",
                degrees_of_freedom(df)
            ),
        )
    };
    Some(note)
}

fn confined_note(one: &Confined) -> Note {
    let Confined { effect, place, level, levels } = one;
    let text = format!(
        "{effect} changes within one of {levels} levels of {place} only, {level}: nothing shows whether what is seen there holds elsewhere, \
         so rates are shown, but no test or interval of {effect} is given. For that one alone, load its rows without the others."
    );
    Note::new("met_in_one_place", text)
}

fn inseparable_text(inseparable: &[&Inseparable]) -> String {
    let one = |alias: &&Inseparable| format!("{} cannot be told apart from {}", alias.name, alias.with.join(" and "));
    format!("{}. No coefficient is given for it.", inseparable.iter().map(one).collect::<Vec<_>>().join("; "))
}

/// Combinations of the levels of interacting factors without a unit.
fn empty_combinations(frame: &Frame) -> Vec<String> {
    let interactions = frame.terms.iter().filter(|term| term.variables.len() > 1);
    let mut out: Vec<String> = Vec::new();
    for term in interactions {
        let mut cells: Vec<Vec<(usize, usize)>> = vec![Vec::new()];
        for index in &term.variables {
            let levels = frame.variables.get(*index).map_or(0, |variable| variable.levels.len());
            if levels > 0 {
                let extend = |cell: &Vec<(usize, usize)>, level| [cell.as_slice(), &[(*index, level)]].concat();
                cells = cells.iter().flat_map(|cell| (0..levels).map(move |level| extend(cell, level))).collect();
            }
        }
        let names = cells.iter().filter(|cell| !occurs(frame, cell)).map(|cell| cell_name(frame, cell));
        out.extend(names);
    }
    out.dedup();
    out
}

fn occurs(frame: &Frame, cell: &[(usize, usize)]) -> bool {
    let values = &frame.data.values;
    let fits = |row: usize| cell.iter().all(|(v, level)| values.value(*v, row) == Some(Value::Level(*level)));
    (0..values.rows).any(fits)
}

fn cell_name(frame: &Frame, cell: &[(usize, usize)]) -> String {
    let part = |(v, level): &(usize, usize)| {
        frame.variables.get(*v).map(|variable| format!("{} {}", variable.name, variable.label(Value::Level(*level))))
    };
    cell.iter().filter_map(part).collect::<Vec<_>>().join(" with ")
}

/// At most six names, then how many more.
fn listing(names: &[String]) -> String {
    let shown = names.iter().take(6).cloned().collect::<Vec<_>>().join("; ");
    match names.len() {
        0 => "some combination of the effects".to_owned(),
        1..=6 => shown,
        n => format!("{shown}; and {} more", n - 6),
    }
}

/// Sets the verdict from what was found.
pub(crate) fn verdict(model: &mut Model) {
    let w = model.spec.outcome.words();
    let mut reasons: Vec<String> = Vec::new();
    if !model.separated.is_empty() {
        reasons.push(format!("some cells are all {0} or none {0}, so a penalised fit was used", w.rooted));
    }
    if !model.inseparable.is_empty() {
        reasons.push("some effects cannot be told apart in this layout".to_owned());
    }
    if model.convergence.condition > 1e8 {
        reasons.push("some columns are nearly combinations of others".to_owned());
    }
    let open = model.law.as_ref().is_some_and(|law| law.settled == Some(false));
    if open {
        reasons.push(format!(
            "with the most nodes allowed the integrals over random effects still moved by more than 1e-8, as where groups {} wholly or \
             hardly at all; see whether trays=\"auto\" says the same",
            w.root
        ));
    } else if !model.convergence.converged {
        reasons.push("the estimates had not fully settled".to_owned());
    }
    if !reasons.is_empty() {
        model.convergence.verdict = Verdict::Caution;
        model.convergence.reason = Some(reasons.join("; "));
    }
}

/// The opening warning of a sentence, or nothing.
pub(crate) fn warning(model: &Model) -> &'static str {
    match (model.trays, model.units.kind) {
        (
            TrayMode::Effective | TrayMode::Dispersion | TrayMode::BetaBinomial | TrayMode::Random | TrayMode::Robust,
            _,
        ) => "",
        (_, UnitKind::Pooled) => "No trays recorded: intervals are too narrow. ",
        _ if model.spec.trays == TrayMode::Ignore => "Trays ignored: intervals are too narrow. ",
        _ => "Too few trays to see how trays differ: intervals are too narrow. ",
    }
}

/// The methods paragraph, in the name of the units.
pub(crate) fn methods(model: &Model) -> String {
    text_of_units(&model.units, methods_in_trays(model))
}

fn methods_in_trays(model: &Model) -> String {
    let w = model.spec.outcome.words();
    let mut effects = model.spec.effects.join(", ");
    for interaction in &model.spec.interactions {
        effects.push_str(&format!(", {}", interaction.join(" x ")));
    }
    let mut text = format!(
        "Numbers {} of {} {} in {} {} were analysed by binomial regression with {} link (effects: {effects})",
        w.counted_head,
        model.n_cuttings,
        w.cuttings,
        model.n_units,
        if model.units.kind == UnitKind::Tray { "trays" } else { "pooled groups" },
        model.spec.link.in_words(),
    );
    let places = taken_out(model);
    if !places.is_empty() {
        let kind = if places.len() > 1 { "additive factors" } else { "an additive factor" };
        text.push_str(&format!(", with {} as {kind}", join(&places)));
    }
    text.push_str(&entering_text(model));
    text.push_str(&likelihood_text(model));
    text.push_str(&law_words::fitted_text(model));
    if is_robust(model) {
        text.push_str(&robust::methods(model));
        return text;
    }
    text.push_str(&error_text(model));
    text.push_str(&told(model).map(|words| words.methods).unwrap_or_default());
    if let Some(above) = &model.strata.above {
        text.push_str(&layers_note::methods(model, above));
    } else if let Some(whole) = model.strata.whole_plots.as_ref() {
        let effects = join(&whole.effects);
        let (is, was) = (agree(&effects, "is", "are"), agree(&effects, "was", "were"));
        match whole.error.and_then(|error| error.df) {
            Some(df) => {
                let df = degrees_of_freedom(df);
                text.push_str(&format!(" {effects} {was} tested against {} ({df}).", whole.name));
            }
            None if whole.error.is_none() => {
                text.push_str(&format!(" {effects} {is} confounded with {} and {was} not tested.", whole.name));
            }
            None => {}
        }
    }
    text
}

/// The likelihood and where limits come from, for the methods paragraph.
fn likelihood_text(model: &Model) -> String {
    let moved = format!("was moved to the number that {} (Puhr et al. 2017)", model.spec.outcome.words().rooted);
    match (model.trays == TrayMode::Effective && !model.spec.penalised, model.penalised) {
        (true, true) => format!(
            ", by penalised likelihood with Jeffreys' prior (Firth 1993), whose level of rates {moved}; limits and tests come from scores."
        ),
        (true, false) => ", by maximum likelihood; limits and tests come from scores.".to_owned(),
        (false, true) => format!(
            ", by penalised likelihood with Jeffreys' prior (Firth 1993); limits and tests come from the penalised likelihood \
             profile (Heinze and Schemper 2002), and the level of its rates {moved}."
        ),
        (false, false) if is_robust(model) => ", by maximum likelihood.".to_owned(),
        (false, false) => ", by maximum likelihood; limits and tests come from the likelihood profile.".to_owned(),
    }
}

/// What is said of earlier trials, where they had a say.
fn told(model: &Model) -> Option<EarlierWords> {
    earlier_words(&model.units).filter(|_| model.trays == TrayMode::Effective)
}

/// Blocks and seasons that were taken out as additive factors.
pub(crate) fn taken_out(model: &Model) -> Vec<String> {
    let named = |name: &&String| !model.spec.names(name) && !name.contains(" x ");
    let mut names: Vec<String> = Vec::new();
    for name in model.coefficients.iter().filter_map(|one| one.effect.as_ref()).filter(named) {
        if !names.contains(name) {
            names.push(name.clone());
        }
    }
    names
}

/// Powers, offset and weights, for the methods paragraph.
fn entering_text(model: &Model) -> String {
    let mut text = String::new();
    for (name, degree) in &model.spec.polynomials {
        text.push_str(&format!(", {name} as a polynomial of degree {degree}"));
    }
    if let Some(offset) = &model.spec.offset {
        text.push_str(&format!(", with {offset} as offset"));
    }
    if let Some(weights) = &model.spec.weights {
        text.push_str(&format!(", log-likelihoods weighted by {weights}"));
    }
    text
}

/// The error of trays, for the methods paragraph.
fn error_text(model: &Model) -> String {
    let Some(df) = model.strata.tray.df.filter(|_| !is_used(model)) else { return String::new() };
    let df = degrees_of_freedom(df);
    let Some(TrayCorrelation { estimate, floor, .. }) = model.strata.correlation else {
        let dispersion = model.strata.tray.dispersion;
        return format!(
            " Variation between trays entered as a dispersion of {dispersion:.2} (Pearson statistic over {df}, not below 1; \
             Wedderburn 1974), with F tests and t quantiles."
        );
    };
    let used = estimate.max(floor).clamp(0.0, 1.0);
    let whose = if model.strata.above.is_some() { "" } else { " F and t have the trays' degrees of freedom." };
    let tests = if model.spec.penalised { "" } else { " Effects were tested by score statistics (Rao 1948) as F." };
    format!(
        " Trays entered as effective cuttings: their counts were divided by 1 + (m - 1) x {used:.3} (Williams 1982), m cuttings per \
         tray and {used:.3} the correlation within trays by analysis of variance of tray rates about the effects (estimate \
         {estimate:.3}, {df}, not below {floor:.4}; Donner and Klar 2000).{tests}{whose}"
    )
}

/// What the methods paragraph cites.
pub(crate) fn references(model: &Model) -> Vec<String> {
    let mut out = vec![cited::MCCULLAGH_NELDER_1989];
    if model.penalised {
        out.extend([cited::FIRTH_1993, cited::HEINZE_SCHEMPER_2002, cited::PUHR_2017]);
    }
    if model.trays == TrayMode::BetaBinomial {
        out.push(cited::SKELLAM_1948);
    }
    if model.trays == TrayMode::Random {
        out.push(cited::PINHEIRO_CHAO_2006);
    }
    if model.trays == TrayMode::Dispersion {
        out.push(cited::WEDDERBURN_1974);
    }
    if model.trays == TrayMode::Effective {
        out.extend([cited::WILLIAMS_1982, cited::DONNER_KLAR_2000, cited::RAO_1948]);
    }
    if model.strata.above.is_some() {
        out.extend([cited::HENDERSON_1953, cited::SATTERTHWAITE_1946, cited::FAI_CORNELIUS_1996]);
    }
    if is_robust(model) {
        out.extend([cited::BELL_MCCAFFREY_2002, cited::PUSTEJOVSKY_TIPTON_2018]);
    }
    out.extend(told(model).into_iter().flat_map(|words| words.references));
    out.into_iter().map(str::to_owned).collect()
}
