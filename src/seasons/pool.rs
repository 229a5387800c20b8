//! Seasons pooled as an answer: its table, cautions, methods and references.

use super::entered::{Entered, Season, entered};
use super::numbers::{PoolOptions, Pooled, SeasonDifference};
use super::pooled::{check, pooled};
use super::told::{Told, apart, too_alike};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::control::Control;
use crate::error::Result;
use crate::report::references::{HOLM_1979, SATTERTHWAITE_1946};
use crate::report::references_seasons::{
    HARTUNG_KNAPP_2001, HIGGINS_2009, IYER_WANG_MATHEW_2004, MEIER_1953, PAULE_MANDEL_1982, VIECHTBAUER_2007,
    VIECHTBAUER_CHEUNG_2010, WELCH_1951, YATES_COCHRAN_1938,
};
use crate::report::{Spoken, cautions, degrees_of_freedom, join, percent, points, whole};
use crate::trial::fingerprint;

/// Pools one difference over several seasons: the average, what a new season may bring, how seasons differ, and each beside the others.
///
/// Each season is judged by its own trays; its difference and error enter, whatever its size. Seasons are taken as drawn from many, with
/// differences of their own: treatment x season is always in, never tested away. With two seasons the average is over these two, from their
/// own errors, and nothing is said of a new one; with three or four all of it is provisional.
///
/// # Errors
/// [`SeasonsError`](crate::error::SeasonsError) where seasons were not asked the same, where two hold the same counts or name, where fewer than two
/// have limits; a count error for an impossible confidence; [`crate::Error::Interrupted`] when stopped.
///
/// # References
/// Yates and Cochran 1938; Paule and Mandel 1982; Hartung and Knapp 2001; Viechtbauer 2007; Iyer, Wang and Mathew 2004.
///
/// ```
/// use rootling::prelude::*;
/// use rootling::seasons::{PoolOptions, Season, pool};
/// # let load = |counts: [u64; 8]| {
/// #     let mut csv = String::from("strength,tray,rooted,stuck\n");
/// #     for (tray, rooted) in counts.into_iter().enumerate() {
/// #         csv += &format!("{},{tray},{rooted},20\n", if tray < 4 { 2500 } else { 5000 });
/// #     }
/// #     let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
/// #     read_csv(csv.as_bytes(), &options)
/// # };
/// let trials = [load([6, 8, 9, 7, 13, 15, 12, 11])?, load([7, 7, 9, 10, 12, 14, 12, 15])?, load([9, 8, 6, 8, 11, 13, 14, 12])?];
/// let seasons: Vec<Season> = trials.iter().map(Season::of_trial).collect();
/// let found = pool(&seasons, &PoolOptions::of("strength", ("2500", "5000")), &Control::new())?;
/// assert!(found.numbers.provisional && found.numbers.low > 0.0);
/// assert!(found.sentence.starts_with("Provisionally strength 5000: over 3 seasons"), "{}", found.sentence);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn pool(seasons: &[Season<'_>], options: &PoolOptions, control: &Control) -> Result<Answer<Pooled>> {
    check(options)?;
    let entered = entered(seasons, options, control)?;
    let found = pooled(&entered, options, control)?;
    let spoken = entered.iter().find_map(|season| season.spoken.clone());
    let said = spoken.unwrap_or_else(|| Spoken::plain(&found.factor));
    let told = Told { found: &found, said: &said };
    Ok(Answer {
        kind: "pooled".to_owned(),
        sentence: told.sentence(),
        details: told.details(),
        notes: notes(&told, &entered),
        methods: methods(&found, options),
        references: references(&found),
        table: table(&told),
        made_with: made_with(&found, &entered, options),
        numbers: found,
    })
}

/// What is said of seasons that agree too closely.
pub(super) const TOO_ALIKE: &str = "Seasons agree more closely than their own errors let expect, which is luck or a sign that these are not what they seem; limits of a new season are then too narrow to count on.";

fn made_with(found: &Pooled, entered: &[Entered], options: &PoolOptions) -> MadeWith {
    let names: Vec<&str> = entered.iter().map(|season| season.name.as_str()).collect();
    let at = entered.first().map(|season| season.at.clone()).unwrap_or_default();
    let mut made_with = MadeWith::new(&[
        ("treatment", found.factor.clone()),
        ("levels", format!("{} and {}", found.first, found.second)),
        ("seasons", names.join(", ")),
        ("at", at),
        ("confidence", found.confidence.to_string()),
        ("draws", options.draws.to_string()),
    ])
    .about(found.outcome);
    made_with.seed = (!found.these_alone).then_some(options.seed);
    let all: Option<Vec<&String>> = entered.iter().map(|season| season.fingerprint.as_ref()).collect();
    made_with.data_fingerprint = all.map(|all| fingerprint(&all));
    made_with
}

fn notes(told: &Told<'_>, entered: &[Entered]) -> Vec<Note> {
    let found = told.found;
    let mut notes: Vec<Note> =
        few(found).into_iter().chain(heavy(told)).chain(out(found)).chain(stands_apart(found)).collect();
    notes.extend(held_unlike(entered));
    if too_alike(found) {
        notes.push(Note::new("seasons_too_alike", TOO_ALIKE));
    }
    if !found.these_alone {
        notes.push(Note::new(
            "seasons_alike",
            "What is said of a new season holds for one of the kind that these are: same nursery, stock, method and way of counting.",
        ));
    }
    if told.said.is_strength() {
        notes.push(cautions::chemical());
    }
    notes
}

/// That seasons are few.
fn few(found: &Pooled) -> Option<Note> {
    if found.these_alone {
        return Some(Note::new(
            "two_seasons",
            "Two seasons show what they brought themselves; how far seasons differ, and so what a third may bring, they cannot tell.",
        ));
    }
    let text = format!(
        "With {} seasons how far seasons differ is hardly known, so all of this is provisional: the limits hold, at the price of their width, and one season more can move the average a long way.",
        found.n_seasons
    );
    found.provisional.then(|| Note::new("few_seasons", text))
}

/// A season whose weight rests on an error that is hardly known.
fn heavy(told: &Told<'_>) -> Option<Note> {
    let one = told.heavy()?;
    let without = one.without.as_ref().map(|left| format!("; without it the average is {} points", points(left.value)));
    let text = format!(
        "Season {} has {} of the weight, and its error is known by {} only: few trays that happen to agree look like a sure season{}.",
        one.season,
        percent(one.weight),
        degrees_of_freedom(one.df),
        without.unwrap_or_default()
    );
    Some(Note::new("heavy_season", text))
}

/// Seasons that do not enter.
fn out(found: &Pooled) -> Option<Note> {
    let names: Vec<&str> = found.left_out.iter().map(|one| one.season.as_str()).collect();
    let (start, it) = match names.len() {
        0 => return None,
        1 => ("1 season does".to_owned(), "it"),
        more => (format!("{more} seasons do"), "them"),
    };
    let text = format!("{start} not enter, since there is no error to weigh {it} by: {}.", join(&names));
    Some(Note::new("season_left_out", text))
}

/// Seasons that lie apart from the others.
fn stands_apart(found: &Pooled) -> Option<Note> {
    let names: Vec<&str> = apart(found).into_iter().map(|one| one.season.as_str()).collect();
    let start = match names.as_slice() {
        [] => return None,
        [only] => format!("Season {only} stands apart from the others and stays in"),
        several => format!("Seasons {} stand apart from the others and stay in", join(several)),
    };
    let text = format!("{start}: leaving out what does not fit would make a new season look surer than it is.");
    Some(Note::new("season_apart", text))
}

/// Seasons that stayed within unlike levels of other columns.
fn held_unlike(entered: &[Entered]) -> Option<Note> {
    let mut held: Vec<&str> = entered.iter().map(|season| season.at.as_str()).collect();
    held.sort_unstable();
    held.dedup();
    let each: Vec<&str> = held.iter().map(|at| if at.is_empty() { "nothing" } else { *at }).collect();
    let text = format!(
        "Seasons were not held at the same levels of other columns ({}), so part of what they differ by may be that.",
        join(&each)
    );
    (held.len() > 1).then(|| Note::new("held_unlike", text))
}

fn methods(found: &Pooled, options: &PoolOptions) -> String {
    let seasons = whole(found.n_seasons, "season", "seasons");
    let own = "Each season's difference was judged by its own units, as the comparison of that season has it; its standard error is the width of its limits over twice the quantile of t.";
    if found.these_alone {
        return format!(
            "{own} Over {seasons} differences were averaged with equal weights, with degrees of freedom after Satterthwaite; the average holds for these seasons. Whether the difference changes with the season was tested by Welch's method for means with estimated variances."
        );
    }
    let apart = if found.seasons.iter().any(|one| one.p.is_some()) {
        " Each season was held against what the others lead to expect of a further season with its error; P values were adjusted by Holm's method."
    } else {
        ""
    };
    format!(
        "{own} Differences of {seasons} were pooled with seasons as blocks and the interaction of treatment and season as random throughout. The average has weights 1 / (v + t), with the variance t between seasons by Paule and Mandel, and limits of Hartung and Knapp with t on seasons less one, never narrower than those without differences between seasons (with Meier's correction for estimated weights). Limits of the standard deviation between seasons come from a Q profile, its tails averaged over what the variances within seasons may be. Limits of a new season are quantiles of {} draws (seed {}) of generalised pivotal quantities, which carry the uncertainty of the average, of t and of the variances within seasons. Whether the difference changes with the season was tested by Welch's method for means with estimated variances; the test decides nothing about the model.{apart}",
        options.draws, options.seed
    )
}

fn references(found: &Pooled) -> Vec<String> {
    let mut cited = vec![YATES_COCHRAN_1938, WELCH_1951];
    if found.these_alone {
        cited.push(SATTERTHWAITE_1946);
    } else {
        cited.extend([PAULE_MANDEL_1982, HARTUNG_KNAPP_2001, MEIER_1953, VIECHTBAUER_2007]);
        cited.extend([IYER_WANG_MATHEW_2004, HIGGINS_2009]);
    }
    if found.seasons.iter().any(|one| one.p.is_some()) {
        cited.extend([VIECHTBAUER_CHEUNG_2010, HOLM_1979]);
    }
    cited.into_iter().map(str::to_owned).collect()
}

/// A row for each season, those that do not enter among them, then the average and a new season.
fn table(told: &Told<'_>) -> Sheet {
    let found = told.found;
    let (seasons, out) = (found.seasons.as_slice(), found.left_out.as_slice());
    let new = found.new_low.zip(found.new_high);
    let mut sheet = Sheet::default();
    let column =
        |of: fn(&SeasonDifference) -> Option<f64>, average: Option<f64>, ahead: Option<f64>| -> Vec<Option<f64>> {
            let rows = seasons.iter().map(of).chain(out.iter().map(|_| None)).chain([average]);
            rows.chain(new.map(|_| ahead)).collect()
        };
    let names = seasons.iter().map(|one| one.season.clone());
    let names = names.chain(out.iter().map(|one| format!("{}, left out", one.season)));
    let average = if found.these_alone { "average of these" } else { "average" };
    let names = names.chain([average.to_owned()]).chain(new.map(|_| "a new season".to_owned()));
    sheet.text("season", names);
    let mut value = column(|one| Some(one.value), Some(found.value), None);
    value.iter_mut().skip(seasons.len()).zip(out).for_each(|(cell, one)| *cell = Some(one.value));
    sheet.difference("value", value).headed(told.pair());
    sheet.difference("low", column(|one| Some(one.low), Some(found.low), found.new_low));
    sheet.difference("high", column(|one| Some(one.high), Some(found.high), found.new_high));
    let units = seasons.iter().map(|one| Some(one.n_units)).chain(out.iter().map(|_| None));
    sheet.whole("n_units", units.chain([Some(found.n_units)]).chain(new.map(|_| None)));
    sheet.rate("weight", column(|one| Some(one.weight), None, None)).headed("share in the average");
    if !found.these_alone {
        let without = column(|one| one.without.as_ref().map(|left| left.value), None, None);
        sheet.difference("without", without).headed("average without it");
    }
    if seasons.iter().any(|one| one.p_adjusted.is_some()) {
        sheet.p("p_adjusted", column(|one| one.p_adjusted, None, None)).headed("P, apart from the others");
    }
    sheet
}
