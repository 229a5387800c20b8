//! One law fitted to counts put together. Groups that have no number to fit (all without any; all of those with any have one) stand apart.

use super::numbers::LawOfCounts;
use super::rows::{Held, Pattern, Rows};
use crate::control::Control;
use crate::error::{CountError, Error, Result};
use crate::estimate::Count;
use crate::math::regression::counts::{
    CountCell, CountFit, CountPattern, CountRegression, Expected, Zeros, fill_probabilities,
};

/// A fitted law.
#[derive(Debug, Clone)]
pub(super) struct Fitted {
    pub(super) law: LawOfCounts,
    /// The fit; none where every group stands apart.
    pub(super) fit: Option<CountFit>,
    /// The column of each group in the count part; none of those that stand apart.
    pub(super) places: Vec<Option<usize>>,
    /// True where shares are those that were counted: a hurdle without columns.
    pub(super) counted: bool,
    pub(super) loglik: f64,
    pub(super) n_parameters: u64,
}

/// True where the count part of a law has no number for a group.
fn apart(held: &Held, zeros: Zeros) -> bool {
    match zeros {
        Zeros::Plain | Zeros::Added => held.any == 0,
        Zeros::Truncated | Zeros::Apart => held.ones,
    }
}

/// A law without spread and the same with one; of each why it could not be fitted.
pub(super) type Family = [Result<Fitted>; 2];

impl Fitted {
    /// Both laws with these zeros.
    pub(super) fn family(rows: &Rows<'_>, zeros: Zeros, control: &Control) -> Family {
        let [plain, wide] = LawOfCounts::family(zeros);
        match Self::both(rows, wide, control) {
            Ok([without, with]) => [Ok(Self { law: plain, ..without }), Ok(with)],
            Err(error) => [Self::both(rows, plain, control).map(|[_, alone]| alone), Err(error)],
        }
    }

    /// The law without its spread, and as it is.
    fn both(rows: &Rows<'_>, law: LawOfCounts, control: &Control) -> Result<[Self; 2]> {
        rows.check(law)?;
        let (of_counts, zeros) = law.parts();
        let counted = zeros == Zeros::Apart && rows.columns.is_empty();
        let mut next = 0;
        let mut place = |held: &Held| {
            let stands = rows.columns.is_empty() && zeros != Zeros::Added && apart(held, zeros);
            next += usize::from(!stands);
            (!stands).then_some(next - usize::from(!stands))
        };
        let places: Vec<Option<usize>> = rows.held.iter().map(&mut place).collect();
        let width = next + rows.columns.len();
        let free = (rows.held.len() + rows.columns.len()) as u64;
        let parts = if matches!(zeros, Zeros::Apart | Zeros::Added) { 2 } else { 1 };
        let loglik = if counted { rows.held.iter().map(|held| of_shares(*held)).sum() } else { 0.0 };
        let made = Self { law, fit: None, places, counted, loglik, n_parameters: parts * free };
        let fits = if next > 0 {
            let zeros = if counted { Zeros::Truncated } else { zeros };
            let (patterns, cells) = made.design(rows, width, zeros);
            let regression = CountRegression { law: of_counts, zeros, patterns, cells };
            regression.fit_both(control).map_err(|error| refused(error, law, rows))?.map(Some)
        } else {
            [None, None]
        };
        let of = |fit: Option<CountFit>, wide: bool| Self {
            loglik: loglik + fit.as_ref().map_or(0.0, |fit| fit.loglik),
            n_parameters: made.n_parameters + u64::from(wide),
            fit,
            ..made.clone()
        };
        let [without, with] = fits;
        Ok([of(without, false), of(with, law.is_wide())])
    }

    /// Rows of the design and counts, without groups that stand apart and, of a truncated law, without zeros.
    fn design(&self, rows: &Rows<'_>, width: usize, zeros: Zeros) -> (Vec<CountPattern>, Vec<CountCell>) {
        let patterns = rows.patterns.iter().map(|one| {
            let count = self.row(one.group, &one.columns, width);
            let zero = if matches!(zeros, Zeros::Apart | Zeros::Added) { count.clone() } else { Vec::new() };
            CountPattern { count, zero, offset: one.offset }
        });
        let kept = |cell: &&CountCell| {
            let group = rows.patterns.get(cell.pattern).map_or(0, |one| one.group);
            let has = self.places.get(group).is_some_and(Option::is_some);
            has && (zeros != Zeros::Truncated || cell.count > 0)
        };
        (patterns.collect(), rows.cells.iter().filter(kept).copied().collect())
    }

    /// A row of the design: 1 at the group, then the columns.
    fn row(&self, group: usize, columns: &[f64], width: usize) -> Vec<f64> {
        let mut row = vec![0.0; width];
        let place = self.places.get(group).copied().flatten();
        place.and_then(|at| row.get_mut(at)).into_iter().for_each(|slot| *slot = 1.0);
        row.iter_mut().rev().zip(columns.iter().rev()).for_each(|(slot, x)| *slot = *x);
        row
    }

    pub(super) fn aic(&self) -> f64 {
        2.0 * self.n_parameters as f64 - 2.0 * self.loglik
    }

    pub(super) fn spread(&self) -> f64 {
        self.fit.as_ref().map_or(0.0, |fit| fit.spread)
    }

    /// What becomes of zeros in the fit itself.
    pub(super) fn zeros(&self) -> Zeros {
        if self.counted { Zeros::Truncated } else { self.law.zeros() }
    }

    /// Predictors of a group at columns and an offset; none of a group that stands apart.
    pub(super) fn predictors(&self, group: usize, columns: &[f64], offset: f64) -> Option<(f64, f64)> {
        let fit = self.fit.as_ref()?;
        let place = self.places.get(group).copied().flatten()?;
        let along = |part: &[f64]| {
            let slopes = part.iter().rev().zip(columns.iter().rev()).map(|(b, x)| b * x).sum::<f64>();
            part.get(place).map_or(0.0, |own| own + slopes)
        };
        Some((offset + along(&fit.count), along(&fit.zero)))
    }

    /// What a cutting of a group is expected to hold by the fit itself.
    pub(super) fn expected(&self, group: usize, columns: &[f64], offset: f64) -> Option<Expected> {
        let (eta, zeta) = self.predictors(group, columns, offset)?;
        Some(Expected::at(self.zeros(), eta, zeta, self.spread()))
    }

    /// Probabilities of 0, 1, ... of a pattern, a group that stands apart included.
    pub(super) fn fill(&self, held: Held, group: usize, (columns, offset): (&[f64], f64), found: &mut [f64]) {
        match self.predictors(group, columns, offset) {
            Some((eta, zeta)) => fill_probabilities(self.zeros(), (eta, zeta, self.spread()), found),
            // All of those that have any have one.
            None => {
                found.fill(0.0);
                found.get_mut(usize::from(held.any > 0)).into_iter().for_each(|slot| *slot = 1.0);
            }
        }
        if self.counted {
            let share = held.any as f64 / held.cuttings.max(1) as f64;
            found.iter_mut().for_each(|p| *p *= share);
            found.first_mut().into_iter().for_each(|p| *p = 1.0 - share);
        }
    }

    /// Zeros that it expects of all cuttings.
    pub(super) fn expected_zeros(&self, rows: &Rows<'_>) -> f64 {
        let of_group = |group: usize| rows.held.get(group).copied().unwrap_or_default();
        let none = self.fit.as_ref().map(|fit| &fit.none[..]).unwrap_or_default();
        let fitted = none.iter().map(Some).chain(std::iter::repeat(None));
        let one = |(pattern, none): (&Pattern, Option<&f64>)| {
            let held = of_group(pattern.group);
            let stands = self.places.get(pattern.group).is_none_or(Option::is_none);
            let share = match (self.counted, stands, none) {
                (false, false, Some(none)) => *none,
                // As counted; of a group that stands apart of another law all or none.
                _ => 1.0 - held.any as f64 / held.cuttings.max(1) as f64,
            };
            pattern.cuttings * share
        };
        rows.patterns.iter().zip(fitted).map(one).sum()
    }
}

/// Logarithm of the likelihood of a share as it was counted.
fn of_shares(held: Held) -> f64 {
    let part = |n: u64| if n == 0 { 0.0 } else { n as f64 * (n as f64 / held.cuttings as f64).ln() };
    part(held.any) + part(held.cuttings - held.any)
}

/// Why a law could not be fitted, in words.
fn refused(error: Error, law: LawOfCounts, rows: &Rows<'_>) -> Error {
    if matches!(error, Error::Interrupted) {
        return error;
    }
    let named = |at: usize| rows.levels.get(at).cloned().unwrap_or_default();
    let full = rows.held.iter().position(|held| held.any == held.cuttings);
    let bare = rows.held.iter().position(|held| held.any == 0);
    let (law, group) = (law.name(), full.or(bare).map(named));
    match (full.is_some(), group) {
        (_, None) => CountError::LawNotFitted { law }.into(),
        (true, Some(group)) => CountError::LawNeedsBoth { law, group, has: "any" }.into(),
        (false, Some(group)) => CountError::LawNeedsBoth { law, group, has: "none" }.into(),
    }
}

/// Rooted of stuck, as shares are counted.
pub(super) fn share(held: Held) -> Count {
    Count { rooted: held.any, stuck: held.cuttings }
}
