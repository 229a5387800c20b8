//! Where deaths begin to rise with the strength: trials that record rooted, alive without roots and dead.
//!
//! The likelihood of the three outcomes is that of dead among stuck times that of rooted among survivors, so the two steps are
//! fitted apart and together are the fit of all three.

use serde::{Deserialize, Serialize};

use super::adequate::{Goal, goal_limits, lowest};
use super::averaged::take_counted;
use super::axis::Level;
use super::candidates::{Asked, Curve};
use super::counts::Counts;
use super::damage_words as words;
use super::figures::{Line, OneCurve, ShapeFit, StrengthLevel};
use super::input::{CurveGroup, CurveInput, CurveOptions, gather, known_law, offering};
use super::kept::FittedCurves;
use super::run::{Ready, figures, fitted, line, named_blocks, shape_fits, strengths};
use super::shape::Shape;
use crate::answer::{Answer, MadeWith, Sheet};
use crate::control::Control;
use crate::error::{CountError, CurveError, Result};
use crate::estimate::TestResult;
use crate::rates::{IntervalMethod, interval_effective};
use crate::trial::{Units, answer_of_unit};
use crate::units::Strength;

/// Options of [`damage_threshold`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct DamageOptions {
    /// Curves, level, trays and axis, as for a strength curve.
    pub curve: CurveOptions,
    /// The rise of deaths over those at the lowest strength that counts as damage, a proportion.
    pub rise: f64,
}

impl Default for DamageOptions {
    fn default() -> Self {
        Self { curve: CurveOptions::default(), rise: 0.05 }
    }
}

/// The lowest strength at which deaths have risen by the wanted size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[allow(clippy::struct_excessive_bools)] // Each is a fact of its own, and a field of the record.
pub struct Threshold {
    /// Where the averaged curve of deaths gets there; none when it does not within the tested range.
    pub value: Option<f64>,
    /// Lower limit: below it deaths have not risen by that much.
    pub low: f64,
    /// Upper limit; infinite where the tested range leaves it open.
    pub high: f64,
    /// True when both limits lie inside the tested range.
    pub located: bool,
    /// True where the steepness of a shape lies at the end of its range, so that the form alone chooses the place between two tested
    /// strengths; limits then span the tested strengths that show the rise.
    #[serde(default)]
    pub by_form: bool,
    /// True where so many died at the lowest strength already that deaths have no room for such a rise: then nothing can be said.
    #[serde(default)]
    pub no_room: bool,
    /// True where deaths have risen by that much at the lowest strength above 0 already, or the lower limit is 0: no tested strength is
    /// shown to be safe.
    #[serde(default)]
    pub from_first: bool,
}

impl Threshold {
    /// No place; below `low` deaths have not risen by that much.
    fn nowhere(low: f64) -> Self {
        Self {
            value: None,
            low,
            high: f64::INFINITY,
            located: false,
            by_form: false,
            no_room: false,
            from_first: false,
        }
    }
}

/// Deaths along the strengths of one curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DamageCurve {
    /// Its levels of the columns in `within`.
    pub levels: Vec<String>,
    /// "K12", or "all trays".
    pub name: String,
    /// Trays.
    pub n_units: u64,
    /// Cuttings.
    pub n_cuttings: u64,
    /// Where deaths have risen.
    pub threshold: Threshold,
    /// Deaths at the lowest strength, a proportion of the cuttings stuck, with limits from the averaged curve; as counted, with limits of
    /// their own, where all or none of its cuttings died.
    pub lowest: [f64; 3],
    /// Deaths at the highest strength.
    pub highest: [f64; 3],
    /// The largest rise over the lowest strength that the strengths' own limits leave possible at any other, a proportion.
    #[serde(default)]
    pub possible_rise: f64,
    /// Do deaths differ between strengths at all? A rate of its own for each against one for all.
    pub test: TestResult,
    /// Deaths at each strength, as `rooted` of `stuck`.
    pub strengths: Vec<StrengthLevel>,
    /// The shapes that deaths were fitted with.
    pub shapes: Vec<ShapeFit>,
    /// The averaged curve of deaths.
    pub line: Line,
    /// Rooted among survivors: the curve of its own; none where fewer than two strengths have survivors.
    pub survivors: Option<OneCurve>,
    /// Cuttings rooted at each strength.
    pub rooted: Vec<u64>,
}

/// Damage along the strengths of a trial.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DamageThreshold {
    /// The trays, with deaths in the place of `rooted`.
    pub input: CurveInput,
    /// The rise that counts as damage.
    pub rise: f64,
    /// The curves.
    pub curves: Vec<DamageCurve>,
    /// Degrees of freedom of the spread of deaths between trays.
    pub df: Option<f64>,
    /// Confidence level.
    pub confidence: f64,
}

/// The lowest strength at which deaths have risen by `options.rise` over those at the lowest strength tested, for each curve.
///
/// Two strengths make no curve: nothing is located from them. Where the steepness of a shape lies at the end of its range, limits span from the
/// highest tested strength whose deaths are not shown to have risen to the lowest at which they are shown to have risen by so much.
///
/// `dead` counts the cuttings of each unit that died. Deaths are fitted with the shapes flat, straight, natural response and rising,
/// weighted by Akaike's criterion; limits hold every strength that one of them allows (profile likelihood, a penalty of 1 for each
/// parameter). Rooted among survivors gets a strength curve of its own.
///
/// # Errors
/// [`CountError::OutOfRange`] unless `0 < rise < 1`; [`CurveError::DeathsOfUnits`] unless there is one count of deaths per unit; else
/// as [`strength_curve`](super::strength_curve).
///
/// # References
/// Crump KS (1984), Fundam. Appl. Toxicol. 4:854-871 (a dose by the rise of a rate over that without).
///
/// ```
/// use rootling::control::Control;
/// use rootling::curves::{DamageOptions, damage_threshold};
/// use rootling::trial::{LoadOptions, read_csv};
/// let text = b"strength,rooted,dead,stuck\n0,12,2,60\n1000,30,3,60\n2000,36,4,60\n4000,28,12,60\n8000,9,34,60\n";
/// let options = LoadOptions {
///     rooted: "rooted".into(),
///     stuck: Some("stuck".into()),
///     dead: Some("dead".into()),
///     treatments: vec!["strength".into()],
///     ..LoadOptions::default()
/// };
/// let trial = read_csv(text, &options)?;
/// let dead = trial.dead().unwrap_or_default();
/// let found = damage_threshold(trial.units(), dead, None, &DamageOptions::default(), &Control::new())?;
/// assert!(found.numbers.curves[0].threshold.value.is_some_and(|strength| strength > 1000.0 && strength < 4000.0));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn damage_threshold(
    units: &Units,
    dead: &[u64],
    strength: Option<&Strength>,
    options: &DamageOptions,
    control: &Control,
) -> Result<Answer<DamageThreshold>> {
    if !(options.rise > 0.0 && options.rise < 1.0) {
        return Err(CountError::OutOfRange { name: "rise", value: options.rise, low: 0.0, high: 1.0 }.into());
    }
    if dead.len() != units.len() {
        return Err(CurveError::DeathsOfUnits { deaths: dead.len(), units: units.len() }.into());
    }
    known_law(&options.curve, "damage_threshold")?;
    let deaths = deaths_of(units, dead);
    let alive = units.stuck.iter().zip(dead).map(|(stuck, dead)| stuck.saturating_sub(*dead)).collect();
    let alive = Units { stuck: alive, ..units.clone() };
    let offered = "name it in within= for a curve each, or ";
    let input = offering(gather(&deaths, strength, &options.curve), offered)?;
    let taken = gather(units, strength, &options.curve)?;
    // Where hardly anything survived there may be no second curve.
    let survivors = gather(&alive, strength, &options.curve).and_then(|input| FittedCurves::new(input, control));
    let survivors = survivors.and_then(|curves| figures(&curves, control)).ok();
    control.step()?;
    let found = of_deaths(&input, (&taken, survivors.map_or_else(Vec::new, |found| found.curves)), options, control)?;
    Ok(answer(found))
}

/// The deaths of units in the place of what rooted.
fn deaths_of(units: &Units, dead: &[u64]) -> Units {
    Units { rooted: dead.to_vec(), ..units.clone() }
}

/// Where deaths have risen along each curve, by its levels, and nothing else of them.
pub(super) fn located_damage(
    units: &Units,
    dead: &[u64],
    strength: Option<&Strength>,
    options: &DamageOptions,
    control: &Control,
) -> Result<Vec<(Vec<String>, Threshold)>> {
    let input = gather(&deaths_of(units, dead), strength, &options.curve)?;
    let ready = fitted(&input, Asked::Deaths, control)?;
    let one = |((_, curve), group): (&(Counts, Curve), &CurveGroup)| {
        Ok((group.levels.clone(), threshold(curve, options.rise, input.options.confidence, control)?))
    };
    ready.curves.iter().zip(&input.groups).map(one).collect()
}

fn of_deaths(
    input: &CurveInput,
    (taken, survivors): (&CurveInput, Vec<OneCurve>),
    options: &DamageOptions,
    control: &Control,
) -> Result<DamageThreshold> {
    let ready = fitted(input, Asked::Deaths, control)?;
    let level = input.options.confidence;
    let Ready { curves: all, judge, .. } = &ready;
    let mut curves = Vec::with_capacity(all.len());
    for ((counts, curve), group) in all.iter().zip(&input.groups) {
        let rooted = taken.groups.iter().find(|other| other.levels == group.levels);
        let rooted = rooted.map(|other| rooted_at(counts, other)).unwrap_or_default();
        let members = curve.counting();
        let at = |one: Option<&Level>| {
            let found = one.map(|one| take_counted(curve, &members, one, level));
            found.map_or([f64::NAN; 3], |found| [found.value, found.low, found.high])
        };
        let tested = &curve.data.levels;
        curves.push(DamageCurve {
            levels: group.levels.clone(),
            name: group.name(&input.options.within),
            n_units: counts.units(),
            n_cuttings: counts.cuttings(),
            threshold: threshold(curve, options.rise, level, control)?,
            lowest: at(tested.first()),
            highest: at(tested.last()),
            possible_rise: largest_rise(curve, level)?,
            test: differ(curve, control)?,
            strengths: strengths(counts, curve, level)?,
            shapes: shape_fits(curve, ("death rate", &input.unit), named_blocks(counts, input)),
            line: line(curve, level),
            survivors: survivors.iter().find(|one| one.levels == group.levels).cloned(),
            rooted,
        });
    }
    Ok(DamageThreshold { input: input.clone(), rise: options.rise, curves, df: judge.df, confidence: level })
}

fn rooted_at(counts: &Counts, taken: &CurveGroup) -> Vec<u64> {
    let at = |strength: &f64| {
        let own = taken.trays.iter().filter(|tray| tray.strength.total_cmp(strength).is_eq());
        own.map(|tray| tray.rooted).sum()
    };
    counts.strengths.iter().map(at).collect()
}

/// Strengths from which on there is a curve.
pub(super) const FOR_A_CURVE: usize = 3;

fn threshold(curve: &Curve, rise: f64, level: f64, control: &Control) -> Result<Threshold> {
    let members = curve.counting();
    let axis = &curve.data.axis;
    if no_room(curve, rise) {
        return Ok(Threshold { no_room: true, ..Threshold::nowhere(axis.low) });
    }
    if members.iter().all(|(member, _)| member.fitted.form.shape == Shape::Flat) {
        // One rate for all strengths rises nowhere, however few cuttings it rests on: their own limits tell.
        return Ok(Threshold::nowhere(ruled_out_up_to(curve, rise, level)?));
    }
    let (low, high) = goal_limits(curve, &members, Goal::Above(rise), level, control)?;
    let (low, high) = (low.unwrap_or(axis.low), high.unwrap_or(f64::INFINITY));
    if curve.data.levels.len() < FOR_A_CURVE {
        // Between two strengths nothing was seen: the rise is ruled out at the higher one or nowhere.
        let ruled_out = low >= axis.high * (1.0 - 1e-9);
        return Ok(Threshold::nowhere(if ruled_out { axis.high } else { axis.low }));
    }
    let rate =
        |strength: f64| members.iter().map(|(member, w)| w * member.fitted.rate(&curve.data, strength)).sum::<f64>();
    let value = lowest(rate, rate(axis.low) + rise, axis, (0.0, 1.0));
    let (mut lowest, mut highest) = value.map_or((low, high), |value| (low.min(value), high.max(value)));
    let by_form = value.is_some() && members.iter().any(|(member, _)| member.fitted.is_steepest());
    if by_form {
        let (below, above) = shown_between(curve, rise, level)?;
        (lowest, highest) = (lowest.min(below), highest.max(above));
    }
    let located = value.is_some() && highest.is_finite();
    let first = curve.data.levels.iter().map(|one| one.strength).find(|strength| *strength > 0.0);
    let from_first = axis.low <= 0.0 && value.zip(first).is_some_and(|(value, first)| value <= first || lowest <= 0.0);
    Ok(Threshold { value, low: lowest, high: highest, located, by_form, no_room: false, from_first })
}

/// True where deaths at the lowest strength leave no room for a rise.
fn no_room(curve: &Curve, rise: f64) -> bool {
    curve.data.levels.first().is_some_and(|first| first.rooted / first.stuck + rise > 1.0 + 1e-9)
}

/// The limits of the difference in deaths of every strength from the lowest, by the strengths' own limits: squared distances to both added.
///
/// # References
/// Newcombe RG (1998), Statistics in Medicine 17:873-890 (method 10).
fn rises(curve: &Curve, level: f64) -> Result<Vec<(f64, [f64; 2])>> {
    let critical = curve.judge.critical(level);
    let limits = |one: &Level| -> Result<[f64; 3]> {
        let (low, high) = interval_effective(one.rooted, one.stuck, IntervalMethod::Wilson, critical)?;
        Ok([one.rooted / one.stuck, low, high])
    };
    let Some((first, others)) = curve.data.levels.split_first() else { return Ok(Vec::new()) };
    let from = limits(first)?;
    let one = |other: &Level| -> Result<(f64, [f64; 2])> {
        let own = limits(other)?;
        let rise = own[0] - from[0];
        let (below, above) = ((own[0] - own[1]).hypot(from[2] - from[0]), (own[2] - own[0]).hypot(from[0] - from[1]));
        Ok((other.strength, [rise - below, rise + above]))
    };
    others.iter().map(one).collect()
}

/// The highest strength up to which each strength rules a rise out; the lowest strength where none does.
fn ruled_out_up_to(curve: &Curve, rise: f64, level: f64) -> Result<f64> {
    let out = rises(curve, level)?;
    let ruled = out.iter().take_while(|(_, [_, most])| *most < rise);
    Ok(ruled.last().map_or(curve.data.axis.low, |(strength, _)| *strength))
}

/// The largest rise from the lowest strength that the strengths' own limits leave possible at any other.
fn largest_rise(curve: &Curve, level: f64) -> Result<f64> {
    Ok(rises(curve, level)?.iter().map(|(_, [_, most])| *most).fold(0.0, f64::max))
}

/// The lowest tested strength whose deaths are shown to have risen by `rise`, infinite where none are, behind the highest below it whose deaths
/// are not shown to have risen at all: differences from the lowest strength, squared distances to the limits of both added.
fn shown_between(curve: &Curve, rise: f64, level: f64) -> Result<(f64, f64)> {
    let mut below = curve.data.axis.low;
    for (strength, [least, _]) in rises(curve, level)? {
        if least >= rise {
            return Ok((below, strength));
        }
        if least <= 0.0 {
            below = strength;
        }
    }
    Ok((below, f64::INFINITY))
}

fn differ(curve: &Curve, control: &Control) -> Result<TestResult> {
    let ratio = (2.0 * (curve.free - curve.flat_loglik(control)?)).max(0.0);
    let df = curve.data.levels.len() as f64 - 1.0;
    Ok(TestResult {
        method: "deaths differ between strengths".to_owned(),
        statistic: Some(if curve.judge.df.is_some() { ratio / df } else { ratio }),
        df: Some(df),
        error_df: curve.judge.df,
        p: curve.judge.tail(ratio, df),
    })
}

fn answer(found: DamageThreshold) -> Answer<DamageThreshold> {
    let options = &found.input.options;
    let made_with = MadeWith::new(&[
        ("column", options.column.clone()),
        ("within", options.within.join(", ")),
        ("rise", found.rise.to_string()),
        ("link", format!("{:?}", options.link).to_lowercase()),
        ("confidence", options.confidence.to_string()),
        ("trays", options.trays.name().to_owned()),
    ]);
    let called = found.input.called.clone();
    let answer = Answer {
        kind: "damage_threshold".to_owned(),
        details: words::details(&found),
        table: table(&found),
        sentence: words::sentence(&found),
        notes: words::notes(&found),
        methods: words::methods(&found),
        references: words::cited(),
        numbers: found,
        made_with,
    };
    answer_of_unit(&called, answer)
}

fn table(found: &DamageThreshold) -> Sheet {
    let curves = &found.curves;
    let mut table = Sheet::default();
    for (at, name) in found.input.options.within.iter().enumerate() {
        table.text(name, curves.iter().map(|curve| curve.levels.get(at).cloned().unwrap_or_default()));
    }
    let number = |of: fn(&DamageCurve) -> f64| curves.iter().map(of).collect::<Vec<f64>>();
    table.text("what", curves.iter().map(|_| "damage threshold"));
    table.maybe("value", curves.iter().map(|curve| curve.threshold.value));
    // Where nothing can be said there is no limit.
    let limit = |of: fn(&DamageCurve) -> f64| {
        curves.iter().map(|curve| (!curve.threshold.no_room).then(|| of(curve))).collect::<Vec<_>>()
    };
    table.maybe("low", limit(|curve| curve.threshold.low));
    table.maybe("high", limit(|curve| curve.threshold.high));
    table.text("located", curves.iter().map(|curve| words::located(curve).to_owned()));
    table.number("rise", curves.iter().map(|_| found.rise));
    table.number("deaths_at_lowest", number(|curve| curve.lowest[0]));
    table.number("deaths_at_highest", number(|curve| curve.highest[0]));
    table.maybe("p", curves.iter().map(|curve| (!words::is_alike(curve)).then_some(curve.test.p)));
    let best = |of: fn(&OneCurve) -> f64| curves.iter().map(move |curve| curve.survivors.as_ref().map(of));
    table.maybe("best_for_survivors", best(|curve| curve.best.strength.value));
    table.whole("n_units", curves.iter().map(|curve| curve.n_units));
    table.whole("n_cuttings", curves.iter().map(|curve| curve.n_cuttings));
    table
}
