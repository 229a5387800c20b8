//! What a fitted model decides, in at most thirty words; the rest stands in the details.

use crate::effects::bounds::{self, Told};
use crate::effects::contrasts::{Contrast, Contrasts, Scale};
use crate::effects::numbers::{AdjustedRate, AdjustedRates, EffectTest, Letters, OddsRatio, OddsRatios, WhatMatters};
use crate::models::{Model, warning};
use crate::report::Spoken;
use crate::report::numbers::{join, number, p_value, points, trees_out};
use crate::report::{capital, fitted, limits_read, verb_for};
use crate::trial::{follows_time, time_tail};

/// Effects that are named one by one.
const NAMED: usize = 4;

/// Where trays do not count, nothing is more than a hint.
pub(crate) fn hint(model: &Model) -> &'static str {
    if warning(model).is_empty() { "" } else { "Only a hint, intervals are too narrow: " }
}

/// How the levels of an effect are said.
pub(crate) fn spoken(model: &Model, effect: &str) -> Spoken {
    let known = model.spec.spoken.clone().filter(|known| known.treatment == effect);
    known.unwrap_or_else(|| Spoken::plain(effect))
}

/// Whole trees per 100.
fn trees(x: f64) -> String {
    format!("{:.0}", (100.0 * x).round() + 0.0)
}

/// A comparison with unit and substance: "5000 mg/L IBA against 2500 mg/L" for "strength 5000 against 2500".
fn told(model: &Model, comparison: &str) -> String {
    let aware = model.spec.spoken.as_ref().and_then(|said| {
        let (second, rest) = comparison.strip_prefix(&format!("{} ", said.treatment))?.split_once(" against ")?;
        let (first, more) = rest.find(',').map_or((rest, ""), |at| rest.split_at(at));
        Some(format!("{} against {}{more}", said.level(second), said.short(first)))
    });
    aware.unwrap_or_else(|| comparison.replace('_', " "))
}

/// " with K17", " with dark days 21": a level that is a number alone says nothing without its name.
fn with_level(name: Option<&String>, level: Option<&String>) -> String {
    match (name, level) {
        (Some(name), Some(level)) if !level.contains(char::is_alphabetic) => {
            format!(" with {} {level}", name.replace('_', " "))
        }
        (_, Some(level)) => format!(" with {level}"),
        (_, None) => String::new(),
    }
}

/// "at most 19", "at least 81": what is known where none or all were counted, since the rate itself is a by-product of the penalty.
fn bounded(rate: &AdjustedRate) -> Option<String> {
    match (rate.rooted, rate.stuck) {
        (_, 0) => None,
        (0, _) => rate.high.map(at_most),
        (all, stuck) if all == stuck => rate.low.map(at_least),
        _ => None,
    }
}

/// "at most 19"; of 100 none can be more.
fn at_most(high: f64) -> String {
    if high < 1.0 { format!("at most {}", trees_out(high)) } else { "0 to 100".to_owned() }
}

/// "at least 81"; a rate that is not all is never said to be.
fn at_least(low: f64) -> String {
    match trees(low).as_str() {
        "0" => "0 to 100".to_owned(),
        "100" if low < 0.9995 => format!("at least {}", points(low)),
        "100" => "more than 99.9".to_owned(),
        whole => format!("at least {whole}"),
    }
}

/// Two significant digits.
fn rough(x: f64) -> String {
    if !(x.is_finite() && x > 0.0) {
        return number(x);
    }
    let unit = 10.0_f64.powf(x.log10().floor() - 1.0);
    number((x / unit).round() * unit)
}

fn start(model: &Model, text: &str) -> String {
    let hint = hint(model);
    if hint.is_empty() { capital(text) } else { format!("{hint}{text}") }
}

/// True where the levels of a treatment follow time.
fn is_timed(model: &Model, effect: &str) -> bool {
    let mut treatments = model.units.treatments.iter();
    treatments.any(|one| one.name == effect && follows_time(&model.units, one).is_some())
}

/// A sentence on one effect, which says where its times were not dealt out.
fn timed(model: &Model, effect: &str, text: String) -> String {
    if !is_timed(model, effect) {
        return text;
    }
    let bare = text.trim_end_matches('.');
    format!("{bare}{}.", time_tail(bare, None))
}

/// Which effects matter.
pub(crate) fn what_matters(model: &Model, figures: &WhatMatters) -> String {
    let (alpha, w) = (1.0 - model.spec.confidence, model.spec.outcome.words());
    let name = |row: &&EffectTest| row.effect.replace('_', " ");
    let matter: Vec<&EffectTest> = figures.effects.iter().filter(|row| row.p.is_some_and(|p| p < alpha)).collect();
    let together = matter.iter().find(|row| row.effect.contains(" x "));
    let inside =
        |row: &&EffectTest| together.is_some_and(|larger| larger.effect.split(" x ").any(|part| part == row.effect));
    let open: Vec<String> = figures
        .effects
        .iter()
        .filter(|row| row.p.is_some_and(|p| p >= alpha) && !inside(row))
        .map(|row| name(&row))
        .collect();
    let untested: Vec<String> = figures.effects.iter().filter(|row| row.p.is_none()).map(|row| name(&row)).collect();
    let mut parts = Vec::new();
    if let Some(row) = together {
        let names: Vec<String> = row.effect.split(" x ").map(|part| part.replace('_', " ")).collect();
        let (first, others) = names.split_first().map_or((String::new(), &[][..]), |(one, rest)| (one.clone(), rest));
        parts.push(format!(
            "{first} acts differently by {} ({}): read the rates within each",
            join(others),
            p_value(row.p.unwrap_or(f64::NAN))
        ));
    } else if let [only] = matter.as_slice() {
        let size = only.largest_difference.map_or_else(String::new, |size| {
            format!(": {} differ by up to {} {}", w.takes, trees(size), w.per_hundred)
        });
        let matters = verb_for(&only.effect, "matters", "matter");
        parts.push(format!("{} {matters} ({}){size}", name(only), p_value(only.p.unwrap_or(f64::NAN))));
    } else if !matter.is_empty() {
        parts.push(format!("{} matter", few(&matter.iter().map(name).collect::<Vec<_>>())));
    }
    if !open.is_empty() {
        let verb = if let [only] = open.as_slice() { verb_for(only, "is", "are") } else { "are" };
        parts.push(format!("{} {verb} not shown to matter", few(&open)));
    }
    if !untested.is_empty() {
        parts.push(format!("{} cannot be tested here", few(&untested)));
    }
    if parts.is_empty() {
        parts.push("there is no effect to test".to_owned());
    }
    let mut told = start(model, &parts.join("; "));
    let names: Vec<&str> = matter.iter().flat_map(|row| row.effect.split(" x ")).collect();
    if let Some(name) = names.iter().find(|name| is_timed(model, name)) {
        told += &time_tail(&told, Some(*name).filter(|_| names.len() > 1));
    }
    told + "."
}

fn few(names: &[String]) -> String {
    if names.len() <= NAMED { join(names) } else { format!("{} effects", names.len()) }
}

/// The lowest and the highest rate.
pub(crate) fn adjusted(model: &Model, figures: &AdjustedRates) -> String {
    let (said, w) = (spoken(model, &figures.by), model.spec.outcome.words());
    let known = || figures.rates.iter().filter(|rate| rate.value.is_some() && rate.n_units > 0);
    let value = |rate: &&AdjustedRate| rate.value.unwrap_or(0.0);
    let one = |rate: &AdjustedRate, long: bool| {
        let range = rate
            .low
            .zip(rate.high)
            .map_or_else(String::new, |(low, high)| format!(" ({} to {})", trees(low), trees(high)));
        let level = if long { said.level(&rate.by) } else { said.short(&rate.by) };
        let within = with_level(figures.within.as_ref(), rate.within.as_ref());
        let told = bounded(rate).unwrap_or_else(|| format!("{}{range}", trees(rate.value.unwrap_or(0.0))));
        format!("{told} at {level}{within}")
    };
    // Of equals the first, as in the details.
    let low = known().reduce(|a, b| if value(&b) < value(&a) { b } else { a });
    let high = known().reduce(|a, b| if value(&b) > value(&a) { b } else { a });
    let lead = match low.zip(high) {
        Some((low, high)) if !std::ptr::eq(low, high) => {
            format!("of 100 {} {} {}, {}", w.cuttings, one(low, true), w.root, one(high, false))
        }
        Some((only, _)) => format!("of 100 {} {} {}", w.cuttings, one(only, true), w.root),
        None => format!("these data give no {} of {}", w.rate, said.name()),
    };
    let told = timed(model, &figures.by, start(model, &lead));
    fitted(told.trim_end_matches('.'), &without_rate(&said, figures))
}

/// Levels whose rate would need combinations that were not tried.
fn without_rate(said: &Spoken, figures: &AdjustedRates) -> Vec<String> {
    let open = figures.rates.iter().filter(|rate| rate.value.is_none());
    let one = |rate: &AdjustedRate| {
        let within = with_level(figures.within.as_ref(), rate.within.as_ref());
        format!("{}{within}", said.short(&rate.by))
    };
    let names: Vec<String> = open.map(one).collect();
    if names.is_empty() || names.len() == figures.rates.len() {
        return Vec::new();
    }
    vec![format!("; no rate for {}", few_levels(&names))]
}

fn few_levels(names: &[String]) -> String {
    if names.len() <= NAMED { join(names) } else { format!("{} levels", names.len()) }
}

/// The odds ratio that says most.
pub(crate) fn odds(model: &Model, figures: &OddsRatios) -> String {
    let block = model.units.block.as_ref().map(|block| &block.name);
    let asked = |row: &&OddsRatio| {
        let effect = model.coefficient(&row.coefficient).and_then(|one| one.effect.as_ref());
        !(effect.is_some() && effect == block && effect.is_some_and(|name| !model.spec.names(name)))
    };
    let clearest = figures
        .ratios
        .iter()
        .filter(asked)
        .filter(|row| row.p.is_some())
        .min_by(|a, b| a.p.unwrap_or(1.0).total_cmp(&b.p.unwrap_or(1.0)));
    let Some(row) = clearest else { return start(model, "no odds ratio can be judged in this layout.") };
    let size = match bounds::of_ratio(row.low, row.high) {
        Told::Value => {
            let range = row.low.zip(row.high).map(|(low, high)| format!(" ({} to {})", rough(low), rough(high)));
            (rough(row.odds_ratio), range.unwrap_or_else(|| " (no limits)".to_owned()))
        }
        Told::Nothing => {
            let text = format!("odds ratios have no bound on either side for {}.", told(model, &row.comparison));
            return start(model, &text);
        }
        bound => (bounds::in_words(bound, rough).unwrap_or_default(), String::new()),
    };
    let shown = row.p.is_some_and(|p| p < 1.0 - figures.confidence);
    let lead = if shown { "clearest" } else { "no odds ratio is told from 1; the clearest" };
    let text = format!(
        "{lead}: odds of {} {} times as high for {}{}.",
        model.spec.outcome.words().rooting,
        size.0,
        told(model, &row.comparison),
        size.1
    );
    let effect = model.coefficient(&row.coefficient).and_then(|one| one.effect.clone());
    timed(model, &effect.filter(|_| shown).unwrap_or_default(), start(model, &text))
}

/// The contrasts that are shown, the largest by name.
pub(crate) fn contrasts(model: &Model, figures: &Contrasts) -> String {
    let per = model.spec.outcome.of_hundred();
    let rows = &figures.contrasts;
    let shown: Vec<&Contrast> = rows.iter().filter(|row| figures.shows(row)).collect();
    let parted = match rows.iter().filter(|row| figures.parts(row)).count() {
        0 => String::new(),
        1 => "; 1 is borderline, small P but limits across no difference".to_owned(),
        n => format!("; {n} are borderline, small P but limits across no difference"),
    };
    let family = figures.family();
    if figures.n_tests == 0 {
        let text = match rows.len() {
            1 => "this comparison cannot be tested in this layout; the estimate stands in the table.".to_owned(),
            _ => format!("none of {family} can be tested in this layout; the estimates stand in the table."),
        };
        return start(model, &text);
    }
    let size = |row: &&&Contrast| match figures.scale {
        Scale::Points => row.value.map_or(0.0, f64::abs),
        _ => row.value.map_or(0.0, |value| value.max(1e-300).ln().abs()),
    };
    let Some(largest) = shown.iter().max_by(|a, b| size(a).total_cmp(&size(b))) else {
        let most = rows.iter().filter_map(|row| row.not_ruled_out).max_by(f64::total_cmp);
        let most = most.filter(|_| figures.scale == Scale::Points);
        let open = most.map_or_else(String::new, |most| format!("; up to {} {per} remain possible", trees_out(most)));
        let none = if rows.len() == 1 {
            "no difference is shown".to_owned()
        } else {
            format!("none of {family} shows a difference")
        };
        return start(model, &format!("{none}{parted}{open}."));
    };
    let value = largest.value.unwrap_or(f64::NAN);
    let limits = largest.low.zip(largest.high);
    let words = match figures.scale {
        Scale::Points => {
            let range = limits.map_or_else(String::new, |limits| format!(" ({})", limits_read(limits, trees)));
            format!("{} {} {per}{range}", trees(value.abs()), if value < 0.0 { "fewer" } else { "more" })
        }
        _ => {
            let bound = bounds::in_words(bounds::of_ratio(largest.low, largest.high), rough);
            let range = limits.map_or_else(String::new, |(low, high)| format!(" ({} to {})", rough(low), rough(high)));
            let of = if figures.scale == Scale::Odds { "odds" } else { "rate" };
            bound.map_or_else(
                || format!("{} times the {of}{range}", rough(value)),
                |bound| format!("{bound} times the {of}"),
            )
        }
    };
    let within = with_level(figures.within.as_ref(), largest.within.as_ref());
    let text = if rows.len() == 1 {
        format!("a difference is shown, {}{within}: {words}.", told(model, &largest.comparison))
    } else {
        format!(
            "{} of {family} {} a difference; the largest, {}{within}: {words}{parted}.",
            shown.len(),
            if shown.len() == 1 { "shows" } else { "show" },
            told(model, &largest.comparison)
        )
    };
    timed(model, &figures.by, start(model, &text))
}

/// The highest level and those that share its letter.
pub(crate) fn letters(model: &Model, figures: &Letters) -> String {
    let said = spoken(model, &figures.by);
    let lettered = || figures.rates.iter().filter(|one| one.letters.is_some());
    let top = lettered().max_by(|a, b| a.rate.value.unwrap_or(0.0).total_cmp(&b.rate.value.unwrap_or(0.0)));
    let Some(top) = top else { return start(model, "no letters: these levels cannot be compared in this layout.") };
    let own: Vec<char> = top.letters.iter().flat_map(|letters| letters.chars()).collect();
    let alike: Vec<String> = lettered()
        .filter(|one| !std::ptr::eq(*one, top) && one.rate.within == top.rate.within)
        .filter(|one| one.letters.iter().flat_map(|letters| letters.chars()).any(|letter| own.contains(&letter)))
        .map(|one| said.short(&one.rate.by))
        .collect();
    let within = with_level(figures.within.as_ref(), top.rate.within.as_ref());
    let missing: Vec<String> = figures
        .rates
        .iter()
        .filter(|one| one.rate.value.is_none() && one.rate.within == top.rate.within)
        .map(|one| said.short(&one.rate.by))
        .collect();
    let (of_those, none) = match missing.len() {
        0 => ("highest", String::new()),
        _ => (
            "highest of those with a rate",
            format!("; {} {} none", join(&missing), if missing.len() == 1 { "has" } else { "have" }),
        ),
    };
    let rest = match alike.len() {
        0 => "no other level shares its letter".to_owned(),
        1..=NAMED => format!("not told apart from {}", join(&alike)),
        n => format!("not told apart from {n} others"),
    };
    // Letters say nothing across the levels of another treatment, and the sentence must not seem to.
    let rest = if within.is_empty() { rest } else { format!("{rest} there") };
    let text = format!(
        "{of_those}: {}{within}, {} of 100 {}; {rest}{none}.",
        said.level(&top.rate.by),
        bounded(&top.rate).unwrap_or_else(|| trees(top.rate.value.unwrap_or(0.0))),
        model.spec.outcome.counted()
    );
    timed(model, &figures.by, start(model, &text))
}
