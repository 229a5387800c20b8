//! 200 generated models against the fits of other programs; the data are made here again from the same whole numbers.

use approx::abs_diff_eq;
use rootling::models::{Link, Model, ModelSpec};
use rootling::trial::{Covariate, Factor, UnitKind, Units};
use serde_json::Value;

use super::{estimates, factor, quasi, spec, units};
use crate::support::number;

/// A linear congruential generator of 64 bits, as in `tests/reference/make/generated_fits.py`.
struct Draws(u64);

impl Draws {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % limit
    }
}

const SIZES: [u64; 10] = [4, 6, 9, 12, 20, 40, 80, 160, 400, 2000];
const WEIGHTS: [f64; 5] = [0.0, 0.5, 1.0, 2.0, 3.25];

/// The units of a case.
pub(super) fn case(index: u64, kind: &str) -> (Units, u64) {
    let mut draws = Draws(index + 1);
    let repeat = index / 10;
    let mut n = SIZES[(repeat % 10) as usize];
    let mut levels = [2 + draws.below(4), 2 + draws.below(3)];
    if kind == "many" {
        (levels, n) = ([8, 5], n.max(80));
    }
    let shift = [0.0, 50.0, -3.0][(repeat % 3) as usize];
    let effects = levels.map(|size| (0..size).map(|_| draws.below(400)).collect::<Vec<u64>>());
    let (mut a, mut b, mut rooted, mut stuck) = (vec![], vec![], vec![], vec![]);
    let mut numbers: [Vec<f64>; 3] = Default::default();
    for tray in 0..n {
        let first = if kind == "unbalanced" { draws.below(levels[0]) } else { tray % levels[0] };
        let second = tray / levels[0] % levels[1];
        let step = draws.below(2001) as i64;
        let m = if matches!(kind, "balanced" | "many") { 20 } else { 1 + draws.below(40) };
        let base = 100 + effects[0][first as usize] as i64 + effects[1][second as usize] as i64;
        let rate = (base + (step - 1000).div_euclid(10)).clamp(30, 970) as u64;
        let mut y = (0..m).filter(|_| draws.below(1000) < rate).count() as u64;
        if matches!(kind, "separated" | "near separated") && first == levels[0] - 1 {
            y = if kind == "separated" || tray >= levels[0] { m } else { m - 1 };
        }
        numbers[0].push((step - 1000) as f64 / 100.0 + shift);
        numbers[1].push((draws.below(201) as f64 - 100.0) / 100.0);
        numbers[2].push(WEIGHTS[draws.below(5) as usize]);
        a.push(first.to_string());
        b.push(second.to_string());
        rooted.push(y);
        stuck.push(m);
    }
    let mut made = units(UnitKind::Tray, rooted, stuck, vec![factor("a", &a), factor("b", &b)]);
    let covariate = |(name, values): (&str, Vec<f64>)| Covariate { name: name.into(), values };
    made.covariates = ["x", "o", "w"].into_iter().zip(numbers).map(covariate).collect();
    (made, repeat)
}

/// What is asked of a case.
pub(super) fn asked(kind: &str, repeat: u64, link: Link) -> ModelSpec {
    let mut asked = match kind {
        "covariate" | "polynomial" | "offset" => spec(&["a", "x"], &[]),
        "weights" => spec(&["a", "b", "x"], &[]),
        "interaction" => spec(&["a", "b", "x"], &[&["a", "b"], &["a", "x"]]),
        "many" => spec(&["a", "b"], &[&["a", "b"]]),
        _ => spec(&["a", "b"], &[]),
    };
    match kind {
        "polynomial" => drop(asked.polynomials.insert("x".into(), 2 + (repeat % 2) as u32)),
        "offset" => asked.offset = Some("o".into()),
        "weights" => asked.weights = Some("w".into()),
        "many" => asked.penalised = repeat % 2 == 1,
        _ => {}
    }
    asked.link = link;
    quasi(asked)
}

fn link(name: &str) -> Link {
    match name {
        "logit" => Link::Logit,
        "probit" => Link::Probit,
        "cloglog" => Link::ComplementaryLogLog,
        _ => Link::LogLog,
    }
}

/// statsmodels 0.15.0 GLM; where a penalty is needed R 4.2.2, brglm2 0.9: `tests/reference/values/generated_fits.json`
#[test]
fn two_hundred_generated_models() {
    let file: Value = serde_json::from_str(include_str!("../../reference/values/generated_fits.json")).unwrap();
    let fits = file["fits"].as_array().unwrap();
    assert_eq!(fits.len(), 200);
    let mut wrong: Vec<String> = Vec::new();
    for fit in fits {
        let (index, kind) = (fit["index"].as_u64().unwrap(), fit["kind"].as_str().unwrap());
        let (units, repeat) = case(index, kind);
        let model = match Model::fit(&units, &asked(kind, repeat, link(fit["link"].as_str().unwrap()))) {
            Ok(model) => model,
            Err(error) => {
                wrong.push(format!("{index} {kind}: {error}"));
                continue;
            }
        };
        let want: Vec<f64> = fit["coef"].as_array().unwrap().iter().map(number).collect();
        let got = estimates(&model);
        let off = got.iter().zip(&want).map(|(a, b)| (a - b).abs() / b.abs().max(1e-3)).fold(0.0, f64::max);
        let lower = number(&fit["loglik"]) - model.loglik;
        let penalised = fit["penalised"].as_bool().unwrap();
        // A penalised log-likelihood is compared both ways, since the plain one is not what is maximised.
        let far = if penalised { lower.abs() } else { lower };
        if got.len() != want.len() || off > 1e-6 || far > 1e-6 || model.penalised != penalised {
            wrong.push(format!(
                "{index} {kind} {}: {} of {} coefficients, off by {off:e}, loglik lower by {lower:e}, penalised {}",
                fit["link"],
                got.len(),
                want.len(),
                model.penalised
            ));
        }
    }
    assert!(wrong.is_empty(), "{} of 200:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn generated_profiles_reach_their_cutoff() {
    // Covariates, powers, interactions, offset, weights, all links, plain and penalised: at each limit the constrained fit of the
    // same model with the coefficient held there (through an offset) falls by the quantile.
    for (index, kind) in [(5, "polynomial"), (46, "interaction"), (57, "offset"), (48, "weights"), (43, "separated")] {
        let (units, repeat) = case(index, kind);
        let link =
            [Link::Logit, Link::Probit, Link::ComplementaryLogLog, Link::LogLog][((index + repeat) % 4) as usize];
        let asked = ModelSpec { trays: rootling::models::TrayMode::Ignore, ..asked(kind, repeat, link) };
        let model = Model::fit(&units, &asked).unwrap();
        let (frame, quantile) = (rootling::models::Frame::new(&units, &asked).unwrap(), 3.841_458_820_694_124);
        let design = rootling::models::Design::full(&frame);
        let rows = design.to_user(&frame);
        let fit =
            rootling::models::Fit { design: &design, data: &frame.data, link: asked.link, penalised: model.penalised };
        let free = fit.free().unwrap();
        for (coefficient, row) in model.coefficients.iter().zip(rows) {
            let limits = model.profile(&coefficient.name, 0.95).unwrap().unwrap();
            assert!(limits.low < coefficient.value && coefficient.value < limits.high, "{index} {}", coefficient.name);
            let mut profile = rootling::models::Profile::new(fit, &free, row, coefficient.se);
            assert_rel!(profile.estimate, coefficient.value, 1e-9);
            for limit in [limits.low, limits.high].into_iter().filter(|limit| limit.is_finite()) {
                let fall = profile.fall(limit).unwrap();
                assert!(abs_diff_eq!(fall, quantile, epsilon = 1e-6), "{index} {}: {fall}", coefficient.name);
            }
        }
    }
}

/// The factor helper keeps levels in order; the generator relies on it.
#[test]
fn levels_stand_in_order() {
    let made: Factor = factor("a", &["10", "2", "0"]);
    assert_eq!(made.levels, ["0", "2", "10"]);
}
