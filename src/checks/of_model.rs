//! What a model is asked of itself.

use super::answer::checks;
use super::numbers::{CheckOptions, Checks};
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::models::Model;

impl Model {
    /// Checks a fitted model: residuals, leverage and influence of every tray, goodness of fit, calibration, link and dispersion.
    ///
    /// Quantile residuals are drawn from the law of the counts in the model: binomial, beta-binomial, or binomial with normal effects; where
    /// only a dispersion is known, from the beta-binomial law with that variance. The seed decides the draws, whatever the threads.
    ///
    /// # Errors
    /// Groups outside 3 to 100; a fit that does not settle; a stop.
    ///
    /// # References
    /// Dunn and Smyth (1996), JCGS 5:236-244; Pregibon (1981), Annals of Statistics 9:705-724; Cook (1977), Technometrics 19:15-18;
    /// Hosmer and Lemeshow (1980), Communications in Statistics A9:1043-1069; Pregibon (1980), Applied Statistics 29:15-24.
    ///
    /// ```
    /// # use rootling::models::{Model, ModelSpec};
    /// # use rootling::trial::{Factor, UnitKind, Units};
    /// # let strength = Factor {
    /// #     name: "strength".into(), levels: vec!["0".into(), "2500".into()], numbers: None, codes: vec![0, 0, 1, 1],
    /// # };
    /// # let units = Units {
    /// #     kind: UnitKind::Tray, rooted: vec![5, 7, 12, 14], stuck: vec![20; 4], treatments: vec![strength],
    /// #     tray: None, block: None, whole_plot: None, season: None, earlier: None, stock_plant: None, covariates: vec![],
    /// # };
    /// use rootling::control::Control;
    /// use rootling::checks::CheckOptions;
    /// let model = Model::fit(&units, &ModelSpec::of(&["strength"]))?;
    /// let found = model.checks(&CheckOptions::default(), &Control::new())?;
    /// // two trays of equal size in each treatment
    /// approx::assert_relative_eq!(found.numbers.trays[0].leverage, 0.5, epsilon = 0.0, max_relative = 2e-12);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn checks(&self, options: &CheckOptions, control: &Control) -> Result<Answer<Checks>> {
        checks(self, options, control).map(|answer| self.signed(answer))
    }
}
