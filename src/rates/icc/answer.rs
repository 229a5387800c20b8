//! The words, table and notes of a tray correlation.

use super::numbers::{CorrelationMethod, TrayCorrelation};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::report::{cautions, facts, numbers, references, whole};

pub(super) fn answer(found: TrayCorrelation, asked: CorrelationMethod) -> Answer<TrayCorrelation> {
    let made_with =
        MadeWith::new(&[("confidence", found.confidence.to_string()), ("method", found.method.name().to_owned())]);
    Answer {
        kind: "tray_correlation".to_owned(),
        details: facts(&sentence(&found)),
        table: table(&found),
        sentence: decision(&found),
        notes: notes(&found, asked),
        methods: methods(&found),
        references: cited(&found),
        numbers: found,
        made_with,
    }
}

/// The decision line: how many independent cuttings a tray is worth.
fn decision(found: &TrayCorrelation) -> String {
    let size = numbers::number(found.tray_size.round());
    if found.value > 0.0 {
        let worth = (found.tray_size / found.design_effect).round().max(1.0);
        return format!(
            "Cuttings of one tray share its luck: {size} of them tell as much as {} that stand alone (correlation {}).",
            numbers::number(worth),
            numbers::number(found.value)
        );
    }
    format!(
        "Trays differ no more than chance makes them: {size} cuttings of a tray tell as much as {size} that stand alone."
    )
}

fn cited(found: &TrayCorrelation) -> Vec<String> {
    let cited: &[&str] = if found.method == CorrelationMethod::Anova {
        &[references::SEARLE_1971, references::DONNER_1986, references::DONNER_KLAR_2000]
    } else {
        &[references::CROWDER_1978, references::PRENTICE_1986, references::SELF_LIANG_1987]
    };
    cited.iter().map(|one| (*one).to_owned()).collect()
}

fn named(method: CorrelationMethod) -> &'static str {
    match method {
        CorrelationMethod::Anova => "analysis of variance",
        CorrelationMethod::BetaBinomial => "beta-binomial likelihood",
    }
}

fn table(found: &TrayCorrelation) -> Sheet {
    let rows = &found.estimates;
    let effect = |value: Option<f64>| value.map(|value| 1.0 + (found.tray_size - 1.0) * value.clamp(0.0, 1.0));
    let mut sheet = Sheet::default();
    sheet.text("estimated by", rows.iter().map(|row| named(row.method)));
    sheet.plain("value", rows.iter().map(|row| row.value)).headed("correlation");
    sheet.plain("low", rows.iter().map(|row| row.low)).headed("correlation from");
    sheet.plain("high", rows.iter().map(|row| row.high)).headed("correlation to");
    sheet.confidence("confidence", rows.iter().map(|_| found.confidence));
    sheet.ratio("design_effect", rows.iter().map(|row| effect(Some(row.value))));
    sheet.ratio("design_effect_low", rows.iter().map(|row| effect(row.low))).headed("design effect from");
    sheet.ratio("design_effect_high", rows.iter().map(|row| effect(row.high))).headed("design effect to");
    sheet
}

fn limits(low: Option<f64>, high: Option<f64>, level: f64) -> String {
    let (Some(low), Some(high)) = (low, high) else { return "no interval".to_owned() };
    numbers::interval(numbers::number(low), numbers::number(high), level)
}

fn sentence(found: &TrayCorrelation) -> String {
    let basis = format!(
        "{} in {}",
        whole(found.n_units, "tray", "trays"),
        whole(found.n_treatments, "treatment", "treatments")
    );
    let size = numbers::number(found.tray_size);
    let range = match (found.design_effect_low, found.design_effect_high) {
        (Some(low), Some(high)) => format!(" ({} to {})", numbers::number(low), numbers::number(high)),
        _ => String::new(),
    };
    let meaning = if found.value > 0.0 {
        format!(
            "the design effect of a tray of {size} is {}{range}, so such a tray tells as much as {} independent cuttings",
            numbers::number(found.design_effect),
            numbers::number(found.tray_size / found.design_effect)
        )
    } else {
        format!("trays differ no more than chance makes them, so the design effect is taken as 1{range}")
    };
    format!(
        "Two cuttings of one tray are correlated by {} ({}, {basis}, {}): {meaning}.",
        numbers::number(found.value),
        limits(found.low, found.high, found.confidence),
        named(found.method)
    )
}

fn notes(found: &TrayCorrelation, asked: CorrelationMethod) -> Vec<Note> {
    let mut notes = Vec::new();
    notes.extend(crate::rates::more_alike("tray", found.dispersion, found.df));
    if let Some(fit) = found.beta_binomial.as_ref().filter(|fit| fit.at_zero) {
        notes.push(Note::new("correlation_at_zero", format!(
            "The beta-binomial likelihood is highest at 0, the least the law allows, which is not proof of 0: up to {} cannot be ruled out. Carried on below 0 the best value would be {}.",
            numbers::number(fit.high),
            numbers::number(fit.extended)
        )));
    }
    if found.method == CorrelationMethod::BetaBinomial {
        let text = if asked == CorrelationMethod::Anova {
            "Within each tray all cuttings rooted or none did, so the analysis of variance has no limits; the beta-binomial likelihood leads."
        } else {
            "With few trays per treatment the likelihood lies too low and its interval is too narrow; the analysis of variance does not."
        };
        notes.push(Note::new("likelihood_leads", text));
    }
    if found.beta_binomial.is_none() {
        notes.push(Note::new(
            "no_likelihood",
            "The beta-binomial likelihood was not fitted: a tray holds more than 100,000 cuttings, or nothing varies within a treatment of two trays.",
        ));
    }
    if found.df < 3.0 * found.n_treatments as f64 {
        notes.push(cautions::few_trays());
    }
    notes
}

fn methods(found: &TrayCorrelation) -> String {
    let percent = numbers::confidence(found.confidence);
    if found.method == CorrelationMethod::Anova {
        return format!(
            "The intraclass correlation of cuttings within trays was estimated by analysis of variance between trays within treatments, pooled over {} with {} degrees of freedom; its {percent} interval is from the F distribution.",
            whole(found.n_treatments, "treatment", "treatments"),
            numbers::number(found.df)
        );
    }
    format!(
        "The intraclass correlation of cuttings within trays was estimated by maximum likelihood of beta-binomial counts with a mean for each of {} and one correlation, not below 0; its {percent} interval is from the profile likelihood.",
        whole(found.n_treatments, "treatment", "treatments")
    )
}
