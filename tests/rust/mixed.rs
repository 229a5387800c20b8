//! Beta-binomial and random-intercept engines against reference fits, and their identities.

use approx::abs_diff_eq;
use rootling::control::Control;
use rootling::math::regression::Link;
use rootling::models::mixed::{
    BetaBinomialFit, BetaBinomialSpec, DeviationStatus, Integration, Method, RandomInterceptFit, RandomInterceptSpec,
    RhoStatus, Rows,
};

use crate::models::Table;
use crate::support::{check, check_list, entry, number};

/// Counts with their design and groupings.
#[derive(Clone)]
pub(crate) struct Case {
    pub x: Vec<Vec<f64>>,
    pub rooted: Vec<f64>,
    pub stuck: Vec<f64>,
    pub groups: Vec<Vec<usize>>,
    pub link: Link,
}

impl Case {
    pub(crate) fn rows(&self) -> Rows<'_> {
        Rows { x: &self.x, rooted: &self.rooted, stuck: &self.stuck, offset: &[], copies: &[], link: self.link }
    }

    pub(crate) fn beta(&self) -> BetaBinomialFit {
        let spec = BetaBinomialSpec { rows: self.rows(), rho_of: &[], penalised: false };
        BetaBinomialFit::new(&spec, &Control::new()).unwrap()
    }

    pub(crate) fn random(&self, method: Method) -> RandomInterceptFit {
        let groupings: Vec<&[usize]> = self.groups.iter().map(Vec::as_slice).collect();
        let spec = RandomInterceptSpec { rows: self.rows(), groupings: &groupings, method, penalised: false };
        RandomInterceptFit::new(&spec, &Control::new()).unwrap()
    }
}

fn is(values: &[String], level: &str) -> Vec<f64> {
    values.iter().map(|value| f64::from(u8::from(value == level))).collect()
}

fn both(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a * b).collect()
}

fn codes(values: &[String]) -> Vec<usize> {
    let mut levels = values.to_vec();
    levels.sort();
    levels.dedup();
    values.iter().map(|value| levels.binary_search(value).unwrap()).collect()
}

pub(crate) fn crowder() -> Case {
    let table = Table::read("crowder_seeds.csv");
    let (seed, extract) = (is(&table.text("seed"), "O_aegyptiaca_73"), is(&table.text("extract"), "cucumber"));
    let n = seed.len();
    let x = vec![vec![1.0; n], seed.clone(), extract.clone(), both(&seed, &extract)];
    let groups = vec![(0..n).collect()];
    Case { x, rooted: table.number("germinated"), stuck: table.number("n"), groups, link: Link::Logit }
}

fn dilution() -> Case {
    let table = Table::read("crowder_dilution.csv");
    let dilution = table.text("dilution");
    let n = dilution.len();
    let x = vec![vec![1.0; n], is(&dilution, "1/25"), is(&dilution, "1/625")];
    let groups = vec![(0..n).collect()];
    Case { x, rooted: table.number("germinated"), stuck: table.number("n"), groups, link: Link::Logit }
}

pub(crate) fn cbpp() -> Case {
    let table = Table::read("lesnoff_2004.csv");
    let period = table.text("period");
    let mut x = vec![vec![1.0; period.len()]];
    x.extend(["2", "3", "4"].map(|level| is(&period, level)));
    let groups = vec![codes(&table.text("herd"))];
    Case { x, rooted: table.number("incidence"), stuck: table.number("size"), groups, link: Link::Logit }
}

fn bacteria() -> Case {
    let table = Table::read("menzies_school_2000.csv");
    let (trt, n) = (table.text("trt"), table.text("trt").len());
    let late = table.number("week").iter().map(|week| f64::from(u8::from(*week > 2.0))).collect();
    let x = vec![vec![1.0; n], is(&trt, "drug"), is(&trt, "drug_plus"), late];
    let groups = vec![codes(&table.text("id"))];
    Case { x, rooted: is(&table.text("y"), "y"), stuck: vec![1.0; n], groups, link: Link::Logit }
}

fn trays(blocks: bool) -> Case {
    let table = Table::read("trays_invented.csv");
    let (block, strength) = (table.text("block"), table.text("strength_mg_l"));
    let n = block.len();
    let mut levels = block.clone();
    levels.sort();
    levels.dedup();
    let mut x = vec![vec![1.0; n]];
    if blocks {
        x.extend(levels.iter().skip(1).map(|level| is(&block, level)));
    }
    x.extend(["2500", "5000"].map(|level| is(&strength, level)));
    let mut groups = vec![(0..n).collect()];
    if !blocks {
        groups.insert(0, codes(&block));
    }
    Case { x, rooted: table.number("rooted"), stuck: table.number("set"), groups, link: Link::Logit }
}

fn zero_variance() -> Case {
    let table = Table::read("trays_zero_variance_invented.csv");
    let strength = table.text("strength_mg_l");
    let n = strength.len();
    let x = vec![vec![1.0; n], is(&strength, "2500")];
    let groups = vec![(0..n).collect()];
    Case { x, rooted: table.number("rooted"), stuck: table.number("set"), groups, link: Link::Logit }
}

#[test]
fn beta_binomial_references() {
    // expected.json crowder_betabinomial, crowder_betabinomial_fine, trays_betabinomial(_fine) (glmmTMB 1.1.5; scipy 1.17.1)
    let fit = crowder().beta();
    check_list("crowder_betabinomial", "estimate", &fit.coef);
    check_list("crowder_betabinomial", "se", &fit.se());
    check("crowder_betabinomial", "loglik_with_binomial_coefficients", fit.loglik);
    check("crowder_betabinomial", "rho", fit.rho[0].value);
    check("crowder_betabinomial_fine", "loglik", fit.loglik);
    check("crowder_betabinomial_fine", "phi", 1.0 / fit.rho[0].value - 1.0);
    let fit = dilution().beta();
    check_list("crowder_dilution_glm", "bb_estimate", &fit.coef);
    check_list("crowder_dilution_glm", "bb_se", &fit.se());
    check("crowder_dilution_glm", "bb_loglik", fit.loglik);
    check("crowder_dilution_glm", "bb_rho", fit.rho[0].value);
    let fit = trays(true).beta();
    check_list("trays_betabinomial_fine", "estimate", &fit.coef);
    check_list("trays_betabinomial_fine", "se", &fit.se());
    check("trays_betabinomial_fine", "rho", fit.rho[0].value);
    check("trays_betabinomial", "loglik", fit.loglik);
    let mut small = trays(true);
    small.x.truncate(small.x.len() - 2);
    check("trays_betabinomial", "lr_strength", 2.0 * (fit.loglik - small.beta().loglik));
}

#[test]
fn random_intercept_references() {
    // expected.json *_glmm_ml (81-node quadrature, scipy 1.17.1)
    for (id, case) in [("crowder_glmm_ml", crowder()), ("cbpp_glmm_ml", cbpp()), ("trays_glmm_ml", trays(true))] {
        let fit = case.random(Method::Quadrature);
        check_list(id, "estimate", &fit.coef);
        check_list(id, "se", &fit.se());
        check(id, "sigma", fit.deviations[0].value);
        check(id, "se_log_sigma", fit.deviations[0].se.unwrap() / fit.deviations[0].value);
        check(id, "loglik", fit.loglik);
        // the task's own bars: log-likelihood to 1e-6, SD to 1e-4 relative
        assert!(abs_diff_eq!(fit.loglik, number(&entry(id)["loglik"]), epsilon = 1e-6), "{id} {:e}", fit.loglik);
        assert!(matches!(fit.integration, Integration::Quadrature { settled: true, .. }));
        assert!(fit.converged);
    }
    // expected.json *_agq25 (lme4 1.1.31)
    for (id, case) in
        [("crowder_glmm_agq25", crowder()), ("cbpp_glmm_agq25", cbpp()), ("bacteria_glmm_agq25", bacteria())]
    {
        let fit = case.random(Method::Auto);
        check_list(id, "estimate", &fit.coef);
        check_list(id, "se", &fit.se());
        check(id, "sigma", fit.deviations[0].value);
    }
}

#[test]
fn laplace_references() {
    // expected.json *_agq1 (lme4 1.1.31), crowder_glmm_laplace_tmb (glmmTMB 1.1.5)
    for (id, case, deviance) in [
        ("crowder_glmm_agq1", crowder(), "deviance_minus2loglik_lme4"),
        ("cbpp_glmm_agq1", cbpp(), "minus2loglik_lme4"),
        ("bacteria_glmm_agq1", bacteria(), "minus2loglik_lme4"),
    ] {
        let fit = case.random(Method::Laplace);
        assert!(fit.converged && fit.integration == Integration::Laplace);
        check_list(id, "estimate", &fit.coef);
        check(id, "sigma", fit.deviations[0].value);
        check(id, deviance, -2.0 * fit.loglik);
    }
    let fit = crowder().random(Method::Laplace);
    check_list("crowder_glmm_laplace_tmb", "estimate", &fit.coef);
    check_list("crowder_glmm_laplace_tmb", "se", &fit.se());
    check("crowder_glmm_laplace_tmb", "loglik", fit.loglik);
    check("crowder_glmm_laplace_tmb", "sigma", fit.deviations[0].value);
    let effects: Vec<f64> = cbpp().random(Method::Laplace).effects[0].iter().map(|(_, u)| *u).collect();
    assert_eq!(effects.len(), 15);
    // expected.json trays_glmm_two_random (lme4 1.1.31): the block's variance is 0
    let fit = trays(false).random(Method::Laplace);
    check_list("trays_glmm_two_random", "estimate", &fit.coef);
    check_list("trays_glmm_two_random", "se", &fit.se());
    assert_eq!(fit.deviations[0].status, DeviationStatus::AtZero);
    check("trays_glmm_two_random", "sd_tray", fit.deviations[1].value);
    check("trays_glmm_two_random", "minus2loglik", -2.0 * fit.loglik);
}

#[test]
fn nothing_between_trays() {
    // expected.json trays_zero_variance (R 4.2.2 glm; lme4 1.1.31)
    let case = zero_variance();
    let beta = case.beta();
    assert_eq!(beta.rho[0].status, RhoStatus::AtZero);
    assert!(beta.rho[0].score < 0.0);
    for method in [Method::Quadrature, Method::Laplace] {
        let random = case.random(method);
        assert_eq!(random.deviations[0].status, DeviationStatus::AtZero);
        for (coef, se, loglik) in [(&beta.coef, beta.se(), beta.loglik), (&random.coef, random.se(), random.loglik)] {
            check_list("trays_zero_variance", "estimate", coef);
            check_list("trays_zero_variance", "se", &se);
            check("trays_zero_variance", "loglik", loglik);
        }
        let (low, high) = random.deviation_limits(0, 0.95, &Control::new()).unwrap();
        assert!(low == 0.0 && high > 0.0 && high < 1.0, "{high}");
    }
    let (low, high) = beta.rho_limits(0, 0.95, &Control::new()).unwrap();
    assert!(low == 0.0 && high > 0.0 && high < 0.2, "{high}");
}

/// One generated case with what other programs made of it (tests/reference/make/mixed_*.{py,R}).
pub(crate) fn generated() -> Vec<(serde_json::Value, Case)> {
    let file: serde_json::Value = serde_json::from_str(include_str!("../reference/values/mixed.json")).unwrap();
    let cases = file["cases"].as_array().unwrap();
    cases.iter().map(|one| (one.clone(), generated_case(one))).collect()
}

fn numbers(value: &serde_json::Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

fn generated_case(one: &serde_json::Value) -> Case {
    let link = match one["link"].as_str().unwrap() {
        "logit" => Link::Logit,
        "probit" => Link::Probit,
        "cloglog" => Link::ComplementaryLogLog,
        _ => Link::LogLog,
    };
    let (rooted, stuck) = (numbers(&one["rooted"]), numbers(&one["stuck"]));
    let whole = |key: &str| -> Option<Vec<usize>> {
        one.get(key).map(|codes| numbers(codes).iter().map(|code| *code as usize).collect())
    };
    let trays: Vec<usize> = (0..rooted.len()).collect();
    let groups = match one["kind"].as_str().unwrap() {
        "nested" => vec![whole("bay").unwrap(), trays],
        "crossed" => vec![whole("bay").unwrap(), whole("row").unwrap()],
        _ => vec![trays],
    };
    Case { x: one["x"].as_array().unwrap().iter().map(numbers).collect(), rooted, stuck, groups, link }
}

/// Never below the peer by more than 1e-6; above it only by what the peer left undone.
fn not_below(id: &str, what: &str, got: f64, peer: f64, slack: f64) {
    assert!(got >= peer - 1e-6, "{id} {what}: {got} is below the peer's {peer} by {:e}", peer - got);
    assert!(got <= peer + slack, "{id} {what}: {got} is above the peer's {peer} by {:e}", got - peer);
}

fn near(id: &str, what: &str, got: &[f64], peer: &[f64], tolerance: f64) {
    assert_eq!(got.len(), peer.len());
    for (got, peer) in got.iter().zip(peer) {
        assert!(abs_diff_eq!(got, peer, epsilon = tolerance * (1.0 + peer.abs())), "{id} {what}: {got} against {peer}");
    }
}

#[test]
fn generated_binomial_fits() {
    // statsmodels 0.15.0 GLM, tests/reference/values/mixed.json
    for (one, case) in generated() {
        let (id, peer) = (one["id"].as_str().unwrap(), &one["binomial"]);
        let columns = rootling::math::design::Columns::dense(&case.x, case.stuck.len());
        let fit = rootling::math::regression::Regression {
            columns: &columns,
            rooted: &case.rooted,
            stuck: &case.stuck,
            offset: &[],
            weights: &[],
            link: case.link,
            penalised: false,
            control: &rootling::control::Control::new(),
        }
        .solve(&vec![0.0; case.x.len()], &rootling::math::regression::Restriction::none(case.x.len()))
        .unwrap();
        let separated = one["kind"] == "separated";
        let pairs = case.rooted.iter().zip(&case.stuck);
        let constant: f64 = pairs.map(|(y, m)| rootling::math::special::ln_choose(*m, *y)).sum();
        not_below(id, "binomial", fit.kernel + constant, number(&peer["loglik"]), if separated { 1e-3 } else { 1e-6 });
        if fit.runaway.is_empty() {
            near(id, "binomial", &fit.coef, &numbers(&peer["coef"]), 1e-6);
        }
    }
}

#[test]
fn generated_beta_binomial_fits() {
    // scipy 1.17.1 minimize, tests/reference/values/mixed.json
    let mut seen = 0;
    for (one, case) in generated() {
        let Some(peer) = one.get("beta_binomial") else { continue };
        let id = one["id"].as_str().unwrap();
        let fit = case.beta();
        assert!(fit.converged, "{id}");
        let separated = !fit.separated.is_empty();
        not_below(id, "beta-binomial", fit.loglik, number(&peer["loglik"]), 2e-5);
        assert!(fit.loglik >= fit.binomial_loglik - 1e-9, "{id}");
        if !separated {
            near(id, "beta-binomial", &fit.coef, &numbers(&peer["coef"]), 2e-3);
            near(id, "beta-binomial rho", &[fit.rho[0].value], &[number(&peer["rho"])], 2e-3);
        }
        seen += 1;
    }
    assert!(seen >= 85, "{seen}");
}

#[test]
fn generated_random_intercept_fits() {
    // lme4 1.1.31; log-likelihood at its 25-node estimates by numpy, tests/reference/values/mixed.json
    let (mut laplace, mut quadrature) = (0, 0);
    for (one, case) in generated() {
        let id = one["id"].as_str().unwrap();
        // lme4 puts expected weights into the determinant where we put observed ones; the two agree for the logit only.
        if let (Some(peer), Link::Logit) = (one.get("laplace"), case.link) {
            let fit = case.random(Method::Laplace);
            assert!(fit.converged, "{id}");
            not_below(id, "Laplace", fit.loglik, number(&peer["loglik"]), 1e-3);
            laplace += 1;
        }
        if let Some(peer) = one.get("quadrature") {
            let fit = case.random(Method::Quadrature);
            assert!(fit.converged, "{id}");
            not_below(id, "quadrature", fit.loglik, number(&peer["loglik"]), 1e-3);
            // Another program's value at its own estimates, with its own quadrature.
            let there = fit.loglik_at(&numbers(&peer["coef"]), &[number(&peer["sd"])]);
            assert!(
                abs_diff_eq!(there, number(&peer["loglik"]), epsilon = 1e-6),
                "{id}: {there} against {}",
                peer["loglik"]
            );
            assert!(fit.loglik >= fit.binomial_loglik - 1e-9, "{id}");
            quadrature += 1;
        }
    }
    assert!(laplace >= 30 && quadrature >= 55, "{laplace} {quadrature}");
}
