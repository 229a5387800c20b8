//! How the hormone reaches the cutting.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::shown::shortened;
use super::unit::Basis;
use crate::error::{Error, StrengthError};

/// A way of treating the base of a cutting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(try_from = "String", into = "String")]
pub enum Method {
    /// Seconds in a concentrate.
    QuickDip,
    /// Hours in a weak solution.
    DiluteSoak,
    /// Powder.
    Talc,
    /// Paste, for example in lanolin, or layering.
    PasteOrLayering,
}

impl Method {
    /// The basis the method stands for: liquids weight per volume, talc weight per weight; pastes are made up both ways.
    #[must_use]
    pub const fn basis(self) -> Option<Basis> {
        match self {
            Self::QuickDip | Self::DiluteSoak => Some(Basis::WeightPerVolume),
            Self::Talc => Some(Basis::WeightPerWeight),
            Self::PasteOrLayering => None,
        }
    }
}

impl fmt::Display for Method {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::QuickDip => "quick dip",
            Self::DiluteSoak => "soak",
            Self::Talc => "talc",
            Self::PasteOrLayering => "paste",
        })
    }
}

impl FromStr for Method {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        let plain = text.trim().to_lowercase().replace(['-', '_'], " ");
        match plain.as_str() {
            "quick dip" | "dip" => Ok(Self::QuickDip),
            "soak" | "dilute soak" | "long soak" => Ok(Self::DiluteSoak),
            "talc" | "powder" => Ok(Self::Talc),
            "paste" | "layering" | "lanolin" | "paste or layering" => Ok(Self::PasteOrLayering),
            _ => Err(StrengthError::UnknownMethod { method: shortened(text) }.into()),
        }
    }
}

impl TryFrom<String> for Method {
    type Error = Error;

    fn try_from(text: String) -> Result<Self, Error> {
        text.parse()
    }
}

impl From<Method> for String {
    fn from(method: Method) -> Self {
        method.to_string()
    }
}
