//! How it is said that a difference changes with another treatment.

use super::figures::{Changing, DifferenceAt, HighestAt};
use crate::answer::Note;
use crate::report::{Spoken, join, limits_read, numbers, references};

/// Levels that are named one by one in a decision.
const NAMED: usize = 2;

/// "rootstock and darkness": the other treatments that are shown to change it.
pub(in crate::compare) fn names(shown: &[&Changing]) -> String {
    join(&shown.iter().map(|one| spoken(one).name()).collect::<Vec<_>>())
}

/// "; compare within each rootstock", for a decision; none where nothing is shown to change.
pub(in crate::compare) fn within_each(shown: &[&Changing]) -> Option<String> {
    (!shown.is_empty()).then(|| format!("; compare within each {}", names(shown)))
}

/// What to do where directions oppose.
pub(in crate::compare) const WITHIN_EACH: &str = "; compare them within each";

/// "2000 mg/L IBA is better at K17, 8000 mg/L at K30", where the directions oppose.
pub(in crate::compare) fn opposed(shown: &[&Changing], said: &Spoken) -> Option<String> {
    let one = shown.iter().find(|one| one.opposed())?;
    let at = |direction: i8| {
        let levels = one.differences.iter().filter(|one| one.direction() == direction);
        let levels: Vec<String> = levels.map(|at| level(one, &at.level)).collect();
        let many = || format!("{} levels of {}", levels.len(), spoken(one).name());
        if levels.len() > NAMED { many() } else { join(&levels) }
    };
    let pair = one.differences.first()?;
    let (first, second) = (said.level(&pair.first), said.short(&pair.second));
    Some(format!("{first} is better at {}, {second} at {}", at(-1), at(1)))
}

/// One line for each treatment that is shown to change it.
pub(in crate::compare) fn details(shown: &[&Changing], said: &Spoken, per: &str) -> Vec<String> {
    let line = |one: &&Changing| {
        let told = if one.highest.is_empty() { pair(one, said, per) } else { levels(one, said, per) };
        let within = one.differences.first().map(|at| &at.level).or(one.highest.first().map(|at| &at.level));
        let ask = within.map(|level| format!(", as with at={{{:?}: {level:?}}}", one.treatment)).unwrap_or_default();
        format!("{told}; compare within each{ask}.")
    };
    shown.iter().map(line).collect()
}

fn pair(one: &Changing, said: &Spoken, per: &str) -> String {
    let at = |found: &DifferenceAt| format!("at {} {}", level(one, &found.level), gap(found));
    let gaps: Vec<String> = one.differences.iter().map(at).collect();
    let Some(lead) = one.differences.first().filter(|_| !gaps.is_empty()) else {
        return format!("The difference changes with {} ({})", spoken(one).name(), numbers::p_value(one.p_adjusted));
    };
    format!(
        "The difference changes with {} ({}): {} has {} {per} than {}",
        spoken(one).name(),
        numbers::p_value(one.p_adjusted),
        said.level(&lead.second),
        join(&gaps),
        said.short(&lead.first)
    )
}

fn levels(one: &Changing, said: &Spoken, per: &str) -> String {
    let at = |(index, found): (usize, &HighestAt)| {
        let (is, per) = if index == 0 { ("is ", format!(" {per}")) } else { ("", String::new()) };
        format!(
            "at {} {is}{} ({}{per})",
            level(one, &found.level),
            said.short(&found.highest),
            numbers::points(found.value)
        )
    };
    format!(
        "The differences between levels of {} change with {} ({}): the highest {}",
        said.name(),
        spoken(one).name(),
        numbers::p_value(one.p_adjusted),
        join(&one.highest.iter().enumerate().map(at).collect::<Vec<_>>())
    )
}

/// "41 fewer (17 to 46)", without limits where there are none.
fn gap(found: &DifferenceAt) -> String {
    let trees = |x: f64| format!("{:.0}", (100.0 * x).round() + 0.0);
    let side = if found.value < 0.0 { "fewer" } else { "more" };
    let limits = found.low.zip(found.high).map(|limits| format!(" ({})", limits_read(limits, trees)));
    format!("{} {side}{}", trees(found.value.abs()), limits.unwrap_or_default())
}

/// That one number for all levels of the other treatment answers for none of them.
pub(in crate::compare) fn note(shown: &[&Changing], factor: &str) -> Option<Note> {
    let one = |one: &&Changing| {
        let (df, error) = (numbers::number(one.df), numbers::degrees_of_freedom(one.error_df));
        format!(
            "{} ({} = {} on {df} and {error}, {})",
            one.treatment,
            one.test,
            numbers::number(one.statistic),
            numbers::p_value(one.p_adjusted)
        )
    };
    let told: Vec<String> = shown.iter().map(one).collect();
    (!told.is_empty()).then(|| {
        Note::new(
            "differs_between_levels",
            format!(
                "The differences between levels of {factor} change with {}. What is said here is an average and need not hold at any one level of {}: compare within each with at=.",
                join(&told),
                join(&shown.iter().map(|one| one.treatment.clone()).collect::<Vec<_>>())
            ),
        )
    })
}

/// How it was asked, for a methods text; nothing where it was not.
pub(in crate::compare) fn methods(all: &[Changing], factor: &str) -> String {
    let names: Vec<String> = all.iter().map(|one| one.treatment.clone()).collect();
    let Some(number) = all.first().map(|_| all.len()) else { return String::new() };
    format!(
        " Whether this changes with {} was asked by the interaction with {factor} in a binomial model of the same trays, judged by F{}.",
        join(&names),
        if number > 1 { ", adjusted after Holm" } else { "" }
    )
}

/// What the test rests on.
pub(in crate::compare) fn cited(all: &[Changing]) -> Vec<String> {
    let holm = (all.len() > 1).then_some(references::HOLM_1979);
    let own = all.first().map(|_| references::NELDER_1977);
    own.into_iter().chain(holm).map(str::to_owned).collect()
}

fn spoken(one: &Changing) -> Spoken {
    Spoken::plain(&one.treatment)
}

/// A level of the other treatment: a code by itself, a number or a word with the treatment's name.
fn level(one: &Changing, level: &str) -> String {
    let (full, number) = (spoken(one).level(level), level.trim().parse::<f64>().is_ok());
    let plain = full == format!("{} {level}", spoken(one).name());
    if plain && !number { level.to_owned() } else { full }
}
