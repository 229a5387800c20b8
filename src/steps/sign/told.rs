//! What an early sign tells, in words.

use super::decision::{Pays, pays, sentence};
use super::measured::measured;
use super::numbers::{EarlySign, Kept, SignCounts, SignMeasure, SignOptions, SignPoints, SignQuestion};
use crate::answer::{Answer, MadeWith, Note, Scale, Sheet};
use crate::error::Result;
use crate::report::cautions::{self, Claims};
use crate::report::references::{KOOPMAN_1984, KORN_GRAUBARD_1998, WILSON_1927};
use crate::report::references_steps::{ALTMAN_BLAND_1994, BEGG_GREENES_1983, TUKEY_1958, ZOU_DONNER_2008};
use crate::report::{number, percent, points, whole};

/// What an early sign of rooting tells, and what culling plants without it would save and lose.
///
/// `trays` holds the plants of each tray, or a single entry where no trays were recorded. Rates have Wilson limits, on effective plants
/// and t where there are trays; likelihood ratios Koopman's on the same. Plants taken away unread hide how many of them would have
/// rooted: where those read were kept irrespective of outlook the unread are taken to be like those read on their side of the sign,
/// with limits by leaving out one tray after the other; else only bounds are given.
///
/// # Errors
/// [`StepsError`](crate::error::StepsError) where no plant was read, or none of a side from which plants were taken and `kept` says
/// irrespective; a count error for an impossible confidence.
///
/// # References
/// Altman and Bland 1994; Begg and Greenes 1983.
///
/// ```
/// use rootling::steps::{Kept, SignCounts, SignOptions, early_sign};
/// // 60 of 80 plants without the tint were culled, whatever they looked like.
/// let culled = SignCounts { with_rooted: 96, with_failed: 24, without_rooted: 2, without_failed: 18, without_unread: 60, ..SignCounts::default() };
/// let options = SignOptions { sign: "tint".to_owned(), kept: Kept::Irrespective, ..SignOptions::default() };
/// let found = early_sign(&[culled], &options)?.numbers;
/// let [sensitivity, specificity] = [&found.measures[0], &found.measures[1]];
/// assert!((sensitivity.value.unwrap() - 96.0 / 104.0).abs() < 1e-12 && (specificity.value.unwrap() - 72.0 / 96.0).abs() < 1e-12);
/// assert_eq!(format!("{:.2} {:.2}", sensitivity.as_read.unwrap(), specificity.as_read.unwrap()), "0.98 0.43");
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn early_sign(trays: &[SignCounts], options: &SignOptions) -> Result<Answer<EarlySign>> {
    let found = measured(trays, options)?;
    let made_with = MadeWith::new(&[
        ("sign", found.sign.clone()),
        ("kept", options.kept.name().to_owned()),
        ("cost", options.cost.map_or_else(|| "none".to_owned(), |cost| cost.to_string())),
        ("worth", options.worth.map_or_else(|| "none".to_owned(), |worth| worth.to_string())),
        ("confidence", found.confidence.to_string()),
    ]);
    Ok(Answer {
        kind: "early_sign".to_owned(),
        sentence: sentence(&found),
        details: details(&found),
        notes: notes(&found),
        methods: methods(&found),
        references: references(&found),
        table: table(&found),
        made_with,
        numbers: found,
    })
}

fn called(question: SignQuestion, sign: &str) -> String {
    match question {
        SignQuestion::Sensitivity => format!("rooted plants with the {sign} (sensitivity)"),
        SignQuestion::Specificity => format!("failed plants without the {sign} (specificity)"),
        SignQuestion::RootedOfWith => format!("plants with the {sign} that rooted"),
        SignQuestion::FailedOfWithout => format!("plants without the {sign} that failed"),
        SignQuestion::LikelihoodRatioWith => format!("likelihood ratio of the {sign}"),
        SignQuestion::LikelihoodRatioWithout => format!("likelihood ratio without the {sign}"),
    }
}

fn details(found: &EarlySign) -> Vec<String> {
    let trays = found.n_units.map_or_else(String::new, |trays| format!(" in {trays} trays"));
    let unread = match found.n_unread {
        0 => String::new(),
        1 => ", and 1 was taken away unread".to_owned(),
        unread => format!(", and {unread} were taken away unread"),
    };
    let were = if found.n_plants == 1 { "was" } else { "were" };
    let plants = whole(found.n_plants, "plant", "plants");
    let mut lines = vec![format!("{plants} {were} read to the end{trays}{unread}.")];
    lines.extend(way(found));
    lines.extend(found.measures.iter().map(|one| line(one, found)));
    lines.extend(money(found));
    lines
}

/// What culling saves and loses in money, for 100 plants.
fn money(found: &EarlySign) -> Vec<String> {
    let hundred = |value: f64| number(100.0 * value);
    let mut lines = Vec::new();
    if let Some(saved) = found.saved {
        lines.push(format!(
            "Of 100 plants {} are kept no longer, which saves {}.",
            points(found.freed),
            hundred(saved)
        ));
    }
    if let Some((forgone, lost)) = found.forgone.zip(found.lost) {
        lines.push(format!("The {} trees lost of 100 plants are worth {}.", points(lost), hundred(forgone)));
    }
    if let Some((low, high)) = found.kept_gain_low.zip(found.kept_gain_high) {
        let advice = match (low > 0.0, high < 0.0) {
            (true, _) => "so keeping these pays",
            (_, true) => "so keeping these loses money too",
            _ => "so it is not settled whether keeping these pays",
        };
        let value = found.kept_gain.map_or_else(String::new, |value| format!("{} ", hundred(value)));
        let (open, close) = if found.kept_gain.is_some() { ("(", ")") } else { ("", "") };
        lines.push(format!(
            "100 plants with the {} bring {value}{open}{} to {}{close} after what they cost, {advice}.",
            found.sign,
            hundred(low),
            hundred(high)
        ));
    }
    let range = found.gained_low.zip(found.gained_high);
    let plain = |(low, high): (f64, f64)| format!(" ({} to {})", hundred(low), hundred(high));
    let advice = match (found.points, pays(found)) {
        // What is no sign of rooting picks plants like a lot: culling may pay, but not for the sign.
        (SignPoints::AgainstRooting, _) => ", but those with the sign are the ones that root less",
        (SignPoints::NotShown | SignPoints::Nowhere, _) if !found.bounds => {
            ", as culling any plants by lot would, since the sign is not shown to tell them apart"
        }
        (_, Pays::Yes) => ", so culling pays",
        (_, Pays::No) => ", so do not cull on it",
        (_, Pays::Open) => ", so it is not settled whether culling pays",
        (_, Pays::NotAsked) => "",
    };
    match (found.gained, range) {
        (Some(gained), range) if gained < 0.0 => {
            // A cost is told as one, and so are its limits.
            let range = range.map_or_else(String::new, |(low, high)| plain((-high, -low)));
            lines.push(format!("Culling costs {} for 100 plants{range}{advice}.", hundred(-gained)));
        }
        (Some(gained), range) => {
            let range = range.map_or_else(String::new, plain);
            lines.push(format!("Culling gains {} for 100 plants{range}{advice}.", hundred(gained)));
        }
        (None, Some((low, high))) => {
            lines.push(format!(
                "Culling gains {} to {} for 100 plants (below 0 it costs), whatever became of those not read{advice}.",
                hundred(low),
                hundred(high)
            ));
        }
        (None, None) => {}
    }
    lines
}

/// Which way the sign points, and what to do where it is the other way.
fn way(found: &EarlySign) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some((low, high)) = found.more_rooted_low.zip(found.more_rooted_high) {
        let between = format!("{} to {}", points(low), points(high));
        lines.push(match found.more_rooted {
            Some(value) => format!(
                "Rooted of 100 plants with the {sign} less those without it: {} ({between}).",
                points(value),
                sign = found.sign
            ),
            None => format!(
                "Rooted of 100 plants with the {} less those without it: {between}, whatever became of those not read.",
                found.sign
            ),
        });
    }
    if found.points == SignPoints::AgainstRooting {
        lines.push(format!(
            "What culling plants with the {} would free and lose is asked with the two sides exchanged: plants without it are then those with the sign.",
            found.sign
        ));
    }
    lines
}

fn line(one: &SignMeasure, found: &EarlySign) -> String {
    let show = |value: f64| if one.question.is_ratio() { number(value) } else { percent(value) };
    let what = crate::report::capital(&called(one.question, &found.sign));
    let range = match (one.low, one.high) {
        (Some(low), Some(high)) => Some(format!("{} to {}", show(low), show(high))),
        (Some(low), None) => Some(format!("{} or more", show(low))),
        _ => None,
    };
    let as_read = one.as_read.filter(|_| found.n_unread > 0);
    let as_read = as_read.map_or_else(String::new, |value| format!("; of those read alone {}", show(value)));
    match (one.value, range) {
        (Some(value), Some(range)) => format!("{what}: {} ({range}){as_read}.", show(value)),
        (Some(value), None) => format!("{what}: {}, without limits{as_read}.", show(value)),
        (None, Some(range)) => format!("{what}: {range}{as_read}."),
        (None, None) => format!("{what}: not defined by these plants."),
    }
}

fn notes(found: &EarlySign) -> Vec<Note> {
    let mut notes = Vec::new();
    match found.n_units {
        None if found.bounds => {}
        None => notes.push(cautions::no_trays(Claims::Intervals)),
        Some(trays) if trays < 4 => notes.push(cautions::few_trays()),
        Some(_) => {}
    }
    match found.kept {
        Some(Kept::Chosen) => notes.push(Note::new(
            "culled_unread",
            format!(
                "Plants were taken away before anybody saw whether they root, and not irrespective of outlook: the ranges say what is possible whatever became of them, before chance. Keep some plants without the {} by lot and read them.",
                found.sign
            ),
        )),
        Some(Kept::Irrespective) => notes.push(Note::new(
            "unread_like_read",
            "Plants taken away are taken to be like those read on their side of the sign. That holds only where those read were kept irrespective of outlook, as by lot.",
        )),
        None => {}
    }
    let short = found.measures.iter().any(|one| one.value.is_some() && one.low.is_none() && one.high.is_none());
    if short {
        let text = "Some values have no limits: every plant of a kind did the same, or only one tray has such plants.";
        notes.push(Note::new("no_limits_of_sign", text));
    }
    notes
}

fn methods(found: &EarlySign) -> String {
    let rates = if found.n_units.is_some() {
        "Rates have Wilson limits on effective plants with t on the trays, likelihood ratios Koopman's score limits on the same; rooted and failed plants of a tray count as independent in them."
    } else {
        "Rates have Wilson limits and likelihood ratios Koopman's score limits. Plants count as independent."
    };
    let how = match (found.kept, found.n_units.is_some()) {
        (None, _) => rates.to_owned(),
        (Some(Kept::Chosen), _) => {
            "For plants taken away unread every outcome was allowed, which gives bounds without limits of chance.".to_owned()
        }
        (Some(Kept::Irrespective), true) => "Plants taken away unread were given the rates of those read on their side of the sign (Begg and Greenes). Limits are from leaving out one tray at a time, on logits and logarithms, with t on trays less one. What is asked of one side has Wilson limits on effective plants.".to_owned(),
        (Some(Kept::Irrespective), false) => "Plants taken away unread were given the rates of those read on their side of the sign, with large-sample limits of logits and, for likelihood ratios, of logarithms (Begg and Greenes; delta method). What is asked of one side has Wilson limits. Plants count as independent.".to_owned(),
    };
    format!(
        "The {} was judged by the difference in rooting with it and without it (limits by square and add), sensitivity, specificity and likelihood ratios. {how}",
        found.sign
    )
}

fn references(found: &EarlySign) -> Vec<String> {
    let mut cited = vec![ALTMAN_BLAND_1994];
    match found.kept {
        Some(Kept::Chosen) => cited.push(BEGG_GREENES_1983),
        Some(Kept::Irrespective) => cited.extend([BEGG_GREENES_1983, WILSON_1927]),
        None => cited.extend([WILSON_1927, KOOPMAN_1984]),
    }
    cited.extend((!found.bounds).then_some(ZOU_DONNER_2008));
    if found.n_units.is_some() && !found.bounds {
        cited.push(KORN_GRAUBARD_1998);
        cited.extend(found.kept.map(|_| TUKEY_1958));
    }
    cited.into_iter().map(str::to_owned).collect()
}

fn table(found: &EarlySign) -> Sheet {
    let rows = &found.measures;
    let scales: Vec<Scale> = rows
        .iter()
        .map(|one| if one.question.is_ratio() { Scale::Ratio } else { Scale::Rate })
        .chain([Scale::Rate, Scale::Rate, Scale::Difference])
        .collect();
    let more = [
        "places freed by culling".to_owned(),
        "trees lost by culling, of all plants".to_owned(),
        format!("rooted with the {} less without", found.sign),
    ];
    let column = |of: fn(&SignMeasure) -> Option<f64>, last: [Option<f64>; 3]| {
        rows.iter().map(of).chain(last).collect::<Vec<_>>()
    };
    let mut table = Sheet::default();
    table.text("what", rows.iter().map(|one| called(one.question, &found.sign)).chain(more));
    table.scaled("value", scales.clone(), column(|one| one.value, [Some(found.freed), found.lost, found.more_rooted]));
    table.scaled("low", scales.clone(), column(|one| one.low, [None, found.lost_low, found.more_rooted_low]));
    table.scaled("high", scales.clone(), column(|one| one.high, [None, found.lost_high, found.more_rooted_high]));
    if found.n_unread > 0 {
        table.scaled("as_read", scales, column(|one| one.as_read, [None; 3])).headed("of those read alone");
    }
    table
}
