//! The levels of a factor that occur.

use std::sync::Arc;

use super::values::picked;
use crate::math::design::Codes;
use crate::trial::columns::Factor;

/// The levels of a factor that occur, and those of the units.
#[derive(Debug)]
pub(crate) struct Levels {
    pub(crate) names: Vec<String>,
    pub(crate) codes: Arc<Codes>,
}

impl Levels {
    /// Those that occur in some units, in their order.
    pub(crate) fn of(factor: &Factor, rows: &[usize]) -> Self {
        let codes = picked(&factor.codes, rows);
        let mut place: Vec<Option<u32>> = vec![None; factor.levels.len()];
        for code in &codes {
            if let Some(place) = place.get_mut(*code as usize) {
                *place = Some(0);
            }
        }
        let mut names = Vec::new();
        for (place, name) in place.iter_mut().zip(&factor.levels).filter(|(place, _)| place.is_some()) {
            *place = Some(names.len() as u32);
            names.push(name.clone());
        }
        let value = |code: &u32| place.get(*code as usize).copied().flatten().unwrap_or(0);
        let new: Vec<u32> = codes.iter().map(value).collect();
        let codes = Arc::new(Codes::of(&new, names.len()));
        Self { names, codes }
    }
}
