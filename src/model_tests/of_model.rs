//! What a model is asked beside another one.

use super::bootstrap::{BootstrapOptions, bootstrap_test};
use super::nested::against;
use super::numbers::{BootstrapTest, ModelComparison};
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::models::Model;

impl Model {
    /// Tests what this model adds to a `smaller` one: the likelihood ratio against chi-square, or over its degrees of freedom and the dispersion
    /// against F where trays (or whole plots) set the error; with AIC, `AICc` and BIC of both where they have a likelihood. Where trays are
    /// effective cuttings both models are judged on those of the larger one, by the score statistic as its effects are, or by the
    /// likelihood ratio when the smaller model's effects are not among this one's by name.
    ///
    /// The smaller model is inside the larger one when its columns are combinations of the larger one's, whatever the effects are called: a
    /// strength as a straight line is inside the strength as levels. After separation both likelihoods take the penalty of the larger.
    ///
    /// # Errors
    /// [`ModelError::NotComparable`](crate::error::ModelError::NotComparable) for different counts, links, tray modes or penalties, for models neither of which contains the other, and
    /// for effects of whole plots and of trays together; a fit that does not settle.
    ///
    /// # References
    /// Wilks (1938); `McCullagh` and Nelder (1989), section 2.3; Akaike (1974); Hurvich and Tsai (1989); Schwarz (1978).
    ///
    /// ```
    /// # use rootling::models::{Model, ModelSpec};
    /// # use rootling::trial::{Factor, UnitKind, Units};
    /// # let factor = |name: &str, codes: Vec<u32>| Factor { name: name.into(), levels: vec!["a".into(), "b".into()], numbers: None, codes };
    /// # let units = Units {
    /// #     kind: UnitKind::Tray, rooted: vec![5, 7, 12, 14, 6, 15], stuck: vec![20; 6],
    /// #     treatments: vec![factor("strength", vec![0, 0, 1, 1, 0, 1]), factor("rootstock", vec![0, 1, 0, 1, 0, 1])],
    /// #     tray: None, block: None, whole_plot: None, season: None, earlier: None, stock_plant: None, covariates: vec![],
    /// # };
    /// let smaller = Model::fit(&units, &ModelSpec::of(&["strength"]))?;
    /// let larger = Model::fit(&units, &ModelSpec::of(&["strength", "rootstock"]))?;
    /// let found = larger.against(&smaller)?;
    /// assert_eq!((found.numbers.df, found.numbers.error_df), (1.0, Some(3.0)));
    /// assert_eq!(found.numbers.added, ["rootstock"]);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn against(&self, smaller: &Self) -> Result<Answer<ModelComparison>> {
        against(self, smaller).map(|answer| self.signed(answer))
    }

    /// Tests an effect by drawing trials from the model without it: counts are binomial, beta-binomial, or binomial with normal effects of trays
    /// (and whole plots), as trays enter the model; with a dispersion they are beta-binomial with that variance. Each drawn trial is fitted with
    /// and without the effect as the trial itself was. The draws depend on the seed alone, not on the number of threads.
    ///
    /// # Errors
    /// An unknown effect, one that adds no coefficient or is confounded; an effect of whole plots in a model by dispersion, which has no law to
    /// draw whole plots from; draws outside 99 to 1,000,000; a stop.
    ///
    /// # References
    /// Davison and Hinkley (1997), Bootstrap Methods and their Application, section 4.2.
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
    /// use rootling::model_tests::BootstrapOptions;
    /// let model = Model::fit(&units, &ModelSpec::of(&["strength"]))?;
    /// let found = model.bootstrap_test("strength", &BootstrapOptions { draws: 199, seed: 7 }, &Control::new())?;
    /// assert_eq!(found.numbers.p, (1 + found.numbers.exceeded) as f64 / 200.0);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn bootstrap_test(
        &self,
        effect: &str,
        options: &BootstrapOptions,
        control: &Control,
    ) -> Result<Answer<BootstrapTest>> {
        bootstrap_test(self, effect, options, control).map(|answer| self.signed(answer))
    }
}
