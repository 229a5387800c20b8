//! Time to roots: do shares, medians, comparisons of trays and ratios of rates hold what they promise, and what does the plain test do?

use rootling::control::Control;
use rootling::math::rng::{self, ChaCha8Rng};
use rootling::simulate::replicates;
use rootling::steps::{
    CourseOptions, Ending, History, TimeEvent, TimesOptions, VisitCell, VisitColumns, VisitTray, Visits, log_rank,
};

/// A trial to be drawn: two levels, alike but for `ratio`, the rate of rooting of the second over the first.
#[derive(Clone, Copy)]
struct Trial {
    name: &'static str,
    trays: usize,
    plants: u64,
    /// Standard deviation of trays on the logarithm of the rate of rooting; of dying half of it.
    sd: f64,
    /// Rate of rooting a week, of a usual tray, in the first weeks and later.
    rooting: [f64; 2],
    /// Rate of dying a week.
    dying: f64,
    /// Days between visits; the first is two of them after setting.
    every: u64,
    /// The share of trays that are followed for half the time only.
    young: f64,
    /// Standard deviation of blocks; 0 without blocks.
    blocks: f64,
    /// Trays of either level in a block.
    per_block: usize,
    /// The share of visits that a tray misses.
    missed: f64,
    /// How single plants are read; all of a tray at each visit else.
    read: Read,
    /// False where nobody recorded trays.
    named: bool,
    /// The rate of rooting of the second level over that of the first, and of dying.
    ratio: f64,
    deadlier: f64,
}

/// How plants are read.
#[derive(Clone, Copy, PartialEq)]
enum Read {
    /// All at each visit of their tray.
    Together,
    /// Each misses this share of the visits.
    Gaps(f64),
    /// Each on so many days of its own.
    OwnDays(usize),
}

const USUAL: Trial = Trial {
    name: "",
    trays: 6,
    plants: 20,
    sd: 0.45,
    rooting: [0.08, 0.20],
    dying: 0.03,
    every: 7,
    young: 0.0,
    blocks: 0.0,
    per_block: 1,
    missed: 0.0,
    read: Read::Together,
    named: true,
    ratio: 1.0,
    deadlier: 1.0,
};
/// Plants of which nobody recorded trays, alike in luck.
const ALONE: Trial = Trial { named: false, sd: 0.0, ..USUAL };

fn trials() -> Vec<Trial> {
    vec![
        Trial { name: "4 trays of 20", trays: 4, ..USUAL },
        Trial { name: "6 trays of 20", ..USUAL },
        Trial { name: "12 trays of 20", trays: 12, ..USUAL },
        Trial { name: "6 trays of 50", plants: 50, ..USUAL },
        Trial { name: "6 trays of 20, trays alike", sd: 0.0, ..USUAL },
        Trial { name: "6 trays of 20, SD 0.8", sd: 0.8, ..USUAL },
        Trial { name: "6 trays of 20, many die", dying: 0.12, ..USUAL },
        Trial { name: "6 trays of 20, nobody dies", dying: 0.0, ..USUAL },
        Trial { name: "8 trays of 20, half of them young", trays: 8, young: 0.5, ..USUAL },
        Trial { name: "6 trays of 20, few root", rooting: [0.01, 0.02], ..USUAL },
        Trial { name: "6 trays of 20, most root", rooting: [0.3, 0.5], ..USUAL },
        Trial { name: "6 trays of 20, visits every 3 days", every: 3, ..USUAL },
        Trial { name: "6 trays of 20, a fifth of visits missed", missed: 0.2, ..USUAL },
        Trial { name: "6 trays of 20, plants miss a tenth of readings", read: Read::Gaps(0.1), ..USUAL },
        Trial { name: "6 trays of 20, plants miss three tenths", read: Read::Gaps(0.3), ..USUAL },
        Trial { name: "6 trays of 20, each plant on 5 days of its own", read: Read::OwnDays(5), every: 3, ..USUAL },
        Trial {
            name: "12 trays of 50, each plant on 5 days of its own",
            read: Read::OwnDays(5),
            every: 3,
            trays: 12,
            plants: 50,
            ..USUAL
        },
        Trial { name: "120 plants, no trays", ..ALONE },
        Trial { name: "120 plants, no trays, a tenth missed", read: Read::Gaps(0.1), ..ALONE },
        Trial { name: "120 plants, no trays, three tenths missed", read: Read::Gaps(0.3), ..ALONE },
        Trial { name: "120 plants, no trays, 5 days of their own", read: Read::OwnDays(5), every: 3, ..ALONE },
        Trial { name: "6 trays of 20, 3 wide visits", every: 21, ..USUAL },
        Trial { name: "8 blocks of a tray each, SD 0.5", trays: 8, blocks: 0.5, ..USUAL },
        Trial { name: "4 blocks of two trays each, SD 0.5", trays: 8, blocks: 0.5, per_block: 2, ..USUAL },
        Trial { name: "6 trays of 20, rates 1 to 1.7", ratio: 1.7, ..USUAL },
        Trial { name: "6 trays of 20, dying 1 to 5", deadlier: 5.0, ..USUAL },
        Trial { name: "6 trays of 20, dying 1 to 5, 3 wide visits", deadlier: 5.0, every: 21, ..USUAL },
    ]
}

impl Trial {
    fn days(&self) -> Vec<u64> {
        // The first is two of them after setting, but for wide ones.
        (if self.every < 14 { 2 } else { 1 }..=63 / self.every).map(|visit| visit * self.every).collect()
    }

    /// Rate of rooting of a usual tray from a day on.
    fn rate(&self, day: u64) -> f64 {
        if day < 21 { self.rooting[0] } else { self.rooting[1] }
    }

    /// Cumulative rates of rooting up to a time in weeks.
    fn cumulated(&self, weeks: f64) -> f64 {
        self.rooting[0] * weeks.min(3.0) + self.rooting[1] * (weeks - 3.0).max(0.0)
    }

    /// Plants of one tray of a side.
    fn tray(&self, side: usize, block: f64, days: &[u64], random: &mut ChaCha8Rng) -> Vec<History> {
        let luck = (self.sd * rng::deviate(random) + block).exp();
        let death = (0.5 * self.sd * rng::deviate(random)).exp() * if side == 1 { self.deadlier } else { 1.0 };
        let faster = if side == 1 { self.ratio } else { 1.0 };
        if self.read != Read::Together {
            return (0..self.plants).map(|_| self.plant(days, [luck * faster, death], random)).collect();
        }
        let until = if rng::uniform(random) < self.young { days.len() / 2 } else { days.len() };
        let (mut waiting, mut before, mut found) = (self.plants, 0, Vec::new());
        let (mut after, mut ends) = (0, [0; 2]);
        for (at, day) in days.iter().take(until).enumerate() {
            // Weeks on either side of day 21 have a rate of their own.
            let parts = [(before, (*day).min(21)), (before.max(21), *day)];
            for (from, to) in parts.into_iter().filter(|(from, to)| from < to) {
                let weeks = (to - from) as f64 / 7.0;
                let (root, die) = (weeks * self.rate(from) * luck * faster, weeks * self.dying * death);
                let all = rng::binomial(random, waiting, -(-(root + die)).exp_m1());
                let rooted = if all > 0 { rng::binomial(random, all, root / (root + die)) } else { 0 };
                ends = [ends[0] + rooted, ends[1] + all - rooted];
                waiting -= all;
            }
            before = *day;
            if at + 1 < until && rng::uniform(random) < self.missed {
                continue;
            }
            for (ending, count) in [Ending::Rooted, Ending::Dead].into_iter().zip(ends) {
                if count > 0 {
                    found.push(History { after, by: at + 1, ending, count: count as f64 });
                }
            }
            (after, ends) = (at + 1, [0; 2]);
        }
        if waiting > 0 {
            found.push(History { after: until, by: until, ending: Ending::Waiting, count: waiting as f64 });
        }
        found
    }

    /// One plant, read at visits of its own.
    fn plant(&self, days: &[u64], [luck, death]: [f64; 2], random: &mut ChaCha8Rng) -> History {
        let goal = -(-rng::uniform(random)).ln_1p();
        let [early, late] = self.rooting.map(|rate| rate * luck + self.dying * death);
        let weeks = if goal < 3.0 * early { goal / early } else { 3.0 + (goal - 3.0 * early) / late };
        let rooting = luck * self.rooting[usize::from(weeks >= 3.0)];
        let roots = rng::uniform(random) < rooting / (rooting + self.dying * death);
        let read: Vec<usize> = match self.read {
            Read::OwnDays(visits) => {
                let mut all: Vec<usize> = (1..=days.len()).collect();
                rng::deal(random, &mut all, visits);
                all.truncate(visits);
                all.sort_unstable();
                all
            }
            Read::Gaps(share) => (1..=days.len()).filter(|_| rng::uniform(random) >= share).collect(),
            Read::Together => (1..=days.len()).collect(),
        };
        let mut after = 0;
        for by in read {
            if days[by - 1] as f64 >= 7.0 * weeks {
                return History { after, by, ending: if roots { Ending::Rooted } else { Ending::Dead }, count: 1.0 };
            }
            after = by;
        }
        History { after, by: after, ending: Ending::Waiting, count: 1.0 }
    }

    fn drawn(&self, random: &mut ChaCha8Rng) -> Visits {
        let days = self.days();
        let mut trays = Vec::new();
        let blocks: Vec<f64> = (0..self.trays).map(|_| self.blocks * rng::deviate(random)).collect();
        for side in 0..2 {
            for at in 0..self.trays {
                let block = blocks[at / self.per_block];
                trays.push(VisitTray {
                    name: format!("{side}-{at}"),
                    levels: vec![side.to_string()],
                    block: if self.blocks > 0.0 { (at / self.per_block).to_string() } else { String::new() },
                    started: self.plants,
                    histories: self.tray(side, block, &days, random),
                });
            }
        }
        let columns = VisitColumns {
            treatments: vec!["level".to_owned()],
            levels: vec![vec!["0".to_owned(), "1".to_owned()]],
            trays: self.named,
            deaths: true,
        };
        Visits::new(days, trays, columns, vec![], vec![])
    }

    /// The true share of all plants to which `ending` has happened by a day, over trays.
    fn share(&self, side: usize, ending: Ending, day: f64) -> f64 {
        let faster = if side == 1 { self.ratio } else { 1.0 };
        let (mut sum, mut weights) = (0.0, 0.0);
        for one in -20..=20 {
            for two in -20..=20 {
                let (z, w) = (f64::from(one) / 4.0, f64::from(two) / 4.0);
                let weight = (-0.5 * (z * z + w * w)).exp();
                let sd = self.sd.hypot(self.blocks);
                let deadlier = if side == 1 { self.deadlier } else { 1.0 };
                let (luck, death) = ((sd * z).exp() * faster, (0.5 * self.sd * w).exp() * deadlier);
                // Rooted by each piece in which rates stay as they are.
                let (mut share, mut waiting) = (0.0, 1.0);
                for (from, to) in [(0.0, day.min(21.0)), (21.0, day)] {
                    if to <= from {
                        continue;
                    }
                    let rooting = (self.cumulated(to / 7.0) - self.cumulated(from / 7.0)) * luck;
                    let dying = (to - from) / 7.0 * self.dying * death;
                    let gone = -(-(rooting + dying)).exp_m1();
                    let part = if ending == Ending::Rooted { rooting } else { dying } / (rooting + dying);
                    share += waiting * gone * part;
                    waiting *= 1.0 - gone;
                }
                sum += weight * share;
                weights += weight;
            }
        }
        sum / weights
    }

    /// The day by which half are rooted; None where it is later than the last visit.
    fn half(&self, side: usize) -> Option<f64> {
        let last = *self.days().last().unwrap() as f64;
        if self.share(side, Ending::Rooted, last) < 0.5 {
            return None;
        }
        let (mut low, mut high) = (0.0, last);
        for _ in 0..40 {
            let middle = f64::midpoint(low, high);
            if self.share(side, Ending::Rooted, middle) < 0.5 { low = middle } else { high = middle }
        }
        Some(high)
    }
}

const COUNTED: [&str; 16] = [
    "dealt anew",
    "pace dealt anew",
    "said to differ",
    "model",
    "plain log-rank",
    "difference excludes 0",
    "rooted, middle day",
    "rooted, last day",
    "dead, last day",
    "half by",
    "difference",
    "difference of dead",
    "ratio",
    "ratio of dying",
    "dying: dealt anew",
    "known",
];

/// What is the truth of a trial.
struct Truth {
    middle: f64,
    last: f64,
    dead: f64,
    half: Option<f64>,
    difference: f64,
    deaths: f64,
}

fn truth(trial: &Trial) -> Truth {
    let days = trial.days();
    let (middle, last) = (days[days.len() / 2 - 1] as f64, *days.last().unwrap() as f64);
    let (first, dead) = (trial.share(0, Ending::Rooted, last), trial.share(0, Ending::Dead, last));
    Truth {
        middle: trial.share(0, Ending::Rooted, middle),
        last: first,
        dead,
        half: trial.half(0),
        difference: trial.share(1, Ending::Rooted, last) - first,
        deaths: trial.share(1, Ending::Dead, last) - dead,
    }
}

fn one(trial: &Trial, truth: &Truth, random: &mut ChaCha8Rng) -> [Option<bool>; 16] {
    let visits = trial.drawn(random);
    let control = Control::new();
    let options = TimesOptions { draws: 999, ..TimesOptions::default() };
    let Ok(compared) = visits.compare_times("level", &options, &control) else { return [None; 16] };
    let pair = &compared.numbers.pairs[0];
    let within =
        |value: f64, low: Option<f64>, high: Option<f64>| Some(low? <= value + 1e-12 && high? >= value - 1e-12);
    let course = CourseOptions { treatment: Some("level".to_owned()), ..CourseOptions::default() };
    let rooted = visits.over_time(&course, &control).unwrap().numbers;
    let dead = visits.over_time(&CourseOptions { event: TimeEvent::Dead, ..course }, &control).unwrap().numbers;
    let (rooted, dead) = (&rooted.levels[0], &dead.levels[0]);
    let days = visits.days();
    let middle = rooted.visits.get(days.len() / 2 - 1);
    let last = |level: &rootling::steps::LevelCourse| level.visits.get(days.len() - 1).copied();
    let half = truth.half.map(|day| {
        rooted.half.low.is_none_or(|low| (low as f64) < day) && rooted.half.high.is_none_or(|high| day <= high as f64)
    });
    let dying = TimesOptions { event: TimeEvent::Dead, ..options };
    let dying = visits.compare_times("level", &dying, &control).ok().map(|found| found.numbers.pairs[0].p <= 0.05);
    let at_end = pair.day == *days.last().unwrap();
    [
        Some(pair.p <= 0.05),
        Some(pair.pace.p <= 0.05),
        Some(
            !["No difference", "Too few", "Borderline", "Without"]
                .iter()
                .any(|start| compared.sentence.starts_with(start)),
        ),
        pair.rate.p.map(|p| p <= 0.05),
        Some(plain(&visits) <= 0.05),
        within(0.0, pair.low, pair.high).map(|held| !held),
        middle.and_then(|one| within(truth.middle, one.low, one.high)),
        last(rooted).and_then(|one| within(truth.last, one.low, one.high)),
        last(dead).and_then(|one| within(truth.dead, one.low, one.high)),
        half,
        if at_end { within(truth.difference, pair.low, pair.high) } else { None },
        if at_end { within(truth.deaths, pair.other.low, pair.other.high) } else { None },
        within(trial.ratio, pair.rate.low, pair.rate.high),
        within(trial.deadlier, pair.other_rate.low, pair.other_rate.high),
        dying,
        Some(pair.rate.low.is_some()),
    ]
}

/// The log-rank test that counts plants as if each stood alone.
fn plain(visits: &Visits) -> f64 {
    let mut tables = [vec![VisitCell::default(); visits.days().len()], vec![VisitCell::default(); visits.days().len()]];
    for row in visits.rows() {
        let at = visits.days().iter().position(|day| *day == row.day).unwrap();
        let cell = &mut tables[usize::from(row.levels[0] == "1")][at];
        cell.at_risk += row.at_risk;
        cell.rooted += row.rooted;
        cell.dead += row.dead;
    }
    log_rank(&[tables], Ending::Rooted).map_or(1.0, |found| found.p)
}

/// Shares of yes, of those that are known.
type Sums = [(u64, u64); 16];

pub(crate) fn times_hold(runs: u64) {
    println!("\n### Time to roots\n\n| trial | {} |\n|---|{}", COUNTED.join(" | "), "---|".repeat(COUNTED.len()));
    let mut missed = Vec::new();
    for trial in trials() {
        let truth = truth(&trial);
        // Days of their own make many visits, so that these take the time of all others.
        let runs = if matches!(trial.read, Read::OwnDays(_)) { runs / 5 } else { runs };
        let add = |sums: &mut Sums, found: [Option<bool>; 16]| {
            for (sum, one) in sums.iter_mut().zip(found) {
                if let Some(yes) = one {
                    *sum = (sum.0 + u64::from(yes), sum.1 + 1);
                }
            }
        };
        let draw = |random: &mut ChaCha8Rng| Ok(one(&trial, &truth, random));
        let found: Sums = replicates(runs, seed(), 0, &Control::new(), draw, add).unwrap();
        let share = |at: usize| found[at].0 as f64 / found[at].1.max(1) as f64;
        let told = |at: usize| if found[at].1 == 0 { "-".to_owned() } else { format!("{:.1}", 100.0 * share(at)) };
        println!("| {} | {} |", trial.name, (0..COUNTED.len()).map(told).collect::<Vec<_>>().join(" | "));
        missed.extend(misses(&trial, &found, share));
    }
    assert!(missed.is_empty(), "{}", missed.join("\n"));
}

/// The seed the rules were chosen on, or another: `ROOTLING_CALIBRATION_SEED`.
fn seed() -> u64 {
    std::env::var("ROOTLING_CALIBRATION_SEED").ok().and_then(|text| text.parse().ok()).unwrap_or(20_261_130)
}

/// What is not held: at most 6.5 % false alarms; limits that cover at least 93 %; three standard errors of the runs beside.
fn misses(trial: &Trial, found: &Sums, share: impl Fn(usize) -> f64) -> Vec<String> {
    let slack = |at: usize, p: f64| 3.0 * (p * (1.0 - p) / found[at].1.max(1) as f64).sqrt();
    let told = |at: usize| format!("{}: {} {:.3}", trial.name, COUNTED[at], share(at));
    if trial.sd > 0.45 {
        return Vec::new();
    }
    // A level that dies more roots at the same pace; what it has at the end differs.
    let alike = trial.ratio == 1.0 && trial.deadlier == 1.0;
    let alarms = [0, 1, 2, 3, 14].into_iter().filter(|at| alike && share(*at) > 0.065 + slack(*at, 0.065));
    let limits = (6..14).filter(|at| found[*at].1 > 0 && share(*at) < 0.93 - slack(*at, 0.07));
    alarms.chain(limits).map(told).collect()
}
