//! Contrasts of a fitted model.

use super::answer::answer;
use super::asked::{Around, Asked};
use super::family::Family;
use super::goal::Scale;
use super::numbers::{Contrast, Contrasts};
use super::options::ContrastOptions;
use super::solve::{Row, Solved, Work};
use crate::answer::Answer;
use crate::control::Control;
use crate::effects::averaging::Averaging;
use crate::effects::judged_by::comparison_error;
use crate::effects::resolve::Names;
use crate::error::{EffectError, Result};
use crate::estimate::check_level;
use crate::models::{Model, Ready, Stratum, is_used};
use crate::trial::answer_of_units;

/// Contrasts of the adjusted rates of a factor, with intervals that hold together and P values adjusted for their number.
///
/// On effective cuttings (the default with trays) each contrast is judged by the signed root of its score where it is held at 0, the
/// statistic of the effect tests, and its limits are where the score of a value meets the critical value. Otherwise the signed root of
/// the likelihood ratio and the likelihood profile take their place; both are over the dispersion of the error stratum. A difference
/// of 0, a ratio of 1 and an odds ratio of 1 are one hypothesis and have one P value; limits stay inside what rates can be, and leave
/// out no difference exactly where the P value of a one-step adjustment is below 1 - level. Where trays follow a law of their own it is
/// the likelihood of that law, its spreads maximised over: a contrast of two levels has the P value of its odds ratio and effect test.
/// With robust covariances every contrast has degrees of freedom
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
/// use rootling::effects::{ContrastOptions, contrasts};
/// let model = Model::fit(&units, &ModelSpec::of(&["strength"]))?;
/// let found = contrasts(&model, "strength", &ContrastOptions::default(), &rootling::control::Control::new())?;
/// // 26 of 40 less 12 of 40
/// approx::assert_relative_eq!(found.numbers.contrasts[0].value.unwrap(), 0.35, epsilon = 0.0, max_relative = 2.8e-10);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn contrasts(model: &Model, by: &str, options: &ContrastOptions, control: &Control) -> Result<Answer<Contrasts>> {
    let ready = model.ready()?;
    let asked = ask(model, &ready, by, options, (true, control))?;
    Ok(answer_of_units(&model.units, answer(model, &ready, asked)))
}

/// The figures of a question; limits only where wanted.
pub(crate) fn ask(
    model: &Model,
    ready: &Ready,
    by: &str,
    options: &ContrastOptions,
    (limits, control): (bool, &Control),
) -> Result<Asked> {
    check_level(options.confidence)?;
    check_margin(options)?;
    let adjust = options.together;
    let names = Names { model, ready };
    let asked = std::iter::once(by).chain(options.within.as_deref()).chain(options.changing_with.as_deref());
    let asked: Vec<usize> = asked.map(|name| Ok(names.factor(name)?.0)).collect::<Result<_>>()?;
    let averaging = Averaging::new(names, &options.at, &options.average)?.for_levels(ready, &asked);
    let family = Family::new(names, by, options, &averaging)?;
    let error = stratum(model, by, options);
    let work = Work { model, ready, family: &family, options, adjust, error, control };
    let solved = work.solve(limits)?;
    let figures = figures(by, options, &family, &solved, error);
    let around = Around {
        adjust,
        curve: family.curve,
        scaled: family.scaled,
        mixed: averaging.notes(),
        weighted: family.members.iter().any(|member| member.parts() > 2),
        averaged: family.averages(),
        reached: solved.reached,
        by_covariance: solved.by_covariance && is_used(model),
        options: options.clone(),
        confounded: error.is_none(),
        outcome: model.spec.outcome,
    };
    Ok(Asked { figures, around })
}

fn check_margin(options: &ContrastOptions) -> Result<()> {
    let Some(value) = options.margin else { return Ok(()) };
    let (fits, wanted) = match options.scale {
        Scale::Points => {
            (value > 0.0 && value < 1.0, "a proportion above 0 and below 1; 0.1 stands for 10 trees per 100")
        }
        _ => (value > 1.0 && value.is_finite(), "a factor above 1; 1.25 stands for a ratio between 0.8 and 1.25"),
    };
    if fits { Ok(()) } else { Err(EffectError::Margin { value, wanted }.into()) }
}

/// The error the contrasts are measured against.
fn stratum(model: &Model, by: &str, options: &ContrastOptions) -> Option<Stratum> {
    let Some(other) = &options.changing_with else { return comparison_error(model, by) };
    // Differences of differences between whole plots and within them are measured between trays.
    match (model.strata.on_whole_plots(by), model.strata.on_whole_plots(other)) {
        (true, false) => comparison_error(model, other),
        _ => comparison_error(model, by),
    }
}

const NO_LIMIT: &str = "no fit was found with the contrast held at its limit";

/// Why a contrast has no estimate or no test.
fn why(row: Option<&Row>, error: Option<Stratum>) -> Option<&'static str> {
    match (row, error) {
        (None, _) => Some("it needs a combination of levels that was not tried"),
        (_, None) => Some("its effect cannot be told apart from that of the places it was laid out on"),
        (Some(row), _) => row.why,
    }
}

fn figures(by: &str, options: &ContrastOptions, family: &Family, solved: &Solved, error: Option<Stratum>) -> Contrasts {
    let found = |(index, member): (usize, &super::family::Member)| {
        let row = solved.rows.iter().find(|row| row.member == index);
        let end = |value: Option<f64>| value.filter(|value| !value.is_nan());
        let conf_low = end(row.and_then(|row| row.limits).map(|limits| limits.0));
        let conf_high = end(row.and_then(|row| row.limits).map(|limits| limits.1));
        let size = |value: f64| if options.scale == Scale::Points { value.abs() } else { value.max(1.0 / value) };
        let not_ruled_out = conf_low.zip(conf_high).map(|(low, high)| size(low).max(size(high)));
        let limits = row.and_then(|row| row.limits);
        Contrast {
            comparison: member.comparison.clone(),
            within: member.within.clone(),
            value: row.map(|row| row.value),
            se: row.and_then(|row| row.se),
            low: conf_low,
            high: conf_high,
            statistic: row.and_then(|row| row.statistic),
            df: row.and_then(|row| row.df),
            p: row.and_then(|row| row.p),
            p_adjusted: row.and_then(|row| row.p_adjusted),
            not_ruled_out,
            within_margin: options
                .margin
                .and_then(|margin| limits.map(|_| not_ruled_out.is_some_and(|most| most < margin))),
            why: why(row, error)
                .or_else(|| (limits.is_some() && not_ruled_out.is_none()).then_some(NO_LIMIT))
                .map(str::to_owned),
        }
    };
    let fewest = solved.rows.iter().filter_map(|row| row.df).reduce(f64::min);
    Contrasts {
        by: by.to_owned(),
        within: options.within.clone(),
        changing_with: options.changing_with.clone(),
        against: family.against.clone(),
        scale: options.scale,
        together: options.together,
        confidence: options.confidence,
        df: fewest.or_else(|| error.and_then(|error| error.df)),
        critical: solved.critical,
        margin: options.margin,
        n_tests: solved.rows.iter().filter(|row| row.p_adjusted.is_some()).count() as u64,
        contrasts: family.members.iter().enumerate().map(found).collect(),
    }
}
