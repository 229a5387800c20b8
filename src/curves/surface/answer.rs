//! A surface over strength and darkness as an answer with all its faces.

use super::found::surface;
use super::input::{SurfaceInput, SurfaceOptions, gather_surface, known};
use super::numbers::ResponseSurface;
use super::words::{decided, details, located, methods, notes};
use crate::answer::{Answer, MadeWith, Scale, Sheet};
use crate::control::Control;
use crate::curves::told::aloud;
use crate::error::Result;
use crate::report::{number, references, references_curves};
use crate::trial::{Units, answer_of_units};
use crate::units::Strength;

/// How the take follows strength and darkness together: log odds quadratic in `ln(1 + d / d0)` and in the days of darkness, with their
/// product.
///
/// Gives the best strength at each tested darkness with profile-likelihood limits, a test of one best strength at every darkness, and,
/// with three or more levels of darkness, the top over both with the region that is not ruled out. Where darkness was given to
/// rooms or bays it is judged by how rooms of one darkness differ, and nothing is claimed of it where each stood in one room only.
///
/// # Errors
/// [`CurveError::TooFewForSurface`](crate::error::CurveError) for fewer than three strengths or two levels of darkness; else as
/// [`strength_curve`](crate::curves::strength_curve).
///
/// # References
/// Box GEP, Hunter JS (1954), Biometrika 41:190-199 (region of a stationary point).
pub fn response_surface(
    units: &Units,
    strength: Option<&Strength>,
    options: &SurfaceOptions,
    control: &Control,
) -> Result<Answer<ResponseSurface>> {
    options.curve.check()?;
    known(units, &options.darkness)?;
    let answer = response_surface_of(&gather_surface(units, strength, options)?, control)?;
    Ok(answer_of_units(units, answer))
}

/// The same from gathered trays, as [`ResponseSurface::input`] keeps them.
///
/// # Errors
/// As [`response_surface`].
///
/// ```
/// use rootling::control::Control;
/// use rootling::curves::{SurfaceInput, SurfaceOptions, SurfaceTray, response_surface_of};
/// let rooted = [[9, 29, 41, 47, 30], [14, 45, 52, 46, 20], [12, 44, 47, 31, 9]];
/// let mut trays = Vec::new();
/// for (darkness, rooted) in [14.0, 28.0, 42.0].into_iter().zip(rooted) {
///     for (strength, rooted) in [0.0, 1000.0, 2000.0, 4000.0, 8000.0].into_iter().zip(rooted) {
///         trays.push(SurfaceTray { strength, darkness, bay: None, rooted, stuck: 80 });
///     }
/// }
/// let input = SurfaceInput {
///     strength: None,
///     unit: "mg/L".to_owned(),
///     counted: false,
///     bays: None,
///     trays,
///     notes: Vec::new(),
///     options: SurfaceOptions::default(),
/// };
/// let found = response_surface_of(&input, &Control::new())?.numbers;
/// // The longer the darkness, the weaker the best strength.
/// assert!(found.best[0].strength.value > found.best[2].strength.value);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn response_surface_of(input: &SurfaceInput, control: &Control) -> Result<Answer<ResponseSurface>> {
    let found = surface(input, control)?;
    let options = &input.options;
    let made_with = MadeWith::new(&[
        ("column", options.curve.column.clone()),
        ("darkness", options.darkness.clone()),
        ("confidence", options.curve.confidence.to_string()),
        ("zero_scale", number(found.shift)),
        ("trays", format!("{:?}", options.curve.trays).to_lowercase()),
    ]);
    Ok(Answer {
        kind: "response_surface".to_owned(),
        details: details(&found),
        table: table(&found),
        sentence: aloud(found.input.counted, decided(&found)),
        notes: notes(&found),
        methods: methods(&found),
        references: [references_curves::BOX_HUNTER_1954, references::DONNER_KLAR_2000, references::WILKS_1938]
            .map(str::to_owned)
            .to_vec(),
        numbers: found,
        made_with,
    })
}

fn table(found: &ResponseSurface) -> Sheet {
    let rows = &found.best;
    let (unit, mut table) = (found.input.unit.as_str(), Sheet::default());
    table.scaled(&found.input.options.darkness, Scale::Level, rows.iter().map(|row| row.darkness));
    table.text("what", rows.iter().map(|_| "best strength"));
    table.strength("value", unit, rows.iter().map(|row| row.strength.value));
    table.strength("low", unit, rows.iter().map(|row| row.strength.reach().0));
    table.strength("high", unit, rows.iter().map(|row| row.strength.reach().1));
    table.text("located", rows.iter().map(|row| located(row).to_owned()));
    table.rate("take", rows.iter().map(|row| row.take[0]));
    table.rate("take_low", rows.iter().map(|row| row.take[1]));
    table.rate("take_high", rows.iter().map(|row| row.take[2]));
    table
}
