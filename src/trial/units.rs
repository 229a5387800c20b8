//! From checked lines to units: trays where they are recorded, pooled combinations where not.

use std::collections::{BTreeMap, HashMap};

use crate::trial::cell::Cell;
use crate::trial::columns::{Covariate, Factor, UnitKind, Units};
use crate::trial::levels::factor;
use crate::trial::roles::LoadOptions;
use crate::trial::table::Table;
use crate::trial::validate::Checked;
use crate::trial::{Issue, Severity};

/// How the cuttings of mother plants are spread over one treatment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StockSpread {
    /// The treatment.
    pub treatment: String,
    /// Mother plants in all.
    pub plants: usize,
    /// Mother plants whose cuttings went to a single level.
    pub confined: usize,
}

/// The units, the spread of mother plants, and covariates that differ within a unit.
#[derive(Debug, Clone)]
pub struct Built {
    /// The units in a fixed order: by treatment, place and tray, whatever the order of rows.
    pub units: Units,
    /// One entry per treatment when mother plants are recorded.
    pub stock: Vec<StockSpread>,
    /// Covariates that are not constant within a tray.
    pub issues: Vec<Issue>,
}

/// Groups the good lines into units.
#[must_use]
pub fn build(table: &Table, checked: &Checked, options: &LoadOptions) -> Built {
    let column = |name: &str| -> Factor {
        let cells: Vec<&Cell> = table.column(name).unwrap_or_default().iter().collect();
        let good: Vec<&Cell> = checked.good.iter().filter_map(|line| cells.get(*line).copied()).collect();
        factor(name, &good)
    };
    let optional = |name: &Option<String>| name.as_deref().map(column);
    let treatments: Vec<Factor> = options.treatments.iter().map(|name| column(name)).collect();
    let [season, block, whole_plot, tray] =
        [&options.season, &options.block, &options.whole_plot, &options.tray].map(optional);
    let stock = optional(&options.stock_plant);
    let covariates: Vec<Covariate> = options.covariates.iter().map(|name| covariate(name, table, checked)).collect();

    let keys: Vec<&Factor> =
        treatments.iter().chain([&season, &block, &whole_plot, &tray].into_iter().flatten()).collect();
    let pooled = tray.is_none();
    let mut groups: HashMap<(Vec<u32>, Vec<u64>), Vec<usize>> = HashMap::with_capacity(checked.good.len());
    for line in 0..checked.good.len() {
        let codes = keys.iter().filter_map(|key| key.codes.get(line).copied()).collect();
        let values = if pooled {
            covariates.iter().filter_map(|one| one.values.get(line)).map(|value| ordered(*value)).collect()
        } else {
            Vec::new()
        };
        groups.entry((codes, values)).or_default().push(line);
    }
    let mut groups: Vec<_> = groups.into_iter().collect();
    groups.sort_unstable();
    let members: Vec<&Vec<usize>> = groups.iter().map(|(_, lines)| lines).collect();
    let total = |values: &[u64]| -> Vec<u64> {
        members
            .iter()
            .map(|lines| {
                lines.iter().filter_map(|line| values.get(*line)).fold(0_u64, |sum, value| sum.saturating_add(*value))
            })
            .collect()
    };
    let first = |one: Factor| -> Factor {
        let codes =
            members.iter().filter_map(|lines| lines.first().and_then(|line| one.codes.get(*line).copied())).collect();
        Factor { codes, ..one }
    };
    let spread =
        stock.as_ref().map(|plants| treatments.iter().map(|one| spread(one, plants)).collect()).unwrap_or_default();
    let constant = stock.filter(|plants| members.iter().all(|lines| same(lines, &plants.codes)));
    let issues = covariates.iter().filter_map(|one| varying(one, &members, options.tray.as_deref())).collect();
    let units = Units {
        kind: if pooled { UnitKind::Pooled } else { UnitKind::Tray },
        rooted: total(&checked.rooted),
        stuck: total(&checked.stuck),
        treatments: treatments.into_iter().map(first).collect(),
        tray: tray.map(first),
        block: block.map(first),
        whole_plot: whole_plot.map(first),
        season: season.map(first),
        stock_plant: constant.map(first),
        covariates: covariates
            .into_iter()
            .map(|one| {
                let values = members
                    .iter()
                    .filter_map(|lines| lines.first().and_then(|line| one.values.get(*line).copied()))
                    .collect();
                Covariate { values, ..one }
            })
            .collect(),
    };
    Built { units, stock: spread, issues }
}

fn covariate(name: &str, table: &Table, checked: &Checked) -> Covariate {
    let cells = table.column(name).unwrap_or_default();
    let values = checked
        .good
        .iter()
        .filter_map(|line| cells.get(*line))
        .map(|cell| cell.as_number().unwrap_or(f64::NAN))
        .collect();
    Covariate { name: name.to_owned(), values }
}

/// Bits that sort as the numbers do.
fn ordered(value: f64) -> u64 {
    let bits = (value + 0.0).to_bits();
    if bits >> 63 == 1 { !bits } else { bits | (1 << 63) }
}

fn same<T: PartialEq>(lines: &[usize], values: &[T]) -> bool {
    let mut found = lines.iter().filter_map(|line| values.get(*line));
    let first = found.next();
    found.all(|value| Some(value) == first)
}

fn varying(one: &Covariate, members: &[&Vec<usize>], tray: Option<&str>) -> Option<Issue> {
    let tray = tray?;
    let bits: Vec<u64> = one.values.iter().map(|value| value.to_bits()).collect();
    let count = members.iter().filter(|lines| !same(lines, &bits)).count();
    (count > 0).then(|| {
        let reason =
            format!("the covariate differs between cuttings of one {tray} in {count} of {} trays", members.len());
        let hint = "give each tray one value, for example its mean";
        Issue::of_input("covariate_varies", reason, hint).in_column(&one.name).graded(Severity::Problem)
    })
}

fn spread(treatment: &Factor, plants: &Factor) -> StockSpread {
    let mut levels: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for (plant, level) in plants.codes.iter().zip(&treatment.codes) {
        let seen = levels.entry(*plant).or_default();
        if !seen.contains(level) {
            seen.push(*level);
        }
    }
    let confined = levels.values().filter(|seen| seen.len() == 1).count();
    StockSpread { treatment: treatment.name.clone(), plants: levels.len(), confined }
}
