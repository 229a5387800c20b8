//! What a curve's answer decides, in at most thirty words: the line that is its sentence.

use super::figures::{OneCurve, StrengthCurve, StrengthsFor};
use super::phrases::{Decided, NAMED, about, advice, aloud, each_for, span, trees, unit, whole_trees};
use super::stay_below;
use crate::curves::find::{Located, StrengthFor, StrengthMethod, Withheld, misses};
use crate::curves::input::CurveInput;
use crate::curves::shape::mixed;
use crate::report::{capital, join, number, p_value};
use crate::trial::Outcome;

/// The decision with all that goes with it, for the details.
fn in_full((lead, more): Decided) -> String {
    format!("{lead}{}.", more.concat())
}

/// "87 trees per 100 (78 to 92)".
fn take([value, low, high]: [f64; 3], per: &str) -> String {
    format!("{} {per} ({} to {})", whole_trees(value), whole_trees(low), whole_trees(high))
}

/// A best strength that may be stated.
fn usable(curve: &OneCurve) -> bool {
    curve.best.withheld.is_none()
}

/// The decision line over all curves.
pub(super) fn curves(found: &StrengthCurve) -> String {
    let decided = match found.curves.as_slice() {
        [only] => decided(only, found),
        several => each(several, found),
    };
    aloud(found.input.counted, decided)
}

/// "; nothing between 4000 and 8000 was tried: test there first", of a top that no tested strength shows.
fn untested((below, above): (f64, f64)) -> String {
    format!("; nothing between {} and {} was tried: test there first", number(below), number(above))
}

/// The best strength of each of several curves, a few by name.
fn each(curves: &[OneCurve], found: &StrengthCurve) -> Decided {
    let (unit, outcome) = (&unit(&found.input), found.input.options.outcome);
    let per = outcome.of_hundred();
    let located: Vec<&OneCurve> = curves.iter().filter(|one| usable(one)).collect();
    let open: Vec<String> = curves.iter().filter(|one| !usable(one)).map(|one| one.name.clone()).collect();
    let lack = match open.len() {
        0 => String::new(),
        1..=NAMED => format!("; no best strength yet for {}", join(&open)),
        n => format!("; {n} have no best strength yet"),
    };
    let top = |one: &OneCurve| about(one.best.strength.value);
    if located.is_empty() {
        let lead = format!("No best strength yet for any of {} curves", curves.len());
        return (lead, vec![format!(": {}", join(&open)), "; each has its line below".to_owned()]);
    }
    if located.len() > NAMED {
        let tops: Vec<f64> = located.iter().map(|one| one.best.strength.value).collect();
        let lead = format!("Best strengths of {} curves run from about {}{unit}", located.len(), span(&tops));
        return (lead, vec![lack, "; read each curve".to_owned()]);
    }
    let one = |(at, one): (usize, &&OneCurve)| match at {
        0 => format!("{}{unit} for {} ({} {per})", top(one), one.name, whole_trees(one.best.take)),
        _ => format!("{} for {} ({})", top(one), one.name, whole_trees(one.best.take)),
    };
    let parts: Vec<String> = located.iter().enumerate().map(one).collect();
    // Where cuttings die at such a strength it is no advice.
    let above = |one: &&&OneCurve| {
        let stay = found.input.stay_below(&one.levels);
        stay.is_some_and(|stay| one.best.strength.value > stay.strength())
    };
    let deadly: Vec<String> = located.iter().filter(above).map(|one| one.name.clone()).collect();
    if deadly.is_empty() {
        let from_zero = |one: &OneCurve| one.strengths.first().is_some_and(|first| first.strength <= 0.0);
        let nearly = found.input.options.nearly;
        let sure =
            located.iter().all(|one| one.untested(nearly).is_none() && (one.best.range_low > 0.0 || !from_zero(one)));
        return (format!("{} {}", advice(outcome, sure), join(&parts)), vec![lack]);
    }
    let lead = format!("{} is highest at about {}", outcome.words().title, join(&parts));
    (lead, vec![format!("; there more cuttings of {} die", join(&deadly)), lack])
}

/// The decision of one of several curves, for the details.
pub(super) fn curve(curve: &OneCurve, found: &StrengthCurve) -> String {
    let (lead, more) = decided(curve, found);
    in_full((capital(&lead), more))
}

fn decided(curve: &OneCurve, found: &StrengthCurve) -> Decided {
    let (best, unit) = (&curve.best, unit(&found.input));
    let outcome = found.input.options.outcome;
    let (per, counted) = (outcome.of_hundred(), outcome.counted());
    let lowest = curve.strengths.first().map_or(f64::NAN, |level| level.strength);
    let highest = curve.strengths.last().map_or(f64::NAN, |level| level.strength);
    let tested = format!("{} to {}{unit}", number(lowest), number(highest));
    if best.withheld == Some(Withheld::AllAlike) {
        let what = if best.take > 0.5 { "every" } else { "no" };
        return (format!("At {tested} {what} cutting {counted}, so no best strength can be told"), Vec::new());
    }
    if best.withheld == Some(Withheld::FewStrengths) {
        return two(curve, &unit, per);
    }
    if best.withheld == Some(Withheld::NoCurveFits) {
        let p = curve.lack_p.unwrap_or(f64::NAN);
        let (lead, mut more) = no_fit(curve, &unit, (p, outcome));
        more.extend(found.input.stay_below(&curve.levels).and_then(|stay| stay.tail(highest)));
        return (lead, more);
    }
    let take = take([best.take, best.take_low, best.take_high], per);
    let stay = found.input.stay_below(&curve.levels);
    if best.located != Located::Inside {
        return open(curve, found, (&unit, &take), stay.and_then(|stay| stay.tail(highest)));
    }
    let nearly = found.input.options.nearly;
    let around = curve.untested(nearly);
    // Where no hormone at all may do nearly as well, that is no settled advice.
    let sure = around.is_none() && (lowest > 0.0 || best.range_low > 0.0);
    let (lead, more) = stay
        .and_then(|stay| stay_below::decided(best, stay, (&unit, &take, nearly), (outcome, sure)))
        .unwrap_or_else(|| {
            let (low, high) = (about(best.range_low), about(best.range_high));
            (
                format!("{} {}{unit}: {take}", advice(outcome, sure), about(best.strength.value)),
                vec![format!("; {low} to {high} are not shown to be worse by more than {}", trees(nearly))],
            )
        });
    (lead, around.map(untested).into_iter().chain(more).collect())
}

/// A best strength that is not located, with its highest take in words, and that more cuttings die at the strengths that are left open.
fn open(curve: &OneCurve, found: &StrengthCurve, (unit, take): (&str, &str), more_die: Option<String>) -> Decided {
    let (best, outcome) = (&curve.best, found.input.options.outcome);
    let lowest = curve.strengths.first().map_or(f64::NAN, |level| level.strength);
    let highest = curve.strengths.last().map_or(f64::NAN, |level| level.strength);
    let top = about(best.strength.value);
    let (lead, mut more) = match best.located {
        Located::High => (
            format!("No best strength yet: it may lie above {}{unit}", number(highest)),
            vec![
                if more_die.is_some() { String::new() } else { ". Test higher".to_owned() },
                format!("; so far the curve gives {take} at {top}"),
            ],
        ),
        Located::Low if lowest == 0.0 && best.range_low > 0.0 => {
            let next = curve.strengths.get(1).map_or(f64::NAN, |level| level.strength);
            let nearly = trees(found.input.options.nearly);
            (
                format!("No best strength yet: it may lie just above 0. Test between 0 and {}{unit}", number(next)),
                vec![
                    format!("; so far the curve gives {take} at {top}"),
                    format!("; 0 is shown to be worse by more than {nearly}"),
                ],
            )
        }
        Located::Low if lowest == 0.0 => (
            format!(
                "{} 0 may do as well as any up to {}{unit}",
                if outcome.is_part() { "Strength" } else { "No reason to use any: strength" },
                number(highest)
            ),
            vec![format!("; highest near {top}, {take}")],
        ),
        Located::Low => (
            format!("No best strength yet: it may lie below {}{unit}. Test lower", number(lowest)),
            vec![format!("; so far the curve gives {take} at {top}")],
        ),
        Located::Nowhere | Located::Inside => (
            format!("Too few trays to tell a best strength within {} to {}{unit}", number(lowest), number(highest)),
            vec![format!("; highest near {top}, {take}")],
        ),
    };
    more.splice(0..0, more_die);
    (lead, more)
}

/// No curve fits: the best of the strengths' own takes.
fn no_fit(curve: &OneCurve, unit: &str, (p, outcome): (f64, Outcome)) -> Decided {
    let (takes, per) = (outcome.words().takes, outcome.of_hundred());
    let lead = format!("Not settled: no curve fits these {takes} ({})", p_value(p));
    let top = curve.strengths.iter().max_by(|a, b| a.value.total_cmp(&b.value));
    let top = top.map(|top| {
        let own = take([top.value, top.low, top.high], per);
        format!(". Best tested {}{unit}: {own}", number(top.strength))
    });
    (lead, top.into_iter().collect())
}

/// Two strengths: which is higher, and which between them would make a curve.
fn two(curve: &OneCurve, unit: &str, per: &str) -> Decided {
    let [a, b] = curve.strengths.as_slice() else {
        return ("A single strength makes no curve; test two more".to_owned(), Vec::new());
    };
    let (lower, upper) = (a.value - b.value, b.value - a.value);
    let (better, other) = if lower > upper { (a, b) } else { (b, a) };
    let difference = better.value - other.value;
    let low = difference - (better.value - better.low).hypot(other.high - other.value);
    let high = difference + (better.high - better.value).hypot(other.value - other.low);
    // Thirds of the way on the log scale; strength 0 has none, so quarter and half of the other.
    let between = |share: f64| {
        let way = if a.strength > 0.0 {
            a.strength * (b.strength / a.strength).powf(share)
        } else {
            0.75 * share * b.strength
        };
        number(mixed(way))
    };
    let lead = format!(
        "Two strengths make no curve: {}{unit} has {} more {per} than {} ({} to {})",
        number(better.strength),
        whole_trees(difference),
        number(other.strength),
        whole_trees(low),
        whole_trees(high)
    );
    (lead, vec![format!(". Test {} and {}{unit} between them", between(1.0 / 3.0), between(2.0 / 3.0))])
}

/// How a curve stands to a wanted take.
#[derive(Clone, Copy, PartialEq)]
enum Reach {
    Reached,
    NoneNeeded,
    PerhapsNone,
    NotReached,
    NoFit,
}

fn reach(row: &StrengthFor) -> Reach {
    match row.value {
        _ if misses(row.lack_p).is_some() => Reach::NoFit,
        Some(0.0) if row.high <= 0.0 => Reach::NoneNeeded,
        Some(0.0) => Reach::PerhapsNone,
        Some(_) if !row.outside => Reach::Reached,
        _ => Reach::NotReached,
    }
}

/// The decision line of the strengths for a take.
pub(super) fn strengths_for(found: &StrengthsFor, input: &CurveInput) -> String {
    let rows: Vec<&StrengthFor> = found.rows.iter().filter(|row| row.method == StrengthMethod::Profile).collect();
    let decided = match rows.as_slice() {
        [only] => one_for(only, found, input),
        several => several_for(several, found, input),
    };
    aloud(input.counted, decided)
}

/// Several curves, put together by how they stand to the take.
fn several_for(rows: &[&StrengthFor], found: &StrengthsFor, input: &CurveInput) -> Decided {
    let (wanted, unit, per) = (trees(found.take), unit(input), input.options.outcome.of_hundred());
    let those = |kind: Reach| rows.iter().copied().filter(move |row| reach(row) == kind);
    let named = |kind: Reach| {
        let names: Vec<&str> = those(kind).map(|row| row.curve.as_str()).collect();
        if names.len() > NAMED { format!("{} curves", names.len()) } else { join(&names) }
    };
    let values: Vec<(f64, &str)> =
        those(Reach::Reached).filter_map(|row| Some((row.value?, row.curve.as_str()))).collect();
    let said = |kind: Reach, words: &str| those(kind).next().map(|_| format!("{words} {}", named(kind)));
    let missed = "not reached within the tested range by";
    let others = [
        said(Reach::NoneNeeded, "no hormone needed in"),
        said(Reach::PerhapsNone, "perhaps no hormone needed in"),
        said(Reach::NotReached, missed),
        said(Reach::NoFit, "not settled for"),
    ];
    let mut others = others.into_iter().flatten();
    if values.is_empty() {
        if rows.iter().all(|row| reach(row) == Reach::NotReached) {
            return (format!("No curve reaches {wanted} {per} within the tested range"), Vec::new());
        }
        let first = others.next().unwrap_or_default();
        return (format!("For {wanted} {per}: {first}"), others.map(|one| format!("; {one}")).collect());
    }
    let use_about = if values.len() > NAMED {
        let strengths: Vec<f64> = values.iter().map(|(value, _)| *value).collect();
        format!("{}{unit}, by curve", span(&strengths))
    } else {
        each_for(&unit, values.into_iter())
    };
    let usable = if input.options.outcome.is_part() { "" } else { "use " };
    let deadly: Vec<&str> =
        those(Reach::Reached).filter(|row| is_deadly(row, input)).map(|row| row.curve.as_str()).collect();
    if !deadly.is_empty() {
        let lead =
            format!("For {wanted} {per} about {use_about} would do, but there more cuttings of {} die", join(&deadly));
        return (lead, others.map(|one| format!("; {one}")).collect());
    }
    (format!("For {wanted} {per} {usable}about {use_about}"), others.map(|one| format!("; {one}")).collect())
}

/// The decision of one of several curves for a take, for the details.
pub(super) fn strength_for(row: &StrengthFor, found: &StrengthsFor, input: &CurveInput) -> String {
    in_full(one_for(row, found, input))
}

fn one_for(row: &StrengthFor, found: &StrengthsFor, input: &CurveInput) -> Decided {
    let (wanted, unit, per) = (trees(found.take), unit(input), input.options.outcome.of_hundred());
    let limits = match (row.high.is_finite(), row.or_never) {
        (true, false) => format!("{} to {}", about(row.low), about(row.high)),
        (true, true) => format!("{} to {}, or it is never reached", about(row.low), about(row.high)),
        (false, _) if row.falls => format!("at least {}, or it is never reached", about(row.low)),
        (false, _) => format!("at least {}, no upper limit", about(row.low)),
    };
    if let Some(p) = misses(row.lack_p) {
        let takes = input.options.outcome.words().takes;
        return (
            format!("Not settled for {wanted} {per}: no curve fits these {takes} ({})", p_value(p)),
            vec![format!("; read the strengths' own {takes}")],
        );
    }
    match row.value {
        Some(0.0) => without(row, &format!("{wanted} {per}"), (&unit, per)),
        Some(value) if row.outside => (
            format!("About {}{unit} for {wanted} {per}, beyond what was tested ({limits})", about(value)),
            vec![": test it first".to_owned()],
        ),
        Some(value) if is_deadly(row, input) => {
            let tail = input.stay_below_of(&row.curve).and_then(|stay| stay.tail(value));
            (format!("About {}{unit} for {wanted} {per} ({limits})", about(value)), tail.into_iter().collect())
        }
        Some(value) => {
            let usable = if input.options.outcome.is_part() { "About" } else { "Use about" };
            (format!("{usable} {}{unit} for {wanted} {per} ({limits})", about(value)), Vec::new())
        }
        None if row.highest.is_some_and(|[_, _, _, most]| found.take <= most) => {
            let [_, value, low, high] = row.highest.unwrap_or_default();
            let most = format!("the highest is {} ({} to {})", whole_trees(value), whole_trees(low), whole_trees(high));
            (format!("No tested strength is shown to reach {wanted} {per}; {most}, so it stays possible"), Vec::new())
        }
        None if row.low >= highest(input, &row.curve) => {
            (format!("No tested strength reaches {wanted} {per}: all of them are ruled out"), Vec::new())
        }
        None if row.low > 0.0 => (
            format!("No tested strength reaches {wanted} {per}"),
            vec![format!("; if any does, it is {}{unit} or more", about(row.low))],
        ),
        None => (
            format!("No tested strength is shown to reach {wanted} {per}"),
            vec!["; none is ruled out either".to_owned()],
        ),
    }
}

/// Do deaths rise below the strength for a take?
fn is_deadly(row: &StrengthFor, input: &CurveInput) -> bool {
    input.stay_below_of(&row.curve).zip(row.value).is_some_and(|(stay, value)| value > stay.strength())
}

/// The highest strength tested in a curve.
pub(super) fn highest(input: &CurveInput, curve: &str) -> f64 {
    let own = input.groups.iter().filter(|group| group.name(&input.options.within) == curve);
    own.flat_map(|group| &group.trays).map(|tray| tray.strength).fold(f64::NEG_INFINITY, f64::max)
}

/// Strength 0 reaches the take.
fn without(row: &StrengthFor, wanted: &str, (unit, per): (&str, &str)) -> Decided {
    let there = row.without.map(|found| format!(": without it {}", take(found, per)));
    if row.high <= 0.0 {
        return (format!("No hormone is needed for {wanted}"), there.into_iter().collect());
    }
    let sure = if row.high.is_finite() {
        let never = if row.or_never { ", or it is never reached" } else { "" };
        format!("; at most about {}{unit}{never}", about(row.high))
    } else {
        "; more trays would make it sure".to_owned()
    };
    (format!("Perhaps no hormone is needed for {wanted}"), there.into_iter().chain([sure]).collect())
}
