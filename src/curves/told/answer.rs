//! The answers about a strength curve with all their faces.

use super::differences::{differ_in_form, differences, distances};
use super::figured::figures;
use super::figures::{CurveDifferences, OneCurve, StrengthCurve, StrengthsFor};
use super::phrases::strength;
use super::{compare_words, decision, notes, words};
use crate::answer::{Answer, MadeWith, Note, Scale, Sheet};
use crate::control::Control;
use crate::curves::find::{Fits, LEAST_STRENGTHS, Shift, StrengthFor, Withheld, strengths_for as rows_for};
use crate::curves::input::{CurveInput, CurveOptions, StayBelow, gather, one_substance};
use crate::error::{CountError, Result};
use crate::estimate::TestName;
use crate::report::{number as in_words, p_value};
use crate::trial::{Units, answer_of_unit, called_head, text_of_unit};
use crate::units::Strength;

/// The strength curves of a trial: one for each combination of the levels in `options.within`.
///
/// Every shape of [`Shape`](crate::curves::Shape) that the strengths allow is fitted by maximum likelihood to effective counts; with
/// `shape = "auto"` they are weighted by Akaike's criterion with correction for few units, and every figure is averaged:
/// takes by their mean; limits of strengths hold every strength that one of the shapes allows (profile likelihood, penalised by
/// the criterion).
///
/// # Errors
/// [`CurveError`](crate::error::CurveError) for strengths that make no curve; choice errors for unknown names;
/// [`StrengthError::MixedSubstance`](crate::error::StrengthError) where one curve would mix substances;
/// [`Error::Interrupted`](crate::Error) when stopped.
///
/// # References
/// Dauncey PD, Kenzie M, Wardle N, Davies GJ (2015), J. Instrum. 10:P04015 (profiles over shapes); Buckland ST, Burnham KP, Augustin
/// NH (1997), Biometrics 53:603-618 (averaged rates).
pub fn strength_curve(
    units: &Units,
    strength: Option<&Strength>,
    options: &CurveOptions,
    control: &Control,
) -> Result<Answer<StrengthCurve>> {
    let mut input = gather(units, strength, options)?;
    input.notes.extend(forms_in_common(units, strength, options, control)?);
    strength_curve_of(&input, control)
}

/// A note where levels that share one curve are shown to have curves of different form.
pub(crate) fn forms_in_common(
    units: &Units,
    strength: Option<&Strength>,
    options: &CurveOptions,
    control: &Control,
) -> Result<Option<Note>> {
    if options.common.is_empty() || !options.within.is_empty() {
        return Ok(None);
    }
    let apart = CurveOptions { within: options.common.clone(), common: Vec::new(), ..options.clone() };
    // Levels that are too few in trays for a curve each are not told apart.
    let compared = gather(units, strength, &apart).and_then(|input| compare_curves(&input, control));
    control.step()?;
    Ok(compared.ok().filter(|found| differ_in_form(&found.numbers)).map(|found| {
        let column = options.common.join(" and ");
        let p = found.numbers.compared.tests.iter().find(|test| test.method == TestName::SameButForHeight);
        let p = p.map_or_else(String::new, |test| format!(" ({})", p_value(test.p)));
        let text = format!(
            "The curves of the levels of {column} differ in more than height{p}, so their common curve describes none of them: ask for a curve each with within=, and compare them."
        );
        Note::new("common_forms_differ", text)
    }))
}

/// The same from gathered trays, as [`StrengthCurve::input`] keeps them.
///
/// # Errors
/// As [`strength_curve`].
///
/// ```
/// use rootling::control::Control;
/// use rootling::curves::{CurveGroup, CurveInput, CurveOptions, TrayCount, strength_curve_of};
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
/// let answer = strength_curve_of(&input, &Control::new())?;
/// let best = &answer.numbers.curves[0].best;
/// assert!(best.strength.value > 1500.0 && best.strength.value < 3000.0);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn strength_curve_of(input: &CurveInput, control: &Control) -> Result<Answer<StrengthCurve>> {
    curve_of(&Fits::new(input.clone(), control)?, control)
}

/// The curves with their best strengths.
pub(crate) fn curve_of(fits: &Fits, control: &Control) -> Result<Answer<StrengthCurve>> {
    Ok(of_figures(figures(fits, control)?))
}

fn of_figures(found: StrengthCurve) -> Answer<StrengthCurve> {
    let options = &found.input.options;
    let made_with = MadeWith {
        seed: (options.draws > 0).then_some(options.seed),
        ..MadeWith::new(&[
            ("column", options.column.clone()),
            ("within", options.within.join(", ")),
            ("common", options.common.join(", ")),
            ("at", options.at.iter().map(|(name, level)| format!("{name} {level}")).collect::<Vec<_>>().join(", ")),
            ("shape", options.shape.name().to_owned()),
            ("link", format!("{:?}", options.link).to_lowercase()),
            ("confidence", options.confidence.to_string()),
            ("nearly", options.nearly.to_string()),
            ("enough", options.enough.to_string()),
            (
                "zero_scale",
                options.zero_scale.map_or_else(|| "lowest strength above 0".to_owned(), |shift| shift.to_string()),
            ),
            ("trays", options.trays.name().to_owned()),
            ("blocks", format!("{:?}", options.blocks).to_lowercase()),
            ("draws", options.draws.to_string()),
        ])
        .about(options.outcome)
    };
    let answer = Answer {
        kind: "strength_curve".to_owned(),
        details: words::details(&found),
        table: curve_table(&found),
        sentence: decision::curves(&found),
        notes: notes::curves(&found),
        methods: words::methods(&found),
        references: words::cited(&found),
        numbers: found,
        made_with,
    };
    let called = answer.numbers.input.called.clone();
    answer_of_unit(&called, answer)
}

fn curve_table(found: &StrengthCurve) -> Sheet {
    let curves = &found.curves;
    let (unit, mut table) = (found.input.unit.as_str(), Sheet::default());
    for (at, name) in found.input.options.within.iter().enumerate() {
        table.level(name, curves.iter().map(|curve| curve.levels.get(at).cloned().unwrap_or_default()));
    }
    // A curve that its own strengths contradict states no best strength.
    let fits = |curve: &OneCurve| curve.best.withheld != Some(Withheld::NoCurveFits);
    let number =
        |of: fn(&OneCurve) -> f64| curves.iter().map(|curve| fits(curve).then(|| of(curve))).collect::<Vec<_>>();
    // Two strengths have no curve on which a lowest adequate strength could lie, nor limits of a best strength.
    let adequate = |of: fn(&OneCurve) -> f64| {
        let one = |curve: &OneCurve| (fits(curve) && curve.strengths.len() >= LEAST_STRENGTHS).then(|| of(curve));
        curves.iter().map(one).collect::<Vec<_>>()
    };
    let name = found.input.options.outcome.words().name;
    let nearly = format!("not shown to be more than {} fewer", in_words(100.0 * found.input.options.nearly));
    table.text("what", curves.iter().map(|_| "best strength"));
    table.strength("value", unit, number(|c| c.best.strength.value));
    table.strength("low", unit, adequate(|c| c.best.strength.reach().0));
    table.strength("high", unit, adequate(|c| c.best.strength.reach().1));
    table.text("located", curves.iter().map(|curve| words::located(curve).to_owned()));
    table.rate("take", number(|c| c.best.take)).headed(name);
    table.rate("take_low", number(|c| c.best.take_low)).headed(format!("{name} from"));
    table.rate("take_high", number(|c| c.best.take_high)).headed(format!("{name} to"));
    table.strength("range_low", unit, adequate(|c| c.best.range_low)).headed(format!("{nearly}, from"));
    table.strength("range_high", unit, adequate(|c| c.best.range_high)).headed(format!("{nearly}, to"));
    table.strength("adequate", unit, adequate(|c| c.best.adequate.value));
    table.strength("adequate_low", unit, adequate(|c| c.best.adequate.reach().0));
    table.strength("adequate_high", unit, adequate(|c| c.best.adequate.reach().1));
    if curves.iter().any(|curve| curve.best.bootstrap.is_some()) {
        table.strength("bootstrap_low", unit, curves.iter().map(|c| c.best.bootstrap.as_ref().map(|b| b.low)));
        table.strength("bootstrap_high", unit, curves.iter().map(|c| c.best.bootstrap.as_ref().map(|b| b.high)));
    }
    if !found.input.damage.is_empty() {
        let stay = |curve: &OneCurve| found.input.stay_below(&curve.levels).map(StayBelow::strength);
        table.strength("stay_below", unit, curves.iter().map(stay));
    }
    table.text("shape", curves.iter().map(words::shapes_averaged));
    table.whole("n_units", curves.iter().map(|curve| curve.n_units)).headed(called_head(&found.input.called));
    table.whole("n_cuttings", curves.iter().map(|curve| curve.n_cuttings));
    table
}

/// The lowest strength at which each curve reaches a take, with profile, delta and Fieller limits.
///
/// Profile limits lead; with several shapes they hold what any of them allows, as those of the best strength do. Delta limits come from the
/// shape of the largest weight, Fieller's too where its log odds (or other link) are straight in the axis.
///
/// # Errors
/// [`CountError::Target`] unless `0 < take < 1`; else as [`strength_curve_of`].
///
/// # References
/// Fieller EC (1954), J. R. Stat. Soc. B 16:175-185; Finney DJ (1971), Probit Analysis.
pub fn strengths_for(input: &CurveInput, take: f64, control: &Control) -> Result<Answer<StrengthsFor>> {
    within_reach(take)?;
    strengths_of(&Fits::new(input.clone(), control)?, take, control)
}

/// Refuses takes that no curve can have.
fn within_reach(take: f64) -> Result<()> {
    if take > 0.0 && take < 1.0 { Ok(()) } else { Err(CountError::Target { value: take }.into()) }
}

/// The lowest strength at which each of the curves reaches a take.
pub(crate) fn strengths_of(fits: &Fits, take: f64, control: &Control) -> Result<Answer<StrengthsFor>> {
    within_reach(take)?;
    let (input, mut rows) = (fits.input(), Vec::new());
    for (_, curve, group) in fits.each() {
        let name = group.name(&input.options.within);
        rows.extend(rows_for(curve, &name, take, input.options.confidence, control)?);
    }
    Ok(of_strengths(input, take, rows))
}

fn of_strengths(input: &CurveInput, take: f64, rows: Vec<StrengthFor>) -> Answer<StrengthsFor> {
    let level = input.options.confidence;
    let found = StrengthsFor { take, unit: input.unit.clone(), confidence: level, rows };
    let (unit, mut table) = (found.unit.as_str(), Sheet::default());
    let ends: Vec<Scale> = found.rows.iter().map(words::end_of_row).collect();
    table.text("curve", found.rows.iter().map(|row| text_of_unit(&input.called, &row.curve)));
    table.text("method", found.rows.iter().map(|row| row.method.name()));
    table.text("shape", found.rows.iter().map(|row| row.shape.clone()));
    table.strength("value", unit, found.rows.iter().map(|row| row.value));
    table.strength("low", unit, found.rows.iter().map(|row| row.low));
    table.scaled("high", ends, found.rows.iter().map(|row| row.high)).of_unit(unit);
    table.text("says", found.rows.iter().map(|row| words::row(row, &found)));
    let answer = Answer {
        kind: "strengths_for".to_owned(),
        details: words::details_for(&found, input),
        table,
        sentence: decision::strengths_for(&found, input),
        notes: notes::strengths_for(&found, input),
        methods: words::methods_for(&found, input),
        references: words::cited_for(input),
        numbers: found,
        made_with: MadeWith::new(&[
            ("take", take.to_string()),
            ("confidence", level.to_string()),
            ("shape", input.options.shape.name().to_owned()),
        ])
        .about(input.options.outcome),
    };
    answer_of_unit(&input.called, answer)
}

/// Tests whether the curves of `within` have one form, one place and one height, says how far they lie apart, and whether their best
/// strengths differ.
///
/// # Errors
/// [`CurveError::OneCurve`](crate::error::CurveError::OneCurve) for a single curve; else as [`strength_curve_of`].
///
/// # References
/// Finney DJ (1971), Probit Analysis, chapter 6 (parallel lines and relative potency).
pub fn compare_curves(input: &CurveInput, control: &Control) -> Result<Answer<CurveDifferences>> {
    one_substance(input)?;
    differences_of(&Fits::new(input.clone(), control)?, control)
}

/// Whether the curves have one form, one place and one height, with all faces.
pub(crate) fn differences_of(fits: &Fits, control: &Control) -> Result<Answer<CurveDifferences>> {
    let input = fits.input();
    one_substance(input)?;
    let found = differences(fits, control)?;
    let options = &input.options;
    let answer = Answer {
        kind: "curve_differences".to_owned(),
        details: compare_words::details(&found, input),
        table: comparison_table(&found, input),
        sentence: compare_words::sentence(&found, input),
        notes: notes::comparison(&found, input),
        methods: compare_words::methods(&found, input),
        references: compare_words::cited(input),
        made_with: MadeWith::new(&[
            ("within", options.within.join(", ")),
            ("shape", found.compared.shape.name().to_owned()),
            ("confidence", options.confidence.to_string()),
        ])
        .about(options.outcome),
        numbers: found,
    };
    Ok(answer_of_unit(&input.called, answer))
}

/// The distances between the curves, then the rates of their strengths where no distance describes them.
fn comparison_table(found: &CurveDifferences, input: &CurveInput) -> Sheet {
    let distance =
        |one: &Shift| ([one.curve.clone(), one.against.clone(), one.measure.clone()], [one.value, one.low, one.high]);
    let mut rows: Vec<([String; 3], [f64; 3])> = distances(found).map(distance).collect();
    let mut scales: Vec<Scale> = distances(found).map(Shift::scale).collect();
    let rate = input.options.outcome.words().rate;
    for (name, levels) in found.names.iter().zip(&found.takes) {
        rows.extend(levels.iter().map(|one| {
            let measure = format!("{rate} at {}", strength(one.strength, &input.unit));
            ([name.clone(), String::new(), measure], [one.value, one.low, one.high])
        }));
        scales.extend(levels.iter().map(|_| Scale::Rate));
    }
    let mut table = Sheet::default();
    for (at, column) in ["curve", "against", "measure"].into_iter().enumerate() {
        table.text(column, rows.iter().map(|(text, _)| text.get(at).cloned().unwrap_or_default()));
    }
    for (at, column) in ["value", "low", "high"].into_iter().enumerate() {
        table.scaled(column, scales.clone(), rows.iter().map(|(_, numbers)| numbers.get(at).copied()));
    }
    table
}
