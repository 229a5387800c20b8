//! What damage along the strengths says in words.

use super::damage::{DamageCurve, DamageThreshold};
use super::words::{located as best_located, strength};
use crate::answer::Note;
use crate::report::{cautions, confidence, degrees_of_freedom, number, p_value, points, references, references_dose};

pub(super) fn located(curve: &DamageCurve) -> &'static str {
    match (curve.threshold.located, curve.threshold.value) {
        (true, _) => "located",
        (false, Some(_)) => "not located: may lie at or above the highest strength",
        (false, None) => "not located: deaths do not rise that much within the tested range",
    }
}

pub(super) fn sentence(found: &DamageThreshold) -> String {
    let several = found.curves.len() > 1;
    let said = found.curves.iter().map(|curve| {
        let start = if several { format!("{}: ", curve.name) } else { String::new() };
        format!("{start}{}", one(curve, found))
    });
    let said: Vec<String> = said.collect();
    let opening =
        if found.input.counted { "" } else { "Trays are not counted here, so the intervals are too narrow. " };
    format!(
        "{opening}{} This holds within the tested range, for this cultivar, etiolation, method and season only.",
        said.join(" ")
    )
}

fn one(curve: &DamageCurve, found: &DamageThreshold) -> String {
    let (unit, rise, level) = (found.input.unit.as_str(), points(found.rise), confidence(found.level));
    let deaths = |[value, low, high]: [f64; 3]| format!("{} ({} to {})", points(value), points(low), points(high));
    let ends: Vec<f64> =
        [curve.strengths.first(), curve.strengths.last()].into_iter().flatten().map(|s| s.strength).collect();
    let (lowest, highest) = match ends.as_slice() {
        [low, high] => (strength(*low, unit), strength(*high, unit)),
        _ => (String::new(), String::new()),
    };
    let from = &curve.threshold;
    let place = match (from.located, from.value) {
        (true, Some(value)) => format!(
            "Deaths have risen by {rise} trees per 100 at about {} ({level} interval {} to {}).",
            strength(value, unit),
            number(from.conf_low),
            strength(from.conf_high, unit)
        ),
        (_, Some(value)) => format!(
            "The strength at which deaths have risen by {rise} trees per 100 is not located: the curve gets there at about {}, but it may lie at or above the highest tested; it is not below {} (lower limit, {level} interval).",
            strength(value, unit),
            strength(from.conf_low, unit)
        ),
        (_, None) => format!(
            "The strength at which deaths have risen by {rise} trees per 100 is not located: within the tested range the curve does not rise that much; up to {} so large a rise is ruled out (lower limit, {level} interval).",
            strength(from.conf_low, unit)
        ),
    };
    let shown =
        if curve.test.p_value <= 1.0 - found.level { "Deaths differ" } else { "Deaths are not shown to differ" };
    let survivors = curve.survivors.as_ref().filter(|one| !one.all_alike).map_or_else(String::new, |one| {
        format!(
            " Among survivors rooting is best at about {} ({}).",
            strength(one.best.strength.value, unit),
            best_located(one)
        )
    });
    format!(
        "Of 100 cuttings {} died at {lowest} and {} at {highest}. {shown} between strengths ({}). {place}{survivors}",
        deaths(curve.lowest),
        deaths(curve.highest),
        p_value(curve.test.p_value)
    )
}

pub(super) fn notes(found: &DamageThreshold) -> Vec<Note> {
    let mut notes = found.input.notes.clone();
    if !found.input.counted {
        notes.push(cautions::pooled());
    }
    for curve in &found.curves {
        let place = if found.curves.len() > 1 { format!("{}: ", curve.name) } else { String::new() };
        if !curve.threshold.located {
            let text = format!(
                "{place}The strength of damage is not located within the tested range; the lower limit says up to where a rise of that size is ruled out."
            );
            notes.push(Note::new("damage_not_located", text));
        }
        if curve.survivors.is_none() {
            notes.push(Note::new(
                "too_few_survivors",
                format!("{place}Too few strengths have survivors for a curve of rooting among them."),
            ));
        }
        let lead = curve.shapes.first().and_then(|shape| shape.lack_p_value.map(|p| (shape, p)));
        if let Some((shape, p)) = lead.filter(|(_, p)| *p <= 0.05) {
            let text = format!(
                "{place}Even the likeliest shape of deaths, {}, misses the strengths' own rates by more than chance would ({}); read the rates of the strengths.",
                shape.shape.name(),
                p_value(p)
            );
            notes.push(Note::new("lack_of_fit", text));
        }
    }
    notes.push(cautions::best_strength());
    notes.push(cautions::chemical());
    notes
}

pub(super) fn methods(found: &DamageThreshold) -> String {
    let trays = match (found.input.counted, found.dof) {
        (true, Some(dof)) => format!(
            "Trays were counted by their design effect ({} for the spread of deaths between trays).",
            degrees_of_freedom(dof)
        ),
        (true, None) => "No strength had two trays, so a correlation of 0.05 within trays was assumed.".to_owned(),
        (false, _) => "Cuttings were treated as independent.".to_owned(),
    };
    format!(
        "Three outcomes (rooted, alive without roots, dead) were modelled in two steps, dead among stuck and rooted among survivors, whose likelihoods multiply to that of all three. Deaths were fitted with the shapes flat, straight log odds, natural response and rising with floor and ceiling, weighted by Akaike's criterion with correction for few units. The damage threshold is the lowest strength within the tested range at which deaths exceed those at the lowest strength by {} trees per 100; its limits at {} hold every strength that one of the shapes allows by its profile likelihood, with a penalty of 1 for each parameter. {trays}",
        points(found.rise),
        confidence(found.level)
    )
}

pub(super) fn cited() -> Vec<String> {
    [
        references_dose::CRUMP_1984,
        references_dose::DAUNCEY_2015,
        references::HURVICH_TSAI_1989,
        references::DONNER_KLAR_2000,
    ]
    .map(str::to_owned)
    .to_vec()
}
