//! The answer: sentence, details, notes, table, methods.

use super::beside::{beside, frequencies, last_count};
use super::groups::{effects, groups};
use super::numbers::{CountLawOptions, FittedCounts, GivenCounts, GroupOfCounts};
use super::rows::Rows;
use super::words::{better, details, methods, sentence};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::control::Control;
use crate::error::Result;
use crate::estimate::check_level;
use crate::math::regression::counts::Zeros;
use crate::report::references::{AKAIKE_1974, WILSON_1927};
use crate::report::references_responses::{LAMBERT_1992, MULLAHY_1986, RIDOUT_1998};
use crate::report::references_steps::ZOU_DONNER_2008;
use crate::report::{cautions, number};

/// A law of plain counts by group: the share that has any, the mean of those, the mean of all, each with its limits; what the law expects
/// beside what was counted; and which law describes the counts. Cuttings count as independent: where they share trays, load the trial.
///
/// # Errors
/// [`CountError`](crate::error::CountError) for counts that cannot be, that are all 0, or that hold zeros under a truncated law; for columns that
/// groups make up; and for a law whose likelihood has no top.
///
/// # References
/// Mullahy 1986, J. Econom. 33:341-365 (two parts); Lambert 1992, Technometrics 34:1-14 (zeros added); Zou and Donner 2008, Stat. Med. 27:1693-1702.
///
/// ```
/// use rootling::control::Control;
/// use rootling::counts::{CountLawOptions, GivenCounts, count_law};
/// let given = GivenCounts {
///     counts: vec![0, 2, 0, 3, 1, 5, 0, 4, 6, 3, 5, 8],
///     groups: vec![0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1],
///     levels: vec!["0".into(), "2500".into()],
///     ..GivenCounts::default()
/// };
/// let found = count_law(&given, &CountLawOptions::default(), &Control::new())?;
/// approx::assert_relative_eq!(found.numbers.groups[0].any, 4.0 / 6.0, max_relative = 1e-12);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn count_law(given: &GivenCounts, options: &CountLawOptions, control: &Control) -> Result<Answer<FittedCounts>> {
    let confidence = check_level(options.confidence)?;
    let rows = Rows::of(given)?;
    rows.check(options.law)?;
    rows.check_columns()?;
    let (fitted, laws) = beside(&rows, options, control)?;
    let mut own = groups(&rows, &fitted, confidence, control)?;
    let last = last_count(&rows);
    frequencies(&rows, &fitted, &mut own, last);
    let numbers = FittedCounts {
        name: options.name.clone(),
        by: options.by.clone(),
        law: options.law,
        groups: own,
        effects: effects(&rows, &fitted, confidence),
        spread: fitted.spread(),
        loglik: fitted.loglik,
        n_parameters: fitted.n_parameters,
        aic: fitted.aic(),
        beside: laws,
        last_count: last,
        confidence,
        n_cuttings: rows.cuttings(),
        over_all_rows: rows.adjusted,
    };
    Ok(said(numbers, options))
}

fn said(found: FittedCounts, options: &CountLawOptions) -> Answer<FittedCounts> {
    Answer {
        kind: "count_law".to_owned(),
        sentence: sentence(&found),
        details: details(&found),
        notes: notes(&found),
        methods: methods(&found),
        references: references(&found).into_iter().map(str::to_owned).collect(),
        table: table(&found),
        made_with: MadeWith::new(&[
            ("law", options.law.name().to_owned()),
            ("zero_inflated", options.zero_inflated.to_string()),
            ("confidence", found.confidence.to_string()),
        ]),
        numbers: found,
    }
}

fn notes(found: &FittedCounts) -> Vec<Note> {
    let mut notes = vec![cautions::independent_cuttings()];
    if let Some((best, behind)) = better(found) {
        let text = format!(
            "The law {} describes these counts better (Akaike's criterion lower by {}); give law=\"{0}\".",
            best.name(),
            number(behind)
        );
        notes.push(Note::new("another_law_fits", text));
    }
    if found.groups.iter().any(|one| one.n_any < 10) {
        notes.push(Note::new(
            "few_counts",
            "Fewer than ten cuttings of a group have any: limits of its means are rough.",
        ));
    }
    if found.groups.len() > 1 && found.groups.iter().any(|one| one.n_any < one.n_cuttings) {
        let text = format!(
            "{} of those that have any: a treatment changes which cuttings these are, so a difference among them is none of the treatment on one and the same cutting. The mean over all cuttings has no such catch.",
            crate::report::capital(&found.name.replace('_', " "))
        );
        notes.push(Note::new("of_those_with_any", text));
    }
    notes
}

fn references(found: &FittedCounts) -> Vec<&'static str> {
    let mut cited = vec![AKAIKE_1974];
    match found.law.zeros() {
        Zeros::Apart => {
            cited.push(MULLAHY_1986);
            cited.extend(found.effects.is_empty().then_some([WILSON_1927, ZOU_DONNER_2008]).into_iter().flatten());
            cited.push(RIDOUT_1998);
        }
        Zeros::Added => cited.push(LAMBERT_1992),
        Zeros::Plain | Zeros::Truncated => {}
    }
    cited
}

/// Columns of the table beside the groups.
const COLUMNS: [&str; 12] = [
    "value",
    "low",
    "high",
    "confidence",
    "any",
    "any_low",
    "any_high",
    "of_any",
    "of_any_low",
    "of_any_high",
    "n_cuttings",
    "n_any",
];

fn table(found: &FittedCounts) -> Sheet {
    let groups = &found.groups;
    let mut table = Sheet::default();
    let taken = COLUMNS.contains(&found.by.as_str()) || found.by.is_empty();
    let name = if taken { "group" } else { &found.by };
    table.level(name, groups.iter().map(|one| one.group.clone()));
    let mut plain = |name: &str, of: &dyn Fn(&GroupOfCounts) -> Option<f64>| {
        table.plain(name, groups.iter().map(of));
    };
    plain("value", &|one| Some(one.value));
    plain("low", &|one| one.low);
    plain("high", &|one| one.high);
    table.confidence("confidence", groups.iter().map(|_| found.confidence));
    table.rate("any", groups.iter().map(|one| one.any));
    table.rate("any_low", groups.iter().map(|one| one.any_low));
    table.rate("any_high", groups.iter().map(|one| one.any_high));
    let mut plain = |name: &str, of: &dyn Fn(&GroupOfCounts) -> Option<f64>| {
        table.plain(name, groups.iter().map(of));
    };
    plain("of_any", &|one| one.of_any);
    plain("of_any_low", &|one| one.of_any_low);
    plain("of_any_high", &|one| one.of_any_high);
    table.whole("n_cuttings", groups.iter().map(|one| one.n_cuttings));
    table.whole("n_any", groups.iter().map(|one| one.n_any));
    table
}
