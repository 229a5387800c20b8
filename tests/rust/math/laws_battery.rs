//! One battery that every continuous law passes: both tails and their points, density and tail as two routes, moments, draws, and
//! statrs' own law where it has one. Each check names the tolerance it holds and why.

use approx::assert_abs_diff_eq;
use rootling::math::distributions::dunnett::{Dunnett, Sides};
use rootling::math::distributions::{
    Beta, ChiSquared, FisherF, Normal, StudentT, StudentizedRange, beta, chi_squared, fisher_f, normal, student_t,
    studentized_range,
};
use rootling::math::rng::{self, stream, uniform};
use statrs::distribution as peers;
use statrs::distribution::{Continuous, ContinuousCDF};
use statrs::statistics::Distribution;

/// Points that come near an end are left to the tails: a probability of 1 - 1e-20 is no number.
const PROBABILITIES: [f64; 16] =
    [1e-300, 1e-250, 1e-200, 1e-150, 1e-100, 1e-70, 1e-50, 1e-30, 1e-20, 1e-12, 1e-8, 1e-5, 1e-3, 0.05, 0.2, 0.45];

type Cdf = Box<dyn ContinuousCDF<f64, f64>>;
type Density = Box<dyn Continuous<f64, f64>>;
type Moments = Box<dyn Distribution<f64>>;

struct Case {
    name: String,
    law: Cdf,
    density: Option<Density>,
    moments: Option<Moments>,
    /// x with P(X > x) = p.
    isf: Box<dyn Fn(f64) -> f64>,
    /// statrs' law.
    peer: Option<(Cdf, Density)>,
    /// Relative error of a tail, as the module of the law promises it.
    held: f64,
    /// The smallest tail that is asked.
    floor: f64,
}

fn boxed<L, P>(name: String, law: L, peer: Option<P>, isf: impl Fn(f64) -> f64 + 'static) -> Case
where
    L: ContinuousCDF<f64, f64> + Continuous<f64, f64> + Distribution<f64> + Copy + 'static,
    P: ContinuousCDF<f64, f64> + Continuous<f64, f64> + Clone + 'static,
{
    Case {
        name,
        law: Box::new(law),
        density: Some(Box::new(law)),
        moments: Some(Box::new(law)),
        isf: Box::new(isf),
        peer: peer.map(|one| (Box::new(one.clone()) as Cdf, Box::new(one) as Density)),
        // tests/rust/math/tails.rs: 1e-12 down to 1e-300 against 50 digits.
        held: 1e-12,
        floor: 1e-300,
    }
}

fn with_density() -> Vec<Case> {
    let mut all = Vec::new();
    for (mean, sd) in [(0.0, 1.0), (3.0, 0.2)] {
        let peer = peers::Normal::new(mean, sd).ok();
        let isf = move |p| mean + sd * normal::isf(p);
        all.push(boxed(format!("normal {mean} {sd}"), Normal::new(mean, sd).unwrap(), peer, isf));
    }
    for df in [1.0, 2.5, 5.0, 30.0, 1e6, f64::INFINITY] {
        let peer = peers::StudentsT::new(0.0, 1.0, df).ok();
        let isf = move |p| -student_t::quantile(p, df);
        all.push(boxed(format!("t {df}"), StudentT::new(df).unwrap(), peer, isf));
    }
    for df in [0.5, 1.0, 2.0, 7.5, 100.0, 1e5] {
        let isf = move |p| chi_squared::isf(p, df);
        all.push(boxed(
            format!("chi-squared {df}"),
            ChiSquared::new(df).unwrap(),
            peers::ChiSquared::new(df).ok(),
            isf,
        ));
    }
    for (d1, d2) in [(0.5, 3.0), (1.0, 1.0), (2.0, 6.0), (10.0, 10.0), (100.0, 7.0), (1e4, 300.0), (3.0, f64::INFINITY)]
    {
        let peer = peers::FisherSnedecor::new(d1, d2).ok();
        let isf = move |p| fisher_f::isf(p, d1, d2);
        all.push(boxed(format!("F {d1} {d2}"), FisherF::new(d1, d2).unwrap(), peer, isf));
    }
    for (a, b) in [(0.5, 0.5), (1.0, 3.0), (3.5, 0.7), (40.0, 60.0), (700.0, 0.5), (1e5, 3e5)] {
        let isf = move |p| beta::isf(p, a, b);
        all.push(boxed(format!("beta {a} {b}"), Beta::new(a, b).unwrap(), peers::Beta::new(a, b).ok(), isf));
    }
    all
}

/// Laws that are integrals: their modules promise 1e-10 in both tails down to 1e-20.
fn integrals() -> Vec<Case> {
    let case =
        |name, law, isf| Case { name, law, density: None, moments: None, isf, peer: None, held: 1e-9, floor: 1e-20 };
    let mut all = Vec::new();
    for (groups, df) in [(2, 5.0), (3, 10.0), (8, f64::INFINITY), (20, 3.0)] {
        let law: Cdf = Box::new(StudentizedRange::new(groups, df).unwrap());
        all.push(case(format!("range {groups} {df}"), law, Box::new(move |p| studentized_range::isf(p, groups, df))));
    }
    for sides in [Sides::One, Sides::Two] {
        for df in [4.0, f64::INFINITY] {
            let law = Dunnett::new(&[0.5, 0.7, 0.7], df, sides);
            let isf = law.clone();
            all.push(case(format!("Dunnett {sides:?} {df}"), Box::new(law), Box::new(move |p| isf.isf(p))));
        }
    }
    all
}

fn every() -> Vec<Case> {
    let mut all = with_density();
    all.extend(integrals());
    all
}

impl Case {
    /// Points from far below to far above, in rising order, with those that fall on an end of the support left out.
    fn points(&self) -> Vec<f64> {
        let asked = PROBABILITIES.iter().copied().filter(|p| *p >= self.floor);
        let lower = asked.clone().map(|p| self.law.inverse_cdf(p));
        let upper = asked.rev().map(|p| (self.isf)(p));
        lower.chain(upper).filter(|x| *x > self.law.min() && *x < self.law.max()).collect()
    }

    /// How much a tail changes, relative to itself, when its argument is rounded.
    fn rounding(&self, x: f64, tail: f64) -> f64 {
        let steep = self.density.as_ref().map_or(50.0, |density| (x * density.pdf(x) / tail).abs());
        4.0 * f64::EPSILON * steep
    }
}

fn off(got: f64, want: f64) -> f64 {
    (got / want - 1.0).abs()
}

#[test]
fn the_two_tails_add_up_to_one() {
    for case in every() {
        for x in case.points() {
            // Two roundings; an integral has its own error.
            let most = if case.density.is_some() { 4e-16 } else { case.held };
            assert_abs_diff_eq!(case.law.cdf(x) + case.law.sf(x), 1.0, epsilon = most);
        }
        assert_eq!((case.law.cdf(case.law.min()), case.law.sf(case.law.min())), (0.0, 1.0), "{}", case.name);
        assert_eq!((case.law.cdf(case.law.max()), case.law.sf(case.law.max())), (1.0, 0.0), "{}", case.name);
    }
}

#[test]
fn points_of_both_tails_return_their_probability() {
    let mut floors = 0;
    for case in every() {
        let mut smallest = (1.0_f64, 1.0_f64);
        for p in PROBABILITIES.into_iter().filter(|p| *p >= case.floor) {
            for upper in [false, true] {
                let x = if upper { (case.isf)(p) } else { case.law.inverse_cdf(p) };
                let got = if upper { case.law.sf(x) } else { case.law.cdf(x) };
                // Beyond the smallest number, or nearer to an end of the support than numbers lie.
                if x <= case.law.min().max(f64::MIN)
                    || x >= case.law.max()
                    || case.rounding(x, p) > 1e-3
                    || x.abs() < 1e-290
                {
                    continue;
                }
                let most = case.held + case.rounding(x, p);
                assert!(off(got, p) <= most, "{}: {got:e} at {x:e} for {p:e}, upper {upper}", case.name);
                let seen = if upper { &mut smallest.1 } else { &mut smallest.0 };
                *seen = seen.min(p);
            }
        }
        // One tail at least is followed far down, for most laws both to the floor: Cauchy's ends where its points do, at 1e290.
        assert!(smallest.0.min(smallest.1) <= case.floor.max(1e-100), "{}: only to {smallest:?}", case.name);
        assert!(smallest.0.max(smallest.1) <= 1e-3, "{}: only to {smallest:?}", case.name);
        floors += usize::from(smallest.0.max(smallest.1) == case.floor);
    }
    assert!(floors > 15, "{floors}");
}

#[test]
fn probabilities_rise_along_the_points() {
    for case in every() {
        let points = case.points();
        assert!(points.len() > 8, "{}", case.name);
        for two in points.windows(2) {
            assert!(two[0] < two[1], "{}: points {two:?}", case.name);
            let (below, above) =
                (case.law.cdf(two[0]) <= case.law.cdf(two[1]), case.law.sf(two[0]) >= case.law.sf(two[1]));
            assert!(below && above, "{}: not monotone between {two:?}", case.name);
        }
        // Densely, around the middle.
        let (from, to) = (case.law.inverse_cdf(0.3), case.law.inverse_cdf(0.7));
        let grid: Vec<f64> = (0..=200).map(|i| case.law.cdf(from + (to - from) * f64::from(i) / 200.0)).collect();
        assert!(grid.windows(2).all(|two| two[0] < two[1]), "{}", case.name);
    }
}

/// Slope of a function at x by Richardson's central differences, exact up to the fifth power of the step.
fn slope(f: impl Fn(f64) -> f64, x: f64, step: f64) -> f64 {
    let half = |h: f64| (f(x + h) - f(x - h)) / (2.0 * h);
    (4.0 * half(0.5 * step) - half(step)) / 3.0
}

#[test]
fn the_density_is_the_slope_of_the_tails() {
    for case in with_density() {
        let density = case.density.as_ref().unwrap();
        for x in case.points() {
            let f = density.pdf(x);
            let (below, above) = (case.law.cdf(x), case.law.sf(x));
            let tail = below.min(above);
            // A hundredth of the length over which the tail changes, and of the way to the end of the support.
            let step = 0.01 * (tail / f).min(x - case.law.min()).min(case.law.max() - x);
            if f == 0.0 || f.is_infinite() || step < 1e-6 * x.abs() || tail < 1e-290 {
                continue;
            }
            let found =
                if below < above { slope(|x| case.law.cdf(x), x, step) } else { -slope(|x| case.law.sf(x), x, step) };
            // Rounding of the tail over a hundredth, and the fifth power of that hundredth times fourth derivatives.
            let most = 2e-8 + 400.0 * case.rounding(x, tail);
            assert!(off(found, f) <= most, "{}: slope {found:e}, density {f:e} at {x:e}", case.name);
            if f > 1e-300 {
                assert_abs_diff_eq!(density.ln_pdf(x), f.ln(), epsilon = 1e-12 * (1.0 + f.ln().abs()));
            }
        }
        for x in [case.law.min() - 1.0, case.law.max() + 1.0, f64::NAN] {
            assert!(density.pdf(x) == 0.0 || (x.is_nan() && density.pdf(x).is_nan()), "{} at {x}", case.name);
        }
    }
}

/// The integral of `f` over the support, by the trapezoid rule on a scale on which every law here dies out at both ends.
fn integral(f: impl Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    let step = 0.004;
    let place = |u: f64| match (low.is_finite(), high.is_finite()) {
        (false, _) => (u.sinh(), u.cosh()),
        (true, false) => (u.exp(), u.exp()),
        (true, true) => (1.0 / (1.0 + (-u).exp()), 0.25 / (0.5 * u).cosh().powi(2)),
    };
    let term = |i: i32| {
        let (x, stretch) = place(step * f64::from(i));
        let value = if x > low && x < high { f(x) } else { 0.0 };
        if value == 0.0 { 0.0 } else { value * stretch }
    };
    step * (-20_000..=20_000).map(term).sum::<f64>()
}

#[test]
fn moments_are_integrals_over_the_density() {
    for case in with_density() {
        // Narrower than the step of the rule.
        if ["t 1000000", "chi-squared 100000", "F 10000 300", "beta 100000 300000"].contains(&case.name.as_str()) {
            continue;
        }
        let (density, moments) = (case.density.as_ref().unwrap(), case.moments.as_ref().unwrap());
        let mean_of = |g: &dyn Fn(f64) -> f64| integral(|x| g(x) * density.pdf(x), case.law.min(), case.law.max());
        // Beta laws with a shape below 1 put up to sqrt(700 x 1e-16) = 3e-7 of their probability nearer to 1 than numbers are.
        let held = if case.name.contains("0.5") || case.name.contains("0.7") { 1e-6 } else { 1e-9 };
        assert_rel!(mean_of(&|_| 1.0), 1.0, held);
        let Some(mean) = moments.mean() else { continue };
        assert_abs_diff_eq!(mean_of(&|x| x), mean, epsilon = held * (1.0 + mean.abs()));
        let Some(variance) = moments.variance() else { continue };
        assert_rel!(mean_of(&|x| (x - mean).powi(2)), variance, held);
        let Some(skewness) = moments.skewness() else { continue };
        let found = mean_of(&|x| ((x - mean) / variance.sqrt()).powi(3));
        assert_abs_diff_eq!(found, skewness, epsilon = 1e-6 * (1.0 + skewness.abs()));
    }
}

#[test]
fn moments_that_do_not_exist_are_not_given() {
    let t = |df| StudentT::new(df).unwrap();
    let f = |d2| FisherF::new(3.0, d2).unwrap();
    assert!(t(1.0).mean().is_none() && t(2.0).variance().is_none() && t(3.0).skewness().is_none());
    assert!(f(2.0).mean().is_none() && f(4.0).variance().is_none() && f(6.0).skewness().is_none());
}

#[test]
fn statrs_agrees_in_the_middle() {
    for case in with_density() {
        let Some((peer, density)) = &case.peer else { continue };
        for p in [0.02, 0.2, 0.5, 0.8, 0.98] {
            let x = case.law.inverse_cdf(p);
            // statrs' own error there (its incomplete beta and gamma functions stop at about 1e-11, and at 1e-6 with large shapes).
            let most = if case.name.contains("000") { 1e-5 } else { 1e-9 };
            assert_rel!(peer.cdf(x), case.law.cdf(x), most, "{} at {x}", case.name);
            // It gives no density where gamma functions of its shapes leave the range.
            if case.name == "F 10000 300" {
                assert!(density.pdf(x).is_nan());
                continue;
            }
            assert_rel!(density.pdf(x), case.density.as_ref().unwrap().pdf(x), most, "{} at {x}", case.name);
        }
    }
}

#[test]
fn random_laws_return_random_probabilities() {
    let mut random = stream(20, 0);
    for _ in 0..400 {
        // Shapes and degrees of freedom from 0.1 to 1e5, probabilities from 1e-60 to 1.
        let mut shape = || 10.0_f64.powf(6.0 * uniform(&mut random) - 1.0);
        let (a, b) = (shape(), shape());
        let p = 10.0_f64.powf(-60.0 * uniform(&mut random).powi(2));
        let laws: [(&str, Cdf, f64); 4] = [
            ("t", Box::new(StudentT::new(a).unwrap()), student_t::pdf(student_t::quantile(p, a), a)),
            ("chi-squared", Box::new(ChiSquared::new(a).unwrap()), chi_squared::pdf(chi_squared::quantile(p, a), a)),
            ("F", Box::new(FisherF::new(a, b).unwrap()), fisher_f::pdf(fisher_f::quantile(p, a, b), a, b)),
            ("beta", Box::new(Beta::new(a, b).unwrap()), beta::pdf(beta::quantile(p, a, b), a, b)),
        ];
        for (name, law, density) in laws {
            let x = law.inverse_cdf(p);
            let rounding = 4.0 * f64::EPSILON * (x * density / p).abs();
            if x <= law.min() || x >= law.max() || x.abs() < 1e-290 || rounding.is_nan() || rounding >= 1e-3 {
                continue;
            }
            assert!(off(law.cdf(x), p) <= 1e-12 + rounding, "{name} {a} {b}: {:e} for {p:e}", law.cdf(x));
            assert_abs_diff_eq!(law.cdf(x) + law.sf(x), 1.0, epsilon = 4e-16);
        }
    }
}

/// Largest distance between the steps of a sample and a law (Kolmogorov and Smirnov).
fn distance(mut sample: Vec<f64>, law: &dyn ContinuousCDF<f64, f64>) -> f64 {
    sample.sort_by(f64::total_cmp);
    let n = sample.len() as f64;
    let gaps = sample.iter().enumerate().map(|(i, x)| {
        let p = law.cdf(*x);
        (p - i as f64 / n).abs().max(((i + 1) as f64 / n - p).abs())
    });
    gaps.fold(0.0, f64::max)
}

#[test]
fn draws_follow_their_law() {
    // P(sqrt n D > 1.95) = 0.001 (Smirnov 1948, Ann. Math. Statist. 19:279-281); the seeds are fixed.
    let most = 1.95 / 20_000.0_f64.sqrt();
    let mut random = stream(21, 0);
    let sample: Vec<f64> = (0..20_000).map(|_| rng::deviate(&mut random)).collect();
    assert!(distance(sample, &Normal::standard()) < most);
    for (a, b) in [(0.5, 0.5), (2.0, 7.0), (60.0, 3.0)] {
        let sample: Vec<f64> = (0..20_000).map(|_| rng::beta(&mut random, a, b)).collect();
        assert!(distance(sample, &Beta::new(a, b).unwrap()) < most, "beta {a} {b}");
    }
    for case in every() {
        // By their points: the law of a point at a random probability.
        let count = if case.density.is_some() { 2000 } else { 60 };
        let sample: Vec<f64> = (0..count).map(|_| case.law.inverse_cdf(uniform(&mut random))).collect();
        assert!(distance(sample, case.law.as_ref()) < 1.95 / f64::from(count).sqrt(), "{}", case.name);
    }
}

#[test]
fn what_is_no_probability_or_no_parameter_is_refused() {
    for case in every() {
        for p in [-0.1, 1.5, f64::NAN] {
            assert!(case.law.inverse_cdf(p).is_nan() && case.law.try_inverse_cdf(p).is_err(), "{} at {p}", case.name);
        }
        assert!(case.law.cdf(f64::NAN).is_nan() && case.law.sf(f64::NAN).is_nan(), "{}", case.name);
        assert_eq!(case.law.try_inverse_cdf(0.25).unwrap(), case.law.inverse_cdf(0.25), "{}", case.name);
        assert_eq!(
            (case.law.inverse_cdf(0.0), case.law.inverse_cdf(1.0)),
            (case.law.min(), case.law.max()),
            "{}",
            case.name
        );
    }
    for bad in [0.0, -1.0, f64::NAN] {
        assert!(Normal::new(0.0, bad).is_err() && StudentT::new(bad).is_err() && ChiSquared::new(bad).is_err());
        assert!(FisherF::new(bad, 2.0).is_err() && FisherF::new(2.0, bad).is_err());
        assert!(Beta::new(bad, 2.0).is_err() && Beta::new(2.0, bad).is_err() && StudentizedRange::new(3, bad).is_err());
    }
    assert!(Normal::new(f64::INFINITY, 1.0).is_err() && StudentizedRange::new(1, 5.0).is_err());
    assert!(ChiSquared::new(f64::INFINITY).is_err() && FisherF::new(f64::INFINITY, 2.0).is_err());
}
