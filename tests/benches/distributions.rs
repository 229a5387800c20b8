//! Distribution functions of the adjustments: one studentised range or many-to-one quantile, and families of 28 contrasts; and
//! everything a model of a 5 x 3 x 3 trial is asked.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use rootling::control::Control;
use rootling::effects::{ContrastOptions, Direction, Family, LetterOptions, RateOptions, SingleStep, single_step};
use rootling::math::distributions::dunnett::{Dunnett, Sides};
use rootling::math::distributions::multivariate::{Precision, Rectangle, rectangle};
use rootling::math::distributions::studentized_range;
use rootling::math::rng::{beta_binomial, stream};
use rootling::models::{Model, ModelSpec};
use rootling::trial::{Factor, UnitKind, Units};

/// Correlations of all differences of eight means with the given variances.
fn all_pairs(variances: [f64; 8]) -> Vec<Vec<f64>> {
    let pairs: Vec<(usize, usize)> = (0..8).flat_map(|i| (i + 1..8).map(move |j| (i, j))).collect();
    let sign = |pair: &(usize, usize), level: usize| {
        f64::from(u8::from(pair.0 == level)) - f64::from(u8::from(pair.1 == level))
    };
    let entry = |a: &(usize, usize), b: &(usize, usize)| -> f64 {
        variances.iter().enumerate().map(|(level, v)| v * sign(a, level) * sign(b, level)).sum()
    };
    pairs.iter().map(|a| pairs.iter().map(|b| entry(a, b)).collect()).collect()
}

/// Five strengths, three rootstocks, three lengths of darkness, four trays of 20 each.
fn trial() -> Units {
    let mut rng = stream(1, 0);
    let (mut rooted, mut codes) = (Vec::new(), [Vec::new(), Vec::new(), Vec::new()]);
    for cell in 0..45_u32 {
        let (strength, stock, dark) = (cell / 9, cell / 3 % 3, cell % 3);
        let rate = 0.15 + 0.1 * f64::from(strength) + 0.08 * f64::from(stock) + 0.04 * f64::from(dark);
        for _ in 0..4 {
            rooted.push(beta_binomial(&mut rng, 20, rate, 0.05));
            for (list, code) in codes.iter_mut().zip([strength, stock, dark]) {
                list.push(code);
            }
        }
    }
    let factor = |name: &str, levels: &[&str], codes: &Vec<u32>| Factor {
        name: name.into(),
        levels: levels.iter().map(|level| (*level).into()).collect(),
        numbers: levels.iter().map(|level| level.parse().ok()).collect(),
        codes: codes.clone(),
    };
    let [a, b, c] = &codes;
    Units {
        kind: UnitKind::Tray,
        stuck: vec![20; rooted.len()],
        rooted,
        treatments: vec![
            factor("strength", &["0", "500", "1000", "2500", "5000"], a),
            factor("rootstock", &["K12", "K17", "K30"], b),
            factor("dark_days", &["0", "14", "28"], c),
        ],
        tray: None,
        block: None,
        whole_plot: None,
        season: None,
        earlier: None,
        stock_plant: None,
        covariates: vec![],
    }
}

/// Model, effect tests, rates within rootstocks, all pairs of strengths, those against the control within rootstocks, letters.
fn everything(units: &Units, control: &Control) -> rootling::Result<usize> {
    let interactions = vec![vec!["strength".into(), "rootstock".into()], vec!["strength".into(), "dark_days".into()]];
    let spec = ModelSpec { interactions, ..ModelSpec::of(&["strength", "rootstock", "dark_days"]) };
    let model = Model::fit(units, &spec)?;
    let tests = model.what_matters(None)?;
    let rates = model.adjusted_rates("strength", &RateOptions::within("rootstock"))?;
    let pairs = model.contrasts("strength", &ContrastOptions::default(), control)?;
    let within = ContrastOptions {
        against: Some("control".into()),
        within: Some("rootstock".into()),
        ..ContrastOptions::default()
    };
    let against = model.contrasts("strength", &within, control)?;
    let letters = model.letters("strength", &LetterOptions::default(), control)?;
    Ok(tests.numbers.effects.len()
        + rates.numbers.rates.len()
        + pairs.numbers.contrasts.len()
        + against.numbers.contrasts.len()
        + letters.numbers.rates.len())
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
    let eight = Rectangle { lower: &[-2.5; 8], upper: &[2.5; 8], covariance: &equal, df: 20.0 };
    group.bench_function("multivariate t rectangle, 8 dimensions, error 3e-4", |run| {
        run.iter(|| rectangle(black_box(&eight), &precision, &control));
    });
    for (name, variances) in [
        ("28 contrasts, equal trays, joint distribution and critical value", [0.01; 8]),
        (
            "28 contrasts, unequal trays, joint distribution and critical value",
            [0.01, 0.012, 0.02, 0.008, 0.01, 0.015, 0.03, 0.011],
        ),
    ] {
        let covariance = all_pairs(variances);
        let estimates: Vec<f64> = (0..28).map(|at| 0.02 * f64::from(at)).collect();
        group.bench_function(name, |run| {
            run.iter(|| {
                let family = Family {
                    estimates: black_box(&estimates),
                    covariance: &covariance,
                    df: 20.0,
                    direction: Direction::Either,
                };
                single_step(&family, SingleStep::Joint, 0.95, &precision, &control)
            });
        });
    }
    let units = trial();
    group.bench_function("everything of a 5 x 3 x 3 trial", |run| {
        run.iter(|| everything(black_box(&units), &control));
    });
    group.finish();
}

criterion_group!(benches, distributions);
criterion_main!(benches);
