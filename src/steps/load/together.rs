//! Batches that were split or merged: parts are put together again by what they came from, so that no plant is lost or counted twice.

use std::collections::BTreeMap;

use super::lineage::Family;
use super::options::StepsOptions;
use super::parts::Parts;
use super::rows::Row;
use crate::error::Issue;
use crate::steps::held::StepsBatch;
use crate::trial::BadRows;

/// The batches of these rows: each row is one, or all rows of one descent together.
pub(super) fn batches(rows: &[Row], options: &StepsOptions, issues: &mut Vec<Issue>) -> Vec<StepsBatch> {
    let mut family = Family::of(rows, options);
    let sound = family.sound();
    family.given(&sound);
    family.counted_on(&sound);
    family.dates(&sound);
    let wrong = Parts::of(&family).wrong(&sound);
    family.issues.extend(wrong);
    let sound = family.sound();
    let labels = Parts::of(&family);
    let mut together = BTreeMap::<usize, Vec<usize>>::new();
    for (at, root) in family.roots.iter().enumerate().filter(|(at, _)| sound.get(*at) == Some(&true)) {
        together.entry(*root).or_default().push(at);
    }
    let found = together.into_values().filter_map(|members| labels.batch(&members)).collect();
    let left = if options.bad_rows == BadRows::SetAside { family.left_with_others(&sound) } else { Vec::new() };
    issues.append(&mut family.issues);
    issues.extend(left);
    found
}
