//! Intervals for one rate: published and computed values, shared properties, effective counts, many at once.

use approx::abs_diff_eq;
use proptest::prelude::*;
use rootling::Count;
use rootling::control::Control;
use rootling::error::{CountError, Error};
use rootling::rates::{IntervalMethod, Sides, interval, interval_effective, interval_many};

use crate::support::{check_list, entry};

const METHODS: [(IntervalMethod, &str); 9] = [
    (IntervalMethod::Wald, "wald"),
    (IntervalMethod::Wilson, "wilson"),
    (IntervalMethod::WilsonCorrected, "wilson_cc"),
    (IntervalMethod::ClopperPearson, "clopper_pearson"),
    (IntervalMethod::MidP, "mid_p"),
    (IntervalMethod::Jeffreys, "jeffreys"),
    (IntervalMethod::AgrestiCoull, "agresti_coull"),
    (IntervalMethod::Likelihood, "likelihood"),
    (IntervalMethod::Blaker, "blaker"),
];

fn limits(rooted: u64, stuck: u64, method: IntervalMethod) -> [f64; 2] {
    let found = interval(Count { rooted, stuck }, method, 0.95).unwrap();
    [found.low, found.high]
}

#[test]
fn all_methods_agree_with_the_reference() {
    // expected.json one_prop_*: from the definitions with scipy 1.17.1 and statsmodels 0.15.0
    let cases = [
        (81, 263),
        (15, 148),
        (0, 20),
        (1, 29),
        (20, 20),
        (10, 10),
        (0, 1),
        (1, 1),
        (1, 2),
        (45, 45),
        (7, 50),
        (14, 20),
        (3, 1_000_000),
        (500_000, 1_000_000),
    ];
    for (rooted, stuck) in cases {
        let id = format!("one_prop_{rooted}_{stuck}");
        for (method, key) in METHODS {
            // the two cases of a million carry no blaker entry
            let Some(values) = entry(&id).get(key).cloned() else { continue };
            if matches!(method, IntervalMethod::Wald | IntervalMethod::AgrestiCoull) {
                // the formulas pass 0 and 1, where the limits end
                let ends: Vec<f64> = values.as_array().unwrap().iter().map(|end| end.as_f64().unwrap()).collect();
                for (got, end) in limits(rooted, stuck, method).into_iter().zip(ends) {
                    assert!((0.0..=1.0).contains(&got));
                    if (0.0..=1.0).contains(&end) {
                        assert_rel!(got, end, 1e-12);
                    } else {
                        assert_eq!(got, end.clamp(0.0, 1.0));
                    }
                }
            } else {
                check_list(&id, key, &limits(rooted, stuck, method));
            }
        }
    }
}

#[test]
fn all_methods_agree_with_the_printed_tables() {
    // expected.json one_prop_*_printed: Newcombe 1998, Stat. Med. 17:857-872, Table I
    for (rooted, stuck, from) in [(81, 263, 0), (15, 148, 0), (0, 20, 1), (1, 29, 1)] {
        let printed = [
            (IntervalMethod::Wald, "wald"),
            (IntervalMethod::Wilson, "wilson"),
            (IntervalMethod::WilsonCorrected, "wilson_cc"),
            (IntervalMethod::ClopperPearson, "clopper_pearson"),
            (IntervalMethod::MidP, "mid_p"),
            (IntervalMethod::Likelihood, "likelihood"),
        ];
        for (method, key) in printed.iter().skip(from) {
            check_list(&format!("one_prop_{rooted}_{stuck}_{key}_printed"), "value", &limits(rooted, stuck, *method));
        }
    }
    // expected.json one_prop_jeffreys_printed: Brown, Cai & DasGupta 2001, upper limit of 0/20 and both of 1/29
    let (none, one) = (limits(0, 20, IntervalMethod::Jeffreys), limits(1, 29, IntervalMethod::Jeffreys));
    check_list("one_prop_jeffreys_printed", "value", &[none[1], one[0], one[1]]);
    // expected.json scipy_doc_binom_ci: scipy documentation, exact interval of 7/50
    let exact = limits(7, 50, IntervalMethod::ClopperPearson);
    let values = entry("scipy_doc_binom_ci");
    let list = values.as_object().unwrap().keys().next().unwrap().clone();
    check_list("scipy_doc_binom_ci", &list, &exact);
}

#[test]
fn no_cutting_rooted_has_closed_forms() {
    // by hand: (1 - u)^20 = 0.025 and 0.5 (1 - u)^20 = 0.025
    assert_rel!(limits(0, 20, IntervalMethod::ClopperPearson)[1], 1.0 - 0.025_f64.powf(0.05), 1e-13);
    assert_rel!(limits(0, 20, IntervalMethod::MidP)[1], 1.0 - 0.05_f64.powf(0.05), 1e-13);
    // by hand, Blaker at 0 of 1: P(X >= 1) = p joins 1 - p only up to p = 1/2, so 1 - u = 0.05
    assert_rel!(limits(0, 1, IntervalMethod::Blaker)[1], 0.95, 1e-12);
}

#[test]
fn blaker_is_the_hull_of_its_acceptability() {
    // definition (Blaker 2000), by enumeration: acceptability just inside a limit reaches 0.05, anywhere outside it does not
    for stuck in [1_u64, 2, 5, 13, 30] {
        for rooted in 0..=stuck {
            let [low, high] = limits(rooted, stuck, IntervalMethod::Blaker);
            for step in 0..=2000_u32 {
                let rate = f64::from(step) / 2000.0;
                let outside = rate < low - 1e-9 || rate > high + 1e-9;
                assert!(!outside || acceptability(rooted, stuck, rate) < 0.05 + 1e-9, "{rooted}/{stuck} at {rate}");
            }
            let inside = acceptability(rooted, stuck, (high - 1e-9).clamp(0.0, 1.0));
            assert!(inside >= 0.05 - 1e-6 || high >= 1.0, "{rooted}/{stuck}: {inside} just below {high}");
        }
    }
}

fn acceptability(rooted: u64, stuck: u64, rate: f64) -> f64 {
    let pmf: Vec<f64> = (0..=stuck)
        .map(|k| {
            (0..k).fold(1.0, |c, i| c * (stuck - i) as f64 / (i + 1) as f64)
                * rate.powi(k as i32)
                * (1.0 - rate).powi((stuck - k) as i32)
        })
        .collect();
    let smaller_tail = |k: usize| pmf[..=k].iter().sum::<f64>().min(pmf[k..].iter().sum());
    let own = smaller_tail(rooted as usize) * (1.0 + 1e-12);
    (0..pmf.len()).filter(|k| smaller_tail(*k) <= own).map(|k| pmf[k]).sum()
}

#[test]
fn exact_intervals_cover_by_enumeration() {
    // property of the methods: coverage of at least the level at every rate (Clopper & Pearson 1934; Blaker 2000)
    for method in [IntervalMethod::ClopperPearson, IntervalMethod::Blaker] {
        let all: Vec<[f64; 2]> = (0..=17).map(|rooted| limits(rooted, 17, method)).collect();
        for step in 1..400 {
            let rate = f64::from(step) / 400.0;
            let mut pmf = (1.0 - rate).powi(17);
            let mut coverage = 0.0;
            for (rooted, [low, high]) in all.iter().enumerate() {
                if *low <= rate && rate <= *high {
                    coverage += pmf;
                }
                pmf *= (17 - rooted) as f64 / (rooted + 1) as f64 * rate / (1.0 - rate);
            }
            assert!(coverage >= 0.95 - 1e-9, "{method:?} covers {coverage} at {rate}");
        }
    }
}

#[test]
fn effective_counts_meet_whole_counts() {
    // two routes: critical value 1.959963984540054 is the 97.5 % normal quantile (scipy 1.17.1, norm.ppf(0.975))
    for method in
        [IntervalMethod::Wilson, IntervalMethod::ClopperPearson, IntervalMethod::Jeffreys, IntervalMethod::Likelihood]
    {
        let (low, high) = interval_effective(14.0, 20.0, method, 1.959_963_984_540_054).unwrap();
        let whole = limits(14, 20, method);
        assert_rel!(low, whole[0], 1e-12);
        assert_rel!(high, whole[1], 1e-12);
    }
    assert!(interval_effective(14.2, 20.7, IntervalMethod::MidP, 2.0).is_err());
    for (rooted, stuck, critical) in
        [(1.0, 0.0, 2.0), (f64::NAN, 2.0, 2.0), (3.0, 2.0, 2.0), (1.0, 2.0, -1.0), (1.0, f64::INFINITY, 2.0)]
    {
        assert!(interval_effective(rooted, stuck, IntervalMethod::Wilson, critical).is_err());
    }
}

#[test]
fn many_equal_one_by_one_and_name_the_culprit() {
    let rooted: Vec<u64> = (0..20_001).map(|i| i % 24).collect();
    let stuck = vec![24_u64; rooted.len()];
    let all = |rooted: &[u64], stuck: &[u64]| {
        interval_many(rooted, stuck, IntervalMethod::Wilson, 0.9, Sides::Both, &Control::new())
    };
    let many = all(&rooted, &stuck).unwrap();
    for i in [0, 23, 10_007, 20_000] {
        let one = interval(Count { rooted: rooted[i], stuck: 24 }, IntervalMethod::Wilson, 0.9).unwrap();
        assert_eq!((many.value[i], many.low[i], many.high[i]), (one.value, one.low, one.high));
    }
    let error = all(&[1, 9, 2], &[4, 4, 4]).unwrap_err();
    assert!(matches!(&error, Error::Count(CountError::Entry { index: 2, .. })));
    assert!(error.to_string().starts_with("entry 2: 9 rooted of 4 stuck"));
    assert!(all(&[1], &[4, 4]).is_err());
}

#[test]
fn names_round_trip_and_the_nearest_is_offered() {
    for method in IntervalMethod::ALL {
        assert_eq!(method.name().parse::<IntervalMethod>().unwrap(), method);
        assert_eq!(serde_json::to_value(method).unwrap(), method.name());
    }
    let Err(Error::Choice(error)) = "wilsen".parse::<IntervalMethod>() else { panic!("not a choice error") };
    assert_eq!(error.nearest.as_deref(), Some("wilson"));
    assert_eq!(error.known.len(), 9);
}

#[test]
fn impossible_input_is_refused() {
    for (rooted, stuck, level) in
        [(3, 2, 0.95), (0, 0, 0.95), (1, 2, 0.0), (1, 2, 1.0), (1, 2, 95.0), (1, 2, f64::NAN), (1, u64::MAX, 0.95)]
    {
        assert!(interval(Count { rooted, stuck }, IntervalMethod::Wilson, level).is_err());
    }
}

proptest! {
    #[test]
    fn intervals_contain_nest_and_mirror(stuck in 1_u64..400, share in 0.0_f64..=1.0, level in 0.5_f64..0.999) {
        let rooted = (share * stuck as f64).round() as u64;
        for method in IntervalMethod::ALL {
            let count = Count { rooted, stuck };
            let narrow = interval(count, method, level).unwrap();
            let wide = interval(count, method, level + 0.5 * (1.0 - level)).unwrap();
            prop_assert!(narrow.low <= narrow.value + 1e-12 && narrow.value <= narrow.high + 1e-12, "{narrow:?}");
            prop_assert!(0.0 <= narrow.low && narrow.high <= 1.0, "{narrow:?}");
            prop_assert!(wide.low <= narrow.low + 1e-12, "{narrow:?} {wide:?}");
            prop_assert!(narrow.high <= wide.high + 1e-12, "{narrow:?} {wide:?}");
            let mirror = interval(Count { rooted: stuck - rooted, stuck }, method, level).unwrap();
            prop_assert!(abs_diff_eq!(mirror.low, 1.0 - narrow.high, epsilon = 1e-10), "{narrow:?} {mirror:?}");
            prop_assert!(abs_diff_eq!(mirror.high, 1.0 - narrow.low, epsilon = 1e-10), "{narrow:?} {mirror:?}");
        }
        let exact = interval(Count { rooted, stuck }, IntervalMethod::ClopperPearson, level).unwrap();
        let inner = interval(Count { rooted, stuck }, IntervalMethod::Blaker, level).unwrap();
        prop_assert!(exact.low <= inner.low + 1e-10 && inner.high <= exact.high + 1e-10);
    }
}
