//! A rate against a target or last season, where seasons differ and few of them are known.

use rootling::control::Control;
use rootling::math::rng;
use rootling::math::special::{expit, logit};
use rootling::watch::{Aim, BaselineOptions, BatchSpread, TargetOptions, Watch, WeeklyDesign};

use crate::summary::Figures;

/// The rate that seasons with such a standard deviation average to.
fn average(rate: f64, season: f64) -> f64 {
    let points = 2001;
    let weight = |at: i32| {
        let z = 12.0 * f64::from(at) / f64::from(points - 1) - 6.0;
        ((-0.5 * z * z).exp(), expit(logit(rate) + season * z))
    };
    let (all, sum) = (0..points).map(weight).fold((0.0, 0.0), |(all, sum), (w, rate)| (all + w, sum + w * rate));
    sum / all
}

#[test]
fn a_target_that_is_met_is_seldom_said_to_be_missed() {
    let cases: Vec<(u32, f64)> =
        [3, 4, 6].into_iter().flat_map(|seasons| [0.0, 0.1, 0.25].map(|sd| (seasons, sd))).collect();
    let results = crate::run(cases, crate::full().unwrap_or(20), |(seasons, sd), random| {
        let design = WeeklyDesign {
            weeks: 28,
            seasons: seasons + 1,
            batches: 6,
            places: vec![0.0, 0.1],
            spread: BatchSpread::Correlation(0.03),
            week: 0.1,
            week_in_place: 0.1,
            season: *sd,
            ..WeeklyDesign::default()
        };
        let watch = Watch::new(design.draw(u64::from(rng::below(random, u32::MAX)), 0), design.groupings());
        let until =
            BaselineOptions { until: Some(16_440 + 7 * 52 * *seasons as i32 - 1), ..BaselineOptions::default() };
        let baseline = watch.baseline(&until, &Control::new()).unwrap();
        // The average of both rooms.
        let target = 0.5 * (average(design.rate, *sd) + average(expit(logit(design.rate) + 0.1), *sd));
        let options = TargetOptions::default();
        let found = watch.target(target, &baseline, &options).unwrap().numbers;
        let last = watch.target(Aim::LastSeason, &baseline, &options).unwrap().numbers;
        let missed = watch.target(target + 0.08, &baseline, &options).unwrap().numbers;
        let mut figures = Figures::default();
        let wrong = |p: f64| f64::from(u8::from(p <= 0.05));
        figures.add("target", 0, wrong(found.p));
        figures.add("last", 0, wrong(last.p));
        figures.add("missed", 0, wrong(missed.p));
        figures.add("z", 0, f64::from(u8::from(found.z_of_seasons.unwrap().abs() > 1.96)));
        figures
    });
    println!(
        "\n| seasons of the baseline | SD of seasons | target met, P at most 0.05 | like last season, P at most 0.05 | target met, beyond 1.96 standard errors | target 8 points higher, P at most 0.05 |\n|---|---|---|---|---|---|"
    );
    for ((seasons, sd), figures) in &results.rows {
        let of = |name| 100.0 * figures.mean(name, 0, results.runs as f64);
        println!(
            "| {seasons} | {sd} | {:.1} % | {:.1} % | {:.1} % | {:.0} % |",
            of("target"),
            of("last"),
            of("z"),
            of("missed")
        );
    }
    let drawn = results.rows.len() as f64 * results.runs as f64;
    for name in ["target", "last"] {
        let mean = results.of(name, 0, |_| true).unwrap().mean;
        println!("{name}: {:.1} % wrong", 100.0 * mean);
        assert!(mean <= 0.05 + 2.5 * (0.05 * 0.95 / drawn).sqrt(), "{name}: {mean}");
    }
}
