//! Exact test of an r x c table: all tables with the same margins, or random ones where that is too much work.

mod budget;
mod classes;
mod join;
mod lists;
mod margins;
mod network;
mod pairs;
mod sampling;
mod split;

use serde::{Deserialize, Serialize};

pub(crate) use sampling::count_tables;

use crate::choice::choice;
use crate::control::Control;
use crate::counts::tables::ContingencyTable;
use crate::error::{CountError, Result};
use budget::{Budget, Halt, Spent};
use margins::Margins;

/// List entries held at one time: 28 bytes each, 168 megabytes in all. Up to eight processors hold at most 68 megabytes more
/// each. A table that needs more is drawn.
const MOST_ENTRIES: u64 = 6_000_000;
/// Most random tables.
const MOST_DRAWS: f64 = 1e9;

/// What exact work may cost, and what replaces it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ExactOptions {
    /// Steps of exact work allowed (about a hundred million a second and core); beyond them tables are drawn. 0 always draws.
    pub work: u64,
    /// Tables to draw.
    pub draws: u64,
    /// Seed of the draws.
    pub seed: u64,
}

impl Default for ExactOptions {
    fn default() -> Self {
        Self { work: 3_000_000_000, draws: 99_999, seed: 1 }
    }
}

impl ExactOptions {
    /// Checks the number of draws.
    ///
    /// # Errors
    /// [`CountError::OutOfRange`] unless it is 99 to 10^9.
    pub(crate) fn check(self) -> Result<Self> {
        let draws = self.draws as f64;
        if !(99.0..=MOST_DRAWS).contains(&draws) {
            return Err(
                CountError::OutOfRange { name: "number of draws", value: draws, low: 99.0, high: MOST_DRAWS }.into()
            );
        }
        Ok(self)
    }
}

/// How the P value of an exact test was reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exactness {
    /// Every table was accounted for.
    Exact,
    /// P is `(hits + 1) / (draws + 1)` over random tables.
    Drawn,
}

choice!(
    Exactness, "way to an exact P":
    Exact = "exact",
    Drawn = "drawn",
);

/// P of the exact test, and how it was reached.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct FreemanHalton {
    /// Probability of all tables with the same margins that are not more probable than the observed one.
    pub p: f64,
    /// Whether every table was accounted for.
    pub method: Exactness,
    /// Standard error of a drawn P.
    pub se: Option<f64>,
    /// Tables drawn.
    pub draws: Option<u64>,
    /// Seed of the draws.
    pub seed: Option<u64>,
    /// Steps of exact work behind an exact P.
    pub steps: Option<u64>,
}

/// The exact test of an r x c table of Freeman and Halton: P is the sum of the probabilities, given all margins, of the tables
/// that are not more probable than `table` (relative slack 1e-7, so that ties count). For 2 x 2 it is Fisher's exact test.
///
/// Exact work goes through classes of row totals with merged lists of probabilities, see the source; a table of 5 x 5 with 100
/// plants is well within the default `work`. Beyond it, and above 65,535 plants or 8 rows and columns, tables are drawn at
/// random with the given seed, and the result says so. The plants are taken as independent; do not use it on cuttings that
/// share trays.
///
/// # Errors
/// [`CountError::OutOfRange`] for fewer than 99 draws; [`Error::Interrupted`](crate::Error) when the control was stopped.
///
/// # References
/// Freeman & Halton 1951, Biometrika 38:141-149; Mehta & Patel 1983, J. Am. Stat. Assoc. 78:427-434 (bounds on completions);
/// Patefield 1981, Appl. Stat. 30:91-97 (random tables).
///
/// ```
/// use rootling::control::Control;
/// use rootling::counts::{ContingencyTable, ExactOptions, freeman_halton};
/// let table = ContingencyTable::new(vec![vec![3, 0, 1], vec![4, 2, 6]])?;
/// let found = freeman_halton(&table, ExactOptions::default(), &Control::new())?;
/// approx::assert_relative_eq!(found.p, 0.434_615_384_6, epsilon = 0.0, max_relative = 2.3e-9);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn freeman_halton(table: &ContingencyTable, options: ExactOptions, control: &Control) -> Result<FreemanHalton> {
    let options = options.check()?;
    if table.is_fixed() {
        let method = Exactness::Exact;
        return Ok(FreemanHalton { p: 1.0, method, se: None, draws: None, seed: None, steps: Some(0) });
    }
    let (rows, columns) = (table.row_totals(), table.column_totals());
    let spent = Spent::of(Budget { steps: options.work, entries: MOST_ENTRIES });
    if let Some(margins) = Margins::new(rows, columns).filter(|_| options.work > 0) {
        match margins.sum_up_to(margins.limit(table.cells()), &spent, control) {
            Ok(sum) => {
                return Ok(FreemanHalton {
                    p: sum.min(1.0),
                    method: Exactness::Exact,
                    se: None,
                    draws: None,
                    seed: None,
                    steps: Some(spent.total_steps()),
                });
            }
            Err(Halt::Stopped(error)) => return Err(error),
            Err(Halt::TooMuch) => {}
        }
    }
    let hits = sampling::not_more_probable(table.cells(), (rows, columns), (options.draws, options.seed), control)?;
    let (p, se) = drawn_p(hits, options.draws);
    Ok(FreemanHalton {
        p,
        method: Exactness::Drawn,
        se: Some(se),
        draws: Some(options.draws),
        seed: Some(options.seed),
        steps: None,
    })
}

/// `(hits + 1) / (draws + 1)` and its standard error.
///
/// # References
/// Phipson & Smyth 2010, Stat. Appl. Genet. Mol. Biol. 9, article 39.
pub(crate) fn drawn_p(hits: u64, draws: u64) -> (f64, f64) {
    let p = (hits as f64 + 1.0) / (draws as f64 + 1.0);
    (p, (p * (1.0 - p) / draws as f64).sqrt())
}
