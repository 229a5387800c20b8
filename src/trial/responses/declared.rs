//! A response as it is declared when a trial is loaded: its column, what it is, in what unit or on what scale.

use serde::{Deserialize, Serialize};

use crate::choice::choice;

/// What a response is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ResponseKind {
    /// How many of something a rooted cutting has: roots.
    Count,
    /// A length of a rooted cutting: its longest root.
    Length,
    /// A mass of a rooted cutting: its roots, dried.
    Mass,
    /// A grade that every cutting got, on a scale of whole numbers.
    Grade,
}

choice!(
    ResponseKind, "kind of response":
    Count = "count",
    Length = "length",
    Mass = "mass",
    Grade = "grade",
);

/// The unit of a length or a mass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ResponseUnit {
    /// Millimetres.
    Millimetre,
    /// Centimetres.
    Centimetre,
    /// Metres.
    Metre,
    /// Milligrams.
    Milligram,
    /// Grams.
    Gram,
    /// Kilograms.
    Kilogram,
}

choice!(
    ResponseUnit, "unit of a response":
    Millimetre = "mm",
    Centimetre = "cm",
    Metre = "m",
    Milligram = "mg",
    Gram = "g",
    Kilogram = "kg",
);

impl ResponseUnit {
    /// What is measured in it.
    #[must_use]
    pub fn kind(self) -> ResponseKind {
        match self {
            Self::Millimetre | Self::Centimetre | Self::Metre => ResponseKind::Length,
            Self::Milligram | Self::Gram | Self::Kilogram => ResponseKind::Mass,
        }
    }

    /// How many of the smallest unit of its kind (mm, mg) it holds.
    #[must_use]
    pub(super) fn size(self) -> f64 {
        match self {
            Self::Millimetre | Self::Milligram => 1.0,
            Self::Centimetre => 10.0,
            Self::Metre | Self::Gram => 1_000.0,
            Self::Kilogram => 1_000_000.0,
        }
    }
}

/// A declared response.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Response {
    /// The user's column name.
    pub column: String,
    /// What it is.
    pub kind: ResponseKind,
    /// The unit of a length or a mass.
    #[serde(default)]
    pub unit: Option<ResponseUnit>,
    /// The lowest grade.
    #[serde(default)]
    pub lowest: Option<i64>,
    /// The highest grade.
    #[serde(default)]
    pub highest: Option<i64>,
    /// With one row per tray: the column of how many rooted cuttings each mean is of.
    #[serde(default)]
    pub means_of: Option<String>,
}

impl Response {
    fn of_kind(column: &str, kind: ResponseKind) -> Self {
        Self { column: column.to_owned(), kind, unit: None, lowest: None, highest: None, means_of: None }
    }

    /// Whole numbers of something: roots.
    ///
    /// ```
    /// use rootling::trial::{Response, ResponseKind};
    /// assert_eq!(Response::count("roots").kind, ResponseKind::Count);
    /// ```
    #[must_use]
    pub fn count(column: &str) -> Self {
        Self::of_kind(column, ResponseKind::Count)
    }

    /// A length or a mass, as its unit says.
    ///
    /// ```
    /// use rootling::trial::{Response, ResponseKind, ResponseUnit};
    /// assert_eq!(Response::in_unit("longest", ResponseUnit::Centimetre).kind, ResponseKind::Length);
    /// ```
    #[must_use]
    pub fn in_unit(column: &str, unit: ResponseUnit) -> Self {
        Self { unit: Some(unit), ..Self::of_kind(column, unit.kind()) }
    }

    /// Grades from the lowest to the highest.
    ///
    /// ```
    /// use rootling::trial::Response;
    /// assert_eq!(Response::grade("grade", 0, 5).highest, Some(5));
    /// ```
    #[must_use]
    pub fn grade(column: &str, lowest: i64, highest: i64) -> Self {
        Self { lowest: Some(lowest), highest: Some(highest), ..Self::of_kind(column, ResponseKind::Grade) }
    }

    /// The same as means of trays, each over as many rooted cuttings as `column` says.
    ///
    /// ```
    /// use rootling::trial::Response;
    /// assert_eq!(Response::count("roots").with_means_of("rooted").means_of.as_deref(), Some("rooted"));
    /// ```
    #[must_use]
    pub fn with_means_of(self, column: &str) -> Self {
        Self { means_of: Some(column.to_owned()), ..self }
    }

    /// What one of it is, behind a number: "roots" (the column's name), "cm" or "g"; nothing for a grade.
    #[must_use]
    pub fn amount(&self) -> String {
        match (self.kind, self.unit) {
            (ResponseKind::Count, _) => self.column.replace('_', " "),
            (_, Some(unit)) => unit.name().to_owned(),
            _ => String::new(),
        }
    }

    /// True where unrooted cuttings have one too.
    #[must_use]
    pub fn is_of_all(&self) -> bool {
        self.kind == ResponseKind::Grade
    }
}
