//! Odds ratios with profile likelihood limits.

use std::collections::BTreeSet;

use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::effects::bounds;
use crate::effects::coefficient_limits::Limits;
use crate::effects::decisions;
use crate::effects::numbers::{OddsRatio, OddsRatios};
use crate::error::Result;
use crate::estimate::check_level;
use crate::models::{Frame, Model, Ready, methods, needs_logit, references, taken_out, warning};
use crate::report::capital;
use crate::report::facts;
use crate::report::numbers::{join, number, p_value};

/// What is said of a coefficient without an error.
pub(super) const CONFOUNDED: &str = "its effect cannot be told apart from that of the places it was laid out on";

/// What a statistic on one degree of freedom is held against.
pub(super) fn statistic_is(statistic: Option<f64>, dof_denominator: Option<f64>) -> &'static str {
    match (statistic, dof_denominator) {
        (None, _) => "",
        (_, Some(_)) => "F",
        (_, None) => "chi-square",
    }
}

/// What [`Model::odds_ratios`] tells.
pub(super) fn odds_ratios(model: &Model, level: f64) -> Result<Answer<OddsRatios>> {
    check_level(level)?;
    needs_logit(model)?;
    let ready = model.ready()?;
    let mut ratios = Vec::new();
    let mut unbounded = false;
    let all = Limits::new(model, &ready)?.of_all(level)?;
    let columns = ready.design.columns.iter().zip(&model.coefficients).zip(all);
    for (place, ((column, coefficient), limits)) in columns.enumerate().skip(1) {
        let end = |value: f64| Some(value.exp()).filter(|ratio| !ratio.is_nan());
        unbounded |= limits.is_some_and(|limits| limits.low.exp() == 0.0 || limits.high.exp().is_infinite());
        let only_at = only_at(&ready, place, &column.parts);
        let whole = comparison(&ready.frame, &column.parts);
        ratios.push(OddsRatio {
            coefficient: column.name.clone(),
            comparison: if only_at.is_empty() { whole } else { format!("{whole}, at {}", join(&only_at)) },
            only_at,
            odds_ratio: coefficient.value.exp(),
            low: limits.and_then(|limits| end(limits.low)),
            high: limits.and_then(|limits| end(limits.high)),
            statistic: limits.map(|limits| limits.statistic),
            error_df: limits.and_then(|limits| limits.df),
            p: limits.map(|limits| limits.p),
            why: limits.is_none().then(|| CONFOUNDED.to_owned()),
        });
    }
    let several = ready.frame.terms.len() > 1;
    Ok(answer(model, OddsRatios { confidence: level, ratios }, (unbounded, several)))
}

/// "strength 2500 against 0", and for an interaction how that odds ratio changes.
fn comparison(frame: &Frame, parts: &[(usize, Option<usize>)]) -> String {
    let one = |(index, level): &(usize, Option<usize>)| {
        let variable = frame.variables.get(*index)?;
        let Some(level) = level else {
            let power = parts.iter().filter(|part| part.0 == *index).count();
            return Some(format!("{} per 1 more", variable.power(power as u32)));
        };
        let (level, reference) = (variable.levels.get(*level)?, variable.levels.get(variable.reference)?);
        Some(format!("{} {level} against {reference}", variable.name))
    };
    // A power is named once.
    let mut names: Vec<String> = parts.iter().filter_map(one).collect();
    names.dedup();
    names.join(", times more with ")
}

/// Where alone the coefficient in a place holds: the reference levels of the effects that act together with all of its own.
///
/// Nothing is said where another column had to be left out for this one, which then stands for something else (the notes tell).
fn only_at(ready: &Ready, place: usize, parts: &[(usize, Option<usize>)]) -> Vec<String> {
    let shifted = |combination: &Vec<f64>| combination.get(place).is_some_and(|share| share.abs() > 1e-9);
    if ready.design.combinations.iter().any(shifted) {
        return Vec::new();
    }
    let own: BTreeSet<usize> = parts.iter().map(|part| part.0).collect();
    let larger = ready.frame.terms.iter().filter(|term| own.iter().all(|one| term.variables.contains(one)));
    let others: BTreeSet<usize> =
        larger.flat_map(|term| &term.variables).filter(|one| !own.contains(one)).copied().collect();
    let at = |index: usize| {
        let variable = ready.frame.variables.get(index)?;
        let level = variable.levels.get(variable.reference).map_or("0", String::as_str);
        Some(format!("{} {level}", variable.name))
    };
    others.into_iter().filter_map(at).collect()
}

/// The levels at which alone odds ratios hold, each once.
fn all_only_at(figures: &OddsRatios) -> Vec<String> {
    let named: BTreeSet<&String> = figures.ratios.iter().flat_map(|ratio| &ratio.only_at).collect();
    named.into_iter().cloned().collect()
}

/// That odds ratios of effects in an interaction hold at the reference level of the other effect alone.
fn only_at_note(figures: &OddsRatios) -> Option<Note> {
    let one = figures.ratios.iter().find(|ratio| !ratio.only_at.is_empty())?;
    let text = format!(
        "The effects act together, so an odds ratio with \"at\" holds there alone: {} is not that of other levels. Contrasts within each \
         level of the other effect (scale odds) give it with its limits for all of them.",
        one.comparison
    );
    Some(Note::new("odds_at_one_level", text))
}

/// The methods paragraph, with where odds ratios hold.
fn methods_text(model: &Model, figures: &OddsRatios) -> String {
    let at = all_only_at(figures);
    if at.is_empty() {
        return methods(model);
    }
    format!(
        "{} Odds ratios of effects that enter an interaction hold where the other effect is at its reference ({}).",
        methods(model),
        join(&at)
    )
}

fn answer(model: &Model, figures: OddsRatios, (unbounded, several): (bool, bool)) -> Answer<OddsRatios> {
    let ratios = &figures.ratios;
    let mut table = Sheet::default();
    table
        .text("comparison", ratios.iter().map(|ratio| ratio.comparison.clone()))
        .odds_ratio("odds_ratio", ratios.iter().map(|ratio| ratio.odds_ratio))
        .odds_ratio("low", ratios.iter().map(|ratio| ratio.low))
        .odds_ratio("high", ratios.iter().map(|ratio| ratio.high))
        .confidence("confidence", ratios.iter().map(|_| figures.confidence))
        .text("statistic_is", ratios.iter().map(|ratio| statistic_is(ratio.statistic, ratio.error_df)))
        .statistic("statistic", ratios.iter().map(|ratio| ratio.statistic))
        .degrees("error_df", ratios.iter().map(|ratio| ratio.error_df))
        .p("p", ratios.iter().map(|ratio| ratio.p))
        .text("other_effects", ratios.iter().map(|_| "held"));
    if ratios.iter().any(|ratio| ratio.why.is_some()) {
        table.text("why", ratios.iter().map(|ratio| ratio.why.clone().unwrap_or_default()));
    }
    let mut notes = model.notes.clone();
    if several {
        let text = "These odds ratios hold the other effects alike (conditional). Contrasts on the scale of odds average the rates over the \
                    other effects first and lie nearer to 1; neither is wrong, so say which was taken.";
        notes.push(Note::new("conditional_odds", text));
    }
    notes.extend(only_at_note(&figures));
    if unbounded {
        notes.push(bounds::note("odds ratio", "a limit of 0 or infinity"));
    }
    if ratios.iter().any(|ratio| ratio.comparison.contains(", times more with ")) {
        let text = "A ratio with \"times more with\" says by what factor the first odds ratio changes with the second.";
        notes.push(Note::new("ratio_of_odds_ratios", text));
    }
    Answer {
        kind: "odds_ratios".to_owned(),
        details: facts(&sentence(model, &figures)),
        sentence: decisions::odds(model, &figures),
        table,
        notes,
        methods: methods_text(model, &figures),
        references: references(model),
        made_with: MadeWith::new(&[("confidence", figures.confidence.to_string())]).about(model.spec.outcome),
        numbers: figures,
    }
}

fn sentence(model: &Model, figures: &OddsRatios) -> String {
    let w = model.spec.outcome.words();
    let words = |ratio: &OddsRatio| {
        let test = ratio.p.map(p_value).unwrap_or_default();
        let bound = bounds::in_words(bounds::of_ratio(ratio.low, ratio.high), number).filter(|_| ratio.p.is_some());
        if let Some(bound) = bound {
            return format!("{bound} for {} ({test})", ratio.comparison);
        }
        let range = match (ratio.low, ratio.high, ratio.p) {
            (Some(low), Some(high), Some(_)) => format!("{} to {}, {test}", number(low), number(high)),
            _ => "no limits".to_owned(),
        };
        format!("{} for {} ({range})", number(ratio.odds_ratio), ratio.comparison)
    };
    // What was asked comes first; blocks that stay in the model are in the table.
    let of_block = |ratio: &&OddsRatio| {
        let effect = model.coefficient(&ratio.coefficient).and_then(|coefficient| coefficient.effect.as_ref());
        effect.is_some_and(|effect| taken_out(model).contains(effect))
    };
    let shown: Vec<String> = figures.ratios.iter().filter(|ratio| !of_block(ratio)).take(4).map(words).collect();
    let more = figures.ratios.len().saturating_sub(shown.len());
    let rest = if more > 0 { format!("; {more} more in the table") } else { String::new() };
    format!(
        "{}{}{rest}. Odds are {}; for {} read the adjusted rates.",
        warning(model),
        capital(&format!("odds ratios: {}", join(&shown))),
        w.odds,
        w.per_hundred
    )
}
