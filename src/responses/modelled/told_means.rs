//! Adjusted means, and letters beside them, in words.

use super::lettered::letters;
use super::levels::means;
use super::numbers::{AdjustedMean, AdjustedMeans, LetterMean, MeanLetters};
use super::options::{MeanContrastOptions, MeanLevelOptions, MeanModelSpec};
use super::told_shared::{Of, around, carried_line, methods, notes, options, references, signed, sources, way};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::control::Control;
use crate::effects::{Average, letter_notes};
use crate::error::Result;
use crate::report::numbers::{confidence, interval, join, percent, plural};
use crate::report::references::{GRAMM_2008, PIEPHO_2004};
use crate::report::{Spoken, fitted};
use crate::responses::amounts::Amounts;
use crate::responses::told::unit_of;
use crate::trial::Trial;

/// How the other treatments are averaged over, in words.
pub(super) fn averaged(average: &Average, over: &[String], at: &std::collections::BTreeMap<String, String>) -> String {
    let held: Vec<String> = at.iter().map(|(name, level)| format!("{name} {level}")).collect();
    let held = if held.is_empty() { String::new() } else { format!(" at {}", join(&held)) };
    if over.is_empty() {
        return held;
    }
    let way = match average {
        Average::Alike => "all levels alike",
        Average::AsStuck => "levels by their cuttings stuck",
        Average::Mix(_) => "levels by the shares given",
    };
    format!("{held} averaged over {}, {way}", join(over))
}

/// A level with the level it is within.
fn place(said: &Spoken, mean: &AdjustedMean, within: Option<&String>, long: bool) -> String {
    let level = if long { said.level(&mean.by) } else { said.short(&mean.by) };
    let inside = within.zip(mean.within.as_ref()).map_or_else(String::new, |(name, level)| {
        let bare = level.contains(char::is_alphabetic);
        if bare { format!(" with {level}") } else { format!(" with {} {level}", name.replace('_', " ")) }
    });
    format!("{level}{inside}")
}

/// Options of a question about levels, as a record has them.
fn asked(options: &MeanLevelOptions, by: &str, level: f64) -> Vec<(&'static str, String)> {
    let at: Vec<String> = options.at.iter().map(|(name, value)| format!("{name} {value}")).collect();
    vec![
        ("by", by.to_owned()),
        ("within", options.within.clone().unwrap_or_default()),
        ("at", at.join(", ")),
        ("average", options.average.recorded()),
        ("confidence", level.to_string()),
    ]
}

/// Adjusted means.
pub(super) fn answer(
    trial: &Trial,
    spec: &MeanModelSpec,
    by: &str,
    options_given: &MeanLevelOptions,
) -> Result<Answer<AdjustedMeans>> {
    let (found, over) = means(trial, spec, by, options_given)?;
    let said = trial.options().spoken(by);
    let amounts = amounts(&found);
    let of = of(&found, &found.means);
    let (places, above) = around(trial, spec);
    let kept: Vec<&str> = std::iter::once(by)
        .chain(options_given.within.as_deref())
        .chain(options_given.at.keys().map(String::as_str))
        .collect();
    let mut cautions = notes(&of, spec, &kept, trial);
    cautions.extend(held(&found));
    let mut made = options(&of, spec);
    made.extend(asked(options_given, by, found.confidence));
    let over_places = if found.holds_over.is_empty() {
        String::new()
    } else {
        format!(
            " So that limits hold over further levels of {n}, the variance of the mean of the effects of {n} was added.",
            n = join(&found.holds_over)
        )
    };
    Ok(signed(
        trial,
        Answer {
            kind: "adjusted_means".to_owned(),
            sentence: decision(&found, &said, &amounts),
            details: found
                .means
                .iter()
                .map(|one| line(one, &found, &said, &amounts))
                .chain(carried_line(trial, by))
                .collect(),
            notes: cautions,
            methods: format!(
                "{} Means of the levels of {by}{} have limits whose own variance grows in proportion to the mean, so that none is below 0.{over_places}",
                methods(&of, spec, &places, &above),
                averaged(&options_given.average, &over, &options_given.at)
            ),
            references: references(&of).into_iter().map(str::to_owned).collect(),
            table: table(&found, &found.means, None),
            made_with: MadeWith::new(&made),
            numbers: found,
        },
    ))
}

fn of<'a>(found: &'a AdjustedMeans, means: &[AdjustedMean]) -> Of<'a> {
    Of {
        response: &found.response,
        mean_of: found.mean_of,
        primary: found.primary,
        n_left_out: found.n_left_out,
        fewest: means.iter().map(|one| one.n_units).filter(|n| *n > 0).min(),
    }
}

fn amounts(found: &AdjustedMeans) -> Amounts {
    let widths = found.means.iter().filter_map(|one| Some(one.high? - one.low?));
    Amounts::of(&found.response, found.mean_of, widths.fold(f64::INFINITY, f64::min))
}

/// What limits hold for, where places stand beside the treatments.
fn held(found: &AdjustedMeans) -> Vec<Note> {
    let over = (!found.holds_over.is_empty()).then(|| {
        let text = format!(
            "Means hold over further levels of {n}, so their limits count how {n} differs. Contrasts are formed within {n} and are not wider for it.",
            n = join(&found.holds_over)
        );
        Note::new("holds_over", text)
    });
    let at = (!found.holds_at.is_empty()).then(|| {
        let text = format!(
            "Means hold for {} as it stood in this trial: there are too few of its levels to tell how further ones would differ.",
            join(&found.holds_at)
        );
        Note::new("holds_at", text)
    });
    let untried = found.means.iter().any(|one| one.n_units == 0 && one.value.is_some()).then(|| {
        let text = "Some combinations were not tried: their means are what the model expects from the others.";
        Note::new("not_tried", text)
    });
    over.into_iter().chain(at).chain(untried).collect()
}

fn decision(found: &AdjustedMeans, said: &Spoken, amounts: &Amounts) -> String {
    let known: Vec<(&AdjustedMean, f64)> = found.means.iter().filter_map(|one| Some((one, one.value?))).collect();
    let low = known.iter().min_by(|a, b| a.1.total_cmp(&b.1));
    let high = known.iter().max_by(|a, b| a.1.total_cmp(&b.1));
    let (Some(low), Some(high)) = (low, high) else {
        return format!("{}: these data give no means of {}.", amounts.head(), said.name());
    };
    let one = |(mean, value): &(&AdjustedMean, f64), long: bool, limits: bool| {
        let ends = mean.low.zip(mean.high).filter(|_| limits);
        let ends = ends.map(|(low, high)| format!(" ({} to {})", amounts.bare(low), amounts.bare(high)));
        let at = place(said, mean, found.within.as_ref(), long);
        format!("{}{} at {at}", amounts.said(*value), ends.unwrap_or_default())
    };
    let tail = if found.primary { Vec::new() } else { vec!["; a secondary response".to_owned()] };
    let open = found.means.iter().filter(|one| one.value.is_none()).count();
    let open = (open > 0).then(|| format!("; {open} cannot be given"));
    let tails: Vec<String> = open.into_iter().chain(tail).collect();
    if std::ptr::eq(low.0, high.0) {
        return fitted(&format!("{}: {}", amounts.head(), one(low, true, true)), &tails);
    }
    let full = format!("{}: from {} to {}", amounts.head(), one(low, true, true), one(high, false, true));
    if crate::report::words(&full) <= crate::report::MOST_WORDS {
        return fitted(&full, &tails);
    }
    fitted(&format!("{}: from {} to {}", amounts.head(), one(low, true, false), one(high, false, false)), &tails)
}

fn line(one: &AdjustedMean, found: &AdjustedMeans, said: &Spoken, amounts: &Amounts) -> String {
    let name = crate::report::capital(&place(said, one, found.within.as_ref(), true));
    let trays = format!("{}, {} rooted", crate::report::whole(one.n_units, "tray", "trays"), percent(one.take));
    let Some(value) = one.value else { return format!("{name}: these data give no mean ({trays}).") };
    let limits = one.low.zip(one.high).map_or_else(
        || " (no limits)".to_owned(),
        |(low, high)| format!(" ({})", interval(amounts.bare(low), amounts.bare(high), found.confidence)),
    );
    format!("{name}: {}{limits}; {trays}.", amounts.said(value))
}

fn table(found: &AdjustedMeans, means: &[AdjustedMean], letters: Option<&[LetterMean]>) -> Sheet {
    let mut table = Sheet::default();
    table.level(&found.by, means.iter().map(|one| one.by.clone()));
    if let Some(within) = &found.within {
        table.level(within, means.iter().map(|one| one.within.clone().unwrap_or_default()));
    }
    table.plain("value", means.iter().map(|one| one.value)).of_unit(&unit_of(&found.response));
    table.plain("se", means.iter().map(|one| one.se));
    table.plain("low", means.iter().map(|one| one.low));
    table.plain("high", means.iter().map(|one| one.high));
    if let Some(letters) = letters {
        table.text("letters", letters.iter().map(|one| one.letters.clone().unwrap_or_default()));
    }
    table.degrees("df", means.iter().map(|one| one.df));
    table.rate("take", means.iter().map(|one| one.take));
    table.whole("n_units", means.iter().map(|one| one.n_units)).headed(plural(&found.unit.replace('_', " ")));
    table.whole("n_cuttings", means.iter().map(|one| one.n_cuttings));
    table.whole("n_rooted", means.iter().map(|one| one.n_rooted));
    table.whole("n_measured", means.iter().map(|one| one.n_measured));
    table
}

/// Means with letters.
pub(super) fn lettered(
    trial: &Trial,
    spec: &MeanModelSpec,
    by: &str,
    given: &MeanContrastOptions,
    control: &Control,
) -> Result<Answer<MeanLetters>> {
    let found = letters(trial, spec, by, given, control)?;
    let said = trial.options().spoken(by);
    let plain = bare(&found);
    let amounts = amounts(&plain);
    let of = of(&plain, &plain.means);
    let (places, above) = around(trial, spec);
    let kept: Vec<&str> =
        std::iter::once(by).chain(given.within.as_deref()).chain(given.at.keys().map(String::as_str)).collect();
    let mut cautions = notes(&of, spec, &kept, trial);
    let all = found.means.iter().all(|one| one.letters.is_some());
    cautions.extend(letter_notes(&found.by, found.within.as_deref(), all, found.fewest));
    let levels = MeanLevelOptions {
        within: given.within.clone(),
        at: given.at.clone(),
        average: given.average.clone(),
        confidence: given.confidence,
    };
    let mut made = options(&of, spec);
    made.extend(asked(&levels, by, found.confidence));
    made.push(("together", found.together.name().to_owned()));
    made.push(("order", given.order.name().to_owned()));
    let mut made_with = MadeWith::new(&made);
    made_with.seed = Some(given.seed);
    let mut works = references(&of);
    works.extend([PIEPHO_2004, GRAMM_2008]);
    works.extend(sources(found.together));
    Ok(signed(
        trial,
        Answer {
            kind: "mean_letters".to_owned(),
            sentence: letter_decision(&found, &said, &amounts),
            details: found
                .means
                .iter()
                .map(|one| {
                    let letters = one.letters.as_ref().map_or_else(String::new, |own| format!(" Letters: {own}."));
                    format!("{}{letters}", line(&one.mean, &plain, &said, &amounts))
                })
                .chain(carried_line(trial, by))
                .collect(),
            notes: cautions,
            methods: format!(
                "{} Means of {by} that share a letter were not shown to differ at {} (all pairs, {}; letters by Piepho 2004).",
                methods(&of, spec, &places, &above),
                confidence(1.0 - found.confidence),
                way(found.together)
            ),
            references: works.into_iter().map(str::to_owned).collect(),
            table: table(&plain, &plain.means, Some(&found.means)),
            made_with,
            numbers: found,
        },
    ))
}

fn bare(found: &MeanLetters) -> AdjustedMeans {
    AdjustedMeans {
        model: found.model.clone(),
        response: found.response.clone(),
        mean_of: found.mean_of,
        by: found.by.clone(),
        within: found.within.clone(),
        confidence: found.confidence,
        unit: found.unit.clone(),
        units_above: Vec::new(),
        means: found.means.iter().map(|one| one.mean.clone()).collect(),
        holds_over: Vec::new(),
        holds_at: Vec::new(),
        primary: found.primary,
        n_left_out: found.n_left_out,
    }
}

fn letter_decision(found: &MeanLetters, said: &Spoken, amounts: &Amounts) -> String {
    let lettered = || found.means.iter().filter(|one| one.letters.is_some());
    let value = |one: &&LetterMean| one.mean.value.unwrap_or(f64::NEG_INFINITY);
    let Some(top) = lettered().max_by(|a, b| value(a).total_cmp(&value(b))) else {
        return format!("{}: no letters, since these levels cannot be compared here.", amounts.head());
    };
    let own: Vec<char> = top.letters.iter().flat_map(|letters| letters.chars()).collect();
    let shares = |one: &&LetterMean| {
        !std::ptr::eq(*one, top)
            && one.mean.within == top.mean.within
            && one.letters.iter().flat_map(|letters| letters.chars()).any(|letter| own.contains(&letter))
    };
    let alike: Vec<String> = lettered().filter(shares).map(|one| said.short(&one.mean.by)).collect();
    let most = format!(
        "{}: most at {} ({})",
        amounts.head(),
        place(said, &top.mean, found.within.as_ref(), true),
        amounts.said(top.mean.value.unwrap_or_default())
    );
    let tail = match alike.as_slice() {
        [] => "; no other level shares its letter".to_owned(),
        few if few.len() <= 4 => format!("; not told from {}", join(few)),
        many => format!("; not told from {} other levels", many.len()),
    };
    let secondary = if found.primary { None } else { Some("; a secondary response".to_owned()) };
    fitted(&format!("{most}{tail}"), &secondary.into_iter().collect::<Vec<_>>())
}
