//! Two models side by side, in words and as a table.

use super::numbers::{ModelComparison, ModelLine};
use crate::answer::{Answer, MadeWith, Sheet};
use crate::effects::hint;
use crate::models::{Model, TrayMode, methods, references, warning};
use crate::report::capital;
use crate::report::facts;
use crate::report::numbers::{degrees_of_freedom, join, number, p_value};
use crate::report::references as cited;

/// The word that chooses the mode.
pub(super) fn mode(trays: TrayMode) -> &'static str {
    match trays {
        TrayMode::Auto => "auto",
        TrayMode::Effective => "effective",
        TrayMode::Dispersion => "dispersion",
        TrayMode::BetaBinomial => "beta-binomial",
        TrayMode::Random => "random",
        TrayMode::Robust => "robust",
        TrayMode::Ignore => "ignore",
    }
}

/// "strength, rootstock, strength x rootstock".
pub(super) fn effects(model: &Model) -> String {
    let interactions = model.spec.interactions.iter().map(|parts| parts.join(" x "));
    model.spec.effects.iter().cloned().chain(interactions).collect::<Vec<_>>().join(", ")
}

pub(super) fn answer(larger: &Model, figures: ModelComparison) -> Answer<ModelComparison> {
    let mut references = references(larger);
    references.push(cited::WILKS_1938.to_owned());
    if figures.larger.aic.is_some() {
        references.extend([cited::AKAIKE_1974, cited::HURVICH_TSAI_1989, cited::SCHWARZ_1978].map(str::to_owned));
    }
    Answer {
        kind: "model_comparison".to_owned(),
        details: facts(&sentence(larger, &figures)),
        sentence: decision(larger, &figures),
        table: table(&figures),
        notes: larger.notes.clone(),
        methods: methods_text(larger, &figures),
        references,
        made_with: MadeWith::new(&[
            ("smaller", figures.smaller.effects.clone()),
            ("larger", figures.larger.effects.clone()),
        ]),
        numbers: figures,
    }
}

fn table(figures: &ModelComparison) -> Sheet {
    let lines = [&figures.smaller, &figures.larger];
    let test = |value: Option<f64>| [None, value];
    let mut table = Sheet::default();
    table
        .text("model", ["smaller", "larger"])
        .text("effects", lines.map(|line| line.effects.clone()))
        .whole("parameters", lines.map(|line| line.parameters))
        .plain("loglik", lines.map(|line| line.loglik))
        .plain("aic", lines.map(|line| line.aic))
        .plain("aicc", lines.map(|line| line.aicc))
        .plain("bic", lines.map(|line| line.bic))
        .statistic("statistic", test(figures.statistic))
        .degrees("df", test(Some(figures.df)))
        .degrees("error_df", test(figures.error_df))
        .p("p", test(figures.p));
    table
}

fn methods_text(larger: &Model, figures: &ModelComparison) -> String {
    let judged = match (figures.p, figures.error_df) {
        (None, _) => "was not tested",
        (Some(_), Some(_)) if figures.test == "robust F" => {
            "was judged by the approximate Hotelling test of its coefficients"
        }
        (Some(_), Some(_)) => "was judged by the change of the deviance over its degrees of freedom, against F",
        (Some(_), None) => "was judged by the likelihood ratio, against chi-square",
    };
    format!("{} What this model adds to the one of {} {judged}.", methods(larger), figures.smaller.effects)
}

/// The decision line.
fn decision(larger: &Model, figures: &ModelComparison) -> String {
    let what =
        if figures.added.is_empty() { "the larger model".to_owned() } else { join(&figures.added).replace('_', " ") };
    let (adds, is) = if figures.added.len() > 1 { ("add", "are") } else { ("adds", "is") };
    let text = match figures.p {
        None => format!("what {what} {adds} cannot be tested in this layout."),
        Some(p) if p < 1.0 - larger.spec.confidence => format!("{what} {adds} to the smaller model ({}).", p_value(p)),
        Some(p) => format!("{what} {is} not shown to add to the smaller model ({}).", p_value(p)),
    };
    let hint = hint(larger);
    if hint.is_empty() { capital(&text) } else { format!("{hint}{text}") }
}

fn sentence(larger: &Model, figures: &ModelComparison) -> String {
    let what = if figures.added.is_empty() { "the larger model".to_owned() } else { join(&figures.added) };
    let spoken = capital(&what.replace('_', " "));
    let adds = if figures.added.len() > 1 { "add" } else { "adds" };
    let verdict = match figures.p {
        None => format!("What {what} {adds} cannot be tested in this layout."),
        Some(p) if p < 1.0 - larger.spec.confidence => {
            format!("{spoken} {adds} to the model of {} ({}).", figures.smaller.effects, test_words(figures, p))
        }
        Some(p) => format!(
            "{spoken}: not shown to add to the model of {} ({}), which is no proof that nothing is added.",
            figures.smaller.effects,
            test_words(figures, p)
        ),
    };
    format!("{}{verdict}{}", warning(larger), criteria(&figures.smaller, &figures.larger))
}

/// "F = 4.2 on 2 and 17 degrees of freedom, P = 0.033".
fn test_words(figures: &ModelComparison, p: f64) -> String {
    let statistic = number(figures.statistic.unwrap_or(f64::NAN));
    match figures.error_df {
        Some(error) => {
            format!("F = {statistic} on {} and {}, {}", number(figures.df), degrees_of_freedom(error), p_value(p))
        }
        None => format!("chi-square {statistic} on {}, {}", degrees_of_freedom(figures.df), p_value(p)),
    }
}

fn criteria(smaller: &ModelLine, larger: &ModelLine) -> String {
    let (Some(small), Some(large)) = (smaller.aicc.or(smaller.aic), larger.aicc.or(larger.aic)) else {
        return String::new();
    };
    let better = if large < small { "larger" } else { "smaller" };
    let name = if smaller.aicc.is_some() && larger.aicc.is_some() { "AICc" } else { "AIC" };
    format!(" {name} prefers the {better} model ({:.1} against {:.1}).", small.min(large), small.max(large))
}
