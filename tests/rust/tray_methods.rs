//! Tray correlation, adjusted chi-squares and adjusted P values against `tests/reference/values/trays.json`
//! (made by `tests/reference/make/trays.py`) and expected.json, and their properties.

use proptest::prelude::*;
use rootling::compare::{AllOptions, CompareOptions, TreatmentStratum, all_levels, strengths, tray_rate_test};
use rootling::control::Control;
use rootling::effects::{Adjustment, adjusted_p};
use rootling::math::rng;
use rootling::rates::{
    Arm, CorrelationMethod, CorrelationOptions, anova_correlation, arms_of_lists, beta_binomial_correlation,
    tray_correlation, tray_spread, trial_correlation,
};
use rootling::tables::{
    AssociationMethod, AssociationOptions, arm_effects, association, donner_chi_square, judged_by_f, rao_scott,
    rao_scott_orders,
};
use rootling::trial::{LoadOptions, Trial, read_csv};
use serde_json::Value;

use crate::support::{check, check_list, entry, number, within};

pub(crate) fn values(what: &str) -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("../reference/values/trays.json")).unwrap();
    let list = all["entries"].as_array().unwrap().clone();
    let found: Vec<Value> = list.into_iter().filter(|one| one["what"] == what).collect();
    assert!(!found.is_empty());
    found
}

pub(crate) fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

pub(crate) fn counts(value: &Value) -> Vec<u64> {
    value.as_array().unwrap().iter().map(|one| one.as_u64().unwrap()).collect()
}

fn arms(value: &Value) -> Vec<Arm> {
    let arm = |one: &Value| Arm { rooted: counts(&one[0]), stuck: counts(&one[1]) };
    value.as_array().unwrap().iter().map(arm).collect()
}

fn file(name: &str, key: &[usize], rooted: usize, stuck: usize) -> Vec<Arm> {
    let path = format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let mut found: std::collections::BTreeMap<Vec<&str>, Arm> = Default::default();
    for line in text.lines().skip(1) {
        let row: Vec<&str> = line.split(',').collect();
        let arm = found.entry(key.iter().map(|at| row[*at]).collect()).or_default();
        arm.rooted.push(row[rooted].parse().unwrap());
        arm.stuck.push(row[stuck].parse().unwrap());
    }
    found.into_values().collect()
}

fn adjusted(p_values: &[f64], method: &str) -> Vec<f64> {
    adjusted_p(p_values, method.parse().unwrap(), &Control::new()).unwrap()
}

#[test]
fn adjusted_p_values_match() {
    // trays.json: statsmodels 0.15.0 multipletests, down to 1e-300
    for one in values("adjusted_p") {
        let got = adjusted(&numbers(&one["p"]), one["method"].as_str().unwrap());
        for (got, want) in got.iter().zip(numbers(&one["want"])) {
            assert_rel!(*got, want, 1e-12);
        }
    }
    // expected.json p_adjust_*: R 4.2.2 p.adjust; Benjamini & Hochberg 1995, section 4, and a constructed list
    let names = [
        ("bonferroni", "bonferroni"),
        ("holm", "holm"),
        ("hochberg", "hochberg"),
        ("hommel", "hommel"),
        ("BH", "benjamini-hochberg"),
        ("BY", "benjamini-yekutieli"),
        ("sidak", "sidak"),
        ("holm_sidak", "sidak-step-down"),
    ];
    let bh: Vec<f64> = vec![
        0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.324, 0.4262, 0.5719, 0.6528, 0.759,
        1.0,
    ];
    for (id, p_values) in [("p_adjust_bh1995", bh), ("p_adjust_small", vec![0.01, 0.04, 0.03, 0.2])] {
        for (theirs, ours) in names.iter().filter(|(theirs, _)| entry(id).get(*theirs).is_some()) {
            check_list(id, theirs, &adjusted(&p_values, ours));
        }
    }
}

#[test]
fn adjusted_p_refuses_what_is_none() {
    let said = |p: &[f64]| adjusted_p(p, Adjustment::Holm, &Control::new()).unwrap_err().to_string();
    assert_eq!(said(&[0.1, f64::NAN]), "entry 2: P value NaN is outside 0 to 1");
    assert_eq!(said(&[1.5]), "entry 1: P value 1.5 is outside 0 to 1");
    let unknown = "holms".parse::<Adjustment>().unwrap_err().to_string();
    assert!(unknown.starts_with("adjustment \"holms\" is not known; did you mean \"holm\"?"), "{unknown}");
    assert_eq!(adjusted(&[], "hommel"), Vec::<f64>::new());
}

proptest! {
    #[test]
    fn adjusted_p_keeps_order_and_never_falls(p_values in proptest::collection::vec(0.0_f64..1.0, 1..30)) {
        let all = ["bonferroni", "holm", "hochberg", "hommel", "sidak", "sidak-step-down", "benjamini-hochberg",
            "benjamini-yekutieli"].map(|method| adjusted(&p_values, method));
        for found in &all {
            for (raw, got) in p_values.iter().zip(found) {
                prop_assert!(got >= raw && *got <= 1.0);
                for (other, next) in p_values.iter().zip(found) {
                    prop_assert!(raw > other || got <= next);
                }
            }
        }
        let [bonferroni, holm, hochberg, hommel, sidak, step_down, discovery, dependent] = &all;
        let below = |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(a, b)| *a <= b * (1.0 + 1e-12));
        prop_assert!(below(hommel, hochberg) && below(hochberg, holm) && below(holm, bonferroni));
        prop_assert!(below(step_down, sidak) && below(sidak, bonferroni) && below(discovery, hochberg));
        prop_assert!(below(discovery, dependent));
    }
}

#[test]
fn tray_correlation_matches() {
    let control = Control::new();
    for one in values("correlation") {
        // trays.json: scipy 1.17.1 betabinom maximised, limits by root search; analysis of variance from single cuttings
        let arms = arms(&one["arms"]);
        let fit = beta_binomial_correlation(&arms, 0.95, &control).unwrap().unwrap();
        for (got, want) in [fit.value, fit.low, fit.high].iter().zip(numbers(&one["beta_binomial"])) {
            // the reference maximises to about half the digits
            assert!(within(*got, want, 1e-5, 1e-7), "{} {got} {want}", one["name"]);
        }
        assert_rel!(fit.loglik, number(&one["loglik"]), 1e-9);
        assert_rel!(fit.p, number(&one["p"]), 1e-6);
        let anova = anova_correlation(&arms, 0.95).unwrap();
        let got = [anova.value, anova.low.unwrap(), anova.high.unwrap()];
        for (got, want) in got.iter().zip(numbers(&one["anova"])) {
            assert_rel!(*got, want, 1e-9);
        }
    }
}

#[test]
fn crowder_plates() {
    let control = Control::new();
    let seeds = file("crowder_seeds.csv", &[1, 2], 3, 4);
    let fit = beta_binomial_correlation(&seeds, 0.95, &control).unwrap().unwrap();
    // expected.json crowder_betabinomial_fine: direct likelihood with scipy 1.17.1
    check("crowder_betabinomial_fine", "rho", fit.value);
    check("crowder_betabinomial_fine", "loglik", fit.loglik);
    let dilution = file("crowder_dilution.csv", &[1], 2, 3);
    let fit = beta_binomial_correlation(&dilution, 0.95, &control).unwrap().unwrap();
    // expected.json crowder_dilution_glm: beta-binomial ML by R
    check("crowder_dilution_glm", "bb_rho", fit.value);
    check("crowder_dilution_glm", "bb_loglik", fit.loglik);
    // domain.md section 9 (Crowder 1978): dispersion 1.72 (dilution) and 1.86 (seeds)
    assert_rel!(tray_spread(&dilution).unwrap().dispersion.unwrap(), 1.72, 0.0029);
    assert_rel!(tray_spread(&seeds).unwrap().dispersion.unwrap(), 1.86, 0.0026);
    let answer = tray_correlation(&seeds, &CorrelationOptions::default(), &control).unwrap();
    check("crowder_donner", "rho", answer.numbers.value);
    assert!(answer.words().contains("21 trays in 4 treatments"), "{}", answer.sentence);
}

#[test]
fn correlation_at_the_edges() {
    let control = Control::new();
    let alike = file("trays_zero_variance_invented.csv", &[1], 3, 2);
    let fit = beta_binomial_correlation(&alike, 0.95, &control).unwrap().unwrap();
    // expected.json trays_zero_variance: the fit at the edge is the binomial fit
    check("trays_zero_variance", "loglik", fit.loglik);
    assert!(fit.at_zero && fit.value == 0.0 && fit.low == 0.0 && fit.high > 0.0 && fit.extended < 0.0);
    assert_rel!(fit.p, 1.0, 1e-15);
    let answer = tray_correlation(&alike, &CorrelationOptions::default(), &control).unwrap();
    let codes: Vec<&str> = answer.notes.iter().map(|note| note.code.as_str()).collect();
    assert!(codes.contains(&"underdispersion") && codes.contains(&"correlation_at_zero"), "{codes:?}");
    // Trays all rooted or none rooted: correlation 1, and the likelihood gives the interval.
    let apart = [Arm { rooted: vec![0, 10, 0, 10], stuck: vec![10; 4] }];
    let answer = tray_correlation(&apart, &CorrelationOptions::default(), &control).unwrap();
    assert!(answer.numbers.value > 1.0 - 1e-12 && answer.numbers.method.name() == "beta-binomial");
    assert!(answer.numbers.low.unwrap() > 0.5);
    let said = |arms: &[Arm]| tray_correlation(arms, &CorrelationOptions::default(), &control).unwrap_err().to_string();
    assert_eq!(
        said(&[Arm { rooted: vec![3], stuck: vec![20] }]),
        "the tray correlation is not defined: no treatment has two trays; it takes trays treated alike"
    );
    assert_eq!(
        said(&[Arm { rooted: vec![0, 1], stuck: vec![1, 1] }]),
        "the tray correlation is not defined: every tray holds a single cutting; count several per tray"
    );
    assert_eq!(
        said(&[Arm { rooted: vec![20, 20], stuck: vec![20, 20] }]),
        "the tray correlation is not defined: in every treatment all cuttings rooted or none did; nothing varies between trays"
    );
}

#[test]
fn lists_of_trays_are_checked() {
    let names = |list: &[&str]| list.iter().map(|one| (*one).to_owned()).collect::<Vec<_>>();
    assert_eq!(
        arms_of_lists(&[1, 2, 3], &[9, 9, 9], Some(&names(&["a", "b", "a"])), &Control::new()).unwrap()[0].rooted,
        vec![1, 3]
    );
    let said = |found: rootling::Result<Vec<Arm>>| found.unwrap_err().to_string();
    assert_eq!(
        said(arms_of_lists(&[1, 9], &[9, 8], None, &Control::new())),
        "entry 2: 9 rooted of 8 stuck; the number rooted cannot exceed the number stuck"
    );
    assert_eq!(
        said(arms_of_lists(&[1], &[9, 8], None, &Control::new())),
        "the lists differ in length: 1 rooted, 2 stuck; give both for every entry"
    );
    assert_eq!(
        said(arms_of_lists(&[1, 2], &[9, 8], Some(&names(&["a"])), &Control::new())),
        "treatments: 1 for 2 trays; give one for each"
    );
}

/// Coverage of the default interval and mean of both estimates over simulated trials, as the docstring says.
#[test]
fn correlation_interval_covers() {
    let control = Control::new();
    let (mut covered, mut all, mut likelihood, mut low) = (0.0, 0.0, 0.0, 0.0);
    for replicate in 0..400_u64 {
        let mut random = rng::stream(20, replicate);
        let mut arm = || Arm {
            rooted: (0..4).map(|_| rng::beta_binomial(&mut random, 20, 0.5, 0.05)).collect(),
            stuck: vec![20; 4],
        };
        let arms: Vec<Arm> = (0..4).map(|_| arm()).collect();
        let anova = anova_correlation(&arms, 0.95).unwrap();
        let fit = beta_binomial_correlation(&arms, 0.95, &control).unwrap().unwrap();
        covered += f64::from(u8::from(anova.low < Some(0.05) && anova.high > Some(0.05)));
        likelihood += f64::from(u8::from(fit.low < 0.05 && fit.high > 0.05));
        low += fit.value - anova.value;
        all += 1.0;
    }
    // Monte Carlo error of 400 trials at 95 % is 1.1 %.
    assert!(covered / all > 0.91, "{}", covered / all);
    assert!(likelihood < covered && low < 0.0);
}

#[test]
fn rao_scott_matches() {
    // expected.json weil_raoscott, crowder_raoscott: R 4.2.2, direct formula (treatments in the order of the file there)
    let rats = file("weil_1970.csv", &[1], 3, 2);
    let effects = arm_effects(&rats).unwrap();
    check_list("weil_raoscott", "deff", &effects.iter().map(|one| one.design_effect).collect::<Vec<_>>());
    check_list("weil_raoscott", "se_ratio", &effects.iter().map(|one| one.se).collect::<Vec<_>>());
    check("weil_raoscott", "chi2", rao_scott(&rats).unwrap().statistic.unwrap());
    check("weil_raoscott", "p_of_chi2", rao_scott(&rats).unwrap().p);
    let seeds = file("crowder_seeds.csv", &[1, 2], 3, 4);
    check("crowder_raoscott", "chi2", rao_scott(&seeds).unwrap().statistic.unwrap());
    check("crowder_raoscott", "p_of_chi2", rao_scott(&seeds).unwrap().p);
    for one in values("rao_scott_orders") {
        // trays.json: eigenvalues by numpy 2.4.6
        let [first, second] = rao_scott_orders(&arms(&one["arms"])).unwrap();
        let (want_1, want_2) = (numbers(&one["first"]), numbers(&one["second"]));
        assert_rel!(first.statistic.unwrap(), want_1[0], 1e-10);
        assert_rel!(first.p, want_1[1], 1e-9);
        assert_rel!(second.statistic.unwrap(), want_2[0], 1e-10);
        assert_rel!(second.df.unwrap(), want_2[1], 1e-10);
        assert_rel!(second.p, want_2[2], 1e-9);
    }
    assert!(
        rao_scott(&[Arm { rooted: vec![1], stuck: vec![9] }, Arm { rooted: vec![1, 2], stuck: vec![9, 9] }]).is_none()
    );
}

fn trial(text: &str, whole_plot: bool) -> Trial {
    let options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: vec!["strength".into()],
        tray: Some("tray".into()),
        block: (!whole_plot).then(|| "bench".into()),
        whole_plot: whole_plot.then(|| "bench".into()),
        ..LoadOptions::default()
    };
    read_csv(text.as_bytes(), &options).unwrap()
}

/// Invented: three strengths on two benches, two trays each.
fn three(bench: impl Fn(usize) -> usize) -> String {
    let mut text = "strength,bench,tray,rooted,stuck\n".to_owned();
    for (at, rooted) in [4, 6, 5, 3, 12, 14, 11, 15, 9, 8, 10, 6].iter().enumerate() {
        text.push_str(&format!("{},b{},t{at},{rooted},20\n", [0, 2500, 5000][at / 4], bench(at)));
    }
    text
}

#[test]
fn association_leads_with_tray_rates() {
    let control = Control::new();
    let trial = trial(&three(|at| at % 2), false);
    let run = |method: Option<&str>| {
        let options =
            AssociationOptions { method: method.map(|name| name.parse().unwrap()), ..AssociationOptions::default() };
        association(trial.units(), "strength", &options, &control)
    };
    let found = run(None).unwrap();
    assert_eq!(found.numbers.method.name(), "tray-rates");
    assert!(found.words().contains("of tray rates on 2 and 8 degrees of freedom"), "{}", found.sentence);
    for method in ["randomisation", "donner", "rao-scott", "rao-scott-first-order", "rao-scott-second-order"] {
        let other = run(Some(method)).unwrap();
        assert_eq!((other.numbers.method.name(), other.numbers.tests[0].test.method.name()), (method, method));
        assert!(other.numbers.p.unwrap() < 0.05 && !other.methods.is_empty());
    }
    assert!("doner".parse::<AssociationMethod>().unwrap_err().to_string().contains("did you mean \"donner\"?"));
}

#[test]
fn whole_plots_are_the_unit_of_what_they_were_given() {
    let control = Control::new();
    // Each strength in two benches of two trays: six whole plots, 3 degrees of freedom.
    let spread = trial(&three(|at| at / 2), true);
    let found = association(spread.units(), "strength", &AssociationOptions::default(), &control).unwrap();
    assert_eq!(found.numbers.unit, "bench");
    assert!(found.words().contains("2 and 3 degrees of freedom"), "{}", found.sentence);
    // Six whole plots in three pairs: 90 assignments, of which names change 6 ways.
    assert_rel!(found.numbers.smallest_p.unwrap(), 6.0 / 90.0, 1e-12);
    assert!(found.notes.iter().any(|note| note.code == "p_out_of_reach"));
    let single = trial(&three(|at| at / 4), true);
    let found = association(single.units(), "strength", &AssociationOptions::default(), &control).unwrap();
    assert_eq!(found.numbers.p, None);
    assert!(found.words().contains("No test of strength is given"), "{}", found.sentence);
    assert!(found.notes.iter().any(|note| note.code == "confounded_with_whole_plot"));
}

/// False alarms of the leading test and of what it replaced, as the docstring of `association` says.
#[test]
fn tray_rates_keep_their_false_alarm_rate() {
    let (mut rates, mut donner, mut own, all) = (0, 0, 0, 800_u64);
    for replicate in 0..all {
        let mut random = rng::stream(41, replicate);
        let mut arm = || Arm {
            rooted: (0..4).map(|_| rng::beta_binomial(&mut random, 20, 0.5, 0.05)).collect(),
            stuck: vec![20; 4],
        };
        let arms: Vec<Arm> = (0..3).map(|_| arm()).collect();
        let spread = tray_spread(&arms).unwrap();
        let all_rates = arms.iter().flat_map(Arm::tray_rates).collect();
        let strata = [TreatmentStratum { rates: all_rates, treatments: (0..12).map(|at| at / 4).collect() }];
        rates += u64::from(tray_rate_test(&strata).unwrap().p.is_some_and(|p| p <= 0.05));
        donner += u64::from(judged_by_f(donner_chi_square(&arms, &spread).unwrap(), spread.df).p <= 0.05);
        own += u64::from(rao_scott(&arms).unwrap().p <= 0.05);
    }
    // Monte Carlo error of 800 trials at 5 % is 0.8 %.
    let share = |count: u64| count as f64 / all as f64;
    assert!((0.03..0.07).contains(&share(rates)), "{}", share(rates));
    assert!(share(donner) < share(rates) + 0.01 && share(own) > 0.06, "{} {}", share(donner), share(own));
}

#[test]
fn all_levels_hold_together() {
    let control = Control::new();
    let trial = trial(&three(|at| at % 2), false);
    let run = |against: Option<&str>, adjust: Option<&str>| {
        let own = |text: Option<&str>| text.map(str::to_owned);
        let together = adjust.map_or(Adjustment::Holm, |name| name.parse().unwrap());
        let options = AllOptions { against: own(against), together, ..AllOptions::default() };
        all_levels(trial.units(), "strength", &options, &control)
    };
    let all = run(None, None).unwrap();
    assert_eq!(all.numbers.pairs.len(), 3);
    assert_rel!(all.numbers.interval_level, 1.0 - 0.05 / 3.0, 1e-12);
    let raw: Vec<f64> = all.numbers.pairs.iter().map(|pair| pair.p.unwrap()).collect();
    let wanted = adjusted(&raw, "holm");
    for (pair, want) in all.numbers.pairs.iter().zip(&wanted) {
        assert_rel!(pair.p_adjusted.unwrap(), *want, 1e-12);
        // Each pair is what a comparison makes of it.
        let options = CompareOptions { confidence: all.numbers.interval_level, ..CompareOptions::default() };
        let one = strengths(trial.units(), "strength", &pair.first, &pair.second, &options, &control).unwrap().numbers;
        assert_eq!((pair.value, pair.low, pair.high, pair.p), (one.value, one.low, one.high, one.p));
    }
    assert!(all.notes.iter().any(|note| note.code == "single_step_intervals"));
    assert!(all.notes.iter().any(|note| note.code == "curve_first"));
    let control_only = run(Some("0"), Some("bonferroni")).unwrap();
    assert_eq!(control_only.numbers.pairs.len(), 2);
    assert!(control_only.numbers.pairs.iter().all(|pair| pair.first == "0"));
    assert!(control_only.words().contains("2 comparisons with strength 0"), "{}", control_only.words());
    for pair in &control_only.numbers.pairs {
        assert_rel!(pair.p_adjusted.unwrap(), (2.0 * pair.p.unwrap()).min(1.0), 1e-12);
    }
    let sidak = run(None, Some("sidak")).unwrap();
    assert_rel!(sidak.numbers.interval_level, 0.95_f64.powf(1.0 / 3.0), 1e-12);
    assert!(run(None, Some("none")).unwrap().notes.iter().any(|note| note.code == "not_adjusted"));
    assert!(run(Some("1"), None).unwrap_err().to_string().starts_with("level of strength \"1\" is not known"));
    assert!("dunn".parse::<Adjustment>().unwrap_err().to_string().starts_with("adjustment \"dunn\" is not known"));
}

#[test]
fn correlation_of_a_trial() {
    let trial = trial(&three(|at| at % 2), false);
    let control = Control::new();
    let found = trial_correlation(trial.units(), &CorrelationOptions::default(), &control).unwrap();
    assert_eq!((found.numbers.n_units, found.numbers.n_treatments, found.numbers.n_cuttings), (12, 3, 240));
    assert!(found.notes.iter().any(|note| note.code == "blocks_included"));
    let said = "anov".parse::<CorrelationMethod>().unwrap_err().to_string();
    assert!(said.contains("did you mean \"anova\"?"), "{said}");
}
