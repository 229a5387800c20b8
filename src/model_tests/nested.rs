//! A model against a smaller one that it contains.

use super::nested_words;
use super::numbers::{ModelComparison, ModelLine};
use crate::answer::Answer;
use crate::error::{ModelError, Result};
use crate::layers::JointJudged;
use crate::math::dense::Qr;
use crate::math::special::ln_choose;
use crate::models::{
    Design, Fit, Frame, Model, ModelSpec, Ready, Stratum, TrayMode, fall_without, is_robust, is_used, score,
    score_parts, split_plot, tail, test_beyond,
};

/// What [`Model::against`] tells.
pub(super) fn against(larger: &Model, smaller: &Model) -> Result<Answer<ModelComparison>> {
    same_kind(larger, smaller)?;
    let (big, small) = (larger.ready()?, smaller.ready()?);
    contains(&big, &small)?;
    let names = |ready: &Ready| ready.frame.terms.iter().map(|term| term.name.clone()).collect::<Vec<_>>();
    let known = names(&small);
    let added: Vec<String> = names(&big).into_iter().filter(|name| !known.contains(name)).collect();
    let on_plots = added.iter().filter(|name| larger.strata.on_whole_plots(name)).count();
    if on_plots > 0 && on_plots < added.len() {
        return Err(refused(
            "some of the added effects were laid out on whole plots and some on trays, which have different errors",
            "add them one at a time",
        ));
    }
    let errors: Vec<Option<Stratum>> = added.iter().map(|name| larger.strata.of(name)).collect();
    let first = errors.first().copied();
    if errors.iter().any(|error| Some(*error) != first) {
        return Err(refused(
            "the added effects were laid out on different groupings of trays, which have different errors",
            "add them one at a time",
        ));
    }
    let error = first.unwrap_or(Some(larger.strata.tray));
    let df = (big.design.rank() - small.design.rank()) as f64;
    let mut figures = ModelComparison {
        smaller: line(smaller, &small),
        larger: line(larger, &big),
        added,
        test: "not tested".to_owned(),
        statistic: None,
        df,
        error_df: None,
        p: None,
    };
    if is_robust(larger) {
        let joint = error.and_then(|_| test_beyond(larger, &big, &small.unit_columns()));
        if let Some(joint) = joint {
            figures.test = "robust F".to_owned();
            figures.statistic = Some(joint.statistic);
            figures.error_df = Some(joint.error_df);
            figures.p = Some(tail(joint.statistic, joint.df, figures.error_df));
        }
    } else if let Some(Stratum { dispersion, df: denominator }) = error {
        let layered = layered((larger, &big), &small)?;
        let denominator = layered.map_or(denominator, |joint| Some(joint.df));
        let statistic = match layered {
            Some(joint) => joint.statistic * joint.rank as f64 / df,
            None => {
                let fall = fall((larger, &big), (smaller, &small), on_plots > 0)?;
                if denominator.is_some() { fall / df / dispersion } else { fall }
            }
        };
        figures.test = test_name(larger, denominator.is_some(), on_plots > 0).to_owned();
        figures.statistic = Some(statistic);
        figures.error_df = denominator;
        figures.p = Some(tail(statistic, df, denominator));
    }
    Ok(nested_words::answer(larger, figures))
}

/// The score of what is added, with the variance of the layers it draws on; none where the model has no layers above the trays.
fn layered((larger, big): (&Model, &Ready), small: &Ready) -> Result<Option<JointJudged>> {
    let (Some(layered), Some((design, held))) = (&big.layered, added_last(&big.frame, big, small)) else {
        return Ok(None);
    };
    if larger.spec.penalised {
        return Ok(None);
    }
    let fit = Fit { design: &design, data: &big.frame.data, link: larger.spec.link, penalised: larger.penalised };
    Ok(layered.test(&score_parts(&fit, &held)?))
}

fn refused(reason: &str, try_next: &str) -> crate::Error {
    ModelError::NotComparable { reason: reason.to_owned(), try_next: try_next.to_owned() }.into()
}

fn same_kind(larger: &Model, smaller: &Model) -> Result<()> {
    if larger.units != smaller.units {
        return Err(refused("they were fitted to different counts", "fit both to one trial"));
    }
    if larger.spec.link != smaller.spec.link {
        let reason = format!(
            "one has the {} link, the other the {} link",
            larger.spec.link.in_words(),
            smaller.spec.link.in_words()
        );
        return Err(refused(&reason, "fit both with one link"));
    }
    if larger.trays != smaller.trays {
        let reason = format!(
            "trays enter one as {:?} and the other as {:?}",
            nested_words::mode(larger.trays),
            nested_words::mode(smaller.trays)
        );
        return Err(refused(&reason, "fit both with one trays="));
    }
    let groups = |model: &Model| {
        let ModelSpec { random, correlation_by, robust_by, .. } = model.spec.clone();
        (random, correlation_by, robust_by)
    };
    if groups(larger) != groups(smaller) {
        return Err(refused("their random=, correlation_by= or robust_by= differ", "fit both with the same groupings"));
    }
    if (&larger.spec.offset, &larger.spec.weights) != (&smaller.spec.offset, &smaller.spec.weights) {
        return Err(refused("their offsets or weights differ", "fit both with the same columns"));
    }
    if smaller.penalised && !larger.penalised {
        return Err(refused("the smaller one is penalised and the larger one is not", "fit both with penalised=True"));
    }
    Ok(())
}

/// Refuses unless the columns of `small` are combinations of those of `big`, which has more.
fn contains(big: &Ready, small: &Ready) -> Result<()> {
    let (many, few) = (big.unit_columns(), small.unit_columns());
    let together = Qr::new(&[many.as_slice(), few.as_slice()].concat(), 1e-7).rank();
    match (together == many.len(), together == few.len()) {
        (true, true) => Err(refused("they have the same effects", "leave one out of the smaller model")),
        (false, true) => Err(refused("the other model is the larger one", "ask it, larger.against(smaller)")),
        (false, false) => Err(refused("neither contains the other", "give the larger one all effects of the smaller")),
        (true, false) => Ok(()),
    }
}

/// Twice the fall of the (penalised) log-likelihood from the larger to the smaller model; the score statistic of what is added where
/// trays are effective cuttings, as in the tests of effects.
fn fall((larger, big): (&Model, &Ready), (smaller, small): (&Model, &Ready), on_plots: bool) -> Result<f64> {
    let within = within_plots(larger, big, on_plots);
    if larger.trays == TrayMode::Effective
        && !larger.spec.penalised
        && let Some((design, held)) = added_last(&within, big, small)
    {
        let fit = Fit { design: &design, data: &within.data, link: larger.spec.link, penalised: larger.penalised };
        return score(&fit, &held);
    }
    if larger.penalised {
        return penalised_fall(larger, big, small);
    }
    if is_used(larger) {
        return Ok((2.0 * (larger.loglik - smaller.loglik)).max(0.0));
    }
    let top = |frame: &Frame| -> Result<f64> {
        let design = Design::full(frame);
        Ok(Fit { design: &design, data: &frame.data, link: larger.spec.link, penalised: false }.free()?.objective)
    };
    // Both on the counts of the larger model: another correlation within trays would make other effective counts.
    Ok((2.0 * (top(&within)? - top(&within_plots_of(larger, smaller, small, on_plots))?)).max(0.0))
}

/// The frame of the larger model, with the whole plots where what is added varies within them.
fn within_plots(larger: &Model, big: &Ready, on_plots: bool) -> Frame {
    within_plots_of(larger, larger, big, on_plots)
}

/// The frame of either model on the counts of the larger one. What varies within whole plots is compared within them, as in the
/// tests of effects.
fn within_plots_of(larger: &Model, model: &Model, ready: &Ready, on_plots: bool) -> Frame {
    let seen =
        larger.strata.whole_plots.as_ref().is_some_and(|whole| whole.error.is_some_and(|error| error.df.is_some()));
    let seen = seen && larger.strata.above.is_none();
    let with = if seen && !on_plots { split_plot(&ready.frame, &model.units).map(|(with, _)| with) } else { None };
    larger.strata.weighted(with.unwrap_or_else(|| ready.frame.clone()))
}

/// The design with what the smaller model has first, and the columns of what is added; none when the smaller model's effects are not
/// among the larger one's by name.
fn added_last(frame: &Frame, big: &Ready, small: &Ready) -> Option<(Design, Vec<usize>)> {
    let has = |ready: &Ready, name: &str| ready.frame.terms.iter().any(|term| term.name == name);
    if !small.frame.terms.iter().all(|term| has(big, &term.name)) {
        return None;
    }
    let (others, kept): (Vec<usize>, Vec<usize>) = (0..frame.terms.len())
        .partition(|index| frame.terms.get(*index).is_some_and(|term| has(big, &term.name) && !has(small, &term.name)));
    let design = Design::new(frame, &[kept, others.clone()].concat(), &frame.data);
    let held = others.iter().flat_map(|term| design.of_term(*term)).collect();
    Some((design, held))
}

/// With a penalty the smaller model is the larger one with coefficients held at 0, so that the penalty is the same.
fn penalised_fall(larger: &Model, big: &Ready, small: &Ready) -> Result<f64> {
    let Some((design, held)) = added_last(&big.frame, big, small) else {
        return Err(refused(
            "a penalised model is set against one whose effects are among its own only",
            "name the effects of the smaller model in the larger",
        ));
    };
    if is_used(larger) {
        return fall_without(larger, &big.frame, &design, &held);
    }
    Fit { design: &design, data: &big.frame.data, link: larger.spec.link, penalised: true }.ratio(&held)
}

fn test_name(model: &Model, is_f: bool, on_plots: bool) -> &'static str {
    match (is_f, model.penalised) {
        (true, _) if is_used(model) => "likelihood ratio as F",
        (true, _) if on_plots => "F on whole plots",
        (true, _) => "F",
        (false, true) => "penalised likelihood ratio",
        (false, false) => "likelihood ratio",
    }
}

/// Criteria from a log-likelihood of single trays, so that those of two models can be set side by side.
fn line(model: &Model, ready: &Ready) -> ModelLine {
    let parameters = model.convergence.rank + model.spread.len() as u64;
    let constants = ready.frame.tallies(true).map(|one| one.times * ln_choose(one.stuck, one.rooted));
    let loglik = match model.trays {
        TrayMode::Effective | TrayMode::Dispersion | TrayMode::Robust => None,
        _ if is_used(model) => Some(model.loglik),
        _ => Some(ready.solution.kernel + constants.sum::<f64>()),
    };
    let criteria = model.criteria.zip(loglik).map(|(criteria, loglik)| criteria.at(loglik));
    ModelLine {
        effects: nested_words::effects(model),
        parameters,
        loglik,
        aic: criteria.map(|criteria| criteria.aic),
        aicc: criteria.and_then(|criteria| criteria.aicc),
        bic: criteria.map(|criteria| criteria.bic),
    }
}
