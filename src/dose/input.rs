//! From a trial to the trays of each curve: what is asked, what is refused, what is noted.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::bays::CurveBays;
use super::blocks::{CurveBlocks, Places};
use super::candidates::Asked;
use super::held::Gathered;
use super::layers::given_to;
use super::over::CurvePlaces;
use super::shape::Shape;
use crate::answer::Note;
use crate::compare::{code_of, column};
use crate::error::{CountError, DoseError, Error, Result, StrengthError};
use crate::estimate::check_level;
use crate::math::irls::Link;
use crate::report::Spoken;
use crate::trial::{Factor, Outcome, UnitKind, Units, unit_called};
use crate::units::{Strength, Substance, Unit};

/// How differences between trays of one strength enter a curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CurveTrays {
    /// Counts divided by the design effect of their strength's trays, with one correlation for all curves.
    #[default]
    Auto,
    /// Counts divided by one dispersion: Pearson's, around rates of their own for all strengths.
    Quasi,
    /// A beta law of the trays' rates with one correlation for each curve, by maximum likelihood.
    BetaBinomial,
    /// Normal effects of trays on the log odds with one standard deviation for each curve, by maximum likelihood.
    Random,
    /// Cuttings as if independent: asked for, and marked.
    Ignore,
}

impl CurveTrays {
    /// The name that `trays=` accepts.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Auto => "auto",
            Self::Quasi => "quasi",
            Self::BetaBinomial => "beta-binomial",
            Self::Random => "random",
            Self::Ignore => "ignore",
        }
    }

    /// True for the laws that are fitted by maximum likelihood.
    #[must_use]
    pub fn is_law(self) -> bool {
        matches!(self, Self::BetaBinomial | Self::Random)
    }
}

/// What becomes of blocks, and of bays where strengths are laid out within them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BlocksUse {
    /// Taken out as shifts of the log odds where each strength stands in several.
    #[default]
    Auto,
    /// Their differences count as spread between trays.
    Spread,
}

/// Options of [`strength_curve`](super::strength_curve).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct CurveOptions {
    /// The treatment that holds the strengths.
    pub column: String,
    /// Columns whose levels get a curve each.
    pub within: Vec<String>,
    /// Columns whose levels share one curve, each with a height of its own: a shift of the log odds that is taken out.
    pub common: Vec<String>,
    /// Levels of other treatments to stay within.
    pub at: BTreeMap<String, String>,
    /// A shape by name, or "auto".
    pub shape: String,
    /// Link of the rising and falling shapes.
    pub link: Link,
    /// Confidence level, a proportion.
    pub level: f64,
    /// Difference of take rates (a proportion) from the best: the range holds strengths not shown to be more than so many fewer.
    pub margin: f64,
    /// Share of the best take that is adequate.
    pub share: f64,
    /// `d0` in `ln(1 + d / d0)`; the lowest strength above 0 when not given.
    pub shift: Option<f64>,
    /// How trays enter.
    pub trays: CurveTrays,
    /// What becomes of blocks.
    pub blocks: BlocksUse,
    /// Trials drawn for bootstrap limits; none when 0.
    pub bootstrap: u64,
    /// Seed of the drawn trials.
    pub seed: u64,
    /// What the curve is of.
    pub outcome: Outcome,
}

impl Default for CurveOptions {
    fn default() -> Self {
        Self {
            column: "strength".to_owned(),
            within: Vec::new(),
            common: Vec::new(),
            at: BTreeMap::new(),
            shape: "auto".to_owned(),
            link: Link::Logit,
            level: 0.95,
            margin: 0.05,
            share: 0.95,
            shift: None,
            trays: CurveTrays::Auto,
            blocks: BlocksUse::Auto,
            bootstrap: 0,
            seed: 1,
            outcome: Outcome::Take,
        }
    }
}

impl CurveOptions {
    /// Checks the numbers and the name of the shape.
    pub(super) fn check(&self) -> Result<Asked> {
        check_level(self.level)?;
        if !(self.margin > 0.0 && self.margin < 1.0) {
            return Err(CountError::Margin { value: self.margin }.into());
        }
        if !(self.share > 0.0 && self.share < 1.0) {
            return Err(CountError::OutOfRange { name: "share", value: self.share, low: 0.0, high: 1.0 }.into());
        }
        if let Some(value) = self.shift.filter(|shift| !(shift.is_finite() && *shift > 0.0)) {
            return Err(DoseError::Shift { value }.into());
        }
        if self.shape == "auto" { Ok(Asked::Auto) } else { self.shape.parse::<Shape>().map(Asked::One) }
    }
}

/// One experimental unit: a tray, or a whole plot where strengths were given to those.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TrayCount {
    /// Strength, in the trial's unit.
    pub strength: f64,
    /// Cuttings rooted.
    pub rooted: u64,
    /// Cuttings stuck.
    pub stuck: u64,
    /// Its block among [`CurveInput::blocks`], where those are taken out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub block: Option<u32>,
}

/// The trays of one curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CurveGroup {
    /// Its levels of the columns in `within`; empty for the one curve of a trial.
    pub levels: Vec<String>,
    /// Its trays.
    pub trays: Vec<TrayCount>,
}

impl CurveGroup {
    /// "K12", "K12, dark days 21" by the columns that its levels are of, or "all trays".
    #[must_use]
    pub fn name(&self, within: &[String]) -> String {
        if self.levels.is_empty() {
            return "all trays".to_owned();
        }
        let said = |(at, level): (usize, &String)| match within.get(at) {
            Some(column) => Spoken::plain(column).group(level),
            None => level.clone(),
        };
        self.levels.iter().enumerate().map(said).collect::<Vec<_>>().join(", ")
    }
}

/// All that decides a strength curve: trays and options. A record of it gives the same curve again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CurveInput {
    /// What the strengths mean, where it was declared.
    #[serde(default)]
    pub strength: Option<Strength>,
    /// Unit of the strengths, empty where none was declared.
    pub unit: String,
    /// True when trays are counted.
    pub counted: bool,
    /// True when no trays were recorded.
    pub pooled: bool,
    /// "tray", the whole plot's column, or "cutting".
    pub unit_of: String,
    /// What one unit is called where no trays were recorded, "mother plant"; empty where units are trays.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub called: String,
    /// Blocks that are taken out.
    #[serde(default)]
    pub blocks: Option<CurveBlocks>,
    /// Bays that carry the level of the curves, where a treatment beside the strengths was given to whole bays.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bays: Option<CurveBays>,
    /// Places over which takes hold, where some are taken out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub places: Option<CurvePlaces>,
    /// The curves' trays.
    pub groups: Vec<CurveGroup>,
    /// What was noted about the design.
    pub notes: Vec<Note>,
    /// The options.
    pub options: CurveOptions,
}

impl CurveInput {
    /// The names of the curves, in their order.
    pub(super) fn names(&self) -> Vec<String> {
        self.groups.iter().map(|group| group.name(&self.options.within)).collect()
    }
}

/// Gathers the trays of every curve.
///
/// # Errors
/// A choice error for unknown columns, levels or shapes; [`DoseError`] for strengths that cannot be put on one axis;
/// [`StrengthError::MixedSubstance`] where one curve would mix substances.
pub(super) fn gather(units: &Units, strength: Option<&Strength>, options: &CurveOptions) -> Result<CurveInput> {
    options.check()?;
    let treatment = column(units, &options.column)?;
    let numbers = strengths(treatment)?;
    let within: Vec<&Factor> = options.within.iter().map(|name| column(units, name)).collect::<Result<_>>()?;
    let mut kept: Vec<usize> = (0..units.len()).filter(|unit| units.stuck.get(*unit).is_some_and(|m| *m > 0)).collect();
    for (name, level) in &options.at {
        let factor = column(units, name)?;
        let code = code_of(factor, level)?;
        kept.retain(|unit| factor.codes.get(*unit) == Some(&code));
    }
    if kept.is_empty() {
        return Err(DoseError::NoTrays { place: String::new() }.into());
    }
    let common = sharing(units, options, &kept)?;
    let mut notes = others(units, treatment, &[within.clone(), common.clone()].concat(), &kept)?;
    let counted = units.kind == UnitKind::Tray && options.trays != CurveTrays::Ignore;
    if units.kind != UnitKind::Tray && !matches!(options.trays, CurveTrays::Auto | CurveTrays::Ignore) {
        return Err(DoseError::LawWithoutTrays { trays: options.trays.name() }.into());
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
        notes,
        options: options.clone(),
    })
}

/// The same refusal with what another question offers where a further treatment differs.
pub(super) fn offering<T>(found: Result<T>, offered: &'static str) -> Result<T> {
    found.map_err(|error| match error {
        Error::Dose(DoseError::OtherTreatment { column, level, .. }) => {
            DoseError::OtherTreatment { column, level, offered }.into()
        }
        other => other,
    })
}

/// The trays with these levels of the columns in `within`.
fn of_key(within: &[&Factor], key: &[u32], kept: &[usize]) -> Vec<usize> {
    let own = |unit: &&usize| within.iter().zip(key).all(|(factor, code)| factor.codes.get(**unit) == Some(code));
    kept.iter().filter(own).copied().collect()
}

/// The columns whose levels share one curve; their levels must be of one substance in one unit.
fn sharing<'a>(units: &'a Units, options: &CurveOptions, kept: &[usize]) -> Result<Vec<&'a Factor>> {
    let common: Vec<&Factor> = options.common.iter().map(|name| column(units, name)).collect::<Result<_>>()?;
    for one in &common {
        let named = |code: u32| one.levels.get(code as usize).cloned().unwrap_or_default();
        let names: Vec<String> = levels_of(one, kept).into_iter().map(named).collect();
        refuse_mixed(&one.name, &names)?;
    }
    Ok(common)
}

/// Questions beside the strength curve know effective counts only.
pub(super) fn known_law(options: &CurveOptions, question: &'static str) -> Result<()> {
    if matches!(options.trays, CurveTrays::Auto | CurveTrays::Ignore) {
        return Ok(());
    }
    Err(DoseError::LawOfQuestion { trays: options.trays.name(), question }.into())
}

/// The levels of a treatment as numbers of 0 or more.
pub(super) fn strengths(treatment: &Factor) -> Result<Vec<f64>> {
    let Some(numbers) = &treatment.numbers else {
        let level = treatment.levels.iter().find(|level| level.trim().parse::<f64>().is_err()).cloned();
        return Err(DoseError::NotNumbers { column: treatment.name.clone(), level: level.unwrap_or_default() }.into());
    };
    match numbers.iter().find(|value| !(value.is_finite() && **value >= 0.0)) {
        Some(value) => Err(DoseError::Negative { column: treatment.name.clone(), value: *value }.into()),
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
            Err(DoseError::OneStrength { place, strength }.into())
        }
        Some(_) => Ok(()),
        None => Err(DoseError::NoTrays { place: format!(" of {name}") }.into()),
    }
}

/// The levels of a factor among some units.
fn levels_of(factor: &Factor, units: &[usize]) -> Vec<u32> {
    let mut codes: Vec<u32> = units.iter().filter_map(|unit| factor.codes.get(*unit).copied()).collect();
    codes.sort_unstable();
    codes.dedup();
    codes
}

/// Refuses what one curve must not mix, and notes what goes along with strength.
fn others(units: &Units, treatment: &Factor, within: &[&Factor], kept: &[usize]) -> Result<Vec<Note>> {
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
                return Err(DoseError::OtherTreatment {
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
            Err(DoseError::MixedUnits { column: column.to_owned(), first, second }.into())
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
fn carrier(strength: Option<&Strength>, groups: &[CurveGroup], notes: &mut Vec<Note>) {
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
pub(super) fn one_substance(input: &CurveInput) -> Result<()> {
    for (at, column) in input.options.within.iter().enumerate() {
        let names: Vec<String> = input.groups.iter().filter_map(|group| group.levels.get(at).cloned()).collect();
        refuse_mixed(column, &names)?;
    }
    Ok(())
}
