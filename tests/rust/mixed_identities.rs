//! What must hold of the engines whatever the data: limits that meet, orders and groupings that do not matter, hard cases.

use approx::{abs_diff_eq, assert_abs_diff_eq};
use rootling::control::Control;
use rootling::math::distributions::{beta_binomial, chi_squared};
use rootling::math::regression::Link;
use rootling::math::rng;
use rootling::math::special::ln_choose;
use rootling::models::mixed::{
    BetaBinomialFit, BetaBinomialSpec, DeviationStatus, Method, RandomInterceptFit, RandomInterceptSpec, RhoStatus,
    Rows, marginal_rate,
};

use crate::mixed::{Case, crowder};

const LINKS: [Link; 4] = [Link::Logit, Link::Probit, Link::ComplementaryLogLog, Link::LogLog];

fn near(got: &[f64], want: &[f64], tolerance: f64) {
    assert_eq!(got.len(), want.len());
    for (got, want) in got.iter().zip(want) {
        assert!(abs_diff_eq!(got, want, epsilon = tolerance * (1.0 + want.abs())), "{got:e} against {want:e}");
    }
}

/// Trays of unequal size, three treatments and a covariate, in bays of four.
fn invented(seed: u64, link: Link, trays: usize) -> Case {
    let mut stream = rng::stream(seed, 0);
    let level = |i: usize, k: usize| f64::from(u8::from(i % 3 == k));
    let z: Vec<f64> = (0..trays).map(|_| rng::uniform(&mut stream) - 0.5).collect();
    let x = vec![
        vec![1.0; trays],
        (0..trays).map(|i| level(i, 1)).collect(),
        (0..trays).map(|i| level(i, 2)).collect(),
        z.clone(),
    ];
    let stuck: Vec<f64> = (0..trays).map(|i| 8.0 + (i % 5) as f64 * 4.0).collect();
    let rooted = (0..trays).map(|i| {
        let mean = link.at(-0.3 + 0.9 * level(i, 1) + 0.4 * z[i]).mean;
        rng::beta_binomial(&mut stream, stuck[i] as u64, mean, 0.12) as f64
    });
    let rooted = rooted.collect();
    Case { x, rooted, stuck, groups: vec![(0..trays).collect()], link }
}

#[test]
fn rho_nothing_is_the_binomial_model() {
    for link in LINKS {
        let case = invented(3, link, 18);
        let fit = case.beta();
        let binomial = fit.loglik_at(&fit.coef, &[0.0]);
        let direct: f64 = case
            .rooted
            .iter()
            .zip(&case.stuck)
            .enumerate()
            .map(|(i, (y, m))| {
                let eta: f64 = case.x.iter().zip(&fit.coef).map(|(x, b)| x[i] * b).sum();
                ln_choose(*m, *y) + link.at(eta).kernel(*y, *m)
            })
            .sum();
        near(&[binomial], &[direct], 1e-13);
        // and it is approached without a jump
        near(&[fit.loglik_at(&fit.coef, &[1e-12])], &[direct], 1e-9);
    }
}

#[test]
fn likelihood_is_that_of_the_law_of_its_own() {
    // The density by the log-gamma route of math::distributions::beta_binomial.
    for link in LINKS {
        let case = invented(4, link, 15);
        let fit = case.beta();
        for rho in [1e-6, 0.003, 0.1, 0.7, 0.99] {
            let pairs = case.rooted.iter().zip(&case.stuck).enumerate();
            let direct: f64 = pairs
                .map(|(i, (y, m))| {
                    let eta: f64 = case.x.iter().zip(&fit.coef).map(|(x, b)| x[i] * b).sum();
                    beta_binomial::ln_pmf(*y, *m, link.at(eta).mean, rho)
                })
                .sum();
            near(&[fit.loglik_at(&fit.coef, &[rho])], &[direct], 1e-11);
        }
    }
    // Large trays take the block rules instead of single terms.
    let case = Case {
        x: vec![vec![1.0; 3]],
        rooted: vec![700.0, 90.0, 40_000.0],
        stuck: vec![1000.0, 400.0, 100_000.0],
        groups: vec![],
        link: Link::Logit,
    };
    let fit = case.beta();
    for rho in [1e-7, 1e-4, 0.02, 0.6] {
        let direct: f64 =
            case.rooted.iter().zip(&case.stuck).map(|(y, m)| beta_binomial::ln_pmf(*y, *m, 0.4, rho)).sum();
        near(&[fit.loglik_at(&[(0.4_f64 / 0.6).ln()], &[rho])], &[direct], 1e-10);
    }
}

#[test]
fn no_spread_is_the_binomial_model() {
    for link in LINKS {
        for method in [Method::Quadrature, Method::Laplace] {
            let fit = invented(5, link, 18).random(method);
            let beta = invented(5, link, 18).beta();
            near(&[fit.binomial_loglik], &[beta.binomial_loglik], 1e-14);
            let nothing = beta.loglik_at(&fit.coef, &[0.0]);
            near(&[fit.loglik_at(&fit.coef, &[0.0])], &[nothing], 1e-13);
            near(&[fit.loglik_at(&fit.coef, &[1e-7])], &[nothing], 1e-11);
        }
    }
}

fn permuted(case: &Case, order: &[usize]) -> Case {
    let pick = |values: &[f64]| order.iter().map(|i| values[*i]).collect::<Vec<f64>>();
    Case {
        x: case.x.iter().map(|column| pick(column)).collect(),
        rooted: pick(&case.rooted),
        stuck: pick(&case.stuck),
        groups: case.groups.iter().map(|of| order.iter().map(|i| of[*i]).collect()).collect(),
        link: case.link,
    }
}

#[test]
fn order_of_trays_changes_nothing() {
    for link in LINKS {
        let mut case = invented(6, link, 24);
        let order: Vec<usize> = (0..24).map(|i| (i * 7 + 5) % 24).collect();
        let other = permuted(&case, &order);
        let (a, b) = (case.beta(), other.beta());
        near(&a.coef, &b.coef, 1e-9);
        near(&[a.loglik, a.rho[0].value], &[b.loglik, b.rho[0].value], 1e-9);
        for method in [Method::Quadrature, Method::Laplace] {
            let (a, b) = (case.random(method), other.random(method));
            near(&a.coef, &b.coef, 1e-8);
            near(&[a.loglik, a.deviations[0].value], &[b.loglik, b.deviations[0].value], 1e-8);
        }
        case.groups.insert(0, (0..24).map(|i| i / 4).collect());
        let other = permuted(&case, &order);
        for method in [Method::Quadrature, Method::Laplace] {
            let (a, b) = (case.random(method), other.random(method));
            near(&a.coef, &b.coef, 1e-8);
            near(&[a.loglik, a.deviations[1].value], &[b.loglik, b.deviations[1].value], 1e-8);
        }
    }
}

#[test]
fn cuttings_one_by_one_are_their_trays() {
    for link in LINKS {
        let case = invented(7, link, 15);
        let mut single = Case { x: vec![Vec::new(); 4], rooted: vec![], stuck: vec![], groups: vec![vec![]], link };
        for i in 0..15 {
            for k in 0..case.stuck[i] as usize {
                for (column, source) in single.x.iter_mut().zip(&case.x) {
                    column.push(source[i]);
                }
                single.rooted.push(f64::from(u8::from(k < case.rooted[i] as usize)));
                single.stuck.push(1.0);
                single.groups[0].push(i);
            }
        }
        let constant: f64 = case.rooted.iter().zip(&case.stuck).map(|(y, m)| ln_choose(*m, *y)).sum();
        for method in [Method::Quadrature, Method::Laplace] {
            let (a, b) = (case.random(method), single.random(method));
            near(&a.coef, &b.coef, 1e-9);
            near(&a.se(), &b.se(), 1e-7);
            near(&[a.loglik - constant, a.deviations[0].value], &[b.loglik, b.deviations[0].value], 1e-9);
        }
    }
}

#[test]
fn copies_are_trays_written_out() {
    let case = invented(8, Link::Logit, 12);
    let twice = permuted(&case, &(0..24).map(|i| i % 12).collect::<Vec<_>>());
    let mut twice = twice;
    twice.groups = vec![(0..24).collect()];
    let copies = [2.0; 12];
    let rows = Rows { copies: &copies, ..case.rows() };
    let a = BetaBinomialFit::new(&BetaBinomialSpec { rows, rho_of: &[], penalised: false }, &Control::new()).unwrap();
    let b = twice.beta();
    near(&a.coef, &b.coef, 1e-9);
    near(&[a.loglik, a.rho[0].value], &[b.loglik, b.rho[0].value], 1e-9);
    let groupings: [&[usize]; 1] = [&case.groups[0]];
    let spec = RandomInterceptSpec { rows, groupings: &groupings, method: Method::Quadrature, penalised: false };
    let (a, b) = (RandomInterceptFit::new(&spec, &Control::new()).unwrap(), twice.random(Method::Quadrature));
    near(&a.coef, &b.coef, 1e-8);
    near(&[a.loglik, a.deviations[0].value], &[b.loglik, b.deviations[0].value], 1e-8);
}

#[test]
fn rooted_and_not_rooted_mirror() {
    for (link, mirror) in
        [(Link::Logit, Link::Logit), (Link::Probit, Link::Probit), (Link::ComplementaryLogLog, Link::LogLog)]
    {
        let case = invented(9, link, 18);
        let mut other = case.clone();
        other.rooted = case.stuck.iter().zip(&case.rooted).map(|(m, y)| m - y).collect();
        other.link = mirror;
        let minus = |coef: &[f64]| coef.iter().map(|b| -b).collect::<Vec<_>>();
        let (a, b) = (case.beta(), other.beta());
        near(&a.coef, &minus(&b.coef), 1e-9);
        near(&[a.loglik, a.rho[0].value], &[b.loglik, b.rho[0].value], 1e-9);
        for method in [Method::Quadrature, Method::Laplace] {
            let (a, b) = (case.random(method), other.random(method));
            near(&a.coef, &minus(&b.coef), 1e-8);
            near(&[a.loglik, a.deviations[0].value], &[b.loglik, b.deviations[0].value], 1e-8);
        }
    }
}

#[test]
fn profile_limits() {
    let values: serde_json::Value =
        serde_json::from_str(include_str!("../reference/values/mixed_limits.json")).unwrap();
    let list = |value: &serde_json::Value| -> Vec<f64> {
        value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
    };
    let control = Control::new();
    // lme4 1.1.31 confint, method "profile", on the Laplace fit (tests/reference/make/mixed_limits.R); it interpolates
    // its profile, so the last digits are its own.
    let fit = crate::mixed::cbpp().random(Method::Laplace);
    let (low, high) = fit.deviation_limits(0, 0.95, &control).unwrap();
    near(&[low, high], &list(&values["herds"]["sd"]), 5e-4);
    let (lows, highs): (Vec<f64>, Vec<f64>) = (0..4).map(|j| fit.coef_limits(j, 0.95, &control).unwrap()).unzip();
    near(&lows, &list(&values["herds"]["coef_low"]), 5e-4);
    near(&highs, &list(&values["herds"]["coef_high"]), 5e-4);
    // R 4.2.2 optim and uniroot (the same script)
    let fit = crowder().beta();
    let (low, high) = fit.rho_limits(0, 0.95, &control).unwrap();
    near(&[low, high], &list(&values["plates"]["rho"]), 1e-6);
    // At a limit of a coefficient the whole likelihood has fallen by the quantile.
    let (low, _) = fit.coef_limits(2, 0.95, &control).unwrap();
    let mut held = crowder();
    let offset: Vec<f64> = held.x.remove(2).iter().map(|x| x * low).collect();
    let spec = BetaBinomialSpec { rows: Rows { offset: &offset, ..held.rows() }, rho_of: &[], penalised: false };
    let fall = 2.0 * (fit.loglik - BetaBinomialFit::new(&spec, &control).unwrap().loglik);
    near(&[fall], &[chi_squared::quantile(0.95, 1.0)], 1e-7);
}

#[test]
fn rho_by_factor_is_separate_fits() {
    // Two treatments with a rho each share nothing, so the fit falls apart into two.
    let mut case = invented(10, Link::Logit, 20);
    let treatment: Vec<usize> = (0..20).map(|i| i % 2).collect();
    case.x = vec![
        treatment.iter().map(|t| f64::from(u8::from(*t == 0))).collect(),
        treatment.iter().map(|t| f64::from(u8::from(*t == 1))).collect(),
    ];
    let spec = BetaBinomialSpec { rows: case.rows(), rho_of: &treatment, penalised: false };
    let whole = BetaBinomialFit::new(&spec, &Control::new()).unwrap();
    let mut loglik = 0.0;
    for t in 0..2 {
        let order: Vec<usize> = (0..20).filter(|i| i % 2 == t).collect();
        let mut part = permuted(&case, &order);
        part.x = vec![vec![1.0; 10]];
        let fit = part.beta();
        near(&[whole.coef[t], whole.rho[t].value], &[fit.coef[0], fit.rho[0].value], 1e-9);
        loglik += fit.loglik;
    }
    near(&[whole.loglik], &[loglik], 1e-12);
}

#[test]
fn marginal_rates() {
    let fit = crate::mixed::cbpp().random(Method::Quadrature);
    let rate = fit.rate(&[1.0, 0.0, 0.0, 0.0]);
    // Simulated means of the logit: 0.2258 at eta -1.39923, SD 0.647518; here by a fine sum of its own.
    let direct: f64 = (-8000..=8000)
        .map(|k| {
            let z = f64::from(k) * 1e-3;
            1e-3 * (-0.5 * z * z).exp()
                / (2.0 * std::f64::consts::PI).sqrt()
                / (1.0 + (-(fit.coef[0] + fit.deviations[0].value * z)).exp())
        })
        .sum();
    near(&[rate.marginal], &[direct], 1e-12);
    assert!(rate.conditional < rate.marginal && rate.se > 0.0);
    for link in LINKS {
        let at = marginal_rate(link, 0.4, 2.5);
        let h = 1e-5;
        let by_eta = (marginal_rate(link, 0.4 + h, 2.5).rate - marginal_rate(link, 0.4 - h, 2.5).rate) / (2.0 * h);
        let by_sd = (marginal_rate(link, 0.4, 2.5 + h).rate - marginal_rate(link, 0.4, 2.5 - h).rate) / (2.0 * h);
        near(&[at.by_eta, at.by_deviation], &[by_eta, by_sd], 1e-9);
    }
}

#[test]
fn hard_cases() {
    let control = Control::new();
    let one = |rooted: &[f64], stuck: &[f64], x: Vec<Vec<f64>>| Case {
        x,
        rooted: rooted.to_vec(),
        stuck: stuck.to_vec(),
        groups: vec![(0..stuck.len()).collect()],
        link: Link::Logit,
    };
    let ones = |n: usize| vec![vec![1.0; n]];
    // Trays of one cutting tell nothing of their spread.
    let case = one(&[1.0, 0.0, 1.0, 1.0], &[1.0; 4], ones(4));
    assert_eq!(case.beta().rho[0].status, RhoStatus::NotEstimable);
    assert_eq!(case.random(Method::Auto).deviations[0].status, DeviationStatus::NotEstimable);
    assert_abs_diff_eq!(case.beta().coef[0], 3.0_f64.ln(), epsilon = 1e-9);
    // Trays rooted wholly or not at all: rho is 1, a normal spread runs to infinity.
    let case = one(&[10.0, 0.0, 10.0, 10.0], &[10.0; 4], ones(4));
    let fit = case.beta();
    assert_eq!((fit.rho[0].status, fit.rho[0].value), (RhoStatus::AtOne, 1.0));
    // Three of four trays: 4 x ln of the Bernoulli, binomial coefficients 1
    near(&[fit.loglik], &[3.0 * 0.75_f64.ln() + 0.25_f64.ln()], 1e-9);
    let (low, high) = fit.rho_limits(0, 0.95, &control).unwrap();
    assert!(low > 0.1 && low < 1.0 && high == 1.0, "{low}");
    let groupings: [&[usize]; 1] = [&case.groups[0]];
    let spec = RandomInterceptSpec { rows: case.rows(), groupings: &groupings, method: Method::Auto, penalised: false };
    let refused = RandomInterceptFit::new(&spec, &control).unwrap_err().to_string();
    assert!(refused.contains("wholly or not at all"), "{refused}");
    // A treatment that rooted wholly: named, and finite with the penalty.
    let x = vec![vec![1.0; 8], (0..8).map(|i| f64::from(u8::from(i >= 4))).collect()];
    let case = one(&[3.0, 9.0, 5.0, 6.0, 20.0, 20.0, 20.0, 20.0], &[20.0; 8], x);
    let fit = case.beta();
    assert_eq!(fit.separated, [4, 5, 6, 7]);
    let spec = BetaBinomialSpec { rows: case.rows(), rho_of: &[], penalised: true };
    let fit = BetaBinomialFit::new(&spec, &control).unwrap();
    assert!(fit.converged && fit.coef[1].abs() < 10.0 && fit.se()[1] < 5.0);
    let (low, high) = fit.coef_limits(1, 0.95, &control).unwrap();
    assert!(low > 0.5 && high < 40.0, "{low} {high}");
    let groupings: [&[usize]; 1] = [&case.groups[0]];
    for method in [Method::Quadrature, Method::Laplace] {
        let spec = RandomInterceptSpec { rows: case.rows(), groupings: &groupings, method, penalised: true };
        let fit = RandomInterceptFit::new(&spec, &control).unwrap();
        assert_eq!(fit.separated, [4, 5, 6, 7]);
        assert!(fit.converged && fit.coef[1].abs() < 10.0 && fit.se()[1] < 5.0);
    }
    // One tray, all rooted trays, none rooted trays.
    for (rooted, stuck) in [(vec![3.0], vec![10.0]), (vec![10.0, 10.0], vec![10.0; 2]), (vec![0.0, 0.0], vec![10.0; 2])]
    {
        let case = one(&rooted, &stuck, ones(rooted.len()));
        let spec = BetaBinomialSpec { rows: case.rows(), rho_of: &[], penalised: false };
        let _ = BetaBinomialFit::new(&spec, &control).unwrap();
    }
}

#[test]
fn what_cannot_be_fitted_is_said() {
    let good = crowder();
    let mut bad = good.clone();
    bad.x[1][3] = f64::NAN;
    let said = |case: &Case| {
        let spec = BetaBinomialSpec { rows: case.rows(), rho_of: &[], penalised: false };
        BetaBinomialFit::new(&spec, &Control::new()).unwrap_err().to_string()
    };
    assert!(said(&bad).contains("not finite"));
    let mut bad = good.clone();
    bad.x.push(good.x[1].clone());
    assert!(said(&bad).contains("combination"));
    let mut bad = good.clone();
    bad.rooted[0] = bad.stuck[0] + 1.0;
    assert!(said(&bad).contains("not a count"));
    let stopped = Control::new();
    stopped.stop();
    let spec = BetaBinomialSpec { rows: good.rows(), rho_of: &[], penalised: false };
    assert_eq!(BetaBinomialFit::new(&spec, &stopped).unwrap_err(), rootling::Error::Interrupted);
    // Crossed groupings have no quadrature.
    let (bay, row): (Vec<usize>, Vec<usize>) = (0..21).map(|i| (i % 4, i / 4)).unzip();
    let groupings: [&[usize]; 2] = [&bay, &row];
    let spec =
        RandomInterceptSpec { rows: good.rows(), groupings: &groupings, method: Method::Quadrature, penalised: false };
    assert!(RandomInterceptFit::new(&spec, &Control::new()).unwrap_err().to_string().contains("Laplace"));
}
