//! Best strengths over seasons as an answer: its table, cautions, methods and references.

use super::entered::{CurveSeason, Entered, entered};
use super::numbers::{BestOptions, BestOverSeasons, SeasonBest};
use super::pooled::pooled;
use super::told::Told;
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::control::Control;
use crate::error::Result;
use crate::report::references::SATTERTHWAITE_1946;
use crate::report::references_seasons::{
    HARTUNG_KNAPP_2001, HIGGINS_2009, IYER_WANG_MATHEW_2004, MEIER_1953, PAULE_MANDEL_1982, VIECHTBAUER_2007,
    WELCH_1951, YATES_COCHRAN_1938,
};
use crate::report::{cautions, join, whole};
use crate::seasons::pool::TOO_ALIKE;
use crate::seasons::pooled::check_pool;
use crate::trial::fingerprint;

/// Pools the best strength over seasons that may have tested different strengths: the average, what a new season may have, how far it shifts.
///
/// Each season has a curve of its own; where its best strength is located, that and its profile limits enter on the scale `ln(1 + d / d0)`. A
/// season whose best strength is not located cannot enter and is listed: its curve does not say where the top is.
///
/// # Errors
/// [`SeasonsError`](crate::error::SeasonsError) where seasons have other units or substances, where two hold the same counts or name, where fewer
/// than two are located; a count error for an impossible confidence; [`crate::Error::Interrupted`] when stopped.
///
/// # References
/// Paule and Mandel 1982; Hartung and Knapp 2001; Iyer, Wang and Mathew 2004.
///
/// ```
/// use rootling::prelude::*;
/// use rootling::seasons::{BestOptions, CurveSeason, pool_curves};
/// # let load = |by: u64| {
/// #     let takes = [(0, 6), (500, 11), (1000, 17), (2000, 21), (4000, 15), (8000, 5)];
/// #     let mut csv = String::from("strength,tray,rooted,stuck\n");
/// #     for (at, (strength, rooted)) in takes.into_iter().enumerate() {
/// #         for tray in 0..4 {
/// #             csv += &format!("{},{at}-{tray},{},30\n", strength * (9 + by) / 10, rooted + (at as u64 * tray + by) % 3);
/// #         }
/// #     }
/// #     let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
/// #     read_csv(csv.as_bytes(), &options)
/// # };
/// let trials = [load(1)?, load(2)?, load(3)?];
/// let seasons: Vec<CurveSeason> = trials.iter().map(|trial| CurveSeason::Trial(None, trial)).collect();
/// let found = pool_curves(&seasons, &BestOptions::default(), &Control::new())?;
/// assert!(found.numbers.low < found.numbers.value && found.numbers.provisional);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn pool_curves(
    seasons: &[CurveSeason<'_>],
    options: &BestOptions,
    control: &Control,
) -> Result<Answer<BestOverSeasons>> {
    check_pool(options.confidence, options.draws)?;
    let all = entered(seasons, options, control)?;
    let found = pooled(&all, options, control)?;
    let told = Told { found: &found };
    Ok(Answer {
        kind: "best_over_seasons".to_owned(),
        sentence: told.sentence(),
        details: told.details(),
        notes: notes(&told),
        methods: methods(&found, options),
        references: references(&found),
        table: table(&found),
        made_with: made_with(&found, &all, options),
        numbers: found,
    })
}

fn made_with(found: &BestOverSeasons, all: &[Entered], options: &BestOptions) -> MadeWith {
    let names: Vec<&str> = all.iter().map(|season| season.name.as_str()).collect();
    let mut made_with = MadeWith::new(&[
        ("column", found.factor.clone()),
        ("seasons", names.join(", ")),
        ("confidence", found.confidence.to_string()),
        ("draws", options.draws.to_string()),
    ])
    .about(found.outcome);
    made_with.seed = (!found.these_alone).then_some(options.seed);
    let each: Option<Vec<&String>> = all.iter().map(|season| season.fingerprint.as_ref()).collect();
    made_with.data_fingerprint = each.map(|each| fingerprint(&each));
    made_with
}

fn notes(told: &Told<'_>) -> Vec<Note> {
    let found = told.found;
    let mut notes = Vec::new();
    if told.too_alike() {
        notes.push(Note::new("seasons_too_alike", TOO_ALIKE));
    }
    if found.these_alone {
        notes.push(Note::new(
            "two_seasons",
            "Two seasons show where they had their own best; how far it shifts, and so where a third may have it, they cannot tell.",
        ));
    } else if found.provisional {
        notes.push(Note::new(
            "few_seasons",
            format!(
                "With {} that located their best strength all of this is provisional: how far it shifts is hardly known.",
                whole(found.n_seasons, "season", "seasons")
            ),
        ));
    }
    let open: Vec<&str> = found.seasons.iter().filter(|one| one.one_sided).map(|one| one.season.as_str()).collect();
    if !open.is_empty() {
        notes.push(Note::new(
            "one_sided_season",
            format!(
                "In {} one limit of the best strength stands open (the end tested may be as good), so its error is that of the other side; strengths tested more widely would tell.",
                join(&open)
            ),
        ));
    }
    if !found.left_out.is_empty() {
        let names: Vec<&str> = found.left_out.iter().map(|one| one.season.as_str()).collect();
        let (do_not, it) = if names.len() == 1 { ("does not", "it") } else { ("do not", "them") };
        notes.push(Note::new(
            "season_left_out",
            format!(
                "{} {do_not} enter, since the best strength is not located there; where that is because the best lay beyond what was tested, the average and limits without {it} lean to the middle of what was tested.",
                join(&names)
            ),
        ));
    }
    if !found.these_alone {
        notes.push(Note::new(
            "seasons_alike",
            "What is said of a new season holds for one of the kind that these are: same nursery, stock, method and way of counting.",
        ));
    }
    notes.push(cautions::chemical());
    notes
}

fn methods(found: &BestOverSeasons, options: &BestOptions) -> String {
    let seasons = whole(found.n_seasons, "season", "seasons");
    let own = format!(
        "Each season has a strength curve of its own trays; its best strength enters on the scale ln(1 + d / {}), with the width of its profile limits over twice the quantile of t as standard error; where one of them stands open though the top lies within the strengths tested, the other alone tells it.",
        crate::report::number(found.zero_scale)
    );
    if found.these_alone {
        return format!(
            "{own} Over {seasons} these were averaged with equal weights, with degrees of freedom after Satterthwaite (1946); the average holds for these seasons. Whether the best strength shifts was tested by the method of Welch (1951) for means with estimated variances."
        );
    }
    format!(
        "{own} Best strengths of {seasons} were pooled as groups of experiments (Yates and Cochran 1938), seasons taken to differ throughout. The average has weights 1 / (v + t), with the variance t between seasons after Paule and Mandel (1982), and limits with t on seasons less one (Hartung and Knapp 2001), never narrower than those without differences between seasons (with the correction for estimated weights of Meier 1953). Limits of the standard deviation between seasons come from a Q profile (Viechtbauer 2007), its tails averaged over what the variances within seasons may be. Limits of a new season (Higgins et al. 2009) are quantiles of {} draws (seed {}) of generalised pivotal quantities (Iyer, Wang and Mathew 2004). Whether the best strength shifts was tested by the method of Welch (1951); the test decides nothing about the model.",
        options.draws, options.seed
    )
}

fn references(found: &BestOverSeasons) -> Vec<String> {
    let cited = if found.these_alone {
        vec![SATTERTHWAITE_1946, WELCH_1951]
    } else {
        vec![
            YATES_COCHRAN_1938,
            PAULE_MANDEL_1982,
            HARTUNG_KNAPP_2001,
            MEIER_1953,
            VIECHTBAUER_2007,
            HIGGINS_2009,
            IYER_WANG_MATHEW_2004,
            WELCH_1951,
        ]
    };
    cited.into_iter().map(str::to_owned).collect()
}

/// A row for each season, those that do not enter among them, then the average and a new season.
fn table(found: &BestOverSeasons) -> Sheet {
    let (seasons, out) = (found.seasons.as_slice(), found.left_out.as_slice());
    let new = found.new_low.zip(found.new_high);
    let column = |of: fn(&SeasonBest) -> Option<f64>, average: Option<f64>, ahead: Option<f64>| -> Vec<Option<f64>> {
        let rows = seasons.iter().map(of).chain(out.iter().map(|_| None)).chain([average]);
        rows.chain(new.map(|_| ahead)).collect()
    };
    let names = seasons.iter().map(|one| one.season.clone());
    let names = names.chain(out.iter().map(|one| format!("{}, left out", one.season)));
    let average = if found.these_alone { "average of these" } else { "average" };
    let names = names.chain([average.to_owned()]).chain(new.map(|_| "a new season".to_owned()));
    let mut sheet = Sheet::default();
    sheet.text("season", names);
    let mut value = column(|one| Some(one.value), Some(found.value), None);
    value.iter_mut().skip(seasons.len()).zip(out).for_each(|(cell, one)| *cell = Some(one.value));
    let unit = found.unit.as_str();
    sheet.strength("value", unit, value).headed("best strength");
    sheet.strength("low", unit, column(|one| Some(one.low), Some(found.low), found.new_low));
    sheet.strength("high", unit, column(|one| Some(one.high), Some(found.high), found.new_high));
    sheet.rate("take", column(|one| Some(one.take), None, None)).headed("take there");
    let units = seasons.iter().map(|one| Some(one.n_units)).chain(out.iter().map(|_| None));
    sheet.whole("n_units", units.chain([Some(found.n_units)]).chain(new.map(|_| None)));
    sheet.rate("weight", column(|one| Some(one.weight), None, None)).headed("share in the average");
    if !found.these_alone {
        let without = column(|one| one.without, None, None);
        sheet.strength("without", unit, without).headed("average without it");
    }
    sheet
}
