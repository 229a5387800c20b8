//! From a trial to the trays of each curve: what is asked, what is refused, what is noted.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::along::{carrier, others, sharing, uneven};
use super::bays::CurveBays;
use super::blocks::{CurveBlocks, Places};
use super::candidates::Asked;
use super::held::Gathered;
use super::layers::given_to;
use super::over::CurvePlaces;
use super::shape::Shape;
use super::stay_below::StayBelow;
use crate::answer::Note;
use crate::compare::{code_of, column};
use crate::error::{CountError, CurveError, Error, Result};
use crate::estimate::check_level;
use crate::math::regression::Link;
use crate::report::Spoken;
use crate::trial::{Factor, Outcome, UnitKind, Units, unit_called};
use crate::units::Strength;

/// How differences between trays of one strength enter a curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CurveTrays {
    /// Counts divided by the design effect of their strength's trays, with one correlation for all curves.
    #[default]
    Auto,
    /// Counts divided by one dispersion: Pearson's, around rates of their own for all strengths.
    Dispersion,
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
            Self::Dispersion => "dispersion",
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
    pub confidence: f64,
    /// Difference of take rates (a proportion) from the best: the range holds strengths not shown to be more than so many fewer.
    pub nearly: f64,
    /// Share of the best take that is adequate.
    pub enough: f64,
    /// `d0` in `ln(1 + d / d0)`; the lowest strength above 0 when not given.
    pub zero_scale: Option<f64>,
    /// How trays enter.
    pub trays: CurveTrays,
    /// What becomes of blocks.
    pub blocks: BlocksUse,
    /// Trials drawn for bootstrap limits; none when 0.
    pub draws: u64,
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
            confidence: 0.95,
            nearly: 0.05,
            enough: 0.95,
            zero_scale: None,
            trays: CurveTrays::Auto,
            blocks: BlocksUse::Auto,
            draws: 0,
            seed: 1,
            outcome: Outcome::Take,
        }
    }
}

impl CurveOptions {
    /// Checks the numbers and the name of the shape.
    pub(super) fn check(&self) -> Result<Asked> {
        check_level(self.confidence)?;
        if !(self.nearly > 0.0 && self.nearly < 1.0) {
            return Err(CountError::OutOfRange { name: "nearly", value: self.nearly, low: 0.0, high: 1.0 }.into());
        }
        if !(self.enough > 0.0 && self.enough < 1.0) {
            return Err(CountError::OutOfRange { name: "enough", value: self.enough, low: 0.0, high: 1.0 }.into());
        }
        if let Some(value) = self.zero_scale.filter(|shift| !(shift.is_finite() && *shift > 0.0)) {
            return Err(CurveError::Shift { value }.into());
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
    /// Where deaths rise along each of them, where they are recorded and that is located; empty where it is of none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub damage: Vec<Option<StayBelow>>,
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
/// A choice error for unknown columns, levels or shapes; [`CurveError`] for strengths that cannot be put on one axis;
/// [`StrengthError::MixedSubstance`] where one curve would mix substances.
pub(super) fn gather(units: &Units, strength: Option<&Strength>, options: &CurveOptions) -> Result<CurveInput> {
    options.check()?;
    let treatment = column(units, &options.column)?;
    let numbers = strengths(treatment)?;
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
pub(super) fn offering<T>(found: Result<T>, offered: &'static str) -> Result<T> {
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
pub(super) fn known_law(options: &CurveOptions, question: &'static str) -> Result<()> {
    if matches!(options.trays, CurveTrays::Auto | CurveTrays::Ignore) {
        return Ok(());
    }
    Err(CurveError::LawOfQuestion { trays: options.trays.name(), question }.into())
}

/// The levels of a treatment as numbers of 0 or more.
pub(super) fn strengths(treatment: &Factor) -> Result<Vec<f64>> {
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
