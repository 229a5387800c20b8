//! Randomisation test of several treatments by the F statistic of tray rates within strata.

use std::collections::BTreeMap;

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::dealing::MOST_ENUMERATED;
use super::deck::{Deck, decks};
use super::form::Form;
use super::strata::TreatmentStratum;
use super::two::monte_carlo_error;
use crate::control::Control;
use crate::error::Result;
use crate::math::dense::dot;
use crate::math::distributions::fisher_f;
use crate::math::rng;

/// Draws that share one random stream.
const CHUNK: u64 = 512;

/// Trays dealt between two looks at the stop signal.
const LOOK_EVERY: usize = 200_000;

/// The F test of treatments on tray rates within strata.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TrayRateTest {
    /// F: mean square of treatments within strata over the residual mean square; not finite without residual spread.
    pub statistic: f64,
    /// Independent treatment contrasts.
    pub df: f64,
    /// Trays less strata less `df`.
    pub error_df: f64,
    /// P value by the F distribution; `None` without residual spread.
    pub p: Option<f64>,
}

impl TrayRateTest {
    /// The same with the residual mean square multiplied by a number and with more degrees of freedom.
    pub(crate) fn with_error(self, (times, more): (f64, f64)) -> Self {
        let (statistic, dof_denominator) = (self.statistic / times, self.error_df + more);
        let p = self.p.map(|_| fisher_f::sf(statistic, self.df, dof_denominator));
        Self { statistic, error_df: dof_denominator, p, ..self }
    }
}

/// The outcome of a randomisation test of several treatments.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SeveralRandomisation {
    /// P value: share of assignments with F at least as large.
    pub p: f64,
    /// No outcome can have a smaller P value with these trays, by the design alone.
    pub smallest_p: f64,
    /// Number of assignments.
    pub assignments: f64,
    /// Assignments drawn, when not all were enumerated.
    pub drawn: Option<u64>,
    /// Monte Carlo standard error of the P value, when assignments were drawn.
    pub se: Option<f64>,
}

/// All that stays as it is when trays are dealt anew, and the observed treatment sum of squares.
struct Layout {
    decks: Vec<Deck>,
    form: Form,
    treatments: usize,
    /// Sum of squares within strata.
    whole: f64,
    /// Sum of squares of treatments.
    square: f64,
    error_df: f64,
}

impl Layout {
    fn new(strata: &[TreatmentStratum]) -> Option<Self> {
        let decks = decks(strata);
        let treatments = strata.iter().flat_map(|one| &one.treatments).max().map_or(0, |most| most + 1);
        let form = Form::new(&decks, treatments)?;
        let trays: usize = decks.iter().map(|deck| deck.rates.len()).sum();
        let whole = decks.iter().map(|deck| dot(&deck.rates, &deck.rates)).sum();
        let mut totals = vec![0.0; treatments];
        decks.iter().for_each(|deck| deck.add(&mut totals));
        let square = form.square(&totals);
        let dof_denominator = trays as f64 - decks.len() as f64 - form.df() as f64;
        Some(Self { decks, form, treatments, whole, square, error_df: dof_denominator })
    }

    fn test(&self) -> TrayRateTest {
        let df = self.form.df() as f64;
        let residual = (self.whole - self.square).max(0.0);
        let statistic = (self.square / df) / (residual / self.error_df);
        // A residual of rounding leaves no F.
        let spread = self.error_df >= 1.0 && residual > 1e-20 + 1e-12 * self.whole;
        let p = spread.then(|| fisher_f::sf(statistic, df, self.error_df));
        TrayRateTest { statistic, df, error_df: self.error_df, p }
    }
}

/// F test of treatments on tray rates in the least-squares fit of additive strata and treatments; for two treatments the square
/// of the t test within strata. `None` when no stratum holds two treatments, or beyond 2000 treatments in several strata.
///
/// # References
/// Searle SR (1971), Linear Models, Wiley, chapter 7; Donner A, Klar N (2000), chapter 6.
///
/// ```
/// use rootling::compare::{TreatmentStratum, tray_rate_test};
/// let trays = TreatmentStratum { rates: vec![0.1, 0.2, 0.5, 0.6, 0.8, 0.9], treatments: vec![0, 0, 1, 1, 2, 2] };
/// assert!(tray_rate_test(&[trays]).is_some_and(|test| test.df == 2.0 && test.error_df == 3.0));
/// ```
#[must_use]
pub fn tray_rate_test(strata: &[TreatmentStratum]) -> Option<TrayRateTest> {
    Layout::new(strata).map(|layout| layout.test())
}

/// Tests whether several treatments differ, by re-dealing trays to treatments within each stratum.
///
/// The statistic is F of [`tray_rate_test`]; since the spread within strata stays as it is, that is the treatment sum of
/// squares. Enumeration and drawing as in [`super::randomisation_test`], which it equals for two treatments. Treatments with
/// the same trays in every stratum can change names without changing F: that sets `smallest_p`. `None` when no stratum holds two
/// treatments.
///
/// # Errors
/// [`crate::Error::Interrupted`] when stopped.
///
/// # References
/// Kempthorne O (1952), The Design and Analysis of Experiments, Wiley, chapter 8 (from memory); Phipson B, Smyth GK (2010).
///
/// ```
/// use rootling::compare::{TreatmentStratum, randomisation_test_of_several};
/// let trays = TreatmentStratum { rates: vec![0.1, 0.2, 0.5, 0.6, 0.8, 0.9], treatments: vec![0, 0, 1, 1, 2, 2] };
/// let control = rootling::control::Control::new();
/// let found = randomisation_test_of_several(&[trays], (1, 999), &control)?.ok_or(rootling::Error::Interrupted)?;
/// assert_eq!(found.assignments, 90.0);
/// approx::assert_relative_eq!(found.p, 6.0 / 90.0, epsilon = 0.0, max_relative = 1.5e-11);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn randomisation_test_of_several(
    strata: &[TreatmentStratum],
    (seed, draws): (u64, u64),
    control: &Control,
) -> Result<Option<SeveralRandomisation>> {
    let Some(layout) = Layout::new(strata) else { return Ok(None) };
    let assignments: f64 = layout.decks.iter().map(Deck::assignments).product();
    let (p, by_design, drawn) = if layout.error_df < 1.0 {
        // F is the same whatever the assignment.
        (1.0, 1.0, None)
    } else {
        let by_design = if assignments.is_finite() { (namings(&layout.decks) / assignments).min(1.0) } else { 0.0 };
        if assignments <= MOST_ENUMERATED as f64 {
            (enumerated(&layout, control)?, by_design, None)
        } else {
            let all = (draws + 1) as f64;
            let hits = drawn_hits(&layout, (seed, draws), control)?;
            ((hits + 1) as f64 / all, by_design.max(1.0 / all), Some(draws))
        }
    };
    Ok(Some(SeveralRandomisation {
        p,
        smallest_p: by_design,
        assignments,
        drawn,
        se: drawn.map(|draws| monte_carlo_error(p, draws)),
    }))
}

/// In how many ways treatments with the same trays in every stratum can change names.
fn namings(decks: &[Deck]) -> f64 {
    let mut sizes: BTreeMap<usize, Vec<(usize, usize)>> = BTreeMap::new();
    // Only where there is something to deal does a name matter.
    for (at, deck) in decks.iter().enumerate().filter(|(_, deck)| deck.hands.len() > 1) {
        for (treatment, size) in &deck.hands {
            sizes.entry(*treatment).or_default().push((at, *size));
        }
    }
    let mut classes: BTreeMap<Vec<(usize, usize)>, f64> = BTreeMap::new();
    sizes.into_values().fold(1.0, |ways, one| {
        let seen = classes.entry(one).or_insert(0.0);
        *seen += 1.0;
        ways * *seen
    })
}

/// A treatment sum of squares from here on counts as at least the observed one.
fn far(layout: &Layout) -> f64 {
    layout.square - 1e-10 * layout.whole
}

fn enumerated(layout: &Layout, control: &Control) -> Result<f64> {
    let dealt = layout.decks.iter().filter(|deck| deck.hands.len() > 1);
    let parts: Vec<(&Deck, Vec<f64>)> =
        dealt.map(|deck| Ok((deck, deck.enumerate(control)?))).collect::<Result<_>>()?;
    let mut count = Count { form: &layout.form, far: far(layout), hits: 0, all: 0, control };
    count.deal(&parts, &vec![0.0; layout.treatments])?;
    Ok(count.hits as f64 / count.all as f64)
}

struct Count<'a> {
    form: &'a Form,
    far: f64,
    hits: u64,
    all: u64,
    control: &'a Control,
}

impl Count<'_> {
    /// Goes through all assignments of the first stratum with all of the others.
    fn deal(&mut self, parts: &[(&Deck, Vec<f64>)], totals: &[f64]) -> Result<()> {
        let Some(((deck, sums), others)) = parts.split_first() else {
            self.all += 1;
            if self.all.is_multiple_of(1024) {
                self.control.step()?;
            }
            self.hits += u64::from(self.form.square(totals) >= self.far);
            return Ok(());
        };
        let mut next = totals.to_vec();
        for hand in sums.chunks(deck.hands.len().max(1)) {
            next.copy_from_slice(totals);
            for ((treatment, _), sum) in deck.hands.iter().zip(hand) {
                if let Some(total) = next.get_mut(*treatment) {
                    *total += sum;
                }
            }
            self.deal(others, &next)?;
        }
        Ok(())
    }
}

fn drawn_hits(layout: &Layout, (seed, draws): (u64, u64), control: &Control) -> Result<u64> {
    let decks: Vec<&Deck> = layout.decks.iter().filter(|deck| deck.hands.len() > 1).collect();
    let trays: usize = decks.iter().map(|deck| deck.rates.len()).sum();
    let far = far(layout);
    control.expect(draws);
    let chunk = |chunk: u64| -> Result<u64> {
        let mut random = rng::stream(seed, chunk);
        let mut dealt: Vec<Deck> = decks.iter().map(|deck| (*deck).clone()).collect();
        let mut totals = vec![0.0; layout.treatments];
        let (mut hits, mut since) = (0, LOOK_EVERY);
        let size = CHUNK.min(draws - chunk * CHUNK);
        for _ in 0..size {
            since += trays;
            if since > LOOK_EVERY {
                since = 0;
                control.step()?;
            }
            totals.fill(0.0);
            for deck in &mut dealt {
                let n = deck.rates.len();
                rng::deal(&mut random, &mut deck.rates, n);
                deck.add(&mut totals);
            }
            hits += u64::from(layout.form.square(&totals) >= far);
        }
        control.finish(size);
        Ok(hits)
    };
    (0..draws.div_ceil(CHUNK)).into_par_iter().map(chunk).try_reduce(|| 0, |a, b| Ok(a + b))
}
