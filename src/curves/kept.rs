//! The fitted curves of a trial: fitted once, asked again and again.

use crate::answer::{Answer, DeclaredStrength, GivenTo, Note};
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
    /// Treatments that were not given to single trays, where a trial says so.
    pub(super) given_to: Vec<GivenTo>,
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
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n\
    /// #     0,a,6,30\n0,b,7,30\n500,c,11,30\n500,d,12,30\n1000,e,17,30\n1000,f,18,30\n2000,g,21,30\n\
    /// #     2000,h,22,30\n4000,i,19,30\n4000,j,20,30\n8000,k,8,30\n8000,l,9,30\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// # let control = Control::new();
    /// let curves = trial.strength_curve(&CurveOptions::default(), &control)?;
    /// let again = FittedCurves::new(curves.input().clone(), &control)?;
    /// assert_eq!(again.input(), curves.input());
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn new(input: CurveInput, control: &Control) -> Result<Self> {
        let fits = Fits::new(input, control)?;
        Ok(Self { fits, data_fingerprint: None, given_to: Vec::new(), told: Vec::new(), others: Vec::new() })
    }

    /// The same, of the data with a fingerprint.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n\
    /// #     0,a,6,30\n0,b,7,30\n500,c,11,30\n500,d,12,30\n1000,e,17,30\n1000,f,18,30\n2000,g,21,30\n\
    /// #     2000,h,22,30\n4000,i,19,30\n4000,j,20,30\n8000,k,8,30\n8000,l,9,30\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// # let control = Control::new();
    /// let curves = trial.strength_curve(&CurveOptions::default(), &control)?;
    /// let again = FittedCurves::new(curves.input().clone(), &control)?.of_data(Some("0123abcd".to_owned()));
    /// assert_eq!(again.answer(&control)?.made_with.data_fingerprint.as_deref(), Some("0123abcd"));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn of_data(mut self, fingerprint: Option<String>) -> Self {
        self.data_fingerprint = fingerprint;
        self
    }

    /// The answer with the fingerprint of the data.
    fn signed<T>(&self, mut answer: Answer<T>) -> Answer<T> {
        answer.made_with.data_fingerprint.clone_from(&self.data_fingerprint);
        answer.made_with.given_to.clone_from(&self.given_to);
        let input = self.input();
        answer.made_with.strength = input.strength.as_ref().map(|strength| DeclaredStrength {
            column: input.options.column.clone(),
            substance: strength.substance().to_string(),
            unit: input.unit.clone(),
            method: strength.method().map(|method| method.to_string()),
        });
        answer
    }

    /// What they were fitted to.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n\
    /// #     0,a,6,30\n0,b,7,30\n500,c,11,30\n500,d,12,30\n1000,e,17,30\n1000,f,18,30\n2000,g,21,30\n\
    /// #     2000,h,22,30\n4000,i,19,30\n4000,j,20,30\n8000,k,8,30\n8000,l,9,30\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// # let control = Control::new();
    /// let curves = trial.strength_curve(&CurveOptions::default(), &control)?;
    /// assert_eq!(curves.input().groups[0].trays.len(), 12);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn input(&self) -> &CurveInput {
        self.fits.input()
    }

    /// The curves with their best strengths.
    ///
    /// # Errors
    /// When a fit with the best strength held does not settle; when asked to stop.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n\
    /// #     0,a,6,30\n0,b,7,30\n500,c,11,30\n500,d,12,30\n1000,e,17,30\n1000,f,18,30\n2000,g,21,30\n\
    /// #     2000,h,22,30\n4000,i,19,30\n4000,j,20,30\n8000,k,8,30\n8000,l,9,30\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// # let control = Control::new();
    /// let answer = trial.strength_curve(&CurveOptions::default(), &control)?.answer(&control)?;
    /// let best = &answer.numbers.curves[0].best;
    /// assert!(best.take > 0.5 && best.range_low <= best.range_high);
    /// # Ok::<(), rootling::Error>(())
    /// ```
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
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n\
    /// #     0,a,6,30\n0,b,7,30\n500,c,11,30\n500,d,12,30\n1000,e,17,30\n1000,f,18,30\n2000,g,21,30\n\
    /// #     2000,h,22,30\n4000,i,19,30\n4000,j,20,30\n8000,k,8,30\n8000,l,9,30\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// # let control = Control::new();
    /// let curves = trial.strength_curve(&CurveOptions::default(), &control)?;
    /// let found = curves.strengths_for(0.5, &control)?;
    /// assert!(found.numbers.rows[0].low < 1000.0);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn strengths_for(&self, take: f64, control: &Control) -> Result<Answer<StrengthsFor>> {
        strengths_of(&self.fits, take, control).map(|answer| self.signed(answer))
    }

    /// Whether the curves have one form, one place and one height, as [`compare_curves`](super::compare_curves) has it.
    ///
    /// # Errors
    /// [`CurveError::OneCurve`](crate::error::CurveError::OneCurve) for a single curve; when a fit does not settle; when asked to stop.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,rootstock,tray,rooted,stuck\n\
    /// #     0,K12,t0,6,30\n0,K12,t1,7,30\n500,K12,t2,11,30\n500,K12,t3,12,30\n1000,K12,t4,17,30\n\
    /// #     1000,K12,t5,18,30\n2000,K12,t6,21,30\n2000,K12,t7,22,30\n4000,K12,t8,18,30\n\
    /// #     4000,K12,t9,19,30\n8000,K12,t10,8,30\n8000,K12,t11,9,30\n0,K30,t12,9,30\n0,K30,t13,10,30\n\
    /// #     500,K30,t14,14,30\n500,K30,t15,15,30\n1000,K30,t16,20,30\n1000,K30,t17,21,30\n\
    /// #     2000,K30,t18,24,30\n2000,K30,t19,25,30\n4000,K30,t20,21,30\n4000,K30,t21,22,30\n\
    /// #     8000,K30,t22,11,30\n8000,K30,t23,12,30\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength", "rootstock"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// # let control = Control::new();
    /// let options = CurveOptions { within: vec!["rootstock".to_owned()], ..CurveOptions::default() };
    /// let found = trial.strength_curve(&options, &control)?.differences(&control)?;
    /// assert!(found.numbers.compared.tests.iter().all(|test| test.p <= 1.0));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn differences(&self, control: &Control) -> Result<Answer<CurveDifferences>> {
        differences_of(&self.fits, control).map(|answer| self.signed(answer))
    }

    /// The strengths to test next, as [`next_strengths`](super::next_strengths()) has them.
    ///
    /// # Errors
    /// [`CountError::OutOfRange`](crate::error::CountError::OutOfRange) for options out of range; when a fit does not settle; when asked to stop.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n\
    /// #     0,a,6,30\n0,b,7,30\n500,c,11,30\n500,d,12,30\n1000,e,17,30\n1000,f,18,30\n2000,g,21,30\n\
    /// #     2000,h,22,30\n4000,i,19,30\n4000,j,20,30\n8000,k,8,30\n8000,l,9,30\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// # let control = Control::new();
    /// let curves = trial.strength_curve(&CurveOptions::default(), &control)?;
    /// let found = curves.next_strengths(&NextOptions { trays: Some(12), ..NextOptions::default() }, &control)?;
    /// assert_eq!(found.numbers.curves.len(), 1);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn next_strengths(&self, options: &NextOptions, control: &Control) -> Result<Answer<NextStrengths>> {
        next_of(&self.fits, options, control).map(|answer| self.signed(answer))
    }
}
