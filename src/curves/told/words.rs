//! What a strength curve says in words.

use super::figures::{OneCurve, StrengthCurve, StrengthsFor};
use super::phrases::{heading, noun, opening, strength};
use super::{decision, law_words};
use crate::answer::Scale;
use crate::curves::find::{Located, StrengthFor, StrengthMethod, Withheld, misses};
use crate::curves::input::CurveInput;
use crate::curves::shape::{Shape, ShapeChoice};
use crate::report::{
    HOW_SURE, capital, confidence, degrees_of_freedom, join, number, p_value, percent, points, references,
    references_curves, with_confidence,
};
use crate::trial::Outcome;

/// Where the best strength lies, in the words of the table.
pub(crate) fn located(curve: &OneCurve) -> &'static str {
    if curve.best.withheld == Some(Withheld::NoCurveFits) {
        return "not stated: no curve fits";
    }
    match curve.best.located {
        Located::Inside => "located",
        Located::High => "not located: may lie at or above the highest strength",
        Located::Low if starts_at_zero(curve) && curve.best.range_low > 0.0 => "not located: may lie just above 0",
        Located::Low if starts_at_zero(curve) => "not located: strength 0 may be the best",
        Located::Low => "not located: may lie at or below the lowest strength",
        Located::Nowhere => "not located: no strength is shown to be the best",
    }
}

fn starts_at_zero(curve: &OneCurve) -> bool {
    curve.strengths.first().is_some_and(|level| level.strength == 0.0)
}

/// What closes every answer about a best strength.
const CLOSING: &str = "This holds within the tested range, for this cultivar, etiolation, method and season only.";

/// What stands behind the decision line, a fact a line; with several curves the decision of each first.
pub(super) fn details(found: &StrengthCurve) -> Vec<String> {
    let mut said: Vec<String> = how_sure(found).into_iter().chain(opening(&found.input)).collect();
    let several = found.curves.len() > 1;
    for curve in &found.curves {
        let decided = several.then(|| decision::curve(curve, found));
        let facts = decided.into_iter().chain(one(curve, found));
        said.extend(facts.map(|line| if several { format!("{}: {line}", heading(&curve.name)) } else { line }));
    }
    said.push(CLOSING.to_owned());
    said
}

/// Between which strengths the best ones lie that are located, for whoever reads no further; of many the lines of each say it.
fn how_sure(found: &StrengthCurve) -> Option<String> {
    const MOST: usize = 3;
    let (unit, several) = (found.input.unit.as_str(), found.curves.len() > 1);
    let one = |curve: &OneCurve| {
        let best = &curve.best;
        let known = best.withheld.is_none() && best.located == Located::Inside;
        let of = if several { format!(" for {}", curve.name) } else { String::new() };
        known.then(|| format!("between {} and {}{of}", number(best.strength.low), strength(best.strength.high, unit)))
    };
    let told: Vec<String> = found.curves.iter().filter_map(one).collect();
    let counted = found.input.counted && !told.is_empty() && told.len() <= MOST;
    let lie = if told.len() > 1 { "the best strengths lie" } else { "the best strength lies" };
    counted.then(|| format!("{HOW_SURE}{} {lie} {}.", with_confidence(found.confidence), join(&told)))
}

/// The facts of one curve.
fn one(curve: &OneCurve, found: &StrengthCurve) -> Vec<String> {
    let (best, unit, options) = (&curve.best, found.input.unit.as_str(), &found.input.options);
    let (percent_level, per) = (confidence(found.confidence), options.outcome.of_hundred());
    let range = tested(curve, unit);
    match best.withheld {
        Some(Withheld::AllAlike | Withheld::FewStrengths) => return Vec::new(),
        Some(Withheld::NoCurveFits) => return vec![no_curve(curve, options.outcome)],
        Some(Withheld::NotLocated) | None => {}
    }
    let take = format!(
        "{} {per} ({percent_level} interval {} to {})",
        points(best.take),
        points(best.take_low),
        points(best.take_high)
    );
    let top = strength(best.strength.value, unit);
    let first = match best.located {
        Located::Inside => format!(
            "The take is highest, {take}, at about {top} ({percent_level} interval {} to {}).",
            number(best.strength.low),
            strength(best.strength.high, unit)
        ),
        Located::High => format!(
            "The best strength is not located: it may lie at or above the highest tested, {}. Within {range} the curve is highest at {top}, {take}; lower limit {}.{}",
            strength(highest(curve), unit),
            strength(best.strength.low, unit),
            if found.input.stay_below(&curve.levels).is_some() { "" } else { " Test higher strengths." }
        ),
        Located::Low => {
            let lowest = if starts_at_zero(curve) && best.range_low > 0.0 {
                "it may lie just above 0".to_owned()
            } else if starts_at_zero(curve) {
                "no hormone at all may do as well".to_owned()
            } else {
                format!("it may lie at or below the lowest tested, {}", strength(best.strength.low, unit))
            };
            format!(
                "The best strength is not located: {lowest}. Within {range} the curve is highest at {top}, {take}; upper limit {}.",
                strength(best.strength.high, unit)
            )
        }
        Located::Nowhere => format!(
            "The best strength is not located: at {range} no strength is shown to do better than all others. The curve is highest at {top}, {take}."
        ),
    };
    let whole = if best.range_whole { "Strengths" } else { "Some strengths" };
    let stay = found.input.stay_below(&curve.levels);
    let range = format!(
        "{whole} from {} to {} are not shown to be worse than the best by more than {} {per}.{}",
        number(best.range_low),
        strength(best.range_high, unit),
        points(options.nearly),
        stay.map_or_else(String::new, |stay| stay.of_range(best, unit))
    );
    let deaths = stay.map(|stay| stay.fact(unit, found.confidence));
    [first, range].into_iter().chain(deaths).chain([lowest_adequate(curve, found)]).collect()
}

fn lowest_adequate(curve: &OneCurve, found: &StrengthCurve) -> String {
    let (own, unit, options) = (&curve.best.adequate, found.input.unit.as_str(), &found.input.options);
    let upward =
        if own.open_high { "upward without limit".to_owned() } else { format!("to {}", strength(own.high, unit)) };
    format!(
        "The lowest strength that reaches {} of the best {} is {} ({} interval {} {upward}).",
        percent(options.enough),
        noun(options.outcome),
        strength(own.value, unit),
        confidence(found.confidence),
        number(own.low)
    )
}

/// A curve that its strengths contradict.
fn no_curve(curve: &OneCurve, outcome: Outcome) -> String {
    let takes = outcome.words().takes;
    let lead = curve.shapes.first();
    let shape = lead.map_or("", |lead| lead.shape.name());
    let p = curve.lack_p.map_or_else(String::new, |p| format!(" ({})", p_value(p)));
    let which = if curve.shapes.len() > 1 {
        format!("The shapes, the likeliest of them {shape}, miss")
    } else {
        format!("The shape {shape} misses")
    };
    format!(
        "{which} the strengths' own {takes} by more than chance would{p}, so no best strength is stated: read the {takes} of the strengths, and look for trays or a strength that went wrong."
    )
}

fn highest(curve: &OneCurve) -> f64 {
    curve.strengths.last().map_or(f64::NAN, |level| level.strength)
}

/// "0 to 8000 mg/L".
fn tested(curve: &OneCurve, unit: &str) -> String {
    let lowest = curve.strengths.first().map_or(f64::NAN, |level| level.strength);
    format!("{} to {}", number(lowest), strength(highest(curve), unit))
}

/// One row of the strengths for a take, in words.
pub(super) fn row(row: &StrengthFor, found: &StrengthsFor) -> String {
    let unit = found.unit.as_str();
    if misses(row.lack_p).is_some() {
        return "not settled: no curve fits".to_owned();
    }
    if row.value == Some(0.0) {
        let sure = if row.high <= 0.0 { String::new() } else { format!("; {}", up_to(row, unit)) };
        return format!("strength 0 reaches it{sure}");
    }
    let limits = match (row.low > 0.0, row.high.is_finite()) {
        (true, true) => format!("{} to {}{}", number(row.low), strength(row.high, unit), never(row)),
        (true, false) if row.falls => format!("{} or more, or never reached", strength(row.low, unit)),
        (true, false) => format!("{} or more, no upper limit", strength(row.low, unit)),
        (false, true) => up_to(row, unit),
        (false, false) if row.falls => "at any strength, or never reached".to_owned(),
        (false, false) => "no limit at either end".to_owned(),
    };
    match row.value {
        Some(value) if row.outside => format!("{}, beyond the tested strengths; {limits}", strength(value, unit)),
        Some(value) => format!("{}; {limits}", strength(value, unit)),
        None => format!("not reached by the curve; {limits}"),
    }
}

/// What the upper limit of a row is: a strength that, where it has no end, may never reach the take, as the row says.
pub(super) fn end_of_row(row: &StrengthFor) -> Scale {
    if row.falls && misses(row.lack_p).is_none() { Scale::StrengthOrNever } else { Scale::Strength }
}

fn never(row: &StrengthFor) -> &'static str {
    if row.or_never { ", or never reached" } else { "" }
}

fn up_to(row: &StrengthFor, unit: &str) -> String {
    match row.high {
        high if high.is_finite() => format!("0 to {}{}", strength(high, unit), never(row)),
        _ if row.falls => "or never reached".to_owned(),
        _ => "no upper limit".to_owned(),
    }
}

/// What stands behind the strengths for a take, a fact a line.
pub(super) fn details_for(found: &StrengthsFor, input: &CurveInput) -> Vec<String> {
    let several = input.groups.len() > 1;
    let mut said: Vec<String> = opening(input).into_iter().collect();
    for row in found.rows.iter().filter(|row| row.method == StrengthMethod::Profile) {
        let decided = several.then(|| decision::strength_for(row, found, input));
        let deaths = input.stay_below_of(&row.curve).map(|stay| stay.fact(&found.unit, found.confidence));
        let facts = decided.into_iter().chain([lowest_for(row, found, input)]).chain(deaths);
        said.extend(facts.map(|line| if several { format!("{}: {line}", heading(&row.curve)) } else { line }));
    }
    said.push(CLOSING.to_owned());
    said
}

fn lowest_for(row: &StrengthFor, found: &StrengthsFor, input: &CurveInput) -> String {
    let (level, unit) = (confidence(found.confidence), found.unit.as_str());
    let outcome = input.options.outcome;
    let (what, takes) = (noun(outcome), outcome.words().takes);
    let take = format!("a {what} of {} {}", points(found.take), outcome.of_hundred());
    let upper = if row.high.is_finite() {
        let never = if row.or_never { format!(", or the {what} is never reached") } else { String::new() };
        format!("to {}{never}", strength(row.high, unit))
    } else if row.falls {
        format!("or more, or the {what} is never reached")
    } else {
        format!("upward without limit, since the {what} may never be reached")
    };
    if misses(row.lack_p).is_some() {
        return format!("No curve fits these {takes}, so none tells which strength has {take}.");
    }
    match row.value {
        Some(0.0) => without(row, (&take, what), unit, &level),
        Some(value) => {
            let beyond = if row.outside { ", which lies beyond the tested strengths" } else { "" };
            format!(
                "The lowest strength with {take} is {}{beyond} ({level} interval {} {upper}).",
                strength(value, unit),
                number(row.low)
            )
        }
        None if row.highest.is_some_and(|[_, _, _, most]| found.take <= most) => format!(
            "The curve does not reach {take}; from {} to {} it is not ruled out ({level} limits of the {what}).",
            number(row.low),
            strength(row.high, unit)
        ),
        // Where the curve goes beyond what was tested is no one's knowledge.
        None if row.low >= decision::highest(input, &row.curve) => format!(
            "The curve does not reach {take}: the {level} interval lies beyond all tested strengths, and the {what} may never be reached."
        ),
        None => format!("The curve does not reach {take} ({level} interval {} {upper}).", number(row.low)),
    }
}

/// Strength 0 has the take.
fn without(row: &StrengthFor, (take, what): (&str, &str), unit: &str, level: &str) -> String {
    let there = row.without.map_or_else(String::new, |[value, low, high]| {
        format!(": {} ({level} interval {} to {})", points(value), points(low), points(high))
    });
    let needed = match row.high {
        high if high <= 0.0 => String::new(),
        high if high.is_finite() => {
            let never = if row.or_never { format!(", or the {what} is never reached") } else { String::new() };
            format!("; if it does not, no more than {} is needed{never}", strength(high, unit))
        }
        _ => format!("; if it does not, the {what} may never be reached"),
    };
    format!("Strength 0 reaches {take}{there}{needed}.")
}

fn spread(found: &StrengthCurve) -> String {
    let (input, df) = (&found.input, found.df);
    if let Some(law) = law_words::methods(found) {
        return law;
    }
    match (input.counted, df, found.spread_assumed) {
        (true, Some(df), _) => format!(
            "The experimental unit was the {}: counts were divided by the design effect of their trays, with one correlation for all curves, and judged by t and F on {}.",
            input.unit_of,
            degrees_of_freedom(df)
        ),
        (true, None, _) => "No strength had two trays, so a correlation of 0.05 within trays was assumed.".to_owned(),
        (false, ..) => "Cuttings were treated as independent.".to_owned(),
    }
}

pub(super) fn methods(found: &StrengthCurve) -> String {
    let (input, options) = (&found.input, &found.input.options);
    let level = confidence(found.confidence);
    let shapes = match options.shape {
        ShapeChoice::Auto => "Shapes (flat, straight log odds, rising with floor and ceiling, falling, quadratic log odds, a rising times a falling logistic curve, Brain-Cousens; those that bend along log(1 + d/d0) also with other d0, up to half the highest strength) were fitted by maximum likelihood from fixed grids of starts and weighted by Akaike's criterion with correction for few units; shapes that the strengths' own rates contradict (lack of fit, P below 0.01) had no say, and no best strength is stated where the lack of fit of all shapes by their weights has such a P; rates were averaged by these weights, and limits of strengths hold every strength that one of the shapes allows by its profile likelihood, penalised by the criterion.".to_owned(),
        ShapeChoice::One(Shape::Cedergreen) => "The curve of Cedergreen, Ritz and Streibig, (c + f exp(-(d0/d)^alpha)) / (1 + (d/e)^b), was fitted by maximum likelihood with alpha 0.25, 0.5 and 1; the three were averaged by Akaike's weights, and limits hold every strength that one of them allows by its profile likelihood.".to_owned(),
        ShapeChoice::One(shape) => format!(
            "The shape {} was fitted by maximum likelihood; limits come from its profile likelihood.",
            shape.name()
        ),
    };
    let draws = if options.draws > 0 {
        format!(
            " Beside them stand percentile limits over {} trials drawn from the fitted curves (seed {}), with all shapes fitted and weighted anew.",
            options.draws, options.seed
        )
    } else {
        String::new()
    };
    format!(
        "{} was modelled along {} with log(1 + d/d0) as axis where a shape needs strength 0 on it (d0 the lowest strength above 0 unless given). {}{} {shapes}{} Intervals are at {level}.{draws} The range of strengths not shown to be worse uses the averaged difference from the best and its standard error over shapes.{} Beside the curve the record holds takes that only rise along the strengths.",
        capital(options.outcome.words().the_take),
        options.column,
        spread(found),
        law_words::blocks(input),
        weights(found),
        law_words::over_places(input)
    )
}

/// Of averaged curves, which shapes were averaged and with which weights.
fn weights(found: &StrengthCurve) -> String {
    let told: Vec<String> = match found.curves.as_slice() {
        [only] => vec![shapes_averaged(only)],
        several => several.iter().map(|curve| format!("{}: {}", curve.name, shapes_averaged(curve))).collect(),
    };
    match found.input.options.shape {
        ShapeChoice::Auto => format!(" Weights in the average were: {}.", told.join("; ")),
        ShapeChoice::One(_) => String::new(),
    }
}

/// Shapes by their share in the averages, "straight 90 %, hump 10 %"; one that is all of it without a share.
pub(super) fn shapes_averaged(curve: &OneCurve) -> String {
    let mut shares: Vec<(&str, f64)> = Vec::new();
    for one in &curve.shapes {
        match shares.iter_mut().find(|(name, _)| *name == one.shape.name()) {
            Some((_, share)) => *share += one.say,
            None => shares.push((one.shape.name(), one.say)),
        }
    }
    shares.retain(|(_, share)| *share >= 0.005);
    shares.sort_by(|one, other| other.1.total_cmp(&one.1));
    match shares.as_slice() {
        [(name, _)] => (*name).to_owned(),
        several => {
            let told: Vec<String> =
                several.iter().map(|(name, share)| format!("{name} {:.0} %", 100.0 * share)).collect();
            told.join(", ")
        }
    }
}

pub(super) fn methods_for(found: &StrengthsFor, input: &CurveInput) -> String {
    let shape = match input.options.shape {
        ShapeChoice::Auto => "the average of the shapes",
        ShapeChoice::One(shape) => shape.name(),
    };
    format!(
        "The lowest strength with a {} of {} was found on the fitted curve ({shape}). Limits at {} come from the profile likelihood{}; delta limits use the first-order standard error, Fieller's the straight line in the axis. {}{}",
        noun(input.options.outcome),
        percent(found.take),
        confidence(found.confidence),
        if input.options.shape == ShapeChoice::Auto { " of all shapes, penalised by Akaike's criterion" } else { "" },
        law_words::short(input),
        law_words::over_places(input)
    )
}

pub(super) fn cited(found: &StrengthCurve) -> Vec<String> {
    let mut cited = vec![references::AYER_1955];
    cited.extend(law_words::cited(&found.input));
    if law_words::holds_over_places(&found.input) {
        cited.push(references::SATTERTHWAITE_1946);
    }
    if matches!(found.input.options.shape, ShapeChoice::Auto | ShapeChoice::One(Shape::Cedergreen)) {
        let averaged = [
            references::HURVICH_TSAI_1989,
            references::BUCKLAND_BURNHAM_AUGUSTIN_1997,
            references_curves::DAUNCEY_2015,
        ];
        cited.extend(averaged);
    } else {
        cited.push(references::WILKS_1938);
    }
    let used = |shape: Shape| found.curves.iter().any(|curve| curve.shapes.iter().any(|one| one.shape == shape));
    if used(Shape::BrainCousens) {
        cited.push(references::BRAIN_COUSENS_1989);
    }
    if used(Shape::Cedergreen) {
        cited.push(references_curves::CEDERGREEN_RITZ_STREIBIG_2005);
    }
    if used(Shape::NaturalResponse) {
        cited.extend([references::ABBOTT_1925, references::FINNEY_1971]);
    }
    cited.into_iter().map(str::to_owned).collect()
}

pub(super) fn cited_for(input: &CurveInput) -> Vec<String> {
    let own = [references::FIELLER_1954, references::FINNEY_1971, references_curves::DAUNCEY_2015];
    let over_places = law_words::holds_over_places(input).then_some(references::SATTERTHWAITE_1946);
    own.into_iter().chain(over_places).map(str::to_owned).collect()
}
