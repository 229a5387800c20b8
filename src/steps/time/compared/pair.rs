//! Two levels compared: shares by a day, the ratio of rates, and trays dealt anew.

use super::left_out::LeftOut;
use super::numbers::{RateNumbers, TimesOptions, TimesPair};
use super::sides::{Sides, Tables};
use crate::compare::randomisation_test;
use crate::control::Control;
use crate::error::{Result, StepsError};
use crate::math::distributions::{normal, student_t};
use crate::steps::time::grouped::fitted;
use crate::steps::time::histories::Tally;
use crate::steps::time::limits::{Limits, Units, difference};
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

/// Two shares by a day, and their difference.
struct Shares {
    day: u64,
    values: [f64; 2],
    gap: Limits,
}

impl Sides<'_> {
    /// Everything about the pair but what depends on other pairs.
    pub(super) fn compared(&self, levels: [&str; 2], options: &TimesOptions, control: &Control) -> Result<TimesPair> {
        let ending = options.event.ending();
        if [0, 1].iter().all(|side| self.ended(*side, ending) == 0.0) {
            let [first, second] = levels.map(str::to_owned);
            return Err(StepsError::NothingHappened { event: options.event.name(), first, second }.into());
        }
        let tables: Vec<Tables> = self.tallies().iter().map(|sides| sides.each_ref().map(Tally::table)).collect();
        let left_out = LeftOut::of(self, ending);
        let shares = self.shares(&left_out, options)?;
        let test = self.test(&tables, options, control)?;
        let [first, second] = levels.map(str::to_owned);
        let rate = |ending: Ending| self.rate(&tables, (ending, &left_out), options.confidence, control);
        Ok(TimesPair {
            first,
            second,
            n_first: self.units(0),
            n_second: self.units(1),
            n_strata: self.strata.len() as u64,
            n_left_out: self.left_out as u64,
            day: shares.day,
            share_first: shares.values[0],
            share_second: shares.values[1],
            value: shares.gap.value,
            low: shares.gap.ends.map(|ends| ends.0),
            high: shares.gap.ends.map(|ends| ends.1),
            rate: rate(ending)?,
            other_rate: rate(options.event.other())?,
            p: test.p,
            p_adjusted: test.p,
            smallest_p: test.smallest_p,
            assignments: test.assignments,
            drawn: test.drawn,
            p_error: test.p_error,
        })
    }

    /// Both shares by the day asked for, or by the last on which it is known how both vary.
    fn shares(&self, left_out: &LeftOut<'_>, options: &TimesOptions) -> Result<Shares> {
        let ending = options.event.ending();
        let (first, second) = (self.followed(0), self.followed(1));
        let days = self.visits.days();
        let seen = first.shares.len().min(second.shares.len());
        let known = |at: usize| if self.named() { left_out.shares(at) } else { None };
        let at = match options.day {
            Some(day) => days.iter().take(seen).position(|one| *one == day),
            None => (0..seen).rfind(|at| !self.named() || known(*at).is_some()).or_else(|| seen.checked_sub(1)),
        };
        let found = at.and_then(|at| {
            let spread = known(at);
            let limits = |side: usize| {
                let followed = if side == 0 { &first } else { &second };
                let own =
                    spread.map(|spread| (spread.variances.get(side).copied().unwrap_or_default().sqrt(), spread.df));
                followed.limits_at(
                    at,
                    ending,
                    options.confidence,
                    if self.named() { Units::Trays(own) } else { Units::Plants },
                )
            };
            let (one, two) = (limits(0)?, limits(1)?);
            let correlation = spread.map_or(0.0, |spread| {
                let [first, second] = spread.variances;
                let sizes = (first * second).sqrt();
                if sizes > 0.0 { spread.covariance / sizes } else { 0.0 }
            });
            let gap = difference(one, two, correlation);
            Some(Shares { day: *days.get(at)?, values: [one.value, two.value], gap })
        });
        found.ok_or_else(|| {
            let days: Vec<String> = days.iter().take(seen).map(u64::to_string).collect();
            StepsError::NoSuchVisit { day: options.day.unwrap_or_default(), days: days.join(", ") }.into()
        })
    }

    /// Trays dealt anew by what each has more than the common pace; the log-rank test where no trays were named.
    fn test(&self, tables: &[Tables], options: &TimesOptions, control: &Control) -> Result<Dealt> {
        let ending = options.event.ending();
        if !self.named() {
            let p = log_rank(tables, ending).map_or(1.0, |found| found.p);
            return Ok(Dealt { p, ..Dealt::default() });
        }
        let found = randomisation_test(&self.scored(ending), options.seed, options.draws, control)?;
        Ok(Dealt {
            p: found.p,
            smallest_p: found.smallest_p_given_rates,
            assignments: Some(found.assignments),
            drawn: found.drawn,
            p_error: found.se,
        })
    }

    /// The ratio of rates with limits from what is left out, by t, or from plants alone where these are wider.
    fn rate(
        &self,
        tables: &[Tables],
        (ending, left_out): (Ending, &LeftOut<'_>),
        confidence: f64,
        control: &Control,
    ) -> Result<RateNumbers> {
        let Some(whole) = fitted(tables, ending, None, control)? else { return Ok(RateNumbers::default()) };
        let mut found = RateNumbers { value: Some(whole.log.exp()), ..RateNumbers::default() };
        let tail = 0.5 * (1.0 - confidence);
        let (mut reach, mut p) = (normal::isf(tail) * whole.se, 2.0 * normal::sf((whole.log / whole.se).abs()));
        if self.named() {
            let Some(spread) = left_out.ratio(tables, ending, &whole.coef, control)? else { return Ok(found) };
            let se = spread.variance.sqrt();
            if se > 0.0 {
                reach = reach.max(student_t::quantile(1.0 - tail, spread.df) * se);
                p = p.max(student_t::two_sided(whole.log / se, spread.df));
            }
        }
        found.low = Some((whole.log - reach).exp());
        found.high = Some((whole.log + reach).exp());
        found.p = Some(p);
        Ok(found)
    }
}
