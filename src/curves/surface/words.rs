//! What a surface over strength and darkness says in words.

use super::numbers::{BestAt, ResponseSurface};
use crate::answer::Note;
use crate::curves::input::CurveTrays;
use crate::curves::told::{Decided, about, strength as with_unit};
use crate::estimate::{TestName, TestResult};
use crate::report::cautions::Claims;
use crate::report::{cautions, confidence, degrees_of_freedom, facts, number, p_value, points};

pub(super) fn located(best: &BestAt) -> &'static str {
    match (best.strength.open_low, best.strength.open_high) {
        (false, false) => "located",
        (false, true) => "not located: may lie at or above the highest strength",
        (true, false) => "not located: the lowest strength may be the best",
        (true, true) => "not located: no strength is shown to be the best",
    }
}

/// The test of one best strength at every darkness.
fn shift_test(found: &ResponseSurface) -> Option<&TestResult> {
    found.tests.iter().find(|test| test.method == TestName::OneBestStrength)
}

/// The decision line: whether the best strength moves with darkness, and where it is.
pub(super) fn decided(found: &ResponseSurface) -> Decided {
    let unit = surface_unit(found);
    let known: Vec<&BestAt> =
        found.best.iter().filter(|best| !best.strength.open_low && !best.strength.open_high).collect();
    let Some((first, last)) = known.first().zip(known.last()) else {
        return ("No best strength is located at any darkness: test more strengths".to_owned(), Vec::new());
    };
    let level = found.input.options.curve.confidence;
    let trees = |take: f64| format!("{:.0} trees per 100", 100.0 * take);
    let at = |best: &BestAt| about(best.strength.value);
    let moved = shift_test(found).is_some_and(|test| test.p <= 1.0 - level) && known.len() > 1;
    let p = shift_test(found).map(|test| format!(" ({})", p_value(test.p))).unwrap_or_default();
    if moved {
        let lead = format!(
            "The best strength shifts with darkness{p}: about {}{unit} after {} days, {} after {}",
            at(first),
            number(first.darkness),
            at(last),
            number(last.darkness)
        );
        return (lead, Vec::new());
    }
    let top = known.iter().max_by(|a, b| a.take[0].total_cmp(&b.take[0])).unwrap_or(first);
    let dark = found.tests.iter().any(|test| test.method == TestName::Darkness && test.p <= 1.0 - level);
    let at_what = if dark {
        format!("highest after {} days of darkness", number(top.darkness))
    } else {
        "at any tested darkness".to_owned()
    };
    let lead = format!("Use about {}{unit}, {}, {at_what}", at(top), trees(top.take[0]));
    (lead, vec![format!(": no shift with it is shown{p}")])
}

/// "mg/L IBA", with a space before it.
fn surface_unit(found: &ResponseSurface) -> String {
    let substance = found.input.strength.as_ref().map(|strength| strength.substance().to_string());
    let parts = [Some(found.input.unit.clone()), substance].into_iter().flatten();
    parts.filter(|part| !part.is_empty()).map(|part| format!(" {part}")).collect()
}

/// What stands behind the decision line, a fact a line.
pub(super) fn details(found: &ResponseSurface) -> Vec<String> {
    let (unit, level) = (found.input.unit.as_str(), found.input.options.curve.confidence);
    let mut said = Vec::new();
    if !found.input.counted {
        said.push("Trays are not counted here, so the intervals are too narrow.".to_owned());
    }
    said.extend(found.best.iter().map(|best| one(best, unit, level)));
    said.extend(shift_test(found).map(|test| {
        let p = p_value(test.p);
        match found.shift_factor.filter(|_| test.p <= 1.0 - level) {
            Some(factor) => format!(
                "The best strength shifts with darkness ({p}): from the shortest to the longest it changes by a factor of about {} (of strength + {}).",
                number(factor),
                with_unit(found.shift, unit)
            ),
            None => format!("The best strength is not shown to shift with darkness ({p})."),
        }
    }));
    said.extend(facts(over_both(found).trim()));
    said.push("This holds within the tested range, for this cultivar, method and season only.".to_owned());
    said
}

fn one(best: &BestAt, unit: &str, level: f64) -> String {
    let [take, low, high] = best.take.map(points);
    let range = match (best.strength.open_low, best.strength.open_high) {
        (false, false) => format!(
            "{} interval {} to {}",
            confidence(level),
            number(best.strength.low),
            with_unit(best.strength.high, unit)
        ),
        _ => located(best).to_owned(),
    };
    format!(
        "After {} days of darkness the curve is highest at about {} ({range}), {take} trees per 100 ({low} to {high}).",
        number(best.darkness),
        with_unit(best.strength.value, unit)
    )
}

fn over_both(found: &ResponseSurface) -> String {
    if let Some(why) = &found.withheld {
        return format!(" Nothing is claimed about darkness itself: {why}.");
    }
    let dark = found.tests.iter().find(|test| test.method == TestName::Darkness);
    let dark = dark.map_or_else(String::new, |test| {
        let shown = if test.p <= 0.05 { "changes" } else { "is not shown to change" };
        format!(" Darkness {shown} the take ({}).", p_value(test.p))
    });
    match &found.top {
        Some(top) if top.located => format!(
            "{dark} Over both the take is highest, {} trees per 100, at about {} after {} days.",
            points(top.take),
            with_unit(top.strength, &found.input.unit),
            number(top.darkness)
        ),
        Some(_) => format!(
            "{dark} The best combination of strength and darkness is not located: the region that is not ruled out reaches the edge of the tested range."
        ),
        None if found.best.len() > 2 => {
            format!("{dark} The surface has no top, so the best combination of strength and darkness is not located.")
        }
        None => format!("{dark} Two levels of darkness tell which of them is better, not which darkness is best."),
    }
}

pub(super) fn notes(found: &ResponseSurface) -> Vec<Note> {
    let mut notes = found.input.notes.clone();
    if !found.input.counted {
        let asked = found.input.options.curve.trays == CurveTrays::Ignore;
        let (none, ignored) = (cautions::no_trays(Claims::Intervals), cautions::trays_ignored(Claims::Intervals));
        notes.push(if asked { ignored } else { none });
    }
    if let Some(why) = &found.withheld {
        let text = format!(
            "The effect of darkness is withheld: {why}. A shift of the best strength is judged within them, so it may be theirs as well, and takes hold for these alone. Repeat the trial in time, or with several of them for each darkness."
        );
        notes.push(Note::new("darkness_confounded", text));
    } else if found.input.bays.is_none() && found.input.counted {
        let text = "No room or bay is recorded that darkness was given to, so darkness is judged as if each tray had been darkened alone. If trays shared a room, name it with whole_plot=.";
        notes.push(Note::new("darkness_by_tray", text));
    }
    if let Some(df) = found.df_bays.filter(|df| *df < 4.0) {
        let text = format!(
            "Darkness is judged by few rooms ({}): its intervals are wide and a real difference is easily missed.",
            degrees_of_freedom(df)
        );
        notes.push(Note::new("few_bays", text));
    }
    let lack = found.tests.iter().find(|test| test.method == TestName::LackOfFit).filter(|test| test.p <= 0.05);
    if let Some(test) = lack {
        let text = format!(
            "The surface misses the combinations' own rates by more than chance would ({}): draw a curve for each darkness with strength_curve(within=...).",
            p_value(test.p)
        );
        notes.push(Note::new("lack_of_fit", text));
    }
    if found.unsettled {
        notes.push(Note::new(
            "curve_open",
            "The search for the largest likelihood did not settle: combinations at 0 or 100 % leave the surface open.",
        ));
    }
    notes.push(cautions::best_strength());
    notes.push(cautions::chemical());
    notes
}

pub(super) fn methods(found: &ResponseSurface) -> String {
    let trays = found.df.map_or_else(
        || "Trays could not be told apart or were not counted.".to_owned(),
        |df| {
            format!(
                "Trays were counted by their design effect; strengths and the shift are judged by F and t with {}.",
                degrees_of_freedom(df)
            )
        },
    );
    let bays = match (&found.input.bays, found.df_bays) {
        (Some(bays), Some(df)) => format!(
            " Darkness and the limits of takes are judged by how much each {bays} of one darkness differs from the others ({}).",
            degrees_of_freedom(df)
        ),
        _ => String::new(),
    };
    format!(
        "Log odds were modelled as quadratic in log(1 + d/d0) (d0 = {}, the likeliest of those tried), in the days of darkness where three or more were tested, and in their product. The best strength at a darkness has profile-likelihood limits at {}, which hold what any `d0` allows that was tried; the region of the top over both holds the places whose likelihood ratio stays below the critical value for two parameters. Limits are widened by the surface's lack of fit per degree of freedom where it exceeds 1. {trays}{bays}",
        number(found.shift),
        confidence(found.input.options.curve.confidence)
    )
}
