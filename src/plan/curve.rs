//! A trial that is to find the best strength: where trays go, and how narrow the limits then are.

use super::design::TrayLaw;
use super::draw::TrayTable;
use super::numbers_curve::{CurveLayout, CurvePlan, CurvePlanOptions, StrengthTrays};
use super::words_curve;
use crate::answer::Answer;
use crate::control::Control;
use crate::curves::{
    Criterion, CurveGroup, CurveInput, CurveOptions, FittedCurves, Located, NextOptions, OneCurve, TrayCount,
};
use crate::error::{PlanError, Result};
use crate::math::rng::ChaCha8Rng;
use crate::simulate::replicates;

/// Most trials that are drawn: every one is fitted with all shapes.
const MOST_DRAWS: u64 = 100;
/// Most trays that can be placed.
const MOST_TRAYS: u64 = 400;

impl CurvePlanOptions {
    fn check(&self) -> Result<()> {
        if self.strengths.len() != self.takes.len() {
            let (found, expected) = (self.takes.len(), self.strengths.len());
            return Err(PlanError::Unmatched { name: "takes", found, expected }.into());
        }
        let rising = self.strengths.is_sorted_by(|one, next| one < next)
            && self.strengths.iter().all(|one| one.is_finite() && *one >= 0.0);
        if self.strengths.len() < 4 || !rising {
            return Err(PlanError::CurveStrengths { found: self.strengths.len() }.into());
        }
        if let Some(value) = self.takes.iter().find(|take| !(0.0..=1.0).contains(*take)) {
            return Err(PlanError::Take { value: *value }.into());
        }
        if !(0.0..1.0).contains(&self.correlation) {
            return Err(PlanError::Correlation { value: self.correlation }.into());
        }
        let least = 2 * self.strengths.len() as u64;
        for (name, value, low, high) in [
            ("trays", self.trays, least, MOST_TRAYS),
            ("cuttings", self.cuttings, 2, 1_000),
            ("draws", self.draws, 10, MOST_DRAWS),
        ] {
            if !(low..=high).contains(&value) {
                return Err(PlanError::Count { name, value, low, high }.into());
            }
        }
        Ok(())
    }

    fn input(&self, trays: Vec<TrayCount>) -> CurveInput {
        CurveInput {
            strength: None,
            unit: self.unit.clone(),
            counted: true,
            pooled: false,
            unit_of: "tray".to_owned(),
            called: String::new(),
            blocks: None,
            bays: None,
            places: None,
            groups: vec![CurveGroup { levels: Vec::new(), trays }],
            damage: Vec::new(),
            notes: Vec::new(),
            options: CurveOptions::default(),
        }
    }

    /// Trays that show what is expected, as a small trial before would: two at each strength, one a little above and one a little below.
    fn as_expected(&self) -> Vec<TrayCount> {
        let each = |(strength, take): (&f64, &f64)| {
            let rooted = take * self.cuttings as f64;
            [rooted.floor(), rooted.ceil()].map(|rooted| TrayCount {
                strength: *strength,
                rooted: rooted as u64,
                stuck: self.cuttings,
                block: None,
            })
        };
        self.strengths.iter().zip(&self.takes).flat_map(each).collect()
    }
}

/// How well a trial of so many trays finds the best strength of a curve as it is expected: trays spread evenly over the strengths, and put
/// where they tell most (the variance of the best strength's place is least, c-optimal). The curve is that of all shapes through the takes
/// expected; every drawn trial is fitted with all shapes, as `strength_curve` does.
///
/// # Errors
/// [`PlanError`] for what cannot be planned; [`Error::Interrupted`](crate::Error::Interrupted) when stopped.
///
/// # References
/// Atkinson AC, Donev AN, Tobias RD (2007), Optimum Experimental Designs, with SAS, chapters 10 and 17.
///
/// ```
/// use rootling::prelude::*;
/// use rootling::plan::{CurvePlanOptions, best_strength};
/// let asked = CurvePlanOptions {
///     strengths: vec![0.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0],
///     takes: vec![0.1, 0.4, 0.6, 0.7, 0.55, 0.2],
///     trays: 24,
///     draws: 10,
///     ..CurvePlanOptions::default()
/// };
/// let found = best_strength(&asked, &Control::new())?.numbers;
/// assert!((1000.0..4000.0).contains(&found.best) && found.layouts.len() == 2);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn best_strength(options: &CurvePlanOptions, control: &Control) -> Result<Answer<CurvePlan>> {
    options.check()?;
    control.expect(2 * options.draws);
    let fitted = FittedCurves::new(options.input(options.as_expected()), control)?;
    let expected =
        fitted.answer(control)?.numbers.curves.into_iter().next().ok_or(PlanError::Empty { name: "takes" })?;
    let next = NextOptions {
        trays: Some(options.trays),
        cuttings: Some(options.cuttings),
        strengths: options.strengths.len().clamp(4, 20) as u64,
    };
    let next = fitted.next_strengths(&next, control)?.numbers.curves.into_iter().next();
    let designed =
        next.and_then(|curve| curve.designs.into_iter().find(|one| one.criterion == Criterion::BestStrength));
    let count = options.strengths.len() as u64;
    let even = options.strengths.iter().enumerate().map(|(at, strength)| {
        // What does not divide goes to the lowest strengths first, the control among them.
        (*strength, options.trays / count + u64::from((at as u64) < options.trays % count))
    });
    let mut layouts = vec![("even", even.collect::<Vec<_>>())];
    if let Some(designed) = designed {
        let own = designed.strengths.iter().filter(|one| one.n_units > 0).map(|one| (one.strength, one.n_units));
        layouts.push(("where they tell most", own.collect()));
    }
    let trial = CurveTrial { options, expected: &expected, control };
    let layouts = layouts.into_iter().map(|(name, trays)| trial.tried(name, &trays)).collect::<Result<Vec<_>>>()?;
    let found = CurvePlan {
        best: expected.best.strength.value,
        best_take: expected.best.take,
        unit: options.unit.clone(),
        trays: options.trays,
        cuttings: options.cuttings,
        correlation: options.correlation,
        layouts,
        draws: options.draws,
    };
    Ok(words_curve::answer(found, options))
}

struct CurveTrial<'a> {
    options: &'a CurvePlanOptions,
    expected: &'a OneCurve,
    control: &'a Control,
}

/// What one drawn trial says: whether the best strength is located, its limits, and what the strength found loses.
struct Said {
    located: bool,
    limits: (f64, f64),
    lost: f64,
}

impl CurveTrial<'_> {
    /// The take of the curve expected, drawn straight between the points of its line.
    fn take(&self, strength: f64) -> f64 {
        let line = &self.expected.line;
        let above = line.strength.partition_point(|one| *one < strength);
        let at = |index: usize| line.strength.get(index).copied().zip(line.value.get(index).copied());
        match (above.checked_sub(1).and_then(at), at(above)) {
            (Some((low, first)), Some((high, second))) => first + (second - first) * (strength - low) / (high - low),
            (Some((_, value)), None) | (None, Some((_, value))) => value,
            (None, None) => 0.5,
        }
    }

    fn tried(&self, layout: &str, trays: &[(f64, u64)]) -> Result<CurveLayout> {
        let placed: Vec<StrengthTrays> = trays
            .iter()
            .map(|(strength, trays)| StrengthTrays { strength: *strength, trays: *trays, take: self.take(*strength) })
            .collect();
        let table = |one: &StrengthTrays| {
            TrayTable::new(self.options.cuttings, one.take, self.options.correlation, TrayLaw::BetaBinomial)
        };
        let tables = placed.iter().map(table).collect::<Result<Vec<_>>>()?;
        let one = |random: &mut ChaCha8Rng| {
            let mut counts = Vec::new();
            for (own, table) in placed.iter().zip(&tables) {
                counts.extend((0..own.trays).map(|_| TrayCount {
                    strength: own.strength,
                    rooted: table.draw(random),
                    stuck: self.options.cuttings,
                    block: None,
                }));
            }
            let said = self.said(counts);
            self.control.finish(1);
            said
        };
        let said: Vec<Said> =
            replicates(self.options.draws, self.options.seed, 0, self.control, one, |all: &mut Vec<Said>, one| {
                all.push(one)
            })?;
        let count = said.len().max(1) as f64;
        let located = said.iter().filter(|one| one.located).count() as f64 / count;
        let middle = |of: fn(&Said) -> f64| {
            let mut values: Vec<f64> = said.iter().filter(|one| one.located).map(of).collect();
            values.sort_by(f64::total_cmp);
            values.get(values.len() / 2).copied()
        };
        Ok(CurveLayout {
            layout: layout.to_owned(),
            located,
            error: (located * (1.0 - located) / count).sqrt(),
            ratio: middle(|one| one.limits.1 / one.limits.0),
            low: middle(|one| one.limits.0),
            high: middle(|one| one.limits.1),
            lost: said.iter().map(|one| one.lost).sum::<f64>() / count,
            strengths: placed,
        })
    }

    /// A trial that no curve fits locates nothing, and leaves the strengths where they were expected to be best.
    fn said(&self, counts: Vec<TrayCount>) -> Result<Said> {
        let fitted = FittedCurves::new(self.options.input(counts), self.control);
        let found = match fitted.and_then(|curves| curves.answer(self.control)) {
            Err(crate::Error::Interrupted) => return Err(crate::Error::Interrupted),
            found => found.ok().and_then(|answer| answer.numbers.curves.into_iter().next()),
        };
        let Some(curve) = found else { return Ok(Said { located: false, limits: (0.0, 0.0), lost: 0.0 }) };
        let best = &curve.best;
        Ok(Said {
            located: best.located == Located::Inside && best.withheld.is_none(),
            limits: (best.strength.low, best.strength.high),
            lost: (self.expected.best.take - self.take(best.strength.value)).max(0.0),
        })
    }
}
