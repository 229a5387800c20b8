//! What is said of a trial that is to find the best strength.

use super::numbers_curve::{CurveLayout, CurvePlan, CurvePlanOptions, StrengthTrays};
use super::words::of_100;
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::report::references_curves::ATKINSON_2007;
use crate::report::{cautions, fitted, join, number, points};

fn strength(value: f64, unit: &str) -> String {
    let three = format!("{value:.2e}").parse::<f64>().unwrap_or(value);
    let shown = number(three);
    if unit.is_empty() { shown } else { format!("{shown} {unit}") }
}

fn placed(layout: &CurveLayout, unit: &str) -> String {
    let one = |own: &StrengthTrays| format!("{} at {}", own.trays, strength(own.strength, unit));
    join(&layout.strengths.iter().map(one).collect::<Vec<_>>())
}

pub(super) fn answer(found: CurvePlan, options: &CurvePlanOptions) -> Answer<CurvePlan> {
    let unit = found.unit.as_str();
    let better = found.layouts.iter().max_by(|one, other| one.located.total_cmp(&other.located));
    let sentence = better.map_or_else(String::new, |one| {
        let lead = format!(
            "{} trays of {} cuttings locate the best strength in {} trials",
            found.trays,
            found.cuttings,
            of_100(one.located)
        );
        let limits = one
            .low
            .zip(one.high)
            .map(|(low, high)| format!(", then between {} and {} or so", strength(low, ""), strength(high, unit)));
        fitted(&lead, &limits.into_iter().collect::<Vec<_>>())
    });
    let mut details: Vec<String> = found
        .layouts
        .iter()
        .map(|one| {
            let name = if one.layout == "even" { "Spread evenly" } else { "Where they tell most" };
            format!(
                "{name} ({}): located in {} trials; the strength found loses {} trees per 100 on average.",
                placed(one, unit),
                of_100(one.located),
                points(one.lost)
            )
        })
        .collect();
    details.push(format!(
        "The curve expected has its best at {}, where {} of 100 root.",
        strength(found.best, unit),
        points(found.best_take)
    ));
    let mut made_with = MadeWith::new(&[
        ("strengths", options.strengths.iter().map(f64::to_string).collect::<Vec<_>>().join(", ")),
        ("takes", options.takes.iter().map(f64::to_string).collect::<Vec<_>>().join(", ")),
        ("trays", found.trays.to_string()),
        ("cuttings", found.cuttings.to_string()),
        ("correlation", found.correlation.to_string()),
        ("draws", found.draws.to_string()),
    ]);
    made_with.seed = Some(options.seed);
    Answer {
        kind: "best_strength_plan".to_owned(),
        table: table(&found),
        sentence,
        details,
        notes: cautions::last(vec![
            Note::new(
                "expected_takes",
                "This holds for the curve expected: where the best lies elsewhere, other strengths tell more.",
            ),
            cautions::chemical(),
        ]),
        methods: format!(
            "A curve of all shapes was put through the takes expected. {} trials were drawn for each layout (beta-binomial, correlation {}) and each fitted with all shapes. Trays were spread evenly, or placed so that the variance of the best strength's place is least (c-optimal).",
            found.draws,
            number(found.correlation)
        ),
        references: vec![ATKINSON_2007.to_owned()],
        made_with,
        numbers: found,
    }
}

fn table(found: &CurvePlan) -> Sheet {
    let rows: Vec<(&CurveLayout, &StrengthTrays)> =
        found.layouts.iter().flat_map(|layout| layout.strengths.iter().map(move |own| (layout, own))).collect();
    let mut sheet = Sheet::default();
    sheet.text("layout", rows.iter().map(|(layout, _)| layout.layout.as_str()));
    sheet.strength("strength", &found.unit, rows.iter().map(|(_, own)| own.strength));
    sheet.whole("trays", rows.iter().map(|(_, own)| own.trays));
    sheet.rate("take", rows.iter().map(|(_, own)| own.take)).headed("take expected");
    sheet.rate("located", rows.iter().map(|(layout, _)| layout.located)).headed("trials that locate the best");
    sheet
}
