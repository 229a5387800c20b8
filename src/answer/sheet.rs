//! A small table whose columns know what they hold and how they are headed.

use serde::{Deserialize, Serialize};

use super::scale::{Scale, Scales};

/// The entries of one column.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Cells {
    /// Whole numbers.
    Whole(Vec<Option<i64>>),
    /// Numbers.
    Number(Vec<Option<f64>>),
    /// Text.
    Text(Vec<Option<String>>),
}

impl Cells {
    /// How many there are.
    #[must_use]
    pub fn len(&self) -> usize {
        match self {
            Self::Whole(values) => values.len(),
            Self::Number(values) => values.len(),
            Self::Text(values) => values.len(),
        }
    }

    /// True where there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// A named column.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Column {
    /// Column name.
    pub name: String,
    /// "text", "whole" or "number".
    pub kind: String,
    /// Entries.
    pub values: Cells,
    /// What the entries are; records of before do not say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale: Option<Scales>,
    /// Unit of strengths, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// What a reader sees above it, where its name alone does not say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub head: Option<String>,
}

impl Column {
    /// Says what the entry is that a further row will bring.
    pub fn next_row_is(&mut self, next: Scale) {
        let Some(Scales::Rows(rows)) = &mut self.scale else { return };
        rows.push(next);
    }
}

/// A small table, one row per estimate.
///
/// ```
/// use rootling::{Sheet, answer::Scale};
/// let mut sheet = Sheet::default();
/// sheet.level("strength", ["2500", "5000"]).rate("value", [0.375, 0.658]).p("p", [0.2, 0.01]);
/// assert_eq!(sheet.columns[1].scale, Some(Scale::Rate.into()));
/// ```
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Sheet {
    /// Columns in order.
    pub columns: Vec<Column>,
}

/// A column of numbers of one scale. What is missing, a NaN among them, is left open.
macro_rules! scaled {
    ($($(#[$said:meta])* $name:ident: $scale:ident),+ $(,)?) => {
        impl Sheet {
            $(
                $(#[$said])*
                pub fn $name<V: Into<Option<f64>>>(&mut self, name: &str, values: impl IntoIterator<Item = V>) -> &mut Self {
                    self.scaled(name, Scale::$scale, values)
                }
            )+
        }
    };
}

scaled! {
    /// Adds rates or shares.
    rate: Rate,
    /// Adds differences of rates.
    difference: Difference,
    /// Adds sizes of differences of rates.
    size: Size,
    /// Adds ratios.
    ratio: Ratio,
    /// Adds odds ratios.
    odds_ratio: OddsRatio,
    /// Adds P values.
    p: P,
    /// Adds statistics of tests.
    statistic: Statistic,
    /// Adds degrees of freedom.
    degrees: Degrees,
    /// Adds confidence levels.
    confidence: Confidence,
    /// Adds numbers of things that need not be whole.
    count: Count,
    /// Adds numbers of any other kind.
    plain: Plain,
}

impl Sheet {
    /// Adds a column of words.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let mut sheet = Sheet::default();
    /// sheet.text("why", ["few trays", "many trays"]);
    /// assert_eq!(sheet.columns[0].values.len(), 2);
    /// ```
    pub fn text<S: Into<String>>(&mut self, name: &str, values: impl IntoIterator<Item = S>) -> &mut Self {
        let values = Cells::Text(values.into_iter().map(|v| Some(v.into())).collect());
        self.push(name, "text", values, Scale::Text.into())
    }

    /// Adds the levels of a treatment, by the user's name of it.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let mut sheet = Sheet::default();
    /// sheet.level("rootstock", ["K12", "K30"]);
    /// assert_eq!(sheet.columns[0].name, "rootstock");
    /// ```
    pub fn level<S: Into<String>>(&mut self, name: &str, values: impl IntoIterator<Item = S>) -> &mut Self {
        let values = Cells::Text(values.into_iter().map(|v| Some(v.into())).collect());
        self.push(name, "text", values, Scale::Level.into())
    }

    /// Adds whole numbers of things, some of which may be missing.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let mut sheet = Sheet::default();
    /// sheet.whole("stuck", [20, 40]);
    /// assert_eq!(sheet.columns[0].kind, "whole");
    /// ```
    pub fn whole<V: Into<Option<u64>>>(&mut self, name: &str, values: impl IntoIterator<Item = V>) -> &mut Self {
        let whole = |v: V| v.into().and_then(|v| i64::try_from(v).ok());
        let values = Cells::Whole(values.into_iter().map(whole).collect());
        self.push(name, "whole", values, Scale::Count.into())
    }

    /// Adds strengths in a unit, empty where it is not known.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let mut sheet = Sheet::default();
    /// sheet.strength("value", "mg/L", [2500.0, 5000.0]);
    /// assert_eq!(sheet.columns[0].unit.as_deref(), Some("mg/L"));
    /// ```
    pub fn strength<V: Into<Option<f64>>>(
        &mut self,
        name: &str,
        unit: &str,
        values: impl IntoIterator<Item = V>,
    ) -> &mut Self {
        self.scaled(name, Scale::Strength, values).of_unit(unit)
    }

    /// Adds numbers of one scale, or of a scale for each row. A NaN is left open.
    ///
    /// ```
    /// use rootling::{Sheet, answer::Scale};
    /// let mut sheet = Sheet::default();
    /// sheet.scaled("value", vec![Scale::Rate, Scale::Difference], [0.66, 0.28]);
    /// assert_eq!(sheet.columns[0].values.len(), 2);
    /// ```
    pub fn scaled<V: Into<Option<f64>>>(
        &mut self,
        name: &str,
        scale: impl Into<Scales>,
        values: impl IntoIterator<Item = V>,
    ) -> &mut Self {
        let values = Cells::Number(values.into_iter().map(|v| v.into().filter(|x| !x.is_nan())).collect());
        self.push(name, "number", values, scale.into())
    }

    /// Heads the column added last; an empty head leaves it to its name.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let mut sheet = Sheet::default();
    /// sheet.rate("value", [0.66]).headed("take");
    /// assert_eq!(sheet.columns[0].head.as_deref(), Some("take"));
    /// ```
    pub fn headed(&mut self, head: impl Into<String>) -> &mut Self {
        if let Some(column) = self.columns.last_mut() {
            column.head = Some(head.into()).filter(|head| !head.is_empty());
        }
        self
    }

    /// Says in what unit the column added last is; an empty unit leaves it open.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let mut sheet = Sheet::default();
    /// sheet.plain("value", [12.0]).of_unit("days");
    /// assert_eq!(sheet.columns[0].unit.as_deref(), Some("days"));
    /// ```
    pub fn of_unit(&mut self, unit: &str) -> &mut Self {
        if let Some(column) = self.columns.last_mut() {
            column.unit = Some(unit.to_owned()).filter(|unit| !unit.is_empty());
        }
        self
    }

    fn push(&mut self, name: &str, kind: &str, values: Cells, scale: Scales) -> &mut Self {
        let (name, kind) = (name.to_owned(), kind.to_owned());
        self.columns.push(Column { name, kind, values, scale: Some(scale), unit: None, head: None });
        self
    }
}
