//! Means of a response in words: the lowest and the highest, the two parts behind them, table and methods.

use super::amounts::Amounts;
use super::means::means;
use super::numbers::{MeanOf, MeansOptions, ResponseMean, ResponseMeans};
use super::told::{of_response, of_those_rooted, unit_of};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::error::Result;
use crate::report::numbers::{interval, join, percent};
use crate::report::references::{BELL_MCCAFFREY_2002, SATTERTHWAITE_1946};
use crate::report::references_responses::{COCHRAN_1977, RIDOUT_1998};
use crate::report::{MOST_WORDS, Spoken, cautions, plural, words};
use crate::trial::{ResponseKind, Trial, answer_of_units};

/// The answer.
pub(super) fn answer(trial: &Trial, by: &[&str], options: &MeansOptions) -> Result<Answer<ResponseMeans>> {
    let found = means(trial, by, options)?;
    let widths = found.means.iter().filter_map(|one| Some(one.high? - one.low?));
    let narrow = widths.fold(f64::INFINITY, f64::min);
    let amounts = Amounts::of(&found.response, found.mean_of, narrow);
    let spoken: Vec<Spoken> = found.by.iter().map(|name| trial.options().spoken(name)).collect();
    let mut references = vec![COCHRAN_1977, BELL_MCCAFFREY_2002, SATTERTHWAITE_1946];
    references.extend((found.response.kind == ResponseKind::Count).then_some(RIDOUT_1998));
    let answer = Answer {
        kind: "response_means".to_owned(),
        sentence: decision(&found, &spoken, &amounts),
        details: details(&found, &spoken, &amounts),
        notes: notes(&found, trial),
        methods: methods(&found),
        references: references.into_iter().map(str::to_owned).collect(),
        table: table(&found),
        made_with: MadeWith::new(&[
            ("by", join(&found.by)),
            ("response", options.response.clone()),
            ("mean_of", found.mean_of.name().to_owned()),
            ("confidence", found.confidence.to_string()),
        ]),
        numbers: found,
    };
    Ok(trial.signed(answer_of_units(trial.units(), answer)))
}

fn place(one: &ResponseMean, spoken: &[Spoken]) -> String {
    let said = |(level, said): (&String, &Spoken)| {
        let bare = !said.is_strength() && level.trim().parse::<f64>().is_err();
        if bare { level.clone() } else { said.level(level) }
    };
    one.levels.iter().zip(spoken).map(said).collect::<Vec<_>>().join(", ")
}

fn decision(found: &ResponseMeans, spoken: &[Spoken], amounts: &Amounts) -> String {
    let known: Vec<(&ResponseMean, f64)> =
        found.means.iter().filter_map(|one| one.value.map(|value| (one, value))).collect();
    let low = known.iter().min_by(|a, b| a.1.total_cmp(&b.1));
    let high = known.iter().max_by(|a, b| a.1.total_cmp(&b.1));
    let (Some(low), Some(high)) = (low, high) else { return format!("{}: nothing was measured.", amounts.head()) };
    let one = |(mean, value): &(&ResponseMean, f64), limits: bool| {
        let ends = mean.low.zip(mean.high).filter(|_| limits);
        let ends = ends.map(|(low, high)| format!(" ({} to {})", amounts.bare(low), amounts.bare(high)));
        let at = if mean.levels.is_empty() { String::new() } else { format!(" at {}", place(mean, spoken)) };
        format!("{}{at}{}", amounts.said(*value), ends.unwrap_or_default())
    };
    if known.len() == 1 {
        return format!("{}: {}.", amounts.head(), one(low, true));
    }
    let full = format!("{}: from {} to {}.", amounts.head(), one(low, true), one(high, true));
    if words(&full) <= MOST_WORDS {
        return full;
    }
    format!("{}: from {} to {}.", amounts.head(), one(low, false), one(high, false))
}

fn details(found: &ResponseMeans, spoken: &[Spoken], amounts: &Amounts) -> Vec<String> {
    let line = |one: &ResponseMean| {
        let limits = |low: Option<f64>, high: Option<f64>| {
            let ends = low.zip(high);
            ends.map(|(low, high)| format!(" ({})", interval(amounts.bare(low), amounts.bare(high), found.confidence)))
        };
        let value = one.value.map_or_else(
            || "nothing measured".to_owned(),
            |value| format!("{}{}", amounts.said(value), limits(one.low, one.high).unwrap_or_default()),
        );
        let name = if one.levels.is_empty() { "All".to_owned() } else { place(one, spoken) };
        let rooted = match one.of_rooted.filter(|_| found.mean_of == MeanOf::Stuck) {
            Some(rooted) => format!(
                "; {} rooted, {} each{}",
                percent(one.take),
                amounts.said(rooted),
                limits(one.of_rooted_low, one.of_rooted_high).unwrap_or_default()
            ),
            None => format!("; {} rooted", percent(one.take)),
        };
        format!("{name}: {value}{rooted}.")
    };
    found.means.iter().map(line).collect()
}

fn notes(found: &ResponseMeans, trial: &Trial) -> Vec<Note> {
    let mut notes = Vec::new();
    if found.means.iter().any(|one| one.n_units < 4) {
        notes.push(cautions::few_units(&found.unit));
    }
    notes.extend(of_response(&found.response, found.primary, found.n_left_out, trial));
    notes.push(of_those_rooted(&found.response.column));
    notes
}

fn methods(found: &ResponseMeans) -> String {
    let unit = plural(&found.unit.replace('_', " "));
    let over = match found.mean_of {
        MeanOf::Stuck => "cuttings stuck, of which those that did not root count 0",
        MeanOf::Rooted => "rooted cuttings that were measured",
    };
    format!(
        "Means of {name} are totals over {over} (ratio estimates). The variance of a mean is that of the residuals of {unit}, each raised by its share (Bell and McCaffrey); it is never below what cuttings alone make it, and is averaged with what all means lead to expect, in proportion to the mean to the power 1.5, which counts as two degrees of freedom. Limits are the means whose own variance, in proportion to them, would put the estimate at t on Satterthwaite's degrees of freedom, so none is below 0. As rooting and {name} share their trays, how the two vary together is in the totals.",
        name = found.response.column
    )
}

fn table(found: &ResponseMeans) -> Sheet {
    let means = &found.means;
    let mut table = Sheet::default();
    for (at, name) in found.by.iter().enumerate() {
        table.level(name, means.iter().map(|one| one.levels.get(at).cloned().unwrap_or_default()));
    }
    table.plain("value", means.iter().map(|one| one.value)).of_unit(&unit_of(&found.response));
    table.plain("low", means.iter().map(|one| one.low));
    table.plain("high", means.iter().map(|one| one.high));
    table.confidence("confidence", means.iter().map(|_| found.confidence));
    table.degrees("df", means.iter().map(|one| one.df));
    table.rate("take", means.iter().map(|one| one.take));
    table.plain("of_rooted", means.iter().map(|one| one.of_rooted));
    table.plain("of_rooted_low", means.iter().map(|one| one.of_rooted_low));
    table.plain("of_rooted_high", means.iter().map(|one| one.of_rooted_high));
    table.whole("n_units", means.iter().map(|one| one.n_units)).headed(plural(&found.unit.replace('_', " ")));
    table.whole("n_cuttings", means.iter().map(|one| one.n_cuttings));
    table.whole("n_rooted", means.iter().map(|one| one.n_rooted));
    table.whole("n_measured", means.iter().map(|one| one.n_measured));
    table
}
