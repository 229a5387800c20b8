//! No second-order interaction in a 2 x 2 x 2 table.

use ndarray::{Array3, arr3};
use serde::{Deserialize, Serialize};

use super::chi_square::{chi_square_result, excess_information};
use crate::error::{CountError, Result};
use crate::estimate::{LARGEST_COUNT, TestName, TestResult};
use crate::math::search::brent;

/// Test that the odds ratio of two factors is the same at both levels of the third.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ThreeWay {
    /// Pearson form, 1 degree of freedom.
    pub pearson: TestResult,
    /// Likelihood ratio form, 1 degree of freedom.
    pub likelihood_ratio: TestResult,
    /// Counts expected without three-factor interaction, same order as the table; records hold nested rows.
    #[serde(with = "crate::math::dense::layers")]
    #[cfg_attr(test, schemars(with = "[[[f64; 2]; 2]; 2]"))]
    pub expected: Array3<f64>,
}

/// Bartlett's test of no second-order interaction in `table[i][j][k]`.
///
/// The expected counts keep all two-way margins, so they differ from the observed ones by one number x with alternating
/// sign; x makes both conditional odds ratios equal (a cubic, solved between its bounds). The test is symmetric in the
/// three factors and takes the plants as independent.
///
/// # Errors
/// [`CountError::TooLarge`]; [`CountError::NotDefined`] when zeros leave x no room.
///
/// # References
/// Bartlett 1935, J. R. Stat. Soc. Suppl. 2:248-252.
///
/// ```
/// // plum root cuttings: planting x length x (alive, dead), Hoblyn & Palmer 1934
/// let test = rootling::counts::three_way(&[[[156, 84], [107, 133]], [[84, 156], [31, 209]]])?;
/// approx::assert_relative_eq!(test.pearson.statistic.unwrap(), 2.27, epsilon = 0.0, max_relative = 0.0022);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn three_way(table: &[[[u64; 2]; 2]; 2]) -> Result<ThreeWay> {
    let counts: Vec<u64> = table.iter().flatten().flatten().copied().collect();
    let total = counts.iter().fold(0_u64, |sum, count| sum.saturating_add(*count));
    if total > LARGEST_COUNT {
        return Err(CountError::TooLarge { value: total }.into());
    }
    // sign (-1)^(i + j + k) of each cell in reading order
    let signs = [1.0, -1.0, -1.0, 1.0, -1.0, 1.0, 1.0, -1.0];
    let cells: Vec<(f64, f64)> = counts.iter().map(|count| *count as f64).zip(signs).collect();
    let room = |sign: f64| {
        cells.iter().filter(|cell| cell.1 * sign > 0.0).fold(f64::INFINITY, |least, cell| least.min(cell.0))
    };
    let (low, high) = (-room(1.0), room(-1.0));
    if low >= high {
        return Err(CountError::NotDefined {
            what: "the test of no three-factor interaction",
            why: "zero cells leave only this one table with its two-way margins; drop the empty combination",
        }
        .into());
    }
    let product = |sign: f64, x: f64| -> f64 {
        cells.iter().filter(|cell| cell.1 * sign > 0.0).map(|cell| (cell.0 + sign * x) / total as f64).product()
    };
    let imbalance = |x: f64| {
        let (plus, minus) = (product(1.0, x), product(-1.0, x));
        (plus - minus) / (plus + minus)
    };
    let shift = brent(imbalance, low, high, 1e-13)?;
    let mut expected = arr3(table).mapv(|count| count as f64);
    for (mean, sign) in expected.iter_mut().zip(signs) {
        *mean += sign * shift;
    }
    let (mut pearson, mut ratio) = (0.0, 0.0);
    for (count, sign) in &cells {
        let mean = count + sign * shift;
        pearson += shift * shift / mean;
        ratio += excess_information(*count, mean);
    }
    Ok(ThreeWay {
        pearson: chi_square_result(TestName::Pearson, pearson, 1.0),
        likelihood_ratio: chi_square_result(TestName::LikelihoodRatio, ratio, 1.0),
        expected,
    })
}
