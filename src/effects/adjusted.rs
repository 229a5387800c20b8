//! Adjusted rates: the rate of each level, averaged over the other factors.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::effects::average::{Average, RateOf};
use crate::effects::averaging::{Averaging, Blend, RateSpread, Surface, holding_counts};
use crate::effects::decisions;
use crate::effects::judged_by::rate_error;
use crate::effects::numbers::{AdjustedRate, AdjustedRates};
use crate::effects::phrases::{
    add_places_cited, averaged_between_commas, averaging_words, interaction_note, limits_in_words, places_in_words,
    places_note, strength_caution,
};
use crate::effects::resolve::Names;
use crate::error::{EffectError, Result};
use crate::estimate::check_level;
use crate::models::{HeldPlaces, Model, OverPlaces, Ready, Stratum, methods, references, warning};
use crate::report::numbers::{interval, join, percent};
use crate::report::references as cited;
use crate::report::{capital, facts};
use crate::trial::Value;
use crate::trial::{UnitKind, answer_of_units, unit_called, units_head};

/// What is asked of adjusted rates.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct RateOptions {
    /// A factor whose levels are kept apart.
    pub within: Option<String>,
    /// Factors and covariates held at a value.
    pub at: BTreeMap<String, String>,
    /// How the other factors are averaged over.
    pub average: Average,
    /// Whose rate is given where trays have random effects.
    pub rate_of: RateOf,
    /// Confidence level, between 0 and 1.
    pub confidence: f64,
}

impl Default for RateOptions {
    fn default() -> Self {
        Self { within: None, at: BTreeMap::new(), average: Average::Alike, rate_of: RateOf::AllTrays, confidence: 0.95 }
    }
}

impl RateOptions {
    /// Rates kept apart by the levels of a second factor, everything else at its default.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert_eq!(RateOptions::within("rootstock").within.as_deref(), Some("rootstock"));
    /// ```
    #[must_use]
    pub fn within(name: &str) -> Self {
        Self { within: Some(name.to_owned()), ..Self::default() }
    }
}

/// What [`Model::adjusted_rates`] tells.
pub(super) fn adjusted_rates(model: &Model, by: &str, options: &RateOptions) -> Result<Answer<AdjustedRates>> {
    let ready = model.ready()?;
    let figures = rates(model, &ready, by, options)?;
    let scaled = averaging(Names { model, ready: &ready }, by, options)?.notes();
    let others: Vec<&str> = options.within.iter().chain(options.at.keys()).map(String::as_str).collect();
    let mut found = answer(model, figures, options, &scaled);
    found.notes.extend(interaction_note(&ready, by, &others));
    Ok(answer_of_units(&model.units, found))
}

/// The figures alone.
pub(crate) fn rates(model: &Model, ready: &Ready, by: &str, options: &RateOptions) -> Result<AdjustedRates> {
    check_level(options.confidence)?;
    let names = Names { model, ready };
    let within = options.within.as_deref();
    let first = names.factor(by)?;
    let second = within.map(|name| names.factor(name)).transpose()?;
    if within == Some(by) {
        return Err(EffectError::Twice { name: by.to_owned(), first: "treatment", second: "within=" }.into());
    }
    let averaging = averaging(names, by, options)?;
    if let Some((_, variable)) = [Some(first), second].into_iter().flatten().find(|(index, _)| averaging.holds(*index))
    {
        return Err(
            EffectError::Twice { name: variable.name.clone(), first: "at=", second: "treatment or within=" }.into()
        );
    }
    let error = rate_error(model, by, within);
    let over = OverPlaces::of(ready, &named(by, options));
    let outer: Vec<Option<usize>> = match second {
        None => vec![None],
        Some((_, variable)) => (0..variable.levels.len()).map(Some).collect(),
    };
    let mut rates = Vec::new();
    for split in outer {
        for code in 0..first.1.levels.len() {
            let mut fixed = vec![(first.0, Value::Level(code))];
            if let (Some((index, _)), Some(split)) = (second, split) {
                fixed.push((index, Value::Level(split)));
            }
            let blend = averaging.blend(ready, &fixed);
            let (rooted, stuck, _) = counted(ready, &averaging.carried_at(&fixed));
            let own = (rooted, stuck);
            let mut rate = one((model, ready, over.as_ref()), &fixed, own, blend.as_ref(), error, options);
            rate.by = first.1.label(Value::Level(code));
            rate.within = second.zip(split).map(|((_, variable), split)| variable.label(Value::Level(split)));
            rates.push(rate);
        }
    }
    let places = HeldPlaces::of(ready, over.as_ref());
    Ok(AdjustedRates {
        by: by.to_owned(),
        within: within.map(str::to_owned),
        unit: unit_called(&model.units),
        rate_of: options.rate_of,
        confidence: options.confidence,
        rates,
        holds_over: places.over,
        holds_at: places.at_hand,
    })
}

/// How the rates asked for are averaged.
pub(crate) fn averaging(names: Names<'_>, by: &str, options: &RateOptions) -> Result<Averaging> {
    let asked = std::iter::once(by).chain(options.within.as_deref());
    let asked: Vec<usize> = asked.map(|name| Ok(names.factor(name)?.0)).collect::<Result<_>>()?;
    Ok(Averaging::new(names, &options.at, &options.average)?.for_levels(names.ready, &asked))
}

/// Factors whose levels are meant themselves.
fn named<'a>(by: &'a str, options: &'a RateOptions) -> Vec<&'a str> {
    let mix = if let Average::Mix(mix) = &options.average { Some(mix.keys()) } else { None };
    let held = options.within.iter().chain(options.at.keys()).chain(mix.into_iter().flatten());
    held.map(String::as_str).chain([by]).collect()
}

/// Rooted, stuck and units at some levels.
fn counted(ready: &Ready, at: &[(usize, Value)]) -> (f64, f64, u64) {
    let (mut rooted, mut stuck, mut n_units) = (0.0, 0.0, 0);
    let data = &ready.frame.data;
    let (counted, set) = ready.frame.counts_per_row();
    for (((y, m), units), row) in counted.iter().zip(&set).zip(&data.units).zip(data.values.iter()) {
        if at.iter().all(|(index, value)| row.get(*index) == Some(value)) {
            (rooted, stuck, n_units) = (rooted + y, stuck + m, n_units + units);
        }
    }
    (rooted, stuck, n_units)
}

fn one(
    (model, ready, over): (&Model, &Ready, Option<&OverPlaces>),
    fixed: &[(usize, Value)],
    own: (f64, f64),
    blend: Option<&Blend>,
    error: Option<Stratum>,
    options: &RateOptions,
) -> AdjustedRate {
    let (rooted, stuck, n_units) = counted(ready, fixed);
    let parameters: Vec<f64> = ready.solution.coef.iter().chain(&ready.deviations).copied().collect();
    let rate = |of: RateOf| blend.map(|blend| Surface::new(ready, model.spec.link, of).rate(blend, &parameters));
    let averaged = rate(options.rate_of);
    let spread = averaged.as_ref().zip(error).and_then(|(averaged, stratum)| {
        let spread = RateSpread::of(ready, over, averaged, stratum)?;
        let limits = holding_counts(spread.limits(averaged, options.confidence), own);
        Some((averaged.shown_error(spread.spread.se), limits))
    });
    let random = !ready.deviations.is_empty();
    AdjustedRate {
        by: String::new(),
        within: None,
        value: averaged.map(|averaged| averaged.rate),
        se: spread.and_then(|(se, _)| se),
        low: spread.map(|(_, limits)| limits.0),
        high: spread.map(|(_, limits)| limits.1),
        typical_tray: rate(RateOf::TypicalTray).filter(|_| random).map(|averaged| averaged.rate),
        rooted: rooted as u64,
        stuck: stuck as u64,
        n_units,
    }
}

fn table(model: &Model, figures: &AdjustedRates) -> Sheet {
    let (rates, w) = (&figures.rates, model.spec.outcome.words());
    let mut table = Sheet::default();
    table.level(&figures.by, rates.iter().map(|rate| rate.by.clone()));
    if let Some(within) = &figures.within {
        table.level(within, rates.iter().map(|rate| rate.within.clone().unwrap_or_default()));
    }
    table
        .rate("value", rates.iter().map(|rate| rate.value))
        .size("se", rates.iter().map(|rate| rate.se))
        .rate("low", rates.iter().map(|rate| rate.low))
        .rate("high", rates.iter().map(|rate| rate.high))
        .confidence("confidence", rates.iter().map(|_| figures.confidence));
    if rates.iter().any(|rate| rate.typical_tray.is_some()) {
        table.rate("typical_tray", rates.iter().map(|rate| rate.typical_tray));
    }
    table
        .whole("rooted", rates.iter().map(|rate| rate.rooted))
        .headed(w.counted_head)
        .whole("stuck", rates.iter().map(|rate| rate.stuck))
        .headed(w.stuck_head);
    if model.units.kind == UnitKind::Tray {
        table.whole("n_units", rates.iter().map(|rate| rate.n_units)).headed(units_head(&figures.unit));
    }
    table
}

fn answer(model: &Model, figures: AdjustedRates, options: &RateOptions, scaled: &[Note]) -> Answer<AdjustedRates> {
    let rates = &figures.rates;
    let random = rates.iter().any(|rate| rate.typical_tray.is_some());
    let mut notes = model.notes.clone();
    if rates.iter().any(|rate| rate.value.is_none()) {
        let text = "Some rates would average over combinations that were not tried, so they are left open.";
        notes.push(Note::new("not_estimable", text));
    }
    if random {
        notes.push(Note::new("all_trays_and_typical_tray", two_rates(options.rate_of)));
    }
    notes.extend(untried_note(&figures.by, rates.iter()));
    notes.extend(places_note(model, &figures.holds_over, &figures.holds_at));
    notes.extend(scaled.iter().cloned());
    notes.extend(strength_caution(model, &figures.by));
    let mut references = references(model);
    references.push(cited::LANE_NELDER_1982.to_owned());
    add_places_cited(&mut references, model, &figures.holds_over);
    let methods = format!(
        "{} Rates of {}{} were {} on the proportion scale; their {}{}.",
        methods(model),
        figures.by,
        if random {
            if options.rate_of == RateOf::AllTrays { " over all trays" } else { " of a typical tray" }
        } else {
            ""
        },
        averaging_words(&options.average, &options.at),
        limits_in_words(model, &figures.holds_over),
        places_in_words(&figures.holds_over)
    );
    let at: Vec<String> = options.at.iter().map(|(name, value)| format!("{name} {value}")).collect();
    Answer {
        kind: "adjusted_rates".to_owned(),
        details: facts(&sentence(model, &figures, options)),
        sentence: decisions::adjusted(model, &figures),
        table: table(model, &figures),
        notes,
        methods,
        references,
        made_with: MadeWith::new(&[
            ("by", figures.by.clone()),
            ("within", figures.within.clone().unwrap_or_default()),
            ("at", at.join(", ")),
            ("average", averaging_words(&options.average, &BTreeMap::new())),
            ("confidence", figures.confidence.to_string()),
        ])
        .about(model.spec.outcome),
        numbers: figures,
    }
}

/// Rates of combinations in which nothing was stuck.
pub(crate) fn untried_note<'a>(by: &str, rates: impl Iterator<Item = &'a AdjustedRate>) -> Option<Note> {
    let guessed = rates.filter(|rate| rate.n_units == 0 && rate.value.is_some());
    let name = |rate: &AdjustedRate| {
        let place = rate.within.as_ref().map_or_else(String::new, |within| format!(" with {within}"));
        format!("{by} {}{place}", rate.by)
    };
    let names: Vec<String> = guessed.map(name).collect();
    if names.is_empty() {
        return None;
    }
    let text = format!(
        "No tray of {} was tried: what stands there (n_units 0) is the model's guess from effects that add up, not a result.",
        join(&names)
    );
    Some(Note::new("not_tried", text))
}

/// Which of two rates is given.
fn two_rates(of: RateOf) -> String {
    let given = match of {
        RateOf::AllTrays => {
            "The rates are those over all trays (population); typical_tray is the rate of a tray in the middle"
        }
        RateOf::TypicalTray => "The rates are those of a tray in the middle (typical tray)",
    };
    format!(
        "{given}. Where trays differ the two are not the same: that over all trays lies nearer to 50 % with the logit link."
    )
}

fn sentence(model: &Model, figures: &AdjustedRates, options: &RateOptions) -> String {
    let ranked = |wanted: fn(f64, f64) -> bool| {
        let known = figures.rates.iter().filter(|rate| rate.value.is_some());
        known.reduce(|a, b| if wanted(b.value.unwrap_or(0.0), a.value.unwrap_or(0.0)) { b } else { a })
    };
    let w = model.spec.outcome.words();
    let words = |rate: &AdjustedRate| {
        let place = rate.within.as_ref().zip(figures.within.as_ref());
        let place = place.map_or_else(String::new, |(level, name)| format!(" with {name} {level}"));
        // Such a rate is a by-product of the penalty, so the count stands beside it.
        let counted = match rate.rooted {
            _ if rate.stuck == 0 => String::new(),
            0 => format!("none of {} {}; ", rate.stuck, w.rooted),
            all if all == rate.stuck => format!("all of {all} {}; ", w.rooted),
            _ => String::new(),
        };
        let range = rate.low.zip(rate.high).map_or_else(String::new, |(low, high)| {
            format!(" ({counted}{})", interval(percent(low), percent(high), figures.confidence))
        });
        let value = rate.value.map_or_else(|| "not known".to_owned(), percent);
        format!("{value}{range} for {} {}{place}", figures.by, rate.by)
    };
    let ends: Vec<String> = [ranked(|b, a| b < a), ranked(|b, a| b > a)].into_iter().flatten().map(words).collect();
    let range = if ends.is_empty() { "cannot be given".to_owned() } else { format!("run from {}", ends.join(" to ")) };
    let tray = if options.rate_of == RateOf::TypicalTray { " in a typical tray" } else { "" };
    let held: Vec<&str> = options.within.iter().map(String::as_str).chain([figures.by.as_str()]).collect();
    format!(
        "{}{} of {}{tray}{} {range}. Overlap of two intervals is not a test.",
        warning(model),
        capital(w.rates),
        figures.by,
        averaged_between_commas(model, &options.average, &held, &options.at)
    )
}
