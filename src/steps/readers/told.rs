//! The agreement of two readers in words.

use super::agreed::agreed;
use super::numbers::{Agreement, AgreementOptions, GradeAgreement, GradeWeights};
use crate::answer::{Answer, MadeWith, Note, Scale, Sheet};
use crate::error::Result;
use crate::report::cautions::{self, Claims};
use crate::report::references::{KORN_GRAUBARD_1998, TANGO_1998, WILSON_1927};
use crate::report::references_steps::{
    CICCHETTI_FEINSTEIN_1990, COHEN_1960, FEINSTEIN_CICCHETTI_1990, FLEISS_1969, TUKEY_1958,
};
use crate::report::{fitted, number, percent, points, whole};

/// How far two readers of the same plants agree: raw agreement, agreement on each answer, kappa, and which of them says what more often.
///
/// `trays` holds a table for each tray, or a single one where no trays were recorded: a row for each answer of the first reader, a
/// column for each of the second. With trays, agreement has Wilson limits on effective plants and t, kappa and differences have
/// limits by leaving out one tray after the other and t on trays less one. Without, plants count as independent.
///
/// # Errors
/// [`StepsError`](crate::error::StepsError) for tables that are not square or not of one size, for names that do not fit, and where no
/// plant was read; a count error for an impossible confidence.
///
/// # References
/// Cohen 1960; Fleiss, Cohen and Everitt 1969; Feinstein and Cicchetti 1990; Cicchetti and Feinstein 1990.
///
/// ```
/// use rootling::steps::{AgreementOptions, agreement};
/// let found = agreement(&[vec![vec![80, 10], vec![5, 5]]], &AgreementOptions::default())?;
/// assert!(found.sentence.starts_with("Two readers agree on 85.0 of 100 plants"));
/// assert_eq!(found.notes[1].code, "kappa_says_little");
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn agreement(trays: &[Vec<Vec<u64>>], options: &AgreementOptions) -> Result<Answer<Agreement>> {
    let found = agreed(trays, options)?;
    let made_with =
        MadeWith::new(&[("weights", found.weights.name().to_owned()), ("confidence", found.confidence.to_string())]);
    Ok(Answer {
        kind: "agreement".to_owned(),
        sentence: sentence(&found),
        details: details(&found),
        notes: notes(&found),
        methods: methods(&found),
        references: references(&found),
        table: table(&found),
        made_with,
        numbers: found,
    })
}

fn ends(low: Option<f64>, high: Option<f64>, show: impl Fn(f64) -> String) -> String {
    low.zip(high).map_or_else(String::new, |(low, high)| format!(" ({} to {})", show(low), show(high)))
}

fn sentence(found: &Agreement) -> String {
    let limits = ends(found.low, found.high, points);
    let lead = format!("Two readers agree on {} of 100 plants{limits}", points(found.value));
    let shown = |one: &&GradeAgreement| one.low.is_some_and(|low| low > 0.0) || one.high.is_some_and(|high| high < 0.0);
    let apart = found
        .answers
        .iter()
        .filter(shown)
        .max_by(|a, b| a.difference.abs().total_cmp(&b.difference.abs()).then(std::cmp::Ordering::Greater));
    let bias = apart.map(|one| {
        let way = if one.difference > 0.0 { "more" } else { "fewer" };
        format!("; the second calls {} {way} per 100 {:?}", points(one.difference.abs()), one.answer)
    });
    let rest = bias.unwrap_or_else(|| format!("; by chance alone it would be {}", points(found.by_chance)));
    fitted(&lead, &[rest])
}

fn details(found: &Agreement) -> Vec<String> {
    let basis = match found.n_units {
        Some(trays) => format!("{} in {trays} trays", whole(found.n_plants, "plant", "plants")),
        None => whole(found.n_plants, "plant", "plants"),
    };
    let were = if found.n_plants == 1 { "was" } else { "were" };
    let mut lines = vec![format!("{basis} {were} read by both.")];
    let agreed = |one: &GradeAgreement| {
        let agreed =
            one.agreed.map_or_else(|| "given by neither".to_owned(), |share| format!("{} agreement", percent(share)));
        let limits = ends(one.low, one.high, points);
        format!(
            "{:?}: {agreed}; the first gives it to {} of 100, the second to {}, a difference of {} points{limits}.",
            one.answer,
            points(one.first),
            points(one.second),
            points(one.difference)
        )
    };
    lines.extend(found.answers.iter().map(agreed));
    lines.push(match found.kappa {
        Some(kappa) => format!(
            "Kappa{} is {}{}: 1 is full agreement, 0 what chance alone gives.",
            weighted(found.weights),
            number(kappa),
            ends(found.kappa_low, found.kappa_high, number)
        ),
        None => "Kappa is not defined, since both readers gave all plants one and the same answer.".to_owned(),
    });
    lines
}

fn weighted(weights: GradeWeights) -> &'static str {
    match weights {
        GradeWeights::Same => "",
        GradeWeights::Linear => " weighted by the grades between two answers",
        GradeWeights::Squared => " weighted by the squared grades between two answers",
    }
}

/// Agreement from which a kappa below [`LOW`] is explained.
const MUCH: f64 = 0.8;
const LOW: f64 = 0.4;

fn notes(found: &Agreement) -> Vec<Note> {
    let mut notes = Vec::new();
    match found.n_units {
        None => notes.push(cautions::no_trays(Claims::Intervals)),
        Some(trays) if trays < 4 => notes.push(cautions::few_trays()),
        Some(_) => {}
    }
    let often = found.answers.iter().max_by(|a, b| (a.first + a.second).total_cmp(&(b.first + b.second)));
    if let Some((kappa, often)) = found.kappa.zip(often).filter(|(kappa, _)| found.value >= MUCH && *kappa < LOW) {
        let each: Vec<String> = found
            .answers
            .iter()
            .filter_map(|one| one.agreed.map(|share| format!("{} on {:?}", percent(share), one.answer)))
            .collect();
        let text = format!(
            "Kappa is only {} although the readers agree on {} of plants: both answer {:?} for most, so they would agree on {} by chance and little room is left for more. Read the agreement on each answer instead ({}).",
            number(kappa),
            percent(found.value),
            often.answer,
            percent(found.by_chance),
            each.join(", ")
        );
        notes.push(Note::new("kappa_says_little", text));
    }
    if found.kappa.is_some() && found.kappa_se.is_none() {
        let text = "Kappa has no limits here: too little differs between plants or trays to see how sure it is.";
        notes.push(Note::new("no_limits_of_kappa", text));
    }
    notes
}

fn methods(found: &Agreement) -> String {
    let kappa = match found.weights {
        GradeWeights::Same => "kappa",
        GradeWeights::Linear => "kappa with linear weights",
        GradeWeights::Squared => "kappa with squared weights",
    };
    if found.n_units.is_some() {
        return format!(
            "Agreement of two readers is given as the share of plants with the same answer, on each answer, and as {kappa}. The share has Wilson limits on effective plants. Kappa and differences between readers have limits from leaving out one tray at a time, with t on trays less one."
        );
    }
    format!(
        "Agreement of two readers is given as the share of plants with the same answer (Wilson limits), on each answer, and as {kappa} with its large-sample standard error. Differences between readers have Tango's score limits. Plants count as independent."
    )
}

fn references(found: &Agreement) -> Vec<String> {
    let mut cited = vec![COHEN_1960, CICCHETTI_FEINSTEIN_1990];
    if found.n_units.is_some() {
        cited.extend([TUKEY_1958, WILSON_1927, KORN_GRAUBARD_1998]);
    } else {
        cited.extend([FLEISS_1969, WILSON_1927, TANGO_1998]);
    }
    if notes(found).iter().any(|note| note.code == "kappa_says_little") {
        cited.push(FEINSTEIN_CICCHETTI_1990);
    }
    cited.into_iter().map(str::to_owned).collect()
}

fn table(found: &Agreement) -> Sheet {
    let each = || found.answers.iter();
    let names = ["all answers".to_owned(), "by chance alone".to_owned(), "kappa".to_owned()];
    let agreed = each().map(|one| format!("on {:?}", one.answer));
    let more = each().map(|one| format!("{:?}, second minus first", one.answer));
    let count = found.answers.len();
    let scales: Vec<Scale> = [Scale::Rate, Scale::Rate, Scale::Plain]
        .into_iter()
        .chain(std::iter::repeat_n(Scale::Rate, count))
        .chain(std::iter::repeat_n(Scale::Difference, count))
        .collect();
    let column =
        |first: [Option<f64>; 3], on: fn(&GradeAgreement) -> Option<f64>, of: fn(&GradeAgreement) -> Option<f64>| {
            first.into_iter().chain(each().map(on)).chain(each().map(of)).collect::<Vec<_>>()
        };
    let none = |_: &GradeAgreement| None;
    let mut table = Sheet::default();
    table.text("what", names.into_iter().chain(agreed).chain(more));
    let value =
        column([Some(found.value), Some(found.by_chance), found.kappa], |one| one.agreed, |one| Some(one.difference));
    table.scaled("value", scales.clone(), value);
    table.scaled("low", scales.clone(), column([found.low, None, found.kappa_low], none, |one| one.low));
    table.scaled("high", scales, column([found.high, None, found.kappa_high], none, |one| one.high));
    table
}
