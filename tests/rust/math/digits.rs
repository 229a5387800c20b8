//! Values with 50 digits, and how far a function is off them at most.

use std::collections::BTreeMap;

use serde_json::Value;

/// One value: the function, where, and what it is there.
pub(super) struct Entry {
    pub(super) name: String,
    pub(super) at: Vec<f64>,
    pub(super) want: f64,
}

/// The entries of a file of values.
pub(super) fn entries(text: &str) -> Vec<Entry> {
    let all: Value = serde_json::from_str(text).expect("a file of values is JSON");
    let list = all["entries"].as_array().expect("a list of entries");
    list.iter()
        .map(|one| Entry {
            name: format!("{}::{}", one["family"].as_str().expect("family"), one["what"].as_str().expect("what")),
            at: one["at"].as_array().expect("at").iter().map(|v| v.as_f64().expect("number")).collect(),
            want: one["want"].as_f64().expect("want"),
        })
        .collect()
}

/// By function: the largest relative error, and where. A logarithm, or what has a zero, is held relative to the larger of 1 and its size:
/// near 0 it matters by what it does to the probability, and a large one can be held no finer than its own rounding. `near_one` are the ends
/// of their names.
pub(super) fn worst(
    entries: Vec<Entry>,
    near_one: &[&str],
    of: impl Fn(&str, &[f64]) -> Option<f64>,
) -> BTreeMap<String, (f64, Vec<f64>)> {
    let mut table = BTreeMap::new();
    for one in entries {
        if let Some(got) = of(&one.name, &one.at) {
            let size = one.want.abs();
            let near = near_one.iter().any(|end| one.name.ends_with(end));
            let gap = (got - one.want).abs() / if near { size.max(1.0) } else { size };
            let gap = if gap.is_nan() { f64::INFINITY } else { gap };
            let slot = table.entry(one.name).or_insert((0.0, one.at.clone()));
            if gap > slot.0 {
                *slot = (gap, one.at);
            }
        }
    }
    table
}
