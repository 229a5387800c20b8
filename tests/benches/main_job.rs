//! The main job on a million rows, one per cutting: check, take rates, model. README.md beside this file says how to read it.
// A benchmark stops on the first surprise, and its measuring macros make undocumented functions.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, missing_docs)]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use rootling::models::{Model, ModelSpec};
use rootling::rates::{TakeRatesOptions, take_rates};
use rootling::trial::{Column, Frame, LoadOptions, Source, Trial, from_frame};

const CUTTINGS: u64 = 1_000_000;
const LAYOUTS: [u64; 3] = [0, 2_400, 50_000];
const STRENGTHS: [i64; 3] = [0, 2500, 5000];
const ROOTSTOCKS: [&str; 3] = ["K12", "K17", "K30"];

/// Invented records without a random generator: tray by tray through all combinations, rooted by a fixed pattern. Without
/// trays the combinations still take turns.
fn records(trays: u64) -> Frame {
    let tray = |row: u64| row * if trays > 0 { trays } else { 50_000 } / CUTTINGS;
    let strength = |row: u64| (tray(row) % 3) as usize;
    let rootstock = |row: u64| (tray(row) / 3 % 3) as usize;
    let rows = || 0..CUTTINGS;
    let rooted = |row: u64| (row.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 58) < 16 + 12 * strength(row) as u64;
    let mut columns = vec![
        Column::whole("strength", rows().map(|row| Some(STRENGTHS[strength(row)]))),
        Column::texts("rootstock", rows().map(|row| Some(ROOTSTOCKS[rootstock(row)]))),
        Column::whole("rooted", rows().map(|row| Some(i64::from(rooted(row))))),
    ];
    if trays > 0 {
        columns.push(Column::texts("tray", rows().map(|row| Some(format!("T{:05}", tray(row))))));
    }
    Frame::new(columns).expect("columns of one length")
}

fn load(frame: Frame) -> Trial {
    let tray = frame.column("tray").map(|column| column.name().to_owned());
    let options = LoadOptions {
        rooted: "rooted".into(),
        treatments: vec!["strength".into(), "rootstock".into()],
        tray,
        ..LoadOptions::default()
    };
    from_frame(frame, Source::Frame, &options).expect("records without faults")
}

fn main_job(bench: &mut Criterion) {
    for trays in LAYOUTS {
        let frame = records(trays);
        let trial = load(frame.clone());
        let mut group = bench.benchmark_group(format!("a million cuttings in {trays} trays"));
        group.sample_size(10);
        group.bench_function("load and check", |run| run.iter(|| load(black_box(frame.clone()))));
        group.bench_function("take rates", |run| {
            run.iter(|| take_rates(black_box(trial.units()), &["strength"], &TakeRatesOptions::default()));
        });
        let spec = ModelSpec::of(&["strength", "rootstock"]);
        group.bench_function("model", |run| run.iter(|| Model::fit(black_box(trial.units()), &spec)));
        group.finish();
    }
}

criterion_group!(benches, main_job);
criterion_main!(benches);
