//! The interaction of a treatment with another, as a model of the same trays tests it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::figures::{Changing, DifferenceAt, HighestAt};
use crate::compare::named::{code_of, column};
use crate::compare::numbers::CompareOptions;
use crate::compare::strengths::strengths;
use crate::control::Control;
use crate::effects::{Adjustment, EffectTest, adjusted_p, effect_test};
use crate::error::{Error, Result};
use crate::models::{Model, ModelSpec, TrayMode};
use crate::rates::TraysUse;
use crate::trial::{Factor, UnitKind, Units, cells};

/// Treatments of more levels are not asked about: their interactions would rest on few trays a level.
const MOST_LEVELS: usize = 12;
/// Dealing trays out again plays no part in the limits at each level.
const DEALT: u64 = 99;

/// Whether the difference between two levels of `factor` changes with any other treatment that varies in the trays compared.
///
/// Each other treatment of at most 12 levels, two of which hold both levels, is asked about by a model of the trays at those two levels
/// and within `at`, with the two treatments, their interaction and further treatments added ([`Model::what_matters`](crate::models::Model::what_matters)); the P
/// values are adjusted after Holm. Where one is below 5 % the difference at each level of the other treatment is given with its limits. Empty
/// without trays, and where a model cannot be fitted or has no degrees of freedom for its error.
///
/// # Errors
/// As [`strengths`] for unknown columns and levels; [`Error::Interrupted`] when stopped.
///
/// # References
/// Nelder JA (1977), J. R. Stat. Soc. A 140:48-77; Holm S (1979), Scand. J. Stat. 6:65-70.
///
/// ```
/// use rootling::compare::{CompareOptions, changing};
/// use rootling::trial::{Factor, UnitKind, Units};
/// let factor = |name: &str, levels: [&str; 2], codes: [u32; 12]| Factor {
///     name: name.into(), levels: levels.map(String::from).to_vec(), numbers: None, codes: codes.to_vec(),
/// };
/// let units = Units {
///     kind: UnitKind::Tray, rooted: vec![13, 14, 12, 5, 6, 4, 5, 4, 6, 10, 12, 11], stuck: vec![20; 12],
///     treatments: vec![
///         factor("strength", ["2000", "8000"], [0, 0, 0, 1, 1, 1, 0, 0, 0, 1, 1, 1]),
///         factor("rootstock", ["K17", "K30"], [0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1]),
///     ],
///     tray: None, block: None, whole_plot: None, season: None, earlier: None, stock_plant: None, covariates: vec![],
/// };
/// let control = rootling::control::Control::new();
/// let found = changing(&units, "strength", ("2000", "8000"), &CompareOptions::default(), &control)?;
/// assert!(found[0].treatment == "rootstock" && found[0].shown());
/// assert!(found[0].differences[0].value < 0.0 && found[0].differences[1].value > 0.0);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn changing(
    units: &Units,
    factor: &str,
    (first, second): (&str, &str),
    options: &CompareOptions,
    control: &Control,
) -> Result<Vec<Changing>> {
    let treatment = column(units, factor)?;
    let codes = [code_of(treatment, first)?, code_of(treatment, second)?];
    let asking = Asking { units, treatment, options, control };
    let mut found = asking.tests(&codes)?;
    for (other, one) in found.iter_mut().filter(|(_, one)| one.shown()) {
        for level in asking.holding(other, &codes) {
            one.differences.extend(asking.difference(other, level, codes)?);
        }
    }
    Ok(found.into_iter().map(|(_, one)| one).collect())
}

/// The same of all levels of `factor` together: what is highest at each level of the other treatment stands beside, and the difference
/// between two levels where each is shown to be above the other somewhere.
///
/// # Errors
/// As [`changing`].
pub fn changing_levels(
    units: &Units,
    factor: &str,
    options: &CompareOptions,
    control: &Control,
) -> Result<Vec<Changing>> {
    let treatment = column(units, factor)?;
    let asking = Asking { units, treatment, options, control };
    let codes = levels_of(treatment, &asking.within(&[])?);
    if codes.len() > MOST_LEVELS {
        return Ok(Vec::new());
    }
    let mut found = asking.tests(&codes)?;
    for (other, one) in found.iter_mut().filter(|(_, one)| one.shown()) {
        let tops = asking.highest(other, &codes)?;
        one.differences = asking.opposing(other, &tops)?;
        let name = |of: &Factor, code: u32| of.levels.get(code as usize).cloned().unwrap_or_default();
        let highest = |(level, code, value): (u32, u32, f64)| HighestAt {
            level: name(other, level),
            highest: name(treatment, code),
            value,
        };
        one.highest = tops.into_iter().map(highest).collect();
    }
    Ok(found.into_iter().map(|(_, one)| one).collect())
}

/// What is asked about.
struct Asking<'a> {
    units: &'a Units,
    treatment: &'a Factor,
    options: &'a CompareOptions,
    control: &'a Control,
}

impl<'a> Asking<'a> {
    /// The units with cuttings within `at`, at the given levels of the treatment; at any where none is given.
    fn within(&self, codes: &[u32]) -> Result<Vec<usize>> {
        let set = |unit: &usize| self.units.stuck.get(*unit).is_some_and(|stuck| *stuck > 0);
        let asked =
            |unit: &usize| codes.is_empty() || self.treatment.codes.get(*unit).is_some_and(|code| codes.contains(code));
        let mut kept: Vec<usize> = (0..self.units.len()).filter(|unit| set(unit) && asked(unit)).collect();
        for (name, value) in &self.options.at {
            let other = column(self.units, name)?;
            let code = code_of(other, value)?;
            kept.retain(|unit| other.codes.get(*unit) == Some(&code));
        }
        Ok(kept)
    }

    /// The levels of another treatment that hold at least two of the treatment's.
    fn holding(&self, other: &Factor, codes: &[u32]) -> Vec<u32> {
        let mut held: BTreeMap<u32, BTreeSet<u32>> = BTreeMap::new();
        let kept = self.within(codes).unwrap_or_default();
        for unit in cells(&[other, self.treatment], &kept).firsts.iter().filter_map(|first| kept.get(*first)) {
            if let (Some(level), Some(own)) = (other.codes.get(*unit), self.treatment.codes.get(*unit)) {
                held.entry(*level).or_default().insert(*own);
            }
        }
        held.into_iter().filter(|(_, own)| own.len() > 1).map(|(level, _)| level).collect()
    }

    /// The other treatments that can be asked about, with their tests.
    fn tests(&self, codes: &[u32]) -> Result<Vec<(&'a Factor, Changing)>> {
        if self.units.kind != UnitKind::Tray || self.options.trays != TraysUse::Auto {
            return Ok(Vec::new());
        }
        let kept = self.within(codes)?;
        let free = |one: &&Factor| one.name != self.treatment.name && !self.options.at.contains_key(&one.name);
        let few = |one: &&Factor| (2..=MOST_LEVELS).contains(&levels_of(one, &kept).len());
        let others: Vec<&Factor> = self.units.treatments.iter().filter(free).filter(few).collect();
        let mut found: Vec<(&Factor, Changing)> = Vec::new();
        for other in &others {
            let levels = self.holding(other, codes);
            if levels.len() < 2 {
                continue;
            }
            let inside = |unit: &&usize| other.codes.get(**unit).is_some_and(|code| levels.contains(code));
            let inside: Vec<usize> = kept.iter().filter(inside).copied().collect();
            // Without trays plants would be the units.
            let named = self.units.stock_plant.is_some();
            let part = if named { self.units.clone().only(&inside) } else { self.units.without_names(&inside) };
            let test = spared(self.interaction(&Arc::new(part), other, &others))?.flatten();
            found.extend(test.and_then(|test| figures(other, &test)).map(|one| (*other, one)));
        }
        let raw: Vec<f64> = found.iter().map(|(_, one)| one.p).collect();
        let adjusted = adjusted_p(&raw, Adjustment::Holm, self.control)?;
        found.iter_mut().zip(adjusted).for_each(|((_, one), p)| one.p_adjusted = p);
        Ok(found)
    }

    /// The interaction, where the trays give the model an error.
    fn interaction(&self, part: &Arc<Units>, other: &Factor, others: &[&Factor]) -> Result<Option<EffectTest>> {
        let pair = [self.treatment.name.as_str(), other.name.as_str()];
        let varies = |one: &&&Factor| {
            one.name != other.name
                && part
                    .factor(&one.name)
                    .is_some_and(|own| own.codes.iter().any(|code| own.codes.first() != Some(code)))
        };
        let further = others.iter().filter(varies).map(|one| one.name.as_str());
        let effects: Vec<&str> = pair.into_iter().chain(further).collect();
        let interactions = vec![pair.map(str::to_owned).to_vec()];
        let spec = ModelSpec { interactions, outcome: self.options.outcome, ..ModelSpec::of(&effects) };
        self.control.within(|| {
            let model = Model::fit_until(part, &spec, &Arc::new(Control::new()))?;
            if model.trays == TrayMode::Effective { effect_test(&model, &pair) } else { Ok(None) }
        })
    }

    /// The difference at one level of another treatment, as a comparison there alone gives it.
    fn difference(&self, other: &Factor, level: u32, codes: [u32; 2]) -> Result<Option<DifferenceAt>> {
        let name = |of: &Factor, code: u32| of.levels.get(code as usize).cloned().unwrap_or_default();
        let [first, second] = codes.map(|code| name(self.treatment, code));
        let level = name(other, level);
        let mut options = CompareOptions { randomisations: DEALT, ..self.options.clone() };
        options.at.insert(other.name.clone(), level.clone());
        let found = strengths(self.units, &self.treatment.name, &first, &second, &options, &self.control.apart());
        let found = spared(found)?.map(|answer| answer.numbers);
        Ok(found.map(|one| DifferenceAt { level, first, second, value: one.value, low: one.low, high: one.high }))
    }

    /// The level of the treatment with the highest rate at each level of another, with that rate.
    fn highest(&self, other: &Factor, codes: &[u32]) -> Result<Vec<(u32, u32, f64)>> {
        let mut sums: BTreeMap<u32, BTreeMap<u32, (u64, u64)>> = BTreeMap::new();
        for unit in self.within(codes)? {
            let levels = other.codes.get(unit).zip(self.treatment.codes.get(unit));
            if let (Some((level, own)), Some(count)) = (levels, self.units.count(unit)) {
                let sum = sums.entry(*level).or_default().entry(*own).or_default();
                *sum = (sum.0 + count.rooted, sum.1 + count.stuck);
            }
        }
        let top = |(level, held): (u32, BTreeMap<u32, (u64, u64)>)| {
            let rates = held.into_iter().map(|(own, (rooted, stuck))| (own, rooted as f64 / stuck as f64));
            // Of equal rates the first.
            rates.reduce(|best, one| if one.1 > best.1 { one } else { best }).map(|(own, rate)| (level, own, rate))
        };
        let several = self.holding(other, codes);
        Ok(sums.into_iter().filter(|(level, _)| several.contains(level)).filter_map(top).collect())
    }

    /// The differences between two levels that are each highest somewhere, at those two levels of the other treatment, where both are shown.
    fn opposing(&self, other: &Factor, tops: &[(u32, u32, f64)]) -> Result<Vec<DifferenceAt>> {
        for (at, (here, first, _)) in tops.iter().enumerate() {
            for (there, second, _) in tops.iter().skip(at + 1).filter(|(_, second, _)| second != first) {
                let pair = [*first.min(second), *first.max(second)];
                let mut both = Vec::new();
                for level in [*here, *there] {
                    both.extend(self.difference(other, level, pair)?);
                }
                let directions: Vec<i8> = both.iter().map(DifferenceAt::direction).collect();
                if directions.contains(&1) && directions.contains(&-1) {
                    return Ok(both);
                }
            }
        }
        Ok(Vec::new())
    }
}

/// Nothing where it cannot be found, since the question asked has its answer without; only a stop is handed on.
fn spared<T>(found: Result<T>) -> Result<Option<T>> {
    match found {
        Ok(one) => Ok(Some(one)),
        Err(Error::Interrupted) => Err(Error::Interrupted),
        Err(_) => Ok(None),
    }
}

fn figures(other: &Factor, test: &EffectTest) -> Option<Changing> {
    let (p, statistic, error_df) = (test.p?, test.statistic?, test.error_df?);
    (p.is_finite() && (0.0..=1.0).contains(&p)).then(|| Changing {
        treatment: other.name.clone(),
        test: test.test.clone(),
        statistic,
        df: test.df,
        error_df,
        p,
        p_adjusted: p,
        differences: Vec::new(),
        highest: Vec::new(),
    })
}

/// The codes of a column that occur.
fn levels_of(factor: &Factor, kept: &[usize]) -> Vec<u32> {
    let found = cells(&[factor], kept);
    let code = |first: &usize| kept.get(*first).and_then(|unit| factor.codes.get(*unit)).copied();
    found.firsts.iter().filter_map(code).collect()
}
