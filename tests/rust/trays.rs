//! Trays counted: intraclass correlation, adjusted chi-square, t tests, randomisation, the verbs of a trial.

use rootling::compare::{
    CompareOptions, EffectiveStrata, Stratum, pooled_t, randomisation_test, stratified_t, strengths, welch_t,
};
use rootling::control::Control;
use rootling::counts::score_effective;
use rootling::rates::{
    Arm, TakeRatesOptions, TraySpread, TraysUse, take_rates, tray_interval, tray_spread, tray_spread_within,
};
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
    let arms = arms(&data("weil_1970.csv"), &[1], 3, 2);
    let spread = tray_spread(&arms).unwrap();
    check("weil_donner", "rho", spread.icc);
    let test = donner_chi_square(&arms, &spread).unwrap();
    check("weil_donner", "chi2", test.statistic.unwrap());
    check("weil_donner", "p", test.p);
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
    check("crowder_donner", "p", test.p);
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
    check(id, "t_p", t.p);
    crate::support::check_list(id, "t_ci", &[t.low, t.high]);
    let welch = welch_t(&first, &second, 0.95).unwrap();
    check(id, "welch_t", welch.statistic);
    check(id, "welch_df", welch.df);
    check(id, "welch_p", welch.p);
    let pairs: Vec<Stratum> =
        first.iter().zip(&second).map(|(a, b)| Stratum { rates: vec![*a, *b], second: vec![false, true] }).collect();
    let paired = stratified_t(&pairs, 0.95).unwrap();
    check(id, "paired_t", paired.statistic);
    check(id, "paired_p", paired.p);
    crate::support::check_list(id, "paired_ci", &[paired.low, paired.high]);
    let all: Vec<f64> = first.iter().chain(&second).copied().collect();
    let labels: Vec<bool> = (0..12).map(|at| at >= 6).collect();
    let free = randomisation_test(&[Stratum { rates: all, second: labels }], 1, 999, &Control::new()).unwrap();
    check(id, "permutation_p", free.p);
    let pairs: Vec<Stratum> =
        first.iter().zip(&second).map(|(a, b)| Stratum { rates: vec![*a, *b], second: vec![false, true] }).collect();
    let flips = randomisation_test(&pairs, 1, 999, &Control::new()).unwrap();
    check(id, "signflip_p", flips.p);
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
        assert_rel!(found.p, expected, 1e-12);
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
    assert!((one.p / t.p).ln().abs() < 0.15, "{} against {}", one.p, t.p);
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
    assert_rel!(forth.numbers.value, 0.425, 1e-12); // 52/80 - 18/80
    assert_rel!(forth.numbers.value, -back.numbers.value, 1e-12);
    assert_rel!(forth.numbers.low.unwrap(), -back.numbers.high.unwrap(), 1e-9);
    assert!(forth.words().contains("42.5 more trees per 100"), "{}", forth.words());
    assert_rel!(forth.numbers.randomisation.unwrap().p, 2.0 / 70.0, 1e-12);
    assert_rel!(forth.numbers.p.unwrap(), back.numbers.p.unwrap(), 1e-12);
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
        answer.sentence.starts_with("Too few trays to tell: ") && answer.words().contains("cannot be ruled out"),
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
        let (low, high) = (answer.numbers.low.unwrap(), answer.numbers.high.unwrap());
        assert!(
            low <= answer.numbers.value && answer.numbers.value <= high && low < high && low >= -1.0 && high <= 1.0
        );
        assert!(answer.notes.iter().any(|note| note.code == "extreme_rates"));
        let rates = take_rates(trial.units(), &["strength"], &TakeRatesOptions::default()).unwrap();
        assert!(rates.numbers.rates.iter().all(|rate| rate.low <= rate.value && rate.value <= rate.high));
    }
}

#[test]
fn one_place_per_level_gets_no_test() {
    let rows: Vec<(u32, &str, u32, u32)> =
        SIX.iter().map(|row| (row.0, if row.0 == 0 { "n" } else { "s" }, row.2, row.3)).collect();
    let trial = trial(&text(&rows), false, true);
    let answer =
        strengths(trial.units(), "strength", "0", "2500", &CompareOptions::default(), &Control::new()).unwrap();
    assert_eq!((answer.numbers.p, answer.numbers.low), (None, None));
    assert!(answer.words().contains("No test is given"), "{}", answer.sentence);
    assert!(answer.methods.ends_with("side by side without a test."), "{}", answer.methods);
    assert!(answer.notes.iter().any(|note| note.code == "confounded_with_whole_plot"));
}

#[test]
fn very_many_trays_are_not_dealt_anew() {
    let many: Vec<(u32, &str, u32, u32)> = (0..1002).map(|at| (2500 * (at % 2), "n", 5 + at % 7, 20)).collect();
    let trial = trial(&text(&many), false, false);
    let answer =
        strengths(trial.units(), "strength", "0", "2500", &CompareOptions::default(), &Control::new()).unwrap();
    assert!(answer.numbers.randomisation.is_none() && answer.numbers.p.is_some());
    assert!(!answer.methods.contains("randomisation") && !answer.words().contains("Re-dealing"));
}

#[test]
fn ignoring_trays_is_marked() {
    let trial = trial(&text(&SIX), false, false);
    let options = CompareOptions { trays: TraysUse::Ignore, ..CompareOptions::default() };
    let answer = strengths(trial.units(), "strength", "0", "2500", &options, &Control::new()).unwrap();
    assert!(answer.sentence.starts_with("Without trays only a hint: "));
    assert!(answer.words().contains("the interval is too narrow and the P value too small"));
    assert!(answer.notes.iter().any(|note| note.code == "trays_ignored"));
    let ignored = TakeRatesOptions { trays: TraysUse::Ignore, ..TakeRatesOptions::default() };
    let rates = take_rates(trial.units(), &[], &ignored).unwrap();
    assert!(rates.notes.iter().any(|note| note.code == "trays_ignored"));
}

#[test]
fn association_leads_with_trays() {
    let trial = trial(&text(&SIX), true, false);
    let answer = association(trial.units(), "strength", &AssociationOptions::default(), &Control::new()).unwrap();
    assert_eq!(answer.numbers.tests[0].counts, "trays");
    assert_eq!(answer.numbers.method.name(), "score");
    assert!(answer.notes.iter().any(|note| note.code == "ask_compare"));
    assert!(answer.numbers.tests.iter().any(|one| one.test.method.name() == "fisher"));
    let within = AssociationOptions { within: Some("bench".into()), ..AssociationOptions::default() };
    let answer = association(trial.units(), "strength", &within, &Control::new()).unwrap();
    assert!(answer.numbers.tests.iter().any(|one| one.stratum.as_deref() == Some("s")));
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

/// Trays, level and values of `values/effective_strata.json`.
fn reference() -> (Vec<[u64; 4]>, serde_json::Value) {
    let made: serde_json::Value =
        serde_json::from_str(include_str!("../reference/values/effective_strata.json")).unwrap();
    (serde_json::from_value(made["trays"].clone()).unwrap(), made["values"].clone())
}

#[test]
fn score_within_blocks_by_a_second_route() {
    let (trays, values) = reference();
    let arm = |treatment: u64, block: Option<u64>| -> (Arm, Vec<u32>) {
        let own = trays.iter().filter(|tray| tray[0] == treatment && block.is_none_or(|block| tray[1] == block));
        let (counts, blocks): (Vec<(u64, u64)>, Vec<u32>) =
            own.map(|tray| ((tray[2], tray[3]), tray[1] as u32)).unzip();
        let (rooted, stuck) = counts.into_iter().unzip();
        (Arm { rooted, stuck }, blocks)
    };
    let (arms, blocks): (Vec<Arm>, Vec<Vec<u32>>) = (0..3).map(|treatment| arm(treatment, None)).unzip();
    let spread = tray_spread_within(&arms, &blocks).unwrap();
    let value = |key: &str| values[key].as_f64().unwrap();
    // values/effective_strata.json: numpy 2.4.6 lstsq and pinv, scipy 1.17.1 minimize_scalar and brentq.
    assert_rel!(spread.icc, value("icc"), 1e-10);
    assert_rel!(spread.df, value("df"), 1e-15);
    assert_rel!(spread.icc_floor, value("floor"), 1e-12);
    let strata: Vec<(Arm, Arm)> = (0..4).map(|block| (arm(0, Some(block)).0, arm(1, Some(block)).0)).collect();
    let found = EffectiveStrata::new(&strata, &spread);
    // The same file, made as above.
    assert_rel!(found.difference(), value("difference"), 1e-10);
    assert_rel!(found.statistic(), value("t"), 1e-8);
    assert_rel!(found.p(), value("p"), 1e-8);
    let critical = spread.critical(0.95);
    for (key, limits) in [
        ("difference_limits", found.difference_limits(critical).unwrap()),
        ("ratio_limits", found.ratio_limits(critical).unwrap()),
        ("odds_ratio_limits", found.odds_ratio_limits(critical).unwrap()),
    ] {
        // The same file, made as above; maximisation by values of the likelihood holds about 8 digits.
        assert_rel!(limits.0, values[key][0].as_f64().unwrap(), 1e-7);
        assert_rel!(limits.1, values[key][1].as_f64().unwrap(), 1e-7);
    }
}

#[test]
fn without_a_correlation_it_is_the_mantel_haenszel_test() {
    // Bickel, Hammel & O'Connell 1975; expected.json ucb_cmh.
    let rows = data("bickel_1975.csv");
    let count = |dept: &str, gender: &str, admit: &str| -> u64 {
        rows.iter().find(|row| row[0] == admit && row[1] == gender && row[2] == dept).unwrap()[3].parse().unwrap()
    };
    let arm = |dept: &str, gender: &str| {
        let rooted = count(dept, gender, "Admitted");
        Arm { rooted: vec![rooted], stuck: vec![rooted + count(dept, gender, "Rejected")] }
    };
    let strata: Vec<(Arm, Arm)> =
        ["A", "B", "C", "D", "E", "F"].iter().map(|dept| (arm(dept, "Female"), arm(dept, "Male"))).collect();
    let spread =
        TraySpread { icc: 0.0, df: f64::INFINITY, dispersion: None, dispersion_df: 0.0, icc_floor: 0.0, events: 1e3 };
    let found = EffectiveStrata::new(&strata, &spread);
    check("ucb_cmh", "cmh", found.statistic().powi(2));
    check("ucb_cmh", "cmh_p", found.p());
    check("ucb_cmh", "mh_or", found.odds_ratio().unwrap());
}

#[test]
fn one_stratum_is_the_score_interval_on_effective_cuttings() {
    let (first, second) =
        (Arm { rooted: vec![3, 9, 6, 12], stuck: vec![20; 4] }, Arm { rooted: vec![10, 14, 8], stuck: vec![20; 3] });
    let spread = tray_spread(&[first.clone(), second.clone()]).unwrap();
    let side = |arm: &Arm| (arm.rate(), spread.effective_cuttings(arm));
    let critical = spread.critical(0.9);
    let found = EffectiveStrata::new(&[(first.clone(), second.clone())], &spread).difference_limits(critical).unwrap();
    // Second route: the score limits of two rates.
    let (low, high) = score_effective(side(&first), side(&second), critical).unwrap();
    assert_rel!(found.0, low, 1e-12);
    assert_rel!(found.1, high, 1e-12);
}

#[test]
fn places_are_taken_out_of_the_spread() {
    // By hand: rates 0.2 0.4 0.3 and 0.5 0.6 0.7 in blocks 0 1 2, 20 cuttings each. Arm means 0.3 and 0.6, block means 0.35
    // 0.5 0.5, grand mean 0.45. Residuals 0, 0.05, -0.05 and their opposites: sum of squares 0.01, x 20 = 0.2 on 2 df.
    // Within: 20 (0.16 + 0.24 + 0.21 + 0.25 + 0.24 + 0.21) = 26.2 on 114 df. All leverages are 4/6, so m0 = 20.
    let arms =
        [Arm { rooted: vec![4, 8, 6], stuck: vec![20; 3] }, Arm { rooted: vec![10, 12, 14], stuck: vec![20; 3] }];
    let places = [vec![0, 1, 2], vec![0, 1, 2]];
    let found = tray_spread_within(&arms, &places).unwrap();
    let (between, within) = (0.1, 26.2 / 114.0);
    assert_rel!(found.icc, (between - within) / (between + 19.0 * within), 1e-12);
    assert_rel!(found.df, 2.0, 1e-15);
    // More places than treatments or fewer: the same fit, swept out the other way.
    let turned: Vec<Arm> = (0..3)
        .map(|place| Arm { rooted: arms.iter().map(|arm| arm.rooted[place]).collect(), stuck: vec![20; 2] })
        .collect();
    let other = tray_spread_within(&turned, &vec![vec![0, 1]; 3]).unwrap();
    assert_rel!(other.icc, found.icc, 1e-12);
    // One place for all changes nothing; every tray in a place of its own leaves nothing.
    assert_eq!(tray_spread_within(&arms, &[vec![7; 3], vec![7; 3]]), tray_spread(&arms));
    assert_eq!(tray_spread_within(&arms, &[vec![0, 1, 2], vec![3, 4, 5]]), None);
}

#[test]
fn the_planning_correlation_fades_with_events() {
    let none = [Arm { rooted: vec![0; 4], stuck: vec![20; 4] }, Arm { rooted: vec![20; 4], stuck: vec![20; 4] }];
    let spread = tray_spread(&none).unwrap();
    // No event at all: the planning value of domain.md, 0.05.
    assert_rel!(spread.icc_used(), 0.05, 1e-15);
    assert!(spread.few_events());
    let some = [Arm { rooted: vec![5, 5, 4, 4], stuck: vec![20; 4] }];
    // 18 events: 0.05 x 2 / 20.
    assert_rel!(tray_spread(&some).unwrap().icc_used(), 0.005, 1e-12);
    assert!(!tray_spread(&some).unwrap().few_events());
}

#[test]
fn interval_and_test_never_disagree() {
    use rootling::math::rng;
    use rootling::simulate::{Blocks, TrayDesign, TraySizes};
    let takes = [(0.02, 0.15), (0.3, 0.55), (0.5, 0.5), (0.98, 0.8), (0.02, 0.02)];
    let mut shown = 0;
    for replicate in 0..2_000_u64 {
        let (first, second) = takes[(replicate % 5) as usize];
        let blocks = (replicate % 3 > 0).then_some(Blocks { trays: (replicate % 3) as usize, sd: 0.5 });
        let design = TrayDesign {
            takes: vec![first, second],
            trays: 6,
            cuttings: 5 + 10 * (replicate % 2),
            sizes: TraySizes::Uneven,
            icc: 0.05,
            blocks,
        };
        let trial = design.draw(&mut rng::stream(11, replicate));
        let spread = tray_spread_within(&trial.arms, &trial.blocks).unwrap();
        let found = EffectiveStrata::new(&trial.strata(0, 1), &spread);
        let critical = spread.critical(0.95);
        let away = found.p() < 0.05;
        shown += u32::from(away);
        let (low, high) = found.difference_limits(critical).unwrap();
        assert_eq!(low > 0.0 || high < 0.0, away, "{trial:?}");
        assert!(low <= found.difference() && found.difference() <= high, "{trial:?}");
        let (low, high) = found.ratio_limits(critical).unwrap();
        assert_eq!(low > 1.0 || high < 1.0, away, "{trial:?}");
        assert!(found.ratio().is_none_or(|ratio| low <= ratio && ratio <= high), "{trial:?}");
        if let Some(odds) = found.odds_ratio() {
            let (low, high) = found.odds_ratio_limits(critical).unwrap();
            assert_eq!(low > 1.0 || high < 1.0, away, "{trial:?}");
            assert!(low <= odds && odds <= high, "{trial:?}");
        }
    }
    assert!(shown > 200, "{shown}");
}

#[test]
fn comparison_is_within_blocks_and_gives_all_scales() {
    let pairs: [(u32, &str, u32, u32); 8] = [
        (0, "a", 2, 20),
        (2500, "a", 9, 20),
        (0, "b", 8, 20),
        (2500, "b", 13, 20),
        (0, "c", 5, 20),
        (2500, "c", 12, 20),
        (0, "d", 11, 20),
        (2500, "d", 17, 20),
    ];
    let answer = strengths(
        trial(&text(&pairs), true, false).units(),
        "strength",
        "0",
        "2500",
        &CompareOptions::default(),
        &Control::new(),
    )
    .unwrap();
    let found = &answer.numbers;
    assert_eq!(found.within, ["bench"]);
    assert_rel!(found.value, 25.0 / 80.0, 1e-12);
    // 8 trays - 2 levels - 4 benches + 1.
    assert_rel!(found.df.unwrap(), 3.0, 1e-15);
    let low = found.low.unwrap();
    assert_eq!(low > 0.0, found.p.unwrap() < 0.05);
    let (ratio, odds) = (found.ratio.unwrap(), found.odds_ratio.unwrap());
    assert_rel!(ratio.0.unwrap(), 51.0 / 26.0, 1e-12);
    assert!(
        ratio.1 < 51.0 / 26.0 && odds.1 < odds.0 && (ratio.1 > 1.0) == (low > 0.0) && (odds.1 > 1.0) == (low > 0.0)
    );
    // Four pairs: the smallest randomisation P value is 1/8, which the sentence must not hide.
    assert!(answer.words().contains("cannot confirm it: P = 0.12"), "{}", answer.sentence);
    assert!(!answer.words().contains("borderline"), "{}", answer.sentence);
}

#[test]
fn blocks_that_hold_one_level_each_withhold_the_test() {
    let rows: Vec<(u32, &str, u32, u32)> =
        SIX.iter().map(|row| (row.0, if row.0 == 0 { "n" } else { "s" }, row.2, row.3)).collect();
    let trial = trial(&text(&rows), true, false);
    let answer =
        strengths(trial.units(), "strength", "0", "2500", &CompareOptions::default(), &Control::new()).unwrap();
    assert_eq!((answer.numbers.p, answer.numbers.low), (None, None));
    let why = answer.numbers.withheld.unwrap();
    assert!(why.contains("each of the two levels of strength was in a single bench"), "{why}");
}
