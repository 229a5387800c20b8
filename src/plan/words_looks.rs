//! What is said of a trial that may end early.

use super::numbers_looks::{Boundary, EndChances, EndOptions, Looks, LooksOptions};
use super::words::{of_100, take};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::report::references_plan::{ARMITAGE_1969, LAN_SIMON_HALPERIN_1982, OBRIEN_FLEMING_1979, POCOCK_1977};
use crate::report::{confidence, fitted, number, numbers, p_value, percent, points};

/// A P level to three digits.
fn level(p: f64) -> String {
    number(p)
}

pub(super) fn answer(found: Looks, options: &LooksOptions) -> Answer<Looks> {
    let first = found.rows.first().map_or(1.0, |row| row.p_level);
    let last = found.rows.last().map_or(1.0, |row| row.p_level);
    let trays = found.rows.last().map_or(0, |row| row.trays);
    let lead = if found.boundary == Boundary::Pocock {
        format!("End at a look where P is at most {}", level(last))
    } else {
        format!(
            "End at the first of {} looks where P is at most {}, at the last where it is at most {}",
            found.rows.len(),
            level(first),
            level(last)
        )
    };
    let tail = format!(
        "; on average {} of {trays} trays per level are read",
        number((10.0 * found.mean_trays).round() / 10.0)
    );
    let mut made_with = MadeWith::new(&[
        ("takes", found.takes.iter().map(f64::to_string).collect::<Vec<_>>().join(", ")),
        ("trays", trays.to_string()),
        ("cuttings", found.cuttings.to_string()),
        ("correlation", found.correlation.to_string()),
        ("looks", found.rows.len().to_string()),
        ("boundary", found.boundary.name().to_owned()),
        ("confidence", found.confidence.to_string()),
        ("draws", found.draws.to_string()),
    ]);
    made_with.seed = Some(options.plan.seed);
    Answer {
        kind: "looks".to_owned(),
        table: table(&found),
        sentence: fitted(&lead, &[tail]),
        details: details(&found),
        notes: vec![Note::new(
            "looks_fixed_before",
            "This holds for looks fixed before the first reading and for cuttings read at one age; a look that was not planned counts too.",
        )],
        methods: format!(
            "P levels of {} looks were set by {} simulated trials without a difference, judged by the score on effective cuttings with t on trays, so that all looks together alarm in {} ({}).",
            found.rows.len(),
            4 * found.draws,
            confidence(1.0 - found.confidence),
            if found.boundary == Boundary::Pocock { "equal levels, Pocock 1977" } else { "O'Brien and Fleming 1979" }
        ),
        references: vec![
            if found.boundary == Boundary::Pocock { POCOCK_1977 } else { OBRIEN_FLEMING_1979 }.to_owned(),
            ARMITAGE_1969.to_owned(),
        ],
        made_with,
        numbers: found,
    }
}

fn details(found: &Looks) -> Vec<String> {
    let sight = found.takes.iter().map(|rate| take(*rate)).collect::<Vec<_>>().join(" against ");
    let alarms = found.rows.last().map_or(0.0, |row| row.alarms);
    vec![
        format!(
            "{sight} of 100 is shown in {} trials with these looks, and in {} with a single one at the end.",
            of_100(found.power),
            of_100(found.power_without)
        ),
        format!(
            "Without any difference {} of trials end by chance. Looking {} times with P at most {} each time would make it {}, after every tray {}.",
            percent(alarms),
            found.rows.len(),
            numbers::number(1.0 - found.confidence),
            percent(found.naive),
            percent(found.naive_each_tray)
        ),
    ]
}

fn table(found: &Looks) -> Sheet {
    let rows = &found.rows;
    let mut sheet = Sheet::default();
    sheet.whole("look", rows.iter().map(|row| row.look));
    sheet.whole("trays", rows.iter().map(|row| row.trays)).headed("trays per level");
    sheet.plain("p_level", rows.iter().map(|row| row.p_level)).headed("end where P is at most");
    sheet.rate("ended", rows.iter().map(|row| row.ended)).headed("ended by then");
    sheet.rate("alarms", rows.iter().map(|row| row.alarms)).headed("by chance alone");
    sheet
}

/// The chance that a trial under way ends with a difference shown.
pub(super) fn ending(found: EndChances, options: &EndOptions) -> Answer<EndChances> {
    let chance = |assumed: &str| found.rows.iter().find(|row| row.assumed == assumed).map(|row| row.chance);
    let lead = found.rows.first().map_or(0.0, |row| row.chance);
    let so = if options.takes.is_some() { "if trays to come root as expected" } else { "if it goes on as so far" };
    let sentence = fitted(
        &format!("Going on to {} trays per level shows a difference in {} trials", found.trays, of_100(lead)),
        &[format!(" {so}")],
    );
    let mut details = vec![format!(
        "So far {} and {} trays of {} and {}: a difference of {} trees per 100.",
        found.read.0,
        found.read.1,
        found.levels.0,
        found.levels.1,
        points(found.value)
    )];
    if let Some(seen) = chance("as seen so far").filter(|_| options.takes.is_some()) {
        details.push(format!("If it goes on as so far: {}.", of_100(seen)));
    }
    if let Some(none) = chance("no difference") {
        details.push(format!("If the levels do not differ: {}.", of_100(none)));
    }
    let rows = &found.rows;
    let mut table = Sheet::default();
    table.text("assumed", rows.iter().map(|row| row.assumed.as_str())).headed("trays to come");
    table.rate("first", rows.iter().map(|row| row.first)).headed(found.levels.0.clone());
    table.rate("second", rows.iter().map(|row| row.second)).headed(found.levels.1.clone());
    table.rate("chance", rows.iter().map(|row| row.chance)).headed("trials that show it");
    let mut made_with = MadeWith::new(&[
        ("factor", found.factor.clone()),
        ("levels", format!("{} and {}", found.levels.0, found.levels.1)),
        ("trays", found.trays.to_string()),
        ("p_level", found.p_level.to_string()),
        ("draws", found.draws.to_string()),
    ]);
    made_with.seed = Some(options.seed);
    Answer {
        kind: "chance_at_end".to_owned(),
        table,
        sentence,
        details,
        notes: vec![Note::new(
            "looked_at_early",
            "Looking at counts before the end is a look: ending where P is small needs P levels set before the start (rootling.plan.looks).",
        )],
        methods: format!(
            "The trays read so far were kept and those to come drawn {} times (beta-binomial, correlation {}); each trial was judged at its end by the score on effective cuttings with t on trays at {}.",
            found.draws,
            number(found.correlation),
            p_value(found.p_level)
        ),
        references: vec![LAN_SIMON_HALPERIN_1982.to_owned()],
        made_with,
        numbers: found,
    }
}
