//! Is a drop real, since when, where; or quiet, and what would have shown.

use serde::{Deserialize, Serialize};

use super::phrases::{baseline_notes, batches as batch_words, not_a_cause, place, stretch, trees, weeks as week_words};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::control::Control;
use crate::error::Result;
use crate::report::references_watch::{
    BROOK_EVANS_1972, COX_REID_1987, GANDY_KVALOY_2013, SIEGMUND_1988, STEINER_2000, ZHANG_WOODALL_2015,
};
use crate::report::{confidence as shown_confidence, fitted, p_value};
use crate::watch::after::{Alarms, Chain, Change, Form, GoesWith, Question, Search};
use crate::watch::baseline::Baseline;
use crate::watch::chart::{Charted, Charts, Quiet, Signal, SignalOptions, charted};
use crate::watch::crop::{Batch, monday_of, week_of};
use crate::watch::load::{shown_day, shown_week};
use crate::watch::watched::{Watch, at_step};

/// Charts, signals and what follows from them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SignalNumbers {
    /// Charts and signals.
    #[serde(flatten)]
    pub charted: Charted,
    /// After a signal: when, where, how much.
    pub change: Option<Change>,
    /// Without one: what would have shown.
    pub quiet: Option<Quiet>,
    /// Monday of the last week with readings.
    pub until: Option<i32>,
    /// Days from setting to reading.
    pub reading_age: Option<i32>,
}

/// Weeks for which a signal is news.
const NEWS: i32 = 26;
/// Draws for the set of weeks, the form and the places.
const INNER: u64 = 499;
/// A search at least as striking in one crop in twenty without change is no decision.
const DECIDES: f64 = 0.05;

impl Watch {
    /// Whether fewer survive than a baseline expects: charts with signals; after a signal since when, where and how much, else the drop that
    /// would have shown by now.
    ///
    /// # Errors
    /// [`WatchError`](crate::error::WatchError) for a drop or a promise that cannot be; an unknown column to chart.
    pub fn signals(
        &self,
        baseline: &Baseline,
        options: &SignalOptions,
        control: &Control,
    ) -> Result<Answer<SignalNumbers>> {
        let charts = charted(self.batches(), self.groupings(), baseline, options, control)?;
        let (_, later) = baseline.parted(self.batches());
        let until = later.iter().map(|batch| batch.read_week()).max();
        let searched = self.searched(baseline);
        let first = searched.iter().map(|batch| batch.read_week()).min().unwrap_or_default();
        let news = |signal: &&Signal| {
            let week = week_of(signal.monday);
            week >= first && until.is_some_and(|until| until - week < NEWS || baseline.n_seasons < 5)
        };
        let recent: Vec<&Signal> = charts.told.signals.iter().filter(news).collect();
        let again = |number: usize, batches: &[&Batch], alive: &[u64]| {
            recent.get(number).is_some_and(|signal| charts.would_signal(signal, monday_of(first), batches, alive))
        };
        let alarms = Alarms { weeks: recent.iter().map(|signal| week_of(signal.monday)).collect(), again: &again };
        let change = match recent.is_empty() {
            false => {
                let names = self.steps();
                let chain = Chain { names: &names, at_step };
                self.question(baseline, options).change(&alarms, &chain, control)?
            }
            true => None,
        };
        let signal = change.as_ref().and_then(|change| recent.get(change.signal? as usize)).or(recent.first()).copied();
        let quiet = if change.is_none() { charts.quiet(control)? } else { None };
        let signal = signal.cloned();
        Ok(self.told(baseline, options, charts, (signal, change, quiet), until))
    }

    /// Since when, where and how much, whether a chart signalled or not: what a look through all weeks and places finds, and how rarely chance
    /// shows as much. None where nothing was read since the baseline.
    ///
    /// # Errors
    /// Interrupted where the user asked to stop.
    pub fn change(&self, baseline: &Baseline, options: &SignalOptions, control: &Control) -> Result<Option<Change>> {
        let alarms = Alarms { weeks: Vec::new(), again: &|_, _, _| true };
        let names = self.steps();
        let chain = Chain { names: &names, at_step };
        self.question(baseline, options).change(&alarms, &chain, control)
    }

    fn question<'a>(&'a self, baseline: &'a Baseline, options: &SignalOptions) -> Question<'a> {
        let (batches, groupings) = (self.searched(baseline), self.groupings());
        Question { batches, groupings, baseline, search: search(options) }
    }

    /// Names of the steps that are counted.
    fn steps(&self) -> Vec<String> {
        self.options().steps.iter().map(|one| one.step.clone()).collect()
    }

    /// The batches that are looked through: with few seasons a season is looked at by itself.
    fn searched(&self, baseline: &Baseline) -> Vec<&Batch> {
        let (_, later) = baseline.parted(self.batches());
        if baseline.n_seasons >= 5 {
            return later;
        }
        let season = later.iter().map(|batch| batch.season).max();
        later.into_iter().filter(|batch| Some(batch.season) == season).collect()
    }

    fn told(
        &self,
        baseline: &Baseline,
        options: &SignalOptions,
        charts: Charts<'_>,
        (signal, change, quiet): (Option<Signal>, Option<Change>, Option<Quiet>),
        until: Option<i32>,
    ) -> Answer<SignalNumbers> {
        let charted = charts.told;
        let mut notes = baseline_notes(baseline);
        if change.is_some() {
            notes.push(not_a_cause());
        }
        notes.extend(unknown_note(&charted));
        notes.extend(self.notes().iter().cloned());
        let sentence = sentence(&charted, signal.as_ref(), change.as_ref(), quiet.as_ref());
        let mut details = details(&charted, signal.as_ref(), change.as_ref(), quiet.as_ref());
        details.push(format!(
            "The baseline is made of {} read {}.",
            batch_words(baseline.n_batches),
            stretch(baseline)
        ));
        let mut made_with = MadeWith::new(&[
            ("drop", options.drop.to_string()),
            ("weeks_between", options.weeks_between.to_string()),
            ("draws", options.draws.to_string()),
            ("confidence", options.confidence.to_string()),
            ("baseline", baseline.fingerprint.clone()),
        ]);
        made_with.seed = Some(options.seed);
        made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        let references = [STEINER_2000, ZHANG_WOODALL_2015, GANDY_KVALOY_2013, BROOK_EVANS_1972, COX_REID_1987];
        let mut references: Vec<String> = references.map(str::to_owned).to_vec();
        if change.is_some() {
            references.push(SIEGMUND_1988.to_owned());
        }
        Answer {
            kind: "signals".to_owned(),
            table: table(&charted),
            sentence,
            details,
            notes,
            methods: methods(&charted, baseline, change.is_some()),
            references,
            made_with,
            numbers: SignalNumbers {
                charted,
                change,
                quiet,
                until: until.map(monday_of),
                reading_age: self.reading_age(),
            },
        }
    }
}

fn search(options: &SignalOptions) -> Search {
    Search {
        draws: options.draws,
        inner_draws: INNER.min(options.draws),
        seed: options.seed,
        confidence: options.confidence,
    }
}

fn unknown_note(charted: &Charted) -> Option<Note> {
    let unknown = charted.without_expectation.len();
    (unknown > 0).then(|| {
        let text = format!(
            "Of {} nothing is expected, since the baseline never saw their cultivar, grafter or place; they are charted nowhere. Make a new baseline once enough of them were read.",
            batch_words(unknown as u64)
        );
        Note::new("no_expectation", text)
    })
}

fn named(of: Option<&(String, String)>) -> Option<(&str, &str)> {
    of.map(|(grouping, level)| (grouping.as_str(), level.as_str()))
}

fn capital(text: &str) -> String {
    crate::report::capital(text)
}

fn sentence(charted: &Charted, signal: Option<&Signal>, change: Option<&Change>, quiet: Option<&Quiet>) -> String {
    if let Some(change) = change {
        let where_ = place(named(change.place.as_ref()));
        let since = match change.form {
            Form::Drift => format!("a decline that began by {}", shown_week(change.weeks.1)),
            _ => format!("since {}", week_words(change.weeks.0, change.weeks.1)),
        };
        let size = trees(change.size);
        if change.p <= DECIDES {
            let lead = match change.form {
                Form::Drift => format!("{} loses {size} trees per 100, {since}", capital(&where_)),
                _ => format!("{} has lost {size} trees per 100 {since}", capital(&where_)),
            };
            let check = match change.place {
                Some(_) => "; check what is particular there first",
                None => "; check reading age, reader and graft wood first",
            };
            return fitted(&lead, &[check.to_owned()]);
        }
        let lead = format!(
            "Signal in {where_}, but chance alone shows as much in {} searches of 100",
            (100.0 * change.p).round()
        );
        return fitted(&lead, &["; keep watching before acting".to_owned()]);
    }
    if signal.is_some() {
        return "A signal came, but nothing is expected of the batches behind it.".to_owned();
    }
    if charted.charts.is_empty() {
        return "Nothing has been read since the baseline, so there is nothing to watch yet.".to_owned();
    }
    match quiet.and_then(|quiet| Some((quiet, quiet.drop?))) {
        Some((quiet, drop)) => {
            let lead = format!("Quiet: a drop of {} trees per 100 would have shown by now", trees(drop));
            fitted(&lead, &[format!(", had it come by {}", shown_week(quiet.since))])
        }
        None => "Quiet so far, but too little was read since the baseline for a drop to show.".to_owned(),
    }
}

fn details(charted: &Charted, signal: Option<&Signal>, change: Option<&Change>, quiet: Option<&Quiet>) -> Vec<String> {
    let mut lines = Vec::new();
    let rarely = format!(
        "Signals come by chance once in {:.0} weeks or more rarely, over all {} charts together.",
        charted.weeks_between,
        charted.charts.len()
    );
    if let Some((signal, change)) = signal.zip(change) {
        let chart = place(signal.grouping.as_deref().zip(signal.level.as_deref()));
        lines.push(format!("The signal came on {} in the chart of {chart}. {rarely}", shown_day(signal.monday)));
        lines.push(format!(
            "Looking through all weeks and places, chance shows as much with {} ({} draws).",
            p_value(change.p),
            change.draws
        ));
        lines.push(format!(
            "{} not ruled out as the first one set ({} confidence).",
            capital(&format!(
                "{} {}",
                week_words(change.weeks.0, change.weeks.1),
                if change.weeks.0 == change.weeks.1 { "is" } else { "are" }
            )),
            shown_confidence(change.confidence)
        ));
        let source = if change.size_from_later_batches {
            "from batches read after the signal"
        } else {
            "less what a search for the lowest adds"
        };
        lines.push(format!(
            "The loss is {} trees per 100 ({} to {}), {source}.",
            trees(change.size),
            trees(change.high.min(0.0)),
            trees(change.low)
        ));
        lines.push(match change.form {
            Form::Step => "It came from one week to the next, not little by little.".to_owned(),
            Form::Drift => "It came little by little, not from one week to the next.".to_owned(),
            Form::Open => "Whether it came at once or little by little cannot be told.".to_owned(),
        });
        lines.push(match change.goes_with {
            GoesWith::Setting => {
                "It goes with the week of setting: look at graft wood, grafting and medium.".to_owned()
            }
            GoesWith::Reading => {
                "It goes with the calendar week of reading: look at the place and at who read.".to_owned()
            }
            GoesWith::Open => "Whether it goes with the week of setting or of reading cannot be told.".to_owned(),
        });
        for one in change.places.iter().filter(|one| one.p <= DECIDES) {
            let name = place(Some((&one.grouping, &one.level)));
            lines.push(format!(
                "{} stands {} trees per 100 below the others ({}).",
                capital(&name),
                trees(one.beside_others),
                p_value(one.p)
            ));
        }
        lines.extend(step_lines(change));
    } else if let Some(quiet) = quiet {
        if quiet.drop.is_some() {
            let sure = (10.0 * quiet.sure).round();
            lines.push(format!(
                "Shown means {sure} times in 10, by the chart of all batches, over {} weeks with readings.",
                quiet.n_weeks
            ));
        }
        lines.push(rarely);
    }
    let lost = charted.charts.first().map(super::super::chart::Chart::lost);
    if let Some(lost) = lost {
        let word = if lost >= 0.0 { "fewer" } else { "more" };
        lines.push(format!("Since the baseline {:.0} {word} trees were alive than expected.", lost.abs()));
    }
    if signal.is_none() && !charted.signals.is_empty() {
        let told: Vec<String> = charted
            .signals
            .iter()
            .map(|one| {
                format!("{} in {}", shown_day(one.monday), place(one.grouping.as_deref().zip(one.level.as_deref())))
            })
            .collect();
        lines.push(format!("Earlier signals: {}.", told.join("; ")));
    }
    lines
}

/// Which steps of the chain carry it, where they were counted.
fn step_lines(change: &Change) -> Vec<String> {
    let (carrying, others): (Vec<_>, Vec<_>) = change.steps.iter().partition(|one| one.p <= DECIDES);
    let mut lines: Vec<String> = carrying
        .iter()
        .map(|one| {
            format!(
                "The step that carries it: {}, {} per 100 below what is usual ({}).",
                one.step,
                trees(one.change),
                p_value(one.p)
            )
        })
        .collect();
    if !others.is_empty() {
        let told: Vec<&str> = others.iter().map(|one| one.step.as_str()).collect();
        lines.push(format!("Not shown to be lower: {}.", told.join(", ")));
    }
    lines
}

fn table(charted: &Charted) -> Sheet {
    let charts = &charted.charts;
    let sum = |of: fn(&crate::watch::chart::ChartWeek) -> u64| -> Vec<u64> {
        charts.iter().map(|chart| chart.weeks.iter().map(of).sum()).collect()
    };
    let last = |of: fn(&crate::watch::chart::ChartWeek) -> f64| -> Vec<Option<f64>> {
        charts.iter().map(|chart| chart.weeks.last().map(of)).collect()
    };
    let first_signal = |chart: &crate::watch::chart::Chart| {
        chart.weeks.iter().rev().find(|week| week.signal).map_or_else(String::new, |week| shown_day(week.monday))
    };
    let name = |chart: &crate::watch::chart::Chart| {
        chart.level.clone().map_or_else(
            || "all batches".to_owned(),
            |level| place(Some((chart.grouping.as_deref().unwrap_or_default(), &level))),
        )
    };
    let (started, alive) = (sum(|week| week.started), sum(|week| week.alive));
    let rate = |values: Vec<f64>| -> Vec<Option<f64>> {
        values.iter().zip(&started).map(|(value, all)| (*all > 0).then(|| value / *all as f64)).collect()
    };
    let expected: Vec<f64> = charts.iter().map(|chart| chart.weeks.iter().map(|week| week.expected).sum()).collect();
    let mut sheet = Sheet::default();
    sheet
        .text("chart", charts.iter().map(name))
        .whole("batches", sum(|week| week.n_batches))
        .whole("started", started.clone());
    sheet.whole("alive", alive.clone());
    sheet.rate("value", rate(alive.iter().map(|one| *one as f64).collect())).headed("rate");
    sheet.rate("expected", rate(expected.clone()));
    sheet.count("lost", charts.iter().map(super::super::chart::Chart::lost)).headed("trees lost");
    sheet.statistic("sum", last(|week| week.sum)).statistic("limit", last(|week| week.limit));
    sheet.text("last_signal", charts.iter().map(first_signal)).headed("last signal");
    sheet
}

fn methods(charted: &Charted, baseline: &Baseline, searched: bool) -> String {
    let spreads = baseline.spreads;
    let mut text = format!(
        "Counts of batches were charted as cumulative sums of log likelihood ratios of beta-binomial laws for a fall from {:.1} to {:.1} % (odds ratio {:.2}), all batches read in a week together, with shifts shared by set weeks (standard deviation {:.2} on the logit scale, {:.2} within places) integrated out and a correlation of {:.3} within batches. What was expected came from a baseline of {} batches by levels{}, fitted by penalised likelihood, its layers by adjusted likelihood. Limits follow from the law of the sum given no signal, for one signal by chance in {:.0} weeks over {} charts, and for crops as far from the baseline as nine in ten estimates are.",
        100.0 * charted.usual,
        100.0 * (charted.usual - charted.drop),
        charted.odds_ratio,
        spreads.week.hypot(spreads.week_in_place),
        spreads.week_in_place,
        spreads.batch,
        baseline.n_batches,
        if baseline.has_wave() { " and a yearly wave" } else { "" },
        charted.weeks_between,
        charted.charts.len(),
    );
    if searched {
        text.push_str(" The week of the change was searched over all weeks and places; its P value, the set of weeks and the places rest on crops drawn from the baseline, as uncertain as it is, and the set of weeks on drawn crops whose chart signalled.");
    }
    text
}
