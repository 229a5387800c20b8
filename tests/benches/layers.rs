//! Units above the tray: the layers themselves, a model with its answers, and an association. README.md beside this file says how to read it.
// A benchmark stops on the first surprise, and its measuring macros make undocumented functions.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, missing_docs)]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use rootling::control::Control;
use rootling::effects::{ContrastOptions, RateOptions};
use rootling::math::rng::stream;
use rootling::models::{Model, ModelSpec};
use rootling::simulate::{LayeredDesign, UnitRole, UnitSpread};
use rootling::tables::{AssociationOptions, association};
use rootling::trial::Units;

/// Name, rootstocks, plants of each, bays, blocks, trays of each plant in each bay.
const LAYOUTS: [(&str, u32, u32, u32, u32, u32); 3] = [
    ("2,400 trays of 60 plants", 3, 20, 1, 1, 40),
    ("2,400 trays of 60 plants crossed with 20 bays", 3, 20, 20, 1, 2),
    ("20,000 trays of 400 plants crossed with 50 bays in 10 blocks", 4, 100, 50, 10, 1),
];

fn units((_, rootstocks, plants, bays, blocks, trays): (&str, u32, u32, u32, u32, u32)) -> Units {
    let spread = UnitSpread::Normal(0.5);
    let mut design = LayeredDesign::new(&[("rootstock", rootstocks)], plants * bays * trays, 20);
    if blocks > 1 {
        design = design.with(UnitRole::Block, "block", spread, |tray| tray.copy / trays % bays % blocks);
    }
    if bays > 1 {
        design = design.with(UnitRole::WholePlot, "bay", spread, |tray| tray.copy / trays % bays);
    }
    let design =
        design.with(UnitRole::StockPlant, "plant", spread, |tray| tray.level(0) * plants + tray.copy / (trays * bays));
    design.draw(&mut stream(7, 0))
}

fn layers(bench: &mut Criterion) {
    for layout in LAYOUTS {
        let units = units(layout);
        let spec = ModelSpec::of(&["rootstock"]);
        let mut group = bench.benchmark_group(layout.0);
        group.sample_size(10);
        group.bench_function("model", |run| run.iter(|| Model::fit(black_box(&units), &spec)));
        let model = Model::fit(&units, &spec).expect("a model");
        group.bench_function("tests of its effects", |run| run.iter(|| black_box(&model).what_matters(None)));
        group.bench_function("its rates", |run| {
            run.iter(|| black_box(&model).adjusted_rates("rootstock", &RateOptions::default()));
        });
        group.bench_function("its contrasts", |run| {
            run.iter(|| black_box(&model).contrasts("rootstock", &ContrastOptions::default(), &Control::new()));
        });
        group.bench_function("association", |run| {
            let options = AssociationOptions { randomisations: 99, ..AssociationOptions::default() };
            run.iter(|| association(black_box(&units), "rootstock", &options, &Control::new()));
        });
        group.finish();
    }
}

criterion_group!(benches, layers);
criterion_main!(benches);
