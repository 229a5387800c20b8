//! The strengths to test next, as an answer with all its faces.

use serde::{Deserialize, Serialize};

use super::best::Located;
use super::counts::Counts;
use super::decision::{Decided, NAMED, aloud, heading, unit};
use super::input::{CurveGroup, CurveInput};
use super::kept::FittedCurves;
use super::next_strengths::{Around, Criterion, NextDesign, Plan, Why, design};
use super::outcomes::noun;

use super::stated::Withheld;
use super::words::strength;
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::control::Control;
use crate::error::{CountError, Result};
use crate::report::{cautions, facts, join, number, references, references_curves, whole, words};
use crate::trial::{Outcome, answer_of_unit};
use crate::units::plausibility;

/// Options of [`next_strengths`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct NextOptions {
    /// Trays of each curve; as many as this trial had when not given.
    pub trays: Option<u64>,
    /// Cuttings in each; as in this trial when not given.
    pub cuttings: Option<u64>,
    /// Most strengths to use.
    pub strengths: u64,
}

impl Default for NextOptions {
    fn default() -> Self {
        Self { trays: None, cuttings: None, strengths: 4 }
    }
}

/// The next trial of one curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NextCurve {
    /// Its levels of the columns in `within`.
    pub levels: Vec<String>,
    /// "K12", or "all trays".
    pub name: String,
    /// Trays to place.
    pub n_units: u64,
    /// Cuttings in each.
    pub cuttings: f64,
    /// Whether the best strength is located now.
    pub located: Located,
    /// Why the best strength is not stated now; none where it is.
    #[serde(default)]
    pub withheld: Option<Withheld>,
    /// One for each criterion that applies: the best strength where some shape has a top, the whole curve always.
    pub designs: Vec<NextDesign>,
}

/// Strengths to test next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NextStrengths {
    /// The curves.
    pub curves: Vec<NextCurve>,
    /// Unit of the strengths.
    pub unit: String,
    /// Columns whose levels have a curve each.
    pub within: Vec<String>,
    /// What one unit is called where no trays were recorded; empty where units are trays.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub called: String,
}

/// Most words of a decision that lists strengths: a hint before it has room.
const MOST_LISTED: usize = 25;

/// Strengths that a curve needs where its shape is not known beforehand, as far as trays and `strengths` allow.
const FOR_A_CURVE: usize = 4;

/// Most trays that can be placed at once.
const MOST_TRAYS: u64 = 400;

/// The strengths at which more trays would narrow the best strength most, and those that would narrow the whole curve most.
///
/// What this trial has shown counts as known: trays are added to its information, under each shape that has a say, and the criteria are
/// averaged over shapes. Strengths lie within the tested range; up to half above the highest where the best may lie there.
///
/// # Errors
/// [`CountError::OutOfRange`] for 0 or more than 400 trays, fewer than 2 strengths or 0 cuttings; else as
/// [`strength_curve_of`](super::strength_curve_of).
///
/// # References
/// Atkinson AC, Donev AN, Tobias RD (2007), Optimum Experimental Designs, with SAS, chapters 10, 17 and 18.
///
/// ```
/// use rootling::control::Control;
/// use rootling::curves::{CurveGroup, CurveInput, CurveOptions, NextOptions, TrayCount, next_strengths};
/// let counts = [(0.0, 12), (500.0, 23), (1000.0, 34), (2000.0, 43), (4000.0, 38), (8000.0, 17)];
/// let trays = counts.map(|(strength, rooted)| TrayCount { strength, rooted, stuck: 60, block: None }).to_vec();
/// let input = CurveInput {
///     strength: None,
///     unit: "mg/L".to_owned(),
///     counted: false,
///     pooled: true,
///     unit_of: "cutting".to_owned(),
///     called: String::new(),
///     blocks: None,
///     bays: None,
///     places: None,
///     groups: vec![CurveGroup { levels: Vec::new(), trays }],
///     damage: Vec::new(),
///     notes: Vec::new(),
///     options: CurveOptions::default(),
/// };
/// let found = next_strengths(&input, &NextOptions { trays: Some(8), ..NextOptions::default() }, &Control::new())?;
/// let first = &found.numbers.curves[0].designs[0];
/// assert_eq!(first.strengths.iter().map(|one| one.n_units).sum::<u64>(), 8);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn next_strengths(input: &CurveInput, options: &NextOptions, control: &Control) -> Result<Answer<NextStrengths>> {
    options.check()?;
    FittedCurves::new(input.clone(), control)?.next_strengths(options, control)
}

impl NextOptions {
    fn check(&self) -> Result<()> {
        let range = |name, value: u64, low: u64, high: u64| {
            let fine = (low..=high).contains(&value);
            let error = CountError::OutOfRange { name, value: value as f64, low: low as f64, high: high as f64 };
            if fine { Ok(()) } else { Err(crate::Error::from(error)) }
        };
        range("trays", self.trays.unwrap_or(1), 1, MOST_TRAYS)?;
        range("cuttings", self.cuttings.unwrap_or(1), 1, 100_000)?;
        range("strengths", self.strengths, 2, 20)
    }
}

impl FittedCurves {
    /// The strengths to test next, as [`next_strengths`] has them.
    ///
    /// # Errors
    /// [`CountError::OutOfRange`] for options out of range; when a fit does not settle; when asked to stop.
    pub fn next_strengths(&self, options: &NextOptions, control: &Control) -> Result<Answer<NextStrengths>> {
        options.check()?;
        next_of(self, options, control).map(|answer| self.signed(answer))
    }
}

fn next_of(fitted: &FittedCurves, options: &NextOptions, control: &Control) -> Result<Answer<NextStrengths>> {
    let input = fitted.input();
    let mut curves = Vec::with_capacity(fitted.ready().curves.len());
    for ((counts, curve, group), best) in fitted.each().zip(fitted.placed(control)?) {
        let (located, withheld) = (best.located, curve.withheld(best.located));
        let trays = options.trays.unwrap_or_else(|| counts.units().min(MOST_TRAYS));
        let size = counts.cuttings() as f64 / counts.units() as f64;
        let cuttings = options.cuttings.map_or(size, |cuttings| cuttings as f64);
        // A shape asked for by name is known beforehand: as many strengths as it has parameters tell it.
        let own = curve.members.iter().map(|member| member.fitted.form.shape.parameters()).min();
        let least = if input.options.shape == "auto" { FOR_A_CURVE } else { own.unwrap_or(2).min(FOR_A_CURVE) };
        let plan = Plan { trays, cuttings, most_strengths: options.strengths as usize, least_strengths: least };
        let strength = &best.strength;
        let most = deadly(input, group, counts).unwrap_or(f64::INFINITY);
        let around = Around { low: strength.low, high: strength.high, open_high: strength.open_high, most };
        let mut designs = Vec::new();
        // A curve that its strengths contradict has no best to narrow.
        let best = (withheld != Some(Withheld::NoCurveFits)).then_some(Criterion::BestStrength);
        for criterion in best.into_iter().chain([Criterion::WholeCurve]) {
            designs.extend(design(curve, counts, (&plan, around), criterion, control)?);
        }
        let levels = group.levels.clone();
        curves.push(NextCurve {
            levels,
            name: group.name(&input.options.within),
            n_units: trays,
            cuttings,
            located,
            withheld,
            designs,
        });
    }
    let within = input.options.within.clone();
    Ok(answer(NextStrengths { curves, unit: input.unit.clone(), within, called: input.called.clone() }, input, options))
}

/// The lowest tested strength at which deaths are known to have risen along this curve: nothing above is worth a tray.
fn deadly(input: &CurveInput, group: &CurveGroup, counts: &Counts) -> Option<f64> {
    let stay = input.stay_below(&group.levels)?;
    counts.strengths.iter().copied().find(|strength| *strength >= stay.high)
}

fn answer(found: NextStrengths, input: &CurveInput, options: &NextOptions) -> Answer<NextStrengths> {
    let given = |value: Option<u64>| value.map_or_else(|| "as in this trial".to_owned(), |value| value.to_string());
    let answer = Answer {
        kind: "next_strengths".to_owned(),
        details: details(&found, input.options.outcome),
        table: table(&found, input.options.outcome),
        sentence: aloud(input.counted, decided(&found, &unit(input))),
        notes: notes(&found, input),
        methods: format!(
            "Trays were placed one by one, and then moved, among the tested strengths and round ones that can be mixed apart (at least four strengths where so many are allowed; for the best strength those with at least two thirds of the best {}, and at least a sixth of the trays where it may lie and a sixth above), so that the variance of the place of the best strength (c-optimal) or the volume of the parameters' confidence region (D-optimal) is least, added to the information of this trial. Both criteria were averaged over the fitted shapes by Akaike's weights, at the fitted curves; trays count by the design effect seen in this trial.",
            noun(input.options.outcome)
        ),
        references: [references_curves::ATKINSON_2007, references::HURVICH_TSAI_1989].map(str::to_owned).to_vec(),
        made_with: MadeWith::new(&[
            ("trays", given(options.trays)),
            ("cuttings", given(options.cuttings)),
            ("strengths", options.strengths.to_string()),
        ])
        .about(input.options.outcome),
        numbers: found,
    };
    answer_of_unit(&input.called, answer)
}

fn name(criterion: Criterion) -> &'static str {
    match criterion {
        Criterion::BestStrength => "best strength",
        Criterion::WholeCurve => "whole curve",
    }
}

/// What trays at a strength are for, of whatever was counted.
fn purpose(why: Why, outcome: Outcome) -> String {
    let said = outcome.words();
    match why {
        Why::Control if outcome.is_part() => format!("the control: the {} without any", said.rate),
        _ => why.words().replace("the take", said.the_take),
    }
}

fn table(found: &NextStrengths, outcome: Outcome) -> Sheet {
    let rows: Vec<_> = found
        .curves
        .iter()
        .flat_map(|curve| curve.designs.iter().map(move |design| (curve, design)))
        .flat_map(|(curve, design)| design.strengths.iter().map(move |one| (curve, design, one)))
        .collect();
    let mut table = Sheet::default();
    for (at, column) in found.within.iter().enumerate() {
        table.text(column, rows.iter().map(|(curve, ..)| curve.levels.get(at).cloned().unwrap_or_default()));
    }
    table.text("narrows", rows.iter().map(|(_, design, _)| name(design.criterion)));
    table.number("strength", rows.iter().map(|(.., one)| one.strength));
    table.whole("n_units", rows.iter().map(|(.., one)| one.n_units));
    table.text(
        "tested before",
        rows.iter().map(|(.., one)| if one.outside { "beyond the tested range" } else { "within the tested range" }),
    );
    table.text("why", rows.iter().map(|(.., one)| one.why.map_or_else(String::new, |why| purpose(why, outcome))));
    table.maybe("width_ratio", rows.iter().map(|(_, design, _)| design.width_ratio));
    table
}

/// Is strength 0 among the strengths?
fn has_zero(design: &NextDesign) -> bool {
    design.strengths.iter().any(|one| one.strength <= 0.0)
}

/// The decision: where to put the trays for the first purpose of each curve.
fn decided(found: &NextStrengths, unit: &str) -> Decided {
    let (lead, more) = match found.curves.as_slice() {
        [only] => of_one(only, unit),
        several => (of_several(several, unit), None),
    };
    let first = || found.curves.iter().filter_map(|curve| curve.designs.first());
    let control = (!first().all(has_zero)).then(|| "; keep strength 0 as the control".to_owned());
    (lead, control.into_iter().chain(more).collect())
}

/// Where to put the trays of one curve, and what that narrows.
fn of_one(curve: &NextCurve, unit: &str) -> (String, Option<String>) {
    let Some(design) = curve.designs.first() else {
        return ("These curves give no hint where to test next".to_owned(), None);
    };
    let places = &design.strengths;
    let at = if places.len() > NAMED + 1 {
        let ends = places.first().zip(places.last());
        let ends = ends.map_or((0.0, 0.0), |(low, high)| (low.strength, high.strength));
        format!("{} strengths from {} to {}{unit}", places.len(), number(ends.0), number(ends.1))
    } else {
        let each: Vec<String> =
            places.iter().map(|one| format!("{} ({})", number(one.strength), one.n_units)).collect();
        format!("{}{unit}", join(&each))
    };
    let narrower = match design.criterion {
        Criterion::BestStrength => "; that narrows the best strength".to_owned(),
        Criterion::WholeCurve => "; that narrows the whole curve".to_owned(),
    };
    (format!("Next time put {} at {at}", whole(curve.n_units, "tray", "trays")), Some(narrower))
}

/// The strengths of each of a few curves; of many, that they stand below.
fn of_several(curves: &[NextCurve], unit: &str) -> String {
    let one = |curve: &NextCurve| {
        let strengths = curve.designs.first().map(|design| {
            let each: Vec<String> = design.strengths.iter().map(|one| number(one.strength)).collect();
            join(&each)
        });
        format!("{} at {}", curve.name, strengths.unwrap_or_default())
    };
    let each: Vec<String> = curves.iter().map(one).collect();
    let listed = format!("Next time test {}{unit}; trays for each stand below", each.join("; "));
    if curves.len() <= NAMED && words(&listed) <= MOST_LISTED {
        return listed;
    }
    let names: Vec<&str> = curves.iter().map(|curve| curve.name.as_str()).collect();
    let whose =
        if names.len() > NAMED + 1 { format!("{} curves", names.len()) } else { format!("each of {}", join(&names)) };
    let trays = curves.first().map_or(0, |curve| curve.n_units);
    let alike = curves.iter().all(|curve| curve.n_units == trays);
    let trays = if alike { whole(trays, "tray", "trays") } else { "the trays".to_owned() };
    format!("Next time put {trays} for {whose} at the strengths listed below")
}

/// Where the trays go for each curve and aim, a fact a line.
fn details(found: &NextStrengths, outcome: Outcome) -> Vec<String> {
    let several = found.curves.len() > 1;
    let mut said = Vec::new();
    for curve in &found.curves {
        let start = if several { format!("{}: ", heading(&curve.name)) } else { String::new() };
        for design in &curve.designs {
            said.extend(facts(&in_words(design, curve, &found.unit)).into_iter().map(|fact| format!("{start}{fact}")));
        }
    }
    let narrows = |curve: &NextCurve| curve.designs.iter().any(|one| one.criterion == Criterion::BestStrength);
    if found.curves.iter().any(narrows) {
        let the_take = outcome.words().the_take;
        let few = if outcome.is_part() { format!("few {}", outcome.words().root) } else { "little roots".to_owned() };
        said.push(format!("Trays a little to both sides of the best tell more of its place than trays at it: there {the_take} changes with the strength, at the top it hardly does. Far out, where {few}, they tell of the shape alone."));
    }
    said
}

fn in_words(design: &NextDesign, curve: &NextCurve, unit: &str) -> String {
    let places: Vec<String> = design
        .strengths
        .iter()
        .map(|one| {
            let beyond = if one.outside { ", beyond the tested range" } else { "" };
            format!("{} ({}{beyond})", strength(one.strength, unit), whole(one.n_units, "tray", "trays"))
        })
        .collect();
    let trays = whole(curve.n_units, "tray", "trays");
    let control = if has_zero(design) { "" } else { ", beside strength 0 as the control" };
    match design.criterion {
        Criterion::BestStrength => format!("To narrow the best strength put {trays} at {}{control}.", join(&places)),
        Criterion::WholeCurve => {
            let placed = if curve.designs.len() > 1 { "them" } else { trays.as_str() };
            format!("To narrow the whole curve put {placed} at {}{control}.", join(&places))
        }
    }
}

fn notes(found: &NextStrengths, input: &CurveInput) -> Vec<Note> {
    let mut notes = Vec::new();
    if input.groups.iter().any(|group| input.stay_below(&group.levels).is_some()) {
        let text = "Where more cuttings die no trays are placed: strengths end at the lowest tested one at which deaths are known to have risen.";
        notes.push(Note::new("ends_where_deaths_rise", text));
    }
    let all = || found.curves.iter().flat_map(|curve| &curve.designs).flat_map(|design| &design.strengths);
    if all().any(|one| one.outside) {
        let text = "Some strengths lie beyond the tested range, since the best may lie there: no trial has seen them, they may burn the base. Try a few cuttings first.";
        notes.push(Note::new("outside_tested_range", text));
    }
    for curve in &found.curves {
        if curve.withheld == Some(Withheld::NoCurveFits) {
            let text = format!(
                "{}: no curve fits the strengths' own {}, so there is no best strength to narrow yet; the strengths given here are those of a curve that may be wrong. Test the old strengths again among them.",
                curve.name,
                input.options.outcome.words().takes
            );
            notes.push(Note::new("lack_of_fit", text));
        } else if curve.designs.iter().all(|design| design.criterion != Criterion::BestStrength) {
            let text = format!(
                "{}: no shape with a top has a say, so the best strength cannot be narrowed by design; test strengths where it may lie.",
                curve.name
            );
            notes.push(Note::new("no_top", text));
        }
    }
    if let Some(declared) = &input.strength {
        let mut unusual: Vec<Note> = all().filter_map(|one| plausibility(one.strength, declared)).collect();
        unusual.dedup();
        notes.extend(unusual);
    }
    notes.push(Note::new(
        "local_design",
        "The places are good for curves like those fitted; where these are wrong they are less good. A strength clearly above the expected best keeps the curve honest.",
    ));
    notes.push(cautions::best_strength());
    notes.push(cautions::chemical());
    notes
}
