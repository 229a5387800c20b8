//! A bootstrap test in words and as a table.

use super::numbers::BootstrapTest;
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::effects::hint;
use crate::models::{Model, TrayMode, methods, references, warning};
use crate::report::facts;
use crate::report::numbers::{number, p_value, whole};
use crate::report::references as cited;
use crate::report::{capital, verb_for};

pub(super) fn answer(model: &Model, figures: BootstrapTest) -> Answer<BootstrapTest> {
    let mut references = references(model);
    references.push(cited::DAVISON_HINKLEY_1997.to_owned());
    let mut made_with = MadeWith::new(&[("effect", figures.effect.clone()), ("draws", figures.draws.to_string())]);
    made_with.seed = Some(figures.seed);
    let mut table = Sheet::default();
    table
        .text("effect", [figures.effect.clone()])
        .text("test", [figures.test.clone()])
        .statistic("statistic", [figures.statistic])
        .degrees("df", [figures.df])
        .p("p", [figures.p])
        .plain("monte_carlo_error", [figures.monte_carlo_error])
        .whole("draws", [figures.draws])
        .whole("exceeded", [figures.exceeded])
        .p("approximate_p", [figures.approximate_p]);
    Answer {
        kind: "bootstrap_test".to_owned(),
        details: facts(&sentence(model, &figures)),
        sentence: decision(model, &figures),
        table,
        notes: notes(model, &figures),
        methods: format!(
            "{} {} was tested by parametric bootstrap: {} drawn {}, each fitted with and without it (Davison and Hinkley 1997; seed {}).",
            methods(model),
            capital(&figures.effect.replace('_', " ")),
            whole(figures.draws, "trial was", "trials were"),
            law(model),
            figures.seed
        ),
        references,
        made_with,
        numbers: figures,
    }
}

fn law(model: &Model) -> &'static str {
    match model.trays {
        TrayMode::BetaBinomial => "from the beta-binomial model without it",
        TrayMode::Random => "from the model with random effects without it",
        TrayMode::Effective => {
            "from a beta-binomial law with the rates of the model without it and the correlation within trays"
        }
        TrayMode::Dispersion => {
            "from a beta-binomial law with the rates of the model without it and the variance of the dispersion"
        }
        _ => "from the binomial model without it",
    }
}

fn notes(model: &Model, figures: &BootstrapTest) -> Vec<Note> {
    let mut notes = model.notes.clone();
    if figures.failed > 0 {
        let text = format!(
            "{} could not be fitted and count as exceeding, so the P value is on the safe side.",
            whole(figures.failed, "drawn trial", "drawn trials")
        );
        notes.push(Note::new("draws_without_fit", text));
    }
    let alpha = 1.0 - model.spec.confidence;
    if (figures.p - alpha).abs() < 2.0 * figures.monte_carlo_error {
        let text = format!(
            "The P value is known to {} only, and lies that near to {}; more draws would settle it.",
            number(2.0 * figures.monte_carlo_error),
            number(alpha)
        );
        notes.push(Note::new("more_draws", text));
    }
    notes
}

/// The decision line.
fn decision(model: &Model, figures: &BootstrapTest) -> String {
    let name = figures.effect.replace('_', " ");
    let verdict = match figures.p < 1.0 - model.spec.confidence {
        true => verb_for(&figures.effect, "matters", "matter"),
        false => verb_for(&figures.effect, "is not shown to matter", "are not shown to matter"),
    };
    let text = format!("{name} {verdict}, judged by trials drawn without it ({}).", p_value(figures.p));
    let hint = hint(model);
    if hint.is_empty() { capital(&text) } else { format!("{hint}{text}") }
}

fn sentence(model: &Model, figures: &BootstrapTest) -> String {
    let name = capital(&figures.effect.replace('_', " "));
    let beside =
        figures.approximate_p.map_or_else(String::new, |p| format!("; from its reference distribution {}", p_value(p)));
    let verdict = match figures.p < 1.0 - model.spec.confidence {
        true => verb_for(&figures.effect, "matters", "matter"),
        false => verb_for(&figures.effect, "is not shown to matter", "are not shown to matter"),
    };
    format!(
        "{}{name} {verdict}: {} of {} trials drawn without it show as large an effect (bootstrap {}, Monte Carlo error {}{beside}).",
        warning(model),
        figures.exceeded,
        figures.draws,
        p_value(figures.p),
        number(figures.monte_carlo_error)
    )
}
