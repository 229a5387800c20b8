//! Agreement beyond chance.

use super::numbers::GradeWeights;

/// Kappa of a table, and what it is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kappa {
    /// Agreement seen, weighted.
    pub seen: f64,
    /// Agreement by chance, weighted.
    pub by_chance: f64,
    /// `(seen - by_chance) / (1 - by_chance)`; None where chance alone would make agreement full.
    pub value: Option<f64>,
    /// Its large-sample standard error; plants count as independent of each other.
    pub se: Option<f64>,
}

/// Kappa with one of the sets of weights of grades.
///
/// ```
/// use rootling::steps::{GradeWeights, kappa_of};
/// // Fleiss, Cohen and Everitt 1969: three diagnoses of 200 subjects.
/// let table = [[106.0, 10.0, 4.0], [22.0, 28.0, 10.0], [2.0, 12.0, 6.0]].map(|row| row.to_vec());
/// let found = kappa_of(&table, GradeWeights::Same);
/// assert_eq!(format!("{:.4} {:.4}", found.value.unwrap(), found.se.unwrap()), "0.4286 0.0537");
/// ```
#[must_use]
pub fn kappa_of(table: &[Vec<f64>], weights: GradeWeights) -> Kappa {
    let grades = table.len();
    let weights: Vec<Vec<f64>> = (0..grades).map(|i| (0..grades).map(|j| weights.of(i, j, grades)).collect()).collect();
    kappa_weighted(table, &weights)
}

/// Kappa of a square table of counts, first reader by second, with any weights of agreement (1 for the same).
///
/// With shares `p_ij`, margins `p_i.` and `p_.j`, mean weights `w_i. = sum_j p_.j w_ij` and `w_.j = sum_i p_i. w_ij`, the variance of
/// `k` is `(sum p_ij (w_ij - (w_i. + w_.j) (1 - k))^2 - (k - by_chance (1 - k))^2) / (n (1 - by_chance)^2)`.
///
/// # References
/// Fleiss, Cohen and Everitt 1969, Psychological Bulletin 72:323-327; Cohen 1960.
#[must_use]
pub fn kappa_weighted(table: &[Vec<f64>], weights: &[Vec<f64>]) -> Kappa {
    let total: f64 = table.iter().flatten().sum();
    let rows: Vec<f64> = table.iter().map(|row| row.iter().sum::<f64>() / total).collect();
    let at = |row: &Vec<f64>, j: usize| row.get(j).copied().unwrap_or_default();
    let columns: Vec<f64> = (0..table.len()).map(|j| table.iter().map(|row| at(row, j)).sum::<f64>() / total).collect();
    let dot = |one: &[f64], two: &[f64]| one.iter().zip(two).map(|(a, b)| a * b).sum::<f64>();
    let seen = table.iter().zip(weights).map(|(row, weights)| dot(row, weights)).sum::<f64>() / total;
    let row_means: Vec<f64> = weights.iter().map(|row| dot(row, &columns)).collect();
    let column_means: Vec<f64> =
        (0..weights.len()).map(|j| weights.iter().zip(&rows).map(|(row, share)| share * at(row, j)).sum()).collect();
    let by_chance = dot(&rows, &row_means);
    // Weights are 1 on the diagonal, so chance makes agreement full only where all plants get one and the same answer.
    if total <= 0.0 || 1.0 - by_chance < 1e-12 {
        return Kappa { seen, by_chance, value: None, se: None };
    }
    let value = (seen - by_chance) / (1.0 - by_chance);
    let mut spread = 0.0;
    for ((counts, weights), row_mean) in table.iter().zip(weights).zip(&row_means) {
        for ((count, weight), column_mean) in counts.iter().zip(weights).zip(&column_means) {
            spread += count / total * (weight - (row_mean + column_mean) * (1.0 - value)).powi(2);
        }
    }
    let square = (spread - (value - by_chance * (1.0 - value)).powi(2)).max(0.0);
    Kappa { seen, by_chance, value: Some(value), se: Some((square / total).sqrt() / (1.0 - by_chance)) }
}
