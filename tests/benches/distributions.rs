//! Distribution functions of the adjustments: one studentised range or many-to-one quantile, and a family of 28 contrasts.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use rootling::control::Control;
use rootling::math::distributions::dunnett::{Dunnett, Sides};
use rootling::math::distributions::multivariate::{Largest, Precision, Rectangle, rectangle};
use rootling::math::distributions::studentized_range;

/// Correlations of all differences of eight equal means.
fn all_pairs() -> Vec<Vec<f64>> {
    let pairs: Vec<(usize, usize)> = (0..8).flat_map(|i| (i + 1..8).map(move |j| (i, j))).collect();
    let same = |a: usize, b: usize| f64::from(u8::from(a == b));
    let entry = |a: &(usize, usize), b: &(usize, usize)| {
        0.5 * (same(a.0, b.0) + same(a.1, b.1) - same(a.0, b.1) - same(a.1, b.0))
    };
    pairs.iter().map(|a| pairs.iter().map(|b| entry(a, b)).collect()).collect()
}

fn distributions(bench: &mut Criterion) {
    let control = Control::new();
    let precision = Precision { absolute: 3e-4, relative: 0.0, ..Precision::default() };
    let mut group = bench.benchmark_group("adjustments");
    group.sample_size(20);
    group.bench_function("studentised range quantile, 8 groups, 20 dof", |run| {
        run.iter(|| studentized_range::quantile(black_box(0.95), 8, 20.0));
    });
    group.bench_function("many-to-one quantile, 8 groups, 20 dof", |run| {
        run.iter(|| Dunnett::new(&[0.5_f64.sqrt(); 8], black_box(20.0), Sides::Two).quantile(0.95));
    });
    let equal: Vec<Vec<f64>> = (0..8).map(|i| (0..8).map(|j| if i == j { 1.0 } else { 0.5 }).collect()).collect();
    let eight = Rectangle { lower: &[-2.5; 8], upper: &[2.5; 8], covariance: &equal, dof: 20.0 };
    group.bench_function("multivariate t rectangle, 8 dimensions, error 3e-4", |run| {
        run.iter(|| rectangle(black_box(&eight), &precision, &control));
    });
    let pairs = all_pairs();
    group.bench_function("28 contrasts, joint distribution and critical value", |run| {
        run.iter(|| {
            let largest = Largest::new(black_box(&pairs), 20.0, Sides::Two, &Precision::default(), &control);
            largest.and_then(|found| found.isf(0.05))
        });
    });
    group.finish();
}

criterion_group!(benches, distributions);
criterion_main!(benches);
