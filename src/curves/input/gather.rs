//! From a trial to the trays of each curve: what is refused, what is noted.

use std::collections::BTreeMap;

use super::along::{carrier, others, sharing, uneven};
use super::blocks::Places;
use super::held::Gathered;
use super::layers::given_to;
use super::options::{CurveOptions, CurveTrays};
use super::trays::{CurveGroup, CurveInput, TrayCount};
use crate::compare::{code_of, column};
use crate::error::{CurveError, Error, Result};
use crate::trial::{Factor, UnitKind, Units, unit_called};
use crate::units::Strength;

/// Gathers the trays of every curve.
///
/// # Errors
/// A choice error for unknown columns, levels or shapes; [`CurveError`] for strengths that cannot be put on one axis;
/// [`StrengthError::MixedSubstance`] where one curve would mix substances.
pub(crate) fn gather(units: &Units, strength: Option<&Strength>, options: &CurveOptions) -> Result<CurveInput> {
    options.check()?;
    let treatment = column(units, &options.column)?;
    let numbers = strengths(treatment)?;
    for (option, named) in [("within", &options.within), ("common", &options.common)] {
        if named.contains(&options.column) {
            return Err(CurveError::AlongItself { option, column: options.column.clone() }.into());
        }
    }
    let within: Vec<&Factor> = options.within.iter().map(|name| column(units, name)).collect::<Result<_>>()?;
    let kept = asked_about(units, options)?;
    let common = sharing(units, options, &kept)?;
    let mut notes = others(units, treatment, &[within.clone(), common.clone()].concat(), &kept)?;
    notes.extend(uneven(treatment, &within, &common, &kept));
    let counted = units.kind == UnitKind::Tray && options.trays != CurveTrays::Ignore;
    if units.kind != UnitKind::Tray && !matches!(options.trays, CurveTrays::Auto | CurveTrays::Ignore) {
        return Err(CurveError::LawWithoutTrays { trays: options.trays.name() }.into());
    }
    let (unit_of, clusters) = if counted {
        given_to(units, treatment, &kept)
    } else {
        ("cutting".to_owned(), kept.iter().map(|unit| vec![*unit]).collect())
    };
    // Where strengths were given to whole plots, these are the units, and no place is taken out.
    let single = clusters.iter().all(|cluster| cluster.len() == 1);
    let places = if single { Places::new(units, treatment, &kept, &common) } else { None };
    let mut groups: BTreeMap<Vec<u32>, Vec<TrayCount>> = BTreeMap::new();
    for cluster in &clusters {
        let block = cluster.first().and_then(|unit| places.as_ref()?.of(*unit));
        for (key, mut tray) in counts(units, treatment, &numbers, &within, cluster) {
            tray.block = block;
            groups.entry(key).or_default().push(tray);
        }
    }
    let members: Vec<Vec<usize>> = groups.keys().map(|key| of_key(&within, key, &kept)).collect();
    let label = |key: &Vec<u32>| -> Vec<String> {
        key.iter().zip(&within).filter_map(|(code, factor)| factor.levels.get(*code as usize).cloned()).collect()
    };
    let mut groups: Vec<CurveGroup> =
        groups.into_iter().map(|(key, trays)| CurveGroup { levels: label(&key), trays }).collect();
    for group in &groups {
        enough(group, options)?;
    }
    carrier(strength, &groups, &mut notes);
    let of = Gathered { units, treatment, within: &within, kept: &kept, members: &members, unit_of: &unit_of, counted };
    let held = of.hold(places.as_ref(), &mut groups, options)?;
    notes.extend(held.notes);
    Ok(CurveInput {
        strength: strength.cloned(),
        unit: strength.map(|strength| strength.unit().to_string()).unwrap_or_default(),
        counted,
        pooled: units.kind == UnitKind::Pooled,
        unit_of,
        called: if units.plants_are_units() { unit_called(units) } else { String::new() },
        blocks: held.blocks,
        bays: held.bays,
        places: held.places,
        groups,
        damage: Vec::new(),
        notes,
        options: options.clone(),
    })
}

/// The same refusal with what another question offers where a further treatment differs.
pub(crate) fn offering<T>(found: Result<T>, offered: &'static str) -> Result<T> {
    found.map_err(|error| match error {
        Error::Dose(CurveError::OtherTreatment { column, level, .. }) => {
            CurveError::OtherTreatment { column, level, offered }.into()
        }
        other => other,
    })
}

/// The trays that hold cuttings, at the levels that are kept.
fn asked_about(units: &Units, options: &CurveOptions) -> Result<Vec<usize>> {
    let mut kept: Vec<usize> = (0..units.len()).filter(|unit| units.stuck.get(*unit).is_some_and(|m| *m > 0)).collect();
    for (name, level) in &options.at {
        let factor = column(units, name)?;
        let code = code_of(factor, level)?;
        kept.retain(|unit| factor.codes.get(*unit) == Some(&code));
    }
    if kept.is_empty() {
        return Err(CurveError::NoTrays { place: String::new() }.into());
    }
    Ok(kept)
}

/// The trays with these levels of the columns in `within`.
fn of_key(within: &[&Factor], key: &[u32], kept: &[usize]) -> Vec<usize> {
    let own = |unit: &&usize| within.iter().zip(key).all(|(factor, code)| factor.codes.get(**unit) == Some(code));
    kept.iter().filter(own).copied().collect()
}

/// Questions beside the strength curve know effective counts only.
pub(crate) fn known_law(options: &CurveOptions, question: &'static str) -> Result<()> {
    if matches!(options.trays, CurveTrays::Auto | CurveTrays::Ignore) {
        return Ok(());
    }
    Err(CurveError::LawOfQuestion { trays: options.trays.name(), question }.into())
}

/// The levels of a treatment as numbers of 0 or more.
pub(crate) fn strengths(treatment: &Factor) -> Result<Vec<f64>> {
    let Some(numbers) = &treatment.numbers else {
        let level = treatment.levels.iter().find(|level| level.trim().parse::<f64>().is_err()).cloned();
        return Err(CurveError::NotNumbers { column: treatment.name.clone(), level: level.unwrap_or_default() }.into());
    };
    match numbers.iter().find(|value| !(value.is_finite() && **value >= 0.0)) {
        Some(value) => Err(CurveError::Negative { column: treatment.name.clone(), value: *value }.into()),
        None => Ok(numbers.clone()),
    }
}

/// The trays of one experimental unit, put together per curve: a whole plot counts once in each curve.
fn counts(
    units: &Units,
    treatment: &Factor,
    numbers: &[f64],
    within: &[&Factor],
    members: &[usize],
) -> BTreeMap<Vec<u32>, TrayCount> {
    let mut found: BTreeMap<Vec<u32>, TrayCount> = BTreeMap::new();
    for unit in members {
        let code = treatment.codes.get(*unit).copied().unwrap_or_default();
        let (Some(strength), Some(count)) = (numbers.get(code as usize), units.count(*unit)) else { continue };
        let key = within.iter().filter_map(|factor| factor.codes.get(*unit).copied()).collect();
        let tray = found.entry(key).or_insert(TrayCount { strength: *strength, rooted: 0, stuck: 0, block: None });
        tray.rooted += count.rooted;
        tray.stuck += count.stuck;
    }
    found
}

fn enough(group: &CurveGroup, options: &CurveOptions) -> Result<()> {
    let (column, name) = (&options.column, group.name(&options.within));
    let first = group.trays.first().map(|tray| tray.strength);
    match first {
        Some(strength) if group.trays.iter().all(|tray| tray.strength.total_cmp(&strength).is_eq()) => {
            let place = if group.levels.is_empty() { format!("column {column:?}") } else { name };
            Err(CurveError::OneStrength { place, strength }.into())
        }
        Some(_) => Ok(()),
        None => Err(CurveError::NoTrays { place: format!(" of {name}") }.into()),
    }
}
