//! Strength curves under laws of the trays and with blocks taken out: reference values, identities, what is refused.

use approx::abs_diff_eq;
use rootling::control::Control;
use rootling::curves::{
    CurveBlocks, CurveInput, CurveOptions, CurveTrays, OneCurve, Shape, ShapeChoice, ShapeFit, TrayCount,
    compare_curves, strength_curve_of, strengths_for,
};
use rootling::math::regression::Link;
use rootling::math::rng;
use rootling::math::special::{expit, logit};
use rootling::models::mixed::{
    BetaBinomialFit, BetaBinomialSpec, Method, RandomInterceptFit, RandomInterceptSpec, Rows, marginal_rate,
};
use serde_json::Value;

use crate::curves::input;
use crate::support::number;

fn reference() -> Value {
    serde_json::from_str(include_str!("../reference/values/curve_laws.json")).unwrap()
}

fn list(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

/// The invented trays, in their blocks.
fn invented(all: &Value) -> Vec<TrayCount> {
    let [d, y, n, b] = ["strength", "rooted", "stuck", "block"].map(|name| list(&all["invented"][name]));
    (0..d.len())
        .map(|i| TrayCount { strength: d[i], rooted: y[i] as u64, stuck: n[i] as u64, block: Some(b[i] as u32) })
        .collect()
}

/// Crowder (1978), Applied Statistics 27:34-37: 16 plates at three dilutions.
fn crowder() -> Vec<TrayCount> {
    let row = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        let (above, below) = cells[1].split_once('/').unwrap();
        let strength = above.parse::<f64>().unwrap() / below.parse::<f64>().unwrap();
        TrayCount { strength, rooted: cells[2].parse().unwrap(), stuck: cells[3].parse().unwrap(), block: None }
    };
    include_str!("../data/crowder_dilution.csv").lines().skip(1).map(row).collect()
}

fn without_blocks(trays: &[TrayCount]) -> Vec<TrayCount> {
    trays.iter().map(|tray| TrayCount { block: None, ..*tray }).collect()
}

fn asked(trays: Vec<TrayCount>, law: CurveTrays, shape: &str) -> CurveInput {
    let options = CurveOptions { trays: law, shape: shape.parse().unwrap(), ..CurveOptions::default() };
    input(vec![("", trays)], law != CurveTrays::Ignore, options)
}

fn in_blocks(mut input: CurveInput, blocks: usize) -> CurveInput {
    let levels = (1..=blocks).map(|b| format!("B{b}")).collect();
    input.blocks = Some(CurveBlocks { column: "bench".to_owned(), levels, places: "bench".to_owned() });
    input
}

fn one(input: &CurveInput) -> OneCurve {
    strength_curve_of(input, &Control::new()).unwrap().numbers.curves.remove(0)
}

fn parameter(fit: &ShapeFit, name: &str) -> f64 {
    fit.parameters.iter().find(|one| one.name == name).unwrap_or_else(|| panic!("{name}: {:?}", fit.parameters)).value
}

fn spread(fit: &ShapeFit) -> f64 {
    fit.parameters.last().unwrap().value
}

// tests/reference/make/curve_laws.py: scipy 1.17.1, densities of scipy.stats and equal steps over the normal density, many starts.
#[test]
fn laws_agree_with_an_independent_optimiser() {
    let all = reference();
    let mut seen = 0;
    for want in all["laws"].as_array().unwrap() {
        let trays = if want["data"] == "crowder" { crowder() } else { without_blocks(&invented(&all)) };
        let law = if want["law"] == "random" { CurveTrays::Random } else { CurveTrays::BetaBinomial };
        let name = format!("{} {} {}", want["data"], want["law"], want["shape"]);
        let found = one(&asked(trays, law, want["shape"].as_str().unwrap()));
        let fit = &found.shapes[0];
        assert!(
            abs_diff_eq!(fit.loglik, number(&want["loglik"]), epsilon = 1e-6),
            "{name}: {} for {}",
            fit.loglik,
            want["loglik"]
        );
        assert!(abs_diff_eq!(fit.deviance, number(&want["deviance"]), epsilon = 1e-5), "{name}: {}", fit.deviance);
        assert!(abs_diff_eq!(spread(fit), number(&want["spread"]), epsilon = 2e-4), "{name}: {}", spread(fit));
        for (level, take) in found.strengths.iter().zip(list(&want["takes"])) {
            assert!(abs_diff_eq!(level.fitted, take, epsilon = 2e-4), "{name}: {} for {take}", level.fitted);
        }
        if let Some(limits) = want.get("best").map(list) {
            assert_rel!(found.best.strength.value, limits[0], 1e-4);
            assert_rel!(found.best.strength.low, limits[1], 1e-4);
            assert_rel!(found.best.strength.high, limits[2], 1e-4);
            seen += 1;
        }
    }
    assert_eq!(seen, 2);
}

// tests/reference/make/curve_laws.py: statsmodels 0.15.0 GLM with strengths' columns and blocks coded to add up to 0.
#[test]
fn blocks_agree_with_logistic_regression() {
    let all = reference();
    for shape in ["straight", "hump"] {
        let want = &all["blocks"][shape];
        let found = one(&in_blocks(asked(invented(&all), CurveTrays::Ignore, shape), 6));
        let fit = &found.shapes[0];
        for (b, shift) in list(&want["shifts"]).into_iter().enumerate() {
            assert_rel!(parameter(fit, &format!("bench B{}", b + 1)), shift, 1e-6);
        }
        let loss = 2.0 * (number(&all["blocks"]["free"]) - number(&want["loglik"]));
        assert_rel!(fit.deviance, loss, 1e-8);
        if shape == "hump" {
            let best = list(&want["best"]);
            assert_rel!(found.best.strength.value, best[0], 1e-6);
            assert_rel!(found.best.strength.low, best[1], 1e-5);
            assert_rel!(found.best.strength.high, best[2], 1e-5);
            assert_rel!(parameter(fit, "take at the top"), expit(number(&want["top"])), 1e-7);
            assert_rel!(found.best.take, number(&want["take"]), 1e-7);
        } else {
            // Log odds at the lowest strength and the gain up to the highest.
            let ends = list(&want["coefficients"]);
            assert_rel!(parameter(fit, "log odds at strength 0"), ends[0], 1e-7);
        }
    }
}

/// A straight line under a law is a model of that law.
#[test]
fn straight_lines_are_models() {
    let trays = without_blocks(&invented(&reference()));
    let control = Control::new();
    let x = [vec![1.0; trays.len()], trays.iter().map(|tray| (tray.strength / 250.0).ln_1p()).collect()];
    let rooted: Vec<f64> = trays.iter().map(|tray| tray.rooted as f64).collect();
    let stuck: Vec<f64> = trays.iter().map(|tray| tray.stuck as f64).collect();
    let rows = Rows { x: &x, rooted: &rooted, stuck: &stuck, offset: &[], copies: &[], link: Link::Logit };
    let beta = BetaBinomialFit::new(&BetaBinomialSpec { rows, rho_of: &[], penalised: false }, &control).unwrap();
    let codes: Vec<usize> = (0..trays.len()).collect();
    let spec = RandomInterceptSpec { rows, groupings: &[&codes], method: Method::Quadrature, penalised: false };
    let random = RandomInterceptFit::new(&spec, &control).unwrap();
    let of = |law| one(&asked(trays.clone(), law, "straight")).shapes.remove(0);
    let fits = [of(CurveTrays::BetaBinomial), of(CurveTrays::Random)];
    let wanted =
        [(&beta.coef, beta.loglik, beta.rho[0].value), (&random.coef, random.loglik, random.deviations[0].value)];
    for (fit, (coef, loglik, value)) in fits.iter().zip(wanted) {
        assert_rel!(fit.loglik, loglik, 1e-9);
        assert_rel!(parameter(fit, "log odds at strength 0"), coef[0], 1e-5);
        assert_rel!(parameter(fit, "slope"), coef[1], 1e-5);
        assert_rel!(spread(fit), value, 1e-5);
    }
}

/// Trays that are more alike than chance makes them leave no spread: both laws are then the binomial law.
#[test]
fn without_spread_laws_are_binomial() {
    let even: Vec<TrayCount> = [(0.0, 4), (500.0, 8), (1000.0, 11), (2000.0, 14), (4000.0, 12), (8000.0, 5)]
        .iter()
        .flat_map(|(strength, rooted)| [0, 1, 0, 1].map(|more| (*strength, rooted + more)))
        .map(|(strength, rooted)| TrayCount { strength, rooted, stuck: 20, block: None })
        .collect();
    for shape in ["hump", "rise-and-fall", "brain-cousens"] {
        let plain = one(&asked(even.clone(), CurveTrays::Ignore, shape));
        for law in [CurveTrays::BetaBinomial, CurveTrays::Random] {
            let found = one(&asked(even.clone(), law, shape));
            assert_eq!(spread(&found.shapes[0]), 0.0, "{shape}");
            assert_rel!(found.shapes[0].deviance, plain.shapes[0].deviance, 1e-6);
            for (a, b) in found.strengths.iter().zip(&plain.strengths) {
                assert_rel!(a.fitted, b.fitted, 1e-6);
            }
            let notes = strength_curve_of(&asked(even.clone(), law, shape), &Control::new()).unwrap().notes;
            assert!(notes.iter().any(|note| note.code == "no_spread_seen"));
        }
    }
}

/// By hand: 3, 5 and 7 of 10, 6, 7 and 8 of 10. Pearson around 1/2 and 7/10: (4 + 0 + 4) / 2.5 + (1 + 0 + 1) / 2.1 on 4 degrees of
/// freedom.
#[test]
fn quasi_divides_by_one_dispersion() {
    let tray = |(strength, rooted)| TrayCount { strength, rooted, stuck: 10, block: None };
    let trays: Vec<TrayCount> =
        [(0.0, 3), (0.0, 5), (0.0, 7), (1000.0, 6), (1000.0, 7), (1000.0, 8)].map(tray).to_vec();
    let dispersion = (3.2 + 2.0 / 2.1) / 4.0;
    let (quasi, plain) = (
        one(&asked(trays.clone(), CurveTrays::Dispersion, "straight")),
        one(&asked(trays.clone(), CurveTrays::Ignore, "straight")),
    );
    assert_eq!(quasi.df, Some(4.0));
    assert_rel!(parameter(&quasi.shapes[0], "slope"), parameter(&plain.shapes[0], "slope"), 1e-8);
    let flat = |law| one(&asked(trays.clone(), law, "flat")).shapes.remove(0).deviance;
    assert_rel!(flat(CurveTrays::Ignore) / flat(CurveTrays::Dispersion), dispersion, 1e-8);
}

/// Trays drawn around a hump, in blocks that differ.
fn drawn(seed: u64, blocks: u32) -> Vec<TrayCount> {
    let mut random = rng::stream(seed, 0);
    let shifts: Vec<f64> = (0..blocks).map(|_| 0.5 * rng::deviate(&mut random)).collect();
    let takes = [(0.0, 0.15), (500.0, 0.38), (1000.0, 0.55), (2000.0, 0.72), (4000.0, 0.62), (8000.0, 0.22)];
    let mut trays = Vec::new();
    for (strength, take) in takes {
        for (block, shift) in shifts.iter().enumerate() {
            let rooted = rng::beta_binomial(&mut random, 20, expit(logit(take) + shift), 0.05);
            trays.push(TrayCount { strength, rooted, stuck: 20, block: Some(block as u32) });
        }
    }
    trays
}

const LAWS: [CurveTrays; 4] = [CurveTrays::Auto, CurveTrays::Dispersion, CurveTrays::BetaBinomial, CurveTrays::Random];

/// Every answer has finite figures in their order, under every law, with and without blocks.
#[test]
fn every_answer_under_every_law() {
    let control = Control::new();
    for law in LAWS {
        for blocks in [false, true] {
            let (mut a, mut b) = (drawn(1, 6), drawn(2, 6));
            if !blocks {
                (a, b) = (without_blocks(&a), without_blocks(&b));
            }
            let options =
                CurveOptions { trays: law, within: vec!["rootstock".to_owned()], draws: 24, ..CurveOptions::default() };
            let mut both = input(vec![("K12", a), ("K17", b)], true, options);
            if blocks {
                both = in_blocks(both, 6);
            }
            let answer = strength_curve_of(&both, &control).unwrap();
            for curve in &answer.numbers.curves {
                let best = &curve.best;
                let name = format!("{law:?} {blocks} {}", curve.name);
                assert!(best.strength.low <= best.strength.value, "{name}");
                assert!(best.strength.value <= best.strength.high, "{name}");
                assert!((800.0..4500.0).contains(&best.strength.value), "{name} {best:?}");
                assert!(best.take_low < best.take && best.take < best.take_high, "{name}");
                assert!(best.range_low <= best.strength.value && best.strength.value <= best.range_high, "{name}");
                assert!(best.adequate.low <= best.adequate.value, "{name}");
                let drawn = best.bootstrap.as_ref().unwrap();
                assert!(drawn.low <= drawn.high, "{name}");
                let weights: f64 = curve.shapes.iter().map(|shape| shape.weight).sum();
                assert_rel!(weights, 1.0, 1e-9, "{name}");
                assert!(curve.shapes.iter().all(|shape| shape.lack_p.is_none_or(|p| (0.0..=1.0).contains(&p))));
                assert!(curve.line.value.iter().zip(&curve.line.high).all(|(a, b)| a <= b), "{name}");
            }
            let rows = strengths_for(&both, 0.4, &control).unwrap().numbers.rows;
            let lead = &rows[0];
            assert!(lead.low <= lead.value.unwrap() && lead.value.unwrap() <= lead.high, "{lead:?}");
            let compared = compare_curves(&both, &control).unwrap().numbers.compared;
            assert!(compared.tests.iter().all(|test| (0.0..=1.0).contains(&test.p)), "{compared:?}");
            let shift = &compared.distances[0];
            assert!(shift.low < shift.value && shift.value < shift.high, "{law:?} {blocks} {shift:?}");
            let text = serde_json::to_string(&answer).unwrap();
            let again: rootling::Answer<rootling::curves::StrengthCurve> = serde_json::from_str(&text).unwrap();
            assert_eq!((&again.sentence, &again.numbers.input), (&answer.sentence, &answer.numbers.input));
        }
    }
}

/// The same trays twice do not differ, whatever the law; and shifted strengths are found again.
#[test]
fn compared_under_laws() {
    for law in LAWS {
        let trays = drawn(3, 6);
        let options = CurveOptions {
            trays: law,
            within: vec!["rootstock".to_owned()],
            shape: ShapeChoice::One(Shape::Hump),
            ..CurveOptions::default()
        };
        let both = in_blocks(input(vec![("K12", trays.clone()), ("K17", trays)], true, options), 6);
        let found = compare_curves(&both, &Control::new()).unwrap();
        for test in &found.numbers.compared.tests {
            assert!(test.p > 0.99, "{law:?} {test:?}");
        }
        assert!(found.numbers.compared.distances[0].value.abs() < 1e-4, "{law:?}");
    }
}

/// Under random effects the take asked for is that over all trays.
#[test]
fn strengths_are_for_takes_over_all_trays() {
    let input = asked(without_blocks(&invented(&reference())), CurveTrays::Random, "hump");
    let fit = one(&input).shapes.remove(0);
    let row = strengths_for(&input, 0.5, &Control::new()).unwrap().numbers.rows.remove(0);
    let axis = |d: f64| (d / parameter(&fit, "d0 of the axis")).ln_1p();
    let off = axis(row.value.unwrap()) - axis(parameter(&fit, "strength at the top"));
    let eta = logit(parameter(&fit, "take at the top")) - parameter(&fit, "curvature") * off * off;
    assert_rel!(marginal_rate(Link::Logit, eta, spread(&fit)).rate, 0.5, 1e-8);
    assert!(row.low < row.value.unwrap() && row.value.unwrap() < row.high);
}

#[test]
fn drawn_trials_under_laws_do_not_depend_on_threads() {
    for law in [CurveTrays::BetaBinomial, CurveTrays::Random] {
        let mut input = in_blocks(asked(drawn(4, 4), law, "hump"), 4);
        input.options.draws = 70;
        let run = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| strength_curve_of(&input, &Control::new()).unwrap())
        };
        assert_eq!(run(1), run(3));
    }
}

#[test]
fn all_rooted_or_none_under_laws() {
    for law in LAWS {
        for rooted in [0, 20] {
            let trays = drawn(5, 4).iter().map(|tray| TrayCount { rooted, ..*tray }).collect();
            let answer = strength_curve_of(&in_blocks(asked(trays, law, "auto"), 4), &Control::new()).unwrap();
            let curve = &answer.numbers.curves[0];
            assert!(curve.all_alike && curve.best.take_low < curve.best.take_high, "{law:?}");
        }
        // Strengths that rooted wholly or not at all leave finite answers.
        let ends = |strength: f64| if strength == 0.0 { 0 } else { 20 };
        let trays: Vec<TrayCount> = drawn(5, 4)
            .iter()
            .map(|tray| {
                if (500.0..5000.0).contains(&tray.strength) {
                    *tray
                } else {
                    TrayCount { rooted: 20 - ends(tray.strength), ..*tray }
                }
            })
            .collect();
        let curve = one(&in_blocks(asked(trays, law, "auto"), 4));
        assert!(curve.line.value.iter().all(|rate| (0.0..=1.0).contains(rate)), "{law:?}");
        assert!(curve.shapes.iter().all(|shape| shape.loglik.is_finite()), "{law:?}");
    }
}

fn refused(trays: Vec<TrayCount>, law: CurveTrays) -> String {
    strength_curve_of(&asked(trays, law, "auto"), &Control::new()).unwrap_err().to_string()
}

#[test]
fn what_no_law_can_be_fitted_to() {
    let single: Vec<TrayCount> = drawn(6, 1).iter().map(|tray| TrayCount { block: None, ..*tray }).collect();
    let ones: Vec<TrayCount> = without_blocks(&drawn(6, 8))
        .iter()
        .enumerate()
        .map(|(i, tray)| TrayCount { rooted: u64::from(i % 3 == 0), stuck: 1, ..*tray })
        .collect();
    for (law, name) in [(CurveTrays::BetaBinomial, "beta-binomial"), (CurveTrays::Random, "random")] {
        assert_eq!(
            refused(single.clone(), law),
            format!("trays={name:?} cannot be fitted to all trays: no strength has two trays; use trays=\"auto\"")
        );
        assert_eq!(
            refused(ones.clone(), law),
            format!(
                "trays={name:?} cannot be fitted to all trays: every tray holds a single cutting; use trays=\"auto\""
            )
        );
    }
    assert_eq!(
        refused(single, CurveTrays::Dispersion),
        "trays=\"dispersion\" cannot be fitted to all trays: no strength has two trays; use trays=\"auto\""
    );
}
