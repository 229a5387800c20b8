//! A comparison of the outcome asked for, with the other outcomes beside it where deaths are recorded.

use super::changing::{self, changing};
use super::decision::Decision;
use super::named::{code_of, column};
use super::numbers::{BesideDifference, CompareOptions, Comparison};
use super::strengths::strengths;
use crate::answer::{Answer, Cells, Scale};
use crate::control::Control;
use crate::counts::two_rates::{gain_in_words, gap_in_words};
use crate::error::{CountError, Error, Result};
use crate::report::{MOST_WORDS, Spoken, join, limits_read, numbers, words};
use crate::trial::{Outcome, Trial, Units, answer_of_units};

/// Differences that are further apart are seen to be so with one decimal of a hundredth.
const ROUNDS_AWAY: f64 = 0.0005;

impl BesideDifference {
    fn of(outcome: Outcome, found: &Comparison) -> Self {
        Self {
            outcome,
            first: found.first.value,
            second: found.second.value,
            value: found.value,
            low: found.low,
            high: found.high,
            p: found.p,
        }
    }

    /// The same seen from the first level: first minus second.
    fn turned(&self) -> Self {
        Self {
            first: self.second,
            second: self.first,
            value: -self.value,
            low: self.high.map(|high| -high),
            high: self.low.map(|low| -low),
            ..self.clone()
        }
    }

    /// "Survival: 95 of 100 at 2500 mg/L and 80 at 5000 mg/L, so 15 more at 2500 mg/L (95 % interval 3 to 27), P = 0.02.", seen from the level
    /// that the decision names, as the decision is.
    fn line(&self, said: &Spoken, (lead, own): (&Comparison, &Comparison)) -> String {
        let (first, second) = (lead.first.levels.concat(), lead.second.levels.concat());
        let up = lead.value >= 0.0;
        let (seen, better, worse) = if up { (self.clone(), second, first) } else { (self.turned(), first, second) };
        let gap = seen.low.zip(seen.high).map_or_else(
            || gain_in_words(seen.value),
            |(low, high)| gap_in_words((seen.value, low, high), lead.confidence, self.outcome.of_hundred()),
        );
        let p = self.p.map(|p| format!(", {}", numbers::p_value(p))).unwrap_or_default();
        let apart = (seen.second - seen.first - seen.value).abs() >= ROUNDS_AWAY;
        let how = match (own.within.is_empty(), own.adjusted_for.is_empty()) {
            (false, _) if apart => format!(" within {}", join(&own.within)),
            (_, false) if apart => format!(" between trays alike in {}", join(&own.adjusted_for)),
            _ => String::new(),
        };
        format!(
            "{}: {} of 100 at {} and {} at {}, so{how} {gap} at {}{p}.",
            self.outcome.words().title,
            numbers::points(seen.second),
            said.short(&better),
            numbers::points(seen.first),
            said.short(&worse),
            said.short(&better)
        )
    }
}

/// What [`Trial::compare`] tells.
pub(super) fn outcomes(
    trial: &Trial,
    factor: &str,
    (first, second): (&str, &str),
    options: &CompareOptions,
    control: &Control,
) -> Result<Answer<Comparison>> {
    told(trial, factor, (first, second), options, control).map(|answer| answer_of_units(trial.units(), answer))
}

/// The same, speaking of trays.
fn told(
    trial: &Trial,
    factor: &str,
    (first, second): (&str, &str),
    options: &CompareOptions,
    control: &Control,
) -> Result<Answer<Comparison>> {
    let ask = |outcome: Outcome| {
        let options = CompareOptions { outcome, ..options.clone() };
        strengths(&*trial.shared_units_of(outcome)?, factor, first, second, &options, control)
    };
    let mut answer = ask(options.outcome).map_err(|error| none_left(trial, factor, (first, second), options, error))?;
    let plain = Spoken::plain(factor);
    let said = options.spoken.as_ref().unwrap_or(&plain);
    // What has no test has no difference that could be said to change.
    if answer.numbers.p.is_some() {
        let found = changing(&*trial.shared_units_of(options.outcome)?, factor, (first, second), options, control)?;
        with_changing(&mut answer, found, (said, trial.units()), options);
    }
    if trial.dead().is_none() {
        return Ok(answer);
    }
    let changes = answer.numbers.changing.iter().any(changing::Changing::shown);
    for outcome in Outcome::OF_DEATHS.into_iter().filter(|one| *one != options.outcome) {
        // A level without a survivor has no rate of rooting among survivors.
        let Ok(other) = ask(outcome) else { continue };
        let beside = BesideDifference::of(outcome, &other.numbers);
        answer.details.push(beside.line(said, (&answer.numbers, &other.numbers)));
        row(&mut answer, &beside, said);
        answer.numbers.beside.push(beside);
    }
    let deadlier = despite_deaths(&answer.numbers, options.outcome);
    let tails = by_deaths(&answer.numbers, options.outcome).or_else(|| of_the_take(&answer.numbers, options.outcome));
    if let Some(tails) = deadlier.clone().or(tails.filter(|_| !changes)) {
        let lead = Decision::of(&answer.numbers, said, options, trial.units()).beside(deadlier.is_some());
        answer.sentence = first_that_fits(&lead, &tails);
    }
    answer.notes.splice(0..0, trial.deaths_note(options.outcome));
    Ok(answer)
}

/// The decision, details, note and methods of a difference that was asked whether it changes with other treatments.
fn with_changing(
    answer: &mut Answer<Comparison>,
    found: Vec<changing::Changing>,
    (said, units): (&Spoken, &Units),
    options: &CompareOptions,
) {
    answer.methods.push_str(&changing::methods(&found, &answer.numbers.factor));
    answer.references.extend(changing::cited(&found));
    let known = changing::shown(&found);
    answer.notes.splice(0..0, changing::note(&known, &answer.numbers.factor));
    answer.numbers.changing = found;
    let decision = Decision::of(&answer.numbers, said, options, units);
    (answer.sentence, answer.details) = (decision.sentence(), decision.details());
}

/// What is shown where the takes differ, survival differs the same way, and rooting among survivors is not shown to: seen from the level
/// with the higher take, as the decision is. That no difference is shown does not say that there is none, so its limits stand beside.
fn by_deaths(found: &Comparison, lead: Outcome) -> Option<[String; 2]> {
    let alpha = 1.0 - found.confidence;
    let shown = |p: Option<f64>| p.is_some_and(|p| p < alpha);
    let of = |outcome: Outcome| found.beside.iter().find(|one| one.outcome == outcome);
    let (alive, rooted) = (of(Outcome::Survival)?, of(Outcome::RootedOfSurvivors)?);
    let same = shown(alive.p) && alive.value.signum() == found.value.signum();
    if lead != Outcome::Take || !shown(found.p) || !same || shown(rooted.p) {
        return None;
    }
    let trees = |x: f64| format!("{:.0}", (100.0 * x).round() + 0.0);
    let seen = |low: f64, high: f64| if found.value < 0.0 { (-high, -low) } else { (low, high) };
    let range = rooted.low.zip(rooted.high).map(|(low, high)| seen(low, high));
    let range = range.map_or_else(String::new, |(low, high)| format!(" ({} to {})", trees(low), trees(high)));
    Some([range, String::new()].map(|range| format!("; survival differs, rooting of survivors is not shown to{range}")))
}

/// Where the level with the higher take is shown to lose cuttings: whoever weighs trees against deaths must see both.
fn despite_deaths(found: &Comparison, lead: Outcome) -> Option<[String; 2]> {
    let alpha = 1.0 - found.confidence;
    let shown = |p: Option<f64>| p.is_some_and(|p| p < alpha);
    let alive = found.beside.iter().find(|one| one.outcome == Outcome::Survival)?;
    let against = alive.value.signum() != found.value.signum();
    if lead != Outcome::Take || !shown(found.p) || !shown(alive.p) || !against {
        return None;
    }
    let more = format!("{:.0}", (100.0 * alive.value).abs());
    Some([format!("; yet {more} more of 100 die there"), format!("; yet {more} more die")])
}

/// How the take runs beside a difference that is shown in a part of it: seen from the level that is better in that part.
fn of_the_take(found: &Comparison, lead: Outcome) -> Option<[String; 2]> {
    let alpha = 1.0 - found.confidence;
    if !lead.is_part() || found.p.is_none_or(|p| p >= alpha) {
        return None;
    }
    let take = found.beside.iter().find(|one| one.outcome == Outcome::Take)?;
    let seen = if found.value < 0.0 { take.turned() } else { take.clone() };
    let trees = |x: f64| format!("{:.0}", (100.0 * x).round().abs());
    if seen.p.is_none_or(|p| p >= alpha) {
        return Some(["; the take is not shown to differ".to_owned(), "; the take is open".to_owned()]);
    }
    let side = if seen.value < 0.0 { "lower" } else { "higher" };
    let range = seen.low.zip(seen.high).map(|limits| format!(" ({})", limits_read(limits, trees))).unwrap_or_default();
    Some([range, String::new()].map(|range| format!("; the take there is {} {side}{range}", trees(seen.value))))
}

/// The decision with the longest of the tails for which there is room.
fn first_that_fits(lead: &str, tails: &[String]) -> String {
    let whole = tails.iter().map(|tail| format!("{lead}{tail}."));
    whole.into_iter().find(|text| words(text) <= MOST_WORDS).unwrap_or_else(|| format!("{lead}."))
}

/// The error of a level whose trays hold no survivor, which the trays themselves would not explain.
fn none_left(
    trial: &Trial,
    factor: &str,
    (first, second): (&str, &str),
    options: &CompareOptions,
    error: Error,
) -> Error {
    let empty = matches!(error, Error::Count(CountError::TooFewTrays { found: 0, .. }));
    if !empty || options.outcome != Outcome::RootedOfSurvivors {
        return error;
    }
    let (units, dead) = (trial.units(), trial.dead().unwrap_or_default());
    let trays = |level: &str| {
        let treatment = column(units, factor).ok()?;
        let code = code_of(treatment, level).ok()?;
        let inside = |unit: &usize| {
            let held = options.at.iter().all(|(name, value)| {
                column(units, name).is_ok_and(|one| code_of(one, value).ok().as_ref() == one.codes.get(*unit))
            });
            held && treatment.codes.get(*unit) == Some(&code)
        };
        let found: Vec<usize> = (0..units.len()).filter(inside).collect();
        let dead = found.iter().all(|unit| units.stuck.get(*unit) <= dead.get(*unit));
        (dead && !found.is_empty()).then(|| (format!("{factor} {level}"), found.len()))
    };
    match [first, second].into_iter().find_map(trays) {
        Some((name, trays)) => CountError::NoSurvivors { name, trays }.into(),
        None => error,
    }
}

/// A row of the table for another outcome.
fn row(answer: &mut Answer<Comparison>, beside: &BesideDifference, said: &Spoken) {
    let (first, second) = (answer.numbers.first.levels.concat(), answer.numbers.second.levels.concat());
    let what = format!("difference of {}, {} minus {}", beside.outcome.noun(), said.short(&second), said.short(&first));
    for column in &mut answer.table.columns {
        column.next_row_is(Scale::Difference);
        let number = match column.name.as_str() {
            "value" => Some(beside.value),
            "low" => beside.low,
            "high" => beside.high,
            "p" => beside.p,
            _ => None,
        };
        match &mut column.values {
            Cells::Number(values) => values.push(number),
            Cells::Text(values) if column.name == "what" => values.push(Some(what.clone())),
            Cells::Text(values) => values.push(Some(String::new())),
            Cells::Whole(values) => values.push(None),
        }
    }
}
