//! Levels compared over time, in words.

use super::asked::asked;
use super::decision::{Decision, all_at_once, out_of_reach, smallest_p};
use super::numbers::{RateNumbers, TimesCompared, TimesOptions, TimesPair};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::control::Control;
use crate::error::Result;
use crate::report::cautions::{self, Claims};
use crate::report::numbers::{number, p_value};
use crate::report::references::{FISHER_1935, HOLM_1979, PHIPSON_SMYTH_2010};
use crate::report::references_steps::{
    AALEN_JOHANSEN_1978, MANTEL_1966, PETO_PETO_1972, PRENTICE_GLOECKLER_1978, TUKEY_1958, ZOU_DONNER_2008,
};
use crate::report::{Spoken, points, whole};
use crate::steps::time::course::{TimeEvent, happened};
use crate::steps::time::held::Visits;

impl Visits {
    /// Compares two levels of a treatment over time, or all with one: shares by a day, the ratio of rates, and whether trays dealt anew would
    /// differ as much.
    ///
    /// # Errors
    /// A choice error for a treatment or a level that is not there; [`StepsError`](crate::error::StepsError) where two levels never stand in
    /// one place, or nothing happened; [`crate::Error::Interrupted`] when stopped.
    ///
    /// ```
    /// use rootling::steps::{TimesOptions, VisitsOptions, read_visits};
    /// let text = b"tray,day,started,rooted,dip\na,14,20,3,no\na,28,20,8,no\nb,14,20,2,no\nb,28,20,9,no\nc,14,20,9,yes\nc,28,20,17,yes\nd,14,20,11,yes\nd,28,20,16,yes\n";
    /// let options = VisitsOptions::counts("tray", "day", "started", "rooted").with_treatments(&["dip"]);
    /// let visits = read_visits(text, &options)?;
    /// let found = visits.compare_times("dip", &TimesOptions::default(), &rootling::control::Control::new())?;
    /// assert_eq!(found.numbers.pairs[0].p, 2.0 / 6.0);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn compare_times(
        &self,
        treatment: &str,
        options: &TimesOptions,
        control: &Control,
    ) -> Result<Answer<TimesCompared>> {
        let found = asked(self, treatment, options, control)?;
        let drawn = found.pairs.iter().any(|pair| pair.drawn.is_some());
        let mut made_with = MadeWith::new(&[
            ("treatment", treatment.to_owned()),
            ("event", options.event.name().to_owned()),
            ("confidence", options.confidence.to_string()),
            ("draws", options.draws.to_string()),
        ]);
        made_with.seed = drawn.then_some(options.seed);
        made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        let mut references =
            vec![PRENTICE_GLOECKLER_1978, AALEN_JOHANSEN_1978, MANTEL_1966, PETO_PETO_1972, ZOU_DONNER_2008];
        references.extend(if found.trays { [FISHER_1935, PHIPSON_SMYTH_2010, TUKEY_1958].as_slice() } else { &[] });
        references.extend((found.pairs.len() > 1).then_some(HOLM_1979));
        let said = Spoken::plain(treatment);
        Ok(Answer {
            kind: "times_compared".to_owned(),
            sentence: Decision { found: &found, said: &said }.sentence(),
            details: details(&found, &said),
            notes: notes(&found, self),
            methods: methods(&found),
            references: references.into_iter().map(str::to_owned).collect(),
            table: table(&found),
            made_with,
            numbers: found,
        })
    }
}

/// Everything else, a fact a line: the difference at the end, deaths, how it is judged, then the pace.
fn details(found: &TimesCompared, said: &Spoken) -> Vec<String> {
    let (what, other) = match found.event {
        TimeEvent::Rooted => ("rooted", "dead"),
        TimeEvent::Dead => ("dead", "rooted"),
    };
    let mut lines = Vec::new();
    for pair in &found.pairs {
        let (first, second) = (said.level(&pair.first), said.level(&pair.second));
        let line = |what: &str, [one, two, gap]: [f64; 3], ends: Option<(f64, f64)>| {
            // Limits that leave out nothing are none.
            let told = ends.filter(|(low, high)| high - low < 2.0 - 1e-9);
            let limits = told.map(|(low, high)| format!(" ({} to {})", points(low), points(high)));
            format!(
                "By day {} {} of 100 started with {second} are {what} and {} with {first}: a difference of {}{}.",
                pair.day,
                points(two),
                points(one),
                points(gap),
                limits.unwrap_or_else(|| ", of which trays are too few for limits".to_owned())
            )
        };
        lines.push(line(what, [pair.share_first, pair.share_second, pair.value], pair.low.zip(pair.high)));
        lines.push(judged(pair));
        let beside = &pair.other;
        if beside.first > 0.0 || beside.second > 0.0 {
            lines.push(line(other, [beside.first, beside.second, beside.value], beside.low.zip(beside.high)));
        }
        let (own, others) = match found.event {
            TimeEvent::Rooted => ("rooting", "dying before roots"),
            TimeEvent::Dead => ("dying", "rooting"),
        };
        lines.push(rate_line(own, &second, &first, &pair.rate));
        lines.push(pace_judged(pair));
        lines.extend(pair.other_rate.value.map(|_| rate_line(others, &second, &first, &pair.other_rate)));
    }
    lines
}

fn rate_line(of: &str, second: &str, first: &str, rate: &RateNumbers) -> String {
    let Some(value) = rate.value else {
        return format!(
            "Rates of {of} cannot be set against each other: one level shows none of it, or shows it at once in all."
        );
    };
    let limits = rate.low.zip(rate.high).map(|(low, high)| format!(" ({} to {})", number(low), number(high)));
    format!(
        "Of those still waiting, {second} has {} times the rate of {of} of {first}{}.",
        number(value),
        limits.unwrap_or_default()
    )
}

/// How the difference is judged.
fn judged(pair: &TimesPair) -> String {
    let Some(assignments) = pair.assignments else {
        return format!("Plants counted as if each stood alone, that difference has {}.", p_value(pair.p));
    };
    let ways = match pair.drawn {
        Some(drawn) => format!("{drawn} drawn ways"),
        None => format!("all {} ways", number(assignments)),
    };
    let within = if pair.n_strata > 1 { format!(" within {} places", pair.n_strata) } else { String::new() };
    format!("Over {ways} to deal the {} trays anew{within}: {}.", pair.n_first + pair.n_second, p_value(pair.p))
}

/// How the pace is judged.
fn pace_judged(pair: &TimesPair) -> String {
    let how =
        if pair.assignments.is_some() { "trays dealt anew by their pace" } else { "plants counted by their pace" };
    format!("That one goes faster while they wait is a question of its own: {how} give {}.", p_value(pair.pace.p))
}

fn notes(found: &TimesCompared, visits: &Visits) -> Vec<Note> {
    let mut notes = visits.notes().to_vec();
    if !found.trays {
        notes.push(cautions::no_trays(Claims::Both));
    } else if found.pairs.iter().any(|pair| pair.n_first.min(pair.n_second) < 4) {
        notes.push(cautions::few_trays());
    }
    if let Some(pair) = found.pairs.iter().find(|pair| out_of_reach(found, pair)) {
        let text = if all_at_once(pair) {
            "All came to it by the first visit, so no dealing of trays can tell levels apart; earlier visits are needed, not more trays.".to_owned()
        } else {
            format!(
                "With these trays no outcome could give a P value below {}{}; more trays are needed for a claim.",
                number((smallest_p(pair) * found.pairs.len() as f64).min(1.0)),
                if found.pairs.len() > 1 { ", all pairs together" } else { "" }
            )
        };
        notes.push(Note::new("p_out_of_reach", text));
    }
    let left_out: u64 = found.pairs.iter().map(|pair| pair.n_left_out).max().unwrap_or_default();
    if left_out > 0 {
        notes.push(Note::new(
            "trays_left_out",
            format!(
                "{} where only one of two levels stands and {} out of that comparison.",
                whole(left_out, "tray stands", "trays stand"),
                if left_out == 1 { "is left" } else { "are left" }
            ),
        ));
    }
    if let Some((drawn, error)) = found.pairs.iter().find_map(|pair| pair.drawn.zip(pair.p_error)) {
        notes.push(cautions::drawn_assignments(drawn, error));
    }
    let both = found.pairs.iter().any(|pair| pair.rate.value.is_some() && pair.other.first + pair.other.second > 0.0);
    let wide = if both {
        " Between two visits roots and deaths are taken to keep their proportion: with three wide visits ratios of levels that differ much were up to 4 % off, with two up to 17 % (simulated)."
    } else {
        ""
    };
    notes.push(Note::new(
        "rates_proportional",
        format!(
            "One ratio of rates stands for all visits. Where one level starts sooner and the other catches up it is an average; the figure of visits.over_time(...) shows that.{wide}"
        ),
    ));
    notes
}

fn methods(found: &TimesCompared) -> String {
    let event = happened(found.event);
    let test = if found.trays {
        "The P value of the difference is from dealing trays to levels anew within places, by what each has more of the share than its place. That of the pace deals what each has more than the common pace (log-rank). Limits come from leaving out trays, or whole places where a level has a single tray in some. They go by t and are never narrower than those of plants alone."
    } else {
        "The P value of the difference is that of its score on plants, that of the pace the log-rank test on plants. Limits are those of plants; where visits were missed they come from leaving out parts of them, drawn by lot."
    };
    let together = if found.pairs.len() > 1 { " P values of several pairs are adjusted by Holm's method." } else { "" };
    format!(
        "Shares {event} by a day are cumulative incidences, with limits of their difference by square and add. Ratios of rates are from one trinomial of roots, deaths and waiting between two visits (grouped proportional rates, Prentice and Gloeckler). Plants to which one happened leave those at risk of the other. {test}{together}"
    )
}

fn table(found: &TimesCompared) -> Sheet {
    let rows = &found.pairs;
    let mut table = Sheet::default();
    table.level("first", rows.iter().map(|pair| pair.first.clone())).headed(format!("first {}", found.treatment));
    table.level("second", rows.iter().map(|pair| pair.second.clone())).headed(format!("second {}", found.treatment));
    table.whole("day", rows.iter().map(|pair| pair.day));
    table
        .difference("value", rows.iter().map(|pair| pair.value))
        .headed(format!("difference {}", happened(found.event)));
    table.difference("low", rows.iter().map(|pair| pair.low));
    table.difference("high", rows.iter().map(|pair| pair.high));
    table.ratio("rate", rows.iter().map(|pair| pair.rate.value)).headed("ratio of rates");
    table.ratio("rate_low", rows.iter().map(|pair| pair.rate.low)).headed("ratio, low");
    table.ratio("rate_high", rows.iter().map(|pair| pair.rate.high)).headed("ratio, high");
    table.p("p", rows.iter().map(|pair| pair.p));
    if rows.len() > 1 {
        table.p("p_adjusted", rows.iter().map(|pair| pair.p_adjusted));
    }
    let other = if found.event == TimeEvent::Rooted { "dead" } else { "rooted" };
    table.difference("other", rows.iter().map(|pair| pair.other.value)).headed(format!("difference {other}"));
    table.difference("other_low", rows.iter().map(|pair| pair.other.low)).headed(format!("{other}, low"));
    table.difference("other_high", rows.iter().map(|pair| pair.other.high)).headed(format!("{other}, high"));
    table
}
