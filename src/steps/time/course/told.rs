//! Shares over time in words.

use std::collections::BTreeSet;

use super::asked::{BLOCKS, asked};
use super::numbers::{CourseOptions, HalfBy, LevelCourse, TimeCourse, TimeEvent};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::control::Control;
use crate::error::Result;
use crate::report::cautions::{self, Claims};
use crate::report::references::{KORN_GRAUBARD_1998, WILSON_1927};
use crate::report::references_steps::{
    AALEN_JOHANSEN_1978, BROOKMEYER_CROWLEY_1982, KAPLAN_MEIER_1958, TUKEY_1958, TURNBULL_1976,
};
use crate::report::{Spoken, capital, fitted, points, whole};
use crate::steps::time::held::Visits;

impl Visits {
    /// The share of all started that has rooted by each visit, with deaths competing, and when half have.
    ///
    /// Deaths and rooting between two visits are one trinomial of those that were waiting; plants that are followed no further count until
    /// then. Trays are the units: limits are Wilson's on the plants that would say as much if each stood alone, from leaving out one tray
    /// after the other, by t on trays less one, never narrower than plants alone would have them.
    ///
    /// # Errors
    /// A choice error for a treatment that is not there; a count error for an impossible confidence; [`crate::Error::Interrupted`] when
    /// stopped.
    ///
    /// ```
    /// use rootling::control::Control;
    /// use rootling::steps::{CourseOptions, VisitsOptions, read_visits};
    /// let text = b"tray,day,started,rooted,dead\na,14,20,3,1\na,28,20,11,2\nb,14,20,2,0\nb,28,20,12,4\n";
    /// let options = VisitsOptions::counts("tray", "day", "started", "rooted").with_dead("dead");
    /// let found = read_visits(text, &options)?.over_time(&CourseOptions::default(), &Control::new())?;
    /// assert!(found.sentence.starts_with("Half of all started are rooted between day 14 and day 28"), "{}", found.sentence);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn over_time(&self, options: &CourseOptions, control: &Control) -> Result<Answer<TimeCourse>> {
        let found = asked(self, options, control)?;
        let mut made_with = MadeWith::new(&[
            ("treatment", options.treatment.clone().unwrap_or_default()),
            ("event", options.event.name().to_owned()),
            ("confidence", options.confidence.to_string()),
        ]);
        made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        let references = [
            AALEN_JOHANSEN_1978,
            KAPLAN_MEIER_1958,
            TURNBULL_1976,
            BROOKMEYER_CROWLEY_1982,
            WILSON_1927,
            KORN_GRAUBARD_1998,
            TUKEY_1958,
        ];
        Ok(Answer {
            kind: "time_course".to_owned(),
            sentence: sentence(&found),
            details: details(&found),
            notes: notes(&found, self),
            methods: methods(&found),
            references: references.map(str::to_owned).to_vec(),
            table: table(&found),
            made_with,
            numbers: found,
        })
    }
}

/// What has happened to plants: "rooted", "dead".
pub(in crate::steps::time) fn happened(event: TimeEvent) -> &'static str {
    event.name()
}

/// What is said of a level: "strength 5000", "all plants".
fn spoken(found: &TimeCourse, level: &LevelCourse) -> String {
    found.treatment.as_ref().map_or_else(|| "all plants".to_owned(), |name| Spoken::plain(name).level(&level.level))
}

/// Whole trees of 100.
fn trees(share: f64) -> String {
    format!("{:.0}", (100.0 * share).round() + 0.0)
}

/// "between day 28 and day 35"; None where it is less than half on the last day.
fn when(half: &HalfBy) -> Option<String> {
    let (after, by) = half.after.zip(half.by)?;
    Some(if after == 0 { format!("by day {by}") } else { format!("between day {after} and day {by}") })
}

/// "limits day 21 to 42"; None where nothing is known.
fn reach(half: &HalfBy) -> Option<String> {
    Some(match (half.low?, half.high) {
        (low, Some(high)) => format!("limits day {low} to {high}"),
        (low, None) => format!("not before day {low}, without an upper limit"),
    })
}

/// The level's last visit in words: "by day 63 62 of 100".
fn at_end(level: &LevelCourse) -> Option<(u64, f64)> {
    level.visits.last().map(|visit| (visit.day, visit.value))
}

fn sentence(found: &TimeCourse) -> String {
    let what = happened(found.event);
    let mut levels: Vec<&LevelCourse> = found.levels.iter().collect();
    // The soonest first; without a half the one with the most at the end.
    let order = |level: &LevelCourse| (level.half.by.unwrap_or(u64::MAX), -at_end(level).map_or(0.0, |end| end.1));
    levels.sort_by(|a, b| {
        let (a, b) = (order(a), order(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    let Some((first, rest)) = levels.split_first() else { return format!("No plant is {what}.") };
    let (day, share) = at_end(first).unwrap_or_default();
    if found.treatment.is_none() {
        let tail = format!("; by day {day} {} of 100 are", trees(share));
        return match when(&first.half) {
            Some(when) => {
                let limits = reach(&first.half).map(|limits| format!(" ({limits})")).unwrap_or_default();
                fitted(&format!("Half of all started are {what} {when}{limits}"), &[tail])
            }
            None => fitted(&format!("Less than half are {what} by day {day}: {} of 100", trees(share)), &[]),
        };
    }
    let said = |level: &LevelCourse, name: String, limits: bool| {
        let Some((day, share)) = at_end(level) else { return format!("{name}: seen at no visit after setting") };
        match (when(&level.half), reach(&level.half).filter(|_| limits)) {
            (Some(when), Some(limits)) => format!("{name}: half {what} {when} ({limits})"),
            (Some(when), None) => format!("{name}: half {what} {when}"),
            (None, _) => format!("{name}: less than half {what} by day {day} ({} of 100)", trees(share)),
        }
    };
    let lead = said(first, capital(&spoken(found, first)), true);
    let tail = rest.last().map(|last| format!("; {}", said(last, spoken(found, last), false)));
    fitted(&lead, &tail.into_iter().collect::<Vec<_>>())
}

fn details(found: &TimeCourse) -> Vec<String> {
    let (what, other) = match found.event {
        TimeEvent::Rooted => ("rooted", "dead"),
        TimeEvent::Dead => ("dead", "rooted"),
    };
    let mut lines = Vec::new();
    for level in &found.levels {
        let name = capital(&spoken(found, level));
        let trays = level.n_units.map(|trays| format!(" in {}", whole(trays, "tray", "trays"))).unwrap_or_default();
        let from = format!("from {}{trays}", whole(level.started, "plant", "plants"));
        let Some(end) = level.visits.last() else {
            lines.push(format!(
                "{name}: seen at no visit after setting, {from}, so nothing can be told of it; visit its trays."
            ));
            continue;
        };
        let limits = end.low.zip(end.high).map(|(low, high)| format!(" ({} to {})", points(low), points(high)));
        let others = if found.deaths || found.event == TimeEvent::Dead {
            format!(", {} {other} and {} waiting", points(end.other), points(end.waiting))
        } else {
            String::new()
        };
        lines.push(format!(
            "{name}: by day {} {} of 100 started {what}{}{others}, {from}.",
            end.day,
            points(end.value),
            limits.unwrap_or_default()
        ));
        lines.push(match (when(&level.half), reach(&level.half)) {
            (Some(when), Some(limits)) => format!("{name}: half {what} {when}; {limits}."),
            (Some(when), None) => format!("{name}: half {what} {when}; too few trays for limits."),
            (None, limits) => {
                let limits = limits.map(|limits| format!("; half {limits}")).unwrap_or_default();
                format!("{name}: less than half {what} by day {}{limits}.", end.day)
            }
        });
        if found.event == TimeEvent::Rooted && level.if_others_waited - end.value >= 0.01 {
            lines.push(format!(
                "{name}: were the {other} taken to wait on like the others, it would say {} of 100 {what}, more than are.",
                points(level.if_others_waited)
            ));
        }
    }
    lines
}

fn notes(found: &TimeCourse, visits: &Visits) -> Vec<Note> {
    let mut notes = visits.notes().to_vec();
    if !visits.columns().trays {
        notes.push(cautions::no_trays(Claims::Intervals));
    } else if found.levels.iter().any(|level| level.n_units.is_some_and(|trays| trays < 4)) {
        notes.push(cautions::few_trays());
    }
    if found.levels.iter().flat_map(|level| &level.visits).any(|visit| visit.low.is_none()) {
        notes.push(Note::new(
            "one_tray",
            "Where fewer than two trays of a level are followed nothing is known of how trays differ, so limits stand open.",
        ));
    }
    let blocks: BTreeSet<&str> = visits.trays().iter().map(|tray| tray.block.as_str()).collect();
    if (2..BLOCKS).contains(&blocks.len()) {
        notes.push(Note::new(
            "few_blocks",
            "With fewer than four blocks limits hold for these blocks: how further blocks would differ is not in them.",
        ));
    }
    notes.push(Note::new(
        "between_visits",
        format!(
            "Nobody saw the day itself: a plant {} between the visit at which it was seen and the one before, so times are told between visits.",
            if found.event == TimeEvent::Rooted { "rooted" } else { "died" }
        ),
    ));
    notes
}

fn methods(found: &TimeCourse) -> String {
    let limits = if found.levels.iter().any(|level| level.n_units.is_some()) {
        "Limits are Wilson's on effective plants, from leaving out one tray after the other (one block of four or more), by t on their number less one. They are never narrower than those of plants that stand alone."
    } else {
        "Limits are Wilson's on the plants that would say as much were all followed to the end. Where visits were missed they come from leaving out parts of the plants, drawn by lot."
    };
    format!(
        "Shares of all started are cumulative incidences (Aalen and Johansen). Deaths and rooting between two visits are one trinomial of the plants that were waiting. Plants followed no further count until then. Ends over missed visits are shared out by self-consistency (Turnbull). {limits} Limits of the time by which half have come to it hold every pair of visits at which the limits of the share hold a half."
    )
}

fn table(found: &TimeCourse) -> Sheet {
    let rows = || found.levels.iter().flat_map(|level| level.visits.iter().map(move |visit| (level, visit)));
    let (what, other) = match found.event {
        TimeEvent::Rooted => ("rooted so far", "dead so far"),
        TimeEvent::Dead => ("dead so far", "rooted so far"),
    };
    let mut table = Sheet::default();
    if let Some(treatment) = &found.treatment {
        table.level(treatment, rows().map(|(level, _)| level.level.clone()));
    }
    table.whole("day", rows().map(|(_, visit)| visit.day));
    table.count("at_risk", rows().map(|(_, visit)| visit.at_risk)).headed("waiting before");
    table.rate("value", rows().map(|(_, visit)| visit.value)).headed(what);
    table.rate("low", rows().map(|(_, visit)| visit.low));
    table.rate("high", rows().map(|(_, visit)| visit.high));
    if found.deaths || found.event == TimeEvent::Dead {
        table.rate("other", rows().map(|(_, visit)| visit.other)).headed(other);
    }
    table.rate("waiting", rows().map(|(_, visit)| visit.waiting)).headed("still waiting");
    table
}
