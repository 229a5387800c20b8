//! From checked lines to units: trays where they are recorded, plants where these alone are and tell the treatments apart, pooled
//! combinations where neither is.

use crate::error::{Issue, Severity};
use crate::math::design::{Key, Sorted, sorted, tally};
use crate::trial::anew::anew_each_season;
use crate::trial::cell::Cell;
use crate::trial::columns::{Covariate, Factor, UnitKind, Units};
use crate::trial::responses::{Measured, by_units};
use crate::trial::roles::LoadOptions;
use crate::trial::table::Table;
use crate::trial::validate::Checked;

/// How the cuttings of mother plants are spread over one treatment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct StockSpread {
    /// The treatment.
    pub treatment: String,
    /// Mother plants in all.
    pub plants: usize,
    /// Mother plants whose cuttings went to a single level.
    pub confined: usize,
}

/// The units, the spread of mother plants, and covariates that differ within a unit.
#[derive(Debug, Clone)]
pub(super) struct Built {
    /// The units in a fixed order: by treatment, place and tray, whatever the order of rows.
    pub units: Units,
    /// Cuttings that died in each unit, where deaths are recorded.
    pub dead: Option<Vec<u64>>,
    /// The responses, in the order declared.
    pub measured: Vec<Measured>,
    /// The first row of the frame in each unit, counted from 0.
    pub rows: Vec<u32>,
    /// One entry per treatment when mother plants are recorded.
    pub stock: Vec<StockSpread>,
    /// Covariates that are not constant within a tray.
    pub issues: Vec<Issue>,
    /// A line on each block or whole plot that recurs over seasons and is a place of its own in each.
    pub anew: Vec<String>,
}

/// Groups the good lines into units; takes the coded columns out of `checked`.
#[must_use]
pub(super) fn build(table: &Table, checked: &mut Checked, options: &LoadOptions) -> Built {
    let treatments: Vec<Factor> = options.treatments.iter().filter_map(|name| checked.take(name)).collect();
    let mut optional = |name: &Option<String>| name.as_deref().and_then(|name| checked.take(name));
    let [season, block, whole_plot, tray, stock] =
        [&options.season, &options.block, &options.whole_plot, &options.tray, &options.stock_plant].map(&mut optional);
    let covariates: Vec<Covariate> = options.covariates.iter().map(|name| covariate(name, table, checked)).collect();
    // Without trays the cuttings of a plant are one unit where no treatment changes within plants.
    let by_plant = stock.as_ref().filter(|plants| tray.is_none() && told_apart_by(plants, &treatments));
    let (no_trays, pooled) = (tray.is_none(), tray.is_none() && by_plant.is_none());

    let places = [&season, &block, &whole_plot, &tray].into_iter().flatten().chain(by_plant);
    let mut keys: Vec<Key<'_>> = treatments.iter().chain(places).map(Factor::key).collect();
    let ranks: Vec<(Vec<u32>, usize)> = covariates.iter().filter(|_| no_trays).map(|one| ranked(&one.values)).collect();
    keys.extend(ranks.iter().map(|(codes, size)| Key::new(codes, *size)));
    let members = sorted(&keys, checked.good.len());

    let firsts: Vec<usize> = members.groups().filter_map(|lines| lines.first().copied()).collect();
    let total = |values: &[u64]| -> Vec<u64> {
        let sum = |lines: &[usize]| {
            lines.iter().filter_map(|line| values.get(*line)).fold(0_u64, |sum, value| sum.saturating_add(*value))
        };
        members.groups().map(sum).collect()
    };
    let spread =
        stock.as_ref().map(|plants| treatments.iter().map(|one| spread(one, plants)).collect()).unwrap_or_default();
    let constant = stock.filter(|plants| members.groups().all(|lines| same(lines, &plants.codes)));
    let issues = covariates.iter().filter_map(|one| varying(one, &members, options.tray.as_deref())).collect();
    let row = |at: &usize| table.rows.get(*checked.good.get(*at)?).map(|row| *row as u32);
    let rows = firsts.iter().filter_map(row).collect();
    let first = |one: Factor| -> Factor { Factor { codes: picked(&one.codes, &firsts), ..one } };
    let first_value = |one: Covariate| Covariate { values: picked(&one.values, &firsts), ..one };
    let (rooted, stuck) = (total(&checked.rooted), total(&checked.stuck));
    let dead = options.dead.is_some().then(|| total(&checked.dead));
    let declared = options.responses.iter().zip(&checked.responses);
    let measured = declared.map(|(one, entries)| by_units(one, entries, &members)).collect();
    let mut units = Units {
        kind: if pooled { UnitKind::Pooled } else { UnitKind::Tray },
        rooted,
        stuck,
        treatments: treatments.into_iter().map(first).collect(),
        tray: tray.map(first),
        block: block.map(first),
        whole_plot: whole_plot.map(first),
        season: season.map(first),
        earlier: None,
        stock_plant: constant.map(first),
        covariates: covariates.into_iter().map(first_value).collect(),
    };
    let anew = anew_each_season(&mut units);
    Built { units, dead, measured, rows, stock: spread, issues, anew }
}

/// True where some treatment has several levels, and each that does has one in every plant.
fn told_apart_by(plants: &Factor, treatments: &[Factor]) -> bool {
    let mut several = treatments.iter().filter(|one| one.levels.len() > 1).peekable();
    several.peek().is_some() && several.all(|one| one.constant_within(plants))
}

fn picked<T: Copy>(values: &[T], lines: &[usize]) -> Vec<T> {
    lines.iter().filter_map(|line| values.get(*line).copied()).collect()
}

/// The rank of each value among the distinct values, and how many there are.
fn ranked(values: &[f64]) -> (Vec<u32>, usize) {
    let values: Vec<f64> = values.iter().map(|value| value + 0.0).collect();
    let mut distinct = values.clone();
    distinct.sort_unstable_by(f64::total_cmp);
    distinct.dedup_by(|a, b| a.total_cmp(b).is_eq());
    let rank = |value: &f64| distinct.binary_search_by(|known| known.total_cmp(value)).unwrap_or_default() as u32;
    (values.iter().map(rank).collect(), distinct.len())
}

fn covariate(name: &str, table: &Table, checked: &Checked) -> Covariate {
    let column = table.column(name);
    let read = |cell: &Cell| cell.as_number().unwrap_or(f64::NAN);
    let numbers: Vec<f64> = column.map(|column| column.entries().iter().map(read).collect()).unwrap_or_default();
    let value = |line: &usize| numbers.get(column?.code(*line)?).copied();
    Covariate { name: name.to_owned(), values: checked.good.iter().filter_map(value).collect() }
}

fn same<T: PartialEq>(lines: &[usize], values: &[T]) -> bool {
    let mut found = lines.iter().filter_map(|line| values.get(*line));
    let first = found.next();
    found.all(|value| Some(value) == first)
}

fn varying(one: &Covariate, members: &Sorted, tray: Option<&str>) -> Option<Issue> {
    let tray = tray?;
    let bits: Vec<u64> = one.values.iter().map(|value| value.to_bits()).collect();
    let count = members.groups().filter(|lines| !same(lines, &bits)).count();
    (count > 0).then(|| {
        let reason =
            format!("the covariate differs between cuttings of one {tray} in {count} of {} trays", members.len());
        let hint = "give each tray one value, for example its mean";
        Issue::of_input("covariate_varies", reason, hint).in_column(&one.name).graded(Severity::Problem)
    })
}

fn spread(treatment: &Factor, plants: &Factor) -> StockSpread {
    let mut levels = vec![0_usize; plants.levels.len()];
    for line in tally(&[plants.key(), treatment.key()], plants.codes.len()).0 {
        let plant = plants.codes.get(line).copied().unwrap_or_default();
        if let Some(levels) = levels.get_mut(plant as usize) {
            *levels += 1;
        }
    }
    let confined = levels.iter().filter(|levels| **levels == 1).count();
    StockSpread { treatment: treatment.name.clone(), plants: plants.levels.len(), confined }
}
