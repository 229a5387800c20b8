//! Two levels compared in a response: the difference of means, its parts, and trays dealt anew.

use super::gathered::Gathered;
use super::means::{limits, parts};
use super::numbers::{CompareResponseOptions, MeanOf, PartDifference, RatioOfMeans, ResponseComparison, ResponseMean};
use super::pair::{Difference, Pair, Strata};
use crate::compare::{Carried, CompareOptions, MOST_DEALT, Randomisation, randomisation_test, strengths};
use crate::control::Control;
use crate::error::{CountError, Result};
use crate::estimate::check_level;
use crate::math::distributions::student_t;
use crate::math::regression::{UnitContrast, ratio_limits};
use crate::trial::Trial;

/// What was found, and what the words need beside.
pub(super) struct Found {
    pub(super) numbers: ResponseComparison,
    /// Units that cross those the treatment was given to.
    pub(super) judged_by: Vec<String>,
    /// Other treatments over which the means are averaged as they stand.
    pub(super) averaged_over: Vec<String>,
    /// The fewest units of a level that carry the comparison.
    pub(super) fewest: usize,
}

/// Compares two levels.
pub(super) fn compared(
    trial: &Trial,
    treatment: &str,
    levels: (&str, &str),
    options: &CompareResponseOptions,
    control: &Control,
) -> Result<Found> {
    let confidence = check_level(options.confidence)?;
    let gathered = Gathered::of(trial, &options.response)?;
    let of = options.mean_of.unwrap_or_else(|| MeanOf::usual(gathered.measured.response.kind));
    let pair = Pair::of(gathered, treatment, levels, options)?;
    for (side, level) in [levels.0, levels.1].into_iter().enumerate() {
        if pair.trays(side).is_empty() {
            let name = format!("{treatment} {level}");
            return Err(CountError::TooFewTrays { name, found: 0, needed: 1 }.into());
        }
    }
    let strata = pair.strata(of);
    let carried = pair.carried(&strata);
    let beside = !pair.layout.taken_out.is_empty();
    let refused = pair.refusal(&strata, &carried);
    let lead = strata.difference(gathered.least(), beside).filter(|_| refused.is_none());
    let withheld = refused.or_else(|| lead.is_none().then(|| alone(&pair)));
    let mut numbers = side_by_side(trial, (treatment, levels), &pair, of, (options, control))?;
    numbers.within = pair.within(&strata);
    (numbers.carried, numbers.withheld) = (carried, withheld);
    let both = [pair.units(0), pair.units(1)];
    for (mean, held) in
        [&mut numbers.first, &mut numbers.second].into_iter().zip(limits(&gathered, &both, of, confidence))
    {
        (mean.low, mean.high, mean.df) = (held.map(|one| one.0), held.map(|one| one.1), held.map(|one| one.2));
    }
    numbers.value = numbers.second.value.zip(numbers.first.value).map_or(0.0, |(second, first)| second - first);
    if let Some(lead) = lead {
        judge(&mut numbers, lead, confidence);
        numbers.randomisation = if beside { None } else { dealt(&strata, options, control)? };
    }
    if of == MeanOf::Stuck && numbers.withheld.is_none() {
        let rooted = pair.strata(MeanOf::Rooted).difference(gathered.least(), beside);
        numbers.of_rooted = rooted.map(|found| part(found, confidence));
    }
    Ok(Found {
        judged_by: std::iter::once(pair.layout.unit.clone())
            .chain(pair.layout.crossed(gathered.units).iter().map(|one| one.name.clone()))
            .collect(),
        averaged_over: averaged_over(&pair, &numbers, options),
        fewest: strata.fewest(),
        numbers,
    })
}

/// Both means side by side, before anything is judged.
fn side_by_side(
    trial: &Trial,
    (treatment, levels): (&str, (&str, &str)),
    pair: &Pair<'_>,
    of: MeanOf,
    (options, control): (&CompareResponseOptions, &Control),
) -> Result<ResponseComparison> {
    Ok(ResponseComparison {
        response: pair.gathered.measured.response.clone(),
        mean_of: of,
        factor: pair.treatment.name.clone(),
        first: side(pair, 0, of),
        second: side(pair, 1, of),
        value: 0.0,
        low: None,
        high: None,
        confidence: options.confidence,
        statistic: None,
        df: None,
        p: None,
        ratio: None,
        take: take(trial, treatment, levels, options, control)?,
        of_rooted: None,
        randomisation: None,
        within: Vec::new(),
        carried: Carried::default(),
        unit: pair.layout.unit.clone(),
        withheld: None,
        primary: trial.primary() == Some(options.response.as_str()),
        n_left_out: [0, 1].map(|side| pair.gathered.held(&pair.trays(side), of).left_out).iter().sum(),
    })
}

/// Why levels of single units are not told apart.
fn alone(pair: &Pair<'_>) -> String {
    let unit = pair.layout.unit.replace('_', " ");
    format!(
        "a level of {} stands in a single {unit}, or nothing was measured in the others, so nothing tells how {unit}s differ",
        pair.treatment.name
    )
}

fn side(pair: &Pair<'_>, side: usize, of: MeanOf) -> ResponseMean {
    let trays = pair.trays(side);
    let held = pair.gathered.held(&trays, of);
    let level = pair.codes.get(side).and_then(|code| pair.treatment.levels.get(*code as usize)).cloned();
    ResponseMean {
        levels: level.into_iter().collect(),
        value: held.mean(),
        of_rooted: pair.gathered.held(&trays, MeanOf::Rooted).mean(),
        n_units: pair.n_units(side, of),
        ..parts(held)
    }
}

fn judge(numbers: &mut ResponseComparison, lead: Difference, confidence: f64) {
    let UnitContrast { value, variance, df } = lead.found;
    let t = student_t::quantile(f64::midpoint(1.0, confidence), df);
    let half = t * variance.sqrt();
    numbers.value = value;
    (numbers.low, numbers.high) = (Some(value - half), Some(value + half));
    let statistic = value / variance.sqrt();
    numbers.statistic = Some(statistic);
    numbers.df = Some(df);
    numbers.p = Some(student_t::two_sided(statistic, df));
    let [first, second] = [0, 1].map(|side| UnitContrast {
        value: lead.means.get(side).copied().unwrap_or_default(),
        variance: lead.variances.get(side).copied().unwrap_or_default(),
        df,
    });
    if first.value > 0.0 && second.value > 0.0 {
        let (low, high) = ratio_limits(first, second, t);
        numbers.ratio = Some(RatioOfMeans { value: second.value / first.value, low, high });
    }
}

fn part(lead: Difference, confidence: f64) -> PartDifference {
    let UnitContrast { value, variance, df } = lead.found;
    let half = student_t::quantile(f64::midpoint(1.0, confidence), df) * variance.sqrt();
    PartDifference {
        first: lead.means[0],
        second: lead.means[1],
        value,
        low: Some(value - half),
        high: Some(value + half),
        p: Some(student_t::two_sided(value / variance.sqrt(), df)),
    }
}

/// The difference of takes, as a comparison of takes has it.
fn take(
    trial: &Trial,
    treatment: &str,
    (first, second): (&str, &str),
    options: &CompareResponseOptions,
    control: &Control,
) -> Result<Option<PartDifference>> {
    let asked = CompareOptions {
        at: options.at.clone(),
        confidence: options.confidence,
        // Trays dealt anew by their takes are no part of this answer.
        randomisations: 1,
        ..CompareOptions::default()
    };
    match strengths(trial.units(), treatment, first, second, &asked, control) {
        Ok(found) => {
            let found = found.numbers;
            Ok(Some(PartDifference {
                first: found.first.value,
                second: found.second.value,
                value: found.value,
                low: found.low,
                high: found.high,
                p: found.p,
            }))
        }
        Err(stopped @ crate::Error::Interrupted) => Err(stopped),
        Err(_) => Ok(None),
    }
}

fn dealt(strata: &Strata<'_>, options: &CompareResponseOptions, control: &Control) -> Result<Option<Randomisation>> {
    let trays = strata.dealt();
    let number: usize = trays.iter().map(|one| one.rates.len()).sum();
    if number > MOST_DEALT {
        return Ok(None);
    }
    randomisation_test(&trays, options.seed, options.randomisations, control).map(Some)
}

fn averaged_over(pair: &Pair<'_>, numbers: &ResponseComparison, options: &CompareResponseOptions) -> Vec<String> {
    let left =
        |name: &String| *name != numbers.factor && !numbers.within.contains(name) && !options.at.contains_key(name);
    let several = pair.gathered.units.treatments.iter().filter(|one| one.levels.len() > 1);
    several.map(|one| one.name.clone()).filter(left).collect()
}
