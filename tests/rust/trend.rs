//! Trends over ordered groups: published values, peers, whole-number convolution, trays and their false alarms.

use approx::assert_abs_diff_eq;
use rootling::control::Control;
use rootling::counts::{ContingencyTable, ExactOptions, Trend, fisher, linear_by_linear, trend};
use rootling::error::Error;
use rootling::math::rng::{beta_binomial, stream};
use rootling::rates::TraysUse;
use rootling::tables::{ScoredTray, TrialTrendOptions, tray_trend, trial_trend};
use rootling::trial::{LoadOptions, Trial, read_csv};

use crate::exact_tables::values;
use crate::support::{check, entry, number};

fn run(rooted: &[u64], stuck: &[u64], scores: &[f64]) -> Trend {
    trend(rooted, stuck, scores, ExactOptions::default(), &Control::new()).unwrap()
}

#[test]
fn agrees_with_convolution_and_with_r() {
    // values/tables.json: convolution in whole numbers; R 4.2.2 prop.trend.test
    for case in values("trends") {
        let list = |name: &str| -> Vec<u64> { serde_json::from_value(case[name].clone()).unwrap() };
        let scores: Vec<f64> = list("scores").iter().map(|score| *score as f64).collect();
        let found = run(&list("rooted"), &list("stuck"), &scores);
        assert_rel!(found.asymptotic.statistic.unwrap() + 1.0, number(&case["chi"]) + 1.0, 1e-10);
        assert_rel!(found.asymptotic.p, number(&case["p"]), 1e-9);
        for (name, got) in [
            ("less", found.exact.p_lower),
            ("greater", found.exact.p_higher),
            ("probability", found.exact.probability),
            ("p", found.exact.p),
            ("doubled", found.exact.doubled),
            ("by_distance", found.exact.by_distance),
        ] {
            assert_rel!(got, number(&case["exact"][name]), 1e-10);
        }
    }
}

fn malformation() -> (Vec<f64>, Vec<u64>, Vec<u64>) {
    let text = include_str!("../data/graubard_korn_1987.csv");
    let rows: Vec<Vec<f64>> =
        text.lines().skip(1).map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect()).collect();
    let rooted = rows.iter().map(|row| row[2] as u64).collect();
    (rows.iter().map(|row| row[0]).collect(), rooted, rows.iter().map(|row| (row[1] + row[2]) as u64).collect())
}

fn against_entry(id: &str, found: &Trend) {
    check(id, "statistic", found.exact.statistic);
    check(id, "mean", found.exact.mean);
    for (key, got) in [
        ("upper", found.exact.p_higher),
        ("lower", found.exact.p_lower),
        ("point", found.exact.probability),
        ("upper_mid", found.exact.mid_p_higher),
        ("doubled", found.exact.doubled),
        ("two_sided_by_distance", found.exact.by_distance),
        ("two_sided_by_prob", found.exact.p),
    ] {
        // the entry was convolved in floating point, which keeps about 1e-9 here
        assert_rel!(got, number(&entry(id)[key]), 1e-9);
    }
}

#[test]
fn agrees_with_the_reference() {
    // expected.json smokers_trend: R 4.2.2 prop.trend.test
    let (x, n) = ([83, 90, 129, 70], [86, 93, 136, 82]);
    let found = run(&x, &n, &[1.0, 2.0, 3.0, 4.0]);
    check("smokers_trend", "trend", found.asymptotic.statistic.unwrap());
    check("smokers_trend", "trend_p", found.asymptotic.p);
    let custom = run(&x, &n, &[0.0, 0.0, 0.0, 1.0]);
    check("smokers_trend", "trend_0001", custom.asymptotic.statistic.unwrap());
    // identity: trend and departure add up to Pearson's chi-square of the same entry
    let whole = found.asymptotic.statistic.unwrap() + found.departure.unwrap().statistic.unwrap();
    check("smokers_trend", "pearson", whole);
    assert_rel!(found.z.powi(2), 8.2249, 6e-4); // expected.json smokers_printed: R example output
    // expected.json malformation_trend, malformation_trend_exact: Graubard & Korn 1987
    let (scores, rooted, stuck) = malformation();
    let found = run(&rooted, &stuck, &scores);
    check("malformation_trend", "trend_scores", found.asymptotic.statistic.unwrap());
    check("malformation_trend", "trend_scores_p", found.asymptotic.p);
    against_entry("malformation_trend_exact", &found);
    assert_rel!(found.exact.p_higher, 0.0168, 0.003); // expected.json malformation_trend_exact_printed
    let rows: Vec<Vec<u64>> = rooted.iter().zip(&stuck).map(|(r, n)| vec![n - r, *r]).collect();
    let table = ContingencyTable::new(rows).unwrap();
    let line = linear_by_linear(&table, &scores, &[0.0, 1.0], ExactOptions::default(), &Control::new()).unwrap();
    check("malformation_trend", "m2_scores_n_minus_1", line.asymptotic.statistic.unwrap());
    assert_rel!(line.p, found.exact.by_distance, 1e-11);
    // midranks: (cumulative + previous + 1) / 2
    let mut before = 0.0;
    let ranks: Vec<f64> = stuck
        .iter()
        .map(|n| {
            let rank = before + f64::midpoint(*n as f64, 1.0);
            before += *n as f64;
            rank
        })
        .collect();
    let quick = ExactOptions { work: 0, draws: 99, seed: 1 };
    let found = trend(&rooted, &stuck, &ranks, quick, &Control::new()).unwrap();
    check("malformation_trend", "trend_midrank", found.asymptotic.statistic.unwrap());
    check("malformation_trend", "trend_midrank_p", found.asymptotic.p);
    // expected.json trend_exact_*: convolution with scipy 1.17.1
    for (id, x, n, s) in [
        ("trend_exact_a", vec![1, 2, 4, 7], vec![10; 4], vec![0.0, 1.0, 2.0, 3.0]),
        ("trend_exact_b", vec![0, 0, 3], vec![12, 11, 9], vec![0.0, 1.0, 2.0]),
        ("trend_exact_c", vec![5, 9, 12, 8], vec![20; 4], vec![0.0, 1.0, 2.0, 4.0]),
    ] {
        let found = run(&x, &n, &s);
        check(id, "z", found.z);
        check(id, "chi2", found.asymptotic.statistic.unwrap());
        against_entry(id, &found);
    }
}

#[test]
fn linear_by_linear_agrees() {
    // expected.json job_fisher_rxc: coin 1.4.2 lbl_test, equally spaced scores
    let rows = [[1, 2, 1, 0], [3, 3, 6, 1], [10, 10, 14, 9], [6, 7, 12, 11]].map(|row: [u64; 4]| row.to_vec());
    let table = ContingencyTable::new(rows.to_vec()).unwrap();
    let scores = [1.0, 2.0, 3.0, 4.0];
    let found = linear_by_linear(&table, &scores, &scores, ExactOptions::default(), &Control::new()).unwrap();
    check("job_fisher_rxc", "linear_by_linear_chi2", found.asymptotic.statistic.unwrap());
    assert_eq!(found.method.name(), "drawn");
    // two routes: the exact P, which counts the ties of whole scores, is near the asymptotic one with 104 people
    assert_rel!(found.p, found.asymptotic.p, 0.15);
}

#[test]
fn two_groups_are_fishers_test_and_units_do_not_matter() {
    let found = run(&[3, 9], &[11, 13], &[0.0, 2500.0]);
    let table = ContingencyTable::new(vec![vec![3, 8], vec![9, 4]]).unwrap();
    assert_rel!(found.exact.p, fisher(&table).unwrap().p, 1e-12);
    // the same in grams, upside down, and with the outcome turned
    let (x, n) = ([4, 6, 9, 9], [15, 14, 15, 13]);
    let one = run(&x, &n, &[0.0, 1250.0, 2500.0, 5000.0]);
    let grams = run(&x, &n, &[0.0, 1.25, 2.5, 5.0]);
    assert_rel!(grams.exact.p, one.exact.p, 1e-12);
    let turned: Vec<u64> = x.iter().zip(&n).map(|(x, n)| n - x).collect();
    let other = run(&turned, &n, &[0.0, 1250.0, 2500.0, 5000.0]);
    assert_rel!(other.exact.p_lower, one.exact.p_higher, 1e-12);
    assert_rel!(other.z, -one.z, 1e-12);
    // drawn within four standard errors, and far tails from their own terms
    let drawn = trend(
        &x,
        &n,
        &[0.0, 1250.0, 2500.0, 5000.0],
        ExactOptions { work: 0, draws: 50_000, seed: 4 },
        &Control::new(),
    );
    let drawn = drawn.unwrap().exact;
    assert_abs_diff_eq!(drawn.by_distance, one.exact.by_distance, epsilon = 4.0 * drawn.se.unwrap());
    // by hand: 0 of 60 and 60 of 60 is one table out of (120 choose 60)
    let ln_choose: f64 = (1..=60).map(|i| (f64::from(60 + i) / f64::from(i)).ln()).sum();
    assert_rel!(run(&[0, 60], &[60, 60], &[0.0, 1.0]).exact.p_higher, (-ln_choose).exp(), 1e-10);
}

#[test]
fn bad_input_is_named() {
    let fault = |x: &[u64], n: &[u64], s: &[f64]| -> String {
        trend(x, n, s, ExactOptions::default(), &Control::new()).unwrap_err().to_string()
    };
    assert_eq!(
        fault(&[1, 2], &[3], &[0.0, 1.0]),
        "the lists differ in length: 2 rooted, 1 stuck; give both for every entry"
    );
    assert_eq!(fault(&[1, 2], &[3, 4], &[0.0]), "scores: 1 for 2 groups; give one for each");
    assert_eq!(
        fault(&[1, 5], &[3, 4], &[0.0, 1.0]),
        "entry 2: 5 rooted of 4 stuck; the number rooted cannot exceed the number stuck"
    );
    assert!(fault(&[1, 0], &[3, 0], &[0.0, 1.0]).starts_with("entry 2: 0 cuttings were stuck"));
    assert_eq!(
        fault(&[1, 2], &[3, 4], &[5.0, 5.0]),
        "a trend is not defined: all scores are the same; give each group its own number, for example its strength"
    );
    assert!(fault(&[1, 2], &[3, 4], &[0.0, f64::NAN]).starts_with("score 2 is NaN; give each group"));
    let control = Control::new();
    control.stop();
    let stopped = trend(&[5, 9], &[20, 20], &[0.0, 1.0], ExactOptions::default(), &control);
    assert_eq!(stopped.unwrap_err(), Error::Interrupted);
}

/// Trays of 20 at three or more strengths, all with the same take.
fn null_trays(seed: u64, arms: u32, trays: u32, icc: f64, take: f64) -> Vec<ScoredTray> {
    let mut rng = stream(20_261_125, seed);
    (0..arms)
        .flat_map(|arm| (0..trays).map(move |_| arm))
        .map(|arm| ScoredTray {
            rate: beta_binomial(&mut rng, 20, take, icc) as f64 / 20.0,
            score: f64::from(arm) * 1000.0,
            arm,
            stratum: 0,
        })
        .collect()
}

#[test]
fn false_alarms_of_the_tray_trend_stay_near_five_percent() {
    // simulation with a fixed seed: 4000 trials without effect; 5 % give or take three standard errors is 4.0 to 6.0 %
    for (arms, trays, icc, take) in [(4, 4, 0.10, 0.5), (4, 4, 0.0, 0.5), (3, 6, 0.15, 0.8), (5, 3, 0.05, 0.3)] {
        let runs = 4000_u64;
        let (mut alarms, mut pooled) = (0.0, 0.0);
        for seed in 0..runs {
            let drawn = null_trays(seed, arms, trays, icc, take);
            if tray_trend(&drawn).is_some_and(|found| found.p <= 0.05) {
                alarms += 1.0;
            }
            let rooted: Vec<u64> = (0..arms)
                .map(|arm| drawn.iter().filter(|one| one.arm == arm).map(|one| (one.rate * 20.0).round() as u64).sum())
                .collect();
            let stuck = vec![u64::from(trays) * 20; arms as usize];
            let scores: Vec<f64> = (0..arms).map(f64::from).collect();
            let quick = ExactOptions { work: 0, draws: 99, seed: 1 };
            let found = trend(&rooted, &stuck, &scores, quick, &Control::new()).unwrap();
            pooled += f64::from(u8::from(found.asymptotic.p <= 0.05));
        }
        let (alarms, pooled) = (alarms / runs as f64, pooled / runs as f64);
        println!("{arms} strengths, {trays} trays, icc {icc}, take {take}: trays {alarms:.3}, cuttings {pooled:.3}");
        assert!((0.035..=0.06).contains(&alarms), "trays {alarms}");
        if icc >= 0.1 {
            assert!(pooled > 0.15, "counting cuttings gives {pooled}");
        }
    }
}

fn trial(text: &str, tray: bool) -> Trial {
    let options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: vec!["strength".into()],
        tray: tray.then(|| "tray".into()),
        ..LoadOptions::default()
    };
    read_csv(text.as_bytes(), &options).unwrap()
}

fn text(counts: &[(u32, [u32; 4])]) -> String {
    let mut text = "strength,tray,rooted,stuck\n".to_owned();
    for (strength, rooted) in counts {
        for (at, rooted) in rooted.iter().enumerate() {
            text.push_str(&format!("{strength},s{strength}t{at},{rooted},20\n"));
        }
    }
    text
}

const RISING: [(u32, [u32; 4]); 3] = [(0, [4, 6, 5, 3]), (2500, [9, 8, 11, 7]), (5000, [12, 14, 11, 15])];

#[test]
fn a_trial_counts_trays() {
    let loaded = trial(&text(&RISING), true);
    let answer = trial_trend(loaded.units(), "strength", &TrialTrendOptions::default(), &Control::new()).unwrap();
    let figures = &answer.numbers;
    assert_eq!((figures.unit.as_str(), figures.tests[0].counts.as_str()), ("tray", "trays"));
    // by hand: tray means 0.225, 0.4375, 0.65; the slope contrast is the difference of the outer means, 0.425; squares
    // within arms 5, 8.75, 10 over 400, on 9 degrees of freedom, so s^2 = 23.75 / 3600; variance of the difference s^2 (1/4 + 1/4)
    assert_rel!(figures.value, 0.425, 1e-12);
    assert_rel!(figures.se.unwrap(), (23.75_f64 / 3600.0 * 0.5).sqrt(), 1e-10);
    assert_eq!(figures.tests[0].test.df, Some(9.0));
    assert!(
        answer.words().contains("The take rises by 42.5 trees per 100 along a straight line from strength 0 to 5000"),
        "{}",
        answer.sentence
    );
    assert!(answer.table.columns.iter().any(|column| column.name == "counts"));
    let ignored = TrialTrendOptions { trays: TraysUse::Ignore, ..TrialTrendOptions::default() };
    let pooled = trial_trend(loaded.units(), "strength", &ignored, &Control::new()).unwrap();
    assert!(
        pooled.words().contains("Trays are not counted here, so the interval is too narrow"),
        "{}",
        pooled.sentence
    );
    let bare = trial(&text(&RISING), false);
    let bare = trial_trend(bare.units(), "strength", &TrialTrendOptions::default(), &Control::new()).unwrap();
    assert!(bare.words().contains("No trays were recorded"), "{}", bare.sentence);
}

#[test]
fn a_trial_without_trend_names_what_cannot_be_ruled_out() {
    let flat = [(0, [10, 9, 11, 8]), (2500, [9, 12, 8, 10]), (5000, [11, 8, 10, 9])];
    let loaded = trial(&text(&flat), true);
    let answer = trial_trend(loaded.units(), "strength", &TrialTrendOptions::default(), &Control::new()).unwrap();
    assert!(
        answer.words().contains("No trend of the take is shown") && answer.words().contains("cannot be ruled out"),
        "{}",
        answer.sentence
    );
    // a hump: no trend, but the departure is noted
    let hump = [(0, [4, 6, 5, 3]), (2500, [15, 16, 14, 17]), (5000, [4, 5, 6, 4])];
    let loaded = trial(&text(&hump), true);
    let answer = trial_trend(loaded.units(), "strength", &TrialTrendOptions::default(), &Control::new()).unwrap();
    assert!(answer.notes.iter().any(|note| note.code == "not_straight"));
    // A fall at every step that is no straight line is still a fall; one that turns on the way is none.
    let steep = [(0, [18, 17, 19, 18]), (2500, [7, 6, 8, 7]), (5000, [6, 5, 7, 6])];
    let answer =
        trial_trend(trial(&text(&steep), true).units(), "strength", &TrialTrendOptions::default(), &Control::new())
            .unwrap();
    assert!(
        answer.sentence.contains("falls at every step from")
            && answer.sentence.contains("60 trees per 100 lower at 5000"),
        "{}",
        answer.sentence
    );
    let turned = [(0, [18, 17, 19, 18]), (2500, [5, 4, 6, 5]), (5000, [9, 8, 10, 9])];
    let answer =
        trial_trend(trial(&text(&turned), true).units(), "strength", &TrialTrendOptions::default(), &Control::new())
            .unwrap();
    assert!(answer.sentence.contains("no one rise or fall describes it"), "{}", answer.sentence);
    // all trays alike: no test, said so
    let even = [(0, [5, 5, 5, 5]), (2500, [9, 9, 9, 9]), (5000, [12, 12, 12, 12])];
    let loaded = trial(&text(&even), true);
    let answer = trial_trend(loaded.units(), "strength", &TrialTrendOptions::default(), &Control::new()).unwrap();
    assert_eq!(answer.numbers.p, None);
    assert!(answer.words().contains("No test is given"), "{}", answer.sentence);
    // none rooted at all
    let none = [(0, [0; 4]), (2500, [0; 4])];
    let loaded = trial(&text(&none), true);
    assert!(trial_trend(loaded.units(), "strength", &TrialTrendOptions::default(), &Control::new()).is_ok());
    let error = trial_trend(loaded.units(), "strenght", &TrialTrendOptions::default(), &Control::new()).unwrap_err();
    assert!(error.to_string().contains("did you mean \"strength\""), "{error}");
}

/// Where every cutting did the same nothing varies, which is no fault of the layout.
#[test]
fn where_nothing_varies_the_answer_says_so() {
    for (count, what) in [(0, "no cutting rooted"), (20, "every cutting rooted")] {
        let loaded = trial(&text(&[(0, [count; 4]), (2500, [count; 4]), (5000, [count; 4])]), true);
        for trays in [TraysUse::Auto, TraysUse::Ignore] {
            let options = TrialTrendOptions { trays, ..TrialTrendOptions::default() };
            let answer = trial_trend(loaded.units(), "strength", &options, &Control::new()).unwrap();
            let said = format!("othing varies from 0 to strength 5000: {what}, so there is no trend to test.");
            assert!(answer.sentence.ends_with(&said), "{}", answer.sentence);
            assert!(answer.details.join(" ").contains("nothing varies, so there is nothing to test"), "{answer:?}");
        }
    }
}

/// Seasons themselves are one each: the layout allows no test of them, and the answer sends on.
#[test]
fn a_trend_over_places_themselves_sends_to_their_rates() {
    let mut text = "season,strength,tray,rooted,stuck\n".to_owned();
    for (at, season) in [2020, 2021, 2022].into_iter().enumerate() {
        for (tray, rooted) in [5, 7, 9, 6].into_iter().enumerate() {
            text.push_str(&format!("{season},{},t{at}{tray},{},20\n", 1000 * (tray % 2), rooted + at));
        }
    }
    let options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: vec!["strength".into()],
        tray: Some("tray".into()),
        season: Some("season".into()),
        ..LoadOptions::default()
    };
    let loaded = read_csv(text.as_bytes(), &options).unwrap();
    let answer = trial_trend(loaded.units(), "season", &TrialTrendOptions::default(), &Control::new()).unwrap();
    let said = "one season each allows no test, and take_rates(\"season\") shows all with intervals.";
    assert!(answer.sentence.ends_with(said), "{}", answer.sentence);
    let told = answer.details.join(" ");
    assert!(
        told.contains("each level of season is one season, and nothing shows by how much two seasons differ"),
        "{told}"
    );
}

#[test]
fn scores_that_are_no_numbers_or_missing_are_named() {
    let loaded = trial(&text(&RISING), true);
    let of = |score: Option<f64>| {
        let given = [("0", Some(0.0)), ("2500", score), ("5000", Some(2.0))];
        let scores = given.into_iter().filter_map(|(level, score)| Some((level.to_owned(), score?))).collect();
        let options = TrialTrendOptions { scores: Some(scores), ..TrialTrendOptions::default() };
        trial_trend(loaded.units(), "strength", &options, &Control::new()).map(|_| ()).unwrap_err().to_string()
    };
    let end = "for level \"2500\"; give each level a number, for example its strength";
    assert_eq!(of(Some(f64::NAN)), format!("scores= gives NaN {end}"));
    assert_eq!(of(Some(f64::INFINITY)), format!("scores= gives inf {end}"));
    assert_eq!(of(None), "scores= leaves out level \"2500\"; give each level a number, for example its strength");
}

#[test]
fn a_trend_stays_inside_what_takes_can_be() {
    let step = [(0, [0, 0, 1, 0]), (1000, [0, 1, 0, 0]), (2000, [20, 19, 20, 20]), (3000, [20, 20, 19, 20])];
    let loaded = trial(&text(&step), true);
    // by hand: level means 0.0125, 0.0125, 0.9875, 0.9875; the line of least squares rises by 3 (1.5 + 0.5) 0.975 / 5 = 1.17
    for trays in [TraysUse::Auto, TraysUse::Ignore] {
        let options = TrialTrendOptions { trays, ..TrialTrendOptions::default() };
        let answer = trial_trend(loaded.units(), "strength", &options, &Control::new()).unwrap();
        let found = &answer.numbers;
        let (low, high) = (found.low.unwrap(), found.high.unwrap());
        assert!(found.cut && answer.notes.iter().any(|note| note.code == "line_beyond_takes"));
        assert_eq!((found.value, high), (1.0, 1.0));
        assert!(low <= found.value && low > 0.0);
        // by hand: 1 of 80 and 79 of 80 as counted, 97.5 apart; the line's own rise is no estimate
        let told = "as counted the take is 97.5 trees per 100 higher at 3000 than at 0";
        assert!(answer.words().contains(told), "{}", answer.words());
        assert!(!answer.words().contains("rises by 100"), "{}", answer.words());
        // The exact test of cuttings stands where cuttings are counted.
        let exact = found.tests.iter().any(|one| one.test.method.name().ends_with(" trend"));
        assert_eq!(exact, trays == TraysUse::Ignore);
    }
    // Limits alone may run beyond: the take is then cut at them without a note.
    let steep = [(0, [0, 3, 0, 1]), (2500, [11, 5, 9, 12]), (5000, [20, 17, 20, 14])];
    let loaded = trial(&text(&steep), true);
    let answer = trial_trend(loaded.units(), "strength", &TrialTrendOptions::default(), &Control::new()).unwrap();
    assert!(!answer.numbers.cut && answer.numbers.high.unwrap() <= 1.0);
}

#[test]
fn origin_and_unit_of_the_scores_change_nothing_however_large() {
    let (rooted, stuck) = ([1, 5, 9], [11, 10, 10]);
    let plain = run(&rooted, &stuck, &[2.0, 0.0, 1.0]);
    for (scores, unit) in [
        ([2e200, 0.0, 1e200], 1e200),
        ([1e300, -1e300, 0.0], 1e300),
        ([2e-200, 0.0, 1e-200], 1e-200),
        ([7.0 + 2.0 / 3.0, 7.0, 7.0 + 1.0 / 3.0], 1.0 / 3.0),
    ] {
        let found = run(&rooted, &stuck, &scores);
        assert_rel!(found.z, plain.z, 1e-12);
        assert_rel!(found.asymptotic.p, plain.asymptotic.p, 1e-11);
        assert_rel!(found.departure.unwrap().p, plain.departure.as_ref().unwrap().p, 1e-9);
        assert_rel!(found.slope * unit, plain.slope, 1e-12);
        assert_eq!(found.exact.method.name(), "exact");
        assert_rel!(found.exact.p, plain.exact.p, 1e-12);
    }
    // next to 1e200 the scores 0 and 1 are one
    let (far, two) = (run(&rooted, &stuck, &[1e200, 0.0, 1.0]), run(&rooted, &stuck, &[1.0, 0.0, 0.0]));
    assert_rel!(far.z, two.z, 1e-12);
    assert_rel!(far.slope * 1e200, two.slope, 1e-12);
    assert_rel!(far.exact.p, two.exact.p, 1e-12);
}

#[test]
fn scores_whose_sum_is_beyond_all_numbers_are_refused() {
    for scores in [[1.7e308, -1.7e308, 0.0], [5e-324, 0.0, 1e-323], [4e-310, 0.0, 1e-309]] {
        let found = trend(&[1, 5, 9], &[11, 10, 10], &scores, ExactOptions::default(), &Control::new());
        assert!(matches!(found, Err(Error::Count(_))), "{scores:?}: {found:?}");
    }
}

#[test]
fn linear_association_does_not_depend_on_the_unit_of_the_scores() {
    let table = ContingencyTable::new(vec![vec![9, 1, 3], vec![8, 2, 4], vec![6, 4, 9]]).unwrap();
    let run = |rows: [f64; 3], columns: [f64; 3]| {
        linear_by_linear(&table, &rows, &columns, ExactOptions::default(), &Control::new()).unwrap()
    };
    let (plain, large) = (run([0.0, 1.0, 2.0], [1.0, 2.0, 4.0]), run([0.0, 1e300, 2e300], [1e-200, 2e-200, 4e-200]));
    assert_rel!(large.correlation, plain.correlation, 1e-12);
    assert_rel!(large.asymptotic.p, plain.asymptotic.p, 1e-11);
    assert_eq!(large.p, plain.p);
}

/// All trays of a level alike: nothing shows how trays differ, whatever rounding leaves.
#[test]
fn trays_alike_within_levels_give_no_trend() {
    let levels = [(9, 10, 10), (6, 7, 8), (4, 10, 16), (3, 9, 3)];
    for ((first, second, third), stuck) in levels.into_iter().flat_map(|one| [18, 20, 25, 30].map(|stuck| (one, stuck)))
    {
        let tray = |(at, count): (usize, &u32), stratum| ScoredTray {
            rate: f64::from(*count) / f64::from(stuck),
            score: at as f64,
            arm: at as u32,
            stratum,
        };
        let counts = [first, second, third];
        let trays: Vec<ScoredTray> = (0..4)
            .flat_map(|place| counts.iter().enumerate().map(move |one| tray(one, place % 2)).collect::<Vec<_>>())
            .collect();
        assert!(tray_trend(&trays).is_none(), "{counts:?} of {stuck}");
    }
}
