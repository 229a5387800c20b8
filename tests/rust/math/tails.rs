//! Tails, quantiles and probabilities against 50-digit values (`tests/reference/make/tails.py`), and the same for statrs:
//! the table says which of its upper tails may be used (`functions.rs` has its other functions). Print it with `cargo test --test rust tails -- --nocapture`.

use super::digits::{Entry, entries, worst};
use approx::assert_abs_diff_eq;
use rootling::math::distributions::{
    beta, beta_binomial, binomial, chi_squared, fisher_f, hypergeometric, normal, student_t,
};
use rootling::math::{rng, search::brent, special};
use statrs::distribution::{Beta, ChiSquared, ContinuousCDF, FisherSnedecor, Normal, StudentsT};
use statrs::function::gamma::digamma;
use std::collections::BTreeMap;

/// Tails are held to 1e-12 relative down to 1e-300: the exponent, up to 690, is held to about 1e-15 of itself.
const TAIL: f64 = 1e-12;
/// Probabilities near the centre and special functions.
const CENTRE: f64 = 1e-13;

fn values() -> Vec<Entry> {
    entries(include_str!("../../reference/values/tails.json"))
}

fn off(of: impl Fn(&str, &[f64]) -> Option<f64>) -> BTreeMap<String, (f64, Vec<f64>)> {
    worst(values(), &["ln_pmf"], of)
}

fn ours(name: &str, at: &[f64]) -> f64 {
    match (name, at) {
        ("normal::sf", &[x]) => normal::sf(x),
        ("chi_squared::sf", &[x, d]) => chi_squared::sf(x, d),
        ("chi_squared::cdf", &[x, d]) => chi_squared::cdf(x, d),
        ("student_t::sf", &[x, d]) => student_t::sf(x, d),
        ("fisher_f::sf", &[x, a, b]) => fisher_f::sf(x, a, b),
        ("fisher_f::cdf", &[x, a, b]) => fisher_f::cdf(x, a, b),
        ("beta::sf", &[x, a, b]) => beta::sf(x, a, b),
        ("beta::cdf", &[x, a, b]) => beta::cdf(x, a, b),
        ("binomial::pmf", &[k, n, p]) => binomial::pmf(k, n, p),
        ("hypergeometric::ln_pmf", &[k, s, f, d]) => hypergeometric::ln_pmf(k, s, f, d),
        ("beta_binomial::ln_pmf", &[k, n, m, r]) => beta_binomial::ln_pmf(k, n, m, r),
        ("special::digamma", &[x]) => digamma(x),
        ("special::trigamma", &[x]) => special::trigamma(x),
        ("special::ln_beta", &[a, b]) => special::ln_beta(a, b),
        ("special::ln_choose", &[n, k]) => special::ln_choose(n, k),
        other => panic!("no function for {other:?}"),
    }
}

/// statrs' upper tail, where it has the distribution.
fn theirs(name: &str, at: &[f64]) -> Option<f64> {
    Some(match (name, at) {
        ("normal::sf", &[x]) => Normal::new(0.0, 1.0).ok()?.sf(x),
        ("chi_squared::sf", &[x, d]) => ChiSquared::new(d).ok()?.sf(x),
        ("student_t::sf", &[x, d]) => StudentsT::new(0.0, 1.0, d).ok()?.sf(x),
        ("fisher_f::sf", &[x, a, b]) => FisherSnedecor::new(a, b).ok()?.sf(x),
        ("beta::sf", &[x, a, b]) => Beta::new(a, b).ok()?.sf(x),
        _ => return None,
    })
}

#[test]
fn our_tails_keep_their_digits() {
    let table = off(|name, at| Some(ours(name, at)));
    for (name, (gap, at)) in &table {
        println!("{name:24} {gap:8.1e} at {at:?}");
    }
    for (name, (gap, at)) in &table {
        let most = if name.ends_with("sf") || name.ends_with("cdf") { TAIL } else { CENTRE };
        assert!(*gap <= most, "{name} is off by {gap:e} at {at:?}");
    }
    assert_eq!(table.len(), 15);
}

/// Worst relative error of statrs 0.19 upper tails on the same entries (measured by this test, 2 digits; 1.0 = all digits lost).
/// Every one is worse than 1e-12, so none of them is used.
const STATRS_WORST: [(&str, f64); 5] = [
    ("beta::sf", 1.1e-7),
    ("chi_squared::sf", 3.8e-10),
    ("fisher_f::sf", 1.0),
    ("normal::sf", 8.6e-11),
    ("student_t::sf", 1.0),
];

#[test]
fn statrs_upper_tails_are_as_the_table_says() {
    let table = off(theirs);
    for (name, (gap, at)) in &table {
        println!("statrs {name:18} {gap:8.1e} at {at:?}");
    }
    assert_eq!(table.len(), STATRS_WORST.len());
    for (name, noted) in STATRS_WORST {
        let measured = table[name].0;
        assert!(measured > TAIL, "{name} of statrs is now within {TAIL:e}: {measured:e}");
        // Within a factor of 2: last digits differ between platforms' exp and ln.
        assert!(measured > 0.5 * noted && measured < 2.0 * noted, "{name}: table {noted:e}, measured {measured:e}");
    }
}

#[test]
fn quantiles_return_the_argument() {
    let mut seen = 0;
    let mut table = BTreeMap::<String, f64>::new();
    for one in values() {
        let p = one.want;
        let got = match (one.name.as_str(), one.at.as_slice()) {
            ("normal::sf", &[_]) => normal::isf(p),
            ("chi_squared::sf", &[_, d]) => chi_squared::isf(p, d),
            ("chi_squared::cdf", &[_, d]) => chi_squared::quantile(p, d),
            ("student_t::sf", &[_, d]) => -student_t::quantile(p, d),
            ("fisher_f::cdf", &[_, a, b]) => fisher_f::quantile(p, a, b),
            // The upper tail of F is the lower tail of 1 / F with the degrees of freedom exchanged.
            ("fisher_f::sf", &[_, a, b]) => 1.0 / fisher_f::quantile(p, b, a),
            ("beta::cdf", &[_, a, b]) => beta::quantile(p, a, b),
            ("beta::sf", &[_, a, b]) => beta::isf(p, a, b),
            _ => continue,
        };
        // A tail near 1 does not determine its argument to 1e-12.
        if p > 0.5 {
            continue;
        }
        // Source: the arguments in tails.json, whose tails the referee computed.
        let gap = (got / one.at[0] - 1.0).abs();
        let gap = if one.at[0] == 0.0 { got.abs() } else { gap };
        let slot = table.entry(one.name).or_insert(0.0);
        *slot = slot.max(gap);
        assert!(gap <= TAIL, "got {got:e} for {:?} at {p:e}, off by {gap:e}", one.at);
        seen += 1;
    }
    println!("quantiles {table:?}");
    assert!(seen > 400);
}

#[test]
fn far_normal_tail_keeps_its_logarithm() {
    // mpmath 1.4.1, 50 digits: log(erfc(100 / sqrt(2)) / 2)
    crate::assert_rel!(normal::ln_sf(100.0), -5_005.524_208_694_205, 1e-14);
    // The two forms meet at 30: slope of ln sf there is -(30 + 1/30 - 2/30^3 ...) = -30.033259667 (mpmath 1.4.1).
    let slope = (normal::ln_sf(30.0 + 1e-4) - normal::ln_sf(30.0 - 1e-4)) / 2e-4;
    crate::assert_rel!(slope, -30.033259667, 1e-8);
}

#[test]
fn roots_are_found_or_refused() {
    // Cube root of 2, by definition.
    crate::assert_rel!(brent(|x| x * x * x - 2.0, 0.0, 2.0, 0.0).unwrap(), 2.0_f64.cbrt(), 1e-15);
    // cos x = x at 0.7390851332151607 (the fixed point of cosine, OEIS A003957).
    crate::assert_rel!(brent(|x| x.cos() - x, 0.0, 1.0, 0.0).unwrap(), 0.739_085_133_215_160_7, 1e-15);
    // Flat near its root 1: (x - 1)^9, held by bisection.
    assert_rel!(brent(|x| (x - 1.0).powi(9), 0.0, 3.0, 1e-12).unwrap(), 1.0, 1e-10);
    // Interpolation, not 50 bisections: Brent 1973, superlinear on smooth functions.
    let mut calls = 0;
    let smooth = |x: f64| {
        calls += 1;
        x.exp() - 10.0
    };
    crate::assert_rel!(brent(smooth, 0.0, 5.0, 1e-14).unwrap(), std::f64::consts::LN_10, 1e-14);
    assert!(calls < 18, "{calls} calls");
    assert!(brent(|x| x * x + 1.0, -1.0, 1.0, 0.0).is_err());
    assert!(brent(|_| f64::NAN, -1.0, 1.0, 0.0).is_err());
}

#[test]
fn streams_repeat_and_have_the_right_moments() {
    let mut one = rng::stream(11, 4);
    let mut other = rng::stream(11, 5);
    assert_ne!(rng::uniform(&mut one), rng::uniform(&mut other));
    // Mean n m and variance n m (1 - m) (1 + (n - 1) rho), by the definition of rho.
    for (n, mean, rho) in [(40_u64, 0.3, 0.1), (100, 0.7, 0.0), (12, 0.5, 0.4)] {
        let (mut sum, mut squares) = (0.0, 0.0);
        let draws = 50_000.0;
        for _ in 0..50_000 {
            let k = rng::beta_binomial(&mut one, n, mean, rho) as f64;
            sum += k;
            squares += k * k;
        }
        let n = n as f64;
        let variance = n * mean * (1.0 - mean) * (1.0 + (n - 1.0) * rho);
        // Five standard errors of a mean of 50 000 draws; 4 % for the variance.
        assert_abs_diff_eq!(sum / draws, n * mean, epsilon = 5.0 * (variance / draws).sqrt());
        crate::assert_rel!(squares / draws - (sum / draws).powi(2), variance, 0.04);
    }
}

#[test]
fn nan_in_nan_out() {
    let nan = f64::NAN;
    for got in [
        normal::sf(nan),
        normal::quantile(nan),
        normal::quantile(-0.1),
        chi_squared::sf(nan, 3.0),
        chi_squared::sf(1.0, nan),
        chi_squared::quantile(nan, 3.0),
        student_t::sf(nan, 3.0),
        student_t::quantile(0.3, nan),
        fisher_f::sf(1.0, nan, 2.0),
        fisher_f::quantile(nan, 1.0, 2.0),
        beta::cdf(nan, 1.0, 2.0),
        beta::quantile(nan, 3.0, 2.0),
        beta::quantile(0.5, nan, 2.0),
        binomial::pmf(nan, 3.0, 0.5),
        binomial::sf(1.0, 3.0, nan),
        beta_binomial::ln_pmf(1.0, 3.0, nan, 0.1),
        hypergeometric::ln_pmf(nan, 3.0, 4.0, 2.0),
        special::ln_choose(nan, 2.0),
        digamma(nan),
    ] {
        assert!(got.is_nan(), "{got}");
    }
}

#[test]
fn a_t_of_very_many_degrees_is_quick_and_nearly_normal() {
    let began = std::time::Instant::now();
    // scipy 1.17.1, stats.t.ppf(p, df)
    let cases = [
        (0.975, 1e9, 1.959_963_986_912_325),
        (1e-10, 1e8, -6.361_341_561_862_986),
        (0.6, 1e12, 0.253_347_103_135_867),
        (1e-200, 3e8, -30.205_617_170_528_964),
    ];
    for (p, dof, want) in cases {
        crate::assert_rel!(student_t::quantile(p, dof), want, 1e-12);
    }
    for p in [1e-300, 1e-20, 0.01, 0.3] {
        // both routes, on either side of where one takes over
        crate::assert_rel!(student_t::quantile(p, 1e8 * (1.0 - 1e-13)), student_t::quantile(p, 1e8), 1e-12);
        assert!(student_t::quantile(p, 1e300).is_finite());
    }
    assert!(student_t::quantile(0.3, f64::NAN).is_nan());
    assert!(began.elapsed().as_secs_f64() < 0.5);
}
