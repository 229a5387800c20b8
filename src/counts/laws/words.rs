//! What is said of a law of counts: the sentence, a fact a line, how it was worked out.

use super::numbers::{ColumnEffect, EffectOn, FittedCounts, GroupOfCounts, LawBeside, LawOfCounts};
use crate::math::regression::counts::Zeros;
use crate::report::numbers::{confidence, interval, join, number, percent, whole};
use crate::report::{MOST_WORDS, capital, words};

/// Counts that are told beside what the law expects.
const TOLD: usize = 4;
/// How far a law may lie behind the best and still describe the counts as well.
const AS_WELL: f64 = 2.0;

/// A number with as many decimals as its limits bear.
fn amount(value: f64, limits: Option<(f64, f64)>) -> String {
    let width = limits.map_or(0.0, |(low, high)| high - low);
    let decimals =
        if width > 0.0 && width.is_finite() { (1.0 - (0.5 * width).log10().floor()).clamp(0.0, 6.0) } else { 2.0 };
    format!("{value:.*}", decimals as usize)
}

fn limits(one: &GroupOfCounts) -> Option<(f64, f64)> {
    one.low.zip(one.high)
}

/// "5.9", with its limits in brackets where they are known.
fn mean(one: &GroupOfCounts, with: bool) -> String {
    let said = |value: f64| amount(value, limits(one));
    let ends = limits(one).filter(|_| with).map(|(low, high)| format!(" ({} to {})", said(low), said(high)));
    let open = (with && one.high.is_none()).then(|| " (no upper limit)".to_owned());
    format!("{}{}", said(one.value), ends.or(open).unwrap_or_default())
}

impl FittedCounts {
    /// "at strength 2500", "at 8".
    fn at(&self, one: &GroupOfCounts) -> String {
        if self.by.is_empty() {
            format!("at {}", one.group)
        } else {
            format!("at {} {}", self.by.replace('_', " "), one.group)
        }
    }
}

/// Lowest and highest mean, and that trays are not known.
pub(super) fn sentence(found: &FittedCounts) -> String {
    let name = capital(&found.name.replace('_', " "));
    let low = found.groups.iter().min_by(|a, b| a.value.total_cmp(&b.value));
    let high = found.groups.iter().max_by(|a, b| a.value.total_cmp(&b.value));
    let (Some(low), Some(high)) = (low, high) else { return String::new() };
    let apart = "limits too narrow where cuttings share trays";
    if found.groups.len() == 1 {
        return format!("{name} per cutting: {}; {apart}.", mean(low, true));
    }
    let said = |with: bool| {
        format!(
            "{name} per cutting: from {} {} to {} {}; {apart}.",
            mean(low, with),
            found.at(low),
            mean(high, with),
            found.at(high)
        )
    };
    if words(&said(true)) <= MOST_WORDS { said(true) } else { said(false) }
}

/// The rest, a fact a line.
pub(super) fn details(found: &FittedCounts) -> Vec<String> {
    let mut lines: Vec<String> = found.groups.iter().map(|one| of_group(found, one)).collect();
    lines.extend(found.effects.iter().map(|one| of_column(found, one)));
    lines.push(spread(found));
    lines.push(frequencies(found));
    lines.extend(laws(found));
    lines
}

fn of_group(found: &FittedCounts, one: &GroupOfCounts) -> String {
    let ends = |low: Option<f64>, high: Option<f64>, said: &dyn Fn(f64) -> String| {
        let both = low.zip(high);
        both.map(|(low, high)| format!(" ({})", interval(said(low), said(high), found.confidence))).unwrap_or_default()
    };
    let any = format!(
        "{} have any{}",
        percent(one.any),
        ends(one.any_low, one.any_high, &|x| percent(x).trim_end_matches(" %").to_owned())
    );
    let of_any = one.of_any.map_or_else(String::new, |value| {
        let said = |x: f64| amount(x, one.of_any_low.zip(one.of_any_high));
        format!(", and these have {} each{}", said(value), ends(one.of_any_low, one.of_any_high, &said))
    });
    let said = |x: f64| amount(x, limits(one));
    let open =
        if one.high.is_none() && one.low.is_some() { "; nothing tells how many more there might be" } else { "" };
    let all = format!("{}{}", said(one.value), ends(one.low, one.high, &said));
    let place = if found.groups.len() == 1 { "All".to_owned() } else { capital(&found.at(one)) };
    format!(
        "{place}: {all} {} per cutting; {any}{of_any}; {}{open}.",
        found.name.replace('_', " "),
        whole(one.n_cuttings, "cutting", "cuttings")
    )
}

fn of_column(found: &FittedCounts, one: &ColumnEffect) -> String {
    let column = one.column.replace('_', " ");
    let what = match (&one.level, &one.against) {
        (Some(level), Some(against)) => format!("{} {level} against {against}", capital(&column)),
        _ => format!("One more of {column}"),
    };
    let on = match one.on {
        EffectOn::Any => "the odds of any",
        EffectOn::AddedZero => "the odds of an added zero",
        EffectOn::Count => "the mean of the law",
    };
    let ends = one.low.zip(one.high);
    let ends = ends.map(|(low, high)| format!(" ({})", interval(number(low), number(high), found.confidence)));
    format!("{what} multiplies {on} by {}{}.", number(one.value), ends.unwrap_or_default())
}

fn spread(found: &FittedCounts) -> String {
    let of = match found.law.zeros() {
        Zeros::Truncated | Zeros::Apart => " (of the law before zeros are taken out)",
        Zeros::Plain | Zeros::Added => "",
    };
    match (found.law.is_wide(), found.spread > 0.0) {
        (true, true) => {
            format!("Counts vary more than chance alone: the variance is mean + {} x mean^2{of}.", number(found.spread))
        }
        (true, false) => "Counts vary no more than a Poisson law has them: no spread was found.".to_owned(),
        (false, _) => "A Poisson law has the variance as large as the mean".to_owned() + of + ".",
    }
}

/// How often small counts were met, and how often the law expects them.
fn frequencies(found: &FittedCounts) -> String {
    let sum = |at: usize| {
        let one = found.groups.iter();
        let observed: u64 = one.clone().filter_map(|group| group.observed.get(at)).sum();
        (observed, one.filter_map(|group| group.expected.get(at)).sum::<f64>())
    };
    let first = usize::from(found.law.zeros() == Zeros::Truncated);
    let last = (found.last_count as usize).min(first + TOLD - 1);
    let told: Vec<String> =
        (first..=last).map(|at| (at, sum(at))).map(|(at, (n, e))| format!("{n} times {at} ({e:.1})")).collect();
    format!(
        "Counted, and in brackets what the law expects of {}: {}.",
        whole(found.n_cuttings, "cutting", "cuttings"),
        join(&told)
    )
}

/// Which law describes the counts.
fn laws(found: &FittedCounts) -> Vec<String> {
    let known: Vec<(&LawBeside, f64)> =
        found.beside.iter().filter_map(|one| one.behind.map(|behind| (one, behind))).collect();
    let Some((best, _)) = known.first() else { return Vec::new() };
    let others: Vec<String> =
        known.iter().skip(1).map(|(one, behind)| format!("{} {behind:.1} behind", one.law.name())).collect();
    let mut lines = Vec::new();
    if !others.is_empty() {
        lines.push(format!(
            "By Akaike's criterion {} describes these counts best; {} (below {AS_WELL} is as well).",
            best.law.name(),
            join(&others)
        ));
    }
    let not = found.beside.iter().filter_map(|one| one.why.as_ref());
    lines.extend(not.map(|why| format!("{}.", capital(why))));
    lines
}

/// The law that describes the counts clearly better than the one asked for.
pub(super) fn better(found: &FittedCounts) -> Option<(LawOfCounts, f64)> {
    let best = found.beside.first()?;
    let own = found.beside.iter().find(|one| one.law == found.law)?.behind?;
    (own > AS_WELL).then_some((best.law, own))
}

/// For a reviewer to redo.
pub(super) fn methods(found: &FittedCounts) -> String {
    let name = &found.name.replace('_', " ");
    let of = match found.law.parts() {
        (crate::math::regression::counts::CountLaw::Poisson, _) => "a Poisson law",
        _ => "a negative binomial law",
    };
    let law = match found.law.zeros() {
        Zeros::Plain => format!("Counts of {name} were fitted by {of}"),
        Zeros::Truncated => format!("Counts of {name}, all 1 or more, were fitted by {of} truncated at zero"),
        Zeros::Apart => {
            format!(
                "Counts of {name} were fitted in two parts: any or none, and the number of those that have any by {of} truncated at zero"
            )
        }
        Zeros::Added => format!("Counts of {name} were fitted by {of} with zeros added, their share by a logit"),
    };
    let groups =
        if found.groups.len() > 1 { ", each group with a mean of its own and all with one spread" } else { "" };
    let columns = match found.over_all_rows {
        true => " Means are averages over all cuttings, each group given the columns and offsets of all.",
        false => "",
    };
    let by = if found.law.zeros() == Zeros::Apart && found.effects.is_empty() {
        "Shares have Wilson intervals; limits of the mean of those that have any are symmetric on the logarithm of what it has more than 1; limits of the mean of all are put together from both, since the two parts are independent given the groups (Zou and Donner)."
    } else {
        "Limits are by the delta method: of means on logarithms, of shares on log odds, of the mean of those that have any on the logarithm of what it has more than 1."
    };
    let t = match found.law.is_wide() {
        true => {
            " With a spread fitted, limits of means go by t on the cuttings behind it less the means fitted, and variances are raised by as much."
        }
        false => "",
    };
    format!(
        "{law}{groups}, by maximum likelihood; limits at {} count cuttings as independent.{columns} {by}{t} Laws were set beside each other by Akaike's criterion.",
        confidence(found.confidence)
    )
}
