//! What the entries of a column are, so that each is written as what it is.

use serde::{Deserialize, Serialize};

/// What an entry of a table is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", from = "String")]
pub enum Scale {
    /// A rate or a share, 0-1: "65.8 %".
    Rate,
    /// A difference of two rates, with its sign: "+28.3 points".
    Difference,
    /// How large a difference of two rates is, either way: "28.3 points".
    Size,
    /// One rate or strength over another.
    Ratio,
    /// One odds over another.
    OddsRatio,
    /// A strength, in the unit of its column.
    Strength,
    /// A strength that may never reach what is wanted of it, where it has no end.
    StrengthOrNever,
    /// A P value.
    P,
    /// What a test compares with its distribution.
    Statistic,
    /// Degrees of freedom.
    Degrees,
    /// A confidence level, 0-1: "95 %".
    Confidence,
    /// A level of a treatment: the user's own name or number.
    Level,
    /// How many, also where that is an expectation.
    Count,
    /// Words.
    Text,
    /// Any other number.
    Plain,
}

impl Scale {
    /// Every scale.
    pub const ALL: [Self; 15] = [
        Self::Rate,
        Self::Difference,
        Self::Size,
        Self::Ratio,
        Self::OddsRatio,
        Self::Strength,
        Self::StrengthOrNever,
        Self::P,
        Self::Statistic,
        Self::Degrees,
        Self::Confidence,
        Self::Level,
        Self::Count,
        Self::Text,
        Self::Plain,
    ];

    /// Its name in records.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rate => "rate",
            Self::Difference => "difference",
            Self::Size => "size",
            Self::Ratio => "ratio",
            Self::OddsRatio => "odds-ratio",
            Self::Strength => "strength",
            Self::StrengthOrNever => "strength-or-never",
            Self::P => "p",
            Self::Statistic => "statistic",
            Self::Degrees => "degrees",
            Self::Confidence => "confidence",
            Self::Level => "level",
            Self::Count => "count",
            Self::Text => "text",
            Self::Plain => "plain",
        }
    }
}

impl From<String> for Scale {
    /// The scale called so; of a record that names another one, plain.
    fn from(name: String) -> Self {
        Self::ALL.into_iter().find(|scale| scale.name() == name).unwrap_or(Self::Plain)
    }
}

/// What the entries of a column are: one scale for all, or one for each row.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Scales {
    /// All rows hold the same.
    One(Scale),
    /// Each row says what it holds.
    Rows(Vec<Scale>),
}

impl Scales {
    /// The scale of a row.
    #[must_use]
    pub fn at(&self, row: usize) -> Option<Scale> {
        match self {
            Self::One(scale) => Some(*scale),
            Self::Rows(rows) => rows.get(row).copied(),
        }
    }
}

impl From<Scale> for Scales {
    fn from(scale: Scale) -> Self {
        Self::One(scale)
    }
}

impl From<Vec<Scale>> for Scales {
    fn from(rows: Vec<Scale>) -> Self {
        Self::Rows(rows)
    }
}
