//! What a model is asked of its effects, rates and levels.

use super::adjusted::{RateOptions, adjusted_rates};
use super::coefficients::{Coefficients, coefficients};
use super::contrasts::{ContrastOptions, Contrasts, contrasts};
use super::letters::{LetterOptions, letters};
use super::numbers::{AdjustedRates, Letters, OddsRatios, WhatMatters};
use super::odds_ratios::odds_ratios;
use super::what_matters::what_matters;
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::models::{Model, StatisticKind};

impl Model {
    /// Tests every effect and interaction against the model of all effects that do not contain it.
    ///
    /// Cuttings as independent: likelihood ratio, chi-square. Effective cuttings (the default with trays): the score statistic over its
    /// degrees of freedom, as `F`. Dispersion: `F = (deviance change / df) / dispersion`. Effects laid out on whole plots: `F` over
    /// the same statistic of the whole plots per degree of freedom, not below the trays' dispersion; without degrees of freedom
    /// between whole plots no test. Beta-binomial and random trays: the likelihood ratio over
    /// its degrees of freedom, compared with F on those of the trays or whole plots. After separation the penalised likelihood takes
    /// the place of the likelihood, its penalty from the larger model.
    ///
    /// A `test` that is named takes the place of the model's own. Where trays or whole plots give an error, its statistic is divided by its
    /// degrees of freedom and the dispersion and held against F; against chi-square otherwise. Wald statistics mislead near 0 and 100 % (Hauck and
    /// Donner 1977), and no calibration stands behind a choice other than the model's own.
    ///
    /// # Errors
    /// [`ModelError::StatisticUnderLaw`](crate::error::ModelError::StatisticUnderLaw) and
    /// [`ModelError::StatisticUnderRobust`](crate::error::ModelError::StatisticUnderRobust) where the model has no such statistic; when a fit
    /// does not settle.
    ///
    /// # References
    /// Rao (1948), Proc. Cambridge Philosophical Society 44:50-57; Wald (1943), Trans. American Mathematical Society 54:426-482;
    /// Hauck and Donner (1977), J. American Statistical Association 72:851-853; Nelder (1977), J. R. Stat. Soc. A 140:48-77; `McCullagh` and Nelder (1989), sections 2.3 and 4.5; Heinze and Schemper (2002).
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
    /// let model = Model::fit(&units, &ModelSpec::of(&["strength"]))?;
    /// let tests = model.what_matters(None)?;
    /// assert_eq!(tests.numbers.effects[0].error_df, Some(2.0));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn what_matters(&self, test: Option<StatisticKind>) -> Result<Answer<WhatMatters>> {
        what_matters(self, test).map(|answer| self.signed(answer))
    }

    /// Every coefficient on the scale of the link, with the limits and tests of [`Model::odds_ratios`], for any link.
    ///
    /// # Errors
    /// A level outside (0, 1), or a constrained fit that does not settle.
    ///
    /// # References
    /// Venzon and Moolgavkar (1988), Applied Statistics 37:87-94; Heinze and Schemper (2002), Statist. Med. 21:2409-2419.
    ///
    /// ```
    /// # use rootling::models::{Link, Model, ModelSpec};
    /// # use rootling::trial::{Factor, UnitKind, Units};
    /// # let strength = Factor {
    /// #     name: "strength".into(), levels: vec!["0".into(), "2500".into()], numbers: None, codes: vec![0, 0, 1, 1],
    /// # };
    /// # let units = Units {
    /// #     kind: UnitKind::Tray, rooted: vec![5, 7, 12, 14], stuck: vec![20; 4], treatments: vec![strength],
    /// #     tray: None, block: None, whole_plot: None, season: None, earlier: None, stock_plant: None, covariates: vec![],
    /// # };
    /// let mut spec = ModelSpec::of(&["strength"]);
    /// spec.link = Link::ComplementaryLogLog;
    /// let found = Model::fit(&units, &spec)?.coefficients(0.95)?;
    /// // 12 of 40: ln(-ln(1 - 0.3))
    /// approx::assert_abs_diff_eq!(found.numbers.coefficients[0].value, (-0.7_f64.ln()).ln(), epsilon = 1e-8);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn coefficients(&self, confidence: f64) -> Result<Answer<Coefficients>> {
        coefficients(self, confidence).map(|answer| self.signed(answer))
    }

    /// `exp(b)` of every coefficient but the intercept, with limits and tests.
    ///
    /// On effective cuttings (the default with trays) limits are where the score of a value meets the critical value of t, and the test is
    /// the score at 1: the statistic of the effect tests and contrasts. Otherwise the (penalised) likelihood is profiled: the fall of
    /// twice the log-likelihood is compared with chi-square on 1 degree of freedom, or divided by the dispersion of the coefficient's
    /// error stratum and compared with F. An interaction gives a ratio of odds ratios, and the odds ratios of the effects inside it hold at
    /// the reference level of the other one alone (a covariate's 0): their names say so, and contrasts within each level give the others.
    ///
    /// # Errors
    /// For a link other than logit, a level outside (0, 1), or a constrained fit that does not settle.
    ///
    /// # References
    /// Venzon and Moolgavkar (1988), Applied Statistics 37:87-94; Heinze and Schemper (2002), Statist. Med. 21:2409-2419.
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
    /// let model = Model::fit(&units, &ModelSpec::of(&["strength"]))?;
    /// let ratios = model.odds_ratios(0.95)?;
    /// assert_eq!(ratios.numbers.ratios[0].comparison, "strength 2500 against 0");
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn odds_ratios(&self, confidence: f64) -> Result<Answer<OddsRatios>> {
        odds_ratios(self, confidence).map(|answer| self.signed(answer))
    }

    /// Rates per level of `by` (and of `within`), averaged over the other factors of the model on the proportion scale: with equal
    /// weights, by their share of the cuttings, or over a mix that is given; covariates at their mean unless held at a value.
    ///
    /// Rates hold over further seasons and blocks like those of the trial, as [`take_rates`](crate::rates::take_rates) do: where these are taken
    /// out as fixed effects, how they differ is part of the limits of a rate (never of a contrast, which lies within them). A place that is asked
    /// for, held by `at` or given shares is meant itself. Where trays enter by another law than "auto", rates hold for the places at hand, and a
    /// note says so.
    ///
    /// Standard errors by the delta method; limits on the logit of the averaged rate, with t quantiles where trays set the
    /// error. An effect confounded with whole plots has rates without limits. With random effects of trays the rate is that over all
    /// trays, integrated; the typical tray's is in the table beside it, and is the one given where it is asked for.
    ///
    /// Where none of the cuttings at a level did, in all trays that carry its rate, the lower limit is 0, and where all did the upper one is 1:
    /// a count of 0 cannot rule out 0, whatever effects that add up make of it.
    ///
    /// # Errors
    /// [`ChoiceError`](crate::error::ChoiceError) when a name is not a factor of the model; [`EffectError`](crate::error::EffectError) for a level without trays or
    /// a mix that is none; a level outside (0, 1).
    ///
    /// # References
    /// Lane and Nelder (1982), Biometrics 38:613-621; Zeger, Liang and Albert (1988), Biometrics 44:1049-1060.
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
    /// use rootling::effects::RateOptions;
    /// let model = Model::fit(&units, &ModelSpec::of(&["strength"]))?;
    /// let rates = model.adjusted_rates("strength", &RateOptions::default())?;
    /// approx::assert_abs_diff_eq!(rates.numbers.rates[1].value.unwrap(), 26.0 / 40.0, epsilon = 1e-10);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn adjusted_rates(&self, by: &str, options: &RateOptions) -> Result<Answer<AdjustedRates>> {
        adjusted_rates(self, by, options).map(|answer| self.signed(answer))
    }

    /// Contrasts of the adjusted rates of a factor, with intervals that hold together and P values adjusted for their number.
    ///
    /// On effective cuttings (the default with trays) each contrast is judged by the signed root of its score where it is held at 0, the
    /// statistic of the effect tests, and its limits are where the score of a value meets the critical value. Otherwise the signed root of
    /// the likelihood ratio and the likelihood profile take their place; both are over the dispersion of the error stratum. A difference
    /// of 0, a ratio of 1 and an odds ratio of 1 are one hypothesis and have one P value; limits stay inside what rates can be, and leave
    /// out no difference exactly where the P value of a one-step adjustment is below 1 - level. Where trays follow a law of their own it is
    /// the likelihood of that law, its spreads maximised over: a contrast of two levels has the P value of its odds ratio and effect test. With robust covariances every contrast has degrees of freedom
    /// of its own (Satterthwaite), and t on the fewest of them ties the family together.
    ///
    /// The joint distribution has the correlations of the contrasts where none of them differs from 0.
    ///
    /// # Errors
    /// Unknown names with the nearest; levels without trays; weights that do not sum to 0; options that exclude each other; more than
    /// 1,000 contrasts; a level outside (0, 1); a constrained fit that does not settle; [`crate::Error::Interrupted`] when stopped.
    ///
    /// # References
    /// Hothorn, Bretz and Westfall (2008), Biometrical Journal 50:346-363; Tukey (1953); Kramer (1956), Biometrics 12:307-310; Dunnett
    /// (1955), JASA 50:1096-1121; Scheffe (1953), Biometrika 40:87-104; Rao (1948), Proc. Cambridge Philos. Soc. 44:50-57; Miettinen
    /// and Nurminen (1985), Stat. Med. 4:213-226; Venzon and Moolgavkar (1988), Applied Statistics 37:87-94.
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
    /// use rootling::effects::ContrastOptions;
    /// let model = Model::fit(&units, &ModelSpec::of(&["strength"]))?;
    /// let found = model.contrasts("strength", &ContrastOptions::default(), &rootling::control::Control::new())?;
    /// // 26 of 40 less 12 of 40
    /// approx::assert_relative_eq!(found.numbers.contrasts[0].value.unwrap(), 0.35, epsilon = 0.0, max_relative = 2.8e-10);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn contrasts(&self, by: &str, options: &ContrastOptions, control: &Control) -> Result<Answer<Contrasts>> {
        contrasts(self, by, options, control).map(|answer| self.signed(answer))
    }

    /// Letters of the levels of a factor: two levels share a letter if and only if they are not shown to differ.
    ///
    /// All pairs are compared as [`contrasts`](Model::contrasts) compares them, those within all levels of `within` as one
    /// family; a pair is shown to differ where its adjusted P value is below 1 - level. The fewest letters that say this are found. A
    /// level that cannot be compared with any other has no letter. Letters of different levels of `within` say nothing of each other.
    ///
    /// Not for deciding that levels are alike: a shared letter is no proof of equality.
    ///
    /// # Errors
    /// As [`contrasts`](Model::contrasts).
    ///
    /// # References
    /// Piepho 2004, J. Comput. Graph. Statist. 13:456-466.
    ///
    /// ```
    /// # use rootling::models::{Model, ModelSpec};
    /// # use rootling::trial::{Factor, UnitKind, Units};
    /// # let strength = Factor {
    /// #     name: "strength".into(), levels: vec!["0".into(), "2500".into()], numbers: None, codes: vec![0, 0, 0, 1, 1, 1],
    /// # };
    /// # let units = Units {
    /// #     kind: UnitKind::Tray, rooted: vec![5, 7, 6, 12, 14, 16], stuck: vec![20; 6], treatments: vec![strength],
    /// #     tray: None, block: None, whole_plot: None, season: None, earlier: None, stock_plant: None, covariates: vec![],
    /// # };
    /// use rootling::effects::LetterOptions;
    /// let model = Model::fit(&units, &ModelSpec::of(&["strength"]))?;
    /// let found = model.letters("strength", &LetterOptions::default(), &rootling::control::Control::new())?;
    /// assert_eq!(found.numbers.rates[1].letters.as_deref(), Some("a"));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn letters(&self, by: &str, options: &LetterOptions, control: &Control) -> Result<Answer<Letters>> {
        letters(self, by, options, control).map(|answer| self.signed(answer))
    }
}
