//! What is said of the smallest differences that a design shows.

use super::numbers::{Smallest, SmallestRow};
use super::options::PlanOptions;
use super::words::{cuttings, of_100, take};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::report::references::DONNER_KLAR_2000;
use crate::report::{number, numbers, percent, points, whole};

/// The smallest differences.
pub(super) fn smallest(found: Smallest, options: &PlanOptions) -> Answer<Smallest> {
    let lead = found.rows.get(found.lead as usize).or_else(|| found.rows.first());
    let sentence = lead.map_or_else(String::new, |row| spoken(row, &found));
    let mut details = Vec::new();
    if let Some(lead) = lead {
        if let Some(fall) = lead.fall {
            details.push(format!("A fall to {} of 100 is shown as often.", take(found.take - fall)));
        } else {
            details.push("No fall is shown as often, not even one to none.".to_owned());
        }
        let same = |row: &&SmallestRow| {
            row.trays == lead.trays && row.cuttings == lead.cuttings && row.correlation != lead.correlation
        };
        let one = |row: &SmallestRow| {
            let rise = row.rise.map_or_else(|| "none".to_owned(), points);
            format!("{rise} at a correlation of {}", number(row.correlation))
        };
        let told: Vec<String> = found.rows.iter().filter(same).map(one).collect();
        if !told.is_empty() {
            details.push(format!("Smallest rise: {}.", told.join(", ")));
        }
    }
    let rows = &found.rows;
    let mut table = Sheet::default();
    table.whole("trays", rows.iter().map(|row| row.trays)).headed("trays per level");
    table.whole("cuttings", rows.iter().map(|row| row.cuttings)).headed("cuttings per tray");
    table.plain("correlation", rows.iter().map(|row| row.correlation));
    table.size("rise", rows.iter().map(|row| row.rise)).headed("smallest rise");
    table.size("fall", rows.iter().map(|row| row.fall)).headed("smallest fall");
    let mut made_with = MadeWith::new(&[
        ("take", found.take.to_string()),
        ("power", found.asked_power.to_string()),
        ("confidence", found.confidence.to_string()),
        ("law", options.trial.law.name().to_owned()),
        ("draws", found.draws.to_string()),
    ]);
    made_with.seed = Some(options.seed);
    Answer {
        kind: "smallest_difference".to_owned(),
        table,
        sentence,
        details,
        notes: vec![Note::new(
            "smaller_may_be_missed",
            "Smaller differences are shown less often; not showing one is not proof that there is none.",
        )],
        methods: format!(
            "From a take of {} the other take was moved until {} trials showed the difference, by the score on effective cuttings with t on trays at {} confidence. {} trials were drawn for every difference.",
            percent(found.take),
            of_100(found.asked_power),
            numbers::confidence(found.confidence),
            found.draws
        ),
        references: vec![DONNER_KLAR_2000.to_owned()],
        made_with,
        numbers: found,
    }
}

fn spoken(row: &SmallestRow, found: &Smallest) -> String {
    let set = format!("{} of {} per level", whole(row.trays, "tray", "trays"), cuttings(row.cuttings));
    match row.rise {
        Some(rise) => format!(
            "{set} show a rise from {} to {} of 100 in {} trials; smaller ones less often.",
            take(found.take),
            take(found.take + rise),
            of_100(found.asked_power)
        ),
        None => format!("{set} show no rise from {} of 100 in {} trials.", take(found.take), of_100(found.asked_power)),
    }
}
