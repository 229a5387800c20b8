//! Does the square of the linear predictor add anything? It should not, if link and effects are right.

use serde::{Deserialize, Serialize};

use crate::error::Result;
use crate::math::dense::Qr;
use crate::math::design::Columns;
use crate::math::search::RANK;
use crate::models::{
    ColumnSpec, Design, Fit, Model, Ready, Stratum, fall_without, is_robust, is_used, score_parts, tail, test_columns,
};

/// The test of the squared linear predictor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LinkCheck {
    /// Chi-square, or F where trays set the error.
    pub statistic: f64,
    /// Degrees of freedom of the error, for F.
    pub error_df: Option<f64>,
    /// P value.
    pub p: f64,
}

/// Adds the squared linear predictor to the model and tests it as any effect, against the error of the model (that of whole plots where
/// effects were laid out on them). None where it is a combination of the effects already there, or no error can be given.
///
/// # Errors
/// When a fit does not settle.
///
/// # References
/// Tukey (1949), Biometrics 5:232-242; Pregibon (1980), Applied Statistics 29:15-24.
pub(super) fn link_check(model: &Model, ready: &Ready) -> Result<Option<LinkCheck>> {
    let plots = model.strata.whole_plots.as_ref().map_or(Some(model.strata.tray), |whole| whole.error);
    let error = plots.and_then(|plots| model.strata.of_rates().or(Some(plots)));
    let (Some(error), Some(design)) = (error, with_square(ready)) else { return Ok(None) };
    let held = [design.rank() - 1];
    if is_robust(model) {
        let found = test_columns(model, &ready.frame, &design, &held)?;
        return Ok(found.map(|joint| LinkCheck {
            statistic: joint.statistic,
            error_df: Some(joint.error_df),
            p: tail(joint.statistic, joint.df, Some(joint.error_df)),
        }));
    }
    if let Some(layered) = ready.layered.as_ref().filter(|_| !model.spec.penalised) {
        let data = &ready.frame.data;
        let fit = Fit { design: &design, data, link: model.spec.link, penalised: model.penalised };
        return Ok(layered.test(&score_parts(&fit, &held)?).map(|joint| LinkCheck {
            statistic: joint.statistic,
            error_df: Some(joint.df),
            p: tail(joint.statistic, 1.0, Some(joint.df)),
        }));
    }
    let fall = if is_used(model) {
        fall_without(model, &ready.frame, &design, &held)?
    } else {
        let data = &ready.frame.data;
        let fit = Fit { design: &design, data, link: model.spec.link, penalised: model.penalised };
        fit.ratio(&held)?
    };
    let Stratum { dispersion, df } = error;
    let statistic = if df.is_some() { fall / dispersion } else { fall };
    Ok(Some(LinkCheck { statistic, error_df: df, p: tail(statistic, 1.0, df) }))
}

/// The design with the squared linear predictor, in standard units, as last column.
fn with_square(ready: &Ready) -> Option<Design> {
    let eta = &ready.solution.eta;
    let n = eta.len() as f64;
    let mean = eta.iter().sum::<f64>() / n;
    let spread = (eta.iter().map(|eta| (eta - mean).powi(2)).sum::<f64>() / n).sqrt();
    if spread < 1e-9 {
        return None;
    }
    let mut design = ready.design.clone();
    let mut x = design.x();
    x.push(eta.iter().map(|eta| ((eta - mean) / spread).powi(2)).collect());
    if Qr::new(&x, RANK.max(1e-7)).rank() < x.len() {
        return None;
    }
    design.columns.push(ColumnSpec { name: "squared linear predictor".to_owned(), term: None, parts: Vec::new() });
    design.scales.push(1.0);
    design.matrix = Columns::dense(&x, eta.len());
    Some(design)
}
