//! The fitted curves of a trial: fitted once, asked again and again.

use crate::answer::{Answer, Note};
use crate::control::Control;
use crate::curves::find::Fits;
use crate::curves::input::CurveInput;
use crate::curves::next::{NextOptions, NextStrengths, next_of};
use crate::curves::told::{CurveDifferences, StrengthCurve, StrengthsFor, curve_of, differences_of, strengths_of};
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
    fits: Fits,
    /// Fingerprint of the data, where these are a trial's.
    data_fingerprint: Option<String>,
    /// What the trial says first.
    pub(super) told: Vec<Note>,
    /// What it says of other outcomes.
    pub(super) others: Vec<String>,
}

impl FittedCurves {
    /// Fits every curve of the input with the shapes its options ask for.
    ///
    /// # Errors
    /// As [`strength_curve_of`](super::strength_curve_of).
    pub fn new(input: CurveInput, control: &Control) -> Result<Self> {
        let fits = Fits::new(input, control)?;
        Ok(Self { fits, data_fingerprint: None, told: Vec::new(), others: Vec::new() })
    }

    /// The same, of the data with a fingerprint.
    #[must_use]
    pub fn of_data(mut self, fingerprint: Option<String>) -> Self {
        self.data_fingerprint = fingerprint;
        self
    }

    /// The answer with the fingerprint of the data.
    fn signed<T>(&self, mut answer: Answer<T>) -> Answer<T> {
        answer.made_with.data_fingerprint.clone_from(&self.data_fingerprint);
        answer
    }

    /// What they were fitted to.
    #[must_use]
    pub fn input(&self) -> &CurveInput {
        self.fits.input()
    }

    /// The curves with their best strengths.
    ///
    /// # Errors
    /// When a fit with the best strength held does not settle; when asked to stop.
    pub fn answer(&self, control: &Control) -> Result<Answer<StrengthCurve>> {
        let mut answer = curve_of(&self.fits, control)?;
        answer.notes.splice(0..0, self.told.iter().cloned());
        answer.details.extend(self.others.iter().cloned());
        Ok(self.signed(answer))
    }

    /// The lowest strength at which each curve reaches a take, as [`strengths_for`](super::strengths_for) has it.
    ///
    /// # Errors
    /// [`CountError::Target`](crate::error::CountError::Target) unless `0 < take < 1`; when a fit with the strength held does not settle; when
    /// asked to stop.
    pub fn strengths_for(&self, take: f64, control: &Control) -> Result<Answer<StrengthsFor>> {
        strengths_of(&self.fits, take, control).map(|answer| self.signed(answer))
    }

    /// Whether the curves have one form, one place and one height, as [`compare_curves`](super::compare_curves) has it.
    ///
    /// # Errors
    /// [`CurveError::OneCurve`](crate::error::CurveError::OneCurve) for a single curve; when a fit does not settle; when asked to stop.
    pub fn differences(&self, control: &Control) -> Result<Answer<CurveDifferences>> {
        differences_of(&self.fits, control).map(|answer| self.signed(answer))
    }

    /// The strengths to test next, as [`next_strengths`](super::next_strengths()) has them.
    ///
    /// # Errors
    /// [`CountError::OutOfRange`](crate::error::CountError::OutOfRange) for options out of range; when a fit does not settle; when asked to stop.
    pub fn next_strengths(&self, options: &NextOptions, control: &Control) -> Result<Answer<NextStrengths>> {
        next_of(&self.fits, options, control).map(|answer| self.signed(answer))
    }
}
