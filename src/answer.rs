//! The one shape all results share: numbers, a table, a sentence, notes, methods, record.

use serde::{Deserialize, Serialize};

/// A named caution with a sentence of explanation.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Note {
    /// Short code: `few_trays`, `separation`, `trays_ignored`, ...
    pub code: String,
    /// What it means, in one or two sentences.
    pub text: String,
}

impl Note {
    /// Builds a note.
    #[must_use]
    pub fn new(code: &str, text: impl Into<String>) -> Self {
        Self { code: code.to_owned(), text: text.into() }
    }

    /// What every answer on plain counts takes for granted.
    #[must_use]
    pub fn independent_cuttings() -> Self {
        Self::new(
            "independent_cuttings",
            "Cuttings count as independent of each other. Where they share trays, P values come out too small and intervals too narrow: load the trial with its trays.",
        )
    }
}

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

/// A named column.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Column {
    /// Column name.
    pub name: String,
    /// "text", "whole" or "number".
    pub kind: String,
    /// Entries.
    pub values: Cells,
}

/// A small table, one row per estimate.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Sheet {
    /// Columns in order.
    pub columns: Vec<Column>,
}

impl Sheet {
    /// Adds a text column.
    pub fn text<S: Into<String>>(&mut self, name: &str, values: impl IntoIterator<Item = S>) -> &mut Self {
        let values = Cells::Text(values.into_iter().map(|v| Some(v.into())).collect());
        self.push(name, "text", values)
    }

    /// Adds a column of whole numbers.
    pub fn whole(&mut self, name: &str, values: impl IntoIterator<Item = u64>) -> &mut Self {
        let values = Cells::Whole(values.into_iter().map(|v| i64::try_from(v).ok()).collect());
        self.push(name, "whole", values)
    }

    /// Adds a column of whole numbers some of which are missing.
    pub fn maybe_whole(&mut self, name: &str, values: impl IntoIterator<Item = Option<u64>>) -> &mut Self {
        let values = Cells::Whole(values.into_iter().map(|v| v.and_then(|v| i64::try_from(v).ok())).collect());
        self.push(name, "whole", values)
    }

    /// Adds a column of numbers; NaN becomes missing.
    pub fn number(&mut self, name: &str, values: impl IntoIterator<Item = f64>) -> &mut Self {
        let values = Cells::Number(values.into_iter().map(|v| if v.is_nan() { None } else { Some(v) }).collect());
        self.push(name, "number", values)
    }

    /// Adds a column of numbers some of which are missing.
    pub fn maybe(&mut self, name: &str, values: impl IntoIterator<Item = Option<f64>>) -> &mut Self {
        let values = Cells::Number(values.into_iter().map(|v| v.filter(|x| !x.is_nan())).collect());
        self.push(name, "number", values)
    }

    fn push(&mut self, name: &str, kind: &str, values: Cells) -> &mut Self {
        self.columns.push(Column { name: name.to_owned(), kind: kind.to_owned(), values });
        self
    }
}

/// How a result can be redone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MadeWith {
    /// Version of rootling.
    pub version: String,
    /// Options that were in force, name and value.
    pub options: Vec<(String, String)>,
    /// Seed of any random step.
    pub seed: Option<u64>,
    /// Fingerprint of the data that entered (hex).
    pub data_fingerprint: Option<String>,
}

impl MadeWith {
    /// A record of the options, without seed or data.
    #[must_use]
    pub fn new(options: &[(&str, String)]) -> Self {
        Self {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            options: options.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect(),
            seed: None,
            data_fingerprint: None,
        }
    }
}

/// A result: its own numbers `F` with the faces all results have.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Answer<F> {
    /// What kind of result: `take_rates`, `comparison`, `what_matters`, ...
    pub kind: String,
    /// The typed numbers.
    #[serde(flatten)]
    pub numbers: F,
    /// One row per estimate.
    pub table: Sheet,
    /// The decision in plain words, at most 30 of them.
    pub sentence: String,
    /// Everything else worth saying, a fact a line.
    #[serde(default)]
    pub details: Vec<String>,
    /// Named cautions.
    pub notes: Vec<Note>,
    /// The paragraph for a methods section.
    pub methods: String,
    /// Citations.
    pub references: Vec<String>,
    /// How to redo it.
    pub made_with: MadeWith,
}

impl<F> Answer<F> {
    /// The decision and all details as one text.
    #[must_use]
    pub fn words(&self) -> String {
        let parts: Vec<&str> = std::iter::once(&self.sentence).chain(&self.details).map(String::as_str).collect();
        parts.join(" ")
    }
}
