//! What goes along with the strengths of a curve: other treatments, substances, solvents.

use std::collections::BTreeMap;

use super::options::CurveOptions;
use super::trays::{CurveGroup, CurveInput};
use crate::answer::Note;
use crate::compare::column;
use crate::error::{CurveError, Result, StrengthError};
use crate::report::join;
use crate::trial::{Factor, Units, same_shares};
use crate::units::{Strength, Substance, Unit};

/// The columns whose levels share one curve; their levels must be of one substance in one unit.
pub(super) fn sharing<'a>(units: &'a Units, options: &CurveOptions, kept: &[usize]) -> Result<Vec<&'a Factor>> {
    let common: Vec<&Factor> = options.common.iter().map(|name| column(units, name)).collect::<Result<_>>()?;
    for one in &common {
        let named = |code: u32| one.levels.get(code as usize).cloned().unwrap_or_default();
        let names: Vec<String> = levels_of(one, kept).into_iter().map(named).collect();
        refuse_mixed(&one.name, &names)?;
    }
    Ok(common)
}

/// The levels of a factor among some units.
fn levels_of(factor: &Factor, units: &[usize]) -> Vec<u32> {
    let mut codes: Vec<u32> = units.iter().filter_map(|unit| factor.codes.get(*unit).copied()).collect();
    codes.sort_unstable();
    codes.dedup();
    codes
}

/// Refuses what one curve must not mix, and notes what goes along with strength.
pub(super) fn others(units: &Units, treatment: &Factor, within: &[&Factor], kept: &[usize]) -> Result<Vec<Note>> {
    let mut notes = Vec::new();
    for one in &units.treatments {
        if one.name == treatment.name || within.iter().any(|factor| factor.name == one.name) {
            continue;
        }
        let codes = levels_of(one, kept);
        if codes.len() < 2 {
            continue;
        }
        let name = |code: u32| one.levels.get(code as usize).cloned().unwrap_or_default();
        let names: Vec<String> = codes.iter().map(|code| name(*code)).collect();
        refuse_mixed(&one.name, &names)?;
        match alongside(one, treatment, kept) {
            Some(note) => notes.push(note),
            None => {
                return Err(CurveError::OtherTreatment {
                    column: one.name.clone(),
                    level: name(codes.first().copied().unwrap_or(0)),
                    offered: "name it in within= for a curve each, in common= for one curve of all, or ",
                }
                .into());
            }
        }
    }
    Ok(notes)
}

/// That what shares a curve lies in different shares over the strengths or the curves.
pub(super) fn uneven(treatment: &Factor, within: &[&Factor], common: &[&Factor], kept: &[usize]) -> Option<Note> {
    let by: Vec<&Factor> = std::iter::once(treatment).chain(within.iter().copied()).collect();
    let names = |factors: &[&Factor]| join(&factors.iter().map(|one| one.name.replace('_', " ")).collect::<Vec<_>>());
    let odd: Vec<&Factor> = common.iter().copied().filter(|one| !same_shares(&by, &[*one], kept)).collect();
    (!odd.is_empty()).then(|| {
        let text = format!(
            "The levels of {} hold {} in different shares, so part of what parts these takes is the mix. A curve for each, or a model, compares like with like.",
            names(&by),
            names(&odd)
        );
        Note::new("uneven_mix", text)
    })
}

fn refuse_mixed(column: &str, names: &[String]) -> Result<()> {
    let known = |name: &String| match Substance::named(name, None) {
        Ok(Substance::Other { .. }) | Err(_) => None,
        Ok(substance) => Some(substance),
    };
    let substances: Vec<Substance> = names.iter().filter_map(known).collect();
    if let Some((first, second)) = differing(&substances) {
        return Err(StrengthError::MixedSubstance { first: first.to_string(), second: second.to_string() }.into());
    }
    let units: Vec<Unit> = names.iter().filter_map(|name| name.parse().ok()).collect();
    match differing(&units) {
        Some((first, second)) => {
            let (first, second) = (first.to_string(), second.to_string());
            Err(CurveError::MixedUnits { column: column.to_owned(), first, second }.into())
        }
        None => Ok(()),
    }
}

/// The first entry and the first that is not the same.
fn differing<T: PartialEq>(all: &[T]) -> Option<(&T, &T)> {
    let first = all.first()?;
    all.iter().find(|one| *one != first).map(|second| (first, second))
}

/// A treatment that has one level at each strength: the two cannot be told apart.
fn alongside(one: &Factor, treatment: &Factor, kept: &[usize]) -> Option<Note> {
    let mut at: BTreeMap<u32, u32> = BTreeMap::new();
    for unit in kept {
        let (own, strength) = (*one.codes.get(*unit)?, *treatment.codes.get(*unit)?);
        if *at.entry(strength).or_insert(own) != own {
            return None;
        }
    }
    let zero = treatment.numbers.as_ref()?.iter().position(|value| *value == 0.0).map(|code| code as u32);
    let name = |code: u32| one.levels.get(code as usize).cloned().unwrap_or_default();
    let mut above: Vec<u32> = at.iter().filter(|(strength, _)| Some(**strength) != zero).map(|(_, own)| *own).collect();
    above.sort_unstable();
    above.dedup();
    let control = zero.and_then(|zero| at.get(&zero)).copied();
    Some(match (control, above.as_slice()) {
        (Some(control), [other]) if control != *other => Note::new(
            "solvent_differs",
            format!(
                "Strength 0 had {} {:?} and the other strengths {:?}: what the curve does between 0 and the lowest strength is not the hormone's alone.",
                one.name,
                name(control),
                name(*other)
            ),
        ),
        _ => Note::new(
            "goes_with_strength",
            format!(
                "{} has one level at each strength, so its effect cannot be told from that of the strength.",
                one.name
            ),
        ),
    })
}

/// Alcohol in the mix and a control: the control must have had the same.
pub(super) fn carrier(strength: Option<&Strength>, groups: &[CurveGroup], notes: &mut Vec<Note>) {
    let Some(carrier) = strength.and_then(Strength::carrier) else { return };
    let plain = carrier.to_lowercase();
    let alcohol = ["ethanol", "alcohol", "propanol", "methanol"].iter().any(|word| plain.contains(word));
    let zero = groups.iter().flat_map(|group| &group.trays).any(|tray| tray.strength == 0.0);
    if alcohol && zero && notes.iter().all(|note| note.code != "solvent_differs") {
        notes.push(Note::new(
            "control_solvent",
            format!("The strengths were made up in {carrier}: strength 0 tells the hormone's effect only if it had the same {carrier}."),
        ));
    }
}

/// Refuses curves of several substances or units for comparison: their strengths do not share one axis.
pub(crate) fn one_substance(input: &CurveInput) -> Result<()> {
    for (at, column) in input.options.within.iter().enumerate() {
        let names: Vec<String> = input.groups.iter().filter_map(|group| group.levels.get(at).cloned()).collect();
        refuse_mixed(column, &names)?;
    }
    Ok(())
}
