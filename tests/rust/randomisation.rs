//! Randomisation tests and their intervals against `tests/reference/values/trays.json` (made by
//! `tests/reference/make/trays.py`), and their properties.

use approx::abs_diff_eq;
use rootling::compare::{
    RandomisationOptions, Stratum, TreatmentStratum, pooled_t, randomisation, randomisation_interval,
    randomisation_test, randomisation_test_of_several, tray_rate_test,
};
use rootling::control::Control;
use serde_json::Value;

use crate::support::number;
use crate::tray_methods::{counts, numbers, values};

fn strata(value: &Value) -> Vec<Stratum> {
    let stratum = |one: &Value| {
        let (first, second) = (numbers(&one[0]), numbers(&one[1]));
        let sides = first.iter().map(|_| false).chain(second.iter().map(|_| true)).collect();
        Stratum { second: sides, rates: first.into_iter().chain(second).collect() }
    };
    value.as_array().unwrap().iter().map(stratum).collect()
}

#[test]
fn randomisation_of_two_matches() {
    let control = Control::new();
    for one in values("randomisation") {
        // trays.json: all assignments gone through with numpy; scipy 1.17.1 permutation_test agrees where it applies
        let strata = strata(&one["strata"]);
        let test = randomisation_test(&strata, 1, 999, &control).unwrap();
        assert_rel!(test.p, number(&one["p"]), 1e-12);
        let limits = randomisation_interval(&strata, number(&one["level"]), (1, 999), &control).unwrap();
        let want = numbers(&one["limits"]);
        // found there by bisection with a slack of 1e-10
        assert!(
            abs_diff_eq!(limits.low, want[0], epsilon = 1e-9) && abs_diff_eq!(limits.high, want[1], epsilon = 1e-9),
            "{limits:?} {want:?}"
        );
    }
}

#[test]
fn smallest_p_by_design_and_with_ties() {
    let control = Control::new();
    let run = |rates: &[f64], first: usize| {
        let second = (0..rates.len()).map(|at| at >= first).collect();
        randomisation_test(&[Stratum { rates: rates.to_vec(), second }], 1, 999, &control).unwrap()
    };
    // By hand, 4 v 4 with rates 0 0 0 0 0 0 1 1: both ones in one arm happens in 2 * C(6, 2) = 30 of 70 assignments.
    let tied = run(&[0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0], 4);
    assert_rel!(tied.smallest_p, 2.0 / 70.0, 1e-12);
    assert_rel!(tied.smallest_p_given_rates, 30.0 / 70.0, 1e-12);
    assert_rel!(tied.p, 1.0, 1e-12);
    // All trays alike: every assignment is as extreme.
    assert_rel!(run(&[0.5; 6], 3).smallest_p_given_rates, 1.0, 1e-12);
    // 2 v 4: the one most extreme assignment is one-sided; 1 of 15.
    let uneven = run(&[0.9, 0.8, 0.1, 0.2, 0.3, 0.25], 2);
    assert_rel!(uneven.smallest_p, 1.0 / 15.0, 1e-12);
    assert_rel!(uneven.smallest_p_given_rates, 1.0 / 15.0, 1e-12);
    assert_rel!(uneven.p, 1.0 / 15.0, 1e-12);
}

#[test]
fn drawn_intervals_agree_with_enumeration_and_threads() {
    // 9 v 9: 48,620 assignments are enumerated; 30 v 30 drawn.
    let made = |n: usize| {
        let rates = (0..2 * n).map(|at| ((at * 11) % 19) as f64 / 19.0 + if at >= n { 0.2 } else { 0.0 }).collect();
        [Stratum { rates, second: (0..2 * n).map(|at| at >= n).collect() }]
    };
    let control = Control::new();
    let exact = randomisation_interval(&made(9), 0.95, (1, 1), &control).unwrap();
    assert_rel!(exact.attained_confidence, 0.95, 1e-4);
    let t = pooled_t(&made(9)[0].rates[..9], &made(9)[0].rates[9..], 0.95).unwrap();
    // Second route: the t interval on the same rates is near.
    assert!(
        abs_diff_eq!(exact.low, t.low, epsilon = 0.03) && abs_diff_eq!(exact.high, t.high, epsilon = 0.03),
        "{exact:?} {t:?}"
    );
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let limits = randomisation_interval(&made(30), 0.95, (7, 20_000), &control).unwrap();
            (limits, randomisation_test(&made(30), 7, 20_000, &control).unwrap())
        })
    };
    assert_eq!(run(1), run(2));
    let (limits, test) = run(2);
    assert!(test.se.unwrap() > 0.0 && (limits.low > 0.0 || limits.high < 0.0) == (test.p <= 0.05));
    // One tray of a million in the second arm: a million assignments, without deep recursion.
    let many = Stratum {
        rates: (0..1_000_000).map(f64::from).collect(),
        second: (0..1_000_000).map(|at| at == 999_999).collect(),
    };
    assert_rel!(randomisation_test(&[many], 1, 9, &control).unwrap().p, 2.0 / 1e6, 1e-9);
}

fn treatments(value: &Value) -> Vec<TreatmentStratum> {
    let stratum = |one: &Value| TreatmentStratum {
        rates: numbers(&one[0]),
        treatments: counts(&one[1]).into_iter().map(|code| code as usize).collect(),
    };
    value.as_array().unwrap().iter().map(stratum).collect()
}

#[test]
fn randomisation_of_several_matches() {
    let control = Control::new();
    for one in values("several") {
        // trays.json: statsmodels 0.15.0 least squares; all assignments gone through
        let strata = treatments(&one["strata"]);
        let f = tray_rate_test(&strata).unwrap();
        assert_rel!(f.statistic, number(&one["f"]), 1e-10);
        assert_rel!(f.p.unwrap(), number(&one["p_value_f"]), 1e-9);
        let test = randomisation_test_of_several(&strata, (1, 999), &control).unwrap().unwrap();
        assert_rel!(test.p, number(&one["p"]), 1e-12);
        assert_rel!(test.assignments, number(&one["assignments"]), 1e-12);
        assert!(test.smallest_p <= test.p);
    }
    // Two treatments: the test of two arms and the square of t.
    let rates = vec![0.2, 0.3, 0.25, 0.15, 0.6, 0.3, 0.55, 0.35];
    let two = TreatmentStratum { rates: rates.clone(), treatments: vec![0, 0, 0, 0, 1, 1, 1, 1] };
    let arms = Stratum { rates: rates.clone(), second: (0..8).map(|at| at > 3).collect() };
    let several = randomisation_test_of_several(std::slice::from_ref(&two), (1, 9), &control).unwrap().unwrap();
    let pair = randomisation_test(&[arms], 1, 9, &control).unwrap();
    assert_rel!(several.p, pair.p, 1e-12);
    assert_rel!(several.smallest_p, pair.smallest_p, 1e-12);
    let t = pooled_t(&rates[..4], &rates[4..], 0.95).unwrap();
    let f = tray_rate_test(&[two]).unwrap();
    assert_rel!(f.statistic, t.statistic * t.statistic, 1e-12);
    assert_rel!(f.p.unwrap(), t.p, 1e-10);
}

#[test]
fn drawn_randomisations_of_several_do_not_depend_on_threads() {
    let rates = (0..40).map(|at| f64::from((at * 37) % 21) / 20.0).collect();
    let strata = [TreatmentStratum { rates, treatments: (0..40).map(|at| at / 10).collect() }];
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| randomisation_test_of_several(&strata, (3, 20_000), &Control::new()).unwrap().unwrap())
    };
    assert_eq!(run(1), run(2));
    // Second route: F on the same rates.
    let f = tray_rate_test(&strata).unwrap().p.unwrap();
    assert_rel!(run(2).p, f, 0.05);
}

#[test]
fn randomisation_of_lists_says_what_it_cannot() {
    let control = Control::new();
    let run =
        |first: &[f64], second: &[f64], options: &RandomisationOptions| randomisation(first, second, options, &control);
    let options = RandomisationOptions::default();
    // domain.md 4.6 (derived): 3 v 3 cannot reach 5 %, and no 95 % interval exists
    let few = run(&[0.1, 0.2, 0.3], &[0.7, 0.8, 0.9], &options).unwrap();
    assert_eq!((few.numbers.low, few.numbers.high), (-1.0, 1.0));
    assert!(
        few.notes.iter().any(|note| note.code == "p_out_of_reach")
            && few.notes.iter().any(|note| note.code == "no_interval")
    );
    let tied = run(&[0.0, 0.0, 0.0, 0.0], &[0.0, 0.0, 1.0, 1.0], &options).unwrap();
    assert!(tied.notes.iter().any(|note| note.code == "p_out_of_reach_with_ties"), "{:?}", tied.notes);
    let said = |found: rootling::Result<_>| found.map(|_: rootling::Answer<_>| ()).unwrap_err().to_string();
    assert_eq!(said(run(&[0.1, 37.5], &[0.2], &options)), "entry 2: tray rate 37.5 is outside 0 to 1");
    assert_eq!(
        said(run(&[], &[0.2], &options)),
        "the first arm has 0 trays; at least 1 are needed to see how trays differ"
    );
    let labels = |list: &[&str]| list.iter().map(|one| (*one).to_owned()).collect::<Vec<_>>();
    let apart = RandomisationOptions { strata: Some((labels(&["n"]), labels(&["s"]))), ..options.clone() };
    assert_eq!(
        said(run(&[0.1], &[0.2], &apart)),
        "a randomisation test is not defined: no stratum holds trays of both arms; leave the strata out or correct them"
    );
    assert_eq!(said(run(&[0.1, 0.2], &[0.2], &apart)), "strata: 1 for 2 trays of the first arm; give one for each");
}
