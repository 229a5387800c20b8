//! Two levels compared in a response, in words: details, cautions, table and methods.

use super::amounts::Amounts;
use super::compared::{Found, compared};
use super::decision::sentence;
use super::numbers::{CompareResponseOptions, MeanOf, PartDifference, ResponseComparison, ResponseMean};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::compare::{crossed_left_out, second_check};
use crate::control::Control;
use crate::error::Result;
use crate::report::numbers::{degrees_of_freedom, interval, join, p_value, percent, points};
use crate::report::references::{
    BELL_MCCAFFREY_2002, FIELLER_1954, FISHER_1935, PHIPSON_SMYTH_2010, SATTERTHWAITE_1946,
};
use crate::report::references_responses::{COCHRAN_1977, RIDOUT_1998};
use crate::report::{HOW_SURE, Spoken, cautions, plural, whole, with_confidence};
use crate::trial::{Response, ResponseKind, Trial, answer_of_units, follows_time, time_note};

/// The answer.
pub(super) fn answer(
    trial: &Trial,
    treatment: &str,
    levels: (&str, &str),
    options: &CompareResponseOptions,
    control: &Control,
) -> Result<Answer<ResponseComparison>> {
    let found = compared(trial, treatment, levels, options, control)?;
    let said = trial.options().spoken(treatment);
    let numbers = &found.numbers;
    let width = numbers.low.zip(numbers.high).map_or(0.0, |(low, high)| high - low);
    let amounts = Amounts::of(&numbers.response, numbers.mean_of, width);
    let drawn = numbers.randomisation.as_ref().is_some_and(|one| one.drawn.is_some());
    let at: Vec<String> = options.at.iter().map(|(name, value)| format!("{name} {value}")).collect();
    let mut made_with = MadeWith::new(&[
        ("factor", numbers.factor.clone()),
        ("levels", format!("{} and {}", numbers.first.levels.join(""), numbers.second.levels.join(""))),
        ("response", options.response.clone()),
        ("mean_of", numbers.mean_of.name().to_owned()),
        ("at", at.join(", ")),
        ("confidence", numbers.confidence.to_string()),
        ("randomisations", options.randomisations.to_string()),
    ]);
    made_with.seed = drawn.then_some(options.seed);
    let mut references = vec![COCHRAN_1977, BELL_MCCAFFREY_2002, SATTERTHWAITE_1946, FIELLER_1954];
    references.extend(numbers.randomisation.as_ref().map(|_| FISHER_1935));
    references.extend(drawn.then_some(PHIPSON_SMYTH_2010));
    references.extend((numbers.response.kind == ResponseKind::Count).then_some(RIDOUT_1998));
    let answer = Answer {
        kind: "response_comparison".to_owned(),
        sentence: sentence(&found, &said, &amounts),
        details: details(&found, &said, &amounts),
        notes: notes(&found, trial),
        methods: methods(numbers),
        references: references.into_iter().map(str::to_owned).collect(),
        table: table(numbers, &said),
        made_with,
        numbers: found.numbers,
    };
    Ok(trial.signed(answer_of_units(trial.units(), answer)))
}

fn details(found: &Found, said: &Spoken, amounts: &Amounts) -> Vec<String> {
    let numbers = &found.numbers;
    let level = |one: &ResponseMean| said.level(one.levels.first().map_or("", String::as_str));
    let mean = |one: &ResponseMean| {
        let limits = one
            .low
            .zip(one.high)
            .map(|(low, high)| format!(" ({})", interval(amounts.bare(low), amounts.bare(high), numbers.confidence)));
        let value = one.value.map_or_else(|| "nothing measured".to_owned(), |value| amounts.said(value));
        format!("{value} at {}{}", level(one), limits.unwrap_or_default())
    };
    let mut lines: Vec<String> = how_sure(numbers, amounts).into_iter().collect();
    lines.push(format!("{}: {}, {}.", amounts.head(), mean(&numbers.first), mean(&numbers.second)));
    lines.extend(numbers.withheld.iter().map(|why| format!("No test: {why}.")));
    if let Some((low, high)) = numbers.low.zip(numbers.high) {
        let within =
            if numbers.within.is_empty() { String::new() } else { format!(" within {}", join(&numbers.within)) };
        lines.push(format!(
            "The difference{within} is {} ({}); {}.",
            amounts.said(numbers.value),
            interval(amounts.bare(low), amounts.bare(high), numbers.confidence),
            numbers.p.map(p_value).unwrap_or_default()
        ));
    }
    lines.extend(numbers.ratio.map(|ratio| {
        let two = |value: f64| format!("{value:.2}");
        let limits = match (ratio.low, ratio.high) {
            (Some(low), Some(high)) => format!(" ({} to {})", two(low), two(high)),
            (Some(low), None) => format!(" ({} or more)", two(low)),
            _ => String::new(),
        };
        format!("As a ratio: {} times as much at {}{limits}.", two(ratio.value), level(&numbers.second))
    }));
    lines.extend(dealt(numbers));
    lines.extend(numbers.take.map(|take| take_line(take, said, numbers)));
    lines.extend(numbers.of_rooted.map(|part| rooted_line(part, numbers, amounts)));
    if !found.averaged_over.is_empty() {
        lines.push(format!("It is an average over {} as cuttings were stuck.", join(&found.averaged_over)));
    }
    lines.extend(numbers.carried.line(&numbers.unit));
    lines
}

/// The range with its confidence, and whether a second check could object.
fn how_sure(numbers: &ResponseComparison, amounts: &Amounts) -> Option<String> {
    let ((low, high), p) = (numbers.low.zip(numbers.high)?, numbers.p?);
    let (low, high) = if numbers.value >= 0.0 { (low, high) } else { (-high, -low) };
    let alpha = 1.0 - numbers.confidence;
    let with = format!("so few {}", plural(&numbers.unit));
    let dealt = numbers.randomisation.as_ref().filter(|dealt| dealt.assignments > 1.0);
    let check = dealt.and_then(|dealt| second_check(dealt, (p <= alpha, alpha), &with));
    let check = check.map_or_else(String::new, |check| format!("; {check}"));
    Some(format!(
        "{HOW_SURE}{} the difference is {}{check}.",
        with_confidence(numbers.confidence),
        amounts.range(low, high)
    ))
}

fn dealt(numbers: &ResponseComparison) -> Option<String> {
    let test = numbers.randomisation.as_ref()?;
    let alpha = 1.0 - numbers.confidence;
    let verdict = if test.smallest_p > alpha {
        format!("; no outcome could give less than {}", p_value(test.smallest_p))
    } else {
        String::new()
    };
    Some(format!("Second opinion, trays dealt anew by their means: {}{verdict}.", p_value(test.p)))
}

fn take_line(take: PartDifference, said: &Spoken, numbers: &ResponseComparison) -> String {
    let level = |one: &ResponseMean| said.level(one.levels.first().map_or("", String::as_str));
    let limits = take
        .low
        .zip(take.high)
        .map(|(low, high)| format!(" ({})", interval(points(low), points(high), numbers.confidence)));
    format!(
        "First part, rooted: {} at {} and {} at {}, a difference of {} trees per 100{}.",
        percent(take.first),
        level(&numbers.first),
        percent(take.second),
        level(&numbers.second),
        points(take.value),
        limits.unwrap_or_default()
    )
}

fn rooted_line(part: PartDifference, numbers: &ResponseComparison, amounts: &Amounts) -> String {
    let width = part.low.zip(part.high).map_or(0.0, |(low, high)| high - low);
    let own = Amounts::of(&numbers.response, MeanOf::Rooted, width);
    let limits = part.low.zip(part.high).map(|(low, high)| interval(own.bare(low), own.bare(high), numbers.confidence));
    format!(
        "Second part, {} of those that rooted: {} and {}, a difference of {} ({}).",
        amounts.name,
        own.said(part.first),
        own.said(part.second),
        own.said(part.value),
        limits.unwrap_or_default()
    )
}

fn notes(found: &Found, trial: &Trial) -> Vec<Note> {
    let numbers = &found.numbers;
    let mut notes = Vec::new();
    if found.fewest < 4 && numbers.withheld.is_none() {
        notes.push(cautions::few_units(&numbers.unit));
    }
    notes.extend(numbers.carried.note(&numbers.factor, &numbers.unit));
    notes.extend(crossed_left_out(&numbers.factor, &found.judged_by));
    notes.extend(of_response(&numbers.response, numbers.primary, numbers.n_left_out, trial));
    if numbers.mean_of == MeanOf::Rooted || numbers.of_rooted.is_some() {
        notes.push(of_those_rooted(&numbers.response.column));
    }
    let factor = trial.units().factor(&numbers.factor);
    notes.extend(
        factor.and_then(|one| follows_time(trial.units(), one)).map(|place| time_note(&numbers.factor, &place)),
    );
    notes
}

/// That those that rooted are not the same cuttings under each treatment.
pub(super) fn of_those_rooted(name: &str) -> Note {
    let text = format!(
        "{name} of those that rooted: a treatment changes which cuttings these are, so a difference among them is none of the treatment on one and the same cutting. The mean over all cuttings stuck has no such catch."
    );
    Note::new("of_those_rooted", text)
}

/// What holds for every answer about a response: its place among several, entries that are missing, means without their spread.
pub(super) fn of_response(response: &Response, primary: bool, left_out: u64, trial: &Trial) -> Vec<Note> {
    let mut notes = Vec::new();
    let name = &response.column;
    if !primary {
        let lead = trial.primary().unwrap_or("take");
        let text = format!(
            "{name} is a secondary response: {lead} leads. Of several responses some differ by chance; name the one that decides before the trial, with primary= when loading."
        );
        notes.push(Note::new("secondary_response", text));
    }
    if left_out > 0 {
        let text = format!(
            "In {} cuttings rooted and none was measured: left out of {name}.",
            whole(left_out, "tray", "trays")
        );
        notes.push(Note::new("trays_unmeasured", text));
    }
    if response.means_of.is_some() {
        let text = format!("{name} was given as tray means, so how cuttings of a tray differ is not known.");
        notes.push(Note::new("spread_within_lost", text));
    }
    notes
}

/// How means and differences are worked out, for a reviewer to redo.
fn methods(numbers: &ResponseComparison) -> String {
    let unit = plural(&numbers.unit.replace('_', " "));
    let (each, over) = match numbers.mean_of {
        MeanOf::Stuck => ("its total over its cuttings stuck (those that did not root count 0)", "cuttings stuck"),
        MeanOf::Rooted => ("its total over its rooted cuttings that were measured", "rooted cuttings measured"),
    };
    let within = if numbers.within.is_empty() {
        String::new()
    } else {
        format!(" with a constant for each combination of {}", join(&numbers.within))
    };
    let df = numbers.df.map_or_else(String::new, |df| format!(" on {}", degrees_of_freedom(df)));
    let dealt = if numbers.randomisation.is_some() {
        " The second opinion deals the trays to the two levels anew by their means."
    } else {
        ""
    };
    format!(
        "Means of {name} were compared on {unit}: that of each is {each}, and levels are fitted to them by least squares weighted by {over}{within} (ratio estimates). The variance is the sum of squared residuals, each raised by its unit's share (Bell and McCaffrey), level by level. That of a level is never below what its cuttings alone make it, and is averaged with what both levels lead to expect, in proportion to the mean to the power 1.5, which counts as two degrees of freedom. Limits and P go by t{df} (Satterthwaite). As rooting and {name} share their trays, how the two vary together is in the totals. Limits of the ratio are Fieller's from the same variances.{dealt}",
        name = numbers.response.column,
    )
}

fn table(numbers: &ResponseComparison, said: &Spoken) -> Sheet {
    let mut table = Sheet::default();
    let rows = [&numbers.first, &numbers.second];
    let level = |one: &ResponseMean| one.levels.first().cloned().unwrap_or_default();
    let gap = format!("{} against {}", said.short(&level(rows[1])), said.short(&level(rows[0])));
    let all = |of: &dyn Fn(&ResponseMean) -> Option<f64>, last: Option<f64>| {
        rows.iter().map(|one| of(one)).chain([last]).collect::<Vec<_>>()
    };
    table.level(&numbers.factor, rows.iter().map(|one| level(one)).chain([gap]));
    table.plain("value", all(&|one| one.value, Some(numbers.value))).of_unit(&unit_of(&numbers.response));
    table.plain("low", all(&|one| one.low, numbers.low));
    table.plain("high", all(&|one| one.high, numbers.high));
    table.confidence("confidence", [numbers.confidence; 3]);
    table.p("p", all(&|_| None, numbers.p));
    table.degrees("df", all(&|one| one.df, numbers.df));
    table.rate("take", all(&|one| Some(one.take), None));
    table.plain("of_rooted", all(&|one| one.of_rooted, numbers.of_rooted.map(|part| part.value)));
    let whole = |of: &dyn Fn(&ResponseMean) -> u64| {
        let sum: u64 = rows.iter().map(|one| of(one)).sum();
        rows.iter().map(|one| of(one)).chain([sum]).collect::<Vec<u64>>()
    };
    table.whole("n_units", whole(&|one| one.n_units)).headed(plural(&numbers.unit.replace('_', " ")));
    table.whole("n_cuttings", whole(&|one| one.n_cuttings));
    table.whole("n_rooted", whole(&|one| one.n_rooted));
    table.whole("n_measured", whole(&|one| one.n_measured));
    table
}

/// The unit of a column of means: "cm"; empty for counts.
pub(super) fn unit_of(response: &Response) -> String {
    response.unit.map(|unit| unit.name().to_owned()).unwrap_or_default()
}
