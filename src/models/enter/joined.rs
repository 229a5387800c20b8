//! Units alike in all variables of a model, as one row each.

use std::collections::HashSet;

use super::per_unit::PerUnit;
use super::variables::Variable;
use crate::math::design::{Key, sorted};
use crate::trial::{Data, Joined, ValueTable, Values, picked};

/// Joins units alike in all variables, in the order of their values. Where a number is different almost everywhere, every unit stays a
/// row of its own.
pub(super) fn join(variables: &[Variable], per_unit: &PerUnit) -> Joined {
    let n = per_unit.stuck.len();
    let columns: Vec<&Values> = variables.iter().map(|variable| &variable.values).collect();
    let more: [&[f64]; 2] = [&per_unit.offset, &per_unit.weights];
    let numbers = columns.iter().map(|values| values.numbers()).chain(more).filter(|numbers| !numbers.is_empty());
    let numbers: Vec<&[f64]> = numbers.collect();
    if numbers.iter().any(|numbers| mostly_distinct(numbers)) {
        let PerUnit { rooted, stuck, offset, weights, .. } = per_unit.clone();
        let values = ValueTable { columns: columns.into_iter().cloned().collect(), rows: n };
        let data = Data { rooted, stuck, units: vec![1; n], offset, weights, values };
        return Joined { row: (0..n).collect(), data };
    }
    let ranks: Vec<(Vec<u32>, usize)> = numbers.into_iter().map(ranked).collect();
    let groups = sorted(&keys(variables, &ranks), n);
    let mut row_of = vec![0; n];
    let (mut leads, mut units) = (Vec::with_capacity(groups.len()), Vec::with_capacity(groups.len()));
    let (mut rooted, mut stuck) = (Vec::with_capacity(groups.len()), Vec::with_capacity(groups.len()));
    for (row, members) in groups.groups().enumerate() {
        let (mut y, mut m) = (0.0, 0.0);
        for member in members {
            if let Some(place) = row_of.get_mut(*member) {
                *place = row;
            }
            y += per_unit.rooted.get(*member).copied().unwrap_or(0.0);
            m += per_unit.stuck.get(*member).copied().unwrap_or(0.0);
        }
        leads.push(members.first().copied().unwrap_or_default());
        rooted.push(y);
        stuck.push(m);
        units.push(members.len() as u64);
    }
    let offset = picked(&per_unit.offset, &leads).into();
    let weights = picked(&per_unit.weights, &leads).into();
    let columns = columns.iter().map(|column| column.at(&leads)).collect();
    let values = ValueTable { columns, rows: leads.len() };
    Joined { row: row_of, data: Data { rooted: rooted.into(), stuck: stuck.into(), units, offset, weights, values } }
}

/// Codes in the order of the values: those of factors, and the ranks of all numbers in their places and at the end.
fn keys<'a>(variables: &'a [Variable], ranks: &'a [(Vec<u32>, usize)]) -> Vec<Key<'a>> {
    let mut ranks = ranks.iter().map(|(codes, size)| Key::new(codes, *size));
    let mut keys = Vec::new();
    for variable in variables {
        match &variable.values {
            Values::Levels(codes) => keys.push(codes.key(variable.levels.len())),
            Values::Numbers(_) => keys.extend(ranks.next()),
        }
    }
    keys.extend(ranks);
    keys
}

/// The rank of each number among the different ones, and how many those are.
fn ranked(numbers: &[f64]) -> (Vec<u32>, usize) {
    // Adding 0 turns -0 into 0, so that both are one value.
    let mut known: Vec<f64> = numbers.iter().map(|z| z + 0.0).collect();
    known.sort_unstable_by(f64::total_cmp);
    known.dedup_by(|a, b| a.total_cmp(b).is_eq());
    let rank = |z: &f64| known.binary_search_by(|known| known.total_cmp(&(z + 0.0))).unwrap_or_default() as u32;
    (numbers.iter().map(rank).collect(), known.len())
}

/// True when more than half of the first few thousand numbers are different, so that joining alike units would spare nothing.
fn mostly_distinct(numbers: &[f64]) -> bool {
    const LOOK: usize = 4096;
    let Some(first) = numbers.get(..LOOK) else { return false };
    first.iter().map(|z| z.to_bits()).collect::<HashSet<u64>>().len() > LOOK / 2
}
