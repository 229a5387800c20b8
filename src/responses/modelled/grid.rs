//! The combinations of levels of several treatments, the columns of a model over them, and what an effect says of them.

use crate::error::{ChoiceError, ModelError, ResponseError, Result};
use crate::trial::{Factor, Units};

/// Combinations at most.
const MOST: usize = 5_000;

/// Treatments with the levels that were tried, and the effects of a model.
#[derive(Debug, Clone)]
pub(super) struct Grid<'a> {
    pub(super) factors: Vec<&'a Factor>,
    /// The codes of each treatment's levels that were tried, in their order.
    pub(super) codes: Vec<Vec<u32>>,
    /// Places of treatments, one list per effect; single treatments first.
    pub(super) terms: Vec<Vec<usize>>,
}

impl<'a> Grid<'a> {
    pub(super) fn of(units: &'a Units, effects: &[String], interactions: &[Vec<String>]) -> Result<Self> {
        if effects.is_empty() {
            return Err(ModelError::NoEffects.into());
        }
        let treatment = |name: &String| -> Result<&'a Factor> {
            let known: Vec<&str> = units.treatments.iter().map(|one| one.name.as_str()).collect();
            let found = units.treatments.iter().find(|one| one.name == *name);
            found.ok_or_else(|| ChoiceError::new("treatment", name, &known).into())
        };
        let factors: Vec<&Factor> = effects.iter().map(treatment).collect::<Result<_>>()?;
        for (at, name) in effects.iter().enumerate() {
            if effects.iter().take(at).any(|other| other == name) {
                return Err(ModelError::Repeated { effect: name.clone() }.into());
            }
        }
        let codes: Vec<Vec<u32>> = factors.iter().map(|one| tried(one)).collect();
        let cells = codes.iter().fold(1_usize, |all, one| all.saturating_mul(one.len().max(1)));
        if cells > MOST {
            return Err(ResponseError::ManyCombinations { found: cells, most: MOST }.into());
        }
        let mut terms: Vec<Vec<usize>> = (0..factors.len()).map(|at| vec![at]).collect();
        for interaction in interactions {
            let together = || interaction.join(" x ");
            let mut places = Vec::new();
            for name in interaction {
                let at = effects.iter().position(|effect| effect == name);
                let missing = || ModelError::InteractionWithoutMain { interaction: together(), missing: name.clone() };
                places.push(at.ok_or_else(missing)?);
            }
            places.sort_unstable();
            places.dedup();
            if places.len() != interaction.len() || places.len() < 2 {
                return Err(ModelError::Repeated { effect: together() }.into());
            }
            // Those of fewer inside the set enter with it.
            for subset in subsets(&places) {
                if !terms.contains(&subset) {
                    terms.push(subset);
                }
            }
        }
        terms.sort_by_key(Vec::len);
        Ok(Self { factors, codes, terms })
    }

    /// The same over some of the treatments, with the effects that lie within these.
    pub(super) fn part(&self, places: &[usize]) -> Self {
        let inside = |term: &&Vec<usize>| term.iter().all(|at| places.contains(at));
        let moved = |term: &Vec<usize>| -> Vec<usize> {
            term.iter().filter_map(|at| places.iter().position(|one| one == at)).collect()
        };
        Self {
            factors: places.iter().filter_map(|at| self.factors.get(*at).copied()).collect(),
            codes: places.iter().filter_map(|at| self.codes.get(*at).cloned()).collect(),
            terms: self.terms.iter().filter(inside).map(moved).collect(),
        }
    }

    /// "strength x rootstock".
    pub(super) fn name(&self, term: &[usize]) -> String {
        let names: Vec<&str> =
            term.iter().filter_map(|at| self.factors.get(*at)).map(|one| one.name.as_str()).collect();
        names.join(" x ")
    }

    pub(super) fn width(&self, at: usize) -> usize {
        self.codes.get(at).map_or(0, Vec::len)
    }

    /// Number of combinations.
    pub(super) fn len(&self) -> usize {
        self.codes.iter().map(Vec::len).product()
    }

    /// The level of each treatment, numbered from 0, of a combination.
    pub(super) fn levels(&self, cell: usize) -> Vec<usize> {
        let mut left = cell;
        let mut found: Vec<usize> = Vec::with_capacity(self.codes.len());
        for codes in self.codes.iter().rev() {
            found.push(left % codes.len().max(1));
            left /= codes.len().max(1);
        }
        found.reverse();
        found
    }

    /// The combination of some levels.
    pub(super) fn cell(&self, levels: &[usize]) -> usize {
        self.codes.iter().zip(levels).fold(0, |at, (codes, level)| at * codes.len() + level)
    }

    /// The combination of a tray.
    pub(super) fn of_unit(&self, unit: usize) -> Option<usize> {
        let place = |(factor, codes): (&&Factor, &Vec<u32>)| {
            let code = factor.codes.get(unit)?;
            codes.iter().position(|own| own == code)
        };
        let levels: Vec<usize> = self.factors.iter().zip(&self.codes).map(place).collect::<Option<_>>()?;
        Some(self.cell(&levels))
    }

    /// The columns of the model at a combination: a constant, then for each effect the products of its treatments' contrasts.
    pub(super) fn row(&self, cell: usize) -> Vec<f64> {
        let levels = self.levels(cell);
        let mut row = vec![1.0];
        for term in &self.terms {
            let mut columns = vec![1.0];
            for at in term {
                let (width, level) = (self.width(*at), levels.get(*at).copied().unwrap_or_default());
                let own: Vec<f64> = (1..width).map(|column| turned(width, column, level)).collect();
                columns = columns.iter().flat_map(|x| own.iter().map(move |y| x * y)).collect();
            }
            row.extend(columns);
        }
        row
    }

    /// The columns of the model for weights of combinations.
    pub(super) fn columns(&self, weights: &[f64]) -> Vec<f64> {
        let mut sum: Vec<f64> = vec![0.0; self.row(0).len()];
        for (cell, weight) in weights.iter().enumerate().filter(|(_, weight)| **weight != 0.0) {
            sum.iter_mut().zip(self.row(cell)).for_each(|(sum, x)| *sum += weight * x);
        }
        sum
    }

    /// What an effect says: contrasts of the combinations, each of length 1 and at right angles to the others. Other treatments are averaged
    /// over, all their levels alike.
    pub(super) fn contrasts(&self, term: &[usize]) -> Vec<Vec<f64>> {
        let mut rows = vec![vec![1.0]];
        for at in 0..self.factors.len() {
            let width = self.width(at);
            let own: Vec<Vec<f64>> = if term.contains(&at) {
                (1..width).map(|column| (0..width).map(|level| turned(width, column, level)).collect()).collect()
            } else {
                vec![vec![1.0 / (width as f64).sqrt(); width]]
            };
            let crossed = |row: &Vec<f64>, own: &Vec<f64>| -> Vec<f64> {
                row.iter().flat_map(|x| own.iter().map(move |y| x * y)).collect()
            };
            rows = rows.iter().flat_map(|row| own.iter().map(move |own| crossed(row, own))).collect();
        }
        rows
    }

    /// True where every combination that occurs has a mean of its own.
    pub(super) fn saturated(&self) -> bool {
        self.terms.iter().any(|term| term.len() == self.factors.len())
    }

    /// Weights of combinations summed over the treatments that are not in `part`, and what is left of them when the sums are spread evenly.
    pub(super) fn split(&self, part: &Self, places: &[usize], weights: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let each = (self.len() / part.len().max(1)).max(1) as f64;
        let inside = |cell: usize| -> usize {
            let levels = self.levels(cell);
            part.cell(&places.iter().filter_map(|at| levels.get(*at).copied()).collect::<Vec<usize>>())
        };
        let mut sums = vec![0.0; part.len()];
        let places: Vec<usize> = (0..weights.len()).map(inside).collect();
        for (at, weight) in places.iter().zip(weights) {
            sums.get_mut(*at).into_iter().for_each(|sum| *sum += weight);
        }
        let left = places.iter().zip(weights).map(|(at, weight)| weight - sums.get(*at).map_or(0.0, |sum| sum / each));
        (sums.clone(), left.collect())
    }
}

/// Entries of contrasts of `width` levels: each of length 1, at right angles to the others and to a constant.
fn turned(width: usize, column: usize, level: usize) -> f64 {
    let at = column as f64;
    let scale = 1.0 / (at * (at + 1.0)).sqrt();
    debug_assert!(column < width);
    match level.cmp(&column) {
        std::cmp::Ordering::Less => -scale,
        std::cmp::Ordering::Equal => at * scale,
        std::cmp::Ordering::Greater => 0.0,
    }
}

/// The levels that have trays.
fn tried(factor: &Factor) -> Vec<u32> {
    (0..factor.levels.len() as u32).filter(|code| factor.codes.contains(code)).collect()
}

fn subsets(places: &[usize]) -> Vec<Vec<usize>> {
    let all = 1_u32 << places.len().min(16);
    let chosen = |mask: u32| -> Vec<usize> {
        places.iter().enumerate().filter(|(at, _)| mask >> at & 1 == 1).map(|(_, place)| *place).collect()
    };
    let mut found: Vec<Vec<usize>> = (1..all).map(chosen).filter(|one| one.len() > 1).collect();
    found.sort_by_key(Vec::len);
    found
}
