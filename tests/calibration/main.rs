//! Do the defaults hold what they promise? Seeded simulations over realistic trials (`rootling::simulate`).
//!
//! `table.md` beside this file is the output of
//! `ROOTLING_CALIBRATION=1000 cargo test --release --test calibration -- --nocapture --test-threads=1` with its reading.
//! Without that variable few designs are run, enough to see a default go astray on average or in the worst design.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::print_stdout)]
// Designs stand in one table.
#![allow(clippy::too_many_lines, clippy::inconsistent_struct_constructor)]

mod association;
mod beside;
mod beside_the_take;
mod crossed;
mod curve_bays;
mod curve_ends;
mod curve_fit;
mod curve_laws;
mod curve_seasons;
mod curves;
mod damage;
mod decide;
mod designs;
mod earlier;
mod effects;
mod families;
mod grades;
mod intervals;
mod laws;
mod layers;
mod means;
mod over_places;
mod plan;
mod responses;
mod season_curves;
mod seasons;
mod steps;
mod steps_time;
mod summary;
mod surfaces;
mod swapped;
mod together;
mod units;
mod units_above;
mod watch;
mod watch_after;
mod watch_naive;
mod watch_target;

use designs::Case;
use intervals::{DIFFERENCES, RATES};
use rootling::control::Control;
use rootling::math::rng;
use rootling::models::TrayMode;
use rootling::simulate::{Blocks, SplitPlotDesign, TraySizes, replicates};
use summary::{Figures, Results, Summary, percent};

const SEED: u64 = 20_261_125;

/// Replicates per design of the full run, when it is asked for.
fn full() -> Option<u64> {
    std::env::var("ROOTLING_CALIBRATION").ok().and_then(|text| text.parse().ok())
}

fn run<D>(designs: Vec<D>, runs: u64, one: impl Fn(&D, &mut rng::ChaCha8Rng) -> Figures + Sync) -> Results<D>
where
    D: Sync,
{
    let rows = designs.into_iter().enumerate().map(|(at, design)| {
        let first = at as u64 * runs;
        let sum = replicates(runs, SEED, first, &Control::new(), |random| Ok(one(&design, random)), Figures::plus);
        (design, sum.unwrap())
    });
    Results { runs, rows: rows.collect() }
}

/// The three designs farthest out, run again with twenty times the replicates where the full run is asked for: the farthest of
/// many is partly chance.
fn print_worst(results: &Results<Case>, name: &'static str, highest: bool) {
    for (value, case) in results.worst(name, 0, highest).into_iter().filter(|(_, case)| four(case)).take(3) {
        let again = full().map(|runs| {
            let found = run(vec![case.clone()], 20 * runs, intervals::one_trial).of(name, 0, |_| true).unwrap();
            assert!(if highest { found.mean <= 0.065 } else { found.mean >= 0.91 }, "{name}: {case:?}: {}", found.mean);
            format!(", run again {} %", percent(Some(found.mean)))
        });
        println!("- farthest out, {name}: {} %{}: {case:?}", percent(Some(value)), again.unwrap_or_default());
    }
}

/// Layouts of trials: name, tray sizes, blocks.
fn layouts() -> Vec<(&'static str, TraySizes, Option<Blocks>)> {
    let blocks = |trays, sd| Some(Blocks { trays, sd });
    vec![
        ("no blocks, equal trays", TraySizes::Equal, None),
        ("no blocks, uneven trays", TraySizes::Uneven, None),
        ("blocks of one tray each, SD 0.3", TraySizes::Equal, blocks(1, 0.3)),
        ("blocks of one tray each, SD 0.6, uneven trays", TraySizes::Uneven, blocks(1, 0.6)),
        ("blocks of two trays each, SD 0.6", TraySizes::Equal, blocks(2, 0.6)),
    ]
}

fn four(case: &Case) -> bool {
    case.trays() >= 4
}

fn three(case: &Case) -> bool {
    case.trays() == 3
}

fn line(name: &str, cells: &[String]) {
    println!("| {name} | {} |", cells.join(" | "));
}

fn coverage(found: Option<Summary>) -> [String; 3] {
    [percent(found.map(|one| one.mean)), percent(found.map(|one| one.low)), percent(found.map(|one| one.below))]
}

fn alarms(found: Option<Summary>) -> [String; 3] {
    [percent(found.map(|one| one.mean)), percent(found.map(|one| one.high)), percent(found.map(|one| one.above))]
}

fn print_intervals(name: &str, results: &Results<Case>) {
    let mean = |figure, at, keep: fn(&Case) -> bool| percent(results.of(figure, at, keep).map(|one| one.mean));
    if results.of("rate coverage", 0, four).is_some() {
        println!(
            "\n### One take rate: {name}\n\n| 4 to 12 trays | coverage, mean | lowest design | designs below 91 % | width | 3 trays: mean | lowest |\n|---|---|---|---|---|---|---|"
        );
        for (at, candidate) in RATES.iter().enumerate() {
            let mut cells = coverage(results.of("rate coverage", at, four)).to_vec();
            cells.push(mean("rate width", at, four));
            cells.extend(coverage(results.of("rate coverage", at, three)).into_iter().take(2));
            line(candidate, &cells);
        }
    }
    println!(
        "\n### Difference: {name}\n\n| 4 to 12 trays | false alarms, mean | highest design | designs above 6.5 % | takes 10 to 80 %: mean | coverage, mean | lowest design | designs below 91 % | width | power | 3 trays: false alarms | coverage | lowest |\n|---|---|---|---|---|---|---|---|---|---|---|---|---|"
    );
    for (at, candidate) in DIFFERENCES.iter().enumerate() {
        let mut cells = alarms(results.of("false alarm", at, four)).to_vec();
        cells.push(mean("false alarm", at, |case| four(case) && (0.1..=0.8).contains(&case.take())));
        cells.extend(coverage(results.of("coverage", at, four)));
        cells.push(mean("width", at, four));
        cells.push(mean("power", at, four));
        cells.push(mean("false alarm", at, three));
        cells.extend(coverage(results.of("coverage", at, three)).into_iter().take(2));
        line(candidate, &cells);
    }
    println!();
    print_worst(results, "coverage", false);
    print_worst(results, "false alarm", true);
    for icc in [0.0, 0.01, 0.05, 0.10, 0.15] {
        let keep = |case: &Case| four(case) && case.equal.icc == icc && (0.1..=0.8).contains(&case.take());
        let of = |at| percent(results.of("false alarm", at, keep).map(|one| one.mean));
        println!(
            "- false alarms at ICC {icc}, takes 10 to 80 %: default {} %, t within blocks {} %, trays ignored {} %",
            of(0),
            of(2),
            of(4)
        );
    }
    let dealt = |at| percent(results.of("randomisation", at, four).map(|one| one.mean));
    println!("\nRandomisation test, 4 and 6 trays: false alarms {} %, power {} %.", dealt(0), dealt(1));
    for figure in ["ratio coverage", "odds ratio coverage"] {
        if let Some(found) = results.of(figure, 0, four) {
            println!(
                "{figure} of the default: mean {}, lowest design {}.",
                percent(Some(found.mean)),
                percent(Some(found.low))
            );
        }
    }
}

#[test]
fn intervals_and_tests_of_two_treatments_hold() {
    for (name, sizes, blocks) in layouts() {
        let cases = if full().is_some() { designs::grid(sizes, blocks) } else { designs::corners(sizes, blocks) };
        let results = run(cases, full().unwrap_or(300), intervals::one_trial);
        print_intervals(name, &results);
        // The worst of many designs is partly chance: a few standard errors of one design are allowed for it.
        let slack = if full().is_some() { 3.5 } else { 2.5 } * (0.06 * 0.94 / results.runs as f64).sqrt();
        if let Some(rate) = results.of("rate coverage", 0, four) {
            assert!(rate.mean >= 0.935 && rate.low >= 0.91 - slack, "{name}: {rate:?}");
        }
        for figure in ["coverage", "ratio coverage", "odds ratio coverage"] {
            if let Some(held) = results.of(figure, 0, four) {
                assert!(held.mean >= 0.935 && held.low >= 0.91 - slack, "{name}, {figure}: {held:?}");
            }
        }
        let alarm = results.of("false alarm", 0, four).unwrap();
        assert!(alarm.mean <= 0.05 && alarm.high <= 0.06 + slack, "{name}: {alarm:?}");
        let pooled = results.of("false alarm", 4, |case| case.equal.icc >= 0.10).unwrap();
        assert!(pooled.mean > 0.10, "{name}: what pooled cuttings do, {pooled:?}");
    }
}

/// A figure of a candidate, and whether its highest or its lowest designs matter.
#[derive(Clone, Copy)]
struct Extreme(&'static str, usize, bool);

/// The designs farthest out, the farthest first, as lines. In the full run twenty of them are run again with ten times the
/// replicates and stand in the order of that run: the farthest of a thousand designs are farthest by chance.
fn farthest<D: Clone + std::fmt::Debug + Sync>(
    results: &Results<D>,
    Extreme(figure, at, highest): Extreme,
    keep: impl Fn(&D) -> bool,
    one: impl Fn(&D, &mut rng::ChaCha8Rng) -> Figures + Sync,
) -> Vec<String> {
    let far = results.worst(figure, at, highest).into_iter().filter(|(_, design)| keep(design)).take(20);
    let mut found: Vec<(Option<f64>, f64, &D)> = far
        .map(|(value, design)| {
            let again = full().map(|_| run(vec![design.clone()], 10 * results.runs, &one));
            (again.and_then(|again| again.of(figure, at, |_| true)).map(|again| again.mean), value, design)
        })
        .collect();
    if full().is_some() {
        let sign = if highest { -1.0 } else { 1.0 };
        found.sort_by(|a, b| (sign * a.0.unwrap()).total_cmp(&(sign * b.0.unwrap())));
    }
    let again = |again: Option<f64>| again.map(|again| format!(", run again {} %", percent(Some(again))));
    let line = |(second, first, design): (Option<f64>, f64, &D)| {
        format!("{figure}: {} %{}: {design:?}", percent(Some(first)), again(second).unwrap_or_default())
    };
    found.into_iter().take(3).map(line).collect()
}

#[test]
fn model_effect_tests_hold() {
    println!(
        "\n### Effect tests and intervals of a model\n\n| layout, trays enter as; 4 to 12 trays | false alarms, mean | highest design | designs above 6.5 % | takes 10 to 80 %: mean | highest | power | adjusted rate covers, mean | lowest | odds ratio covers, mean | lowest | 3 trays: false alarms | highest |\n|---|---|---|---|---|---|---|---|---|---|---|---|---|"
    );
    let mid = |case: &Case| four(case) && (0.1..=0.8).contains(&case.take());
    let mut worst = Vec::new();
    for (name, sizes, blocks) in layouts() {
        let cases = if full().is_some() { designs::grid(sizes, blocks) } else { designs::corners(sizes, blocks) };
        let results = run(cases, full().map_or(100, |runs| runs / 2), effects::one_trial);
        for (at, (_, mode)) in effects::MODES.into_iter().enumerate() {
            let mut cells = alarms(results.of("false alarm", at, four)).to_vec();
            cells.extend(alarms(results.of("false alarm", at, mid)).into_iter().take(2));
            cells.push(percent(results.of("power", at, four).map(|one| one.mean)));
            for figure in ["rate coverage", "odds ratio coverage"] {
                cells.extend(coverage(results.of(figure, at, four)).into_iter().take(2));
            }
            cells.extend(alarms(results.of("false alarm", at, three)).into_iter().take(2));
            line(&format!("{name}: {mode}"), &cells);
        }
        for (figure, highest) in [("false alarm", true), ("rate coverage", false), ("odds ratio coverage", false)] {
            let found = farthest(&results, Extreme(figure, 0, highest), four, effects::one_trial);
            worst.extend(found.into_iter().map(|design| format!("{name}, {design}")));
        }
        let slack = 3.5 * (0.05 * 0.95 / results.runs as f64).sqrt();
        let alarm = results.of("false alarm", 0, four).unwrap();
        assert!(alarm.mean <= 0.05 && alarm.high <= 0.06 + slack, "{name}: {alarm:?}");
        for figure in ["rate coverage", "odds ratio coverage"] {
            let held = results.of(figure, 0, four).unwrap();
            assert!(held.mean >= 0.935 && held.low >= 0.92 - slack, "{name}, {figure}: {held:?}");
        }
    }
    println!();
    worst.iter().for_each(|design| println!("- farthest out, {design}"));
}

#[test]
fn tests_of_two_treatments_and_their_interaction_hold() {
    let designs = designs::factorials(full().is_some());
    let results = run(designs, full().map_or(60, |runs| runs / 2), effects::one_factorial);
    println!(
        "\n### Two treatments in one model\n\n| layout | test | false alarms, mean | highest design | designs above 6.5 % | with correlations of 0.05 and more: mean | highest |\n|---|---|---|---|---|---|---|"
    );
    let slack = 3.5 * (0.05 * 0.95 / results.runs as f64).sqrt();
    for (levels, layout) in
        [((2, 3), "2 x 3, no blocks"), ((2, 2), "2 x 2, blocks of one tray each"), ((3, 3), "3 x 3, no blocks")]
    {
        for (figure, at, name) in [
            ("interaction", 0, "interaction"),
            ("strength", 0, "strength beside it"),
            ("strength", 1, "strength, effects add up"),
            ("rootstock", 1, "rootstock, effects add up"),
        ] {
            let Some(found) = results.of(figure, at, |design| design.levels == levels) else { continue };
            let spread = results.of(figure, at, |design| design.levels == levels && design.trays.icc >= 0.05);
            let mut cells = vec![name.to_owned()];
            cells.extend(alarms(Some(found)));
            cells.extend(alarms(spread).into_iter().take(2));
            line(layout, &cells);
            assert!(found.mean <= 0.05 && found.high <= 0.06 + slack, "{layout}, {name}: {found:?}");
        }
    }
    println!();
    for figure in ["interaction", "strength"] {
        let found = farthest(&results, Extreme(figure, 0, true), |_| true, effects::one_factorial);
        found.iter().for_each(|design| println!("- farthest out, {design}"));
    }
    for (at, name) in [(0, "with the interaction"), (1, "effects add up")] {
        let power = |effect| percent(results.of(effect, at, |_| true).map(|one| one.mean));
        println!(
            "- power, {name}: strength {} %, rootstock {} %",
            power("power of strength"),
            power("power of rootstock")
        );
    }
}

#[test]
fn split_plot_tests_hold() {
    split_plots(designs::split_plots(full().is_some()), full().map_or(60, |runs| runs / 2), TrayMode::Auto, "default");
    // Integrals over bays and trays take their time, most of all where hardly any cutting rooted: fewer designs, none in the fast run.
    if let Some(runs) = full() {
        let few = designs::split_plots(true).into_iter();
        let few = few.filter(|design| design.cuttings == 20 && (0.1..=0.8).contains(&design.take));
        split_plots(few.collect(), runs / 2, TrayMode::Random, "random effects");
    }
}

fn split_plots(designs: Vec<SplitPlotDesign>, runs: u64, trays: TrayMode, entering: &str) {
    println!(
        "\n### Split plots: model effect tests, {entering}\n\n| bays | effect | false alarms, mean | highest design | designs above 6.5 % | bays differ (SD 0.6): mean | highest |\n|---|---|---|---|---|---|---|"
    );
    let results = run(designs, runs, |design, random| effects::one_split_plot(design, trays, random));
    let mut means = Vec::new();
    for bays in [3, 4, 6, 8] {
        for (at, effect) in ["dark, between bays", "strength, within bays"].into_iter().enumerate() {
            let Some(found) = results.of("false alarm", at, |design| design.bays == bays) else { continue };
            let differ = results.of("false alarm", at, |design| design.bays == bays && design.bay_sd > 0.5);
            let mut cells = vec![effect.to_owned()];
            cells.extend(alarms(Some(found)));
            cells.extend(alarms(differ).into_iter().take(2));
            line(&bays.to_string(), &cells);
            means.push((format!("{effect}, {bays} bays"), found.mean));
        }
    }
    println!();
    for (at, effect) in ["dark, between bays", "strength, within bays"].into_iter().enumerate() {
        let again = |design: &SplitPlotDesign, random: &mut _| effects::one_split_plot(design, trays, random);
        let found = farthest(&results, Extreme("false alarm", at, true), |_| true, again);
        found.iter().for_each(|design| println!("- farthest out, {entering}, {effect}, {design}"));
    }
    // Random effects are no default: likelihood ratios with few bays may raise somewhat more (models.md).
    let most = if trays == TrayMode::Auto { 0.055 } else { 0.08 };
    means.iter().for_each(|(name, mean)| assert!(*mean <= most, "{entering}, {name}: {mean}"));
}

#[test]
fn strength_curves_hold() {
    let runs = full().map_or(25, |runs| runs / 4);
    let results = run(curves::cases(full().is_some()), runs, curves::one_trial);
    println!(
        "\n### Strength curve, shape = auto\n\n| true curve | strengths | trays | top outside | best strength held | adequate strength held | take held | not located | range holds the best | trees lost per 100 |\n|---|---|---|---|---|---|---|---|---|---|"
    );
    for (case, _) in &results.rows {
        let of = |name| percent(results.of(name, 0, |other| other == case).map(|one| one.mean));
        let names = ["best strength", "adequate strength", "take", "not located", "range holds the best", "trees lost"];
        let start = [case.trays.to_string(), if case.outside { "yes" } else { "no" }.to_owned()];
        let cells: Vec<String> =
            std::iter::once(case.strengths.len().to_string()).chain(start).chain(names.map(of)).collect();
        line(&format!("{:?}", case.truth), &cells);
    }
    let mean = |name, outside| results.of(name, 0, |case: &curves::CurveCase| case.outside == outside).unwrap().mean;
    let slack = 3.0 * (0.07 * 0.93 / (runs * 12) as f64).sqrt();
    for outside in [false, true] {
        for name in ["best strength", "adequate strength"] {
            println!("{name}, top outside {outside}: {}", percent(Some(mean(name, outside))));
            assert!(mean(name, outside) >= 0.93 - slack, "{name}, outside {outside}: {}", mean(name, outside));
        }
        println!("not located, top outside {outside}: {}", percent(Some(mean("not located", outside))));
    }
    assert!(mean("not located", true) >= 0.90 - slack && mean("not located", false) <= 0.10 + slack);
}

/// Curves with strengths that kill or root all: see `curves_at_the_ends.md`.
#[test]
fn curves_at_the_ends_hold() {
    let runs = full().map_or(12, |runs| runs / 4);
    let results = run(curve_ends::cases(), runs, curve_ends::one_trial);
    let names = curve_ends::FIGURES;
    println!(
        "\n### Strength curves with 0 and 100 % cells\n\n| true curve | strengths | trays | {} |",
        names.join(" | ")
    );
    println!("|---|---|---|{}", "---|".repeat(names.len()));
    for (case, _) in &results.rows {
        let of = |name| percent(results.of(name, 0, |other| other == case).map(|one| one.mean));
        let start = [case.strengths.len().to_string(), format!("{} x {}", case.trays, case.cuttings)];
        let cells: Vec<String> = start.into_iter().chain(names.map(of)).collect();
        line(&format!("{:?}", case.truth), &cells);
    }
    let mean = |name| results.of(name, 0, |_| true).unwrap().mean;
    line("mean", &names.map(|name| percent(Some(mean(name)))));
    let slack = |p: f64| 3.0 * (p * (1.0 - p) / (runs * results.rows.len() as u64) as f64).sqrt();
    for name in ["best strength", "adequate strength", "take"] {
        assert!(mean(name) >= 0.93 - slack(0.07), "{name}: {}", mean(name));
    }
    assert!(mean("range agrees") >= 0.95 - slack(0.05), "range agrees: {}", mean("range agrees"));
    assert!(mean("take wider than 40") <= 0.02 + slack(0.02), "wide: {}", mean("take wider than 40"));
    // The median ratio of the widths is at most 1.3 where at most half of the trials lie above.
    assert!(mean("over 1.3 of plain") <= 0.5, "over 1.3: {}", mean("over 1.3 of plain"));
}

/// What the same trials show under some looks; means over designs, printed line by line.
fn looked_at(
    blocks: Option<f64>,
    sizes: &[(usize, usize)],
    looks: &[usize],
    runs: u64,
) -> Results<curve_laws::LawCase> {
    let results =
        run(curve_laws::cases(sizes, blocks), runs.max(1), |case, random| curve_laws::one_trial(case, looks, random));
    println!("\nblocks {blocks:?}, {runs} trials of {} designs", results.rows.len());
    for look in looks {
        let of = |name| results.of(name, *look, |_| true).unwrap();
        let percents = ["best strength", "adequate strength", "take", "not located"].map(|name| of(name).mean);
        let [best, adequate, take, open] = percents.map(|mean| percent(Some(mean)));
        let [width, take_width] = ["width", "take width"].map(|name| format!("{:.3}", of(name).mean));
        let least = percent(Some(of("best strength").low));
        line(&format!("{:?}", curve_laws::LOOKS[*look]), &[best, least, adequate, take, open, width, take_width]);
    }
    results
}

/// Blocks taken out against blocks left in the spread, and the laws of the trays: coverage of the best strength.
#[test]
fn curves_under_laws_hold() {
    let runs = full().map_or(8, |runs| runs / 4);
    let all = [(5, 4), (6, 6), (8, 4), (8, 8)];
    let sizes = if full().is_some() { &all[..] } else { &all[..2] };
    println!(
        "\n### Strength curve under laws and with blocks\n\n| trays, blocks | best strength held | least design | adequate held | take held | not located | width | width of take |\n|---|---|---|---|---|---|---|---|"
    );
    let slack = |trials: u64| 3.0 * (0.07 * 0.93 / trials as f64).sqrt();
    let blocks = looked_at(Some(0.5), sizes, &[0, 1], runs);
    let of = |name, look| blocks.of(name, look, |_| true).unwrap().mean;
    let trials = runs * blocks.rows.len() as u64;
    assert!(of("best strength", 1) >= 0.93 - slack(trials), "{}", of("best strength", 1));
    assert!(of("width", 1) < of("width", 0));
    let plain = looked_at(None, sizes, &[0, 2, 3], (runs / 2).max(2));
    for look in [0, 2, 3] {
        let found = plain.of("best strength", look, |_| true).unwrap().mean;
        assert!(found >= 0.91 - slack(plain.runs * plain.rows.len() as u64), "{look}: {found}");
    }
    if full().is_some() {
        looked_at(Some(0.5), sizes, &[3], runs / 4);
        looked_at(None, &all[..2], &[0, 4], runs / 4);
        looked_at(Some(0.5), &all[..2], &[4], runs / 8);
    }
}

/// Plans promise what trials that are drawn by other means then show: see `plan.md`.
#[test]
fn plans_hold() {
    let draws = full().map_or(2_000, |runs| (runs * 10 / 4).max(10_000));
    plan::achieved_is_planned(draws);
    plan::unequal_correlation(draws);
}

/// Time to roots, with trays: see `steps_time.md`.
#[test]
fn times_to_roots_hold() {
    steps_time::times_hold(full().unwrap_or(200));
}

/// Limits of the chain of steps hold what they promise: see `steps.md`.
#[test]
fn limits_of_steps_hold() {
    steps::limits_hold(full().unwrap_or(100));
}

/// The same of takes and yields alone, from more records: see `steps.md`.
#[test]
fn yields_hold() {
    steps::yields_hold(full().unwrap_or(100));
}

/// What is promised of plants started is reached: see `steps.md`.
#[test]
fn starts_hold() {
    steps::starts_hold(full().unwrap_or(60));
}

/// Limits of what readers agree on and signs tell hold: see `steps.md`.
#[test]
fn readings_hold() {
    steps::readings_hold(full().unwrap_or(200));
}
