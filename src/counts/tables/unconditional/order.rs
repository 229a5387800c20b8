//! What makes one 2 x 2 table more extreme than another.

use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};
use crate::rates::choose;

/// What makes one table more extreme than another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum UnconditionalOrder {
    /// A smaller P value of Fisher's test (Boschloo 1970); never above Fisher's own P.
    #[default]
    Boschloo,
    /// A larger score statistic with pooled variance (Suissa & Shuster 1985; a form of Barnard's test).
    Barnard,
    /// A larger Wald statistic with unpooled variance.
    BarnardUnpooled,
}

impl UnconditionalOrder {
    /// Every ordering.
    pub const ALL: [Self; 3] = [Self::Boschloo, Self::Barnard, Self::BarnardUnpooled];

    /// The name accepted by `method=`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Boschloo => "boschloo",
            Self::Barnard => "barnard",
            Self::BarnardUnpooled => "barnard-unpooled",
        }
    }
}

impl FromStr for UnconditionalOrder {
    type Err = Error;

    fn from_str(given: &str) -> Result<Self> {
        choose("unconditional test", given, &Self::ALL, Self::name)
    }
}
