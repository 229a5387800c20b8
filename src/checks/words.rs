//! The checks in words and as a table.

use super::numbers::{CheckOptions, Checks, TrayCheck};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::models::{Model, methods, references, warning};
use crate::report::capital;
use crate::report::facts;
use crate::report::numbers::{degrees_of_freedom, number, p_value, points};
use crate::report::references as cited;
use crate::trial::{Outcome, OutcomeWords, UnitKind, answer_of_units};

pub(super) fn answer(model: &Model, figures: Checks, options: &CheckOptions) -> Answer<Checks> {
    let mut made_with = MadeWith::new(&[
        ("groups", options.groups.to_string()),
        ("refit", if figures.refitted { "yes" } else { "no" }.to_owned()),
    ]);
    made_with.seed = Some(options.seed);
    let made_with = made_with.about(model.spec.outcome);
    let answer = Answer {
        kind: "checks".to_owned(),
        details: facts(&sentence(model, &figures)),
        sentence: decision(model, &figures),
        table: table(&figures, model.spec.outcome.words()),
        notes: notes(model, &figures),
        methods: methods_text(model, &figures),
        references: cited_works(model, &figures),
        made_with,
        numbers: figures,
    };
    answer_of_units(&model.units, answer)
}

fn table(figures: &Checks, w: &OutcomeWords) -> Sheet {
    let rows = &figures.trays;
    let mut table = Sheet::default();
    table
        .text("tray", rows.iter().map(|row| row.tray.clone()))
        .headed(&figures.unit)
        .text("treatment", rows.iter().map(|row| row.treatment.clone()))
        .whole("rooted", rows.iter().map(|row| row.rooted))
        .headed(w.counted_head)
        .whole("stuck", rows.iter().map(|row| row.stuck))
        .headed(w.stuck_head)
        .count("expected", rows.iter().map(|row| row.expected))
        .plain("quantile_residual", rows.iter().map(|row| row.quantile_residual))
        .plain("pearson_residual", rows.iter().map(|row| row.pearson_residual))
        .plain("standardised_residual", rows.iter().map(|row| row.standardised_residual))
        .plain("deviance_residual", rows.iter().map(|row| row.deviance_residual))
        .plain("leverage", rows.iter().map(|row| row.leverage))
        .plain("distance", rows.iter().map(|row| row.distance))
        .difference("one_step_change", rows.iter().map(|row| row.one_step_change));
    if figures.refitted {
        table.difference("refit_change", rows.iter().map(|row| row.refit_change));
    }
    table
        .text("changes", rows.iter().map(|row| row.changes.clone().unwrap_or_default()))
        .p("p", rows.iter().map(|row| row.p));
    table
}

/// Changes below this are none with one decimal of a hundredth.
const UNSEEN: f64 = 0.0005;

/// Trays so far out that fewer than one trial in twenty would show one, their number allowed for.
fn outlying(figures: &Checks) -> Vec<&TrayCheck> {
    let n = figures.trays.len() as f64;
    let mut found: Vec<&TrayCheck> = figures.trays.iter().filter(|tray| tray.p * n < 0.05).collect();
    found.sort_by(|a, b| a.p.total_cmp(&b.p));
    found
}

fn change(tray: &TrayCheck) -> Option<f64> {
    tray.refit_change.or(tray.one_step_change)
}

/// The tray whose leaving out moves a rate the most.
fn most_influential(figures: &Checks) -> Option<(&TrayCheck, f64)> {
    let known = figures.trays.iter().filter_map(|tray| Some((tray, change(tray)?)));
    known.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
}

/// The decision line: where to look first.
fn decision(model: &Model, figures: &Checks) -> String {
    let far = outlying(figures);
    if let Some(tray) = far.first() {
        let direction = if (tray.rooted as f64) < tray.expected { "less" } else { "more" };
        let of = if tray.treatment.is_empty() { String::new() } else { format!(" ({})", tray.treatment) };
        let more = if far.len() > 1 { format!("; {} more lie as far out", far.len() - 1) } else { String::new() };
        let other = model.spec.outcome != Outcome::Take;
        let it = if other { "its count is far" } else { "it rooted far" };
        let direction = match (other, direction) {
            (true, "less") => "lower",
            (true, _) => "higher",
            (false, known) => known,
        };
        return format!("Look at {}{of} first: {it} {direction} than the model expects{more}.", tray.tray);
    }
    if figures.link_check.as_ref().is_some_and(|test| test.p < 0.05) {
        return "No count stands out, but the model bends away from the counts: try an interaction, or another link."
            .to_owned();
    }
    let spread = figures.goodness_of_fit.as_ref().is_some_and(|test| test.pearson_p < 0.05);
    if spread {
        "Nothing stands out by itself, but counts differ more than chance explains.".to_owned()
    } else {
        "Nothing speaks against the model: no count lies farther out than chance explains.".to_owned()
    }
}

fn sentence(model: &Model, figures: &Checks) -> String {
    let mut parts: Vec<String> = Vec::new();
    let far = outlying(figures);
    parts.extend(far.iter().take(3).map(|tray| outlier(model, figures, tray)));
    if far.len() > 3 {
        parts.push(format!("{} more counts lie as far out.", far.len() - 3));
    }
    if far.is_empty() {
        let what = if model.units.kind == UnitKind::Tray { "tray" } else { "count" };
        parts.push(format!("No {what} lies farther from its expectation than chance explains."));
    }
    let influential = most_influential(figures);
    if influential.is_some_and(|(_, change)| change.abs() < UNSEEN) {
        let what = if model.units.kind == UnitKind::Tray { "tray" } else { "count" };
        parts.push(format!("Leaving out no {what} would move a rate by 0.1 {}.", model.spec.outcome.of_hundred()));
    } else if let Some((tray, change)) = influential {
        parts.push(format!(
            "Leaving out {} would move the rate of {} by {} {}, the most of all.",
            tray.tray,
            tray.changes.as_deref().unwrap_or("its treatment"),
            signed(change),
            model.spec.outcome.of_hundred()
        ));
    }
    parts.extend(spread(figures));
    parts.extend(fit_of_cuttings(figures));
    parts.extend(link(model, figures));
    format!("{}{}", warning(model), parts.join(" "))
}

/// "Tray T07 of strength 5000 rooted far less than expected: 3 of 20, 12.1 expected (P < 0.001 for such a count, 24 trays looked at)."
fn outlier(model: &Model, figures: &Checks, tray: &TrayCheck) -> String {
    let direction = if (tray.rooted as f64) < tray.expected { "less" } else { "more" };
    let of = if tray.treatment.is_empty() { String::new() } else { format!(" of {}", tray.treatment) };
    format!(
        "{}{of} {} far {direction} than expected: {} of {}, {} expected ({} for a count so far out; {} were looked at).",
        capital(&tray.tray),
        model.spec.outcome.words().rooted,
        tray.rooted,
        tray.stuck,
        number((10.0 * tray.expected).round() / 10.0),
        p_value(tray.p),
        figures.trays.len()
    )
}

fn spread(figures: &Checks) -> Option<String> {
    let dispersion = figures.dispersion.as_ref()?;
    let test = figures.goodness_of_fit.as_ref()?;
    let verdict = if test.pearson_p < 0.05 { "more than chance explains" } else { "no more than chance explains" };
    Some(format!(
        "Counts of one treatment differ {verdict} (dispersion {:.2} on {}, {} against the binomial law).",
        dispersion.value,
        degrees_of_freedom(dispersion.df),
        p_value(test.pearson_p)
    ))
}

fn fit_of_cuttings(figures: &Checks) -> Option<String> {
    let test = figures.hosmer_lemeshow.as_ref()?;
    let verdict = if test.p < 0.05 { "stray from" } else { "agree with" };
    Some(format!("Observed rates {verdict} the expected ones in {} groups ({}).", test.groups, p_value(test.p)))
}

fn link(model: &Model, figures: &Checks) -> Option<String> {
    let test = figures.link_check.as_ref()?;
    let name = model.spec.link.in_words();
    Some(if test.p < 0.05 {
        format!(
            "The {name} link or the set of effects is in doubt: the squared linear predictor adds to the model ({}).",
            p_value(test.p)
        )
    } else {
        format!("Nothing speaks against the {name} link ({} for the squared linear predictor).", p_value(test.p))
    })
}

fn notes(model: &Model, figures: &Checks) -> Vec<Note> {
    let mut notes = model.notes.clone();
    let far = outlying(figures);
    if !far.is_empty() {
        let text = format!(
            "{} so far out that, their number allowed for, fewer than one trial in twenty would show one. Look at the sheet and the \
             place of the tray before anything else; a count is left out only for a reason found there.",
            if far.len() == 1 { "1 count lies".to_owned() } else { format!("{} counts lie", far.len()) }
        );
        notes.push(Note::new("outlying_counts", text));
    }
    let alone = figures.trays.iter().filter(|tray| tray.leverage > 1.0 - 1e-9).count() as u64;
    if alone > 0 {
        let text = if alone == 1 {
            "1 count alone sets an estimate of the model, so it always fits and nothing can be said against it."
                .to_owned()
        } else {
            format!(
                "{alone} counts alone set an estimate each, so they always fit and nothing can be said against them."
            )
        };
        notes.push(Note::new("sets_its_own_estimate", text));
    }
    if figures.goodness_of_fit.is_none() {
        let text = if figures.dispersion.is_none() && figures.trays.iter().all(|tray| tray.stuck <= 1) {
            "Deviance and Pearson's statistic say nothing of the fit where every count is a single cutting, so they are not offered; the \
             Hosmer-Lemeshow test and the calibration groups are."
        } else {
            "There are as many coefficients as counts, so the counts cannot speak against the model."
        };
        notes.push(Note::new("no_goodness_of_fit", text));
    }
    if let Some(test) = figures.goodness_of_fit.as_ref().filter(|test| test.smallest_expected < 1.0) {
        let text = format!(
            "In some trays only {} cuttings of one outcome are expected, so the chi-square tests of fit are rough.",
            if test.smallest_expected < 0.01 { "0.01 or fewer".to_owned() } else { number(test.smallest_expected) }
        );
        notes.push(Note::new("small_expected", text));
    }
    if let Some(test) = &figures.hosmer_lemeshow {
        let text = format!(
            "Cuttings were put in order of the expected rate and cut into {} groups as equal as ties allow: equal rates stay together, in \
             the group in which their middle cutting falls. Other groups give other P values.",
            test.groups
        );
        notes.push(Note::new("grouping", text));
    }
    if !figures.refitted {
        let text = format!(
            "With {} counts the change without each one is given by one step from the fit; refit=True fits the model without each.",
            figures.trays.len()
        );
        notes.push(Note::new("one_step_only", text));
    }
    notes
}

fn methods_text(model: &Model, figures: &Checks) -> String {
    let refit = if figures.refitted { " and by fitting the model without it" } else { "" };
    let mut text = format!(
        "{} The model was checked by randomised quantile residuals (Dunn and Smyth 1996; seed {}), by the leverage of each count and by the \
         change of the expected rates without it, found by one step from the fit (Pregibon 1981){refit}.",
        methods(model),
        figures.seed
    );
    if figures.goodness_of_fit.is_some() {
        text.push_str(" Pearson's statistic and the deviance were compared with chi-square.");
    }
    if figures.hosmer_lemeshow.is_some() {
        text.push_str(" Calibration was tested in groups of the expected rate (Hosmer and Lemeshow 1980).");
    }
    if figures.link_check.is_some() {
        text.push_str(" The link was tested by adding the squared linear predictor (Pregibon 1980).");
    }
    text
}

fn cited_works(model: &Model, figures: &Checks) -> Vec<String> {
    let mut works = vec![cited::DUNN_SMYTH_1996, cited::PREGIBON_1981, cited::COOK_1977];
    if figures.hosmer_lemeshow.is_some() {
        works.push(cited::HOSMER_LEMESHOW_1980);
    }
    if figures.link_check.is_some() {
        works.push(cited::PREGIBON_1980);
    }
    references(model).into_iter().chain(works.into_iter().map(str::to_owned)).collect()
}

/// Points with their sign.
fn signed(change: f64) -> String {
    let text = points(change);
    if change > 0.0 { format!("+{text}") } else { text }
}
