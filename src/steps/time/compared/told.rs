//! Levels compared over time, in words.

use super::asked::asked;
use super::numbers::{RateNumbers, TimesCompared, TimesOptions, TimesPair};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::control::Control;
use crate::error::Result;
use crate::report::cautions::{self, Claims};
use crate::report::numbers::{number, p_value, trees_out};
use crate::report::references::{FISHER_1935, HOLM_1979, PHIPSON_SMYTH_2010};
use crate::report::references_steps::{
    AALEN_JOHANSEN_1978, MANTEL_1966, PETO_PETO_1972, PRENTICE_GLOECKLER_1978, TUKEY_1958, ZOU_DONNER_2008,
};
use crate::report::{Spoken, capital, fitted, limits_read, points, whole};
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
        let told = Told { found: &found, said: Spoken::plain(treatment) };
        Ok(Answer {
            kind: "times_compared".to_owned(),
            sentence: told.sentence(),
            details: told.details(),
            notes: notes(&found, self),
            methods: methods(&found),
            references: references.into_iter().map(str::to_owned).collect(),
            table: table(&found),
            made_with,
            numbers: found,
        })
    }
}

/// What is said, and of which treatment.
struct Told<'a> {
    found: &'a TimesCompared,
    said: Spoken,
}

/// A pair seen from the level that is better (or sooner, where neither has more).
struct Turned<'a> {
    better: &'a str,
    worse: &'a str,
    /// Trees that the better one has more by the day, and limits.
    gain: f64,
    limits: Option<(f64, f64)>,
    /// Its rate over that of the other, and limits.
    rate: Option<f64>,
    rate_limits: Option<(f64, f64)>,
    /// The model shows what trays dealt anew show.
    agreed: bool,
}

impl Told<'_> {
    fn shown(&self, pair: &TimesPair) -> bool {
        pair.p_adjusted <= 1.0 - self.found.confidence
    }

    /// A pair turned so that the better level comes first: more rooted, or fewer dead.
    fn turned<'p>(&self, pair: &'p TimesPair) -> Turned<'p> {
        let good = self.found.event == TimeEvent::Rooted;
        // The rate says who is sooner; where it is not known, the share does.
        let ahead = pair.rate.value.map_or(pair.value, f64::ln);
        let second = if good { ahead >= 0.0 } else { ahead < 0.0 };
        // Figures are told of the level with more of the event.
        let up = ahead >= 0.0;
        let turn = |(low, high): (f64, f64)| if up { (low, high) } else { (-high, -low) };
        let over = |(low, high): (f64, f64)| if up { (low, high) } else { (1.0 / high, 1.0 / low) };
        Turned {
            better: if second { &pair.second } else { &pair.first },
            worse: if second { &pair.first } else { &pair.second },
            gain: if up { pair.value } else { -pair.value },
            limits: pair.low.zip(pair.high).map(turn),
            rate: pair.rate.value.map(|rate| if up { rate } else { 1.0 / rate }),
            rate_limits: pair.rate.low.zip(pair.rate.high).map(over),
            agreed: pair.rate.p.is_none_or(|p| p <= 1.0 - self.found.confidence),
        }
    }

    fn sentence(&self) -> String {
        let order = |a: &&TimesPair, b: &&TimesPair| {
            a.p_adjusted.total_cmp(&b.p_adjusted).then(b.value.abs().total_cmp(&a.value.abs()))
        };
        let Some(pair) = self.found.pairs.iter().min_by(order) else { return "Nothing is compared.".to_owned() };
        let tails: Vec<String> = if self.shown(pair) {
            let others = self.found.pairs.iter().filter(|other| self.shown(other) && *other != pair).count();
            (others > 0).then(|| format!("; {others} more differ")).into_iter().collect()
        } else {
            let others = self.found.pairs.len().saturating_sub(1);
            (others > 0).then(|| format!("; nor for {others} more")).into_iter().collect()
        };
        fitted(&self.lead(pair), &tails)
    }

    /// The decision about one pair.
    fn lead(&self, pair: &TimesPair) -> String {
        let turned = self.turned(pair);
        let (better, worse) = (self.said.level(turned.better), self.said.short(turned.worse));
        let (day, what) = (pair.day, happened(self.found.event));
        if !self.shown(pair) {
            return self.open(pair, &turned);
        }
        let rate = turned.rate.map(|rate| format!(", at {} times the rate", times(rate))).unwrap_or_default();
        let verb = if turned.agreed { "Use" } else { "Leaning to" };
        let more = if self.found.event == TimeEvent::Rooted { "more" } else { "fewer" };
        let apart = turned.limits.filter(|(low, high)| *low > 0.0 || *high < 0.0);
        match (apart, self.found.event) {
            (Some((low, high)), TimeEvent::Rooted) if low > 0.0 => format!(
                "{verb} {better}: {} {more} of 100 {what} by day {day} than {worse} ({} to {}){rate}",
                trees_out(turned.gain),
                trees_out(low),
                trees_out(high)
            ),
            (Some((low, high)), TimeEvent::Dead) if low > 0.0 => format!(
                "{verb} {better}: {} {more} of 100 {what} by day {day} than {worse} ({} to {})",
                trees_out(turned.gain),
                trees_out(low),
                trees_out(high)
            ),
            _ => {
                let sooner = if self.found.event == TimeEvent::Rooted { "roots sooner" } else { "dies later" };
                // The rate of dying is told of the level that dies less.
                let own = |rate: f64| if self.found.event == TimeEvent::Rooted { rate } else { 1.0 / rate };
                let rate = match (turned.rate, turned.rate_limits) {
                    (Some(rate), Some((low, high))) => {
                        let (one, two) = (own(low), own(high));
                        let (low, high) = (times(one.min(two)), times(one.max(two)));
                        format!(", {} times the rate ({low} to {high})", times(own(rate)))
                    }
                    _ => String::new(),
                };
                format!(
                    "{} {sooner} than {worse}{rate}; by day {day} shares differ too little to tell",
                    capital(&better)
                )
            }
        }
    }

    /// What is said of a pair of which no difference is shown.
    fn open(&self, pair: &TimesPair, turned: &Turned<'_>) -> String {
        let (better, worse) = (self.said.level(turned.better), self.said.short(turned.worse));
        let (day, what) = (pair.day, happened(self.found.event));
        let start = if out_of_reach(self.found, pair) {
            format!("Too few trays to tell {better} from {worse}")
        } else {
            format!("No difference in time shown between {better} and {worse}")
        };
        let Some((low, high)) = turned.limits else {
            return format!("{start}: by day {day} limits stand open");
        };
        if low > 0.0 && !out_of_reach(self.found, pair) {
            let more = if self.found.event == TimeEvent::Rooted { "more" } else { "fewer" };
            let (gain, low, high) = (trees_out(turned.gain), trees_out(low), trees_out(high));
            return format!(
                "Borderline: {better} may have {gain} {more} of 100 {what} by day {day} than {worse} ({low} to {high})"
            );
        }
        let more = match (low > 0.0, high < 0.0) {
            (true, _) => " more",
            (_, true) => " fewer",
            _ => "",
        };
        format!("{start}: by day {day} {}{more} of 100 {what} remain possible", limits_read((low, high), trees_out))
    }

    fn details(&self) -> Vec<String> {
        let what = happened(self.found.event);
        let mut lines = Vec::new();
        for pair in &self.found.pairs {
            let (first, second) = (self.said.level(&pair.first), self.said.level(&pair.second));
            let limits = pair.low.zip(pair.high).map(|(low, high)| format!(" ({} to {})", points(low), points(high)));
            lines.push(format!(
                "By day {} {} of 100 started with {second} are {what} and {} with {first}: a difference of {}{}.",
                pair.day,
                points(pair.share_second),
                points(pair.share_first),
                points(pair.value),
                limits.unwrap_or_else(|| ", of which trays are too few for limits".to_owned())
            ));
            let (own, other) = match self.found.event {
                TimeEvent::Rooted => ("rooting", "dying before roots"),
                TimeEvent::Dead => ("dying", "rooting"),
            };
            lines.push(rate_line(own, &second, &first, &pair.rate));
            lines.extend(pair.other_rate.value.map(|_| rate_line(other, &second, &first, &pair.other_rate)));
            lines.push(second_opinion(pair));
        }
        lines
    }
}

/// True where no outcome of a pair could reach what is called shown, all pairs together.
fn out_of_reach(found: &TimesCompared, pair: &TimesPair) -> bool {
    pair.smallest_p * found.pairs.len() as f64 > 1.0 - found.confidence
}

/// A ratio as a decision says it.
fn times(ratio: f64) -> String {
    if ratio >= 9.95 { format!("{ratio:.0}") } else { format!("{ratio:.1}") }
}

fn rate_line(of: &str, second: &str, first: &str, rate: &RateNumbers) -> String {
    let Some(value) = rate.value else {
        return format!(
            "Rates of {of} cannot be set against each other: one level shows none of it, or shows it at once in all."
        );
    };
    let limits = rate.low.zip(rate.high).map(|(low, high)| format!(" ({} to {})", number(low), number(high)));
    format!(
        "Of those still waiting, {second} has {} times the rate of {of} of {first}{}{}.",
        number(value),
        limits.unwrap_or_default(),
        rate.p.map(|p| format!(", {} by the model", p_value(p))).unwrap_or_default()
    )
}

/// What dealing trays anew says.
fn second_opinion(pair: &TimesPair) -> String {
    let Some(assignments) = pair.assignments else {
        return format!("Plants counted as if each stood alone: {}.", p_value(pair.p));
    };
    let ways = match pair.drawn {
        Some(drawn) => format!("{drawn} drawn ways"),
        None => format!("all {} ways", number(assignments)),
    };
    let within = if pair.n_strata > 1 { format!(" within {} places", pair.n_strata) } else { String::new() };
    format!("Over {ways} to deal the {} trays anew{within}: {}.", pair.n_first + pair.n_second, p_value(pair.p))
}

fn notes(found: &TimesCompared, visits: &Visits) -> Vec<Note> {
    let mut notes = visits.notes().to_vec();
    if !found.trays {
        notes.push(cautions::no_trays(Claims::Both));
    } else if found.pairs.iter().any(|pair| pair.n_first.min(pair.n_second) < 4) {
        notes.push(cautions::few_trays());
    }
    if let Some(pair) = found.pairs.iter().find(|pair| out_of_reach(found, pair)) {
        notes.push(Note::new(
            "p_out_of_reach",
            format!(
                "With these trays no outcome could give a P value below {}{}; more trays are needed for a claim.",
                number((pair.smallest_p * found.pairs.len() as f64).min(1.0)),
                if found.pairs.len() > 1 { ", all pairs together" } else { "" }
            ),
        ));
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
    notes.push(Note::new(
        "rates_proportional",
        "One ratio of rates stands for all visits. Where one level starts sooner and the other catches up it is an average; the figure of visits.over_time(...) shows that.",
    ));
    notes
}

fn methods(found: &TimesCompared) -> String {
    let event = happened(found.event);
    let test = if found.trays {
        "Each tray's score is what it shows more than the common pace of its place gives it (log-rank). The P value is from dealing trays to levels anew within places. Limits come from leaving out trays, or whole places where a level has a single tray in some. They go by t and are never narrower than those of plants alone."
    } else {
        "The P value is that of the log-rank test on plants. Limits of the ratio are those of the model."
    };
    let together = if found.pairs.len() > 1 { " P values of several pairs are adjusted by Holm's method." } else { "" };
    format!(
        "Shares {event} by a day are cumulative incidences, with limits of their difference by square and add. The ratio of rates is from conditional binomials between visits with a complementary log-log link (Prentice and Gloeckler). Plants to which the other happened leave those at risk. {test}{together}"
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
    table
}
