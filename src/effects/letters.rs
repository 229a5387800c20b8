//! Letters beside adjusted rates: levels that share one are not shown to differ.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::control::Control;
use crate::effects::adjusted::{RateOptions, averaging, rates, untried_note};
use crate::effects::average::{Average, RateOf};
use crate::effects::contrasts::{Adjust, Asked, ContrastOptions, ask};
use crate::effects::decisions;
use crate::effects::judged_by::judged_after;
use crate::effects::letter_groups::{LetterOrder, letter_notes, letters_of_pairs};
use crate::effects::numbers::{AdjustedRate, LetterRate, Letters};
use crate::effects::phrases::{averaging_words, interaction_note, places_note, strength_caution};
use crate::effects::resolve::Names;
use crate::error::{EffectError, Result};
use crate::models::{Model, Ready, methods, references, warning};
use crate::report::numbers::{join, percent};
use crate::report::references as works;
use crate::report::{capital, cautions, facts};
use crate::trial::{UnitKind, answer_of_units, units_head};

/// What is asked of letters.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct LetterOptions {
    /// A factor within whose levels letters are given.
    pub within: Option<String>,
    /// Which level gets the first letter.
    pub order: LetterOrder,
    /// Name of an adjustment.
    pub together: Adjust,
    /// Factors and covariates held at a value.
    pub at: BTreeMap<String, String>,
    /// How other factors are averaged over.
    pub average: Average,
    /// Whose rates are compared where trays have random effects.
    pub rate_of: RateOf,
    /// Confidence level: of each interval, and of all comparisons together.
    pub confidence: f64,
    /// Seed of the quasi-random points of the joint distribution.
    pub seed: u64,
}

impl Default for LetterOptions {
    fn default() -> Self {
        Self {
            within: None,
            order: LetterOrder::Descending,
            together: Adjust::Joint,
            at: BTreeMap::new(),
            average: Average::Alike,
            rate_of: RateOf::AllTrays,
            confidence: 0.95,
            seed: 1,
        }
    }
}

/// What [`Model::letters`] tells.
pub(super) fn letters(model: &Model, by: &str, options: &LetterOptions, control: &Control) -> Result<Answer<Letters>> {
    if options.together == Adjust::Dunnett {
        let instead = "letters compare all pairs, so use together=\"tukey-kramer\" or together=\"joint\"";
        return Err(EffectError::NotTogether { first: "together=\"dunnett\"", second: "letters", instead }.into());
    }
    let ready = model.ready()?;
    let asked = ask(model, &ready, by, &compared(options), (false, control))?;
    let wanted = RateOptions {
        within: options.within.clone(),
        at: options.at.clone(),
        average: options.average.clone(),
        rate_of: options.rate_of,
        confidence: options.confidence,
    };
    let rates = rates(model, &ready, by, &wanted)?;
    let places = places_note(model, &rates.holds_over, &rates.holds_at);
    let unit = rates.unit;
    let figures = Letters { unit, ..lettered(&ready, by, options, &asked, rates.rates)? };
    let others = options.within.iter().chain(options.at.keys()).map(String::as_str).collect::<Vec<_>>();
    let average = interaction_note(&ready, by, &others);
    let scaled = averaging(Names { model, ready: &ready }, by, &wanted)?.notes();
    let mut found = answer(model, figures, options, (&asked, &scaled));
    found.notes.extend(average.into_iter().chain(places));
    Ok(answer_of_units(&model.units, found))
}

fn compared(options: &LetterOptions) -> ContrastOptions {
    ContrastOptions {
        within: options.within.clone(),
        together: options.together,
        at: options.at.clone(),
        average: options.average.clone(),
        rate_of: options.rate_of,
        confidence: options.confidence,
        seed: options.seed,
        ..ContrastOptions::default()
    }
}

/// Letters per slice; the pairs of a slice stand in the family in the order of their levels.
fn lettered(
    ready: &Ready,
    by: &str,
    options: &LetterOptions,
    asked: &Asked,
    rates: Vec<AdjustedRate>,
) -> Result<Letters> {
    let width = ready.frame.variables.iter().find(|variable| variable.name == by).map_or(1, |one| one.levels.len());
    let mut out = Letters {
        by: by.to_owned(),
        within: options.within.clone(),
        together: options.together,
        confidence: options.confidence,
        unit: String::new(),
        fewest: true,
        rates: Vec::new(),
    };
    let slices = asked.figures.contrasts.chunks((width * width.saturating_sub(1) / 2).max(1));
    for (rates, contrasts) in rates.chunks(width.max(1)).zip(slices) {
        // What was not tried is the model's guess and gets no letter.
        let levels: Vec<(f64, bool)> = rates.iter().map(|rate| (rate.value.unwrap_or(0.0), rate.n_units > 0)).collect();
        let differ: Vec<Option<bool>> =
            contrasts.iter().map(|one| one.p_adjusted.map(|p| p < 1.0 - options.confidence)).collect();
        let (letters, fewest) = letters_of_pairs(&levels, &differ, options.order)?;
        out.fewest &= fewest;
        out.rates.extend(rates.iter().zip(letters).map(|(rate, letters)| LetterRate { rate: rate.clone(), letters }));
    }
    Ok(out)
}

fn answer(
    model: &Model,
    figures: Letters,
    options: &LetterOptions,
    (asked, scaled): (&Asked, &[Note]),
) -> Answer<Letters> {
    let notes = notes(model, &figures, asked, scaled);
    let adjust = options.together;
    let mut references = references(model);
    references.extend([judged_after(model), works::PIEPHO_2004, works::GRAMM_2008].map(str::to_owned));
    let at: Vec<String> = options.at.iter().map(|(name, value)| format!("{name} {value}")).collect();
    Answer {
        kind: "letters".to_owned(),
        details: facts(&sentence(model, &figures)),
        table: table(model, &figures),
        sentence: decisions::letters(model, &figures),
        methods: format!(
            "{} Rates of {}, {}, that share a letter were not shown to differ at {} (all pairs, {}; letters by Piepho 2004).",
            methods(model),
            figures.by,
            averaging_words(&options.average, &options.at),
            crate::report::numbers::confidence(1.0 - figures.confidence),
            if adjust.name() == "none" { "not adjusted for their number" } else { adjust.in_words() }
        ),
        notes,
        references,
        made_with: MadeWith::new(&[
            ("by", figures.by.clone()),
            ("within", figures.within.clone().unwrap_or_default()),
            ("together", figures.together.name().to_owned()),
            ("at", at.join(", ")),
            ("confidence", figures.confidence.to_string()),
        ])
        .about(model.spec.outcome),
        numbers: figures,
    }
}

fn table(model: &Model, figures: &Letters) -> Sheet {
    let (rates, w) = (&figures.rates, model.spec.outcome.words());
    let mut table = Sheet::default();
    table.level(&figures.by, rates.iter().map(|one| one.rate.by.clone()));
    if let Some(within) = &figures.within {
        table.level(within, rates.iter().map(|one| one.rate.within.clone().unwrap_or_default()));
    }
    table
        .rate("value", rates.iter().map(|one| one.rate.value))
        .rate("low", rates.iter().map(|one| one.rate.low))
        .rate("high", rates.iter().map(|one| one.rate.high))
        .text("letters", rates.iter().map(|one| one.letters.clone().unwrap_or_default()))
        .whole("rooted", rates.iter().map(|one| one.rate.rooted))
        .headed(w.counted_head)
        .whole("stuck", rates.iter().map(|one| one.rate.stuck))
        .headed(w.stuck_head);
    if model.units.kind == UnitKind::Tray {
        table.whole("n_units", rates.iter().map(|one| one.rate.n_units)).headed(units_head(&figures.unit));
    }
    table
}

fn notes(model: &Model, figures: &Letters, asked: &Asked, scaled: &[Note]) -> Vec<Note> {
    let mut notes = model.notes.clone();
    let all = figures.rates.iter().all(|one| one.letters.is_some());
    let told = letter_notes(&figures.by, figures.within.as_deref(), all, figures.fewest);
    let (first, rest) = told.split_at(1);
    notes.extend(first.iter().cloned());
    notes.extend(asked.by_covariance().then(cautions::judged_by_covariance));
    if asked.curve() {
        let text = format!(
            "The levels of {} are numbers: a curve over them, with its best strength, says more than letters.",
            figures.by
        );
        notes.push(Note::new("curve_first", text));
    }
    notes.extend(rest.iter().cloned());
    notes.extend(untried_note(&figures.by, figures.rates.iter().map(|one| &one.rate)));
    notes.extend(scaled.iter().cloned());
    notes.extend(strength_caution(model, &figures.by));
    notes
}

fn sentence(model: &Model, figures: &Letters) -> String {
    let start = warning(model);
    if figures.rates.iter().all(|one| one.letters.is_none()) {
        return format!(
            "{start}The levels of {} cannot be tested in this layout, so no letters are given.",
            figures.by
        );
    }
    let word = |one: &LetterRate| {
        let place = figures.within.as_ref().zip(one.rate.within.as_ref());
        let place = place.map_or_else(String::new, |(name, level)| format!(" with {name} {level}"));
        let value = one.rate.value.map_or_else(|| "not known".to_owned(), percent);
        let letters = one.letters.as_ref().map_or_else(String::new, |letters| format!(" {letters}"));
        format!("{}{place}: {value}{letters}", one.rate.by)
    };
    let told: Vec<String> = figures.rates.iter().take(8).map(word).collect();
    let more = figures.rates.len().saturating_sub(told.len());
    let more = if more > 0 { format!("; {more} more in the table") } else { String::new() };
    let shared = match &figures.within {
        Some(within) => format!(
            "Letters compare within one level of {within} only: there, levels that share a letter are not shown to differ, which is no proof of equality. Between levels of {within} they say nothing."
        ),
        None => "Levels that share a letter are not shown to differ, which is no proof of equality.".to_owned(),
    };
    let rates = capital(model.spec.outcome.words().rates);
    format!("{start}{rates} of {} {}{more}. {shared}", figures.by, join(&told))
}
