//! The strength from which on more cuttings die, as an answer with all its faces.

use super::numbers::{DamageCurve, DamageOptions, DamageThreshold};
use super::threshold::{deaths_of, of_deaths};
use super::words;
use crate::answer::{Answer, MadeWith, Sheet};
use crate::control::Control;
use crate::curves::find::Fits;
use crate::curves::input::{gather, known_law, offering};
use crate::curves::told::{OneCurve, figures};
use crate::error::{CountError, CurveError, Result};
use crate::trial::{Units, answer_of_unit, called_head};
use crate::units::Strength;

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
/// as [`strength_curve`](crate::curves::strength_curve).
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
    let survivors = gather(&alive, strength, &options.curve).and_then(|input| Fits::new(input, control));
    let survivors = survivors.and_then(|curves| figures(&curves, control)).ok();
    control.step()?;
    let found = of_deaths(&input, (&taken, survivors.map_or_else(Vec::new, |found| found.curves)), options, control)?;
    Ok(answer(found))
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
    let (unit, mut table) = (found.input.unit.as_str(), Sheet::default());
    for (at, name) in found.input.options.within.iter().enumerate() {
        table.level(name, curves.iter().map(|curve| curve.levels.get(at).cloned().unwrap_or_default()));
    }
    let number = |of: fn(&DamageCurve) -> f64| curves.iter().map(of).collect::<Vec<f64>>();
    table.text("what", curves.iter().map(|_| "damage threshold"));
    table.strength("value", unit, curves.iter().map(|curve| curve.threshold.value));
    // Where nothing can be said there is no limit.
    let limit = |of: fn(&DamageCurve) -> f64| {
        curves.iter().map(|curve| (!curve.threshold.no_room).then(|| of(curve))).collect::<Vec<_>>()
    };
    table.strength("low", unit, limit(|curve| curve.threshold.low));
    table.strength("high", unit, limit(|curve| curve.threshold.high));
    table.text("located", curves.iter().map(|curve| words::located(curve).to_owned()));
    table.rate("rise", curves.iter().map(|_| found.rise));
    table.rate("deaths_at_lowest", number(|curve| curve.lowest[0]));
    table.rate("deaths_at_highest", number(|curve| curve.highest[0]));
    table.p("p", curves.iter().map(|curve| (!words::is_alike(curve)).then_some(curve.test.p)));
    let best = |of: fn(&OneCurve) -> f64| curves.iter().map(move |curve| curve.survivors.as_ref().map(of));
    table.strength("best_for_survivors", unit, best(|curve| curve.best.strength.value));
    table.whole("n_units", curves.iter().map(|curve| curve.n_units)).headed(called_head(&found.input.called));
    table.whole("n_cuttings", curves.iter().map(|curve| curve.n_cuttings));
    table
}
