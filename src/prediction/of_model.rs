//! What a model is asked of new rows.

use super::numbers::{PredictOptions, Predictions};
use super::rows::predict;
use crate::answer::Answer;
use crate::error::Result;
use crate::models::Model;
use crate::trial::NewRows;

impl Model {
    /// The take rate that a fitted model expects of each new row, with its limits.
    ///
    /// Limits come from the delta method on the logit of the rate, with t quantiles on the degrees of freedom of the trays, or of
    /// the whole plots where effects were laid out on them. A block that is not given is averaged over with equal weights, and the limits then hold over further blocks and
    /// seasons like those of the trial, as those of [`adjusted_rates`](Model::adjusted_rates). With
    /// random trays the rate is that over all trays, or that of a typical tray (all random effects 0) on request. Where none of the cuttings
    /// of a row's combination did in the trial, the lower limit is 0, and where all did the upper one is 1: a count of 0 cannot rule out 0.
    ///
    /// The range of a new tray of `m` cuttings holds the middle `level` of a beta-binomial law with the expected rate `p`, whose
    /// variance is that of a tray's count plus `m^2` times the squared standard error of the rate, times `(t / z)^2` for the spread being
    /// estimated.
    ///
    /// # Errors
    /// A level outside (0, 1); rows with a missing column, an unknown level or an entry that is no number; a typical tray asked of a
    /// model without random trays, or a new tray asked where trays are not counted.
    ///
    /// # References
    /// Lane and Nelder (1982), Biometrics 38:613-621; Skellam (1948), JRSS B 10:257-261.
    ///
    /// ```
    /// # use rootling::models::{Model, ModelSpec};
    /// # use rootling::trial::{Factor, NewRows, UnitKind, Units};
    /// # let strength = Factor {
    /// #     name: "strength".into(), levels: vec!["0".into(), "2500".into()], numbers: None, codes: vec![0, 0, 1, 1],
    /// # };
    /// # let units = Units {
    /// #     kind: UnitKind::Tray, rooted: vec![5, 7, 12, 14], stuck: vec![20; 4], treatments: vec![strength],
    /// #     tray: None, block: None, whole_plot: None, season: None, earlier: None, stock_plant: None, covariates: vec![],
    /// # };
    /// use rootling::prediction::PredictOptions;
    /// let model = Model::fit(&units, &ModelSpec::of(&["strength"]))?;
    /// let rows = NewRows::from_csv(b"strength\n2500\n0\n")?;
    /// let found = model.predict(&rows, &PredictOptions::default())?;
    /// approx::assert_abs_diff_eq!(found.numbers.rows[0].value.unwrap(), 26.0 / 40.0, epsilon = 1e-10);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn predict(&self, rows: &NewRows, options: &PredictOptions) -> Result<Answer<Predictions>> {
        predict(self, rows, options).map(|answer| self.signed(answer))
    }
}
