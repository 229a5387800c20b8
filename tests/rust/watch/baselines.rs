//! Baselines: what is put in comes out, 0 and 100 % are ordinary, an independent route to the likelihood.

use rootling::control::Control;
use rootling::math::special::logit;
use rootling::watch::{BaselineOptions, Batch, BatchSpread, Expectations, Watch, WeeklyDesign};

fn all() -> BaselineOptions {
    BaselineOptions { until: Some(i32::MAX), ..BaselineOptions::default() }
}

#[test]
fn rates_and_layers_come_out_as_they_were_put_in() {
    let design = WeeklyDesign {
        seasons: 4,
        batches: 18,
        cultivars: vec![0.0, 0.6, -0.5],
        places: vec![0.0, 0.3, -0.2],
        spread: BatchSpread::Correlation(0.05),
        week: 0.2,
        week_in_place: 0.25,
        wave: 0.3,
        ..WeeklyDesign::default()
    };
    let watch = Watch::new(design.draw(7, 1), design.groupings());
    let baseline = watch.baseline(&all(), &Control::new()).unwrap();
    assert!(baseline.has_wave() && baseline.converged);
    // 3,744 batches in 208 weeks: standard errors of about 0.05, and of a tenth of the layers.
    let want = [logit(0.88), 0.6, -0.5, 0.3, -0.2];
    for (got, want) in baseline.coefficients.iter().zip(want) {
        assert!((got - want).abs() < 0.12, "{:?}", baseline.coefficients);
    }
    assert!((baseline.coefficients[5].hypot(baseline.coefficients[6]) - 0.3).abs() < 0.1);
    assert!((baseline.spreads.batch - 0.05).abs() < 0.015, "{:?}", baseline.spreads);
    assert!((baseline.spreads.week - 0.2).abs() < 0.07, "{:?}", baseline.spreads);
    assert!((baseline.spreads.week_in_place - 0.25).abs() < 0.07, "{:?}", baseline.spreads);
    assert_eq!(baseline.season_spread.map(|spread| spread < 0.15), Some(true));
}

#[test]
fn layers_are_unbiased_on_the_whole() {
    let design = WeeklyDesign {
        seasons: 1,
        batches: 4,
        week_in_place: 0.3,
        spread: BatchSpread::Correlation(0.04),
        ..WeeklyDesign::default()
    };
    let (mut batch, mut week) = (0.0, 0.0);
    for replicate in 0..60 {
        let watch = Watch::new(design.draw(3, replicate), design.groupings());
        let baseline = watch.baseline(&all(), &Control::new()).unwrap();
        batch += baseline.spreads.batch / 60.0;
        week += baseline.spreads.week_in_place.powi(2) / 60.0;
    }
    assert!((batch - 0.04).abs() < 0.01, "correlation {batch}");
    assert!((week - 0.09).abs() < 0.03, "variance of weeks {week}");
}

#[test]
fn without_layers_a_baseline_is_the_penalised_binomial_fit() {
    // Batches of one plant in weeks of their own leave no layer: the fit of a saturated table of Bernoulli counts, whose penalised logit of a
    // of n is that of (a + 1/2) / (n + 1) (Firth 1993, Biometrika 80:27-38).
    let batch = |at: usize, level: u32, alive: u64| Batch {
        name: format!("b{at}"),
        row: 0,
        set: 16_440 + 7 * at as i32,
        read: 16_500 + 7 * at as i32,
        started: 1,
        alive,
        levels: vec![level, 0],
        season: 0,
        steps: Vec::new(),
    };
    let design = WeeklyDesign { cultivars: vec![0.0, 0.0], ..WeeklyDesign::default() };
    let batches: Vec<Batch> =
        (0..40).map(|at| batch(at, u32::from(at % 2 == 1), u64::from(at % 2 == 1 || at % 4 == 0))).collect();
    let watch = Watch::new(batches, design.groupings());
    let baseline = watch.baseline(&all(), &Control::new()).unwrap();
    let expected = Expectations::of(&baseline, watch.groupings());
    let logits: Vec<f64> = watch.batches().iter().take(2).map(|batch| expected.logit(batch).unwrap()).collect();
    // Levels: 10 of 20 alive, and 20 of 20.
    let spreads = baseline.spreads;
    assert!(spreads.week.hypot(spreads.week_in_place) < 1e-3, "{spreads:?}");
    assert!(logits[0].abs() < 1e-4, "{logits:?}");
    assert_rel!(logits[1], logit(20.5 / 21.0), 1e-3);
}

#[test]
fn levels_never_seen_have_no_expectation_and_lost_columns_are_named() {
    let design = WeeklyDesign { cultivars: vec![0.0, 0.3], places: vec![0.0, 0.1], ..WeeklyDesign::default() };
    let mut batches = design.draw(2, 0);
    // Each cultivar in a room of its own: one of the two cannot be told.
    batches.iter_mut().for_each(|batch| batch.levels[1] = batch.levels[0]);
    let watch = Watch::new(batches, design.groupings());
    let baseline = watch.baseline(&all(), &Control::new()).unwrap();
    assert_eq!(baseline.inseparable, [("room".to_owned(), "room 2".to_owned())]);
    let expected = Expectations::of(&baseline, watch.groupings());
    assert!(expected.logit(&watch.batches()[0]).is_some());
    let mut more = watch.groupings().to_vec();
    more[0].levels.push("K99".to_owned());
    let unknown = Batch { levels: vec![2, 0], ..watch.batches()[0].clone() };
    assert_eq!(Expectations::of(&baseline, &more).logit(&unknown), None);
    // A record whose levels stand in another order means the same.
    let mut turned = watch.groupings().to_vec();
    turned[0].levels.reverse();
    let swapped = Batch {
        levels: vec![1 - watch.batches()[0].levels[0], watch.batches()[0].levels[1]],
        ..watch.batches()[0].clone()
    };
    assert_eq!(Expectations::of(&baseline, &turned).logit(&swapped), expected.logit(&watch.batches()[0]));
}

#[test]
fn too_few_batches_are_refused_in_words() {
    let design = WeeklyDesign { weeks: 4, seasons: 1, batches: 3, ..WeeklyDesign::default() };
    let watch = Watch::new(design.draw(1, 1), design.groupings());
    let error = watch.baseline(&all(), &Control::new()).unwrap_err().to_string();
    assert!(error.contains("12 over 4"), "{error}");
}

#[test]
fn a_baseline_that_holds_a_drop_says_so() {
    use rootling::watch::Drop;
    let design = WeeklyDesign { seasons: 2, batches: 8, places: vec![0.0, 0.1, 0.0], ..WeeklyDesign::default() };
    let dropped = WeeklyDesign { drop: Some(Drop { week: 60, by: -1.0, place: Some(1) }), ..design.clone() };
    let notes = |design: &WeeklyDesign, replicate: u64| {
        let watch = Watch::new(design.draw(12, replicate), design.groupings());
        let found = watch.expected(&all(), &Control::new()).unwrap();
        found.notes.iter().any(|note| note.code == "drop_within_baseline")
    };
    assert_eq!((0..6).filter(|at| notes(&design, *at)).count(), 0);
    assert!((0..6).filter(|at| notes(&dropped, *at)).count() >= 4);
}

#[test]
fn vast_batches_have_a_baseline_too() {
    let design = WeeklyDesign {
        seasons: 1,
        batches: 2,
        started: (4000, 6000),
        spread: BatchSpread::Correlation(0.02),
        ..WeeklyDesign::default()
    };
    let watch = Watch::new(design.draw(6, 0), design.groupings());
    let baseline = watch.baseline(&all(), &Control::new()).unwrap();
    let spread = baseline.spreads;
    // Of two batches a week the layer of weeks takes a part; together they are what the batches were drawn with.
    let layers = spread.week.hypot(spread.week_in_place);
    let together = spread.batch + layers * layers * 0.88 * 0.12;
    assert!((together - 0.02).abs() < 0.008, "{spread:?}");
}
