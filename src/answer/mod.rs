//! The one shape all results share: numbers, a table, a sentence, notes, methods, record.
//!
//! * [`Scale`], [`Scales`]: what the numbers of a column are
//! * [`Sheet`], [`Column`], [`Cells`]: a table of columns that know it

mod scale;
mod sheet;

use serde::{Deserialize, Serialize};

pub use scale::{Scale, Scales};
pub use sheet::{Cells, Column, Sheet};

/// A named caution with a sentence of explanation.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Note {
    /// Short code: `few_trays`, `separation`, `trays_ignored`, ...
    pub code: String,
    /// What it means, in one or two sentences.
    pub text: String,
}

impl Note {
    /// Builds a note.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert_eq!(Note::new("few_trays", "Few trays.").code, "few_trays");
    /// ```
    #[must_use]
    pub fn new(code: &str, text: impl Into<String>) -> Self {
        Self { code: code.to_owned(), text: text.into() }
    }
}

/// What the numbers of a column of strengths were declared to be.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct DeclaredStrength {
    /// The column.
    pub column: String,
    /// What they measure.
    pub substance: String,
    /// Their unit.
    pub unit: String,
    /// How it is applied; none where that was not said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub method: Option<String>,
}

/// A treatment that was given to whole bays, blocks, seasons or plants, which then carry what is said of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct GivenTo {
    /// The treatment's column.
    pub treatment: String,
    /// The column whose levels it was given to: "bay".
    pub unit: String,
    /// How many of these there are.
    pub n_units: u64,
    /// How many hold each level of the treatment.
    pub levels: Vec<(String, u64)>,
}

/// How a result can be redone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MadeWith {
    /// Version of rootling.
    pub version: String,
    /// Options that were in force, name and value.
    pub options: Vec<(String, String)>,
    /// Seed of any random step.
    pub seed: Option<u64>,
    /// Fingerprint of the data that entered (hex).
    pub data_fingerprint: Option<String>,
    /// What strengths were declared to be in the data; none where none were. The fingerprint is of counts and does not hold it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strength: Option<DeclaredStrength>,
    /// Numbers that the methods tell and the answer's own do not hold: those of the model, the baseline or the pair behind it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rests_on: Vec<(String, f64)>,
    /// Treatments of the trial that were not given to single trays.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub given_to: Vec<GivenTo>,
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
            strength: None,
            rests_on: Vec::new(),
            given_to: Vec::new(),
        }
    }

    /// The same with a number that the methods tell and the answer's own do not hold; the one told first stays.
    #[must_use]
    pub(crate) fn resting_on(mut self, name: &str, value: f64) -> Self {
        if value.is_finite() && self.rests_on.iter().all(|(known, _)| known != name) {
            self.rests_on.push((name.to_owned(), value));
        }
        self
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
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// let found = trial.compare("strength", ("0", "2500"), &CompareOptions::default(), &Control::new())?;
    /// assert!(found.words().starts_with(&found.sentence));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn words(&self) -> String {
        let parts: Vec<&str> = std::iter::once(&self.sentence).chain(&self.details).map(String::as_str).collect();
        parts.join(" ")
    }
}
