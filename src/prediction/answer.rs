//! Predictions in words and as a table.

use super::numbers::{Prediction, Predictions};
use super::resolve::{is_optional, tested_range};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::effects::RateOf;
use crate::effects::hint;
use crate::effects::phrases::{add_places_cited, limits_in_words, places_in_words, places_note};
use crate::models::{Model, Ready, TrayMode, methods, references, warning};
use crate::report::cautions;
use crate::report::numbers::{confidence, interval, join, percent};
use crate::report::{capital, facts};
use crate::report::{references as cited, whole};

pub(super) fn answer(model: &Model, ready: &Ready, figures: Predictions) -> Answer<Predictions> {
    let mut references = references(model);
    references.push(cited::LANE_NELDER_1982.to_owned());
    add_places_cited(&mut references, model, &figures.holds_over);
    if figures.new_tray.is_some() && !references.iter().any(|known| known == cited::SKELLAM_1948) {
        references.push(cited::SKELLAM_1948.to_owned());
    }
    let mut options =
        vec![("confidence", figures.confidence.to_string()), ("rate_of", name(figures.rate_of).to_owned())];
    options.extend(figures.new_tray.map(|stuck| ("new_tray", stuck.to_string())));
    Answer {
        kind: "predictions".to_owned(),
        details: facts(&sentence(model, &figures)),
        sentence: decision(model, &figures),
        table: table(&figures),
        notes: notes(model, ready, &figures),
        methods: methods_text(model, &figures),
        references,
        made_with: MadeWith::new(&options).about(model.spec.outcome),
        numbers: figures,
    }
}

fn name(of: RateOf) -> &'static str {
    match of {
        RateOf::AllTrays => "all-trays",
        RateOf::TypicalTray => "typical-tray",
    }
}

fn table(figures: &Predictions) -> Sheet {
    let rows = &figures.rows;
    let mut table = Sheet::default();
    for (at, column) in figures.columns.iter().enumerate() {
        table.level(column, rows.iter().map(|row| row.labels.get(at).cloned().unwrap_or_default()));
    }
    table
        .whole("row", rows.iter().map(|row| row.row))
        .rate("value", rows.iter().map(|row| row.value))
        .size("se", rows.iter().map(|row| row.se))
        .rate("low", rows.iter().map(|row| row.low))
        .rate("high", rows.iter().map(|row| row.high))
        .confidence("confidence", rows.iter().map(|_| figures.confidence))
        .degrees("df", rows.iter().map(|row| row.df));
    if figures.new_tray.is_some() {
        table
            .whole("tray_low", rows.iter().map(|row| row.tray_low))
            .whole("tray_high", rows.iter().map(|row| row.tray_high));
    }
    if rows.iter().any(|row| !row.outside.is_empty()) {
        table.text("outside_tested_range", rows.iter().map(|row| row.outside.join(", ")));
    }
    table
}

fn notes(model: &Model, ready: &Ready, figures: &Predictions) -> Vec<Note> {
    let mut notes = model.notes.clone();
    let frame = &ready.frame;
    let left_out = frame.variables.iter().enumerate().filter(|(index, variable)| {
        let at = figures.columns.iter().position(|column| *column == variable.name);
        let given = |row: &Prediction| at.and_then(|at| row.labels.get(at)).is_some_and(|label| !label.is_empty());
        is_optional(frame, *index) && !figures.rows.iter().any(given)
    });
    let left_out: Vec<&str> = left_out.map(|(_, variable)| variable.name.as_str()).collect();
    if !left_out.is_empty() {
        let text = format!(
            "{} is not among the columns given, so every rate is an average over its levels with equal weights.",
            join(&left_out)
        );
        notes.push(Note::new("averaged_over_block", text));
    }
    notes.extend(places_note(model, &figures.holds_over, &figures.holds_at));
    if figures.rows.iter().any(|row| row.value.is_none()) {
        let text = "Some rows combine levels that were not tried together, so their rates are left open.";
        notes.push(Note::new("not_estimable", text));
    }
    let guessed: Vec<&Prediction> = figures.rows.iter().filter(|row| !row.tried && row.value.is_some()).collect();
    if !guessed.is_empty() {
        let rows = lies(&guessed).replace("lies", "combines").replace("lie", "combine");
        let text = format!(
            "{rows} levels of which the trial has no tray together: what stands there is the model's guess from effects that add up, not a result."
        );
        notes.push(Note::new("not_tried", text));
    }
    let beyond: Vec<&Prediction> = figures.rows.iter().filter(|row| !row.outside.is_empty()).collect();
    if !beyond.is_empty() {
        let mut names: Vec<&String> = beyond.iter().flat_map(|row| &row.outside).collect();
        names.sort_unstable();
        names.dedup();
        let ranges: Vec<String> = names
            .iter()
            .map(|name| format!("{name} ({} in the trial)", tested_range(frame, name).unwrap_or_default()))
            .collect();
        notes.push(cautions::beyond_tested(&lies(&beyond), Some(&join(&ranges))));
    }
    if model.trays == TrayMode::Random {
        let rooted = model.spec.outcome.words().rooted;
        let text = match figures.rate_of {
            RateOf::AllTrays => {
                format!("Rates are the shares {rooted} over all trays (population), not those of a typical tray.")
            }
            RateOf::TypicalTray => format!(
                "Rates are those of a typical tray (random effects 0). Over all trays the share {rooted} lies nearer to one half."
            ),
        };
        notes
            .push(Note::new(if figures.rate_of == RateOf::AllTrays { "all_trays_rate" } else { "typical_tray" }, text));
    }
    notes
}

/// "Row 3 lies", "Rows 1, 2 and 5 lie", "40 rows lie".
fn lies(rows: &[&Prediction]) -> String {
    match rows {
        [one] => format!("Row {} lies", one.row),
        few if few.len() <= 6 => {
            let numbers: Vec<String> = few.iter().map(|row| row.row.to_string()).collect();
            format!("Rows {} lie", join(&numbers))
        }
        many => format!("{} rows lie", many.len()),
    }
}

fn methods_text(model: &Model, figures: &Predictions) -> String {
    let which = match (model.trays, figures.rate_of) {
        (TrayMode::Random, RateOf::AllTrays) => "rates over all trays",
        (TrayMode::Random, RateOf::TypicalTray) => "rates of a typical tray",
        _ => "rates",
    };
    let mut text = format!(
        "{} For expected {which} of new rows, {}{}.",
        methods(model),
        limits_in_words(model, &figures.holds_over),
        places_in_words(&figures.holds_over)
    );
    if let Some(stuck) = figures.new_tray {
        text.push_str(&format!(
            " Ranges for a new tray of {} are quantiles of a beta-binomial law whose variance adds that of the expected rate to that of a \
             tray's count, widened by the squared ratio of the t to the normal quantile.",
            whole(stuck, model.spec.outcome.words().cutting, model.spec.outcome.words().cuttings)
        ));
    }
    text
}

/// The decision line: the lowest and the highest take that is expected.
fn decision(model: &Model, figures: &Predictions) -> String {
    let (hint, w) = (hint(model), model.spec.outcome.words());
    let trees = |x: f64| format!("{:.0}", (100.0 * x).round() + 0.0);
    let one = |row: &Prediction| {
        let limits = row
            .low
            .zip(row.high)
            .map_or_else(String::new, |(low, high)| format!(" ({} to {})", trees(low), trees(high)));
        format!("{} of 100{limits}", trees(row.value.unwrap_or(0.0)))
    };
    let known = || figures.rows.iter().filter(|row| row.value.is_some());
    let by_value = |a: &&Prediction, b: &&Prediction| a.value.unwrap_or(0.0).total_cmp(&b.value.unwrap_or(0.0));
    let text = match (figures.rows.as_slice(), known().min_by(by_value), known().max_by(by_value)) {
        ([only], Some(_), _) => format!("the expected {} is {}.", w.rate, one(only)),
        (_, Some(low), Some(high)) => {
            let takes = w.takes;
            format!("expected {takes} run from {} in row {} to {} in row {}.", one(low), low.row, one(high), high.row)
        }
        _ => "none of these rows can be predicted from this trial.".to_owned(),
    };
    if hint.is_empty() { capital(&text) } else { format!("{hint}{text}") }
}

fn sentence(model: &Model, figures: &Predictions) -> String {
    let w = model.spec.outcome.words();
    let words = |row: &Prediction| {
        let value = row.value.map_or_else(|| "not known".to_owned(), percent);
        let limits = row.low.zip(row.high).map_or_else(String::new, |(low, high)| {
            format!(" ({})", interval(percent(low), percent(high), figures.confidence))
        });
        format!("{value}{limits} for row {}{}", row.row, place(figures, row))
    };
    let tray = |row: &Prediction| {
        let (stuck, low, high) = (figures.new_tray?, row.tray_low?, row.tray_high?);
        let range = if low == high { low.to_string() } else { format!("{low} to {high}") };
        Some(format!(
            " A new tray of {} like row {}: {range} of them are expected to {} ({} range).",
            whole(stuck, w.cutting, w.cuttings),
            row.row,
            w.root,
            confidence(figures.confidence)
        ))
    };
    let known = || figures.rows.iter().filter(|row| row.value.is_some());
    let by_value = |a: &&Prediction, b: &&Prediction| a.value.unwrap_or(0.0).total_cmp(&b.value.unwrap_or(0.0));
    let typical = if figures.rate_of == RateOf::TypicalTray { " of a typical tray" } else { "" };
    let (ends, best) = match (figures.rows.as_slice(), known().min_by(by_value), known().max_by(by_value)) {
        ([only], _, _) => (format!("The expected {}{typical} is {}.", w.rate, words(only)), Some(only)),
        (_, Some(low), Some(high)) => {
            (format!("Expected {}{typical} run from {} to {}.", w.rates, words(low), words(high)), Some(high))
        }
        _ => ("None of these rows can be predicted from this trial.".to_owned(), None),
    };
    format!("{}{ends}{}", warning(model), best.and_then(tray).unwrap_or_default())
}

/// " (strength 2500, rootstock K12)".
fn place(figures: &Predictions, row: &Prediction) -> String {
    let parts = figures.columns.iter().zip(&row.labels).filter(|(_, label)| !label.is_empty());
    let parts: Vec<String> = parts.map(|(column, label)| format!("{column} {label}")).collect();
    if parts.is_empty() { String::new() } else { format!(" ({})", parts.join(", ")) }
}
