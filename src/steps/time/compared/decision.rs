//! What is decided of levels compared over time: the difference at the end leads, the pace comes second.

use super::numbers::{TimesCompared, TimesPair};
use crate::report::numbers::trees_out;
use crate::report::{Spoken, capital, fitted, limits_read};
use crate::steps::time::course::TimeEvent;

/// What is said, and of which treatment.
pub(super) struct Decision<'a> {
    pub(super) found: &'a TimesCompared,
    pub(super) said: &'a Spoken,
}

/// A pair seen from the level that is better: more rooted by the day, or fewer dead; the faster (slower dying) one where shares are alike.
struct Turned<'a> {
    pair: &'a TimesPair,
    better: String,
    worse: String,
    /// True where the second level is the better one.
    second: bool,
    /// What the better level has more of the rooted, or fewer of the dead, and limits.
    gain: f64,
    limits: Option<(f64, f64)>,
}

impl Turned<'_> {
    /// A ratio of the better level over the other, as it was found of the second over the first.
    fn ratio(&self, value: Option<f64>, low: Option<f64>, high: Option<f64>) -> Option<(f64, Option<(f64, f64)>)> {
        let over = |ratio: f64| if self.second { ratio } else { 1.0 / ratio };
        let ends = low.zip(high).map(|(low, high)| if self.second { (low, high) } else { (1.0 / high, 1.0 / low) });
        value.map(|value| (over(value), ends))
    }

    /// The rate of what is asked for, better level over the other, and limits.
    fn rate(&self) -> Option<(f64, Option<(f64, f64)>)> {
        self.ratio(self.pair.rate.value, self.pair.rate.low, self.pair.rate.high)
    }

    /// The same of what rules it out.
    fn other_rate(&self) -> Option<(f64, Option<(f64, f64)>)> {
        self.ratio(self.pair.other_rate.value, self.pair.other_rate.low, self.pair.other_rate.high)
    }

    /// What the better level has more of what rules it out: limits.
    fn other_limits(&self) -> Option<(f64, f64)> {
        let ends = self.pair.other.low.zip(self.pair.other.high);
        ends.map(|(low, high)| if self.second { (low, high) } else { (-high, -low) })
    }
}

/// Limits nearer to 0 than this are 0 to a reader of whole trees.
const ROUNDS_TO_NONE: f64 = 0.005;

/// "3 fewer to 12 more", "2 to 12 more".
fn read_out((low, high): (f64, f64)) -> String {
    let more = match (low > 0.0, high < 0.0) {
        (true, _) => " more",
        (_, true) => " fewer",
        _ => "",
    };
    format!("{}{more}", limits_read((low, high), trees_out))
}

/// True where no outcome of a pair could reach what is called shown, all pairs together.
pub(super) fn out_of_reach(found: &TimesCompared, pair: &TimesPair) -> bool {
    smallest_p(pair) * found.pairs.len() as f64 > 1.0 - found.confidence
}

/// The smallest P value that an outcome could have; where all trays have the same share in the end, that of paces.
pub(super) fn smallest_p(pair: &TimesPair) -> f64 {
    if pair.smallest_p < 1.0 { pair.smallest_p } else { pair.pace.smallest_p }
}

/// True where nothing but the first visit tells trays apart, and all had come to it then.
pub(super) fn all_at_once(pair: &TimesPair) -> bool {
    pair.share_first.min(pair.share_second) >= 1.0 && pair.rate.value.is_none() && pair.pace.p >= 1.0
}

/// A ratio as a decision says it.
fn times(ratio: f64) -> String {
    if ratio >= 9.95 { format!("{ratio:.0}") } else { format!("{ratio:.1}") }
}

/// ", at 1.4 times the rate (1.1 to 1.9)".
fn at_rate(rate: Option<(f64, Option<(f64, f64)>)>) -> String {
    let Some((value, ends)) = rate else { return String::new() };
    let ends = ends.map(|(low, high)| format!(" ({} to {})", times(low), times(high))).unwrap_or_default();
    format!(", at {} times the rate{ends}", times(value))
}

impl<'a> Decision<'a> {
    fn alpha(&self) -> f64 {
        1.0 - self.found.confidence
    }

    /// Shares differ by what trays dealt anew show.
    fn shown(&self, pair: &TimesPair) -> bool {
        pair.p_adjusted <= self.alpha()
    }

    /// Paces differ, by trays dealt anew and by the limits of their ratio. It is asked second, so half of what is allowed the shares is allowed it.
    fn pace_shown(&self, pair: &TimesPair) -> bool {
        let limits = pair.rate.low.zip(pair.rate.high);
        pair.pace.p_adjusted <= 0.5 * self.alpha() && limits.is_none_or(|(low, high)| low > 1.0 || high < 1.0)
    }

    fn of_deaths(&self) -> bool {
        self.found.event == TimeEvent::Dead
    }

    fn turned(&self, pair: &'a TimesPair) -> Turned<'a> {
        let ahead = if pair.value == 0.0 { pair.rate.value.map_or(0.0, f64::ln) } else { pair.value };
        let second = (ahead >= 0.0) != self.of_deaths();
        let (better, worse) = if second { (&pair.second, &pair.first) } else { (&pair.first, &pair.second) };
        // More rooted of the second is a gain of the second, more dead of the second one of the first.
        let up = second != self.of_deaths();
        let turn = |(low, high): (f64, f64)| if up { (low, high) } else { (-high, -low) };
        Turned {
            pair,
            better: self.said.level(better),
            worse: self.said.short(worse),
            second,
            gain: if up { pair.value } else { -pair.value },
            limits: pair.low.zip(pair.high).map(turn),
        }
    }

    /// The decision about the pair that matters most; how many others differ, as far as there is room.
    pub(super) fn sentence(&self) -> String {
        let order = |a: &&TimesPair, b: &&TimesPair| {
            a.p_adjusted.total_cmp(&b.p_adjusted).then(b.value.abs().total_cmp(&a.value.abs()))
        };
        let pairs = &self.found.pairs;
        let Some(pair) = pairs.iter().min_by(order) else { return "Nothing is compared.".to_owned() };
        let (lead, mut tails) = self.lead(&self.turned(pair));
        let others = pairs.iter().filter(|other| *other != pair && self.shown(other) == self.shown(pair)).count();
        if others > 0 {
            tails.push(if self.shown(pair) {
                format!("; {others} more differ")
            } else {
                format!("; nor for {others} more")
            });
        }
        fitted(&lead, &tails)
    }

    /// The decision about one pair, and what follows where there is room.
    fn lead(&self, turned: &Turned<'_>) -> (String, Vec<String>) {
        let (pair, better, worse) = (turned.pair, &turned.better, &turned.worse);
        let what = if self.of_deaths() { "dead" } else { "rooted" };
        if all_at_once(pair) {
            let told =
                format!("All {what} by the first visit at {better} and {worse}, so which is sooner cannot be told");
            return (told, vec!["; visit earlier next time".to_owned()]);
        }
        let Some((low, high)) = turned.limits else {
            let what = format!(
                "Too few trays to tell {better} from {worse}: a level in a single tray cannot be told from its tray"
            );
            return (what, vec!["; start four trays or more of each".to_owned()]);
        };
        if !self.found.trays {
            let told = self.more(turned, ", ", (low, high));
            return (format!("Without trays only a hint: {told}"), vec!["; limits are too narrow".to_owned()]);
        }
        match (self.shown(pair), low >= ROUNDS_TO_NONE) {
            (false, false) if self.pace_shown(pair) => (self.sooner(turned, (low, high)), Vec::new()),
            _ if out_of_reach(self.found, pair) => {
                let start = format!("Too few trays to tell {better} from {worse}");
                (self.open(turned, &start, (low, high)), vec!["; start more trays of each".to_owned()])
            }
            (true, true) => self.advice(turned, (low, high)),
            (false, false) => {
                let counted = if self.of_deaths() { "deaths" } else { "rooting" };
                let start = format!("No difference in {counted} shown between {better} and {worse}");
                (self.open(turned, &start, (low, high)), Vec::new())
            }
            _ => (format!("Borderline: {}", self.more(turned, " may have ", (low, high))), Vec::new()),
        }
    }

    /// "dip = yes: 12 more of 100 rooted by day 56 than no (3 to 21)", with what `joins` level and difference.
    fn more(&self, turned: &Turned<'_>, joins: &str, (low, high): (f64, f64)) -> String {
        let (better, worse, day) = (&turned.better, &turned.worse, turned.pair.day);
        let (gain, range) = (trees_out(turned.gain), limits_read((low, high), trees_out));
        let (more, what) = if self.of_deaths() { ("fewer", "dead") } else { ("more", "rooted") };
        format!("{better}{joins}{gain} {more} of 100 {what} by day {day} than {worse} ({range})")
    }

    /// What to do where shares differ, and why they do.
    fn advice(&self, turned: &Turned<'_>, (low, high): (f64, f64)) -> (String, Vec<String>) {
        let pair = turned.pair;
        let (day, better, worse) = (pair.day, &turned.better, &turned.worse);
        let (gain, range) = (trees_out(turned.gain), format!("({} to {})", trees_out(low), trees_out(high)));
        let faster = self.pace_shown(pair) && turned.rate().is_some_and(|(rate, _)| rate > 1.0);
        let (fewer, more) = turned.other_limits().map_or((false, false), |(low, high)| (high < 0.0, low > 0.0));
        if self.of_deaths() {
            let first = turned.other_rate().and_then(|rate| rate.1).is_some_and(|(low, _)| low > 1.0);
            let slower = self.pace_shown(pair) && turned.rate().is_some_and(|(rate, _)| rate < 1.0);
            let why = match (slower, first) {
                (false, true) => ", since more root before".to_owned(),
                _ => at_rate(turned.rate().map(|rate| (rate.0, None))),
            };
            let said = format!("Fewer die with {better}: {gain} fewer of 100 by day {day} than with {worse} {range}");
            return (said, vec![why]);
        }
        let by_deaths = fewer && !faster;
        if by_deaths && !turned.second {
            let (bad, good) = (self.said.level(&pair.second), self.said.short(&pair.first));
            let dead = format!(" ({} against {})", trees_out(pair.other.second), trees_out(pair.other.first));
            let said = format!("Do not use {bad}: {gain} fewer of 100 rooted by day {day} than {good} {range}");
            return (format!("{said}, since more die"), vec![dead]);
        }
        let mut tails = Vec::new();
        if by_deaths {
            tails.push(", since fewer die".to_owned());
        } else {
            tails.push(at_rate(turned.rate().map(|rate| (rate.0, None)).filter(|_| faster)));
            tails.extend(fewer.then(|| "; fewer die".to_owned()));
            tails.extend(more.then(|| "; more die as well".to_owned()));
        }
        (format!("Use {}", self.more(turned, ": ", (low, high))), tails)
    }

    /// Paces differ, shares by the day are not shown to.
    fn sooner(&self, turned: &Turned<'_>, limits: (f64, f64)) -> String {
        // The pace may be that of the other level.
        let rate = turned.rate();
        let ahead = rate.is_none_or(|(rate, _)| rate >= 1.0) != self.of_deaths();
        let pair = turned.pair;
        let own = if ahead { turned.second } else { !turned.second };
        let (one, two) = if own { (&pair.second, &pair.first) } else { (&pair.first, &pair.second) };
        let (one, two) = (capital(&self.said.level(one)), self.said.short(two));
        let turn = |(value, ends): (f64, Option<(f64, f64)>)| {
            if ahead { (value, ends) } else { (1.0 / value, ends.map(|(low, high)| (1.0 / high, 1.0 / low))) }
        };
        let rate = at_rate(rate.map(turn));
        let (low, high) = if ahead { limits } else { (-limits.1, -limits.0) };
        let (low, high) = if self.of_deaths() { (-high, -low) } else { (low, high) };
        let (does, what) = if self.of_deaths() { ("dies later", "dead") } else { ("roots sooner", "rooted") };
        format!(
            "{one} {does} than {two}{rate}; by day {} {} of 100 {what} remain possible",
            pair.day,
            read_out((low, high))
        )
    }

    /// What remains possible where nothing is shown, told of the level named first.
    fn open(&self, turned: &Turned<'_>, start: &str, (low, high): (f64, f64)) -> String {
        let (low, high) = if self.of_deaths() { (-high, -low) } else { (low, high) };
        let what = if self.of_deaths() { "dead" } else { "rooted" };
        let (day, range) = (turned.pair.day, read_out((low, high)));
        format!("{start}: by day {day} {range} of 100 {what} remain possible")
    }
}
