//! Means expected of rows of levels, in numbers and in words.

use super::levels::{level_of, one_cell};
use super::model::Modelled;
use super::numbers::{MeanPrediction, MeanPredictions};
use super::options::MeanModelSpec;
use super::told_shared::{Of, around, methods, notes, options, references, signed};
use crate::answer::{Answer, MadeWith, Sheet};
use crate::control::Control;
use crate::error::{CountError, Result};
use crate::report::numbers::interval;
use crate::report::{capital, fitted};
use crate::responses::amounts::Amounts;
use crate::responses::told::unit_of;
use crate::trial::Trial;

/// The answer for rows of levels, each in the order of the model's treatments.
pub(super) fn answer(
    trial: &Trial,
    spec: &MeanModelSpec,
    rows: &[Vec<String>],
    control: &Control,
) -> Result<Answer<MeanPredictions>> {
    let found = predicted(trial, spec, rows, control)?;
    let widths = found.rows.iter().filter_map(|one| Some(one.high? - one.low?));
    let amounts = Amounts::of(&found.response, found.mean_of, widths.fold(f64::INFINITY, f64::min));
    let of = Of {
        response: &found.response,
        mean_of: found.mean_of,
        primary: found.primary,
        n_left_out: found.n_left_out,
        fewest: None,
    };
    let (places, above) = around(trial, spec);
    let kept: Vec<&str> = spec.effects.iter().map(String::as_str).collect();
    let mut made = options(&of, spec);
    made.push(("confidence", found.confidence.to_string()));
    Ok(signed(
        trial,
        Answer {
            kind: "mean_predictions".to_owned(),
            sentence: decision(&found, &amounts),
            details: found.rows.iter().map(|row| line(row, &found, &amounts)).collect(),
            notes: notes(&of, spec, &kept, trial),
            methods: format!(
                "{} Expected means have limits whose own variance grows in proportion to the mean, so that none is below 0.",
                methods(&of, spec, &places, &above)
            ),
            references: references(&of).into_iter().map(str::to_owned).collect(),
            table: table(&found),
            made_with: MadeWith::new(&made),
            numbers: found,
        },
    ))
}

fn predicted(trial: &Trial, spec: &MeanModelSpec, rows: &[Vec<String>], control: &Control) -> Result<MeanPredictions> {
    let model = Modelled::of(trial, spec)?;
    let fits = model.fits();
    let mut found = Vec::new();
    for (at, row) in rows.iter().enumerate() {
        control.step()?;
        if row.len() != model.grid.factors.len() {
            let problem = CountError::TooFewTrays {
                name: format!("row {}, treatments named", at + 1),
                found: row.len(),
                needed: model.grid.factors.len(),
            };
            return Err(problem.into());
        }
        let levels: Vec<usize> =
            row.iter().enumerate().map(|(place, level)| level_of(&model, place, level)).collect::<Result<_>>()?;
        let mean = one_cell(&fits, &levels, model.confidence);
        found.push(MeanPrediction {
            levels: row.clone(),
            value: mean.value,
            se: mean.se,
            low: mean.low,
            high: mean.high,
            n_units: mean.n_units,
        });
    }
    Ok(MeanPredictions {
        model: model.spec.clone(),
        response: model.gathered.measured.response.clone(),
        mean_of: model.of,
        confidence: model.confidence,
        rows: found,
        primary: model.primary,
        n_left_out: model.n_left_out,
    })
}

fn named(row: &MeanPrediction, found: &MeanPredictions) -> String {
    let one = |(name, level): (&String, &String)| format!("{} {level}", name.replace('_', " "));
    let parts: Vec<String> = found.model.effects.iter().zip(&row.levels).map(one).collect();
    parts.join(", ")
}

fn decision(found: &MeanPredictions, amounts: &Amounts) -> String {
    let known: Vec<(&MeanPrediction, f64)> = found.rows.iter().filter_map(|one| Some((one, one.value?))).collect();
    let low = known.iter().min_by(|a, b| a.1.total_cmp(&b.1));
    let high = known.iter().max_by(|a, b| a.1.total_cmp(&b.1));
    let secondary = if found.primary { Vec::new() } else { vec!["; a secondary response".to_owned()] };
    match low.zip(high) {
        None => format!("{}: these data give no mean for any row.", amounts.head()),
        Some((one, other)) if std::ptr::eq(one.0, other.0) => {
            let ends = one.0.low.zip(one.0.high);
            let ends = ends
                .map_or_else(String::new, |(low, high)| format!(" ({} to {})", amounts.bare(low), amounts.bare(high)));
            let lead = format!("{}: {}{ends} expected at {}", amounts.head(), amounts.said(one.1), named(one.0, found));
            fitted(&lead, &secondary)
        }
        Some((low, high)) => {
            let lead = format!(
                "{}: from {} at {} to {} at {}",
                amounts.head(),
                amounts.said(low.1),
                named(low.0, found),
                amounts.said(high.1),
                named(high.0, found)
            );
            fitted(&lead, &secondary)
        }
    }
}

fn line(row: &MeanPrediction, found: &MeanPredictions, amounts: &Amounts) -> String {
    let name = capital(&named(row, found));
    let tried = if row.n_units == 0 { "; not tried, so it rests on the model" } else { "" };
    let Some(value) = row.value else { return format!("{name}: these data give no mean.") };
    let ends = row.low.zip(row.high).map_or_else(
        || " (no limits)".to_owned(),
        |(low, high)| format!(" ({})", interval(amounts.bare(low), amounts.bare(high), found.confidence)),
    );
    format!("{name}: {}{ends}{tried}.", amounts.said(value))
}

fn table(found: &MeanPredictions) -> Sheet {
    let rows = &found.rows;
    let mut table = Sheet::default();
    for (at, name) in found.model.effects.iter().enumerate() {
        table.level(name, rows.iter().map(|row| row.levels.get(at).cloned().unwrap_or_default()));
    }
    table.plain("value", rows.iter().map(|row| row.value)).of_unit(&unit_of(&found.response));
    table.plain("se", rows.iter().map(|row| row.se));
    table.plain("low", rows.iter().map(|row| row.low));
    table.plain("high", rows.iter().map(|row| row.high));
    table.whole("n_units", rows.iter().map(|row| row.n_units)).headed("trays".to_owned());
    table
}
