//! Two levels compared: shares by a day, the ratio of rates, and trays dealt anew.

use super::left_out::{LeftOut, Spread};
use super::numbers::{OtherShares, PaceNumbers, RateNumbers, TimesOptions, TimesPair};
use super::sides::{Sides, Tables};
use crate::compare::{Stratum, randomisation_test};
use crate::control::Control;
use crate::error::{Result, StepsError};
use crate::math::distributions::{normal, student_t};
use crate::steps::time::grouped::{RateRatio, ratios};
use crate::steps::time::histories::Tally;
use crate::steps::time::limits::{Followed, Limits, Units, difference, score_p};
use crate::steps::time::log_rank::log_rank;
use crate::steps::time::table::Ending;

/// What dealing trays anew says.
#[derive(Debug, Clone, Copy, Default)]
struct Dealt {
    p: f64,
    smallest_p: f64,
    assignments: Option<f64>,
    drawn: Option<u64>,
    p_error: Option<f64>,
}

/// Two shares by a visit, and their difference.
struct Shares {
    values: [f64; 2],
    gap: Limits,
}

/// Both sides, and both without each unit.
struct Both<'a> {
    followed: [Followed; 2],
    left_out: &'a LeftOut<'a>,
}

impl Sides<'_> {
    /// Everything about the pair but what depends on other pairs.
    pub(super) fn compared(&self, levels: [&str; 2], options: &TimesOptions, control: &Control) -> Result<TimesPair> {
        let ending = options.event.ending();
        let [first, second] = levels.map(str::to_owned);
        if [0, 1].iter().all(|side| self.ended(*side, ending) == 0.0) {
            return Err(StepsError::NothingHappened { event: options.event.name(), first, second }.into());
        }
        let left_out = LeftOut::of(self, control)?;
        let both = Both { followed: [0, 1].map(|side| self.followed(side)), left_out: &left_out };
        if let Some(level) = levels.iter().zip(&both.followed).find(|(_, one)| one.shares.is_empty()) {
            return Err(StepsError::NeverSeenAgain { level: (*level.0).to_owned() }.into());
        }
        let at = self.visit(&both, options)?;
        let nowhere = || StepsError::NeverSeenAgain { level: first.clone() };
        let shares = self.shares(&both, (at, ending), options.confidence).ok_or_else(nowhere)?;
        let other = self.shares(&both, (at, options.event.other()), options.confidence).ok_or_else(nowhere)?;
        let tables: Vec<Tables> = self.tallies().iter().map(|sides| sides.each_ref().map(Tally::table)).collect();
        let [test, pace] = self.tests(&tables, &both, (at, ending), (options, control))?;
        let [rate, other_rate] = self.rates(&tables, &left_out, (options, control))?;
        Ok(TimesPair {
            n_first: self.units(0),
            n_second: self.units(1),
            n_strata: self.strata.len() as u64,
            n_left_out: self.left_out as u64,
            day: self.visits.days().get(at).copied().unwrap_or_default(),
            share_first: shares.values[0],
            share_second: shares.values[1],
            value: shares.gap.value,
            low: shares.gap.ends.map(|ends| ends.0),
            high: shares.gap.ends.map(|ends| ends.1),
            other: OtherShares {
                first: other.values[0],
                second: other.values[1],
                value: other.gap.value,
                low: other.gap.ends.map(|ends| ends.0),
                high: other.gap.ends.map(|ends| ends.1),
            },
            rate,
            other_rate,
            pace: PaceNumbers { p: pace.p, p_adjusted: pace.p, smallest_p: pace.smallest_p, p_error: pace.p_error },
            p: test.p,
            p_adjusted: test.p,
            smallest_p: test.smallest_p,
            assignments: test.assignments,
            drawn: test.drawn,
            p_error: test.p_error,
            first,
            second,
        })
    }

    /// The visit of the day asked for, or the last on which it is known how both levels vary.
    fn visit(&self, both: &Both<'_>, options: &TimesOptions) -> Result<usize> {
        let days = self.visits.days();
        let [first, second] = both.followed.each_ref().map(|one| one.shares.len());
        let seen = first.min(second);
        let known = |at: &usize| !self.named() || both.left_out.shares(*at, options.event.ending()).is_some();
        let at = match options.day {
            Some(day) => days.iter().take(seen).position(|one| *one == day),
            None => (0..seen).rfind(known).or_else(|| seen.checked_sub(1)),
        };
        at.ok_or_else(|| {
            let days: Vec<String> = days.iter().take(seen).map(u64::to_string).collect();
            StepsError::NoSuchVisit { day: options.day.unwrap_or_default(), days: days.join(", ") }.into()
        })
    }

    /// The shares of both levels by a visit, and how each is known.
    fn shares(&self, both: &Both<'_>, (at, ending): (usize, Ending), confidence: f64) -> Option<Shares> {
        let spread = if self.has_parts() { both.left_out.shares(at, ending) } else { None };
        let limits = |side: usize| {
            let own = spread.map(|spread| (spread.variances.get(side).copied().unwrap_or_default().sqrt(), spread.df));
            let units = if self.named() || own.is_some() { Units::Trays(own) } else { Units::Plants };
            both.followed.get(side)?.limits_at(at, ending, confidence, units)
        };
        let (one, two) = (limits(0)?, limits(1)?);
        let correlation = spread.map_or(0.0, |spread| {
            let [first, second] = spread.variances;
            let sizes = (first * second).sqrt();
            if sizes > 0.0 { spread.covariance / sizes } else { 0.0 }
        });
        Some(Shares { values: [one.value, two.value], gap: difference(one, two, correlation) })
    }

    /// Shares and paces judged: trays dealt anew by what each has more than its place; by plants where no trays were named.
    fn tests(
        &self,
        tables: &[Tables],
        both: &Both<'_>,
        (at, ending): (usize, Ending),
        (options, control): (&TimesOptions, &Control),
    ) -> Result<[Dealt; 2]> {
        if !self.named() {
            let spread = if self.has_parts() { both.left_out.shares(at, ending) } else { None };
            let known = |side: usize| {
                let own = spread.map(|one| (one.variances.get(side).copied().unwrap_or_default().sqrt(), one.df));
                both.followed.get(side)?.known_at(at, ending, own)
            };
            let share = known(0).zip(known(1)).map_or(1.0, |(first, second)| score_p(first, second));
            let pace = log_rank(tables, ending).map_or(1.0, |found| found.p);
            return Ok([share, pace].map(|p| Dealt { p, ..Dealt::default() }));
        }
        let [shares, paces] = self.scored(ending, at);
        let dealt = |scores: &[Stratum]| -> Result<Dealt> {
            let found = randomisation_test(scores, options.seed, options.draws, control)?;
            Ok(Dealt {
                p: found.p,
                smallest_p: found.smallest_p_given_rates,
                assignments: Some(found.assignments),
                drawn: found.drawn,
                p_error: found.se,
            })
        };
        Ok([dealt(&shares)?, dealt(&paces)?])
    }

    /// The ratios of rates of what is asked for and of what rules it out, each with limits from what is left out, by t, or from plants
    /// alone where these are wider.
    fn rates(
        &self,
        tables: &[Tables],
        left_out: &LeftOut<'_>,
        (options, control): (&TimesOptions, &Control),
    ) -> Result<[RateNumbers; 2]> {
        let Some(whole) = ratios(tables, None, control)? else { return Ok([RateNumbers::default(); 2]) };
        let spreads = if self.has_parts() { left_out.ratios(tables, &whole, control)? } else { [None; 2] };
        let numbers = |ending: Ending| {
            let spread = spreads.get(usize::from(ending == Ending::Dead)).copied().flatten();
            let open = self.named() && spread.is_none();
            whole.of(ending).map(|ratio| limited(ratio, spread, open, options.confidence)).unwrap_or_default()
        };
        Ok([numbers(options.event.ending()), numbers(options.event.other())])
    }
}

/// A ratio with limits; they are left `open` where trays were named and it is not known how it varies over them.
fn limited(ratio: RateRatio, spread: Option<Spread>, open: bool, confidence: f64) -> RateNumbers {
    let found = RateNumbers { value: Some(ratio.log.exp()), ..RateNumbers::default() };
    if open {
        return found;
    }
    let tail = 0.5 * (1.0 - confidence);
    let (mut reach, mut p) = (normal::isf(tail) * ratio.se, 2.0 * normal::sf((ratio.log / ratio.se).abs()));
    if let Some((se, df)) = spread.map(|spread| (spread.variance.sqrt(), spread.df)).filter(|(se, _)| *se > 0.0) {
        reach = reach.max(student_t::quantile(1.0 - tail, df) * se);
        p = p.max(student_t::two_sided(ratio.log / se, df));
    }
    RateNumbers { low: Some((ratio.log - reach).exp()), high: Some((ratio.log + reach).exp()), p: Some(p), ..found }
}
