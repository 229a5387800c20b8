//! Trays counted: intraclass correlation, adjusted chi-square, t tests, randomisation, the verbs of a trial.

use rootling::compare::{CompareOptions, Stratum, pooled_t, randomisation_test, stratified_t, strengths, welch_t};
use rootling::control::Control;
use rootling::rates::{Arm, TakeRatesOptions, TraysUse, take_rates, tray_interval, tray_spread};
use rootling::tables::{AssociationOptions, association, donner_chi_square};
use rootling::trial::{LoadOptions, Trial, read_csv};

use crate::support::check;

fn data(name: &str) -> Vec<Vec<String>> {
    let path = format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    text.lines().skip(1).map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

fn arms(rows: &[Vec<String>], key: &[usize], rooted: usize, stuck: usize) -> Vec<Arm> {
    let mut found: std::collections::BTreeMap<Vec<String>, Arm> = Default::default();
    for row in rows {
        let arm = found.entry(key.iter().map(|at| row[*at].clone()).collect()).or_default();
        arm.rooted.push(row[rooted].parse().unwrap());
        arm.stuck.push(row[stuck].parse().unwrap());
    }
    found.into_values().collect()
}

#[test]
fn donner_weil_rats() {
    // Weil 1970; expected.json weil_donner.
    let arms = arms(&data("weil_rats.csv"), &[1], 3, 2);
    let spread = tray_spread(&arms).unwrap();
    check("weil_donner", "rho", spread.icc);
    let test = donner_chi_square(&arms, &spread).unwrap();
    check("weil_donner", "chi2", test.statistic.unwrap());
    check("weil_donner", "p", test.p_value);
    let corrections: Vec<f64> = arms.iter().map(|arm| spread.design_effect(arm)).collect();
    crate::support::check_list("weil_donner", "correction", &corrections);
}

#[test]
fn donner_crowder_plates() {
    // Crowder 1978; expected.json crowder_donner (arms in alphabetical order).
    let arms = arms(&data("crowder_seeds.csv"), &[1, 2], 3, 4);
    let spread = tray_spread(&arms).unwrap();
    check("crowder_donner", "rho", spread.icc);
    let test = donner_chi_square(&arms, &spread).unwrap();
    check("crowder_donner", "chi2", test.statistic.unwrap());
    check("crowder_donner", "p", test.p_value);
}

/// Invented trays: rates and blocks of strengths 0 and 2500.
fn invented() -> (Vec<f64>, Vec<f64>) {
    let rows = data("trays_invented.csv");
    let of = |strength: &str| -> Vec<f64> {
        let chosen = rows.iter().filter(|row| row[1] == strength);
        chosen.map(|row| row[4].parse::<f64>().unwrap() / row[2].parse::<f64>().unwrap()).collect()
    };
    (of("0"), of("2500"))
}

#[test]
fn two_arms_by_t_and_randomisation() {
    // expected.json trays_two_arm_0_2500 (invented for checking).
    let id = "trays_two_arm_0_2500";
    let (first, second) = invented();
    let t = pooled_t(&first, &second, 0.95).unwrap();
    check(id, "diff", t.difference);
    check(id, "t", t.statistic);
    check(id, "t_p", t.p_value);
    crate::support::check_list(id, "t_ci", &[t.conf_low, t.conf_high]);
    let welch = welch_t(&first, &second, 0.95).unwrap();
    check(id, "welch_t", welch.statistic);
    check(id, "welch_df", welch.dof);
    check(id, "welch_p", welch.p_value);
    let pairs: Vec<Stratum> =
        first.iter().zip(&second).map(|(a, b)| Stratum { rates: vec![*a, *b], second: vec![false, true] }).collect();
    let paired = stratified_t(&pairs, 0.95).unwrap();
    check(id, "paired_t", paired.statistic);
    check(id, "paired_p", paired.p_value);
    crate::support::check_list(id, "paired_ci", &[paired.conf_low, paired.conf_high]);
    let all: Vec<f64> = first.iter().chain(&second).copied().collect();
    let labels: Vec<bool> = (0..12).map(|at| at >= 6).collect();
    let free = randomisation_test(&[Stratum { rates: all, second: labels }], 1, 999, &Control::new()).unwrap();
    check(id, "permutation_p", free.p_value);
    let pairs: Vec<Stratum> =
        first.iter().zip(&second).map(|(a, b)| Stratum { rates: vec![*a, *b], second: vec![false, true] }).collect();
    let flips = randomisation_test(&pairs, 1, 999, &Control::new()).unwrap();
    check(id, "signflip_p", flips.p_value);
    // Derived: 2 of 64 and 2 of 924 assignments are the fewest.
    assert_rel!(flips.smallest_p, 2.0 / 64.0, 1e-12);
    assert_rel!(free.smallest_p, 2.0 / 924.0, 1e-12);
}

#[test]
fn smallest_p_values_of_small_trials() {
    // domain.md 4.6 (derived): 3 v 3 trays 0.10, 4 v 4 0.029; 3 blocks 0.25, 6 blocks 0.031.
    let free = |n: usize| Stratum {
        rates: (0..2 * n).map(|at| at as f64).collect(),
        second: (0..2 * n).map(|at| at >= n).collect(),
    };
    let pair = |_: usize| Stratum { rates: vec![0.1, 0.4], second: vec![false, true] };
    let run = |strata: &[Stratum]| randomisation_test(strata, 1, 999, &Control::new()).unwrap();
    for (found, expected) in [
        (run(&[free(3)]), 0.1),
        (run(&[free(4)]), 2.0 / 70.0),
        (run(&(0..3).map(pair).collect::<Vec<_>>()), 0.25),
        (run(&(0..6).map(pair).collect::<Vec<_>>()), 2.0 / 64.0),
    ] {
        assert_rel!(found.smallest_p, expected, 1e-12);
        // These outcomes are the most extreme there are, so they reach it.
        assert_rel!(found.p_value, expected, 1e-12);
    }
}

#[test]
fn drawn_randomisations_agree_with_enumeration_and_threads() {
    let rates: Vec<f64> =
        (0..26).map(|at| f64::from((at * 7) % 13) / 13.0 + if at >= 13 { 0.15 } else { 0.0 }).collect();
    let strata = [Stratum { rates, second: (0..26).map(|at| at >= 13).collect() }];
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| randomisation_test(&strata, 7, 40_000, &Control::new()).unwrap())
    };
    let (one, two) = (run(1), run(2));
    assert_eq!(one, two);
    assert_eq!(one.drawn, Some(40_000));
    // Second route: the t test on the same rates; both approximate the same tail, so they agree roughly.
    let t = pooled_t(&strata[0].rates[..13], &strata[0].rates[13..], 0.95).unwrap();
    assert!((one.p_value / t.p_value).ln().abs() < 0.15, "{} against {}", one.p_value, t.p_value);
}

fn trial(text: &str, block: bool, whole_plot: bool) -> Trial {
    let options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: vec!["strength".into()],
        tray: Some("tray".into()),
        block: block.then(|| "bench".into()),
        whole_plot: whole_plot.then(|| "bench".into()),
        ..LoadOptions::default()
    };
    read_csv(text.as_bytes(), &options).unwrap()
}

fn text(rows: &[(u32, &str, u32, u32)]) -> String {
    let mut text = "strength,bench,tray,rooted,stuck\n".to_owned();
    for (at, (strength, bench, rooted, stuck)) in rows.iter().enumerate() {
        text.push_str(&format!("{strength},{bench},t{at},{rooted},{stuck}\n"));
    }
    text
}

const SIX: [(u32, &str, u32, u32); 8] = [
    (0, "n", 4, 20),
    (0, "n", 6, 20),
    (0, "s", 5, 20),
    (0, "s", 3, 20),
    (2500, "n", 12, 20),
    (2500, "n", 14, 20),
    (2500, "s", 11, 20),
    (2500, "s", 15, 20),
];

#[test]
fn comparison_counts_trays_and_mirrors() {
    let trial = trial(&text(&SIX), false, false);
    let run = |a: &str, b: &str| {
        strengths(trial.units(), "strength", a, b, &CompareOptions::default(), &Control::new()).unwrap()
    };
    let (forth, back) = (run("0", "2500"), run("2500", "0"));
    assert_rel!(forth.figures.value, 0.425, 1e-12); // 52/80 - 18/80
    assert_rel!(forth.figures.value, -back.figures.value, 1e-12);
    assert_rel!(forth.figures.conf_low.unwrap(), -back.figures.conf_high.unwrap(), 1e-9);
    assert_rel!(forth.figures.randomisation.unwrap().p_value, 2.0 / 70.0, 1e-12);
    assert_rel!(forth.figures.p_value.unwrap(), back.figures.p_value.unwrap(), 1e-12);
    assert!(forth.sentence.contains("42.5 more trees per 100"), "{}", forth.sentence);
}

#[test]
fn no_difference_always_names_what_cannot_be_ruled_out() {
    let even: Vec<(u32, &str, u32, u32)> = SIX.iter().map(|row| (row.0, row.1, 10, 20)).collect();
    let answer = strengths(
        trial(&text(&even), false, false).units(),
        "strength",
        "0",
        "2500",
        &CompareOptions::default(),
        &Control::new(),
    )
    .unwrap();
    assert!(
        answer.sentence.contains("No difference is shown") && answer.sentence.contains("cannot be ruled out"),
        "{}",
        answer.sentence
    );
}

#[test]
fn all_rooted_and_none_rooted_trays() {
    for (first, second) in [(0, 20), (0, 0), (20, 20)] {
        let rows: Vec<(u32, &str, u32, u32)> =
            SIX.iter().map(|row| (row.0, row.1, if row.0 == 0 { first } else { second }, 20)).collect();
        let trial = trial(&text(&rows), false, false);
        let answer =
            strengths(trial.units(), "strength", "0", "2500", &CompareOptions::default(), &Control::new()).unwrap();
        let (low, high) = (answer.figures.conf_low.unwrap(), answer.figures.conf_high.unwrap());
        assert!(
            low <= answer.figures.value && answer.figures.value <= high && low < high && low >= -1.0 && high <= 1.0
        );
        assert!(answer.notes.iter().any(|note| note.code == "extreme_rates"));
        let rates = take_rates(trial.units(), &["strength"], &TakeRatesOptions::default()).unwrap();
        assert!(rates.figures.rates.iter().all(|rate| rate.conf_low <= rate.value && rate.value <= rate.conf_high));
    }
}

#[test]
fn one_place_per_level_gets_no_test() {
    let rows: Vec<(u32, &str, u32, u32)> =
        SIX.iter().map(|row| (row.0, if row.0 == 0 { "n" } else { "s" }, row.2, row.3)).collect();
    let trial = trial(&text(&rows), false, true);
    let answer =
        strengths(trial.units(), "strength", "0", "2500", &CompareOptions::default(), &Control::new()).unwrap();
    assert_eq!((answer.figures.p_value, answer.figures.conf_low), (None, None));
    assert!(answer.sentence.contains("No test is given"), "{}", answer.sentence);
    assert!(answer.notes.iter().any(|note| note.code == "confounded_with_whole_plot"));
}

#[test]
fn ignoring_trays_is_marked() {
    let trial = trial(&text(&SIX), false, false);
    let options = CompareOptions { trays: TraysUse::Ignore, ..CompareOptions::default() };
    let answer = strengths(trial.units(), "strength", "0", "2500", &options, &Control::new()).unwrap();
    assert!(answer.sentence.starts_with("Trays are not counted here"));
    assert!(answer.notes.iter().any(|note| note.code == "trays_ignored"));
    let ignored = TakeRatesOptions { trays: TraysUse::Ignore, ..TakeRatesOptions::default() };
    let rates = take_rates(trial.units(), &[], &ignored).unwrap();
    assert!(rates.notes.iter().any(|note| note.code == "trays_ignored"));
}

#[test]
fn association_leads_with_trays() {
    let trial = trial(&text(&SIX), true, false);
    let answer = association(trial.units(), "strength", &AssociationOptions::default(), &Control::new()).unwrap();
    assert_eq!(answer.figures.tests[0].counts, "trays");
    assert!(answer.figures.tests.iter().any(|one| one.test.method == "fisher"));
    let within = AssociationOptions { within: Some("bench".into()), ..AssociationOptions::default() };
    let answer = association(trial.units(), "strength", &within, &Control::new()).unwrap();
    assert!(answer.figures.tests.iter().any(|one| one.stratum.as_deref() == Some("s")));
}

#[test]
fn unknown_names_get_the_nearest() {
    let trial = trial(&text(&SIX), false, false);
    let error =
        strengths(trial.units(), "strenght", "0", "2500", &CompareOptions::default(), &Control::new()).unwrap_err();
    assert_eq!(error.to_string(), "column \"strenght\" is not known; did you mean \"strength\"? Known: strength");
    let error =
        strengths(trial.units(), "strength", "0", "250", &CompareOptions::default(), &Control::new()).unwrap_err();
    assert_eq!(error.to_string(), "level of strength \"250\" is not known; did you mean \"2500\"? Known: 0, 2500");
}

#[test]
fn tray_intervals_nest_by_level() {
    let arm = Arm { rooted: vec![3, 9, 6, 12], stuck: vec![20, 20, 20, 20] };
    let spread = tray_spread(std::slice::from_ref(&arm)).unwrap();
    let (inner, outer) = (tray_interval(&arm, &spread, 0.8).unwrap(), tray_interval(&arm, &spread, 0.95).unwrap());
    assert!(outer.0 < inner.0 && inner.1 < outer.1 && inner.0 < arm.rate() && arm.rate() < inner.1);
}
