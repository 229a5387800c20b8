//! What is said after a signal: setting or reading, and the levels that stand out.

use rootling::control::Control;
use rootling::math::rng;
use rootling::watch::{
    BaselineOptions, BatchSpread, Drop, GoesWith, Grouping, Part, SignalOptions, Watch, WeeklyDesign,
};

use crate::summary::Figures;
use crate::watch::{crop, two_seasons};

/// Whether a change went with the week of setting or with that of reading: claims in crops of which the other is true, and of which neither can be
/// told since batches set together are read together.
#[test]
fn setting_and_reading_are_seldom_taken_for_each_other() {
    // Days by which readings come later at most, and whether the drop comes with reading.
    let cases: Vec<(i32, bool, f64)> = vec![
        (0, false, -0.7),
        (0, true, -0.7),
        (14, false, -0.7),
        (14, true, -0.7),
        (40, false, -0.7),
        (40, true, -0.7),
        (40, false, -1.2),
        (40, true, -1.2),
    ];
    let results = crate::run(cases, crate::full().unwrap_or(8), |(spread, by_reading, by), random| {
        let drop = Drop { week: 104 + 10, by: *by, place: None };
        let design = WeeklyDesign {
            age_spread: *spread,
            by_reading: *by_reading,
            ..crop(BatchSpread::Correlation(0.03), Some(drop))
        };
        let watch = Watch::new(design.draw(u64::from(rng::below(random, u32::MAX)), 0), design.groupings());
        let control = Control::new();
        let until = BaselineOptions { until: Some(16_440 + 7 * (52 + 30) + 65 + spread), ..BaselineOptions::default() };
        let baseline = watch.baseline(&until, &control).unwrap();
        let options = SignalOptions { draws: 199, ..SignalOptions::default() };
        let mut figures = Figures::default();
        if let Some(change) = watch.change(&baseline, &options, &control).unwrap().filter(|change| change.p <= 0.05) {
            let right = if *by_reading { GoesWith::Reading } else { GoesWith::Setting };
            figures.add("told", 0, 1.0);
            figures.add("right", 0, f64::from(u8::from(change.goes_with == right)));
            figures.add(
                "wrong",
                0,
                f64::from(u8::from(change.goes_with != right && change.goes_with != GoesWith::Open)),
            );
        }
        figures
    });
    println!(
        "\n| readings later by up to, days | true | drop (logit) | told rightly | told wrongly |\n|---|---|---|---|---|"
    );
    let (mut wrong, mut told) = (0.0, 0.0);
    for ((spread, by_reading, by), figures) in &results.rows {
        let of = |name| figures.mean(name, 0, results.runs as f64);
        let share = of("told").max(1e-9);
        let name = if *by_reading { "reading" } else { "setting" };
        let (right, mistaken) = (100.0 * of("right") / share, 100.0 * of("wrong") / share);
        println!("| {spread} | {name} | {by} | {right:.1} % | {mistaken:.1} % |");
        wrong += of("wrong");
        told += of("told");
    }
    println!("setting and reading taken for each other in {:.1} %", 100.0 * wrong / told);
    let drawn = told * results.runs as f64;
    assert!(wrong / told <= 0.05 + 2.0 * (0.05 * 0.95 / drawn).sqrt(), "{wrong} of {told}");
}

/// Of which levels a drop is told: that which has it, and innocents beside it, in crops where grafters and rooms are crossed by chance and where each
/// grafter works mostly in one room.
#[test]
fn innocent_levels_are_seldom_named_beside_the_one_that_has_the_drop() {
    let cases: Vec<(f64, f64)> = vec![(-0.8, 0.0), (-1.2, 0.0), (-0.8, 0.6), (-1.2, 0.6)];
    let results = crate::run(cases, crate::full().unwrap_or(8), |(by, mostly), random| {
        let drop = Drop { week: 104 + 10, by: *by, place: Some(1) };
        let design =
            WeeklyDesign { week_in_place: 0.0, batches: 12, ..crop(BatchSpread::Correlation(0.03), Some(drop)) };
        // The levels that have the drop are grafters; those of the other column are rooms, and a third one holds cultivars without a difference.
        let mut groupings = design.groupings();
        groupings[0] = Grouping { name: "room".to_owned(), part: Part::Place, ..groupings[0].clone() };
        groupings[1] = Grouping { name: "grafter".to_owned(), part: Part::Grafter, ..groupings[1].clone() };
        groupings.push(Grouping {
            name: "rootstock".to_owned(),
            part: Part::Cultivar,
            levels: vec!["K1".into(), "K2".into()],
        });
        let mut batches = design.draw(u64::from(rng::below(random, u32::MAX)), 0);
        batches.retain(|batch| batch.levels[0] == batch.levels[1] || rng::uniform(random) >= *mostly);
        batches.iter_mut().for_each(|batch| batch.levels.push(rng::below(random, 2)));
        let watch = Watch::new(batches, groupings);
        let control = Control::new();
        let baseline = watch.baseline(&two_seasons(), &control).unwrap();
        let options = SignalOptions { draws: 199, ..SignalOptions::default() };
        let mut figures = Figures::default();
        if let Some(change) = watch.change(&baseline, &options, &control).unwrap().filter(|change| change.p <= 0.05) {
            let is_true = |one: &&rootling::watch::PlaceChange| one.grouping == "grafter" && one.level == "room 2";
            let stands = || change.places.iter().filter(|one| one.stands_out);
            figures.add("told", 0, 1.0);
            figures.add("true", 0, f64::from(u8::from(stands().any(|one| is_true(&one)))));
            figures.add(
                "innocent",
                0,
                f64::from(u8::from(stands().any(|one| !is_true(&one) && one.not_apart_from.is_empty()))),
            );
            figures.add("open", 0, f64::from(u8::from(stands().any(|one| !one.not_apart_from.is_empty()))));
            figures.add(
                "by itself",
                0,
                f64::from(u8::from(change.places.iter().any(|one| one.p <= 0.05 && !is_true(&one)))),
            );
        }
        figures
    });
    println!(
        "\n| drop of one grafter (logit) | batches that keep grafters to rooms | the grafter is named | an innocent is named | not told apart | innocent with P at most 0.05 by itself |\n|---|---|---|---|---|---|"
    );
    let (mut innocent, mut told) = (0.0, 0.0);
    for ((by, mostly), figures) in &results.rows {
        let of = |name| figures.mean(name, 0, results.runs as f64);
        let share = of("told").max(1e-9);
        let cell = |name| 100.0 * of(name) / share;
        println!(
            "| {by} | {:.0} % | {:.0} % | {:.1} % | {:.0} % | {:.0} % |",
            100.0 * mostly,
            cell("true"),
            cell("innocent"),
            cell("open"),
            cell("by itself")
        );
        innocent += of("innocent");
        told += of("told");
    }
    println!("innocents named in {:.1} %", 100.0 * innocent / told);
    let drawn = told * results.runs as f64;
    assert!(innocent / told <= 0.06 + 2.0 * (0.06 * 0.94 / drawn).sqrt(), "{innocent} of {told}");
}
