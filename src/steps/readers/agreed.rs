//! What two readers agree on, from tables of trays.

use super::kappa::{Kappa, kappa_of};
use super::numbers::{Agreement, AgreementOptions, GradeAgreement};
use crate::counts::{PairedMethod, paired};
use crate::error::{CountError, Result, StepsError};
use crate::estimate::{LARGEST_COUNT, check_level};
use crate::math::distributions::normal;
use crate::steps::trays::rate;
use crate::steps::without_one::{limits, standard_error};

/// A table of one tray: rows of the first reader, columns of the second.
type Table = Vec<Vec<f64>>;

/// Works out all of it; one table is of no tray in particular.
pub(super) fn agreed(trays: &[Vec<Vec<u64>>], options: &AgreementOptions) -> Result<Agreement> {
    check_level(options.confidence)?;
    let answers = checked(trays, &options.answers)?;
    // A tray without a plant that was read tells nothing of how trays differ.
    let read: Vec<Vec<Vec<u64>>> =
        trays.iter().filter(|tray| tray.iter().flatten().any(|count| *count > 0)).cloned().collect();
    let trays = if read.is_empty() { trays } else { &read };
    let tables: Vec<Table> = trays.iter().map(|tray| as_numbers(tray)).collect();
    let grades = answers.len();
    let whole = sum(&tables, grades);
    let total: f64 = whole.iter().flatten().sum();
    let several = tables.len() > 1;
    let without: Vec<Table> = if several { tables.iter().map(|one| less(&whole, one)).collect() } else { Vec::new() };
    let kappa = kappa_of(&whole, options.weights);
    let (kappa_se, kappa_limits) = kappa_limits(&kappa, &without, options);
    let counts: Vec<(u64, u64)> = trays.iter().map(|tray| same_of_all(tray)).collect();
    let raw = rate(&counts, options.confidence)?.ok_or(StepsError::NothingRead)?;
    let each = answers.into_iter().enumerate();
    let each: Result<Vec<GradeAgreement>> =
        each.map(|(at, answer)| grade(at, answer, &whole, &without, options)).collect();
    Ok(Agreement {
        n_plants: total as u64,
        n_units: several.then_some(trays.len() as u64),
        value: raw.value,
        low: raw.limits().map(|ends| ends.0),
        high: raw.limits().map(|ends| ends.1),
        by_chance: kappa_of(&whole, super::GradeWeights::Same).by_chance,
        weights: options.weights,
        kappa: kappa.value,
        kappa_se,
        kappa_low: kappa_limits.map(|ends| ends.0),
        kappa_high: kappa_limits.map(|ends| ends.1),
        df: several.then_some(tables.len() as f64 - 1.0),
        confidence: options.confidence,
        answers: each?,
    })
}

/// The names of the answers, where all tables are square and of one size.
fn checked(trays: &[Vec<Vec<u64>>], named: &[String]) -> Result<Vec<String>> {
    let grades = trays.first().map(Vec::len).ok_or(StepsError::NothingRead)?;
    if grades < 2 {
        return Err(StepsError::OneAnswer.into());
    }
    for (at, tray) in trays.iter().enumerate() {
        if tray.len() != grades || tray.iter().any(|row| row.len() != grades) {
            return Err(StepsError::NotSquare { tray: at + 1, grades }.into());
        }
    }
    let total = trays.iter().flatten().flatten().fold(0_u64, |sum, count| sum.saturating_add(*count));
    if total == 0 {
        return Err(StepsError::NothingRead.into());
    }
    if total > LARGEST_COUNT {
        return Err(CountError::TooLarge { value: total }.into());
    }
    let mut apart = named.to_vec();
    apart.sort();
    apart.dedup();
    if !named.is_empty() && (named.len() != grades || apart.len() != grades) {
        return Err(StepsError::AnswerNames { names: apart.len(), grades }.into());
    }
    Ok(match (named.is_empty(), grades) {
        (false, _) => named.to_vec(),
        (true, 2) => vec!["yes".to_owned(), "no".to_owned()],
        (true, _) => (0..grades).map(|grade| grade.to_string()).collect(),
    })
}

fn as_numbers(tray: &[Vec<u64>]) -> Table {
    tray.iter().map(|row| row.iter().map(|count| *count as f64).collect()).collect()
}

fn sum(tables: &[Table], grades: usize) -> Table {
    let mut all = vec![vec![0.0; grades]; grades];
    for table in tables {
        for (sums, row) in all.iter_mut().zip(table) {
            sums.iter_mut().zip(row).for_each(|(sum, count)| *sum += count);
        }
    }
    all
}

fn less(whole: &Table, one: &Table) -> Table {
    let rows = whole.iter().zip(one);
    rows.map(|(all, part)| all.iter().zip(part).map(|(all, part)| all - part).collect()).collect()
}

/// Plants on which both agree, of all.
fn same_of_all(tray: &[Vec<u64>]) -> (u64, u64) {
    let same = tray.iter().enumerate().filter_map(|(at, row)| row.get(at)).sum();
    (same, tray.iter().flatten().sum())
}

type Limits = Option<(f64, f64)>;

fn kappa_limits(kappa: &Kappa, without: &[Table], options: &AgreementOptions) -> (Option<f64>, Limits) {
    let Some(value) = kappa.value else { return (None, None) };
    let held = |(low, high): (f64, f64)| (low.max(-1.0), high.min(1.0));
    if without.is_empty() {
        let z = normal::isf(0.5 * (1.0 - options.confidence));
        // Where all or none agree the formula gives 0, which is no certainty.
        let se = kappa.se.filter(|se| *se > 1e-9);
        return (se, se.map(|se| held((value - z * se, value + z * se))));
    }
    let left: Vec<Option<f64>> = without.iter().map(|table| kappa_of(table, options.weights).value).collect();
    let se = standard_error(&left).filter(|se| *se > 1e-9);
    (se, se.map(|se| held(limits(value, se, without.len() as f64 - 1.0, options.confidence))))
}

/// What is called so by both, by the first alone and by the second alone, and all plants.
fn called(table: &Table, at: usize) -> [f64; 4] {
    let row: f64 = table.get(at).into_iter().flatten().sum();
    let column: f64 = table.iter().filter_map(|row| row.get(at)).sum();
    let both = table.get(at).and_then(|row| row.get(at)).copied().unwrap_or_default();
    [both, row - both, column - both, table.iter().flatten().sum()]
}

fn grade(
    at: usize,
    answer: String,
    whole: &Table,
    without: &[Table],
    options: &AgreementOptions,
) -> Result<GradeAgreement> {
    let [both, first, second, all] = called(whole, at);
    let difference = (second - first) / all;
    let ends = if without.is_empty() {
        let neither = (all - both - first - second) as u64;
        let table = [[both as u64, first as u64], [second as u64, neither]];
        let found = paired(table, PairedMethod::Tango, options.confidence)?.numbers;
        Some((found.low, found.high))
    } else {
        let left: Vec<Option<f64>> = without
            .iter()
            .map(|table| {
                let [_, first, second, all] = called(table, at);
                (all > 0.0).then(|| (second - first) / all)
            })
            .collect();
        let se = standard_error(&left).filter(|se| *se > 1e-9);
        se.map(|se| limits(difference, se, without.len() as f64 - 1.0, options.confidence))
            .map(|(low, high)| (low.max(-1.0), high.min(1.0)))
    };
    let either = 2.0 * both + first + second;
    Ok(GradeAgreement {
        answer,
        agreed: (either > 0.0).then(|| 2.0 * both / either),
        first: (both + first) / all,
        second: (both + second) / all,
        difference,
        low: ends.map(|ends| ends.0),
        high: ends.map(|ends| ends.1),
    })
}
