//! What is said of a plan.

use super::numbers::{PlanRow, Planned};
use super::options::PlanOptions;
use super::question::Question;
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::report::references::{DONNER_KLAR_2000, FISHER_1935};
use crate::report::references_plan::COCHRAN_1977;
use crate::report::references_spread::SMYTH_2004;
use crate::report::{fitted, number, numbers, percent, points, whole};

/// A share as so many trials in a hundred.
pub(super) fn of_100(share: f64) -> String {
    let whole = (100.0 * share).round();
    if whole >= 100.0 && share < 1.0 {
        return "more than 99 of 100".to_owned();
    }
    if whole <= 0.0 && share > 0.0 {
        return "fewer than 1 of 100".to_owned();
    }
    format!("{whole:.0} of 100")
}

/// A take as so many trees of a hundred.
pub(super) fn take(rate: f64) -> String {
    let points = points(rate);
    points.strip_suffix(".0").unwrap_or(&points).to_owned()
}

/// What there is to see: "60 against 75 of 100".
fn sight(question: Question, takes: &[f64], options: &PlanOptions) -> String {
    let margin = || take(options.margin.unwrap_or(0.0));
    match (question, takes) {
        (Question::Target, [one]) => {
            format!("{} of 100 against a target of {}", take(*one), take(options.target.unwrap_or(0.0)))
        }
        (Question::Difference, [one, other]) => format!("{} against {} of 100", take(*one), take(*other)),
        (Question::NotWorse, _) => format!("that the second is not worse by {} trees per 100", margin()),
        (Question::Equivalent, _) => format!("that both are alike within {} trees per 100", margin()),
        (Question::Trend, _) => format!("a trend along {} levels", takes.len()),
        (Question::Effect, _) => "an effect of the first treatment".to_owned(),
        (Question::Interaction, _) => "that the first treatment acts differently along the second".to_owned(),
        (Question::AgainstControl, _) => "each expected difference from the control".to_owned(),
        _ => "each expected difference between levels".to_owned(),
    }
}

/// The trays of one row: "8 trays of 14 per level".
fn trays(row: &PlanRow, found: &Planned) -> String {
    let (of_one, crossed) = (found.of_one_level(), found.question.is_crossed());
    let per = match (of_one, crossed) {
        (true, _) => "",
        (_, true) => " per combination",
        _ => " per level",
    };
    if row.bays > 0 {
        let each = row.trays / row.bays.max(1);
        let word = if each == 1 { "tray" } else { "trays" };
        return format!("{} bays{per}, each with {each} {word} of {},", row.bays, cuttings(row.cuttings));
    }
    let word = if row.trays == 1 { "tray" } else { "trays" };
    format!("{} {word} of {}{per}", row.trays, cuttings(row.cuttings))
}

/// The verb of its trays.
fn shows(row: &PlanRow) -> &'static str {
    if row.trays == 1 && row.bays == 0 { "shows" } else { "show" }
}

/// "1 cutting", "20 cuttings".
pub(super) fn cuttings(count: u64) -> String {
    whole(count, "cutting", "cuttings")
}

fn correlation(row: &PlanRow) -> String {
    number(row.correlation)
}

fn made_with(found: &Planned, options: &PlanOptions) -> MadeWith {
    let list = |values: &[u64]| values.iter().map(u64::to_string).collect::<Vec<_>>().join(", ");
    let takes: Vec<String> = found.takes.iter().map(f64::to_string).collect();
    let trial = &options.trial;
    let mut record = MadeWith::new(&[
        ("takes", takes.join(", ")),
        ("question", found.question.name().to_owned()),
        ("confidence", found.confidence.to_string()),
        ("trays", list(&options.trays)),
        ("cuttings", list(&options.cuttings)),
        ("law", trial.law.name().to_owned()),
        ("block_trays", trial.block_trays.to_string()),
        ("bays", trial.bays.to_string()),
        ("lost", trial.lost.to_string()),
        ("together", options.together.name().to_owned()),
        ("draws", found.draws.to_string()),
    ]);
    record.seed = Some(options.seed);
    record
}

fn answer(kind: &str, found: Planned, options: &PlanOptions, said: (String, Vec<String>)) -> Answer<Planned> {
    let mut references = vec![DONNER_KLAR_2000.to_owned()];
    if found.rows.iter().any(|row| row.confirmed.is_some() || row.smallest_p.is_some()) {
        references.push(FISHER_1935.to_owned());
    }
    if found.n_earlier > 0 {
        references.push(SMYTH_2004.to_owned());
    }
    if found.rows.iter().any(|row| row.cost.is_some()) {
        references.push(COCHRAN_1977.to_owned());
    }
    Answer {
        kind: kind.to_owned(),
        table: table(&found),
        sentence: said.0,
        details: said.1,
        notes: notes(&found, options),
        methods: methods(&found, options),
        references,
        made_with: made_with(&found, options),
        numbers: found,
    }
}

/// How often planned trials show it.
pub(super) fn power(found: Planned, options: &PlanOptions) -> Answer<Planned> {
    let sight = sight(found.question, &found.takes, options);
    let sentence = found.leading().map_or_else(String::new, |row| {
        let lead = format!("{} {} {sight} in {} trials", trays(row, &found), shows(row), of_100(spoken_share(row)));
        fitted(&lead, &[at(row, &found)])
    });
    let mut details = others(&found);
    details.extend(found.leading().into_iter().flat_map(|row| facts(row, &found)));
    details.extend(more_cuttings(&found));
    details.extend(pairs(&found));
    answer("power", found, options, (sentence, details))
}

/// "1 earlier trial leaves", "3 earlier trials leave".
fn earlier(count: u64, verb: &str) -> String {
    if count == 1 { format!("1 earlier trial {verb}s") } else { format!("{count} earlier trials {verb}") }
}

/// The share that is spoken of: over what earlier trials leave likely, where these tell of trays.
fn spoken_share(row: &PlanRow) -> f64 {
    row.expected_power.unwrap_or(row.power)
}

/// What goes with the row that is spoken of.
fn at(row: &PlanRow, found: &Planned) -> String {
    if found.n_earlier > 0 {
        format!(", the tray correlation as uncertain as {} it", earlier(found.n_earlier, "leave"))
    } else {
        format!(", if trays differ as assumed ({})", correlation(row))
    }
}

/// The other correlations with the same trays.
fn others(found: &Planned) -> Vec<String> {
    let Some(lead) = found.leading() else { return Vec::new() };
    let same = |row: &&PlanRow| {
        row.trays == lead.trays && row.cuttings == lead.cuttings && row.correlation != lead.correlation
    };
    let told: Vec<String> = found
        .rows
        .iter()
        .filter(same)
        .map(|row| format!("{} at a correlation of {}", of_100(row.power), correlation(row)))
        .collect();
    if told.is_empty() { Vec::new() } else { vec![format!("With the same trays: {}.", told.join(", "))] }
}

/// What else one row tells.
fn facts(row: &PlanRow, found: &Planned) -> Vec<String> {
    let mut lines = Vec::new();
    if row.expected_power.is_some() {
        lines.push(format!(
            "At the correlation in the middle of what {} likely ({}): {} trials.",
            earlier(found.n_earlier, "leave"),
            correlation(row),
            of_100(row.power)
        ));
    }
    if let Some(all) = row.all_shown {
        lines.push(format!("All expected differences are shown together in {} trials.", of_100(all)));
    }
    if let Some(confirmed) = row.confirmed {
        lines.push(format!("Dealing the trays out again at random confirms it in {} trials.", of_100(confirmed)));
    }
    if let Some(least) = row.smallest_p.filter(|least| *least > 1.0 - found.confidence) {
        let unit = if row.bays > 0 { "bays" } else { "trays" };
        lines.push(format!(
            "With so few {unit}, dealing them out again can never give a P value below {}, so no such trial can be confirmed that way.",
            number(least)
        ));
    }
    if let Some((middle, most)) = row.half_width.zip(row.half_width_90) {
        lines.push(format!(
            "The interval reaches {} trees per 100 either way in the middle of all trials, and {} or less in 9 of 10.",
            points(middle),
            points(most)
        ));
    }
    if let Some(cost) = row.cost {
        lines.push(format!("It costs {}, for {} trays with {} cuttings.", number(cost), row.n_trays, row.n_cuttings));
    }
    if row.error == 0.0 {
        let each = if row.power > 0.5 { "Each" } else { "None" };
        lines.push(format!("{each} of the {} drawn trials shows it.", found.draws));
        return lines;
    }
    lines.push(format!(
        "The share is known to {} of 100 trials either way (95 %), since {} were drawn.",
        numbers::number((196.0 * row.error * 10.0).round() / 10.0),
        found.draws
    ));
    lines
}

fn pairs(found: &Planned) -> Vec<String> {
    let one = |pair: &super::numbers::PairPower| {
        format!("{} minus {} (expected {}): {}", pair.second, pair.first, points(pair.expected), of_100(pair.power))
    };
    let told: Vec<String> = found.pairs.iter().filter(|pair| pair.expected != 0.0).map(one).collect();
    if told.is_empty() { Vec::new() } else { vec![format!("Trials that show a pair: {}.", told.join("; "))] }
}

/// Whether more cuttings in the same trays would help.
fn more_cuttings(found: &Planned) -> Vec<String> {
    let Some((row, more)) = found.leading().zip(found.more_cuttings) else { return Vec::new() };
    if row.power > 0.9 {
        return Vec::new();
    }
    let helps = if more.power - row.power < 0.1 {
        "more cuttings per tray hardly help, more trays do"
    } else {
        "more cuttings per tray help"
    };
    vec![format!(
        "With {} cuttings per tray the same trays would show it in {} trials: {helps}.",
        more.cuttings,
        of_100(more.power)
    )]
}

/// How near planned trials come.
pub(super) fn precision(found: Planned, options: &PlanOptions) -> Answer<Planned> {
    let what = if found.of_one_level() { "the take" } else { "the difference" };
    let sentence = found.leading().map_or_else(String::new, |row| {
        let Some((middle, most)) = row.half_width.zip(row.half_width_90) else {
            let set = trays(row, &found);
            let why = if row.trays < 2 {
                "with one tray nothing shows how trays differ"
            } else {
                "this question has no such interval"
            };
            return format!("{set} tell nothing of {what}: {why}.");
        };
        let lead = format!("{} tell {what} to within {} trees per 100 either way", trays(row, &found), points(middle));
        fitted(&lead, &[format!("; {} or less in 9 of 10 trials", points(most))])
    });
    let mut details = Vec::new();
    if let Some(lead) = found.leading() {
        let same = found.rows.iter().filter(|row| row.trays == lead.trays && row.cuttings == lead.cuttings);
        let told: Vec<String> = same
            .filter_map(|row| Some(format!("{} at a correlation of {}", points(row.half_width?), correlation(row))))
            .collect();
        details.push(format!("Half the width of the interval, in the middle of all trials: {}.", told.join(", ")));
    }
    answer("precision", found, options, (sentence, details))
}

/// Whether it is the places that a trial of more trays lacks.
fn held_by_places(row: &PlanRow, options: &PlanOptions) -> bool {
    options
        .places
        .is_some_and(|places| row.trays < options.most_trays && row.n_trays + row.n_trays / row.trays.max(1) > places)
}

/// How many trays are needed.
pub(super) fn needed(found: Planned, options: &PlanOptions) -> Answer<Planned> {
    let seen = sight(found.question, &found.takes, options);
    let asked = of_100(options.power);
    let sentence = found.leading().map_or_else(String::new, |row| {
        let set = trays(row, &found);
        if row.reached {
            let lead = format!("Set {} to show {seen} in {asked} trials", set.trim_end_matches(','));
            fitted(&lead, &[at(row, &found)])
        } else {
            let lead =
                format!("Out of reach: even {set} {} {seen} in {} trials", shows(row), of_100(spoken_share(row)));
            fitted(&lead, &[format!(", not {asked}")])
        }
    });
    let mut details = Vec::new();
    if let Some(lead) = found.leading() {
        let same = |row: &&PlanRow| row.correlation != lead.correlation;
        let one = |row: &PlanRow| {
            let set = trays(row, &found);
            let set = if row.cuttings == lead.cuttings && row.bays == 0 { row.trays.to_string() } else { set };
            let set = set.trim_end_matches(',');
            if row.reached {
                format!("{set} at a correlation of {}", correlation(row))
            } else {
                format!("more than {set} at a correlation of {}", correlation(row))
            }
        };
        let told: Vec<String> = found.rows.iter().filter(same).map(one).collect();
        if !told.is_empty() {
            details.push(format!("It takes {}.", told.join(", ")));
        }
        if lead.reached {
            details.push(format!("They show it in {} trials.", of_100(spoken_share(lead))));
        } else {
            let more = if held_by_places(lead, options) { "find more places" } else { "set most_trays= higher" };
            details.push(format!("Look for a larger difference, take more cuttings per tray, or {more}."));
        }
        if let Some(places) = options.places {
            let full =
                if !lead.reached && held_by_places(lead, options) { ", and no more of each level fit" } else { "" };
            details.push(format!("They take {} of {places} places{full}.", lead.n_trays));
        }
        details.extend(facts(lead, &found));
    }
    details.extend(pairs(&found));
    answer("trays_needed", found, options, (sentence, details))
}

fn notes(found: &Planned, options: &PlanOptions) -> Vec<Note> {
    let mut notes = Vec::new();
    if options.correlation.is_empty() && options.earlier.is_empty() {
        notes.push(Note::new(
            "correlation_assumed",
            "How alike cuttings of one tray are is not known for rooting trials, so three values are shown; trial.tray_correlation() tells it of your own trials, and earlier= takes them in.",
        ));
    }
    if options.trial.bays > 0 {
        notes.push(Note::new(
            "bay_spread_assumed",
            format!(
                "Bays are taken to differ with a standard deviation of {} on the log odds; it decides how many bays are needed, more than trays or cuttings do.",
                number(options.trial.bay_sd)
            ),
        ));
    }
    if found.rows.iter().any(|row| row.trays < 4 && row.bays == 0) {
        notes.push(Note::new(
            "few_trays",
            "With fewer than 4 trays of a level the spread between trays is hardly known; 6 or more are better.",
        ));
    }
    notes.push(Note::new(
        "expected_takes",
        "This holds for the takes expected: where they turn out nearer to each other, the trial shows less.",
    ));
    notes
}

fn table(found: &Planned) -> Sheet {
    let rows = &found.rows;
    let mut sheet = Sheet::default();
    if rows.iter().any(|row| row.bays > 0) {
        sheet.whole("bays", rows.iter().map(|row| row.bays)).headed("bays per level");
    }
    sheet.whole("trays", rows.iter().map(|row| row.trays)).headed("trays per level");
    sheet.whole("cuttings", rows.iter().map(|row| row.cuttings)).headed("cuttings per tray");
    sheet.plain("correlation", rows.iter().map(|row| row.correlation));
    sheet.rate("power", rows.iter().map(|row| row.power)).headed("trials that show it");
    if rows.iter().any(|row| row.expected_power.is_some()) {
        sheet.rate("expected_power", rows.iter().map(|row| row.expected_power)).headed("correlation uncertain");
    }
    if rows.iter().any(|row| row.all_shown.is_some()) {
        sheet.rate("all_shown", rows.iter().map(|row| row.all_shown)).headed("all shown");
    }
    if rows.iter().any(|row| row.confirmed.is_some()) {
        sheet.rate("confirmed", rows.iter().map(|row| row.confirmed)).headed("and confirmed");
    }
    if rows.iter().any(|row| row.half_width.is_some()) {
        sheet.size("half_width", rows.iter().map(|row| row.half_width)).headed("either way");
        sheet.size("half_width_90", rows.iter().map(|row| row.half_width_90)).headed("9 of 10 below");
    }
    sheet.whole("n_trays", rows.iter().map(|row| row.n_trays)).headed("trays in all");
    sheet.whole("n_cuttings", rows.iter().map(|row| row.n_cuttings)).headed("cuttings in all");
    if rows.iter().any(|row| row.cost.is_some()) {
        sheet.plain("cost", rows.iter().map(|row| row.cost));
    }
    if rows.iter().any(|row| !row.reached) {
        sheet.text("reached", rows.iter().map(|row| if row.reached { "yes" } else { "no" }));
    }
    sheet
}

/// By which of the tool's tests the trial is judged.
fn judged(question: Question, together: &str) -> String {
    match question {
        Question::Difference => "the score on effective cuttings with t on trays".to_owned(),
        Question::NotWorse | Question::Equivalent => {
            "limits of the score on effective cuttings, which had to lie within the margin".to_owned()
        }
        Question::AgainstControl | Question::AllPairs => {
            format!("the score on effective cuttings with t on trays, P values adjusted together ({together})")
        }
        Question::Trend => "t along the rates of trays".to_owned(),
        Question::Effect => "the model's score test of the first treatment with the second in the model".to_owned(),
        Question::Interaction => "the model's score test of the interaction".to_owned(),
        Question::Target => {
            "the interval of the rate on effective cuttings, which had to leave the target out".to_owned()
        }
    }
}

fn methods(found: &Planned, options: &PlanOptions) -> String {
    let trial = &options.trial;
    let takes: Vec<String> = found.takes.iter().map(|take| percent(*take)).collect();
    let law = match trial.law {
        super::design::TrayLaw::BetaBinomial => "beta-binomial",
        super::design::TrayLaw::LogitNormal => "binomial around normal log odds",
    };
    let mut text = format!(
        "For every design {} trials were drawn with takes of {}. Counts of trays were {law}. Each trial was judged at {} confidence by {}.",
        found.draws,
        numbers::join(&takes),
        numbers::confidence(found.confidence),
        judged(found.question, options.together.in_words())
    );
    if trial.block_trays > 0 {
        text.push_str(&format!(
            " Blocks held {} trays of each level and differed with a standard deviation of {} on the log odds.",
            trial.block_trays,
            number(trial.block_sd)
        ));
    }
    if trial.bays > 0 {
        text.push_str(" Levels were given to whole bays, which were the units.");
    }
    if trial.lost > 0.0 {
        text.push_str(&format!(" Each tray was lost with a chance of {}.", percent(trial.lost)));
    }
    if found.rows.iter().any(|row| row.confirmed.is_some() || row.smallest_p.is_some()) {
        text.push_str(" Beside it stands what dealing the trays out again at random can show.");
    }
    if found.n_earlier > 0 {
        text.push_str(" The correlation was that of earlier trials, drawn from what these leave likely.");
    }
    text
}
