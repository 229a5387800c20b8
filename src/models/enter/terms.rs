//! Main effects and interactions, and the columns each of them has.

use super::spec::ModelSpec;
use super::variables::Variable;

/// A main effect or an interaction.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Term {
    /// `strength` or `strength x rootstock`.
    pub name: String,
    /// Indices into the variables.
    pub variables: Vec<usize>,
    /// False for the block, which is kept but not tested.
    pub asked: bool,
}

impl Term {
    /// True when every variable of `self` is in `other`.
    #[must_use]
    pub fn within(&self, other: &Self) -> bool {
        self.variables.iter().all(|v| other.variables.contains(v))
    }
}

/// One column: the product of level indicators and covariates.
#[derive(Debug, Clone, PartialEq)]
pub struct ColumnSpec {
    /// `intercept`, `strength 2500`, `strength 2500 x rootstock K17`, `dark_days squared`.
    pub name: String,
    /// The term; none for the intercept.
    pub term: Option<usize>,
    /// Variable and level (none: the covariate itself, once for each power).
    pub parts: Vec<(usize, Option<usize>)>,
}

/// The interactions asked for and those of fewer effects inside them, fewest effects first; true for those not asked for.
pub(super) fn interactions(spec: &ModelSpec) -> Vec<(Vec<String>, bool)> {
    let mut found: Vec<(Vec<String>, bool)> = spec.interactions.iter().map(|parts| (parts.clone(), false)).collect();
    for parts in &spec.interactions {
        // Every choice of some of the parts, as bits.
        for choice in 1_u64..(1 << parts.len().min(63)) {
            let chosen: Vec<String> = parts
                .iter()
                .enumerate()
                .filter(|(at, _)| (choice >> at) & 1 == 1)
                .map(|(_, part)| part.clone())
                .collect();
            let same = |(other, _): &(Vec<String>, bool)| {
                other.len() == chosen.len() && chosen.iter().all(|part| other.contains(part))
            };
            if chosen.len() > 1 && !found.iter().any(same) {
                found.push((chosen, true));
            }
        }
    }
    found.sort_by_key(|(parts, _)| parts.len());
    found
}

/// Parts of a column from one variable, and their name.
type Choice = (Vec<(usize, Option<usize>)>, String);

/// The columns of one term: every combination of non-reference levels and powers, the first variable slowest.
pub(crate) fn term_columns(variables: &[Variable], term: &Term, index: usize) -> Vec<ColumnSpec> {
    let mut out = vec![ColumnSpec { name: String::new(), term: Some(index), parts: Vec::new() }];
    for variable_index in &term.variables {
        let Some(variable) = variables.get(*variable_index) else { continue };
        let mut choices: Vec<Choice> = Vec::new();
        if variable.is_covariate() {
            let power = |power: u32| (vec![(*variable_index, None); power as usize], variable.power(power));
            choices.extend((1..=variable.degree).map(power));
        }
        for (level, label) in variable.levels.iter().enumerate().filter(|(level, _)| *level != variable.reference) {
            choices.push((vec![(*variable_index, Some(level))], format!("{} {label}", variable.name)));
        }
        let extend = |column: &ColumnSpec| -> Vec<ColumnSpec> {
            let with = |(parts, label): &Choice| {
                let mut column = column.clone();
                column.name = if column.name.is_empty() { label.clone() } else { format!("{} x {label}", column.name) };
                column.parts.extend(parts);
                column
            };
            choices.iter().map(with).collect()
        };
        out = out.iter().flat_map(extend).collect();
    }
    out
}
