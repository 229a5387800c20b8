//! How other factors are averaged over, and whose rate is given: the choices.

use crate::choice::choice;
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

/// How the other factors of the model are averaged over.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Average {
    /// All their combinations alike.
    #[default]
    Alike,
    /// Combinations by their share of the cuttings stuck.
    AsStuck,
    /// Shares per factor and level, such as a nursery's own mix of rootstocks; factors not named alike.
    Mix(BTreeMap<String, BTreeMap<String, f64>>),
}

impl Average {
    /// As records hold it: by name, or the shares.
    pub(crate) fn recorded(&self) -> String {
        match self {
            Self::Alike => "alike".to_owned(),
            Self::AsStuck => "as-stuck".to_owned(),
            Self::Mix(mix) => format!("{mix:?}"),
        }
    }
}

/// Whose rate is given where trays differ by random effects.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum RateOf {
    /// The share rooted over all trays.
    #[default]
    AllTrays,
    /// The rate of a tray in the middle of the trays.
    TypicalTray,
}

choice!(
    RateOf, "choice of rates":
    AllTrays = "all-trays",
    TypicalTray = "typical-tray",
);
