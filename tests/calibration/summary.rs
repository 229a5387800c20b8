//! Sums over replicates, and their summary over designs.

use std::collections::BTreeMap;

/// Sums of figures by name and candidate.
#[derive(Debug, Clone, Default)]
pub(crate) struct Figures {
    sums: BTreeMap<(&'static str, usize), f64>,
}

impl Figures {
    pub(crate) fn add(&mut self, name: &'static str, candidate: usize, value: f64) {
        *self.sums.entry((name, candidate)).or_default() += value;
    }

    /// A sum over so many entries.
    pub(crate) fn mean(&self, name: &'static str, candidate: usize, entries: f64) -> f64 {
        self.sums.get(&(name, candidate)).copied().unwrap_or(f64::NAN) / entries
    }

    pub(crate) fn plus(&mut self, other: Self) {
        for (key, value) in other.sums {
            *self.sums.entry(key).or_default() += value;
        }
    }
}

/// Means per replicate, one entry per design.
#[derive(Debug)]
pub(crate) struct Results<D> {
    pub runs: u64,
    pub rows: Vec<(D, Figures)>,
}

/// Mean over designs, lowest and highest design, share of designs above 6.5 % and below 91 %.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Summary {
    pub mean: f64,
    pub low: f64,
    pub high: f64,
    pub above: f64,
    pub below: f64,
}

impl<D> Results<D> {
    pub(crate) fn of(&self, name: &'static str, candidate: usize, keep: impl Fn(&D) -> bool) -> Option<Summary> {
        let values: Vec<f64> = self
            .rows
            .iter()
            .filter(|(design, _)| keep(design))
            .filter_map(|(_, figures)| figures.sums.get(&(name, candidate)))
            .map(|sum| sum / self.runs as f64)
            .collect();
        let n = values.len() as f64;
        let share = |test: &dyn Fn(f64) -> bool| values.iter().filter(|value| test(**value)).count() as f64 / n;
        (!values.is_empty()).then(|| Summary {
            mean: values.iter().sum::<f64>() / n,
            low: values.iter().copied().fold(f64::INFINITY, f64::min),
            high: values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            above: share(&|value| value > 0.065),
            below: share(&|value| value < 0.91),
        })
    }
}

impl<D> Results<D> {
    /// All designs with a figure, the farthest out first.
    pub(crate) fn worst(&self, name: &'static str, candidate: usize, highest: bool) -> Vec<(f64, &D)> {
        let value = |figures: &Figures| figures.sums.get(&(name, candidate)).map(|sum| sum / self.runs as f64);
        let mut all: Vec<(f64, &D)> =
            self.rows.iter().filter_map(|(design, figures)| Some((value(figures)?, design))).collect();
        all.sort_by(|a, b| if highest { b.0.total_cmp(&a.0) } else { a.0.total_cmp(&b.0) });
        all
    }
}

/// Percent with one digit; a dash where there is nothing.
pub(crate) fn percent(value: Option<f64>) -> String {
    value.map_or_else(|| "-".to_owned(), |value| format!("{:.1}", 100.0 * value))
}
