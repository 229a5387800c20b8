//! The words, table and notes of contrasts.

use std::collections::BTreeSet;

use super::asked::{Around, Asked};
use super::goal::Scale;
use super::numbers::{Contrast, Contrasts};
use super::options::{Adjust, Pattern};
use crate::answer::{self, Answer, MadeWith, Note, Sheet};
use crate::effects::average::RateOf;
use crate::effects::bounds;
use crate::effects::decisions;
use crate::effects::judged_by::{by_score, judged_after};
use crate::effects::multiplicity::{Adjustment, cited};
use crate::effects::phrases::{averaging_words, interaction_note, strength_caution};
use crate::models::{Model, Ready, is_robust, is_used, methods, references, warning};
use crate::report::numbers::{confidence, join, number, p_value, points, whole};
use crate::report::references as works;
use crate::report::{capital, cautions, facts, limits_read};
use crate::trial::UnitKind;

/// Comparisons of one family beyond which the answer says that there are many.
const MANY: u64 = 45;

pub(super) fn answer(model: &Model, ready: &Ready, asked: Asked) -> Answer<Contrasts> {
    let Asked { figures, around } = asked;
    let mut references = references(model);
    references.extend([judged_after(model)].into_iter().chain(sources(around.adjust)).map(str::to_owned));
    Answer {
        kind: "contrasts".to_owned(),
        details: facts(&sentence(model, &figures, &around)),
        table: table(&figures, around.averaged),
        sentence: decisions::contrasts(model, &figures),
        methods: format!("{} {}", methods(model), method_words(model, &figures, &around)),
        notes: notes((model, ready), &figures, &around),
        made_with: made_with(&figures, &around),
        numbers: figures,
        references,
    }
}

fn made_with(figures: &Contrasts, around: &Around) -> MadeWith {
    let options = &around.options;
    let at: Vec<String> = options.at.iter().map(|(name, value)| format!("{name} {value}")).collect();
    let mut made_with = MadeWith::new(&[
        ("by", figures.by.clone()),
        ("against", figures.against.clone().unwrap_or_default()),
        ("pattern", options.pattern.recorded()),
        ("within", figures.within.clone().unwrap_or_default()),
        ("changing_with", figures.changing_with.clone().unwrap_or_default()),
        ("scale", format!("{:?}", figures.scale).to_lowercase()),
        ("together", figures.together.name().to_owned()),
        ("margin", figures.margin.map(|margin| margin.to_string()).unwrap_or_default()),
        ("at", at.join(", ")),
        ("average", options.average.recorded()),
        ("confidence", figures.confidence.to_string()),
    ])
    .about(around.outcome);
    made_with.seed = (around.adjust == Adjust::Joint).then_some(options.seed);
    made_with
}

fn sources(adjust: Adjust) -> Vec<&'static str> {
    match adjust {
        Adjust::Joint => vec![works::HOTHORN_BRETZ_WESTFALL_2008],
        Adjust::TukeyKramer => vec![works::TUKEY_1949, works::KRAMER_1956],
        Adjust::Dunnett => vec![works::DUNNETT_1955],
        Adjust::Scheffe => vec![works::SCHEFFE_1953],
        Adjust::List(adjustment) => cited(adjustment).to_vec(),
    }
}

fn table(figures: &Contrasts, averaged: bool) -> Sheet {
    let rows = &figures.contrasts;
    let (of, size) = match figures.scale {
        Scale::Points => (answer::Scale::Difference, answer::Scale::Size),
        Scale::Ratio => (answer::Scale::Ratio, answer::Scale::Ratio),
        Scale::Odds => (answer::Scale::OddsRatio, answer::Scale::OddsRatio),
    };
    let mut sheet = Sheet::default();
    sheet.text("comparison", rows.iter().map(|row| row.comparison.clone()));
    if let Some(within) = &figures.within {
        sheet.level(within, rows.iter().map(|row| row.within.clone().unwrap_or_default()));
    }
    sheet.scaled("value", of, rows.iter().map(|row| row.value));
    if figures.scale == Scale::Points {
        sheet.size("se", rows.iter().map(|row| row.se));
    }
    sheet
        .scaled("low", of, rows.iter().map(|row| row.low))
        .scaled("high", of, rows.iter().map(|row| row.high))
        .text("statistic_is", rows.iter().map(|row| statistic_is(figures, row)))
        .statistic("statistic", rows.iter().map(|row| row.statistic));
    // Degrees of freedom that all contrasts share stand in each row, as their own would.
    let df = |row: &Contrast| row.df.or(row.statistic.and(figures.df));
    if rows.iter().any(|row| df(row).is_some()) {
        sheet.degrees("df", rows.iter().map(df));
    }
    sheet.p("p", rows.iter().map(|row| row.p)).p("p_adjusted", rows.iter().map(|row| row.p_adjusted)).scaled(
        "not_ruled_out",
        size,
        rows.iter().map(|row| row.not_ruled_out),
    );
    if figures.margin.is_some() {
        let word = |row: &Contrast| row.within_margin.map_or("", |yes| if yes { "yes" } else { "not shown" });
        sheet.text("within_margin", rows.iter().map(word));
    }
    if figures.scale != Scale::Points {
        sheet.text("other_effects", rows.iter().map(|_| if averaged { "averaged over" } else { "held" }));
    }
    if rows.iter().any(|row| row.why.is_some()) {
        sheet.text("why", rows.iter().map(|row| row.why.clone().unwrap_or_default()));
    }
    sheet
}

/// What the statistic of a contrast is held against.
fn statistic_is(figures: &Contrasts, row: &Contrast) -> &'static str {
    match (row.statistic, row.df.or(figures.df)) {
        (None, _) => "",
        (_, Some(_)) => "t",
        (_, None) => "normal",
    }
}

/// True when contrasts have degrees of freedom of their own.
fn own_dof(figures: &Contrasts) -> bool {
    figures.contrasts.iter().any(|row| row.df.zip(figures.df).is_some_and(|(own, fewest)| own > fewest))
}

/// "strength 5000 against 2500 with rootstock K12".
fn name(figures: &Contrasts, row: &Contrast) -> String {
    let place = figures.within.as_ref().zip(row.within.as_ref());
    let place = place.map_or_else(String::new, |(name, level)| format!(" with {name} {level}"));
    format!("{}{place}", row.comparison)
}

fn size(scale: Scale, value: f64) -> String {
    match scale {
        Scale::Points => points(value),
        Scale::Ratio | Scale::Odds => number(value),
    }
}

fn described(figures: &Contrasts, row: &Contrast) -> String {
    let value = row.value.unwrap_or(0.0);
    let is_ratio = figures.scale != Scale::Points;
    let bound = bounds::in_words(bounds::of_ratio(row.low, row.high), number).filter(|_| is_ratio);
    let known = bound.is_some();
    let size = bound.unwrap_or_else(|| number(value));
    let told = match figures.scale {
        Scale::Points if value < 0.0 => format!("{} fewer", points(-value)),
        Scale::Points => format!("{} more", points(value)),
        Scale::Ratio => format!("{size} times the rate"),
        Scale::Odds => format!("{size} times the odds"),
    };
    let limits = match (row.low, row.high) {
        // The bound is all there is.
        _ if known => String::new(),
        (Some(low), Some(high)) if is_ratio => format!("{} to {}, ", number(low), number(high)),
        (Some(low), Some(high)) => format!("{}, ", limits_read((low, high), points)),
        (Some(low), None) => format!("at least {}, ", self::size(figures.scale, low)),
        (None, Some(high)) => format!("at most {}, ", self::size(figures.scale, high)),
        (None, None) => String::new(),
    };
    let adjusted =
        if figures.n_tests > 1 && figures.together != Adjust::List(Adjustment::None) { "adjusted P " } else { "P " };
    let p = row.p_adjusted.map(p_value).unwrap_or_default().replacen("P ", adjusted, 1);
    let part = if figures.parts(row) {
        ", though the limits, which are wider than steps need, hold no difference"
    } else {
        ""
    };
    format!("{}: {told} ({limits}{p}{part})", name(figures, row))
}

fn sentence(model: &Model, figures: &Contrasts, around: &Around) -> String {
    let start = warning(model);
    let rows = &figures.contrasts;
    let count = figures.family();
    let known: Vec<&Contrast> = rows.iter().filter(|row| row.value.is_some()).collect();
    if around.confounded {
        let told: Vec<String> = known.iter().take(4).map(|row| described(figures, row).replace(" ()", "")).collect();
        let (none, are) = if rows.len() == 1 {
            ("This comparison cannot".to_owned(), "estimate is")
        } else {
            (format!("None of {count} can"), "estimates are")
        };
        return format!(
            "{start}{none} be tested in this layout, since {} and {} cannot be told apart; the {are}: {}.",
            figures.by,
            hiding(model, figures),
            join(&told)
        );
    }
    let (shown, open): (Vec<&Contrast>, Vec<&Contrast>) = known.iter().partition(|row| figures.shows(row));
    let way = match around.adjust {
        _ if figures.n_tests < 2 => String::new(),
        Adjust::List(Adjustment::None) => " (not adjusted for their number)".to_owned(),
        adjust => format!(" (adjusted by {})", adjust.in_words()),
    };
    let per = around.outcome.of_hundred();
    let unit = if figures.scale == Scale::Points { format!(", in {per}") } else { String::new() };
    let claims = match shown.len() {
        0 if rows.len() == 1 => format!("{start}No difference is shown"),
        0 => format!("{start}Of {count} none shows a difference{way}"),
        1 if rows.len() == 1 => {
            format!(
                "{start}A difference is shown{unit}: {}",
                shown.iter().map(|row| described(figures, row)).collect::<String>()
            )
        }
        n => {
            let told: Vec<String> = shown.iter().take(6).map(|row| described(figures, row)).collect();
            let more = n.saturating_sub(told.len());
            let more = if more > 0 { format!("; {more} more in the table") } else { String::new() };
            let verb = if n == 1 { "shows a difference" } else { "show a difference" };
            format!("{start}Of {count} {n} {verb}{way}{unit}: {}{more}", join(&told))
        }
    };
    let parted: Vec<String> = open.iter().filter(|row| figures.parts(row)).map(|row| described(figures, row)).collect();
    let parted = if parted.is_empty() { String::new() } else { format!(" Borderline: {}.", join(&parted)) };
    format!("{claims}.{parted}{}{}", open_words(figures, &open, per), margin_words(figures, &known, per))
}

/// What the factor cannot be told apart from.
fn hiding(model: &Model, figures: &Contrasts) -> String {
    let other = figures.changing_with.as_deref();
    let hidden = model.strata.withheld(&figures.by).or_else(|| model.strata.withheld(other?));
    hidden.unwrap_or("the whole plots").to_owned()
}

/// What is left open where no difference is shown.
fn open_words(figures: &Contrasts, open: &[&Contrast], per: &str) -> String {
    if open.is_empty() {
        return String::new();
    }
    let most = open.iter().map(|row| row.not_ruled_out).collect::<Option<Vec<f64>>>();
    let most = most.and_then(|all| all.into_iter().max_by(f64::total_cmp)).filter(|most| most.is_finite());
    match (most, figures.scale) {
        (Some(most), Scale::Points) => {
            format!(" Where none is shown, differences of up to {} {per} cannot be ruled out.", points(most.min(1.0)))
        }
        (Some(most), _) => format!(
            " Where none is shown, {} up to {} either way cannot be ruled out.",
            if figures.scale == Scale::Ratio { "ratios of" } else { "odds ratios of" },
            number(most)
        ),
        (None, _) => " Where none is shown, it cannot be said how large a difference remains possible.".to_owned(),
    }
}

fn margin_words(figures: &Contrasts, known: &[&Contrast], per: &str) -> String {
    let Some(margin) = figures.margin else { return String::new() };
    let within: Vec<String> =
        known.iter().filter(|row| row.within_margin == Some(true)).map(|row| name(figures, row)).collect();
    let margin = match figures.scale {
        Scale::Points => format!("{} {per}", points(margin)),
        Scale::Ratio | Scale::Odds => format!("a factor of {}", number(margin)),
    };
    if within.is_empty() {
        return format!(" No contrast is shown to lie within {margin}.");
    }
    format!(" Shown to lie within {margin}: {}.", join(&within))
}

fn notes((model, ready): (&Model, &Ready), figures: &Contrasts, around: &Around) -> Vec<Note> {
    let mut notes = model.notes.clone();
    let others = figures.within.iter().chain(&figures.changing_with).chain(around.options.at.keys());
    notes.extend(interaction_note(ready, &figures.by, &others.map(String::as_str).collect::<Vec<_>>()));
    if around.curve
        && figures.changing_with.is_none()
        && !matches!(around.options.pattern, Pattern::Trend | Pattern::Weights(_))
    {
        notes.push(cautions::curve_before_pairs(&figures.by));
    }
    notes.extend(adjust_note(figures, around));
    notes.extend(around.by_covariance.then(cautions::judged_by_covariance));
    if figures.n_tests > MANY.min(model.n_units.max(2)) {
        let text = format!(
            "{} comparisons from {} {}: with so many each can show only large differences. Name the few that matter, or compare \
             with one level.",
            figures.n_tests,
            model.n_units,
            if model.units.kind == UnitKind::Tray { "trays" } else { "counts" }
        );
        notes.push(Note::new("many_comparisons", text));
    }
    if figures.contrasts.iter().any(|row| row.value.is_none()) {
        let text = "Some contrasts need combinations that were not tried, so they are left open and not in the family.";
        notes.push(Note::new("not_estimable", text));
    }
    if figures.scale != Scale::Points && figures.contrasts.iter().any(Contrast::one_sided) {
        notes.push(bounds::note("contrast", "a limit of 0 or infinity"));
    }
    let open: BTreeSet<&String> =
        figures.contrasts.iter().filter(|row| row.value.is_some()).filter_map(|row| row.why.as_ref()).collect();
    for why in open {
        notes.push(Note::new("not_available", format!("Some contrasts have no test or no limits: {why}.")));
    }
    if around.scaled {
        let text =
            "Weights were scaled so that the positive ones sum to 1: a contrast is then a difference of averages.";
        notes.push(Note::new("weights_scaled", text));
    }
    if !around.reached {
        let text =
            "The joint distribution was not computed to the precision aimed at; the last digits of P may be off.";
        notes.push(Note::new("wide_interval", text));
    }
    if model.units.whole_plot.is_some() && model.strata.above.is_none() && !model.strata.on_whole_plots(&figures.by) {
        let error = figures.df.filter(|df| !is_robust(model) && Some(*df) != model.strata.tray.df);
        if let Some(df) = error {
            let text = format!(
                "The whole plots do not all hold the levels of {} in one proportion, so its comparisons are measured between whole \
                 plots, on {}.",
                figures.by,
                crate::report::degrees_of_freedom(df)
            );
            notes.push(Note::new("measured_between_whole_plots", text));
        }
    }
    notes.extend(around.mixed.iter().cloned());
    notes.extend(scale_notes(figures, around));
    notes.extend(strength_caution(model, &figures.by));
    notes
}

/// What a scale does to the question.
fn scale_notes(figures: &Contrasts, around: &Around) -> Vec<Note> {
    let mut notes = Vec::new();
    if figures.changing_with.is_some() || around.weighted {
        let what =
            if figures.changing_with.is_some() { "that differences change" } else { "that a weighted average differs" };
        let text = format!(
            "On another scale this is another question with another P value: rates may differ by equal {} and by unequal \
             ratios. Only of two rates is no difference the same on all scales. The effect test asks {what} on the scale of the link.",
            around.outcome.of_hundred()
        );
        notes.push(Note::new("depends_on_scale", text));
    }
    if figures.scale == Scale::Odds && around.averaged {
        let text = "These are ratios of the odds of rates averaged over the other effects. The odds ratios of the model hold the other \
                    effects alike and lie further from 1; neither is wrong, so say which was taken.";
        notes.push(Note::new("averaged_odds", text));
    }
    notes
}

fn adjust_note(figures: &Contrasts, around: &Around) -> Option<Note> {
    let Adjust::List(adjustment) = around.adjust else { return None };
    if figures.n_tests < 2 {
        return None;
    }
    let each = number(100.0 * adjustment.interval_level(figures.confidence, figures.n_tests as usize));
    let note = match adjustment {
        Adjustment::None => cautions::not_adjusted("contrast"),
        _ if adjustment.holds_discovery_rate() => {
            let Note { code, text } = cautions::discovery_rate();
            Note { code, text: format!("{text} The intervals are Bonferroni's, at {each} % each.") }
        }
        _ if adjustment.matches_intervals() => return None,
        _ => Note::new(
            "single_step_intervals",
            format!(
                "The adjustment goes by steps and has no simple intervals of its own: the intervals are {}, at {each} % each, \
                 and a contrast may be shown by its adjusted P value while its interval still holds no difference.",
                if adjustment == Adjustment::SidakStepDown { "Šidák's" } else { "Bonferroni's" }
            ),
        ),
    };
    Some(note)
}

/// How P values and limits of a family hold together.
fn adjusted_in_words(figures: &Contrasts, adjust: Adjust) -> String {
    match adjust {
        _ if figures.n_tests < 2 => String::new(),
        Adjust::Joint => {
            " P values and limits come in one step from the joint distribution of the family, with the correlations \
                           that hold where no contrast differs from 0 (Hothorn, Bretz and Westfall 2008)."
                .to_owned()
        }
        Adjust::TukeyKramer => {
            " P values and limits come in one step from the studentised range (Tukey 1949, Kramer 1956).".to_owned()
        }
        Adjust::Dunnett => " P values and limits come in one step from the distribution of Dunnett (1955).".to_owned(),
        Adjust::Scheffe => {
            " P values and limits hold for all contrasts of the family's space (Scheffé 1953).".to_owned()
        }
        Adjust::List(Adjustment::None) => " P values and limits were not adjusted for their number.".to_owned(),
        Adjust::List(adjustment) => format!(
            " P values were adjusted together ({}); each interval has a level of {} %.",
            adjustment.in_words(),
            number(100.0 * adjustment.interval_level(figures.confidence, figures.n_tests as usize))
        ),
    }
}

/// The statistic and where limits come from.
fn how_judged(model: &Model, figures: &Contrasts, law: &str) -> String {
    if by_score(model) {
        format!(
            "the signed root of the score on effective cuttings, the statistic of the effect tests, held against {law}, with limits at \
             {} where the score of a value meets its critical value (Miettinen and Nurminen 1985)",
            confidence(figures.confidence)
        )
    } else {
        format!(
            "the signed root of the {}, held against {law}, with limits at {} from the same profile",
            if is_robust(model) {
                "quadratic form of the estimates with their covariance"
            } else if is_used(model) {
                "likelihood ratio of the law of the trays"
            } else {
                "likelihood ratio over the dispersion"
            },
            confidence(figures.confidence)
        )
    }
}

fn method_words(model: &Model, figures: &Contrasts, around: &Around) -> String {
    let options = &around.options;
    let scale = match figures.scale {
        Scale::Points => "differences of rates",
        Scale::Ratio => "ratios of rates",
        Scale::Odds => "odds ratios",
    };
    let trays = match (options.rate_of, around.options.rate_of == RateOf::TypicalTray) {
        (_, true) => " of a typical tray",
        _ => "",
    };
    let family = whole(figures.contrasts.len() as u64, "contrast", "contrasts");
    let averaged = averaging_words(&options.average, &options.at);
    if around.confounded {
        return format!("The {family} of {}{trays} ({scale}; {averaged}) were estimated, not tested.", figures.by);
    }
    let law = figures.df.map_or_else(
        || "the normal distribution".to_owned(),
        |df| match own_dof(figures) {
            true => "t with degrees of freedom of each contrast's own (Satterthwaite)".to_owned(),
            false => format!("t with {}", crate::report::degrees_of_freedom(df)),
        },
    );
    let adjusted = adjusted_in_words(figures, around.adjust);
    let how = how_judged(model, figures, &law);
    format!(
        "{}, {scale}{trays} ({averaged}), were judged by {how}.{adjusted}",
        capital(&format!("the {family} of {}", figures.by))
    )
}
