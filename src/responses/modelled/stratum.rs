//! Units of one kind with the fit of their means: trays, or the bays (plants, blocks) that treatments were given to as a whole.

use super::grid::Grid;
use crate::math::regression::{UnitContrast, UnitMeans, UnitValues};
use crate::responses::gathered::Held;
use crate::trial::Factor;

/// Levels of a place from which on limits of means hold over further ones.
const SEVERAL: usize = 3;
/// Weights below this are none.
pub(super) const NONE: f64 = 1e-12;

/// A place taken out beside the treatments.
#[derive(Debug, Clone)]
pub(super) struct Beside<'a> {
    pub(super) place: &'a Factor,
    /// Codes of its levels that hold units.
    codes: Vec<u32>,
    /// Its first column.
    start: usize,
    /// True where limits of means hold over further levels.
    pub(super) over: bool,
}

/// Units, what they hold, and the columns fitted to their means.
#[derive(Debug, Clone)]
pub(super) struct Stratum<'a> {
    /// "tray", or the column whose levels are the units.
    pub(super) unit: String,
    pub(super) grid: Grid<'a>,
    /// Where its treatments stand in the whole model.
    pub(super) places: Vec<usize>,
    pub(super) values: UnitValues,
    /// Names of the units.
    pub(super) labels: Vec<String>,
    pub(super) beside: Vec<Beside<'a>>,
    /// The number of each combination among those that occur, where each has a mean of its own and no place stands beside.
    direct: Option<Vec<Option<usize>>>,
    /// Why nothing is tested here.
    pub(super) why: Option<String>,
}

/// What a stratum is made of.
pub(super) struct Made<'a> {
    pub(super) unit: String,
    pub(super) grid: Grid<'a>,
    pub(super) places: Vec<usize>,
    /// First tray, name and contents of each unit.
    pub(super) units: Vec<(usize, String, Held)>,
    /// Places beside, and whether means may hold over further levels of each.
    pub(super) beside: Vec<(&'a Factor, bool)>,
    pub(super) least: f64,
}

impl<'a> Stratum<'a> {
    pub(super) fn of(made: Made<'a>) -> Self {
        let Made { unit, grid, places, units, beside, least } = made;
        let cells: Vec<usize> = units.iter().map(|(lead, ..)| grid.of_unit(*lead).unwrap_or_default()).collect();
        let mut numbers: Vec<Option<usize>> = vec![None; grid.len()];
        let mut next = 0;
        let mut level = |cell: usize| -> usize {
            let Some(slot) = numbers.get_mut(cell) else { return 0 };
            *slot.get_or_insert_with(|| {
                next += 1;
                next - 1
            })
        };
        let mut values = UnitValues { least, ..UnitValues::default() };
        for ((.., held), cell) in units.iter().zip(&cells) {
            values.sizes.push(held.size);
            values.totals.push(held.total);
            values.squares.push(held.squares);
            values.levels.push(level(*cell));
        }
        let leads: Vec<usize> = units.iter().map(|(lead, ..)| *lead).collect();
        let mut found = Self {
            unit,
            places,
            labels: units.into_iter().map(|(_, label, _)| label).collect(),
            beside: Vec::new(),
            direct: None,
            why: None,
            values,
            grid,
        };
        found.add_columns(&leads, &cells, &beside);
        let everywhere = numbers.iter().all(Option::is_some);
        if found.beside.is_empty() && found.grid.saturated() && everywhere {
            found.values.columns.clear();
            found.direct = Some(numbers);
        }
        found
    }

    fn add_columns(&mut self, leads: &[usize], cells: &[usize], beside: &[(&'a Factor, bool)]) {
        let rows: Vec<Vec<f64>> = cells.iter().map(|cell| self.grid.row(*cell)).collect();
        let width = rows.first().map_or(0, Vec::len);
        let column = |at: usize| rows.iter().filter_map(|row| row.get(at).copied()).collect::<Vec<f64>>();
        self.values.columns = (0..width).map(column).collect();
        let all: f64 = self.values.sizes.iter().sum();
        for (place, may_be_over) in beside {
            let own: Vec<u32> = leads.iter().filter_map(|lead| place.codes.get(*lead).copied()).collect();
            let codes: Vec<u32> = (0..place.levels.len() as u32).filter(|code| own.contains(code)).collect();
            if codes.len() < 2 || codes.len() == leads.len() {
                continue;
            }
            let start = self.values.columns.len();
            for code in &codes {
                // Centred, so that a mean is one over the places as they were used.
                let held: f64 =
                    own.iter().zip(&self.values.sizes).filter(|(one, _)| *one == code).map(|(_, size)| size).sum();
                let share = held / all;
                self.values.columns.push(own.iter().map(|one| f64::from(u8::from(one == code)) - share).collect());
            }
            let over = *may_be_over && codes.len() >= SEVERAL;
            self.beside.push(Beside { place, codes, start, over });
        }
    }

    pub(super) fn fit(&self) -> Option<UnitMeans<'_>> {
        UnitMeans::fit(&self.values)
    }

    /// Units less what is fitted to them.
    pub(super) fn spare(&self, fit: &UnitMeans<'_>) -> usize {
        self.values.sizes.len().saturating_sub(fit.rank())
    }

    /// What weights of this stratum's combinations say of the columns; none where they ask for one that does not occur.
    pub(super) fn row(&self, weights: &[f64]) -> Option<Vec<f64>> {
        let Some(direct) = &self.direct else { return Some(self.grid.columns(weights)) };
        let mut row = vec![0.0; direct.iter().flatten().count()];
        for (at, weight) in direct.iter().zip(weights).filter(|(_, weight)| weight.abs() > NONE) {
            *row.get_mut((*at)?)? += weight;
        }
        Some(row)
    }

    /// What places add to the variance of a mean that is to hold over further ones.
    pub(super) fn over(&self, fit: &UnitMeans<'_>) -> Vec<UnitContrast> {
        self.beside.iter().filter(|one| one.over).filter_map(|one| one.variance(fit)).collect()
    }

    /// Combinations that occur, by their numbers among the levels of the units.
    pub(super) fn n_levels(&self) -> usize {
        self.values.levels.iter().max().map_or(0, |most| most + 1)
    }
}

impl Beside<'_> {
    /// The variance of the mean of its levels.
    fn variance(&self, fit: &UnitMeans<'_>) -> Option<UnitContrast> {
        let levels = self.codes.len();
        let share = 1.0 / levels as f64;
        let effect = |at: usize| {
            let mut row = vec![0.0; self.start + levels];
            for (other, entry) in row.iter_mut().skip(self.start).enumerate() {
                *entry = f64::from(u8::from(other == at)) - share;
            }
            fit.value(&row)
        };
        let effects: Vec<f64> = (0..levels).map(effect).collect::<Option<_>>()?;
        let df = levels as f64 - 1.0;
        let variance = effects.iter().map(|one| one * one).sum::<f64>() / df / levels as f64;
        Some(UnitContrast { value: 0.0, variance, df })
    }
}

impl Stratum<'_> {
    /// Leaves out one unit.
    pub(super) fn remove(&mut self, unit: usize) {
        if unit >= self.labels.len() {
            return;
        }
        self.labels.remove(unit);
        for column in [&mut self.values.sizes, &mut self.values.totals, &mut self.values.squares]
            .into_iter()
            .chain(&mut self.values.columns)
        {
            column.remove(unit);
        }
        let gone = self.values.levels.remove(unit);
        // A combination without a unit would be a level of nothing.
        if !self.values.levels.contains(&gone) {
            self.values.levels.iter_mut().filter(|level| **level > gone).for_each(|level| *level -= 1);
            if let Some(direct) = &mut self.direct {
                for at in direct.iter_mut() {
                    *at = match *at {
                        Some(own) if own == gone => None,
                        Some(own) if own > gone => Some(own - 1),
                        own => own,
                    };
                }
            }
        }
    }
}
