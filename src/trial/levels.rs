//! From cells to coded factors, and the look-alike levels that only the user can judge.

use std::collections::{BTreeMap, HashMap};

use crate::trial::cell::Cell;
use crate::trial::columns::Factor;

/// Codes the cells of one column. Levels that are all numbers are ordered as numbers (`2500` and `2500.0` are one level);
/// other levels are kept letter for letter and ordered alphabetically.
#[must_use]
pub fn factor(name: &str, cells: &[&Cell]) -> Factor {
    let numbers: Option<Vec<f64>> = cells.iter().map(|cell| cell.as_number()).collect();
    match numbers {
        Some(numbers) if !cells.is_empty() => numeric_factor(name, &numbers),
        _ => text_factor(name, cells),
    }
}

fn numeric_factor(name: &str, values: &[f64]) -> Factor {
    // Adding zero turns -0 into 0, so that both are one level.
    let values: Vec<f64> = values.iter().map(|value| value + 0.0).collect();
    let mut levels = values.clone();
    levels.sort_by(f64::total_cmp);
    levels.dedup_by(|a, b| a.total_cmp(b).is_eq());
    let code: HashMap<u64, u32> = levels.iter().zip(0..).map(|(level, code)| (level.to_bits(), code)).collect();
    Factor {
        name: name.to_owned(),
        levels: levels.iter().map(ToString::to_string).collect(),
        codes: values.iter().filter_map(|value| code.get(&value.to_bits()).copied()).collect(),
        numbers: Some(levels),
    }
}

fn text_factor(name: &str, cells: &[&Cell]) -> Factor {
    let labels: Vec<String> = cells.iter().map(|cell| cell.shown()).collect();
    let mut code: BTreeMap<&str, u32> = labels.iter().map(|label| (label.as_str(), 0)).collect();
    for (number, entry) in (0..).zip(code.values_mut()) {
        *entry = number;
    }
    Factor {
        name: name.to_owned(),
        levels: code.keys().map(|&label| label.to_owned()).collect(),
        numbers: None,
        codes: labels.iter().filter_map(|label| code.get(label.as_str()).copied()).collect(),
    }
}

/// Sets of levels that differ only by case or spaces.
#[must_use]
pub fn look_alikes(levels: &[String]) -> Vec<Vec<String>> {
    let mut sets: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for level in levels {
        let plain: String =
            level.chars().filter(|letter| !letter.is_whitespace()).flat_map(char::to_lowercase).collect();
        sets.entry(plain).or_default().push(level.clone());
    }
    sets.into_values().filter(|set| set.len() > 1).collect()
}
