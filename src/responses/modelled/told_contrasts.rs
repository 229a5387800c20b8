//! Contrasts of adjusted means in words.

use super::family::contrasts;
use super::numbers::{MeanContrast, MeanContrasts};
use super::options::{MeanContrastOptions, MeanModelSpec};
use super::told_shared::{Of, around, carried_line, methods, notes, options, references, signed, sources, way};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::control::Control;
use crate::effects::{Adjust, Adjustment, Pattern};
use crate::error::Result;
use crate::report::numbers::{interval, p_value, whole};
use crate::report::references::FIELLER_1954;
use crate::report::{cautions, fitted};
use crate::responses::amounts::Amounts;
use crate::responses::told::unit_of;
use crate::trial::Trial;

/// The answer.
pub(super) fn answer(
    trial: &Trial,
    spec: &MeanModelSpec,
    by: &str,
    given: &MeanContrastOptions,
    control: &Control,
) -> Result<Answer<MeanContrasts>> {
    let found = contrasts(trial, spec, by, given, control)?;
    let widths = found.contrasts.iter().filter_map(|one| Some(one.high? - one.low?));
    let amounts = Amounts::of(&found.response, found.mean_of, widths.fold(f64::INFINITY, f64::min));
    let of = Of {
        response: &found.response,
        mean_of: found.mean_of,
        primary: found.primary,
        n_left_out: found.n_left_out,
        fewest: None,
    };
    let (places, above) = around(trial, spec);
    let kept: Vec<&str> =
        std::iter::once(by).chain(given.within.as_deref()).chain(given.at.keys().map(String::as_str)).collect();
    let mut cautions = notes(&of, spec, &kept, trial);
    cautions.extend(own_notes(&found, trial, given));
    let mut works = references(&of);
    works.extend(sources(found.together));
    if found.contrasts.iter().any(|one| one.ratio.is_some()) {
        works.push(FIELLER_1954);
    }
    let ratio =
        if works.contains(&FIELLER_1954) { " Ratios of two means have Fieller's limits, each alone." } else { "" };
    Ok(signed(
        trial,
        Answer {
            kind: "mean_contrasts".to_owned(),
            sentence: decision(&found, &amounts),
            details: details(&found, &amounts).into_iter().chain(carried_line(trial, by)).collect(),
            notes: cautions,
            methods: format!(
                "{} {} of levels of {by} were {}.{ratio}",
                methods(&of, spec, &places, &above),
                crate::report::capital(&whole(found.n_tests, "contrast", "contrasts")),
                way(found.together)
            ),
            references: works.into_iter().map(str::to_owned).collect(),
            table: table(&found),
            made_with: made_with(&of, spec, &found, given),
            numbers: found,
        },
    ))
}

fn made_with(of: &Of<'_>, spec: &MeanModelSpec, found: &MeanContrasts, given: &MeanContrastOptions) -> MadeWith {
    let at: Vec<String> = given.at.iter().map(|(name, value)| format!("{name} {value}")).collect();
    let mut made = options(of, spec);
    made.extend([
        ("by", found.by.clone()),
        ("against", found.against.clone().unwrap_or_default()),
        ("pattern", given.pattern.recorded()),
        ("within", found.within.clone().unwrap_or_default()),
        ("together", found.together.name().to_owned()),
        ("margin", found.margin.map(|margin| margin.to_string()).unwrap_or_default()),
        ("at", at.join(", ")),
        ("average", given.average.recorded()),
        ("confidence", found.confidence.to_string()),
    ]);
    let mut made_with = MadeWith::new(&made);
    made_with.seed = (found.together == Adjust::Joint).then_some(given.seed);
    made_with
}

fn own_notes(found: &MeanContrasts, trial: &Trial, given: &MeanContrastOptions) -> Vec<Note> {
    let mut notes = Vec::new();
    let factor = trial.units().factor(&found.by);
    let numbers = factor.is_some_and(|one| one.numbers.is_some() && one.levels.len() > 2);
    if numbers && !matches!(given.pattern, Pattern::Trend | Pattern::Weights(_)) {
        notes.push(cautions::curve_before_pairs(&found.by));
    }
    let mut open: Vec<&String> = found.contrasts.iter().filter_map(|row| row.why.as_ref()).collect();
    open.dedup();
    notes.extend(
        open.into_iter()
            .take(3)
            .map(|why| Note::new("not_available", format!("Some contrasts have no test or no limits: {why}."))),
    );
    notes
}

/// "strength 5000 against 2500 with K12".
fn name(found: &MeanContrasts, row: &MeanContrast) -> String {
    let inside = found.within.as_ref().zip(row.within.as_ref());
    let inside = inside.map_or_else(String::new, |(name, level)| {
        if level.contains(char::is_alphabetic) { format!(" with {level}") } else { format!(" with {name} {level}") }
    });
    format!("{}{inside}", row.comparison.replace('_', " "))
}

fn decision(found: &MeanContrasts, amounts: &Amounts) -> String {
    let secondary = if found.primary { Vec::new() } else { vec!["; a secondary response".to_owned()] };
    let family = whole(found.contrasts.len() as u64, "comparison", "comparisons");
    if found.n_tests == 0 {
        return fitted(&format!("{}: none of {family} can be tested here", amounts.head()), &secondary);
    }
    let shown: Vec<&MeanContrast> = found.contrasts.iter().filter(|row| found.shows(row)).collect();
    let size = |row: &&&MeanContrast| row.value.map_or(0.0, f64::abs);
    let Some(largest) = shown.iter().max_by(|a, b| size(a).total_cmp(&size(b))) else {
        let most = found.contrasts.iter().filter_map(|row| row.not_ruled_out).fold(0.0, f64::max);
        let open = format!("; up to {} {} remain possible", amounts.said(most), amounts.what());
        let none = if found.contrasts.len() == 1 {
            "no difference is shown".to_owned()
        } else {
            format!("none of {family} shows a difference")
        };
        return fitted(&format!("{}{open}", crate::report::capital(&none)), &secondary);
    };
    let (value, ends) = (largest.value.unwrap_or_default(), largest.low.zip(largest.high).unwrap_or_default());
    let (low, high) = if value < 0.0 { (-ends.1, -ends.0) } else { ends };
    let less = if value < 0.0 { "less" } else { "more" };
    let told = format!(
        "{}: {} {less} {} ({})",
        name(found, largest),
        amounts.said(value.abs()),
        amounts.what(),
        amounts.range(low, high)
    );
    let lead = if found.contrasts.len() == 1 {
        told
    } else {
        let verb = if shown.len() == 1 { "shows" } else { "show" };
        format!("{} of {family} {verb} a difference; the largest, {told}", shown.len())
    };
    fitted(&crate::report::capital(&lead), &secondary)
}

fn details(found: &MeanContrasts, amounts: &Amounts) -> Vec<String> {
    let adjusted = found.n_tests > 1 && found.together != Adjust::List(Adjustment::None);
    let one = |row: &MeanContrast| {
        let name = crate::report::capital(&name(found, row));
        let Some(value) = row.value else {
            return format!("{name}: not known, since {}.", row.why.clone().unwrap_or_default());
        };
        let Some(((low, high), p)) = row.low.zip(row.high).zip(row.p_adjusted) else {
            return format!("{name}: {}, not tested.", amounts.said(value));
        };
        let p = p_value(p).replacen("P ", if adjusted { "adjusted P " } else { "P " }, 1);
        let ratio = row.ratio.map_or_else(String::new, |ratio| format!("; {ratio:.2} times as much"));
        format!(
            "{name}: {} ({}), {p}{ratio}.",
            amounts.said(value),
            interval(amounts.bare(low), amounts.bare(high), found.confidence)
        )
    };
    let mut lines: Vec<String> = found.contrasts.iter().map(one).collect();
    if let Some(margin) = found.margin {
        let within: Vec<String> = found
            .contrasts
            .iter()
            .filter(|row| row.within_margin == Some(true))
            .map(|row| self::name(found, row))
            .collect();
        let margin = amounts.said(margin);
        lines.push(if within.is_empty() {
            format!("No contrast is shown to lie within {margin}.")
        } else {
            format!("Shown to lie within {margin}: {}.", crate::report::numbers::join(&within))
        });
    }
    lines
}

fn table(found: &MeanContrasts) -> Sheet {
    let rows = &found.contrasts;
    let mut sheet = Sheet::default();
    sheet.text("comparison", rows.iter().map(|row| row.comparison.clone()));
    if let Some(within) = &found.within {
        sheet.level(within, rows.iter().map(|row| row.within.clone().unwrap_or_default()));
    }
    sheet.plain("value", rows.iter().map(|row| row.value)).of_unit(&unit_of(&found.response));
    sheet.plain("se", rows.iter().map(|row| row.se));
    sheet.plain("low", rows.iter().map(|row| row.low));
    sheet.plain("high", rows.iter().map(|row| row.high));
    sheet.statistic("statistic", rows.iter().map(|row| row.statistic));
    sheet.degrees("df", rows.iter().map(|row| row.df));
    sheet.p("p", rows.iter().map(|row| row.p));
    sheet.p("p_adjusted", rows.iter().map(|row| row.p_adjusted));
    if rows.iter().any(|row| row.ratio.is_some()) {
        sheet.ratio("ratio", rows.iter().map(|row| row.ratio));
        sheet.ratio("ratio_low", rows.iter().map(|row| row.ratio_low));
        sheet.ratio("ratio_high", rows.iter().map(|row| row.ratio_high));
    }
    sheet.plain("not_ruled_out", rows.iter().map(|row| row.not_ruled_out)).of_unit(&unit_of(&found.response));
    if found.margin.is_some() {
        let word = |row: &MeanContrast| row.within_margin.map_or("", |yes| if yes { "yes" } else { "not shown" });
        sheet.text("within_margin", rows.iter().map(word));
    }
    if rows.iter().any(|row| row.why.is_some()) {
        sheet.text("why", rows.iter().map(|row| row.why.clone().unwrap_or_default()));
    }
    sheet
}
