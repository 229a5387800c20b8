//! The chain of steps: what limits of takes, yields, differences and starts hold, and those of readers and signs.

use rootling::control::Control;
use rootling::math::rng::{self, ChaCha8Rng};
use rootling::simulate::replicates;
use rootling::steps::{
    AgreementOptions, CompareYieldsOptions, LevelColumn, LevelPair, Passed, SignCounts, SignOptions, StartOptions,
    Steps, StepsBatch, YieldOptions, agreement, early_sign,
};

use crate::summary::Figures;

/// Where draws begin; another one by `ROOTLING_CALIBRATION_SEED`.
fn seed() -> u64 {
    std::env::var("ROOTLING_CALIBRATION_SEED").ok().and_then(|seed| seed.parse().ok()).unwrap_or(20_261_130)
}

const CHAINS: [(&str, &[f64]); 3] =
    [("usual", &[0.92, 0.85, 0.6, 0.95]), ("near 1", &[0.97, 0.98, 0.9, 0.97]), ("low", &[0.5, 0.3, 0.8, 0.9])];
const UNEVEN: [u64; 6] = [15, 25, 40, 60, 90, 30];

/// One design of a record.
#[derive(Debug, Clone, Copy)]
struct Record {
    takes: &'static [f64],
    batches: usize,
    uneven: bool,
    correlation: f64,
    season_sd: f64,
}

fn logistic(odds: f64) -> f64 {
    1.0 / (1.0 + (-odds).exp())
}

fn shifted(take: f64, by: f64) -> f64 {
    if by == 0.0 { take } else { logistic((take / (1.0 - take)).ln() + by) }
}

fn passed(random: &mut ChaCha8Rng, reached: u64, take: f64, correlation: f64) -> u64 {
    if reached == 0 { 0 } else { rng::beta_binomial(random, reached, take, correlation) }
}

/// A drawn record; each batch has its season, and its level 0 or 1 by turns.
struct Drawn {
    steps: Steps,
    /// Takes and yields that the seasons of the record have, weighted by what reaches them.
    takes: Vec<f64>,
    value: f64,
}

fn sizes(design: &Record) -> Vec<u64> {
    (0..design.batches).map(|at| if design.uneven { UNEVEN[(at / 2) % 6] } else { 40 }).collect()
}

fn drawn(design: &Record, random: &mut ChaCha8Rng) -> Drawn {
    let seasons = if design.season_sd > 0.0 { 3 } else { 1 };
    let shifts: Vec<Vec<f64>> =
        (0..seasons).map(|_| design.takes.iter().map(|_| design.season_sd * rng::deviate(random)).collect()).collect();
    let width = design.takes.len();
    let mut reached = vec![(0.0, 0.0); width];
    let mut batches = Vec::new();
    for (at, size) in sizes(design).into_iter().enumerate() {
        let season = (at / 2) % seasons;
        let (mut here, mut expected) = (size, size as f64);
        let mut steps = Vec::new();
        for ((take, shift), sums) in design.takes.iter().zip(&shifts[season]).zip(&mut reached) {
            let take = shifted(*take, *shift);
            *sums = (sums.0 + expected, sums.1 + expected * take);
            expected *= take;
            let through = passed(random, here, take, design.correlation);
            steps.push(Some(Passed { reached: here, passed: through }));
            here = through;
        }
        batches.push(StepsBatch {
            name: format!("b{at:03}"),
            row: at as u64 + 1,
            started: size,
            steps,
            states: Vec::new(),
            labels: vec![season.to_string(), (at % 2).to_string(), (at / 6).to_string()],
            dates: Vec::new(),
            parts: Vec::new(),
        });
    }
    let levels =
        ["season", "room", "bench"].map(|role| LevelColumn { role: role.to_owned(), column: role.to_owned(), from: 0 });
    let columns = (0..=width).map(|at| format!("step{at}")).collect();
    let takes: Vec<f64> = reached.iter().map(|(all, through)| through / all).collect();
    let value = reached[width - 1].1 / reached[0].0;
    Drawn { steps: Steps::new(batches, columns, levels.to_vec(), Vec::new(), Vec::new()), takes, value }
}

fn holds(low: f64, value: f64, high: f64) -> f64 {
    f64::from(u8::from(low <= value && value <= high))
}

/// What the limits of one record hold.
fn one_record(design: &Record, random: &mut ChaCha8Rng) -> Figures {
    let made = drawn(design, random);
    let mut figures = Figures::default();
    let options = YieldOptions { draws: 0, ..YieldOptions::default() };
    let Ok(found) = made.steps.yields(&options) else { return figures };
    let found = found.numbers;
    figures.add("yield", 0, holds(found.low, made.value, found.high));
    for (at, (step, take)) in found.steps.iter().zip(&made.takes).enumerate() {
        figures.add("step", at, holds(step.low, *take, step.high));
    }
    if design.batches >= 12 {
        // Two rooms alike: a difference of 0 at the end, at each step and of each part.
        if let Ok(found) = made.steps.compare("room", "0", "1", &CompareYieldsOptions::default()) {
            let found = found.numbers;
            figures.add("difference", 0, holds(found.low, 0.0, found.high));
            for (at, step) in found.steps.iter().enumerate() {
                figures.add("step difference", at, holds(step.low, 0.0, step.high));
                figures.add("part", at, holds(step.part_low, 0.0, step.part_high));
            }
        }
        // Benches alike, of six batches each, as many of each season: none is said to bring more than another. Of unlike sizes they have unlike mixes of seasons.
        let alike = !design.uneven || design.season_sd == 0.0;
        if alike && let Ok(found) = made.steps.compare_all("bench", &CompareYieldsOptions::default()) {
            figures.add("told apart", 0, f64::from(u8::from(found.numbers.pairs.iter().any(LevelPair::differs))));
        }
    }
    figures
}

fn drawn_often<D: Copy + Sync>(design: D, runs: u64, one: fn(&D, &mut ChaCha8Rng) -> Figures) -> Figures {
    let draw = |random: &mut ChaCha8Rng| Ok(one(&design, random));
    replicates(runs, seed(), 0, &Control::new(), draw, Figures::plus).unwrap()
}

/// Lowest and highest of several coverages, in percent.
fn ends(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let values: Vec<f64> = values.filter(|value| value.is_finite()).map(|value| 100.0 * value).collect();
    (values.iter().copied().fold(f64::INFINITY, f64::min), values.iter().copied().fold(f64::NEG_INFINITY, f64::max))
}

fn told((low, high): (f64, f64)) -> String {
    if low > high { "-".to_owned() } else { format!("{low:.1} to {high:.1}") }
}

/// Limits of takes, yields and differences hold 93 to 98 of 100, within what so many records can show.
pub(crate) fn limits_hold(runs: u64) {
    println!(
        "\n### Yields, steps and differences\n\n| takes | batches | sizes | season SD | yield | steps | difference | step differences | parts | 2, 4 or 10 alike told apart |\n|---|---|---|---|---|---|---|---|---|---|"
    );
    let slack = 300.0 * (0.05 * 0.95 / runs as f64).sqrt();
    for (name, takes) in CHAINS {
        for batches in [6, 12, 24, 60] {
            for uneven in [false, true] {
                for season_sd in [0.0, 0.3] {
                    let mut all: Vec<Figures> = Vec::new();
                    for correlation in [0.0, 0.02, 0.05, 0.1] {
                        let design = Record { takes, batches, uneven, correlation, season_sd };
                        all.push(drawn_often(design, runs, one_record));
                    }
                    let of = |figure: &'static str, count: usize| {
                        let all = &all;
                        ends(
                            (0..count).flat_map(move |at| all.iter().map(move |one| one.mean(figure, at, runs as f64))),
                        )
                    };
                    let whole = of("yield", 1);
                    let steps = of("step", takes.len());
                    println!(
                        "| {name} | {batches} | {} | {season_sd} | {} | {} | {} | {} | {} | {} |",
                        if uneven { "15 to 90" } else { "40" },
                        told(whole),
                        told(steps),
                        told(of("difference", 1)),
                        told(of("step difference", takes.len())),
                        told(of("part", takes.len())),
                        told(of("told apart", 1))
                    );
                    let apart = of("told apart", 1);
                    let asked = batches >= 12 && !(uneven && season_sd > 0.0);
                    assert!(!asked || apart.1 < 6.5 + slack, "{name} {batches} {uneven} {season_sd}: {apart:?}");
                    assert!(whole.0 > 92.5 - slack, "{name} {batches} {uneven} {season_sd}: yield {whole:?}");
                    assert!(steps.0 > 92.0 - slack, "{name} {batches} {uneven} {season_sd}: steps {steps:?}");
                }
            }
        }
    }
}

/// What the limits of takes and yields hold, without comparing anything: so many records are cheap that each cell stands for itself.
fn one_yield(design: &Record, random: &mut ChaCha8Rng) -> Figures {
    let made = drawn(design, random);
    let mut figures = Figures::default();
    let options = YieldOptions { draws: 0, ..YieldOptions::default() };
    let Ok(found) = made.steps.yields(&options) else { return figures };
    figures.add("yield", 0, holds(found.numbers.low, made.value, found.numbers.high));
    for (at, (step, take)) in found.numbers.steps.iter().zip(&made.takes).enumerate() {
        figures.add("step", at, holds(step.low, *take, step.high));
    }
    figures
}

/// Limits of takes and yields by themselves, each cell of the grid from many records.
pub(crate) fn yields_hold(runs: u64) {
    println!(
        "\n### Yields and steps, cell by cell\n\n| takes | batches | sizes | season SD | correlation | yield | steps |\n|---|---|---|---|---|---|---|"
    );
    let slack = 300.0 * (0.05 * 0.95 / runs as f64).sqrt();
    for (name, takes) in CHAINS {
        for (batches, uneven) in [6, 12, 24, 60].into_iter().flat_map(|one| [(one, false), (one, true)]) {
            for (season_sd, correlation) in
                [0.0, 0.3].into_iter().flat_map(|sd| [0.0, 0.02, 0.05, 0.1].map(|correlation| (sd, correlation)))
            {
                let design = Record { takes, batches, uneven, correlation, season_sd };
                let found = drawn_often(design, runs, one_yield);
                let whole = 100.0 * found.mean("yield", 0, runs as f64);
                let steps = ends((0..takes.len()).map(|at| found.mean("step", at, runs as f64)));
                let sizes = if uneven { "15 to 90" } else { "40" };
                println!(
                    "| {name} | {batches} | {sizes} | {season_sd} | {correlation} | {whole:.1} | {} |",
                    told(steps)
                );
                assert!(whole > 93.0 - slack, "{name} {batches} {uneven} {season_sd} {correlation}: yield {whole}");
                assert!(steps.0 > 93.0 - slack, "{name} {batches} {uneven} {season_sd} {correlation}: {steps:?}");
            }
        }
    }
}

/// What is started, and from how many seasons it is known.
#[derive(Debug, Clone, Copy)]
struct Start {
    record: Record,
    seasons: usize,
    given: Option<f64>,
}

/// Plants started in the season to come.
const STARTED: u64 = 600;

/// Whether a further season brings what was promised of it.
fn one_start(design: &Start, random: &mut ChaCha8Rng) -> Figures {
    let mut figures = Figures::default();
    let (take, sd, correlation) = (design.record.takes[0], design.record.season_sd, design.record.correlation);
    let shifts: Vec<f64> = (0..design.seasons).map(|_| sd * rng::deviate(random)).collect();
    // With the spread given or none, the record is of ordinary seasons.
    let shift = |season: usize| if design.given.is_some() { 0.0 } else { shifts[season] };
    let batches = sizes(&design.record).into_iter().enumerate().map(|(at, size)| {
        let season = at % design.seasons;
        let end = passed(random, size, shifted(take, shift(season)), correlation);
        StepsBatch {
            name: format!("b{at:03}"),
            row: at as u64 + 1,
            started: size,
            steps: vec![Some(Passed { reached: size, passed: end })],
            states: Vec::new(),
            labels: vec![season.to_string()],
            dates: Vec::new(),
            parts: Vec::new(),
        }
    });
    let batches: Vec<StepsBatch> = batches.collect();
    let season = LevelColumn { role: "season".to_owned(), column: "season".to_owned(), from: 0 };
    let levels = if design.given.is_some() { Vec::new() } else { vec![season] };
    let batches = batches
        .into_iter()
        .map(|batch| if levels.is_empty() { StepsBatch { labels: Vec::new(), ..batch } } else { batch });
    let steps =
        Steps::new(batches.collect(), vec!["started".to_owned(), "end".to_owned()], levels, Vec::new(), Vec::new());
    let options = StartOptions { season_sd: design.given, ..StartOptions::default() };
    let Ok(law) = steps.start_law(&options) else { return figures };
    let next = shifted(take, sd * rng::deviate(random));
    let size = law.batch_size.round() as u64;
    let (mut left, mut end) = (STARTED, 0);
    while left > 0 {
        let batch = size.min(left);
        end += passed(random, batch, next, correlation);
        left -= batch;
    }
    // What is promised is reached where one more than came to the end could not be promised.
    let more = law.assurance(STARTED, end + 1).unwrap_or(f64::NAN);
    figures.add("reached", 0, f64::from(u8::from(more < 0.95)));
    figures
}

/// What is promised with 95 % assurance is reached by 93 to 97 of 100 further seasons.
pub(crate) fn starts_hold(runs: u64) {
    println!(
        "\n### Assurance of starts\n\n| take | batches | sizes | seasons | season SD | reached, correlation 0 to 0.1 |\n|---|---|---|---|---|---|"
    );
    let slack = 300.0 * (0.05 * 0.95 / runs as f64).sqrt();
    let cases: [(usize, f64, bool); 6] =
        [(1, 0.0, true), (1, 0.3, true), (3, 0.0, false), (3, 0.3, false), (5, 0.3, false), (8, 0.3, false)];
    // A short run looks at the corners.
    let corners = runs < 400;
    let correlations: &[f64] = if corners { &[0.0, 0.1] } else { &[0.0, 0.02, 0.05, 0.1] };
    let takes: &[&'static [f64]] = if corners { &[&[0.36]] } else { &[&[0.36], &[0.8]] };
    for takes in takes.iter().copied() {
        for batches in if corners { vec![6, 24] } else { vec![6, 24, 60] } {
            for (seasons, season_sd, given) in cases {
                if batches < 2 * seasons {
                    continue;
                }
                for uneven in if corners { vec![true] } else { vec![false, true] } {
                    let each = correlations.iter().map(|correlation| {
                        let record = Record { takes, batches, uneven, correlation: *correlation, season_sd };
                        let design = Start { record, seasons, given: given.then_some(season_sd) };
                        drawn_often(design, runs, one_start).mean("reached", 0, runs as f64)
                    });
                    let found = ends(each);
                    let spread = if given { format!("{season_sd}, given") } else { format!("{season_sd}, estimated") };
                    let sized = if uneven { "15 to 90" } else { "40" };
                    println!("| {} | {batches} | {sized} | {seasons} | {spread} | {} |", takes[0], told(found));
                    assert!(found.0 > 92.5 - slack, "{takes:?} {batches} {seasons} {spread} {uneven}: {found:?}");
                    if given {
                        assert!(found.1 < 97.5 + slack, "{takes:?} {batches} {spread} {uneven}: {found:?}");
                    }
                }
            }
        }
    }
}

/// Trays of plants that two readers read, or that have a sign.
#[derive(Debug, Clone, Copy)]
struct Trays {
    trays: usize,
    plants: u64,
    correlation: f64,
    rooted: f64,
}

/// How often each reader calls a rooted plant rooted, and one that failed.
const READERS: [(f64, f64); 2] = [(0.95, 0.08), (0.9, 0.05)];
/// How often rooted and failed plants show the sign.
const SIGN: (f64, f64) = (0.85, 0.2);

fn one_reading(design: &Trays, random: &mut ChaCha8Rng) -> Figures {
    let mut figures = Figures::default();
    let mut tables = Vec::new();
    let mut signs = Vec::new();
    for _ in 0..design.trays {
        let rooted = passed(random, design.plants, design.rooted, design.correlation);
        let mut table = vec![vec![0; 2]; 2];
        let mut counts = SignCounts::default();
        for plant in 0..design.plants {
            let is = plant < rooted;
            let calls = READERS.map(|(yes, no)| rng::uniform(random) < if is { yes } else { no });
            table[usize::from(!calls[0])][usize::from(!calls[1])] += 1;
            let sign = rng::uniform(random) < if is { SIGN.0 } else { SIGN.1 };
            *match (sign, is) {
                (true, true) => &mut counts.with_rooted,
                (true, false) => &mut counts.with_failed,
                (false, true) => &mut counts.without_rooted,
                (false, false) => &mut counts.without_failed,
            } += 1;
        }
        tables.push(table);
        signs.push(counts);
    }
    let p = design.rooted;
    let both = |one: usize, two: usize| {
        let of = |reader: usize, rooted: bool, yes: usize| {
            let share = if rooted { READERS[reader].0 } else { READERS[reader].1 };
            if yes == 0 { share } else { 1.0 - share }
        };
        p * of(0, true, one) * of(1, true, two) + (1.0 - p) * of(0, false, one) * of(1, false, two)
    };
    let seen = both(0, 0) + both(1, 1);
    let (first, second) = (both(0, 0) + both(0, 1), both(0, 0) + both(1, 0));
    let chance = first * second + (1.0 - first) * (1.0 - second);
    if let Ok(found) = agreement(&tables, &AgreementOptions::default()) {
        let found = found.numbers;
        let within = |low: Option<f64>, value: f64, high: Option<f64>| {
            low.zip(high).map_or(0.0, |(low, high)| holds(low, value, high))
        };
        figures.add("agreement", 0, within(found.low, seen, found.high));
        figures.add("kappa", 0, within(found.kappa_low, (seen - chance) / (1.0 - chance), found.kappa_high));
        let answer = &found.answers[0];
        figures.add("readers apart", 0, within(answer.low, second - first, answer.high));
    }
    if let Ok(found) = early_sign(&signs, &SignOptions::default()) {
        let with = p * SIGN.0 + (1.0 - p) * SIGN.1;
        let truth = [
            SIGN.0,
            1.0 - SIGN.1,
            p * SIGN.0 / with,
            (1.0 - p) * (1.0 - SIGN.1) / (1.0 - with),
            SIGN.0 / SIGN.1,
            (1.0 - SIGN.0) / (1.0 - SIGN.1),
        ];
        for (at, (one, value)) in found.numbers.measures.iter().zip(truth).enumerate() {
            let (low, high) = (one.low.unwrap_or(f64::NEG_INFINITY), one.high.unwrap_or(f64::INFINITY));
            figures.add("sign", at, holds(low, value, high));
        }
    }
    figures
}

/// Limits of agreement, kappa and of what a sign tells hold at least 92 of 100.
pub(crate) fn readings_hold(runs: u64) {
    println!(
        "\n### Readers and signs\n\n| trays x plants | correlation | rooted | agreement | kappa | readers apart | sign: lowest and highest of six |\n|---|---|---|---|---|---|---|"
    );
    let slack = 300.0 * (0.08 * 0.92 / runs as f64).sqrt();
    for (trays, plants) in [(6, 20), (12, 20), (30, 20)] {
        for correlation in [0.0, 0.05, 0.1] {
            for rooted in [0.3, 0.6, 0.85] {
                let design = Trays { trays, plants, correlation, rooted };
                let found = drawn_often(design, runs, one_reading);
                let of = |name: &'static str| 100.0 * found.mean(name, 0, runs as f64);
                let sign = ends((0..6).map(|at| found.mean("sign", at, runs as f64)));
                println!(
                    "| {trays} x {plants} | {correlation} | {rooted} | {:.1} | {:.1} | {:.1} | {} |",
                    of("agreement"),
                    of("kappa"),
                    of("readers apart"),
                    told(sign)
                );
                for (name, value) in [
                    ("agreement", of("agreement")),
                    ("kappa", of("kappa")),
                    ("readers apart", of("readers apart")),
                    ("sign", sign.0),
                ] {
                    assert!(value > 92.0 - slack, "{trays} x {plants}, {correlation}, {rooted}: {name} {value}");
                }
            }
        }
    }
}
