//! The signed root of a contrast: how far the data lie from a value of it, and the limits that follow.
//!
//! On effective cuttings it is the score where the contrast is held: `r(v) = U'd / sqrt(sum w (x'd)^2 m / (m - h))` with `U` the slope
//! of the log-likelihood where it is largest with the contrast at `v`, `d = I^-1 g` and `g` the contrast's slope there. The factor
//! `m / (m - h)` is that of the effect tests ([`crate::models::score`]), with the leverages where the contrast is 0. So two levels have
//! the statistic of their effect test, without blocks also that of a comparison, and a level where nothing rooted needs no estimate.
//! Otherwise it is the root of the likelihood ratio: `r(v) = sign(estimate - v) sqrt(2 (l - l(v)))`, under a law of the trays with its spreads
//! maximised over. Both are over the root of the
//! dispersion, and neither depends on how the contrast is written down: a difference of 0, a ratio of 1 and an odds ratio of 1 of two
//! rates have one r. Limits are the v at which r meets the critical value, so they leave out 0 exactly where P is below 1 - level.
//!
//! # References
//! Rao (1948), Proc. Cambridge Philos. Soc. 44:50-57; Miettinen and Nurminen (1985), Stat. Med. 4:213-226; Venzon and Moolgavkar
//! (1988), Applied Statistics 37:87-94; `McCullagh` and Nelder (1989), section 7.2.

use super::constrained::constrained;
use super::goal::{Goal, Scale};
use super::judge::{Judge, Measure};
use super::likelihood::Likelihood;
use crate::math::dense::{add_scaled, dot};
use crate::math::design::along as along_row;
use crate::models::{Stratum, inflation};

/// A contrast, judged.
pub(crate) struct Profile<'a> {
    judge: &'a Judge<'a>,
    goal: [Goal<'a>; 1],
    dispersion: f64,
    /// Degrees of freedom where the contrast is 0, from the layers it draws on.
    df: Option<f64>,
    /// The contrast as it is shown.
    pub(crate) estimate: f64,
    /// Its standard error by the delta method.
    se: f64,
    /// Where the contrast is 0.
    null: Held,
    /// Of every row, by the leverages there.
    inflation: Vec<f64>,
}

/// A fit with the contrast held.
struct Held {
    value: f64,
    root: f64,
    /// The slope of the root by the value, where it is known.
    slope: Option<f64>,
    parameters: Vec<f64>,
    /// How the parameters move with the value, where that is known.
    along: Vec<f64>,
    /// Degrees of freedom of the score's variance, where it comes from layers.
    df: Option<f64>,
    /// The likelihood of a law as exact as it must be there, where the judge's own is not.
    finer: Option<Likelihood>,
}

impl Held {
    /// The parameters expected at another value.
    fn predicted(&self, value: f64) -> Vec<f64> {
        let mut out = self.parameters.clone();
        if self.along.iter().all(|x| (x * (value - self.value)).abs() < LONGEST) {
            add_scaled(&mut out, value - self.value, &self.along);
        }
        out
    }
}

const STEPS: usize = 60;
/// Shares of the estimate on the way to 0, where no fit is found there at once.
const STATIONS: [f64; 4] = [0.8, 0.6, 0.4, 0.2];
/// Fits that may fail on the way to a limit.
const REFUSALS: usize = 25;
/// So near to the end of what a contrast can be, the end stands for a limit that no fit finds.
const CLOSE: f64 = 0.1;
/// A contrast that can lie this far out has no end of its own.
const UNBOUNDED: f64 = 10.0;
/// The longest prediction of a fit from the last one.
const LONGEST: f64 = 1.0;

impl<'a> Profile<'a> {
    /// None when the fit with the contrast at 0 does not settle. Under a law of the trays the distance from the estimates by their covariance
    /// then stands in.
    pub(crate) fn new(judge: &'a Judge<'a>, goal: Goal<'a>, dispersion: f64) -> Option<Self> {
        let stand_in = || Some((judge.stand_in()?, judge.stand_in()?.own(&goal)));
        Self::of(judge, goal.clone(), dispersion)
            .or_else(|| stand_in().and_then(|(judge, goal)| Self::of(judge, goal, dispersion)))
    }

    fn of(judge: &'a Judge<'a>, goal: Goal<'a>, dispersion: f64) -> Option<Self> {
        let at = judge.shown(&goal);
        let stratum = Stratum { dispersion, df: None };
        let se = judge.ready().spread(&at.gradient, stratum).map_or(f64::NAN, |spread| spread.se);
        let dispersion = if judge.ready().layered.is_some() && judge.scores() { 1.0 } else { dispersion };
        let null = Held {
            value: 0.0,
            root: 0.0,
            slope: None,
            parameters: Vec::new(),
            along: Vec::new(),
            df: None,
            finer: None,
        };
        let (estimate, inflation) = (at.rate, Vec::new());
        let mut profile = Self { judge, goal: [goal], dispersion, df: None, estimate, se, null, inflation };
        if let Measure::Distance { ball, .. } = &judge.measure {
            let [goal] = &profile.goal;
            let (radius, parameters) = ball.distance(goal, at.rate)?;
            (profile.null.root, profile.null.parameters) = (radius * at.rate.signum() / dispersion.sqrt(), parameters);
            return Some(profile);
        }
        // Rates that are equal are so on every scale, and their differences are found most easily.
        let [in_points] = profile.goal.each_ref().map(Goal::in_points);
        let [goal] = std::mem::replace(&mut profile.goal, [in_points]);
        let easy = if goal.scale == Scale::Points { None } else { profile.towards_null() };
        profile.goal = [goal];
        profile.null = match easy {
            Some(held) => profile.at(0.0, &held.parameters, held.finer.as_ref())?,
            None => profile.towards_null()?,
        };
        if let Measure::Score { plain, .. } = &judge.measure {
            profile.inflation = profile.leverages(plain, &profile.null.parameters)?;
            profile.null = profile.at(0.0, &profile.null.parameters, None)?;
            profile.df = profile.null.df;
        }
        Some(profile)
    }

    /// True where it is judged by the covariance of the estimates.
    pub(super) fn by_covariance(&self) -> bool {
        matches!(self.judge.measure, Measure::Distance { .. })
    }

    /// The fit with the contrast at 0. The likelihood of a law may have one top at a spread of 0 and another above it.
    fn towards_null(&self) -> Option<Held> {
        let found = self.led_to_null()?;
        let Measure::Ratio { likelihood: Likelihood::Law(hill), .. } = &self.judge.measure else { return Some(found) };
        let other = hill.spread_out(&found.parameters).and_then(|start| self.at(0.0, &start, None));
        Some(other.filter(|other| other.root.abs() < found.root.abs()).unwrap_or(found))
    }

    /// The fit with the contrast at 0, from the estimates, in steps where one is too long.
    fn led_to_null(&self) -> Option<Held> {
        let centre = &self.judge.centre;
        self.at(0.0, centre, None).or_else(|| {
            let mut start = centre.clone();
            for share in STATIONS {
                start = self.at(share * self.estimate, &start, None)?.parameters;
            }
            self.at(0.0, &start, None)
        })
    }

    /// What it is judged against: degrees of freedom of its own where it draws on layers above the trays, those of `error` otherwise.
    pub(crate) fn error(&self, error: Stratum) -> Stratum {
        Stratum { df: self.df.or(error.df), ..error }
    }

    /// The signed root where the contrast is 0.
    pub(crate) fn root(&self) -> f64 {
        self.null.root
    }

    /// The contrast's slope by the coefficients where it is 0: up to its length the same on all scales.
    pub(super) fn direction(&self) -> Vec<f64> {
        self.goal.first().map_or_else(Vec::new, |goal| goal.at(&self.null.parameters).gradient)
    }

    /// The fit with the contrast at a value, `on` a likelihood that is exact enough near it where one is known.
    fn at(&self, value: f64, start: &[f64], on: Option<&Likelihood>) -> Option<Held> {
        match &self.judge.measure {
            Measure::Distance { .. } => None,
            Measure::Ratio { likelihood, best } => {
                let start = likelihood.start(start);
                let reached = constrained(on.unwrap_or(likelihood), (&self.goal, &[value]), &start, on.is_some())?;
                let fall = (2.0 * (best.value - reached.value) / self.dispersion).max(0.0).sqrt();
                let root = if value > self.estimate { -fall } else { fall };
                let law = matches!(likelihood, Likelihood::Law(_));
                let slope = -(reached.multipliers.first()? / (self.dispersion * root)).abs();
                Some(Held {
                    value,
                    root,
                    slope: Some(slope),
                    parameters: reached.parameters,
                    along: if law { reached.along } else { Vec::new() },
                    df: None,
                    finer: reached.finer.or_else(|| Some(likelihood.clone()).filter(|_| law && on.is_none())),
                })
            }
            Measure::Score { plain, eased } => {
                let inside = self.by_score(plain, value, start).filter(|held| !plain.runs_off(&held.parameters));
                inside.or_else(|| self.by_score(eased, value, start))
            }
        }
    }

    fn by_score(&self, likelihood: &Likelihood, value: f64, start: &[f64]) -> Option<Held> {
        let parameters = constrained(likelihood, (&self.goal, &[value]), start, false)?.parameters;
        let local = likelihood.at(&parameters)?;
        let gradient = self.goal.first()?.at(&parameters).gradient;
        let mut along = local.information.root()?.solve(&gradient);
        let off = dot(&local.score, &along);
        let rows = likelihood.weighed(&parameters);
        let factors = self.inflation.iter().copied().chain(std::iter::repeat(1.0));
        let parts: Vec<f64> =
            rows.iter().zip(factors).map(|((w, row), by)| (w * by).sqrt() * along_row(&row.x, &along)).collect();
        let judged = self.judge.ready().layered.as_ref().map(|layered| layered.judge(&parts));
        let variance = judged.map_or_else(|| dot(&parts, &parts), |judged| judged.variance);
        let root = if off == 0.0 { 0.0 } else { off / (variance * self.dispersion).sqrt() };
        let length = dot(&gradient, &along);
        along.iter_mut().for_each(|x| *x /= length);
        root.is_finite().then_some(Held {
            value,
            root,
            slope: None,
            parameters,
            along,
            df: judged.map(|judged| judged.df),
            finer: None,
        })
    }

    /// The inflation of every row's variance where the contrast is held.
    fn leverages(&self, likelihood: &Likelihood, parameters: &[f64]) -> Option<Vec<f64>> {
        let factor = likelihood.at(parameters)?.information.root()?;
        let gradient = self.goal.first()?.at(parameters).gradient;
        let solved = factor.solve(&gradient);
        let taken = dot(&gradient, &solved);
        let rows = likelihood.weighed(parameters);
        let spreads = factor.spreads(rows.iter().map(|(_, row)| row.x.as_slice()));
        let one = |((w, row), spread): (&(f64, &super::likelihood::Row), f64)| {
            let h = w * (spread - along_row(&row.x, &solved).powi(2) / taken);
            inflation(row.stuck, h.max(0.0))
        };
        Some(rows.iter().zip(spreads).map(one).collect())
    }

    /// Both limits at a critical value of the root. Where no fit of a law is found at one, it is that by the covariance of the estimates, and
    /// the second entry says so.
    pub(super) fn limits(&self, critical: f64) -> ((f64, f64), bool) {
        let own = (self.limit(critical, -1.0), self.limit(critical, 1.0));
        if !(own.0.is_nan() || own.1.is_nan()) {
            return (own, self.by_covariance());
        }
        let other = |own: f64, direction: f64| match (self.judge.stand_in(), &self.goal) {
            (Some(judge), [goal]) if own.is_nan() => judge.furthest(goal, critical * self.dispersion.sqrt(), direction),
            _ => own,
        };
        ((other(own.0, -1.0), other(own.1, 1.0)), self.judge.stand_in().is_some())
    }

    /// The limit below (`direction` -1) or above (1) at a critical value of the root; infinite where there is no bound.
    pub(crate) fn limit(&self, critical: f64, direction: f64) -> f64 {
        if self.by_covariance() {
            let [goal] = &self.goal;
            return self.judge.furthest(goal, critical * self.dispersion.sqrt(), direction);
        }
        let ends = self.goal.first().map_or((-1.0, 1.0), Goal::ends);
        let end = if direction > 0.0 { ends.1 } else { ends.0 };
        let wanted = -direction * critical;
        // Between `near`, where the root falls short, and `far`, where it exceeds or no fit is found.
        let (mut near, mut far) = (self.estimate, end);
        // The root is nearly straight from the estimate to 0 and beyond.
        let straight = self.null.root.abs() > 0.3 && self.estimate != 0.0;
        let mut slope = -if straight { (self.null.root / self.estimate).abs() } else { 1.0 / self.se };
        let mut value = self.estimate + wanted / slope;
        let nearer = value.abs() < (value - self.estimate).abs();
        let mut start = if nearer { self.null.predicted(value) } else { self.judge.centre.clone() };
        let mut last = straight.then_some((0.0, self.null.root));
        let (mut refused, mut finer) = (0, None);
        for _ in 0..STEPS {
            let inside = (value - near) * direction > 0.0 && (far - value) * direction > 0.0;
            if !inside {
                value = 0.5 * (near + far);
            }
            if (far - near).abs() < 1e-10 * (1.0 + end.abs()) {
                break;
            }
            let Some(held) = self.at(value, &start, finer.as_ref()) else {
                // Too far from the last fit: come nearer, then try again.
                refused += 1;
                if refused > REFUSALS {
                    // Near the end of what rates can be no fit may be found at all: the end leaves out nothing.
                    let close = end.abs() <= UNBOUNDED && (end - near).abs() <= CLOSE;
                    return if close { end } else { f64::NAN };
                }
                value = 0.5 * (near + value);
                continue;
            };
            let miss = held.root - wanted;
            if miss.abs() < self.judge.exactness() * critical {
                return value;
            }
            if miss * direction < 0.0 {
                far = value;
            } else {
                near = value;
            }
            let secant = last.map(|(before, root)| (held.root - root) / (value - before));
            slope = held.slope.or(secant.filter(|slope| *slope < 0.0)).unwrap_or(slope);
            last = Some((value, held.root));
            value -= miss / slope;
            start = held.predicted(value);
            finer = held.finer.or(finer);
        }
        let at_end = (end - near).abs() < 1e-6 * (1.0 + end.abs());
        match at_end {
            true if end.abs() > UNBOUNDED => direction * f64::INFINITY,
            true => end,
            false => near,
        }
    }
}
