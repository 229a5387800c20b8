//! Adjusted rates: the rate of each level, averaged over the other factors.

use serde::{Deserialize, Serialize};

use crate::answer::{Answer, Note, Provenance, Sheet};
use crate::effects::averaging::{average, quantile};
use crate::error::{ChoiceError, Result};
use crate::estimate::check_level;
use crate::models::{Model, Ready, Stratum, Value, Variable, methods, references, warning};
use crate::report::numbers::{interval, percent};
use crate::report::references as cited;
use crate::trial::UnitKind;

/// The adjusted rate of one level.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AdjustedRate {
    /// Level of the effect.
    pub by: String,
    /// Level of the factor it is split by.
    pub within: Option<String>,
    /// Rate, between 0 and 1; none when these data cannot give it.
    pub value: Option<f64>,
    /// Standard error of the rate.
    pub std_error: Option<f64>,
    /// Lower confidence limit.
    pub conf_low: Option<f64>,
    /// Upper confidence limit.
    pub conf_high: Option<f64>,
    /// Cuttings rooted at that level.
    pub rooted: u64,
    /// Cuttings stuck at that level.
    pub stuck: u64,
    /// Trays (or pooled counts) at that level.
    pub n_units: u64,
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AdjustedRates {
    /// The effect.
    pub by: String,
    /// The factor it is split by.
    pub within: Option<String>,
    /// Confidence level.
    pub level: f64,
    /// One per level, in their order.
    pub rates: Vec<AdjustedRate>,
}

/// Rates per level of `by` (and of `within`), averaged over the other factors of the model with equal weights on the
/// proportion scale, covariates at their mean.
///
/// Standard errors by the delta method; limits on the logit of the averaged rate, with t quantiles where trays set the
/// error. An effect confounded with whole plots has rates without limits.
///
/// # Errors
/// [`ChoiceError`] when a name is not a factor of the model; a level outside (0, 1).
///
/// # References
/// Lane and Nelder (1982), Biometrics 38:613-621.
///
/// ```
/// # use rootling::models::{Model, ModelSpec};
/// # use rootling::trial::{Factor, UnitKind, Units};
/// # let strength = Factor {
/// #     name: "strength".into(), levels: vec!["0".into(), "2500".into()], numbers: None, codes: vec![0, 0, 1, 1],
/// # };
/// # let units = Units {
/// #     kind: UnitKind::Tray, rooted: vec![5, 7, 12, 14], stuck: vec![20; 4], treatments: vec![strength],
/// #     tray: None, block: None, whole_plot: None, season: None, stock_plant: None, covariates: vec![],
/// # };
/// let model = Model::fit(&units, &ModelSpec::of(&["strength"]))?;
/// let rates = rootling::effects::adjusted_rates(&model, "strength", None, 0.95)?;
/// assert!((rates.figures.rates[1].value.unwrap() - 26.0 / 40.0).abs() < 1e-10);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn adjusted_rates(model: &Model, by: &str, within: Option<&str>, level: f64) -> Result<Answer<AdjustedRates>> {
    check_level(level)?;
    let ready = model.ready()?;
    let first = factor(&ready, by)?;
    let second = within.map(|name| factor(&ready, name)).transpose()?;
    let error = rate_error(model, by, within);
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
            let mut rate = one(&ready, model, &fixed, error, level);
            rate.by = first.1.label(Value::Level(code));
            rate.within = second.zip(split).map(|((_, variable), split)| variable.label(Value::Level(split)));
            rates.push(rate);
        }
    }
    Ok(answer(model, AdjustedRates { by: by.to_owned(), within: within.map(str::to_owned), level, rates }))
}

fn factor<'a>(ready: &'a Ready, name: &str) -> Result<(usize, &'a Variable)> {
    let factors = || ready.frame.variables.iter().enumerate().filter(|(_, variable)| !variable.is_covariate());
    let known: Vec<&str> = factors().map(|(_, variable)| variable.name.as_str()).collect();
    let found = factors().find(|(_, variable)| variable.name == name);
    found.ok_or_else(|| ChoiceError::new("factor of the model", name, &known).into())
}

/// Whole plots, where they can be seen, set the error of every rate; where they cannot, only of those they carry.
pub(crate) fn rate_error(model: &Model, by: &str, within: Option<&str>) -> Option<Stratum> {
    let strata = &model.strata;
    let error = strata.whole_plots.as_ref().and_then(|whole| whole.error);
    let carried = strata.on_whole_plots(by) || within.is_some_and(|name| strata.on_whole_plots(name));
    if error.is_some() {
        error
    } else if carried {
        None
    } else {
        Some(strata.tray)
    }
}

fn one(ready: &Ready, model: &Model, fixed: &[(usize, Value)], error: Option<Stratum>, level: f64) -> AdjustedRate {
    let (mut rooted, mut stuck, mut n_units) = (0.0, 0.0, 0);
    let trays = &ready.frame.per_unit;
    for ((y, m), row) in trays.rooted.iter().zip(&trays.stuck).zip(&trays.row) {
        let Some(values) = ready.frame.data.values.get(*row) else { continue };
        if fixed.iter().all(|(index, value)| values.get(*index) == Some(value)) {
            (rooted, stuck, n_units) = (rooted + y, stuck + m, n_units + 1);
        }
    }
    let averaged = average(ready, model.spec.link, fixed);
    let spread = averaged.as_ref().zip(error).map(|(averaged, stratum)| {
        let std_error = averaged.std_error(&ready.covariance, stratum.dispersion);
        (std_error, averaged.limits(std_error, quantile(stratum, level)))
    });
    AdjustedRate {
        by: String::new(),
        within: None,
        value: averaged.map(|averaged| averaged.rate),
        std_error: spread.map(|(std_error, _)| std_error),
        conf_low: spread.map(|(_, limits)| limits.0),
        conf_high: spread.map(|(_, limits)| limits.1),
        rooted: rooted as u64,
        stuck: stuck as u64,
        n_units,
    }
}

fn answer(model: &Model, figures: AdjustedRates) -> Answer<AdjustedRates> {
    let rates = &figures.rates;
    let mut table = Sheet::default();
    table.text(&figures.by, rates.iter().map(|rate| rate.by.clone()));
    if let Some(within) = &figures.within {
        table.text(within, rates.iter().map(|rate| rate.within.clone().unwrap_or_default()));
    }
    table
        .maybe("value", rates.iter().map(|rate| rate.value))
        .maybe("std_error", rates.iter().map(|rate| rate.std_error))
        .maybe("conf_low", rates.iter().map(|rate| rate.conf_low))
        .maybe("conf_high", rates.iter().map(|rate| rate.conf_high))
        .number("level", rates.iter().map(|_| figures.level))
        .whole("rooted", rates.iter().map(|rate| rate.rooted))
        .whole("stuck", rates.iter().map(|rate| rate.stuck));
    if model.units.kind == UnitKind::Tray {
        table.whole("n_units", rates.iter().map(|rate| rate.n_units));
    }
    let mut notes = model.notes.clone();
    if rates.iter().any(|rate| rate.value.is_none()) {
        let text = "Some rates would average over combinations that were not tried, so they are left open.";
        notes.push(Note::new("not_estimable", text));
    }
    let mut references = references(model);
    references.push(cited::LANE_NELDER_1982.to_owned());
    let methods = format!(
        "{} Rates of {} are averages over the other factors with equal weights on the proportion scale; their limits come \
         from the delta method on the logit scale.",
        methods(model),
        figures.by
    );
    Answer {
        kind: "adjusted_rates".to_owned(),
        sentence: sentence(model, &figures),
        table,
        notes,
        methods,
        references,
        provenance: Provenance::new(&[("by", figures.by.clone()), ("level", figures.level.to_string())]),
        figures,
    }
}

fn sentence(model: &Model, figures: &AdjustedRates) -> String {
    let ranked = |wanted: fn(f64, f64) -> bool| {
        let known = figures.rates.iter().filter(|rate| rate.value.is_some());
        known.reduce(|a, b| if wanted(b.value.unwrap_or(0.0), a.value.unwrap_or(0.0)) { b } else { a })
    };
    let words = |rate: &AdjustedRate| {
        let place = rate.within.as_ref().zip(figures.within.as_ref());
        let place = place.map_or_else(String::new, |(level, name)| format!(" with {name} {level}"));
        let range = rate.conf_low.zip(rate.conf_high).map_or_else(String::new, |(low, high)| {
            format!(" ({})", interval(percent(low), percent(high), figures.level))
        });
        let value = rate.value.map_or_else(|| "not known".to_owned(), percent);
        format!("{value}{range} for {} {}{place}", figures.by, rate.by)
    };
    let ends: Vec<String> = [ranked(|b, a| b < a), ranked(|b, a| b > a)].into_iter().flatten().map(words).collect();
    let range = if ends.is_empty() { "cannot be given".to_owned() } else { format!("run from {}", ends.join(" to ")) };
    format!(
        "{}Take rates of {}, averaged over the other factors, {range}. Overlap of two intervals is not a test.",
        warning(model),
        figures.by
    )
}
