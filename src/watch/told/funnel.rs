//! Rooms or grafters side by side, in words.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::phrases::{baseline_notes, batches as batch_words, place, trees};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::error::{ChoiceError, Result, WatchError};
use crate::estimate::check_level;
use crate::report::references_watch::DER_SIMONIAN_LAIRD_1986;
use crate::report::{capital, confidence as shown_confidence, fitted, p_value, percent};
use crate::watch::baseline::{Baseline, Expectations};
use crate::watch::crop::{Batch, Part};
use crate::watch::funnel::{PlaceBeside, side_by_side};
use crate::watch::load::shown_day;
use crate::watch::watched::Watch;

/// Which units are set side by side, and from which batches.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PlacesOptions {
    /// The column whose levels are the units; None for the first place.
    pub column: Option<String>,
    /// First day of reading; None for the day after the baseline.
    pub since: Option<i32>,
    /// Last day of reading; None for the end.
    pub until: Option<i32>,
    /// Confidence of the limits, for all units together.
    pub confidence: f64,
}

impl Default for PlacesOptions {
    fn default() -> Self {
        Self { column: None, since: None, until: None, confidence: 0.95 }
    }
}

/// Units side by side.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PlaceNumbers {
    /// The column whose levels the units are.
    pub column: String,
    /// The units.
    pub places: Vec<PlaceBeside>,
    /// Confidence of the limits, for all units together.
    pub confidence: f64,
}

/// Units from which on the others tell how units differ without limits that are hardly ever passed.
const TELLING: usize = 5;
/// Units that the others of them have to be.
const LEAST: usize = 3;

impl Watch {
    /// Each room, or each grafter or cultivar, beside the others: its rate against what is expected of its mix, with limits from how the others
    /// differ from what is expected of them.
    ///
    /// # Errors
    /// A column that is none; no batch read in the stretch; a confidence that is none.
    ///
    /// ```
    /// use rootling::control::Control;
    /// use rootling::watch::{BaselineOptions, PlacesOptions, Watch, WeeklyDesign};
    /// let design = WeeklyDesign { batches: 12, places: vec![0.0, 0.1, -0.1, 0.2, 0.0], ..WeeklyDesign::default() };
    /// let watch = Watch::new(design.draw(1, 0), design.groupings());
    /// let baseline = watch.baseline(&BaselineOptions::default(), &Control::new())?;
    /// let found = watch.places(&baseline, &PlacesOptions::default())?;
    /// assert_eq!(found.numbers.column, "room");
    /// assert_eq!(found.numbers.places.len(), 5);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn places(&self, baseline: &Baseline, options: &PlacesOptions) -> Result<Answer<PlaceNumbers>> {
        baseline.check_crop(self.groupings(), self.reading_age())?;
        check_level(options.confidence)?;
        let at = self.column_of_units(options.column.as_deref())?;
        let column = self.groupings().get(at).map(|grouping| grouping.name.clone()).unwrap_or_default();
        let since = options.since.unwrap_or(baseline.days.1 + 1);
        let within = |batch: &&Batch| batch.read >= since && options.until.is_none_or(|until| batch.read <= until);
        let batches: Vec<&Batch> = self.batches().iter().filter(within).collect();
        let places = side_by_side(&batches, self.groupings(), baseline, at, options.confidence);
        if places.is_empty() {
            return Err(WatchError::NothingRead { side: "from", day: shown_day(since) }.into());
        }
        let mut made_with = MadeWith::new(&[
            ("column", column.clone()),
            ("since", shown_day(since)),
            ("confidence", options.confidence.to_string()),
            ("baseline", baseline.fingerprint.clone()),
        ]);
        made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        let numbers = PlaceNumbers { column, places, confidence: options.confidence };
        let mut notes = baseline_notes(baseline);
        notes.extend(few_note(&numbers));
        notes.extend(self.unjudged_note(&batches, baseline, at));
        Ok(Answer {
            kind: "places_watched".to_owned(),
            table: table(&numbers),
            sentence: sentence(&numbers),
            details: details(&numbers),
            notes,
            methods: "Each unit's counts were set against what the baseline expects of them, on the logit scale. The other units gave the centre and an additive spread between units by moments, the unit judged left out; limits hold for all units together, by the largest of such statistics in drawn units that differ as much.".to_owned(),
            references: vec![DER_SIMONIAN_LAIRD_1986.to_owned()],
            made_with,
            numbers,
        })
    }

    /// Batches of which nothing is expected, and the levels that have no others.
    fn unjudged_note(&self, batches: &[&Batch], baseline: &Baseline, at: usize) -> Option<Note> {
        let grouping = self.groupings().get(at)?;
        let expected = Expectations::of(baseline, self.groupings());
        let (judged, others): (Vec<&Batch>, Vec<&Batch>) =
            batches.iter().copied().partition(|batch| expected.logit(batch).is_some());
        let levels =
            |of: &[&Batch]| -> BTreeSet<u32> { of.iter().filter_map(|batch| batch.levels.get(at).copied()).collect() };
        let known = levels(&judged);
        let missing = levels(&others).into_iter().filter(|level| !known.contains(level));
        let named: Vec<String> = missing
            .filter_map(|level| Some(place(Some((&grouping.name, grouping.levels.get(level as usize)?)))))
            .collect();
        (!others.is_empty()).then(|| {
            let whole = if named.is_empty() { String::new() } else { format!("; {} stands nowhere here", named.join(" and ")) };
            let text = format!(
                "Of {} nothing is expected, since the baseline never saw their cultivar, grafter or place{whole}. Make a new baseline once enough of them were read.",
                batch_words(others.len() as u64)
            );
            Note::new("no_expectation", text)
        })
    }

    fn column_of_units(&self, named: Option<&str>) -> Result<usize> {
        let groupings = self.groupings();
        let found = match named {
            Some(named) => groupings.iter().position(|grouping| grouping.name == named),
            None => groupings.iter().position(|grouping| grouping.part == Part::Place),
        };
        let names: Vec<&str> = groupings.iter().map(|grouping| grouping.name.as_str()).collect();
        found.ok_or_else(|| ChoiceError::new("column to set side by side", named.unwrap_or("place"), &names).into())
    }
}

fn name(numbers: &PlaceNumbers, one: &PlaceBeside) -> String {
    place(Some((&numbers.column, &one.level)))
}

fn outside(numbers: &PlaceNumbers) -> Vec<&PlaceBeside> {
    let decides = 1.0 - numbers.confidence;
    let mut found: Vec<&PlaceBeside> =
        numbers.places.iter().filter(|one| one.p_adjusted.is_some_and(|p| p <= decides + 1e-12)).collect();
    found.sort_by(|a, b| a.statistic.unwrap_or(0.0).total_cmp(&b.statistic.unwrap_or(0.0)));
    found
}

fn gap(one: &PlaceBeside) -> String {
    let side = if one.value < one.expected { "fewer" } else { "more" };
    format!("{} {side} trees per 100 alive than expected", trees(one.value - one.expected))
}

fn sentence(numbers: &PlaceNumbers) -> String {
    let column = numbers.column.replace('_', " ");
    if numbers.places.len() < LEAST {
        return format!("With fewer than {LEAST} levels of {column} nothing tells how they differ anyway.");
    }
    match outside(numbers).first() {
        Some(one) => {
            let lead = format!("{} stands out: {}", capital(&name(numbers, one)), gap(one));
            fitted(&lead, &[", beyond what the others differ by".to_owned()])
        }
        None if numbers.places.len() < TELLING => {
            let lead =
                format!("{} levels of {column} are too few to tell whether one stands out", numbers.places.len());
            fitted(&lead, &["; signals judge each by itself".to_owned()])
        }
        None => {
            let lead = format!("No {column} stands out among {}", numbers.places.len());
            fitted(&lead, &[": each is as far from what is expected as the others make likely".to_owned()])
        }
    }
}

fn details(numbers: &PlaceNumbers) -> Vec<String> {
    let mut lines: Vec<String> = outside(numbers)
        .into_iter()
        .map(|one| {
            let p = one.p_adjusted.map_or_else(String::new, |p| format!(", {} for the farthest of all", p_value(p)));
            format!(
                "{}: {} alive where {} was expected, in {}{p}.",
                capital(&name(numbers, one)),
                percent(one.value),
                percent(one.expected),
                batch_words(one.n_batches)
            )
        })
        .collect();
    if numbers.places.iter().any(|one| one.low.is_some()) {
        lines.push(format!(
            "Limits hold for all together ({} confidence); how units differ is taken from all but the one judged.",
            shown_confidence(numbers.confidence)
        ));
    }
    lines.push("Each is set against its own usual rate: what has always been lower does not stand out.".to_owned());
    lines
}

fn few_note(numbers: &PlaceNumbers) -> Option<Note> {
    let count = numbers.places.len();
    (count < TELLING).then(|| {
        let text = format!(
            "{count} levels of {} tell little of how such levels differ: limits are wide, and only {TELLING} or more would show a moderate drop. Signals judge each by itself.",
            numbers.column.replace('_', " ")
        );
        Note::new("few_units", text)
    })
}

fn table(numbers: &PlaceNumbers) -> Sheet {
    let places = &numbers.places;
    let mut sheet = Sheet::default();
    sheet.level("level", places.iter().map(|one| one.level.clone())).headed(numbers.column.replace('_', " "));
    sheet.whole("batches", places.iter().map(|one| one.n_batches));
    sheet.whole("started", places.iter().map(|one| one.started)).whole("alive", places.iter().map(|one| one.alive));
    sheet.rate("value", places.iter().map(|one| one.value)).headed("rate");
    sheet.rate("expected", places.iter().map(|one| one.expected));
    sheet.difference("difference", places.iter().map(|one| one.value - one.expected));
    sheet.rate("low", places.iter().map(|one| one.low)).headed("lower limit");
    sheet.rate("high", places.iter().map(|one| one.high)).headed("upper limit");
    sheet.p("p_adjusted", places.iter().map(|one| one.p_adjusted)).headed("P, farthest of all");
    sheet
}
