//! What damage along the strengths says in words.

use super::numbers::{DamageCurve, DamageThreshold};
use super::threshold::FOR_A_CURVE;
use crate::answer::Note;
use crate::curves::find::Withheld;
use crate::curves::told::{
    Decided, NAMED, OneCurve, StrengthLevel, about, aloud, each_for, heading, law_words, located as best_located,
    opening, span, strength, trees, unit, unit as told_unit, whole_trees,
};
use crate::report::cautions::Claims;
use crate::report::{
    cautions, confidence, degrees_of_freedom, facts, join, number, p_value, points, references, references_curves,
    whole,
};

pub(super) fn located(curve: &DamageCurve) -> &'static str {
    match (curve.threshold.located, curve.threshold.value) {
        _ if curve.threshold.no_room => "nothing can be said: too many died at the lowest strength",
        (true, _) => "located",
        (false, None) if is_two(curve) => "not located: two strengths make no curve",
        (false, Some(_)) => "not located: may lie at or above the highest strength",
        (false, None) => "not located: deaths do not rise that much within the tested range",
    }
}

/// Two strengths make no curve.
fn is_two(curve: &DamageCurve) -> bool {
    curve.strengths.len() < FOR_A_CURVE
}

/// Are deaths shown to differ between strengths?
fn differ(curve: &DamageCurve, found: &DamageThreshold) -> bool {
    curve.test.p <= 1.0 - found.confidence
}

/// The decision line: from which strength on cuttings die, or up to which so many deaths are ruled out.
pub(super) fn sentence(found: &DamageThreshold) -> String {
    let unit = unit(&found.input);
    let decided = match found.curves.as_slice() {
        [only] if only.threshold.no_room => (no_room(only, &trees(found.rise), &unit), Vec::new()),
        [only] => two_decided(only, found, &unit).unwrap_or_else(|| decided(only, &trees(found.rise), &unit)),
        several => several_decided(several, &trees(found.rise), &unit),
    };
    aloud(found.input.counted, decided)
}

/// Cuttings that died, and all that were stuck.
fn dead(curve: &DamageCurve) -> (u64, u64) {
    let sum = |of: fn(&StrengthLevel) -> u64| curve.strengths.iter().map(of).sum();
    (sum(|one| one.rooted), sum(|one| one.stuck))
}

/// Did every cutting die, or none?
pub(super) fn is_alike(curve: &DamageCurve) -> bool {
    let (dead, stuck) = dead(curve);
    dead == 0 || dead == stuck
}

/// So many died at the lowest strength that nothing is left to rise.
fn no_room(curve: &DamageCurve, rise: &str, unit: &str) -> String {
    let (all, stuck) = dead(curve);
    if all == stuck {
        return "All cuttings died at every strength: nothing can be said about damage by strength".to_owned();
    }
    let first = curve.strengths.first().map_or_else(String::new, |one| {
        format!("{} of {} cuttings died at {}{unit} already", one.rooted, one.stuck, number(one.strength))
    });
    format!("{first}: deaths cannot rise by {rise} per 100, so nothing can be said about damage by strength")
}

/// No cutting died: how large a rise that rules out.
fn none_died(curve: &DamageCurve, rise: &str, unit: &str) -> Option<String> {
    let (highest, from) = (curve.strengths.last()?.strength, &curve.threshold);
    if dead(curve).0 > 0 {
        return None;
    }
    let upto = if from.low >= highest {
        format!("a rise by {rise} per 100 is ruled out up to {}{unit}", about(highest))
    } else if from.low > 0.0 && curve.strengths.first().is_some_and(|one| one.strength < from.low) {
        let more = ceil_trees(curve.possible_rise);
        format!(
            "a rise by {rise} per 100 is ruled out up to {}{unit}; above, up to {more} remain possible",
            about(from.low)
        )
    } else {
        let more = ceil_trees(curve.possible_rise);
        format!("yet with so few cuttings a rise by up to {more} per 100 remains possible")
    };
    Some(format!("No cutting died at any strength: {upto}"))
}

/// Whole trees per 100, never fewer than so many.
fn ceil_trees(rate: f64) -> String {
    number((100.0 * rate - 1e-9).ceil())
}

fn several_decided(curves: &[DamageCurve], rise: &str, unit: &str) -> Decided {
    let known: Vec<(&DamageCurve, f64)> = curves
        .iter()
        .filter(|curve| curve.threshold.located)
        .filter_map(|curve| Some((curve, curve.threshold.value?)))
        .collect();
    let open = curves.len() - known.len();
    let lack = (open > 0).then(|| format!("; not located for {}", whole(open as u64, "curve", "curves")));
    let values: Vec<f64> = known.iter().map(|(_, value)| *value).collect();
    if curves.iter().all(|curve| curve.threshold.no_room) {
        let lead = "Too many died at the lowest strength already, so nothing can be said about damage by strength";
        return (lead.to_owned(), Vec::new());
    }
    if known.is_empty() && curves.iter().all(is_two) {
        let lead = format!("Two strengths make no curve, so nowhere is a rise of deaths by {rise} per 100 located");
        return (lead, Vec::new());
    }
    if known.is_empty() {
        return (format!("Nowhere is a rise of deaths by {rise} per 100 located"), Vec::new());
    }
    if known.len() > NAMED {
        let lead = format!("Deaths rise by {rise} per 100 at about {}{unit}, by curve", span(&values));
        return (lead, lack.into_iter().collect());
    }
    let below = each_for(unit, known.iter().map(|(curve, _)| (curve.threshold.low, curve.name.as_str())));
    let at: Vec<String> = values.iter().map(|value| about(*value)).collect();
    if known.iter().any(|(curve, _)| curve.threshold.from_first) {
        let at = each_for(unit, known.iter().map(|(curve, value)| (*value, curve.name.as_str())));
        let lead = format!("Deaths rise by {rise} per 100 at about {at}");
        let open = "; where that lies below all strengths above 0, none is shown to be safe".to_owned();
        return (lead, std::iter::once(open).chain(lack).collect());
    }
    let lead = format!("Stay below {below}");
    (lead, [format!(": deaths rise by {rise} per 100 at about {}", join(&at))].into_iter().chain(lack).collect())
}

/// What two strengths showed, unless the rise is ruled out at both.
fn two_decided(curve: &DamageCurve, found: &DamageThreshold, unit: &str) -> Option<Decided> {
    let [low, high] = curve.strengths.as_slice() else { return None };
    if curve.threshold.low >= high.strength || dead(curve).0 == 0 {
        return None;
    }
    let lead = format!(
        "Two strengths make no curve: {} of {} died at {} and {} of {} at {}{unit}",
        low.rooted,
        low.stuck,
        number(low.strength),
        high.rooted,
        high.stuck,
        number(high.strength)
    );
    if !differ(curve, found) {
        return Some((lead, vec![", not shown to differ".to_owned(), "; test more strengths".to_owned()]));
    }
    let more = format!(", {}", more_died(low, high));
    Some((lead, vec![more, format!("; test a strength {}", where_to_test(low))]))
}

/// "36 more per 100".
fn more_died(low: &StrengthLevel, high: &StrengthLevel) -> String {
    let difference = high.value - low.value;
    let word = if difference < 0.0 { "fewer" } else { "more" };
    format!("{} {word} per 100", whole_trees(difference.abs()))
}

/// Between two strengths, or below the lower one where that is not 0.
fn where_to_test(low: &StrengthLevel) -> &'static str {
    if low.strength > 0.0 { "between them or below" } else { "between them" }
}

/// The strengths on both sides of the threshold.
fn around(curve: &DamageCurve) -> Option<(&StrengthLevel, &StrengthLevel)> {
    let value = curve.threshold.value?;
    let below = curve.strengths.iter().rfind(|one| one.strength <= value)?;
    Some((below, curve.strengths.iter().find(|one| one.strength > value)?))
}

/// "4000 mg/L (12 of 60 died)".
fn died(one: &StrengthLevel, unit: &str) -> String {
    format!("{} ({} of {} died)", strength(one.strength, unit), one.rooted, one.stuck)
}

fn decided(curve: &DamageCurve, rise: &str, unit: &str) -> Decided {
    let from = &curve.threshold;
    if let Some(lead) = none_died(curve, rise, unit) {
        return (lead, Vec::new());
    }
    let lead = match (from.located, from.value) {
        (true, Some(value)) if from.from_first => {
            let lead = format!(
                "Deaths have risen by {rise} per 100 at about {}{unit} ({} to {}): no strength is shown to be safe",
                about(value),
                about(from.low),
                about(from.high)
            );
            let between = around(curve).map(|(below, above)| {
                format!("; test between {} and {}", number(below.strength), number(above.strength))
            });
            return (lead, between.into_iter().collect());
        }
        (true, Some(value)) => format!(
            "Stay below {}{unit}: deaths have risen by {rise} per 100 at about {} ({} to {})",
            about(from.low),
            about(value),
            about(from.low),
            about(from.high)
        ),
        (_, Some(value)) => format!(
            "Deaths may rise by {rise} per 100 from about {}{unit}, not below {}; test higher strengths to be sure",
            about(value),
            about(from.low)
        ),
        (_, None) if from.low > 0.0 => format!(
            "No strength tested shows {rise} more deaths per 100: so large a rise is ruled out up to {}{unit}",
            about(from.low)
        ),
        (_, None) => format!("No strength tested shows {rise} more deaths per 100, but none is ruled out either"),
    };
    (lead, Vec::new())
}

/// What stands behind the decision line, a fact a line.
pub(super) fn details(found: &DamageThreshold) -> Vec<String> {
    let several = found.curves.len() > 1;
    let mut said: Vec<String> = opening(&found.input).into_iter().collect();
    for curve in &found.curves {
        let facts = facts(&one(curve, found)).into_iter().chain([rests_on(curve, found)]);
        said.extend(facts.map(|line| if several { format!("{}: {line}", heading(&curve.name)) } else { line }));
    }
    said.push("This holds within the tested range, for this cultivar, etiolation, method and season only.".to_owned());
    said
}

/// The strengths around the threshold with their deaths: between them the shape alone decides.
fn rests_on(curve: &DamageCurve, found: &DamageThreshold) -> String {
    let unit = found.input.unit.as_str();
    let strengths: Vec<String> = curve.strengths.iter().map(|one| strength(one.strength, "")).collect();
    let all = format!("It rests on {} strengths: {}", strengths.len(), join(&strengths));
    let Some((below, above)) = around(curve) else { return format!("{all}.") };
    let form = if curve.threshold.by_form {
        "so the form of the curve, as steep as is looked for, chooses the place between them"
    } else {
        "so the shape of the curve decides where it lies"
    };
    format!("{all}; between {} and {} nothing was tested, {form}.", died(below, unit), died(above, unit))
}

fn one(curve: &DamageCurve, found: &DamageThreshold) -> String {
    let (unit, rise, level) = (found.input.unit.as_str(), points(found.rise), confidence(found.confidence));
    let with_substance = told_unit(&found.input);
    if curve.threshold.no_room {
        return format!("{}.", no_room(curve, &trees(found.rise), &with_substance));
    }
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
            number(from.low),
            strength(from.high, unit)
        ),
        (_, Some(value)) => format!(
            "The strength at which deaths have risen by {rise} trees per 100 is not located: the curve gets there at about {}, but it may lie at or above the highest tested; it is not below {} (lower limit, {level} interval).",
            strength(value, unit),
            strength(from.low, unit)
        ),
        (_, None) if dead(curve).0 == 0 => none_died(curve, &rise, &with_substance).unwrap_or_default() + ".",
        (_, None) if is_two(curve) => two_place(curve, &rise, unit),
        (_, None) if ends.first().is_some_and(|lowest| from.low <= *lowest) => format!(
            "The strength at which deaths have risen by {rise} trees per 100 is not located: within the tested range the curve does not rise that much, but the strengths leave a rise by up to {} possible.",
            ceil_trees(curve.possible_rise)
        ),
        (_, None) => format!(
            "The strength at which deaths have risen by {rise} trees per 100 is not located: within the tested range the curve does not rise that much; up to {} so large a rise is ruled out (lower limit, {level} interval).",
            strength(from.low, unit)
        ),
    };
    let shown = match differ(curve, found) {
        _ if is_alike(curve) => String::new(),
        true => format!(" Deaths differ between strengths ({}).", p_value(curve.test.p)),
        false => format!(" Deaths are not shown to differ between strengths ({}).", p_value(curve.test.p)),
    };
    let told = |one: &&OneCurve| !one.all_alike && one.best.withheld != Some(Withheld::FewStrengths);
    let survivors = curve.survivors.as_ref().filter(told).map_or_else(String::new, |one| {
        let top = one.best.strength.value;
        let deadly = from.located && top > if from.from_first { from.value.unwrap_or(from.low) } else { from.low };
        format!(
            " Among survivors rooting is best at about {} ({}){}.",
            strength(top, unit),
            best_located(one),
            if deadly { ", where more cuttings die" } else { "" }
        )
    });
    format!(
        "By the curve {} of 100 cuttings die at {lowest} and {} at {highest}.{shown} {place}{survivors}",
        deaths(curve.lowest),
        deaths(curve.highest)
    )
}

/// What two strengths tell of the place of a rise.
fn two_place(curve: &DamageCurve, rise: &str, unit: &str) -> String {
    let [low, high] = curve.strengths.as_slice() else { return String::new() };
    let what = format!(
        "Two strengths make no curve: {} died at {} than at {}",
        more_died(low, high),
        strength(high.strength, unit),
        strength(low.strength, unit)
    );
    if curve.threshold.low >= high.strength {
        return format!("{what}; a rise by {rise} trees per 100 is ruled out at both.");
    }
    format!(
        "{what}, and where deaths rise by {rise} trees per 100 no one has seen. Test a strength {}.",
        where_to_test(low)
    )
}

/// The place of damage is not located.
fn not_located(curve: &DamageCurve, place: &str) -> Note {
    let text = if curve.threshold.no_room {
        format!(
            "{place}Too many died at the lowest strength already: nothing is left to rise, so damage by strength cannot be told."
        )
    } else if is_two(curve) {
        format!("{place}Two strengths make no curve, so no strength of damage is located between them.")
    } else {
        format!(
            "{place}The strength of damage is not located within the tested range; the lower limit says up to where a rise of that size is ruled out."
        )
    };
    Note::new("damage_not_located", text)
}

/// The form of a curve as steep as is looked for chooses the place of damage.
fn by_form(curve: &DamageCurve, (place, unit): (&str, &str)) -> Option<Note> {
    let (below, above) = around(curve).filter(|_| curve.threshold.by_form)?;
    let text = format!(
        "{place}The place of damage between {} and {} is chosen by the form of the curve alone, since nothing was tested between them; the limits span the tested strengths that show the rise. Test strengths between them.",
        died(below, unit),
        died(above, unit)
    );
    Some(Note::new("place_by_form", text))
}

pub(super) fn notes(found: &DamageThreshold) -> Vec<Note> {
    let mut notes = found.input.notes.clone();
    if !found.input.counted {
        let (none, ignored) = (cautions::no_trays(Claims::Intervals), cautions::trays_ignored(Claims::Intervals));
        notes.push(if found.input.pooled { none } else { ignored });
    }
    for curve in &found.curves {
        let place = if found.curves.len() > 1 { format!("{}: ", curve.name) } else { String::new() };
        if !curve.threshold.located {
            notes.push(not_located(curve, &place));
        }
        notes.extend(by_form(curve, (&place, &found.input.unit)));
        if curve.survivors.is_none() {
            notes.push(Note::new(
                "too_few_survivors",
                format!("{place}Too few strengths have survivors for a curve of rooting among them."),
            ));
        }
        let lead = curve.shapes.first().and_then(|shape| shape.lack_p.map(|p| (shape, p)));
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
    let trays = match (found.input.counted, found.df) {
        (true, Some(df)) => format!(
            "Trays were counted by their design effect ({} for the spread of deaths between trays).",
            degrees_of_freedom(df)
        ),
        (true, None) => "No strength had two trays, so a correlation of 0.05 within trays was assumed.".to_owned(),
        (false, _) => "Cuttings were treated as independent.".to_owned(),
    };
    let steepest = if found.curves.iter().any(|curve| curve.threshold.by_form) {
        ", and, where a shape is as steep as is looked for, span from the highest tested strength whose deaths are not shown to have risen to the lowest at which they are shown to have risen by so much"
    } else {
        ""
    };
    format!(
        "Three outcomes (rooted, alive without roots, dead) were modelled in two steps, dead among stuck and rooted among survivors, whose likelihoods multiply to that of all three. Deaths were fitted with the shapes flat, straight log odds, natural response and rising with floor and ceiling, weighted by Akaike's criterion with correction for few units. The damage threshold is the lowest strength within the tested range at which deaths exceed those at the lowest strength by {} trees per 100; its limits at {} hold every strength that one of the shapes allows by its profile likelihood, with a penalty of 1 for each parameter{steepest}. {trays}{}{}",
        points(found.rise),
        confidence(found.confidence),
        law_words::blocks(&found.input),
        law_words::over_places(&found.input)
    )
}

pub(super) fn cited() -> Vec<String> {
    [
        references_curves::CRUMP_1984,
        references_curves::DAUNCEY_2015,
        references::HURVICH_TSAI_1989,
        references::DONNER_KLAR_2000,
    ]
    .map(str::to_owned)
    .to_vec()
}
