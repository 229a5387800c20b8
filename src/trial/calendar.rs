//! Treatments that are times: nobody dealt dates out, and nobody can choose one.

use std::collections::BTreeSet;

use chrono::NaiveDate;

use crate::answer::Note;
use crate::report::{MOST_WORDS, words as count_words};
use crate::trial::columns::{Factor, Units};

/// Words for a time in a column's name. Plurals say how long something lasted.
const TIMES: [&str; 22] = [
    "week",
    "month",
    "year",
    "date",
    "dates",
    "season",
    "period",
    "quarter",
    "calendar",
    "kw",
    "woche",
    "kalenderwoche",
    "monat",
    "jahr",
    "datum",
    "semaine",
    "mois",
    "semana",
    "mes",
    "fecha",
    "settimana",
    "mese",
];

/// Words that make a duration of them: a dark period, the storage week.
const LASTING: [&str; 14] = [
    "dark", "light", "photo", "dip", "soak", "storage", "cold", "warm", "exposure", "rooting", "age", "old", "callus",
    "rest",
];

/// Months and seasons of a year.
const NAMED: [&str; 40] = [
    "jan",
    "feb",
    "mar",
    "apr",
    "may",
    "jun",
    "jul",
    "aug",
    "sep",
    "sept",
    "oct",
    "nov",
    "dec",
    "january",
    "february",
    "march",
    "april",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
    "spring",
    "summer",
    "autumn",
    "winter",
    "januar",
    "februar",
    "m\u{e4}rz",
    "mai",
    "juni",
    "juli",
    "oktober",
    "dezember",
    "fr\u{fc}hjahr",
    "fr\u{fc}hling",
    "sommer",
    "herbst",
];

/// Words for a week, of which each level has a number.
const WEEKS: [&str; 8] = ["week", "wk", "kw", "woche", "kalenderwoche", "semaine", "semana", "settimana"];

/// First and last year that a number is read as.
const YEARS: (f64, f64) = (1990.0, 2100.0);

fn words(name: &str) -> Vec<String> {
    let lower = name.to_lowercase();
    lower.split(|letter: char| !letter.is_alphabetic()).filter(|word| !word.is_empty()).map(str::to_owned).collect()
}

/// True for a name such as week, `set_date` or period, but not for `dark_period`.
fn names_a_time(name: &str) -> bool {
    let words = words(name);
    let any = |known: &[&str]| words.iter().any(|word| known.contains(&word.as_str()));
    any(&TIMES) && !any(&LASTING)
}

/// True for "week 14", "KW14" and 2024-W14.
fn is_week(level: &str) -> bool {
    let numbered = level.chars().any(|letter| letter.is_ascii_digit());
    let of_year = level.trim().chars().take_while(char::is_ascii_digit).count() == 4;
    numbered
        && match words(level).as_slice() {
            [only] => WEEKS.contains(&only.as_str()) || of_year && only == "w",
            _ => false,
        }
}

/// True where a treatment's levels are times by its name or by what they are: dates, weeks, months, years.
pub(crate) fn is_calendar(treatment: &Factor) -> bool {
    let levels = &treatment.levels;
    let named =
        || levels.iter().all(|level| matches!(words(level).as_slice(), [only] if NAMED.contains(&only.as_str())));
    let lasting = || words(&treatment.name).iter().any(|word| LASTING.contains(&word.as_str()));
    let numbered_weeks = || levels.iter().all(|level| is_week(level)) && !lasting();
    let year = |value: &f64| value.fract() == 0.0 && (YEARS.0..=YEARS.1).contains(value);
    let years = || {
        let numbers = treatment.numbers.as_deref().unwrap_or_default();
        numbers.len() > 1
            && numbers.iter().all(year)
            && numbers.iter().zip(numbers.iter().skip(1)).all(|(one, next)| next - one <= 10.0)
    };
    names_a_time(&treatment.name)
        || levels.len() > 1
            && (levels.iter().all(|level| !dates(level).is_empty()) || named() || years() || numbered_weeks())
}

/// A date as numbers in the order of time, in either order of day and month; empty where it is none. What stands behind it, as in
/// 2023-05-r1, is passed over.
fn dates(level: &str) -> Vec<f64> {
    let parts = level.trim().split(['-', '.', '/', ' ', 'T']);
    let number = |part: &str| part.chars().all(|one| one.is_ascii_digit()).then(|| part.parse::<f64>().ok()).flatten();
    let found: Vec<(usize, f64)> = parts.map_while(|part| number(part).map(|value| (part.len(), value))).collect();
    let key = |year: f64, month: f64, day: f64| 10_000.0 * year + 100.0 * month + day;
    match found.as_slice() {
        [(4, year), (1 | 2, a), (1 | 2, b), ..] => vec![key(*year, *a, *b), key(*year, *b, *a)],
        [(4, year), (1 | 2, a)] => vec![key(*year, *a, 0.0); 2],
        [(1 | 2, a), (1 | 2, b), (4, year), ..] => vec![key(*year, *b, *a), key(*year, *a, *b)],
        [(1 | 2, month), (4, year)] => vec![key(*year, *month, 0.0); 2],
        _ => Vec::new(),
    }
}

/// Levels as dates.
pub(crate) enum Dated {
    /// Days from the first of them to each.
    Days(Vec<f64>),
    /// Dates of which day and month could be either.
    Open,
    /// Not all of them are dates, or two are the same.
    No,
}

/// The days of levels that are dates; a month is its first day.
pub(crate) fn dated(levels: &[String]) -> Dated {
    let day = |key: f64| {
        let (year, rest) = ((key / 10_000.0) as i32, key % 10_000.0);
        let (month, day) = ((rest / 100.0) as u32, (rest % 100.0).max(1.0) as u32);
        NaiveDate::from_ymd_opt(year, month, day).map(|date| f64::from(date.to_epoch_days()))
    };
    let year_first = |level: &str| level.trim().chars().take_while(char::is_ascii_digit).count() == 4;
    let read = |way: usize| -> Option<Vec<f64>> {
        let one = |level: &String| dates(level).get(if year_first(level) { 0 } else { way }).copied().and_then(day);
        let days: Vec<f64> = levels.iter().map(one).collect::<Option<_>>()?;
        let first = days.iter().copied().fold(f64::INFINITY, f64::min);
        let apart: BTreeSet<i64> = days.iter().map(|day| *day as i64).collect();
        (apart.len() == days.len()).then(|| days.iter().map(|day| day - first).collect())
    };
    match (read(0), read(1)) {
        (Some(one), Some(other)) if one != other => Dated::Open,
        (Some(days), _) | (None, Some(days)) => Dated::Days(days),
        (None, None) => Dated::No,
    }
}

/// The time of each unit by a recorded place, once for each way of reading it; empty where its labels are no times.
fn times(place: &Factor, is_season: bool) -> Vec<Vec<f64>> {
    let of = |values: Vec<f64>| -> Vec<f64> {
        place.codes.iter().map(|code| values.get(*code as usize).copied().unwrap_or(f64::NAN)).collect()
    };
    if let Some(numbers) = &place.numbers {
        return vec![of(numbers.clone())];
    }
    let read: Vec<Vec<f64>> = place.levels.iter().map(|level| dates(level)).collect();
    if read.iter().all(|keys| keys.len() == 2) {
        return [0, 1].map(|way| of(read.iter().filter_map(|keys| keys.get(way).copied()).collect())).to_vec();
    }
    if is_season { vec![place.codes.iter().map(|code| f64::from(*code)).collect()] } else { Vec::new() }
}

/// True when the times of each level lie all before or all after those of every other.
fn apart(treatment: &Factor, times: &[f64]) -> bool {
    let mut spans: Vec<Option<(f64, f64)>> = vec![None; treatment.levels.len()];
    for (level, time) in treatment.codes.iter().zip(times) {
        if let Some(span) = spans.get_mut(*level as usize) {
            let (first, last) = span.unwrap_or((*time, *time));
            *span = Some((first.min(*time), last.max(*time)));
        }
    }
    let mut ordered: Vec<(f64, f64)> = spans.into_iter().flatten().collect();
    ordered.sort_by(|a, b| a.0.total_cmp(&b.0));
    ordered.len() > 1 && ordered.iter().zip(ordered.iter().skip(1)).all(|(one, next)| one.1 < next.0)
}

/// The column over which the levels of a treatment follow one another: a season, a dated or numbered block to which it was given as a
/// whole, a week or date among the covariates; the treatment itself where it is a calendar.
pub(crate) fn follows_time(units: &Units, treatment: &Factor) -> Option<String> {
    if treatment.codes.iter().all(|code| Some(code) == treatment.codes.first()) {
        return None;
    }
    if is_calendar(treatment) {
        return Some(treatment.name.clone());
    }
    let unit = units.unit_of(treatment).map(|place| place.name.as_str());
    let places = [(&units.season, true), (&units.block, false), (&units.whole_plot, false)].into_iter();
    let places = places.filter_map(|(place, season)| Some((place.as_ref()?, season)));
    // Blocks that are numbers may be benches: as times they are read only where the treatment was given to them, and what recurs over
    // seasons is no time.
    let recurs = |place: &Factor| units.season.as_ref().is_some_and(|season| !season.constant_within(place));
    let timed = |(place, season): &(&Factor, bool)| {
        (*season || !recurs(place))
            && (*season
                || place.numbers.is_none()
                || units.block.as_ref() == Some(*place) && unit == Some(place.name.as_str()))
            && times(place, *season).iter().any(|times| apart(treatment, times))
    };
    let place = places.clone().find(timed).map(|(place, _)| place.name.clone());
    let covariates =
        units.covariates.iter().filter(|one| names_a_time(&one.name) || words(&one.name).contains(&"day".to_owned()));
    place.or_else(|| covariates.into_iter().find(|one| apart(treatment, &one.values)).map(|one| one.name.clone()))
}

/// How a sentence ends that shows something of levels which follow time: as fully as there is room for. `name` is said where the sentence
/// is about other treatments too.
pub(crate) fn time_tail(sentence: &str, name: Option<&str>) -> String {
    let name = name.map_or_else(String::new, |name| format!("{}: ", name.replace('_', " ")));
    let short = format!("; {name}times were not dealt out");
    let full = format!("{short}, so this shows no cause");
    let room = MOST_WORDS.saturating_sub(count_words(sentence));
    [full, short].into_iter().find(|tail| count_words(tail) <= room).unwrap_or_default()
}

/// What such an order means, and what answers the question behind it.
pub(crate) fn time_note(factor: &str, place: &str) -> Note {
    let instead = "To compare levels, deal them out within each time; to ask whether fewer survive, since when and where, watch the crop (`watch.load`), which expects of each batch what its mix lets expect and counts every date that is looked at.";
    let text = if factor == place {
        format!(
            "{factor} is a calendar: dates were not dealt out, so whatever else changed meanwhile (weather, stock, people, mix) looks like {factor}, and a date picked after a look at the counts finds a change where there is none. {instead}"
        )
    } else {
        format!(
            "The levels of {factor} follow one another over {place}: dates were not dealt out, so whatever else changed meanwhile (weather, stock, people, mix) looks like {factor}. {instead}"
        )
    };
    Note::new("levels_follow_time", text)
}
