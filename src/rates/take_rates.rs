//! Take rates of a trial, by any of its columns, counted in trays where trays are recorded.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::choice::choice;
use crate::error::{ChoiceError, Result};
use crate::estimate::{Count, check_level};
use crate::rates::alike::more_alike;
use crate::rates::clustered::{Arm, TraySpread, tray_interval, tray_spread_of};
use crate::rates::interval::{IntervalMethod, interval};
use crate::rates::over_places::{OverPlaces, RateLayer};
use crate::report::cautions::Claims;
use crate::report::{MOST_WORDS, Spoken, capital, cautions, facts, join, numbers, references, whole, words};
use crate::trial::{
    Factor, Outcome, OutcomeWords, UnitKind, Units, follows_time, notes_of_units, text_of_units, time_note, time_tail,
    uneven_beside, uneven_season, unit_called, units_head, with_earlier,
};

/// Whether trays are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum TraysUse {
    /// Count trays where they are recorded.
    #[default]
    Auto,
    /// Treat cuttings as independent; the result is marked.
    Ignore,
}

choice!(
    TraysUse, "use of trays":
    Auto = "auto",
    Ignore = "ignore",
);

/// Options of [`take_rates`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct TakeRatesOptions {
    /// Confidence level, a proportion.
    pub confidence: f64,
    /// Interval for independent cuttings (pooled or with trays ignored); Wilson when not given.
    pub method: Option<IntervalMethod>,
    /// Whether trays are counted.
    pub trays: TraysUse,
    /// How the levels of a treatment are said; by the column's name where not given.
    pub spoken: Vec<Spoken>,
    /// What is counted.
    pub outcome: Outcome,
}

impl Default for TakeRatesOptions {
    fn default() -> Self {
        Self { confidence: 0.95, method: None, trays: TraysUse::Auto, spoken: Vec::new(), outcome: Outcome::Take }
    }
}

/// The take rate of one combination of levels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TakeRate {
    /// Levels, in the order of the columns asked for.
    pub levels: Vec<String>,
    /// Rooted of stuck, 0 to 1.
    pub value: f64,
    /// Lower limit, 0 to 1.
    pub low: f64,
    /// Upper limit, 0 to 1.
    pub high: f64,
    /// Cuttings rooted.
    pub rooted: u64,
    /// Cuttings stuck.
    pub stuck: u64,
    /// Trays (or pooled groups).
    pub n_units: u64,
    /// Standard error: that of a rate of the effective number of cuttings; none at 0 and 100 %, where it tells nothing.
    #[serde(default)]
    pub se: Option<f64>,
}

/// The standard error of a rate of so many cuttings that stand alone; none at 0 and 1.
pub(crate) fn standard_error(rate: f64, cuttings: f64) -> Option<f64> {
    Some((rate * (1.0 - rate) / cuttings).sqrt()).filter(|se| se.is_finite() && *se > 0.0)
}

/// Take rates and the spread between trays behind their intervals.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TakeRates {
    /// One rate per combination that has cuttings.
    pub rates: Vec<TakeRate>,
    /// Confidence level.
    pub confidence: f64,
    /// Interval used.
    pub method: String,
    /// Trays' spread, when trays were counted.
    pub spread: Option<TraySpread>,
    /// Places and plants over which the rates are to hold, where trays were counted and some are recorded.
    #[serde(default)]
    pub layers: Vec<RateLayer>,
    /// Degrees of freedom of each rate's interval, where trays were counted.
    #[serde(default)]
    pub df: Vec<f64>,
    /// What `n_units` counts: "tray", what the mother plants are called where these are the units, or "cutting" of pooled counts.
    #[serde(default)]
    pub unit: String,
}

/// Take rates by the levels of the columns named in `by` (all treatments when `by` is empty and treatments exist).
///
/// With trays: intervals on effective cuttings, the intraclass correlation pooled over all treatment combinations. Rates are to hold
/// over the seasons, blocks, whole plots and stock plants that are recorded, so trays of one place or plant are no independent
/// witnesses: each of these has a correlation of its own, and degrees of freedom are Satterthwaite's. A place named in `by` is asked for by
/// itself.
///
/// # Errors
/// A choice error for an unknown column or method, a count error for a level outside (0, 1).
pub fn take_rates(units: &Units, by: &[&str], options: &TakeRatesOptions) -> Result<Answer<TakeRates>> {
    let level = check_level(options.confidence)?;
    let factors: Vec<&Factor> = if by.is_empty() {
        units.treatments.iter().collect()
    } else {
        by.iter().map(|name| find(units, name)).collect::<Result<_>>()?
    };
    let all: Vec<usize> = (0..units.len()).collect();
    let counted = units.kind == UnitKind::Tray && options.trays == TraysUse::Auto;
    let spread = if counted {
        tray_spread_of(units, &arms(units, &all, &units.treatments.iter().collect::<Vec<_>>()))
    } else {
        None
    };
    let over = if spread.is_some() { OverPlaces::new(units, &places_among(units, &factors)) } else { None };
    let chosen: IntervalMethod = options.method.unwrap_or(IntervalMethod::Wilson);
    let (mut rates, mut df) = (Vec::new(), Vec::new());
    for (codes, members) in cells(units, &all, &factors) {
        let arm = arm_of(units, &members);
        let count = Count::new(arm.rooted.iter().sum(), arm.stuck.iter().sum())?;
        let ((low, high), effective) = match (&over, &spread) {
            (Some(over), _) => {
                let held = over.interval(&members, level)?;
                df.push(held.df);
                ((held.low, held.high), held.effective)
            }
            (None, Some(spread)) => {
                df.push(spread.df);
                (tray_interval(&arm, spread, level)?, spread.effective_cuttings(&arm))
            }
            (None, None) => (interval(count, chosen, level).map(|found| (found.low, found.high))?, count.stuck as f64),
        };
        let levels = factors
            .iter()
            .zip(&codes)
            .filter_map(|(factor, code)| factor.levels.get(*code as usize).cloned())
            .collect();
        rates.push(TakeRate {
            levels,
            value: count.rate(),
            low,
            high,
            rooted: count.rooted,
            stuck: count.stuck,
            n_units: members.len() as u64,
            se: standard_error(count.rate(), effective),
        });
    }
    let method =
        if spread.is_some() { "wilson on effective cuttings, t on trays".to_owned() } else { chosen.name().to_owned() };
    let layers = over.map(|over| over.layers()).unwrap_or_default();
    let unit = if units.kind == UnitKind::Tray { unit_called(units) } else { "cutting".to_owned() };
    let figures = TakeRates { rates, confidence: level, method, spread, layers, df, unit };
    let counted = figures.spread.is_some();
    let answer = answer(figures, &factors, units, options);
    Ok(if counted { with_earlier(answer, units) } else { answer })
}

/// The places and plants among the columns asked for.
fn places_among<'a>(units: &'a Units, factors: &[&Factor]) -> Vec<&'a Factor> {
    let recorded = [&units.season, &units.block, &units.whole_plot, &units.stock_plant].into_iter().flatten();
    recorded.filter(|place| factors.iter().any(|one| one.name == place.name)).collect()
}

fn find<'a>(units: &'a Units, name: &str) -> Result<&'a Factor> {
    units.factor(name).ok_or_else(|| {
        let known: Vec<&str> = units
            .treatments
            .iter()
            .chain(
                [&units.block, &units.whole_plot, &units.season, &units.stock_plant, &units.tray].into_iter().flatten(),
            )
            .map(|one| one.name.as_str())
            .collect();
        ChoiceError::new("column", name, &known).into()
    })
}

/// Units by combination of levels, in the order of the levels.
pub(crate) fn cells(units: &Units, members: &[usize], factors: &[&Factor]) -> BTreeMap<Vec<u32>, Vec<usize>> {
    let mut found: BTreeMap<Vec<u32>, Vec<usize>> = BTreeMap::new();
    for unit in members.iter().filter(|unit| units.stuck.get(**unit).is_some_and(|stuck| *stuck > 0)) {
        let codes = factors.iter().filter_map(|factor| factor.codes.get(*unit).copied()).collect();
        found.entry(codes).or_default().push(*unit);
    }
    found
}

pub(crate) fn arm_of(units: &Units, members: &[usize]) -> Arm {
    let (rooted, stuck) =
        members.iter().filter_map(|unit| units.count(*unit)).map(|count| (count.rooted, count.stuck)).unzip();
    Arm { rooted, stuck }
}

pub(crate) fn arms(units: &Units, members: &[usize], factors: &[&Factor]) -> Vec<Arm> {
    cells(units, members, factors).values().map(|members| arm_of(units, members)).collect()
}

fn answer(figures: TakeRates, factors: &[&Factor], units: &Units, options: &TakeRatesOptions) -> Answer<TakeRates> {
    let (rates, w) = (&figures.rates, options.outcome.words());
    let mut table = Sheet::default();
    for (at, factor) in factors.iter().enumerate() {
        table.level(&factor.name, rates.iter().map(|rate| rate.levels.get(at).cloned().unwrap_or_default()));
    }
    table.rate("value", rates.iter().map(|rate| rate.value));
    table.rate("low", rates.iter().map(|rate| rate.low));
    table.rate("high", rates.iter().map(|rate| rate.high));
    table.confidence("confidence", rates.iter().map(|_| figures.confidence));
    table.whole("rooted", rates.iter().map(|rate| rate.rooted)).headed(w.counted_head);
    table.whole("stuck", rates.iter().map(|rate| rate.stuck)).headed(w.stuck_head);
    if units.kind == UnitKind::Tray {
        table.whole("n_units", rates.iter().map(|rate| rate.n_units)).headed(units_head(&figures.unit));
    }
    if !figures.layers.is_empty() {
        table.degrees("df", figures.df.iter().copied());
    }
    let made_with = MadeWith::new(&[
        ("by", join(&factors.iter().map(|factor| factor.name.clone()).collect::<Vec<_>>())),
        ("confidence", figures.confidence.to_string()),
        ("method", figures.method.clone()),
        ("trays", format!("{:?}", options.trays).to_lowercase()),
    ]);
    Answer {
        kind: "take_rates".to_owned(),
        details: facts(&sentence(&figures, factors, units, options.outcome)),
        sentence: timed(decision(&figures, factors, units, options), factors, units),
        notes: notes_of_units(units, notes(&figures, factors, units, options)),
        methods: text_of_units(units, methods(&figures, options.outcome)),
        references: cited(&figures),
        table,
        numbers: figures,
        made_with,
    }
}

/// A decision that says where times were not dealt out.
fn timed(told: String, factors: &[&Factor], units: &Units) -> String {
    let treatment = |one: &&&Factor| units.treatments.iter().any(|known| known.name == one.name);
    let Some(time) = factors.iter().filter(treatment).find(|one| follows_time(units, one).is_some()) else {
        return told;
    };
    let bare = told.trim_end_matches('.');
    format!("{bare}{}.", time_tail(bare, Some(time.name.as_str()).filter(|_| factors.len() > 1)))
}

/// The decision line: the lowest and the highest take.
fn decision(figures: &TakeRates, factors: &[&Factor], units: &Units, options: &TakeRatesOptions) -> String {
    let said = |at: usize, level: &str| -> String {
        let name = factors.get(at).map(|factor| factor.name.as_str()).unwrap_or_default();
        let known = options.spoken.iter().find(|one| one.treatment == name);
        // A bare number says nothing of what it counts.
        let plain = || {
            let number = factors.len() > 1 && level.trim().parse::<f64>().is_ok();
            if number { format!("{} {level}", name.replace('_', " ")) } else { level.to_owned() }
        };
        known.filter(|one| one.is_strength()).map_or_else(plain, |one| one.level(level))
    };
    let trees = |x: f64| format!("{:.0}", (100.0 * x).round() + 0.0);
    let place = |rate: &TakeRate| {
        let levels: Vec<String> = rate.levels.iter().enumerate().map(|(at, level)| said(at, level)).collect();
        if levels.is_empty() { String::new() } else { format!(" at {}", levels.join(", ")) }
    };
    let one =
        |rate: &TakeRate| format!("{}{} ({} to {})", trees(rate.value), place(rate), trees(rate.low), trees(rate.high));
    let hint = match (units.kind, figures.spread) {
        (UnitKind::Tray, Some(_)) => "Of",
        _ => "Only a hint, intervals too narrow: of",
    };
    let known = || figures.rates.iter();
    let (low, high) =
        (known().min_by(|a, b| a.value.total_cmp(&b.value)), known().max_by(|a, b| a.value.total_cmp(&b.value)));
    let OutcomeWords { rooted, cuttings, .. } = options.outcome.words();
    match (figures.rates.as_slice(), low, high) {
        ([only], _, _) => format!("{hint} 100 {cuttings} {} {rooted}.", one(only)),
        (_, Some(low), Some(high)) => {
            let full = format!("{hint} 100 {cuttings}, from {} to {} {rooted}.", one(low), one(high));
            if words(&full) <= MOST_WORDS {
                return full;
            }
            // Where many treatments are named, limits stand in the details alone.
            let bare = |rate: &TakeRate| format!("{}{}", trees(rate.value), place(rate));
            format!("{hint} 100 {cuttings}, from {} to {} {rooted}.", bare(low), bare(high))
        }
        _ => format!("There are no {cuttings} to rate."),
    }
}

fn described(rate: &TakeRate, figures: &TakeRates) -> String {
    let name = if rate.levels.is_empty() { "the trial".to_owned() } else { rate.levels.join(" / ") };
    let limits = numbers::interval(numbers::percent(rate.low), numbers::percent(rate.high), figures.confidence);
    format!("{} at {name} ({limits})", numbers::percent(rate.value))
}

/// "3 treatments", "2 levels of season", "6 combinations of season and strength".
fn number_of(rates: usize, factors: &[&Factor], units: &Units) -> String {
    let treatment = |one: &&Factor| units.treatments.iter().any(|known| known.name == one.name);
    if factors.iter().all(treatment) {
        return whole(rates as u64, "treatment", "treatments");
    }
    let names = join(&factors.iter().map(|one| numbers::unit_in_full(&one.name)).collect::<Vec<_>>());
    let kind = if factors.len() > 1 { "combinations" } else { "levels" };
    format!("{rates} {kind} of {names}")
}

fn sentence(figures: &TakeRates, factors: &[&Factor], units: &Units, outcome: Outcome) -> String {
    let w = outcome.words();
    let start = match (units.kind, figures.spread) {
        (UnitKind::Pooled, _) => "No trays were recorded, so the intervals are too narrow. ",
        (UnitKind::Tray, None) => "Trays are not counted here, so the intervals are too narrow. ",
        (UnitKind::Tray, Some(_)) => "",
    };
    let highest = figures.rates.iter().max_by(|a, b| a.value.total_cmp(&b.value));
    let lowest = figures.rates.iter().min_by(|a, b| a.value.total_cmp(&b.value));
    let start = text_of_units(units, start.to_owned());
    match (figures.rates.as_slice(), lowest, highest) {
        ([only], _, _) => format!("{start}{} {}.", capital(w.rate), described(only, figures)),
        (many, Some(low), Some(high)) => format!(
            "{start}{} of {} run from {} to {}.",
            capital(w.rates),
            number_of(many.len(), factors, units),
            described(low, figures),
            described(high, figures)
        ),
        _ => format!("{start}No {} to rate.", w.cuttings),
    }
}

/// The note that the trays could hardly show how they differ, of takes.
pub(crate) fn few_events(spread: &TraySpread) -> Note {
    few_events_of(spread, Outcome::Take)
}

/// The same of any outcome.
pub(crate) fn few_events_of(spread: &TraySpread, outcome: Outcome) -> Note {
    let w = outcome.words();
    let text = format!(
        "Only {} of the rarer outcome ({}) in all treatments: trays can hardly show how they differ, so a correlation of {} within trays is assumed, from the planning value of 0.05.",
        whole(spread.events as u64, w.cutting, w.cuttings),
        w.either,
        numbers::number(spread.icc_floor)
    );
    Note::new("few_events", text)
}

fn notes(figures: &TakeRates, factors: &[&Factor], units: &Units, options: &TakeRatesOptions) -> Vec<Note> {
    let mut notes = single_places(figures, factors, units);
    let unused = options.method.filter(|_| figures.spread.is_some());
    notes.extend(unused.map(|method| cautions::method_unused(method.name())));
    let timed = factors.iter().filter(|one| units.treatments.iter().any(|known| known.name == one.name));
    notes.extend(timed.filter_map(|one| Some(time_note(&one.name, &follows_time(units, one)?))));
    match (units.kind, &figures.spread) {
        (UnitKind::Pooled, _) => notes.push(cautions::no_trays(Claims::Intervals)),
        (UnitKind::Tray, None) if figures.method.contains("effective") => {}
        (UnitKind::Tray, None) => notes.push(Note::new(
            "trays_ignored",
            "Trays are recorded but not counted (on request, or since no treatment has two trays): the intervals are too narrow.",
        )),
        (UnitKind::Tray, Some(spread)) => {
            if figures.rates.iter().any(|rate| rate.n_units < 4) {
                notes.push(cautions::few_trays());
            }
            if spread.few_events() {
                notes.push(few_events_of(spread, options.outcome));
            }
            notes.extend(more_alike("tray", spread.dispersion, spread.dispersion_df));
        }
    }
    if figures.rates.iter().any(|rate| rate.rooted == 0 || rate.rooted == rate.stuck) {
        let rooted = options.outcome.words().rooted;
        notes.push(Note::new(
            "extreme_rates",
            format!(
                "Some treatment is all {rooted} or none {rooted}; its interval is one-sided in effect and stays within 0 to 100 %."
            ),
        ));
    }
    notes.extend(uneven_mix(factors, units));
    notes
}

/// That rates of a treatment hold others, or seasons, in different shares, and which rates to print when.
pub(crate) fn uneven_mix(factors: &[&Factor], units: &Units) -> Option<Note> {
    let treatment = |one: &&&Factor| units.treatments.iter().any(|known| known.name == one.name);
    let by: Vec<&Factor> = factors.iter().filter(treatment).copied().collect();
    let all: Vec<usize> = (0..units.len()).collect();
    let beside = uneven_beside(&units.treatments, &by, &all).into_iter().chain(uneven_season(units, &by, &all));
    let beside: Vec<String> = beside.map(|one| one.name.replace('_', " ")).collect();
    if by.is_empty() || beside.is_empty() {
        return None;
    }
    let names: Vec<String> = by.iter().map(|one| one.name.replace('_', " ")).collect();
    let text = format!(
        "The levels of {} hold {} in different shares, so part of what parts these rates is the mix. Print them as what was counted; to \
         set levels beside each other print the model's adjusted rates, which compare like with like.",
        join(&names),
        join(&beside)
    );
    Some(Note::new("uneven_mix", text))
}

/// Levels that were in one place only: their intervals hold there.
fn single_places(figures: &TakeRates, factors: &[&Factor], units: &Units) -> Vec<Note> {
    let single = |factor: &&&Factor| {
        let place = units.unit_of(factor)?;
        (factor.constant_within(place) && place.constant_within(factor))
            .then_some((factor.name.clone(), place.name.clone()))
    };
    let note = |(factor, place): (String, String)| {
        let text = format!(
            "Each level of {factor} was in a single {place}: the intervals hold for that {place}, not for others."
        );
        Note::new("single_place", text)
    };
    if figures.spread.is_none() {
        Vec::new()
    } else {
        factors.iter().filter_map(|one| single(&one)).map(note).collect()
    }
}

/// The places that rates are to hold over, in a methods text.
fn places_in_words(figures: &TakeRates) -> String {
    let one = |layer: &RateLayer| {
        format!(
            "{} (correlation of its trays {}, {})",
            layer.name,
            numbers::number(layer.correlation),
            numbers::degrees_of_freedom(layer.df)
        )
    };
    let seen: Vec<String> = figures.layers.iter().filter(|layer| layer.df >= 0.5).map(one).collect();
    if seen.is_empty() {
        return String::new();
    }
    format!(
        " The rates are to hold over {}: the effective number of cuttings counts what trays of one level share, estimated by analysis of variance and not below 0, and each interval has the degrees of freedom of the mean squares it draws on, after Satterthwaite.",
        join(&seen)
    )
}

fn methods(figures: &TakeRates, outcome: Outcome) -> String {
    let (percent, w) = (numbers::confidence(figures.confidence), outcome.words());
    let (start, cuttings) = (format!("{} are {}.", capital(w.rates), w.ratio), w.cuttings);
    match &figures.spread {
        Some(_) if !figures.layers.is_empty() => format!(
            "{start} The {percent} intervals are Wilson intervals on the effective number of {cuttings}, with a correlation within trays estimated by analysis of variance within treatments, pooled over treatments, not below 0 and not below a planning value of 0.05 that fades as 2 / (2 + events) with the number of {cuttings} of the rarer outcome, and with a t quantile.{}",
            places_in_words(figures)
        ),
        Some(spread) => format!(
            "{start} The {percent} intervals are Wilson intervals on the effective number of {cuttings}, n / (1 + (m - 1) icc), with the intraclass correlation ({}) estimated by analysis of variance between trays within treatments, pooled over treatments, not below 0 and not below a planning value of 0.05 that fades as 2 / (2 + events) with the number of {cuttings} of the rarer outcome, and with the t quantile on {} (trays minus treatments).",
            numbers::number(spread.icc),
            numbers::degrees_of_freedom(spread.df)
        ),
        None => format!(
            "{start} The {percent} intervals ({}) treat {cuttings} as independent.",
            references::spoken(&figures.method)
        ),
    }
}

fn cited(figures: &TakeRates) -> Vec<String> {
    let cited: &[&str] = match figures.spread {
        Some(_) if !figures.layers.is_empty() => &[
            references::WILSON_1927,
            references::DONNER_KLAR_2000,
            references::KORN_GRAUBARD_1998,
            references::SATTERTHWAITE_1946,
        ],
        Some(_) => &[references::WILSON_1927, references::DONNER_KLAR_2000, references::KORN_GRAUBARD_1998],
        None => references::of_method(&figures.method),
    };
    cited.iter().map(|one| (*one).to_owned()).collect()
}
