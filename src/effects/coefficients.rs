//! Coefficients on the scale of the link, for every link, with their limits.

use serde::{Deserialize, Serialize};

use crate::answer::{Answer, MadeWith, Sheet};
use crate::effects::bounds;
use crate::effects::coefficient_limits::Limits;
use crate::effects::decisions;
use crate::effects::odds_ratios::statistic_is;
use crate::error::Result;
use crate::estimate::check_level;
use crate::models::{Model, methods, references, taken_out, warning};
use crate::report::capital;
use crate::report::numbers::{join, number, p_value};
use crate::report::{facts, whole};

/// One coefficient.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CoefficientEstimate {
    /// `intercept`, `strength 2500`, `strength 2500 x rootstock K17`, `length`.
    pub coefficient: String,
    /// The effect it belongs to; none for the intercept.
    pub effect: Option<String>,
    /// Estimate on the scale of the link.
    pub value: f64,
    /// Standard error, with the dispersion in it; none when confounded with whole plots.
    pub se: Option<f64>,
    /// Lower limit, minus infinity when there is no bound; none when confounded with whole plots.
    pub low: Option<f64>,
    /// Upper limit, infinite when there is no bound; none when confounded with whole plots.
    pub high: Option<f64>,
    /// Chi-square or F on 1 degree of freedom of "0"; none of the intercept.
    pub statistic: Option<f64>,
    /// Denominator degrees of freedom.
    pub error_df: Option<f64>,
    /// P value of "0"; none of the intercept, where 0 is no question of a trial.
    pub p: Option<f64>,
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Coefficients {
    /// The link, in words.
    pub link: String,
    /// Confidence level.
    pub confidence: f64,
    /// One per coefficient, the intercept first.
    pub coefficients: Vec<CoefficientEstimate>,
}

/// What [`Model::coefficients`] tells.
pub(super) fn coefficients(model: &Model, level: f64) -> Result<Answer<Coefficients>> {
    check_level(level)?;
    let ready = model.ready()?;
    let limits = Limits::new(model, &ready)?;
    let mut rows = Vec::new();
    let columns = ready.design.columns.iter().zip(&model.coefficients).zip(limits.of_all(level)?);
    for (j, ((column, found), profile)) in columns.enumerate() {
        let error = found.effect.as_deref().map_or(Some(model.strata.tray), |effect| model.strata.of(effect));
        let tested = profile.filter(|_| found.effect.is_some());
        let known = |value: f64| Some(value).filter(|value| !value.is_nan());
        rows.push(CoefficientEstimate {
            coefficient: column.name.clone(),
            effect: found.effect.clone(),
            value: found.value,
            se: error.and_then(|error| match ready.layered.is_some().then(|| limits.direction(j)) {
                Some(direction) => ready.spread(direction, error).map(|spread| spread.se),
                None => Some(found.se * error.dispersion.sqrt()),
            }),
            low: profile.and_then(|limits| known(limits.low)),
            high: profile.and_then(|limits| known(limits.high)),
            statistic: tested.map(|limits| limits.statistic),
            error_df: tested.and_then(|limits| limits.df),
            p: tested.map(|limits| limits.p),
        });
    }
    let link = model.spec.link.in_words().to_owned();
    Ok(answer(model, Coefficients { link, confidence: level, coefficients: rows }))
}

fn answer(model: &Model, figures: Coefficients) -> Answer<Coefficients> {
    let rows = &figures.coefficients;
    let mut table = Sheet::default();
    table
        .text("coefficient", rows.iter().map(|row| row.coefficient.clone()))
        .plain("value", rows.iter().map(|row| row.value))
        .plain("se", rows.iter().map(|row| row.se))
        .plain("low", rows.iter().map(|row| row.low))
        .plain("high", rows.iter().map(|row| row.high))
        .confidence("confidence", rows.iter().map(|_| figures.confidence))
        .text("statistic_is", rows.iter().map(|row| statistic_is(row.statistic, row.error_df)))
        .statistic("statistic", rows.iter().map(|row| row.statistic))
        .degrees("error_df", rows.iter().map(|row| row.error_df))
        .p("p", rows.iter().map(|row| row.p));
    let mut notes = model.notes.clone();
    let open = |row: &CoefficientEstimate| [row.low, row.high].into_iter().flatten().any(f64::is_infinite);
    if rows.iter().any(open) {
        notes.push(bounds::note("coefficient", "an infinite limit"));
    }
    Answer {
        kind: "coefficients".to_owned(),
        details: facts(&sentence(model, &figures)),
        sentence: format!(
            "{}{} on the {} scale; for {} read the adjusted rates.",
            decisions::hint(model),
            whole(figures.coefficients.len() as u64, "coefficient", "coefficients"),
            figures.link,
            model.spec.outcome.of_hundred()
        ),
        table,
        notes,
        methods: methods(model),
        references: references(model),
        made_with: MadeWith::new(&[("confidence", figures.confidence.to_string())]).about(model.spec.outcome),
        numbers: figures,
    }
}

fn sentence(model: &Model, figures: &Coefficients) -> String {
    let words = |row: &CoefficientEstimate| {
        let test = row.p.map(p_value).unwrap_or_default();
        let bound = bounds::in_words(bounds::of_coefficient(row.low, row.high), number).filter(|_| row.p.is_some());
        if let Some(bound) = bound {
            return format!("{bound} for {} ({test})", row.coefficient);
        }
        let range = match (row.low, row.high) {
            (Some(low), Some(high)) => format!("{} to {}", number(low), number(high)),
            _ => "no limits".to_owned(),
        };
        let test = if test.is_empty() { test } else { format!(", {test}") };
        format!("{} for {} ({range}{test})", number(row.value), row.coefficient)
    };
    let beside = taken_out(model);
    let asked = |row: &&CoefficientEstimate| row.effect.as_ref().is_some_and(|effect| !beside.contains(effect));
    let shown: Vec<String> = figures.coefficients.iter().filter(asked).take(4).map(words).collect();
    let more = figures.coefficients.len().saturating_sub(shown.len());
    let rest = if more > 0 { format!("; {more} more in the table") } else { String::new() };
    format!(
        "{}{}{rest}. For {} read the adjusted rates.",
        warning(model),
        capital(&format!("on the {} scale: {}", figures.link, join(&shown))),
        model.spec.outcome.of_hundred()
    )
}
