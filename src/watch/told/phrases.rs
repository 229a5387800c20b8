//! Words that answers of a watched crop share.

use crate::answer::Note;
use crate::watch::baseline::Baseline;
use crate::watch::load::{shown_day, shown_week};

/// Batches below which a baseline is provisional.
pub(super) const PROVISIONAL: u64 = 150;

/// A search at least as striking in one crop in twenty without change is no decision.
pub(super) const DECIDES: f64 = 0.05;

/// A place as it stands in a sentence: "room 2", or "rack B of bench" where the level alone would not say.
pub(super) fn place(named: Option<(&str, &str)>) -> String {
    match named {
        None => "the crop as a whole".to_owned(),
        Some((grouping, level)) => {
            let says = level.to_lowercase().contains(&grouping.to_lowercase());
            if says { level.to_owned() } else { format!("{} {level}", grouping.replace('_', " ")) }
        }
    }
}

/// A difference of rates as trees per 100, whole where that says enough.
pub(super) fn trees(difference: f64) -> String {
    let points = 100.0 * difference.abs();
    if points >= 5.0 { format!("{points:.0}") } else { format!("{points:.1}") }
}

/// Weeks from one to another: "weeks 14 to 18 of 2026".
pub(super) fn weeks(first: i32, last: i32) -> String {
    let (one, two) = (shown_week(first), shown_week(last));
    if first == last {
        return one;
    }
    match (one.split_once(" of "), two.split_once(" of ")) {
        (Some((from, year)), Some((to, other))) if year == other => {
            format!("weeks {} to {} of {year}", from.trim_start_matches("week "), to.trim_start_matches("week "))
        }
        _ => format!("{one} to {two}"),
    }
}

/// Batches in words.
pub(super) fn batches(count: u64) -> String {
    if count == 1 { "1 batch".to_owned() } else { format!("{count} batches") }
}

/// So many of something: "1 chart", "4 charts".
pub(super) fn several(count: usize, one: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {one}s") }
}

/// The balance of trees against expectation since the baseline.
pub(super) fn balance(lost: f64) -> String {
    let count = lost.abs().round();
    let word = if lost < 0.0 { "more" } else { "fewer" };
    if count < 0.5 {
        "Since the baseline as many trees were alive as expected.".to_owned()
    } else if count < 1.5 {
        format!("Since the baseline 1 {word} tree was alive than expected.")
    } else {
        format!("Since the baseline {count:.0} {word} trees were alive than expected.")
    }
}

/// Cautions that follow from the baseline.
pub(super) fn baseline_notes(baseline: &Baseline) -> Vec<Note> {
    let mut notes = Vec::new();
    if baseline.n_batches < PROVISIONAL {
        let text = format!(
            "The baseline is provisional: it rests on {}, and {PROVISIONAL} or more make a firm one. What is expected is not well known yet, so limits are wide; make it again as batches come in.",
            batches(baseline.n_batches)
        );
        notes.push(Note::new("provisional_baseline", text));
    }
    if baseline.counts.1 == 0 || baseline.counts.1 == baseline.counts.0 {
        let what = if baseline.counts.1 == 0 { "No plant lived" } else { "No plant died" };
        let text =
            format!("{what} in the baseline, so how batches and weeks differ is not known and taken to be little.");
        notes.push(Note::new("layers_unknown", text));
    }
    if baseline.season_spread.is_none() {
        let text = format!(
            "The baseline holds {}, so nothing is known of how seasons differ: a season that is worse as a whole looks like a drop at its start. Three seasons or more would tell.",
            several(baseline.n_seasons as usize, "season")
        );
        notes.push(Note::new("seasons_unknown", text));
    }
    if !baseline.inseparable.is_empty() {
        let told: Vec<String> =
            baseline.inseparable.iter().map(|(grouping, level)| format!("{grouping} {level}")).collect();
        let text = format!(
            "{} cannot be told apart from what is beside it in every batch; what is expected of both together holds.",
            told.join(", ")
        );
        notes.push(Note::new("inseparable", text));
    }
    if baseline.least_correlation > 0.0 && baseline.spreads.batch <= baseline.least_correlation {
        let text = format!(
            "Set weeks hold thousands of plants in one place. Batches are taken to differ by {:.1} trees per 100 at least (a correlation of {:.4}): smaller differences than that cannot be told from those of weeks.",
            100.0 * (baseline.usual() * (1.0 - baseline.usual()) * baseline.least_correlation).sqrt(),
            baseline.least_correlation
        );
        notes.push(Note::new("very_large_batches", text));
    }
    if let Some(striking) = &baseline.striking {
        let text = format!(
            "The baseline itself seems to hold a drop, {striking}: what is usual is then set too low. Leave that stretch out, or end the baseline before it."
        );
        notes.push(Note::new("drop_within_baseline", text));
    }
    if !baseline.converged {
        let text = "The baseline did not settle: how batches and weeks differ is uncertain. Take in more batches.";
        notes.push(Note::new("not_settled", text));
    }
    notes
}

/// The stretch of a baseline.
pub(super) fn stretch(baseline: &Baseline) -> String {
    format!("from {} to {}", shown_day(baseline.days.0), shown_day(baseline.days.1))
}

/// What a signal is not, and what to look at.
pub(super) fn not_a_cause() -> Note {
    let text = "A signal is not a cause. Check the reading age, who read, the graft wood, the medium and hygiene before anything is changed.";
    Note::new("signal_not_cause", text)
}
