//! The strengths to test next, as an answer with all its faces.

use super::numbers::{NextOptions, NextStrengths};
use super::planned::planned;
use super::words::{decided, details, name, notes, purpose};
use crate::answer::{Answer, MadeWith, Sheet};
use crate::control::Control;
use crate::curves::find::Fits;
use crate::curves::input::CurveInput;
use crate::curves::told::{aloud, noun, unit};
use crate::error::Result;
use crate::report::{references, references_curves};
use crate::trial::{Outcome, answer_of_unit, called_head};

/// The strengths at which more trays would narrow the best strength most, and those that would narrow the whole curve most.
///
/// What this trial has shown counts as known: trays are added to its information, under each shape that has a say, and the criteria are
/// averaged over shapes. Strengths lie within the tested range; up to half above the highest where the best may lie there.
///
/// # Errors
/// [`CountError::OutOfRange`](crate::error::CountError::OutOfRange) for 0 or more than 400 trays, fewer than 2 strengths or 0 cuttings; else as
/// [`strength_curve_of`](crate::curves::strength_curve_of).
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
    next_of(&Fits::new(input.clone(), control)?, options, control)
}

/// The strengths to test next for fitted curves.
pub(crate) fn next_of(fits: &Fits, options: &NextOptions, control: &Control) -> Result<Answer<NextStrengths>> {
    options.check()?;
    Ok(answer(planned(fits, options, control)?, fits.input(), options))
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

fn table(found: &NextStrengths, outcome: Outcome) -> Sheet {
    let rows: Vec<_> = found
        .curves
        .iter()
        .flat_map(|curve| curve.designs.iter().map(move |design| (curve, design)))
        .flat_map(|(curve, design)| design.strengths.iter().map(move |one| (curve, design, one)))
        .collect();
    let mut table = Sheet::default();
    for (at, column) in found.within.iter().enumerate() {
        table.level(column, rows.iter().map(|(curve, ..)| curve.levels.get(at).cloned().unwrap_or_default()));
    }
    table.text("narrows", rows.iter().map(|(_, design, _)| name(design.criterion)));
    table.strength("strength", &found.unit, rows.iter().map(|(.., one)| one.strength));
    table.whole("n_units", rows.iter().map(|(.., one)| one.n_units)).headed(called_head(&found.called));
    table.text(
        "tested before",
        rows.iter().map(|(.., one)| if one.outside { "beyond the tested range" } else { "within the tested range" }),
    );
    table
        .text("why", rows.iter().map(|(.., one)| one.why.map_or_else(String::new, |why| purpose(why, outcome))))
        .headed("why");
    table.rate("width_ratio", rows.iter().map(|(_, design, _)| design.width_ratio)).headed("width, of today's");
    table
}
