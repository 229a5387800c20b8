//! The fitted curves of a trial: fitted once, asked again and again.

use std::sync::OnceLock;

use super::best::{Placed, Wanted, placed};
use super::candidates::Curve;
use super::counts::Counts;
use super::input::{CurveGroup, CurveInput};
use super::run::{Ready, fitted};
use crate::answer::{Answer, Note};
use crate::control::Control;
use crate::error::Result;

/// The fitted curves of an input. They answer every question about them without another fit.
///
/// ```
/// use rootling::control::Control;
/// use rootling::curves::{CurveGroup, CurveInput, CurveOptions, FittedCurves, TrayCount};
/// let counts = [(0.0, 12), (500.0, 23), (1000.0, 34), (2000.0, 43), (4000.0, 38), (8000.0, 17)];
/// let trays = counts.map(|(strength, rooted)| TrayCount { strength, rooted, stuck: 60, block: None }).to_vec();
/// let input = CurveInput {
///     strength: None,
///     unit: "mg/L".to_owned(),
///     counted: false,
///     pooled: true,
///     unit_of: "cutting".to_owned(),
///     called: String::new(),
///     blocks: None,
///     bays: None,
///     places: None,
///     groups: vec![CurveGroup { levels: Vec::new(), trays }],
///     damage: Vec::new(),
///     notes: Vec::new(),
///     options: CurveOptions::default(),
/// };
/// let control = Control::new();
/// let curves = FittedCurves::new(input, &control)?;
/// let half = curves.strengths_for(0.5, &control)?;
/// let least = curves.strengths_for(0.3, &control)?;
/// assert!(least.numbers.rows[0].value < half.numbers.rows[0].value);
/// # Ok::<(), rootling::Error>(())
/// ```
#[derive(Debug)]
pub struct FittedCurves {
    input: CurveInput,
    /// Fingerprint of the data, where these are a trial's.
    data_fingerprint: Option<String>,
    /// What the trial says first.
    pub(super) told: Vec<Note>,
    /// What it says of other outcomes.
    pub(super) others: Vec<String>,
    ready: Ready,
    /// Where the best strengths lie, once that was asked.
    placed: OnceLock<Vec<Placed>>,
}

impl FittedCurves {
    /// Fits every curve of the input with the shapes its options ask for.
    ///
    /// # Errors
    /// As [`strength_curve_of`](super::strength_curve_of).
    pub fn new(input: CurveInput, control: &Control) -> Result<Self> {
        let ready = fitted(&input, input.options.check()?, control)?;
        let (told, others) = (Vec::new(), Vec::new());
        Ok(Self { input, data_fingerprint: None, told, others, ready, placed: OnceLock::new() })
    }

    /// The same, of the data with a fingerprint.
    #[must_use]
    pub fn of_data(mut self, fingerprint: Option<String>) -> Self {
        self.data_fingerprint = fingerprint;
        self
    }

    /// The answer with the fingerprint of the data.
    pub(super) fn signed<T>(&self, mut answer: Answer<T>) -> Answer<T> {
        answer.made_with.data_fingerprint.clone_from(&self.data_fingerprint);
        answer
    }

    /// What they were fitted to.
    #[must_use]
    pub fn input(&self) -> &CurveInput {
        &self.input
    }

    pub(super) fn ready(&self) -> &Ready {
        &self.ready
    }

    /// Each curve with its counts and its trays.
    pub(super) fn each(&self) -> impl Iterator<Item = (&Counts, &Curve, &CurveGroup)> {
        self.ready.curves.iter().zip(&self.input.groups).map(|((counts, curve), group)| (counts, curve, group))
    }

    /// What is asked of their best strengths.
    pub(super) fn wanted(&self) -> Wanted {
        let options = &self.input.options;
        Wanted { confidence: options.confidence, margin: options.nearly, share: options.enough }
    }

    /// Where the best strength of each lies.
    ///
    /// # Errors
    /// When a fit with the place held does not settle; when asked to stop.
    pub(super) fn placed(&self, control: &Control) -> Result<&[Placed]> {
        if let Some(known) = self.placed.get() {
            return Ok(known);
        }
        let wanted = self.wanted();
        let found: Vec<Placed> =
            self.each().map(|(_, curve, _)| placed(curve, &wanted, control)).collect::<Result<_>>()?;
        Ok(self.placed.get_or_init(|| found))
    }
}
