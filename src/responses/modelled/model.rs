//! A response of a trial in its strata: any contrast of combinations, drawn from all of them.

use super::grid::Grid;
use super::options::MeanModelSpec;
use super::stratum::{Made, NONE, Stratum};
use crate::error::Result;
use crate::estimate::check_level;
use crate::math::dense::Eigen;
use crate::math::regression::{UnitContrast, UnitMeans, UnitTest};
use crate::responses::MeanOf;
use crate::responses::gathered::{Gathered, Held};
use crate::trial::{Factor, Layout, Trial, Units};

/// A response with its treatments, laid out on the units that carry them: those above the tray first, trays last.
pub(super) struct Modelled<'a> {
    pub(super) gathered: Gathered<'a>,
    pub(super) spec: MeanModelSpec,
    pub(super) of: MeanOf,
    pub(super) grid: Grid<'a>,
    pub(super) strata: Vec<Stratum<'a>>,
    pub(super) confidence: f64,
    pub(super) primary: bool,
    /// Trays that enter.
    pub(super) trays: Vec<usize>,
    pub(super) n_left_out: u64,
    /// True where plants were left out, since they would leave nothing to judge by.
    pub(super) plants_left: bool,
}

/// The same with every stratum fitted.
pub(super) struct Fits<'m> {
    pub(super) model: &'m Modelled<'m>,
    pub(super) fits: Vec<Option<UnitMeans<'m>>>,
}

/// The test of an effect, and where it stands.
pub(super) struct Tested {
    pub(super) test: Option<UnitTest>,
    pub(super) unit: String,
    pub(super) why: Option<String>,
}

impl<'a> Modelled<'a> {
    pub(super) fn of(trial: &'a Trial, spec: &MeanModelSpec) -> Result<Self> {
        let confidence = check_level(spec.confidence)?;
        let gathered = Gathered::of(trial, &spec.response)?;
        let units = gathered.units;
        let of = spec.mean_of.unwrap_or_else(|| MeanOf::usual(gathered.measured.response.kind));
        let grid = Grid::of(units, &spec.effects, &spec.interactions)?;
        let held: Vec<Held> = (0..units.len()).map(|tray| gathered.held(&[tray], of)).collect();
        let trays: Vec<usize> =
            held.iter().enumerate().filter(|(_, held)| held.size > 0.0).map(|(tray, _)| tray).collect();
        let mut model = Self {
            spec: MeanModelSpec { mean_of: Some(of), ..spec.clone() },
            gathered,
            of,
            confidence,
            primary: trial.primary() == Some(spec.response.as_str()),
            n_left_out: held.iter().map(|held| held.left_out).sum(),
            plants_left: false,
            strata: Vec::new(),
            trays,
            grid,
        };
        let carriers = carriers(units, &model.grid);
        let mut within = model.in_trays(true);
        if within.fit().is_none_or(|fit| within.spare(&fit) == 0) && units.stock_plant.is_some() {
            let without = model.in_trays(false);
            model.plants_left = without.fit().is_some_and(|fit| without.spare(&fit) > 0);
            if model.plants_left {
                within = without;
            }
        }
        for (place, treatments) in carriers {
            let above = model.above(place, &treatments, &within);
            model.strata.push(above);
        }
        model.strata.push(within);
        Ok(model)
    }

    /// Trays with every recorded place beside the treatments.
    fn in_trays(&self, plants: bool) -> Stratum<'a> {
        let units = self.gathered.units;
        let name = |tray: usize| {
            let named = units.tray.as_ref().and_then(|one| one.label(tray));
            named.map_or_else(|| (tray + 1).to_string(), str::to_owned)
        };
        let own = |tray: &usize| (*tray, name(*tray), self.gathered.held(&[*tray], self.of));
        let mut beside: Vec<(&Factor, bool)> =
            [&units.season, &units.block].into_iter().flatten().map(|place| (place, true)).collect();
        beside.extend(units.whole_plot.as_ref().map(|place| (place, false)));
        beside.extend(units.stock_plant.as_ref().filter(|_| plants).map(|place| (place, false)));
        Stratum::of(Made {
            unit: "tray".to_owned(),
            grid: self.grid.clone(),
            places: (0..self.grid.factors.len()).collect(),
            units: self.trays.iter().map(own).collect(),
            beside,
            least: self.gathered.least(),
        })
    }

    /// The levels of a place to which treatments were given as a whole, each with its mean over what its trays were given within it.
    fn above(&self, place: &'a Factor, treatments: &[usize], within: &Stratum<'a>) -> Stratum<'a> {
        let units = self.gathered.units;
        let lead = treatments.first().and_then(|at| self.grid.factors.get(*at).copied());
        let everything: Vec<usize> = (0..units.len()).collect();
        let layouts: Vec<Layout<'a>> = treatments
            .iter()
            .filter_map(|at| self.grid.factors.get(*at))
            .map(|one| Layout::of(units, one, &everything))
            .collect();
        let fit = within.fit();
        let shift = |tray: usize| -> f64 {
            let Some(cell) = self.grid.of_unit(tray) else { return 0.0 };
            let mut weights = vec![0.0; self.grid.len()];
            weights.get_mut(cell).into_iter().for_each(|one| *one = 1.0);
            let part = self.grid.part(treatments);
            let (_, left) = self.grid.split(&part, treatments, &weights);
            let row = within.row(&left);
            fit.as_ref().zip(row).and_then(|(fit, row)| fit.value(&row)).unwrap_or(0.0)
        };
        let mut shifts: Vec<Option<f64>> = vec![None; self.grid.len()];
        let mut of_cell = |tray: usize| -> f64 {
            let Some(slot) = self.grid.of_unit(tray).and_then(|cell| shifts.get_mut(cell)) else { return 0.0 };
            *slot.get_or_insert_with(|| shift(tray))
        };
        let mut found = Vec::new();
        let groups = layouts.first().map(|layout| layout.groups.iter().map(<[usize]>::to_vec).collect::<Vec<_>>());
        for group in groups.unwrap_or_default() {
            let mut held = self.gathered.held(&group, self.of);
            let Some(first) = group.first().filter(|_| held.size > 0.0) else { continue };
            let inside = held.squares - held.total * held.total / held.size;
            for tray in &group {
                held.total -= of_cell(*tray) * self.gathered.held(&[*tray], self.of).size;
            }
            held.squares = inside + held.total * held.total / held.size;
            found.push((*first, place.label(*first).unwrap_or_default().to_owned(), held));
        }
        let mut beside: Vec<(&'a Factor, bool)> = Vec::new();
        for one in layouts.iter().flat_map(|layout| layout.places.iter().chain(&layout.taken_out)) {
            let over = [&units.season, &units.block].into_iter().flatten().any(|place| place.name == one.name);
            if !beside.iter().any(|(known, _)| known.name == one.name) {
                beside.push((one, over));
            }
        }
        let mut stratum = Stratum::of(Made {
            unit: place.name.clone(),
            grid: self.grid.part(treatments),
            places: treatments.to_vec(),
            units: found,
            beside,
            least: self.gathered.least(),
        });
        let stays = layouts.iter().any(|layout| !layout.lasting.is_empty());
        stratum.why = (stays && lead.is_some()).then(|| {
            format!(
                "{} last over seasons in which {} changes its place, which a model of means does not take apart",
                crate::report::plural(&place.name.replace('_', " ")),
                lead.map_or("", |one| one.name.as_str())
            )
        });
        stratum
    }

    pub(super) fn fits(&self) -> Fits<'_> {
        Fits { model: self, fits: self.strata.iter().map(Stratum::fit).collect() }
    }

    /// Recorded columns that stand beside the treatments among the trays.
    pub(super) fn beside(&self) -> Vec<String> {
        let last = self.strata.last();
        last.map(|one| one.beside.iter().map(|one| one.place.name.clone()).collect()).unwrap_or_default()
    }

    /// What the trays of a choice of levels hold.
    pub(super) fn held(&self, inside: impl Fn(usize) -> bool) -> Held {
        let trays: Vec<usize> = self.trays.iter().copied().filter(|tray| inside(*tray)).collect();
        self.gathered.held(&trays, self.of)
    }
}

/// Places above the tray with the treatments that were given to their levels as a whole.
fn carriers<'a>(units: &'a Units, grid: &Grid<'a>) -> Vec<(&'a Factor, Vec<usize>)> {
    let mut found: Vec<(&Factor, Vec<usize>)> = Vec::new();
    for (at, factor) in grid.factors.iter().enumerate() {
        let Some(place) = units.unit_of(factor).filter(|_| grid.width(at) > 1) else { continue };
        match found.iter_mut().find(|(known, _)| known.name == place.name) {
            Some((_, treatments)) => treatments.push(at),
            None => found.push((place, vec![at])),
        }
    }
    found
}

impl Fits<'_> {
    /// Weights of combinations as the strata see them; none for a stratum that has no part in it.
    fn parts(&self, weights: &[f64]) -> Vec<Option<Vec<f64>>> {
        let model = self.model;
        let mut left = weights.to_vec();
        let last = model.strata.len().saturating_sub(1);
        let mut parts = Vec::new();
        for (at, stratum) in model.strata.iter().enumerate() {
            let own = if at == last {
                std::mem::take(&mut left)
            } else {
                let (own, rest) = model.grid.split(&stratum.grid, &stratum.places, &left);
                left = rest;
                own
            };
            parts.push(own.iter().any(|one| one.abs() > NONE).then_some(own));
        }
        parts
    }

    /// The strata that have a part in a contrast, each with its row.
    fn rows(&self, weights: &[f64]) -> Option<Vec<(usize, Vec<f64>)>> {
        let mut rows = Vec::new();
        for (at, (part, stratum)) in self.parts(weights).into_iter().zip(&self.model.strata).enumerate() {
            let Some(part) = part else { continue };
            rows.push((at, stratum.row(&part)?));
        }
        Some(rows)
    }

    fn fit(&self, at: usize) -> Option<&UnitMeans<'_>> {
        self.fits.get(at)?.as_ref()
    }

    /// The value of weighted combinations; none where these data cannot give it.
    pub(super) fn value(&self, weights: &[f64]) -> Option<f64> {
        self.rows(weights)?.iter().map(|(at, row)| self.fit(*at)?.value(row)).sum()
    }

    /// The same with its variance, places as they were used.
    pub(super) fn contrast(&self, weights: &[f64]) -> Option<UnitContrast> {
        let rows = self.rows(weights)?;
        let open = |at: usize| self.model.strata.get(at).is_some_and(|one| one.why.is_none());
        let each = |(at, row): &(usize, Vec<f64>)| self.fit(*at).filter(|_| open(*at))?.contrast(row);
        let found: Vec<UnitContrast> = rows.iter().map(each).collect::<Option<_>>()?;
        added(&found)
    }

    /// A mean, over further seasons and blocks where there are several.
    pub(super) fn mean(&self, weights: &[f64]) -> Option<UnitContrast> {
        let own = self.contrast(weights)?;
        // The stratum that carries the mean as such is the first.
        let first = self.model.strata.first().zip(self.fit(0));
        let over = first.map(|(stratum, fit)| stratum.over(fit)).unwrap_or_default();
        let all: Vec<UnitContrast> = std::iter::once(own).chain(over).collect();
        added(&all)
    }

    /// The covariance of contrasts.
    pub(super) fn covariance(&self, weights: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
        let mut sum = vec![vec![0.0; weights.len()]; weights.len()];
        let parts: Vec<Vec<Option<Vec<f64>>>> = weights.iter().map(|one| self.parts(one)).collect();
        for (at, stratum) in self.model.strata.iter().enumerate() {
            let own: Vec<usize> =
                (0..parts.len()).filter(|one| parts.get(*one).and_then(|p| p.get(at)?.as_ref()).is_some()).collect();
            if own.is_empty() {
                continue;
            }
            let row = |one: &usize| stratum.row(parts.get(*one)?.get(at)?.as_ref()?);
            let rows: Vec<Vec<f64>> = own.iter().map(row).collect::<Option<_>>()?;
            let found = self.fit(at)?.covariance(&rows)?;
            for (i, line) in own.iter().zip(&found) {
                for (j, value) in own.iter().zip(line) {
                    sum.get_mut(*i).and_then(|row| row.get_mut(*j)).into_iter().for_each(|entry| *entry += value);
                }
            }
        }
        Some(sum)
    }

    /// The test of an effect in the stratum that carries it.
    pub(super) fn test(&self, term: &[usize]) -> Tested {
        let model = self.model;
        let contrasts = model.grid.contrasts(term);
        let carrier = model.strata.iter().position(|one| term.iter().all(|at| one.places.contains(at)));
        let at = carrier.unwrap_or_default();
        let Some(stratum) = model.strata.get(at) else { return Tested::none("tray", None) };
        let part = |one: &Vec<f64>| self.parts(one).into_iter().nth(at).flatten();
        let rows: Option<Vec<Vec<f64>>> = contrasts.iter().map(|one| stratum.row(&part(one)?)).collect();
        let unit = stratum.unit.clone();
        if let Some(why) = &stratum.why {
            return Tested::none(&unit, Some(why.clone()));
        }
        let Some((fit, rows)) = self.fit(at).zip(rows.filter(|rows| !rows.is_empty())) else {
            return Tested::none(&unit, Some(untried(&model.grid.name(term))));
        };
        let rows = told(fit, rows);
        if rows.is_empty() {
            return Tested::none(&unit, Some(untried(&model.grid.name(term))));
        }
        let test = fit.joint(&rows);
        let said = unit.replace('_', " ");
        let why = format!("nothing is left over to tell how {} of like treatment differ", crate::report::plural(&said));
        Tested { why: test.is_none().then_some(why), test, unit }
    }
}

impl Tested {
    fn none(unit: &str, why: Option<String>) -> Self {
        Self { test: None, unit: unit.to_owned(), why }
    }
}

fn untried(effect: &str) -> String {
    format!("combinations that {effect} asks for were not tried, or lie in one place each")
}

/// The contrasts, or those of their combinations that can be estimated.
fn told(fit: &UnitMeans<'_>, rows: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    let against: Vec<Vec<f64>> = rows.iter().map(|row| fit.untold(row)).collect();
    let product = |a: &Vec<f64>, b: &Vec<f64>| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    if against.iter().all(|one| product(one, one) < 1e-14) {
        return rows;
    }
    let square: Vec<Vec<f64>> = against.iter().map(|a| against.iter().map(|b| product(a, b)).collect()).collect();
    let eigen = Eigen::new(&square);
    let free = eigen.values.iter().zip(&eigen.vectors).filter(|(value, _)| **value < 1e-10);
    let mixed = |vector: &Vec<f64>| {
        let mut row = vec![0.0; rows.first().map_or(0, Vec::len)];
        for (weight, own) in vector.iter().zip(&rows) {
            row.iter_mut().zip(own).for_each(|(sum, x)| *sum += weight * x);
        }
        row
    };
    free.map(|(_, vector)| mixed(vector)).collect()
}

/// Parts of one contrast from several strata.
fn added(parts: &[UnitContrast]) -> Option<UnitContrast> {
    let (value, variance) = parts.iter().fold((0.0, 0.0), |(x, v), one| (x + one.value, v + one.variance));
    let twice: f64 = parts.iter().map(|one| one.variance * one.variance / one.df).sum();
    let df = variance * variance / twice;
    (variance > 0.0 && df.is_finite() && df > 0.0).then_some(UnitContrast { value, variance, df })
}
