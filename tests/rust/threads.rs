//! Results do not depend on the number of threads.

use rootling::compare::{AllOptions, RandomisationOptions, all_levels, randomisation};
use rootling::control::Control;
use rootling::counts::{
    ContingencyTable, ExactOptions, UnconditionalOrder, freeman_halton, linear_by_linear, trend, unconditional,
};
use rootling::curves::{CurveOptions, strength_curve_of, strengths_for};
use rootling::rates::{IntervalMethod, Sides, TargetMethod, against_target_many, interval_many};
use rootling::simulate::{TrayDesign, TraySizes};
use rootling::tables::{AssociationOptions, association};

/// The same on one thread and on three, to the last digit.
#[track_caller]
fn same<T: serde::Serialize + Send>(work: impl Fn() -> rootling::Result<T> + Send + Sync) {
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        serde_json::to_string(&pool.install(|| work().unwrap())).unwrap()
    };
    assert_eq!(run(1), run(3));
}

#[test]
fn threads_change_no_result() {
    let control = Control::new();
    let stuck: Vec<u64> = (0..12_000).map(|at| 20 + 11 * at).collect();
    let rooted: Vec<u64> = stuck.iter().map(|stuck| stuck * 3 / 7).collect();
    let targets = vec![0.4; stuck.len()];
    for method in [IntervalMethod::ClopperPearson, IntervalMethod::Blaker, IntervalMethod::Wilson] {
        same(|| interval_many(&rooted, &stuck, method, 0.95, Sides::Both, &control));
    }
    same(|| against_target_many(&rooted, &stuck, &targets, TargetMethod::MidP, &control));
    let two = ContingencyTable::new(vec![vec![700, 500], vec![640, 560]]).unwrap();
    let wide = ContingencyTable::new(vec![vec![9, 4, 3, 7], vec![2, 8, 6, 5], vec![7, 7, 1, 3]]).unwrap();
    same(|| unconditional(&two, UnconditionalOrder::Boschloo, 0.95, &control));
    let drawn = ExactOptions { work: 0, draws: 3_000, seed: 5 };
    for exact in [ExactOptions::default(), drawn] {
        same(|| freeman_halton(&wide, exact, &control));
        same(|| trend(&[3, 7, 9], &[20, 22, 19], &[0.0, 1.0, 3.0], exact, &control));
        same(|| linear_by_linear(&wide, &[1.0, 2.0, 3.0], &[0.0, 1.0, 2.0, 5.0], exact, &control));
    }
    let rates: Vec<f64> = (0..40).map(|at| f64::from(at) / 50.0).collect();
    let options = RandomisationOptions { draws: 5_000, ..RandomisationOptions::default() };
    same(|| randomisation(&rates, &rates[..30], &options, &control));
    let design = TrayDesign {
        takes: vec![0.3, 0.5, 0.6],
        trays: 14,
        cuttings: 20,
        sizes: TraySizes::Uneven,
        icc: 0.1,
        blocks: None,
    };
    let units = design.draw(&mut rootling::math::rng::stream(3, 0)).units();
    let options = AssociationOptions { randomisations: 3_000, ..AssociationOptions::default() };
    same(|| association(&units, "strength", &options, &control));
    let mut options = AllOptions::default();
    options.compare.randomisations = 3_000;
    same(|| all_levels(&units, "strength", &options, &control));
    let trays = crate::curves::rows(include_str!("../data/hump_invented.csv"), [0, 2, 1]);
    let curve = crate::curves::input(vec![("", trays)], false, CurveOptions::default());
    same(|| strength_curve_of(&curve, &control));
    same(|| strengths_for(&curve, 0.5, &control));
}
