//! What curves compared say in words: which takes more, and whether each needs a strength of its own.

use super::differences::{differ_in_form, distances, shown, test};
use super::figures::CurveDifferences;
use super::law_words;
use super::phrases::{Decided, NAMED, about, aloud, each_for, heading, noun, opening, strength, unit};
use crate::curves::find::{BestOf, Shift, Withheld};
use crate::curves::input::{CurveBays, CurveInput};
use crate::curves::shape::ShapeChoice;
use crate::estimate::TestName;
use crate::report::{
    MOST_WORDS, agree, capital, confidence, degrees_of_freedom, join, number, p_value, points, references,
    references_curves, whole, words,
};
use crate::trial::Outcome;

/// "takes more" and "takes most", of whatever was counted.
fn more_and_most(outcome: Outcome) -> [String; 2] {
    if outcome.is_part() {
        let rate = outcome.words().rate;
        [format!("has a higher {rate}"), format!("has the highest {rate}")]
    } else {
        ["takes more".to_owned(), "takes most".to_owned()]
    }
}

/// The curve of the largest height.
fn highest(found: &CurveDifferences) -> usize {
    let heights = found.compared.heights.iter().map(|one| one.value);
    let all = std::iter::once(1.0).chain(heights).enumerate();
    all.fold((0, f64::NEG_INFINITY), |best, (at, value)| if value > best.1 { (at, value) } else { best }).0
}

/// Which curve takes more, by the unit that carries levels.
pub(super) fn level(found: &CurveDifferences, input: &CurveInput) -> String {
    let name = |at: usize| found.names.get(at).map(String::as_str).unwrap_or_default();
    let [more, most] = more_and_most(input.options.outcome);
    let all = match found.names.len() {
        n if n > NAMED + 1 => format!("{n} levels"),
        _ => join(&found.names),
    };
    let whole = test(found, TestName::NoDifference);
    if let Some(whole) = whole.filter(|whole| !shown(Some(*whole), found)) {
        return format!("The curves of {all} are not shown to differ ({})", p_value(whole.p));
    }
    let Some(tested) = test(found, TestName::SameHeight) else {
        if let Some(whole) = whole {
            return format!("The curves of {all} differ ({})", p_value(whole.p));
        }
        if let Some(CurveBays { uneven: Some(places), given, .. }) = &input.bays {
            let [places, given] = [places, given].map(|names| names.replace('_', " "));
            return format!("Which takes more is not told here, {places} being uneven over {given}: compare takes");
        }
        let column = input.bays.as_ref().map_or("bay", |bays| bays.column.as_str());
        return format!("Which {more} cannot be told: one {column} each");
    };
    let p = p_value(tested.p);
    if !shown(Some(tested), found) {
        let more = more.replacen("takes", "take", 1).replacen("has", "have", 1);
        return format!("None of {all} is shown to {more} ({p})");
    }
    let top = found.higher.unwrap_or_else(|| highest(found));
    let most = match found.names.as_slice() {
        [first, second] => format!("{} {more} than {}", name(top), if top == 0 { second } else { first }),
        _ => format!("{} {most}", name(top)),
    };
    if found.higher.is_some() && !differ_in_form(found) {
        format!("{most} at every strength ({p})")
    } else {
        format!("{most} on average ({p})")
    }
}

/// Whether each curve needs a strength of its own.
pub(super) fn strengths(found: &CurveDifferences, input: &CurveInput) -> String {
    let (bests, unit) = (&found.bests, unit(input));
    match (bests.differ, bests.one_for_all()) {
        (Some(true), _) if bests.each.len() <= NAMED => {
            let each = each_for(&unit, bests.each.iter().map(|one| (one.value, one.curve.as_str())));
            format!("choose a strength for each: about {each}")
        }
        (Some(true), _) => "their best strengths differ: choose a strength for each".to_owned(),
        (Some(false), Some(one)) => {
            let all = if bests.each.len() == 2 { "both" } else { "all" };
            format!("the same strength suits {all}, about {}{unit}", about(one))
        }
        (Some(false), None) => "their best strengths are not shown to differ".to_owned(),
        (None, _) => {
            let acts = differ_in_form(found);
            let start = if acts { "the strength acts differently in each, and " } else { "" };
            format!("{start}{}", withheld(found, acts))
        }
    }
}

/// Which curves state no best strength, and why; in short where the strength is shown to act differently.
fn withheld(found: &CurveDifferences, short: bool) -> String {
    let those = |misfit: bool| -> Vec<&str> {
        let own = |one: &&BestOf| one.withheld.is_some_and(|why| (why == Withheld::NoCurveFits) == misfit);
        found.bests.each.iter().filter(own).map(|one| one.curve.as_str()).collect()
    };
    let (misfits, open) = (those(true), those(false));
    let named = |names: Vec<&str>| match names.len() {
        n if n > NAMED => whole(n as u64, "curve", "curves"),
        _ => join(&names),
    };
    if !misfits.is_empty() {
        return format!("no curve fits {}, so no common best strength is told", named(misfits));
    }
    if short {
        return "not every best strength is located".to_owned();
    }
    let which = if open.len() <= NAMED { format!(" in {}", join(&open)) } else { String::new() };
    format!("no best strength is located{which}, so none is chosen for each")
}

/// The decision.
pub(super) fn sentence(found: &CurveDifferences, input: &CurveInput) -> String {
    aloud(input.counted, decided(found, input))
}

fn decided(found: &CurveDifferences, input: &CurveInput) -> Decided {
    let (lead, strengths) = (level(found, input), strengths(found, input));
    // Without trays a hint of five words stands before.
    let room = if input.counted { MOST_WORDS } else { MOST_WORDS - 5 };
    let (short, _) = strengths.split_once(": ").unwrap_or((&strengths, ""));
    let told = if words(&lead) + words(&strengths) <= room { strengths.as_str() } else { short };
    (lead, vec![format!("; {told}")])
}

/// Everything else, a fact a line.
pub(super) fn details(found: &CurveDifferences, input: &CurveInput) -> Vec<String> {
    let mut said: Vec<String> = opening(input).into_iter().collect();
    let bays = input.bays.as_ref().filter(|bays| bays.between);
    if let (Some(bays), Some(tested)) = (bays, test(found, TestName::SameHeight)) {
        said.push(format!(
            "{} {} given to whole levels of {}, so these judge which {}: {} on {} and {}.",
            capital(&bays.given),
            agree(&bays.given, "was", "were"),
            bays.column,
            more_and_most(input.options.outcome)[0],
            p_value(tested.p),
            number(tested.df.unwrap_or_default()),
            degrees_of_freedom(bays.df)
        ));
    }
    said.extend(test(found, TestName::SameButForHeight).map(|test| {
        let words = if differ_in_form(found) {
            "The curves differ in more than height, so no one ratio of odds holds at every strength: read each curve"
        } else if found.bests.differ.is_some() {
            "Nothing speaks against curves that differ in height alone, with one best strength"
        } else {
            "Nothing speaks against curves that differ in height alone"
        };
        format!("{words} ({}).", p_value(test.p))
    }));
    said.extend(found.bests.each.iter().filter(|one| one.withheld.is_none()).map(|one| {
        format!(
            "{}: best at about {} ({} interval {} to {}).",
            heading(&one.curve),
            strength(one.value, &input.unit),
            confidence(found.confidence),
            number(one.low),
            strength(one.high, &input.unit)
        )
    }));
    if let (Some(_), Some(from), Some(to)) = (found.bests.differ, found.bests.suits_from, found.bests.suits_to) {
        said.push(format!(
            "From {} to {} no curve is shown to be worse than at its best by more than {} {}.",
            number(from),
            strength(to, &input.unit),
            points(input.options.nearly),
            input.options.outcome.of_hundred()
        ));
    }
    said.extend(test(found, TestName::SameForm).map(|test| {
        let words = if shown(Some(test), found) {
            "They are not one form at different places, so distances along the strengths are rough"
        } else {
            "Nothing speaks against one form at different places"
        };
        format!("{words} ({}).", p_value(test.p))
    }));
    said.extend(
        test(found, TestName::NoDifference)
            .map(|test| format!("One curve for all, alike in height and form: {}.", p_value(test.p))),
    );
    said.extend(distances(found).filter_map(|one| distance(one, found.confidence, input.options.outcome)));
    said
}

/// One distance in words; one along the axis stands in the table alone.
fn distance(one: &Shift, level: f64, outcome: Outcome) -> Option<String> {
    let limits = format!("{} interval {} to {}", confidence(level), number(one.low), number(one.high));
    let value = number(one.value);
    match one.measure.as_str() {
        "relative potency" => Some(format!(
            "For the same {} {} needs {} times the strength of {} ({} interval {} to {}).",
            noun(outcome),
            one.curve,
            number(1.0 / one.value),
            one.against,
            confidence(level),
            number(1.0 / one.high),
            number(1.0 / one.low)
        )),
        "odds ratio" | "odds ratio at every strength" => Some(format!(
            "At any one strength the odds of {} of {} are {value} times those of {} ({limits}).",
            outcome.words().rooting,
            one.curve,
            one.against
        )),
        _ => None,
    }
}

pub(super) fn methods(found: &CurveDifferences, input: &CurveInput) -> String {
    let judged = found.df.map_or_else(
        || "chi-square".to_owned(),
        |df| format!("F on the {} of the spread between trays", degrees_of_freedom(df)),
    );
    let bays = input.bays.as_ref().filter(|bays| bays.between);
    let chosen = if input.options.shape == ShapeChoice::Auto {
        " (of those whose criteria of curves apart add up to within 4 of the smallest sum, that of the smallest criterion of curves alike but for height; Akaike's criterion)"
    } else {
        ""
    };
    let placed = if found.compared.distances.is_empty() {
        ""
    } else {
        " all with one form at different places, all as one curve,"
    };
    let heights = match bays {
        Some(bays) if bays.judge_levels() => format!(
            " Heights were judged by how levels of {} with one {} differ, F on {}, curves as if each had levels of its own; places are not compared, since they cannot be told from heights there.",
            bays.column,
            bays.given,
            degrees_of_freedom(bays.df)
        ),
        Some(CurveBays { uneven: Some(places), given, .. }) => {
            format!(" Heights were not judged: levels of {given} hold {places} in different shares.")
        }
        Some(bays) => format!(" Heights were not judged: each {} had a single {}.", bays.given, bays.column),
        None => String::new(),
    };
    format!(
        "All curves were fitted with the shape {}{chosen}: each with its own parameters,{placed} and all with one form at different heights on the log odds, which have one best strength. Likelihood ratios were judged by {judged}; limits come from the profile likelihood.{heights} Best strengths, averaged over shapes, differ where the interval of their distance on log(1 + d/d0) leaves out 0 (squared distances to their limits added; Zou and Donner 2008), all pairs together. {}",
        found.compared.shape.name(),
        law_words::short(input)
    )
}

pub(super) fn cited(input: &CurveInput) -> Vec<String> {
    let bays = input.bays.as_ref().filter(|bays| bays.between);
    let base = [references::FINNEY_1971, references_curves::DAUNCEY_2015, references_curves::ZOU_DONNER_2008];
    let chosen = (input.options.shape == ShapeChoice::Auto).then_some(references_curves::BURNHAM_ANDERSON_2002);
    base.into_iter().chain(chosen).chain(bays.map(|_| references::SATTERTHWAITE_1946)).map(str::to_owned).collect()
}
