//! Limits and a test of one coefficient from its likelihood profile.

use super::again::profile;
use crate::error::{ChoiceError, Result};
use crate::math::distributions::{chi_squared, fisher_f, student_t};
use crate::models::design::{Fit, Profile};
use crate::models::errors::Stratum;
use crate::models::kept::{Model, ProfileLimits, Ready, is_used, tail};

impl Model {
    /// Profile (penalised) likelihood limits of a coefficient and the P value of its being 0, on the link scale.
    ///
    /// The fall of twice the log-likelihood is compared with the chi-square quantile on 1 degree of freedom, or divided by
    /// the dispersion with the F quantile. With a penalty the profile keeps that of the whole design, and neither limits nor P
    /// come from the standard error. A limit may be infinite. None for a coefficient confounded with whole plots.
    ///
    /// # Errors
    /// When the coefficient is not in the model or the fit at 0 does not settle.
    ///
    /// # References
    /// Venzon and Moolgavkar (1988), Applied Statistics 37:87-94; Heinze and Schemper (2002), Statist. Med. 21:2409-2419.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// # let control = std::sync::Arc::new(Control::new());
    /// # let model = trial.model(&ModelSpec::of(&["strength"]), &control)?;
    /// let name = &model.coefficients[1].name;
    /// let limits = model.profile(name, 0.95)?.expect("a coefficient with limits");
    /// assert!(limits.low < model.coefficients[1].value && model.coefficients[1].value < limits.high);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn profile(&self, name: &str, level: f64) -> Result<Option<ProfileLimits>> {
        let ready = self.ready()?;
        self.profile_of(&ready, name, level)
    }

    fn profile_of(&self, ready: &Ready, name: &str, level: f64) -> Result<Option<ProfileLimits>> {
        let level = crate::estimate::check_level(level)?;
        let names: Vec<&str> = ready.design.columns.iter().map(|column| column.name.as_str()).collect();
        let unknown = || ChoiceError::new("coefficient", name, &names);
        let j = names.iter().position(|known| *known == name).ok_or_else(unknown)?;
        let direction = ready.design.to_user(&ready.frame).into_iter().nth(j).unwrap_or_default();
        self.profile_along(ready, (j, &direction), level)
    }

    /// The same for the coefficient at a place, as a combination of those of the fit.
    pub(crate) fn profile_along(
        &self,
        ready: &Ready,
        (j, direction): (usize, &[f64]),
        level: f64,
    ) -> Result<Option<ProfileLimits>> {
        let effect = self.coefficients.get(j).and_then(|coefficient| coefficient.effect.as_deref());
        let error = effect.map_or(Some(self.strata.tray), |effect| self.strata.of(effect));
        let Some(Stratum { dispersion, df }) = error else { return Ok(None) };
        if ready.robust.is_some() {
            return Ok(self.robust_limits(ready, j, direction, level));
        }
        if is_used(self) {
            return profile(self, ready, direction, level, df).map(Some);
        }
        let fit =
            Fit { design: &ready.design, data: &ready.frame.data, link: self.spec.link, penalised: self.penalised };
        let se = self.coefficients.get(j).map_or(1.0, |coefficient| coefficient.se);
        let mut profile = Profile::new(fit, &ready.solution, direction.to_vec(), se);
        let statistic = profile.fall(0.0)? / dispersion;
        let quantile = df.map_or_else(|| chi_squared::quantile(level, 1.0), |df| fisher_f::quantile(level, 1.0, df));
        let low = profile.limit(-1.0, quantile * dispersion)?;
        let high = profile.limit(1.0, quantile * dispersion)?;
        let p = tail(statistic, 1.0, df);
        Ok(Some(ProfileLimits { low, high, statistic, df, p }))
    }

    /// Limits by the robust standard error and t on its degrees of freedom.
    fn robust_limits(&self, ready: &Ready, j: usize, direction: &[f64], level: f64) -> Option<ProfileLimits> {
        let df = ready.error_of(direction, self.strata.tray)?.df?;
        let coefficient = self.coefficients.get(j)?;
        let reach = student_t::quantile(0.5 + 0.5 * level, df) * coefficient.se;
        let statistic = (coefficient.value / coefficient.se).powi(2);
        Some(ProfileLimits {
            low: coefficient.value - reach,
            high: coefficient.value + reach,
            statistic,
            df: Some(df),
            p: tail(statistic, 1.0, Some(df)),
        })
    }
}
