//! A crop under watch: charts as quiet as promised although the baseline is an estimate, a search over weeks and places that finds nothing
//! where nothing changed, sets of weeks that hold the true one.

use rootling::control::Control;
use rootling::math::rng;
use rootling::math::special::{expit, logit};
use rootling::watch::{
    BaselineOptions, BatchSpread, DateScores, Drop, Expectations, Expected, Law, Look, Running, SignalOptions, Truth,
    Watch, WeeklyDesign, change_of, guarded, limit_for, run_length,
};

use crate::summary::Figures;

/// Weeks that were promised between signals.
const WANTED: f64 = 104.0;

/// A chart of one place with a baseline of so many batches.
#[derive(Debug, Clone)]
struct Quiet {
    base: u32,
    correlation: f64,
    week: f64,
    rate: f64,
}

const PER_WEEK: u32 = 5;
const STARTED: u64 = 15;

/// A chart that a drawn baseline sets up, and the crop it is set up for.
struct Chart {
    scores: DateScores,
    limits: Vec<i64>,
    drop: f64,
    seed: u64,
}

/// Draws a baseline and sets its chart up; None where its rate leaves no room for the drop.
fn chart(case: &Quiet, drop: f64, random: &mut rng::ChaCha8Rng) -> Option<Chart> {
    let control = Control::new();
    let seed = u64::from(rng::below(random, u32::MAX));
    let design = WeeklyDesign {
        weeks: case.base / PER_WEEK,
        seasons: 1,
        batches: PER_WEEK,
        started: (STARTED, STARTED),
        rate: case.rate,
        week_in_place: case.week,
        spread: BatchSpread::Correlation(case.correlation),
        ..WeeklyDesign::default()
    };
    let watch = Watch::new(design.draw(seed, 0), design.groupings());
    let options = BaselineOptions { until: Some(i32::MAX), ..BaselineOptions::default() };
    let baseline = watch.baseline(&options, &control).unwrap();
    let expected = Expectations::of(&baseline, watch.groupings());
    let look = Look { change: change_of(drop, baseline.usual())?, spreads: baseline.spreads, step: 1.0 / 32.0 };
    let logit = expected.logit(&watch.batches()[0]).unwrap();
    let week = vec![vec![Expected { started: STARTED, alive: 0, logit }; PER_WEEK as usize]];
    let se = expected.mix_se(watch.batches().iter());
    let truth = guarded(&vec![week.clone()], &look, se, baseline.spread_se(), WANTED);
    let scores = DateScores::new(&week, &look, &[truth]);
    let mut running = Running::default();
    let limits = (0..300).map(|_| running.advance(&scores.laws[0], 1.0 / WANTED)).collect();
    Some(Chart { scores, limits, drop, seed })
}

impl Chart {
    /// Weeks until a signal on average, over `runs` crops whose logit is shifted by `shift` from the start.
    fn weeks(&self, case: &Quiet, shift: f64, runs: u64) -> f64 {
        let (mut weeks, mut signals) = (0_u64, 0_u64);
        for run in 0..runs {
            let mut rng = rng::stream(self.seed, 1 + run);
            let mut sum = 0_i64;
            for limit in &self.limits {
                let rate = expit(logit(case.rate) + shift + case.week * rng::deviate(&mut rng));
                let alive =
                    (0..PER_WEEK).map(|_| rng::beta_binomial(&mut rng, STARTED, rate, case.correlation)).collect();
                sum = (sum + self.scores.score(&[alive])).max(0);
                weeks += 1;
                if sum > *limit {
                    signals += 1;
                    break;
                }
            }
        }
        weeks as f64 / (signals as f64).max(0.5)
    }

    /// Mean weeks to a signal after a shift that comes when the chart has been quiet for so many weeks.
    fn weeks_after(&self, case: &Quiet, shift: f64, runs: u64, quiet: usize) -> f64 {
        let (mut weeks, mut signals) = (0_u64, 0_u64);
        for run in 0..runs {
            let mut rng = rng::stream(self.seed, 1_000_000 + run);
            let mut sum = 0_i64;
            for (at, limit) in self.limits.iter().enumerate() {
                let shift = if at < quiet { 0.0 } else { shift };
                let rate = expit(logit(case.rate) + shift + case.week * rng::deviate(&mut rng));
                let alive =
                    (0..PER_WEEK).map(|_| rng::beta_binomial(&mut rng, STARTED, rate, case.correlation)).collect();
                sum = (sum + self.scores.score(&[alive])).max(0);
                weeks += u64::from(at >= quiet);
                if sum > *limit {
                    signals += u64::from(at >= quiet);
                    break;
                }
            }
        }
        weeks as f64 / (signals as f64).max(0.5)
    }
}

/// Weeks between signals of the chart that a drawn baseline sets up, under the true crop.
fn weeks_between(case: &Quiet, random: &mut rng::ChaCha8Rng) -> f64 {
    chart(case, 0.05, random).map_or(f64::INFINITY, |chart| chart.weeks(case, 0.0, 150))
}

/// Weeks without a signal before a drop that does not come at the start.
const QUIET: usize = 60;

/// Mean weeks to a signal after a drop that comes after so many quiet weeks, of a chart with one limit, by the laws of its scores.
fn weeks_by_law(quiet: &Law, dropped: &Law, limit: i64, before: usize) -> f64 {
    let mut running = Running::default();
    (0..before).for_each(|_| {
        running.beyond(quiet, limit);
    });
    let (mut kept, mut weeks) = (1.0, 0.0);
    while kept > 1e-9 {
        weeks += kept;
        kept *= 1.0 - running.beyond(dropped, limit);
    }
    weeks
}

/// The time to a signal after a drop, from the first week on and after the chart has been quiet for sixty weeks, beside that of a chart that
/// knows the crop and signals by chance as often.
#[test]
fn a_drop_is_signalled_as_soon_as_by_a_chart_that_knows_the_crop() {
    let cases: Vec<(Quiet, f64)> = [0.03, 0.05, 0.08, 0.12]
        .into_iter()
        .flat_map(|drop| [150, 400].map(|base| (Quiet { base, correlation: 0.03, week: 0.15, rate: 0.88 }, drop)))
        .collect();
    let runs = crate::full().map_or(600, |_| 2000);
    let results = crate::run(cases, crate::full().map_or(6, |runs| runs / 4), |(case, drop), random| {
        let mut figures = Figures::default();
        let Some(own) = chart(case, *drop, random) else { return figures };
        // Charts that hardly ever signal by chance tell nothing of their own rate in so many runs.
        let between = own.weeks(case, 0.0, 400);
        if between > 3000.0 {
            return figures;
        }
        let change = change_of(own.drop, case.rate).unwrap();
        let spreads = rootling::watch::Spreads { batch: case.correlation, week_in_place: case.week, week: 0.0 };
        let look = Look { change, spreads, step: 1.0 / 64.0 };
        let week = vec![vec![Expected { started: STARTED, alive: 0, logit: logit(case.rate) }; PER_WEEK as usize]];
        let truths = [Truth::default(), Truth { shift: change, width: 0.0 }];
        let known = DateScores::new(&week, &look, &truths);
        let limit = limit_for(&known.laws[0], between).unwrap();
        let soonest = run_length(&known.laws[1], limit).unwrap();
        // Two routes to the same length.
        let by_law = weeks_by_law(&known.laws[0], &known.laws[1], limit, 0);
        assert!((by_law / soonest - 1.0).abs() < 1e-6, "{by_law} {soonest}");
        figures.add("delay", 0, own.weeks(case, change, runs));
        figures.add("delay", 1, soonest);
        figures.add("delay", 2, own.weeks_after(case, change, runs, QUIET));
        figures.add("delay", 3, weeks_by_law(&known.laws[0], &known.laws[1], limit, QUIET));
        figures.add("told", 0, 1.0);
        figures
    });
    println!(
        "\n| baseline, batches | drop, points | weeks to a signal, drop at the start | chart that knows the crop | drop after 60 quiet weeks | chart that knows the crop | ratios |\n|---|---|---|---|---|---|---|"
    );
    let mut sums = [0.0; 4];
    for ((case, drop), figures) in &results.rows {
        let told = figures.mean("told", 0, results.runs as f64).max(1e-9);
        let of = |which| figures.mean("delay", which, results.runs as f64) / told;
        println!(
            "| {} | {:.0} | {:.2} | {:.2} | {:.2} | {:.2} | {:.2}, {:.2} |",
            case.base,
            100.0 * drop,
            of(0),
            of(1),
            of(2),
            of(3),
            of(0) / of(1),
            of(2) / of(3)
        );
        sums.iter_mut().enumerate().for_each(|(which, sum)| *sum += of(which).ln());
        if results.runs >= 10 {
            assert!(of(0) / of(1) <= 1.10 && of(2) / of(3) <= 1.10, "{case:?} {drop}");
        }
    }
    let count = results.rows.len() as f64;
    let (start, later) = (((sums[0] - sums[1]) / count).exp(), ((sums[2] - sums[3]) / count).exp());
    println!("time to a signal over that of a chart that knows the crop: {start:.3} at the start, {later:.3} later");
    assert!(start <= 1.10 && later <= 1.10, "{start} {later}");
}

/// Limits from the law of the sum against simulated weeks: sizes, correlations, layers.
#[test]
fn limits_from_the_law_keep_their_weeks_in_simulated_crops() {
    let mut cases = Vec::new();
    for (batches, started) in [(1, 12), (5, 15), (12, 20)] {
        for (correlation, week) in [(0.0, 0.0), (0.05, 0.1), (0.15, 0.3)] {
            cases.push((batches, started, correlation, week));
        }
    }
    let wanted = 52.0;
    let signals_wanted = crate::full().map_or(3_000, |runs| 100 * runs);
    println!(
        "\n| batches a week | started | correlation | SD of weeks | weeks promised | weeks in simulated crops |\n|---|---|---|---|---|---|"
    );
    let mut farthest = 0.0_f64;
    for (batches, started, correlation, week) in cases {
        let look = Look {
            change: change_of(0.05, 0.88).unwrap(),
            spreads: rootling::watch::Spreads { batch: correlation, week_in_place: week, week: 0.0 },
            step: 1.0 / 64.0,
        };
        let batch = Expected { started, alive: 0, logit: logit(0.88) };
        let scores = DateScores::new(&[vec![batch; batches]], &look, &[Truth::default()]);
        let mut running = Running::default();
        let limits: Vec<i64> = (0..2_000).map(|_| running.advance(&scores.laws[0], 1.0 / wanted)).collect();
        let mut random = rng::stream(crate::SEED, 77);
        let (mut weeks, mut signals) = (0_u64, 0_u64);
        let (mut sum, mut since) = (0_i64, 0);
        while signals < signals_wanted {
            let rate = expit(logit(0.88) + week * rng::deviate(&mut random));
            let alive = (0..batches).map(|_| rng::beta_binomial(&mut random, started, rate, correlation)).collect();
            sum = (sum + scores.score(&[alive])).max(0);
            weeks += 1;
            if sum > limits[since] {
                signals += 1;
                (sum, since) = (0, 0);
            } else {
                since = (since + 1).min(limits.len() - 1);
            }
        }
        let between = weeks as f64 / signals as f64;
        farthest = farthest.max((between / wanted - 1.0).abs());
        println!("| {batches} | {started} | {correlation} | {week} | {wanted} | {between:.2} |");
    }
    println!("farthest from the promise: {:.1} %", 100.0 * farthest);
    // Two parts in a hundred, and four standard errors of so many signals.
    assert!(farthest <= 0.02 + 4.0 / (signals_wanted as f64).sqrt(), "{farthest}");
}

/// Nine charts in ten are as quiet as promised, whatever the baseline's size.
#[test]
fn charts_are_as_quiet_as_promised_with_an_estimated_baseline() {
    let mut cases = Vec::new();
    for base in [60, 150, 400] {
        for (correlation, week) in [(0.0, 0.0), (0.03, 0.1), (0.1, 0.3)] {
            for rate in [0.8, 0.9] {
                cases.push(Quiet { base, correlation, week, rate });
            }
        }
    }
    let results = crate::run(cases, crate::full().unwrap_or(12), |case, random| {
        let between = weeks_between(case, random);
        let mut figures = Figures::default();
        figures.add("quiet", 0, f64::from(u8::from(between >= 0.95 * WANTED)));
        figures.add("log length", 0, between.min(20_000.0).ln());
        figures
    });
    println!(
        "\n| baseline, batches | correlation | SD of weeks | rate | as quiet as promised | weeks between, geometric mean |\n|---|---|---|---|---|---|"
    );
    for (case, figures) in &results.rows {
        let runs = results.runs as f64;
        let (quiet, length) = (100.0 * figures.mean("quiet", 0, runs), figures.mean("log length", 0, runs).exp());
        println!("| {} | {} | {} | {} | {quiet:.0} | {length:.0} |", case.base, case.correlation, case.week, case.rate);
    }
    for base in [60, 150, 400] {
        let quiet = results.of("quiet", 0, |case: &Quiet| case.base == base).unwrap().mean;
        println!("baseline of {base}: {:.1} % as quiet as promised", 100.0 * quiet);
        assert!(quiet >= if results.runs >= 100 { 0.88 } else { 0.78 }, "{base}: {quiet}");
    }
}

/// A crop with everything that looks like a drop and is none.
pub(crate) fn crop(spread: BatchSpread, drop: Option<Drop>) -> WeeklyDesign {
    WeeklyDesign {
        weeks: 30,
        seasons: 3,
        batches: 9,
        cultivars: vec![0.0, 0.5, -0.5],
        places: vec![0.0, 0.2, -0.2],
        spread,
        week: 0.15,
        week_in_place: 0.15,
        wave: 0.25,
        drop,
        ..WeeklyDesign::default()
    }
}

pub(crate) fn two_seasons() -> BaselineOptions {
    BaselineOptions { until: Some(16_440 + 7 * (52 + 30) + 65), ..BaselineOptions::default() }
}

#[test]
fn a_search_over_weeks_and_places_finds_nothing_where_nothing_changed() {
    let cases = vec![BatchSpread::Correlation(0.03), BatchSpread::Logit(0.4), BatchSpread::Correlation(0.1)];
    let results = crate::run(cases, crate::full().unwrap_or(40), |spread, random| {
        let design = crop(*spread, None);
        let watch = Watch::new(design.draw(u64::from(rng::below(random, u32::MAX)), 0), design.groupings());
        let control = Control::new();
        let baseline = watch.baseline(&two_seasons(), &control).unwrap();
        let options = SignalOptions { draws: 199, ..SignalOptions::default() };
        let p = watch.change(&baseline, &options, &control).unwrap().map_or(1.0, |change| change.p);
        let mut figures = Figures::default();
        figures.add("found", 0, f64::from(u8::from(p <= 0.05)));
        figures
    });
    println!("\n| batches | P of the search at most 0.05 |\n|---|---|");
    for (spread, figures) in &results.rows {
        println!("| {spread:?} | {:.1} % |", 100.0 * figures.mean("found", 0, results.runs as f64));
    }
    let found = results.of("found", 0, |_| true).unwrap().mean;
    println!("search P at most 0.05 without a change: {:.1} %", 100.0 * found);
    assert!(found <= if results.runs >= 200 { 0.065 } else { 0.11 }, "{found}");
}

/// A drop, and what else varies: standard deviations of weeks and of weeks in places.
type Dropped = (Drop, f64);

#[test]
fn weeks_after_a_signal_hold_the_true_one() {
    let drop = |by: f64, place| Drop { week: 104 + 10, by, place };
    let cases: Vec<Dropped> = vec![
        (drop(-0.4, None), 0.15),
        (drop(-0.7, None), 0.15),
        (drop(-0.7, Some(1)), 0.15),
        (drop(-1.1, Some(1)), 0.15),
        (drop(-0.7, None), 0.3),
        (drop(-1.1, Some(1)), 0.3),
    ];
    let results = crate::run(cases, crate::full().unwrap_or(12), |(drop, shocks), random| {
        let design =
            WeeklyDesign { week: *shocks, week_in_place: *shocks, ..crop(BatchSpread::Correlation(0.03), Some(*drop)) };
        let watch = Watch::new(design.draw(u64::from(rng::below(random, u32::MAX)), 0), design.groupings());
        let control = Control::new();
        let baseline = watch.baseline(&two_seasons(), &control).unwrap();
        let options = SignalOptions { draws: 199, ..SignalOptions::default() };
        let found = watch.signals(&baseline, &options, &control).unwrap().numbers.change;
        let mut figures = Figures::default();
        figures.add("signal", 0, f64::from(u8::from(found.is_some())));
        if let Some(change) = found.filter(|change| change.p <= 0.05) {
            let monday = 16_440 + 7 * drop.week as i32;
            figures.add("held", 0, f64::from(u8::from((change.weeks.0..=change.weeks.1).contains(&monday))));
            figures.add("weeks", 0, change.n_weeks as f64);
            figures.add("told", 0, 1.0);
            figures.add("size", 0, change.size);
            figures.add("drift", 0, f64::from(u8::from(change.form == rootling::watch::Form::Drift)));
            let place = drop.place.map(|place| format!("room {}", place + 1));
            figures.add("place", 0, f64::from(u8::from(change.place.map(|(_, level)| level) == place)));
        }
        figures
    });
    println!(
        "\n| drop (logit) | place | SD of weeks, of weeks in places | signal | weeks hold the true one | weeks in the set | size, points | called drift | right place |\n|---|---|---|---|---|---|---|---|---|"
    );
    let (mut held, mut told) = (0.0, 0.0);
    for ((drop, shocks), figures) in &results.rows {
        let runs = results.runs as f64;
        let of = |name| figures.mean(name, 0, runs);
        let share = of("told").max(1e-9);
        println!(
            "| {} | {:?} | {shocks} | {:.0} % | {:.1} % | {:.1} | {:.1} | {:.1} % | {:.0} % |",
            drop.by,
            drop.place,
            100.0 * of("signal"),
            100.0 * of("held") / share,
            of("weeks") / share,
            100.0 * of("size") / share,
            100.0 * of("drift") / share,
            100.0 * of("place") / share
        );
        held += of("held");
        told += of("told");
    }
    println!("sets of 90 % confidence hold the true week in {:.1} %", 100.0 * held / told);
    let drawn = told * results.runs as f64;
    // Asked: 90 %; less two standard errors of so few crops.
    assert!(held / told >= 0.9 - 2.0 * (0.09 / drawn).sqrt(), "{held} of {told}");
}
