//! The words, table and notes of a trend.

use super::numbers::{ScoredLevel, TrendTest, TrialTrend, TrialTrendOptions};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::compare::{crossed_left_out, crossed_note, no_verdict_on_places, uneven_note};
use crate::estimate::TestName;
use crate::rates::leans_on_alike;
use crate::report::cautions::Claims;
use crate::report::{Spoken, capital, cautions, facts, fitted, join, limits_read, numbers, plural, references};
use crate::tables::mix::lines_without_mix;
use crate::trial::{
    Dated, Outcome, UnitKind, Units, answer_of_units, dated, text_of_unit, text_of_units, time_note, time_tail,
};

pub(super) fn answer(found: TrialTrend, units: &Units, options: &TrialTrendOptions) -> Answer<TrialTrend> {
    let mut table = Sheet::default();
    table.text("test", found.tests.iter().map(|one| text_of_unit(&found.unit, one.test.method.name())));
    let counts = |one: &TrendTest| if one.counts == "trays" { plural(&found.unit) } else { one.counts.clone() };
    table.text("counts", found.tests.iter().map(counts));
    let statistic_is = |one: &TrendTest| match (one.test.method, one.test.error_df) {
        (TestName::TOnTrays | TestName::Score, _) => "t",
        (_, Some(_)) => "F",
        (_, None) if one.test.df.is_some() => "chi-square",
        _ => "sum of scores",
    };
    table.text("statistic_is", found.tests.iter().map(statistic_is));
    table.statistic("statistic", found.tests.iter().map(|one| one.test.statistic));
    table.degrees("df", found.tests.iter().map(|one| one.test.df));
    table.degrees("error_df", found.tests.iter().map(|one| one.test.error_df));
    table.p("p", found.tests.iter().map(|one| one.test.p));
    let scores: Vec<String> = found.levels.iter().map(|one| format!("{} {}", one.level, one.score)).collect();
    let drawn = found.tests.iter().any(|one| one.test.method == TestName::DrawnTrend);
    let made_with = MadeWith {
        seed: drawn.then_some(options.exact.seed),
        ..MadeWith::new(&[
            ("factor", found.factor.clone()),
            ("scores", scores.join(", ")),
            ("confidence", found.confidence.to_string()),
            ("trays", format!("{:?}", options.trays).to_lowercase()),
        ])
    };
    let answer = Answer {
        kind: "trend".to_owned(),
        details: details(&found, units, options.outcome),
        sentence: fitted(decision(&found, units, options).trim_end_matches('.'), &tails(&found)),
        notes: notes(&found, units, options.outcome),
        methods: methods(&found, units, options.outcome),
        references: cited(&found),
        table,
        numbers: found,
        made_with,
    };
    answer_of_units(units, answer)
}

fn counted(found: &TrialTrend) -> bool {
    found.unit != "cutting"
}

/// "a rise of 12.3" or "a fall of 4.0".
fn move_of(value: f64) -> String {
    let word = if value < 0.0 { "fall" } else { "rise" };
    format!("a {word} of {}", numbers::points(value.abs()))
}

fn rate(one: &ScoredLevel) -> f64 {
    one.rooted as f64 / one.stuck as f64
}

/// How far the last level lies from the first as counted, where the straight line runs beyond what rates can be: then its rise is no
/// estimate.
fn as_counted(found: &TrialTrend, per: &str, shown: fn(f64) -> String) -> Option<String> {
    counted_apart(found, per, shown).filter(|_| found.cut)
}

/// How far the last level lies from the first as counted: "97.9 survivors per 100 lower at 16000 than at 0".
fn counted_apart(found: &TrialTrend, per: &str, shown: fn(f64) -> String) -> Option<String> {
    let (first, last) = found.levels.first().zip(found.levels.last())?;
    let apart = rate(last) - rate(first);
    let word = if apart < 0.0 { "lower" } else { "higher" };
    Some(format!("{} {per} {word} at {} than at {}", shown(apart.abs()), last.level, first.level))
}

/// Whole trees.
fn whole_trees(x: f64) -> String {
    format!("{:.0}", (100.0 * x).round().abs())
}

/// The decision line.
fn decision(found: &TrialTrend, units: &Units, options: &TrialTrendOptions) -> String {
    let plain = Spoken::plain(&found.factor);
    let said = options.spoken.as_ref().unwrap_or(&plain);
    let hint = if counted(found) && units.kind == UnitKind::Tray { "" } else { "Without trays only a hint: " };
    let w = options.outcome.words();
    let (per, what) = (w.per_hundred, if hint.is_empty() { capital(w.the_take) } else { w.the_take.to_owned() });
    let level = |one: Option<&ScoredLevel>| one.map(|one| one.level.clone()).unwrap_or_default();
    let place =
        format!("from {} to {}", said.short(&level(found.levels.first())), said.level(&level(found.levels.last())));
    if let Some(why) = found.alike(options.outcome) {
        return format!("{hint}Nothing varies {place}: {why}, so there is no trend to test.");
    }
    if found.is_of_places() {
        return no_verdict_on_places(&found.factor, &format!(" on a trend {place}"));
    }
    let (Some(p), Some(low), Some(high), None) = (found.p, found.low, found.high, &found.withheld) else {
        return format!("No verdict on a trend {place}: this layout allows no test.");
    };
    let range = if found.value < 0.0 { (-high, -low) } else { (low, high) };
    if p <= 0.05 {
        let verb = if found.value < 0.0 { "falls" } else { "rises" };
        let range = format!("({} to {})", whole_trees(range.0), whole_trees(range.1));
        let told = match as_counted(found, per, whole_trees) {
            _ if bends(found) && one_way(found) => format!(
                "{hint}{what} {verb} at every step {place}: {}",
                counted_apart(found, per, whole_trees).unwrap_or_default()
            ),
            _ if bends(found) => {
                format!("{hint}{what} bends {place}: no one rise or fall describes it; look at the levels or the curve")
            }
            Some(apart) => format!("{hint}{what} {verb} {place}: as counted {apart}"),
            None => format!("{hint}{what} {verb} by {} {per} {place} {range}", whole_trees(found.value)),
        };
        let timed = found.follows_time.as_ref().map(|_| time_tail(&told, None));
        return format!("{told}{}.", timed.unwrap_or_default());
    }
    let open = low.abs().max(high.abs());
    format!("{hint}No rise or fall is shown {place}: up to {} {per} remain possible.", whole_trees(open))
}

impl TrialTrend {
    /// What every cutting did, where they all did the same.
    pub(super) fn alike(&self, outcome: Outcome) -> Option<String> {
        let w = outcome.words();
        let rooted: u64 = self.levels.iter().map(|one| one.rooted).sum();
        let stuck: u64 = self.levels.iter().map(|one| one.stuck).sum();
        match rooted {
            0 => Some(format!("no {} {}", w.cutting, w.rooted)),
            all if all == stuck => Some(format!("every {} {}", w.cutting, w.rooted)),
            _ => None,
        }
    }

    /// True where the levels are places or seasons themselves, one each.
    pub(super) fn is_of_places(&self) -> bool {
        self.unit == self.factor && self.withheld.is_some()
    }
}

/// True where the takes depart from a straight line.
fn bends(found: &TrialTrend) -> bool {
    found.departure.as_ref().is_some_and(|test| test.p <= 0.05)
}

/// True where each level lies beyond the one before, all of them the way of the line.
fn one_way(found: &TrialTrend) -> bool {
    let pairs = found.levels.iter().zip(found.levels.iter().skip(1));
    pairs.into_iter().all(|(one, next)| (rate(next) - rate(one)) * found.value > 0.0)
}

/// What finds room behind the decision: the units that carry the test, where these are a part of all.
fn tails(found: &TrialTrend) -> Vec<String> {
    let carried = found.carried.as_ref().filter(|_| found.withheld.is_none()).and_then(|one| one.tail(&found.unit));
    // Where a rise or fall is shown the decision says it.
    let open = found.p.is_some_and(|p| p > 0.05);
    let bent = (open && bends(found)).then(|| "it bends, so look at the levels".to_owned());
    bent.into_iter().chain(carried).map(|tail| format!("; {tail}")).collect()
}

/// Everything else, a fact a line: which units carry the test first.
fn details(found: &TrialTrend, units: &Units, outcome: Outcome) -> Vec<String> {
    let carried = found.carried.as_ref().filter(|_| found.withheld.is_none()).and_then(|one| one.line(&found.unit));
    carried.into_iter().chain(facts(&sentence(found, units, outcome))).collect()
}

/// Why no trend is tested, where none is.
fn untested(found: &TrialTrend, (place, per): (&str, &str), outcome: Outcome) -> Option<String> {
    let the_take = outcome.words().the_take;
    if let Some(why) = found.alike(outcome) {
        return Some(format!("At every level of {} {why}: nothing varies, so there is nothing to test.", found.factor));
    }
    if let Some((reason, apart)) = found.withheld.as_ref().zip(as_counted(found, per, numbers::points)) {
        return Some(format!(
            "As counted {the_take} is {apart}; a straight line would run beyond 0 or 100 %. No test is given: {reason}."
        ));
    }
    if let Some(reason) = &found.withheld {
        return Some(format!(
            "Along a straight line {the_take} shows {} {per} {place}. No test is given: {reason}.",
            move_of(found.value)
        ));
    }
    None
}

fn sentence(found: &TrialTrend, units: &Units, outcome: Outcome) -> String {
    let w = outcome.words();
    let (the_take, per) = (w.the_take, w.per_hundred);
    let start = match (units.kind, counted(found)) {
        (UnitKind::Pooled, _) => "No trays were recorded, so the interval is too narrow and the P value too small. ",
        (UnitKind::Tray, false) => {
            "Trays are not counted here, so the interval is too narrow and the P value too small. "
        }
        (UnitKind::Tray, true) => "",
    };
    let start = text_of_units(units, start.to_owned());
    let end = |one: Option<&ScoredLevel>| one.map(|one| one.level.clone()).unwrap_or_default();
    let place = format!("from {} {} to {}", found.factor, end(found.levels.first()), end(found.levels.last()));
    if let Some(why) = untested(found, (&place, per), outcome) {
        return format!("{start}{why}");
    }
    let (Some(p), Some(low), Some(high)) = (found.p, found.low, found.high) else {
        return format!("{start}No test is given.");
    };
    let percent = numbers::confidence(found.confidence);
    if p <= 0.05 {
        let verb = if found.value < 0.0 { "falls" } else { "rises" };
        let bent = match &found.departure {
            Some(test) if test.p <= 0.05 => format!(
                " A straight line is not enough, though: {the_take} bends on the way, so look at the levels themselves."
            ),
            _ => String::new(),
        };
        if let Some(apart) = as_counted(found, per, numbers::points) {
            return format!(
                "{start}{} {verb} along a straight line {place} ({}); that line runs beyond 0 or 100 %, so its {} is no \
                 estimate: as counted {the_take} is {apart}.{bent}",
                capital(the_take),
                numbers::p_value(p),
                if found.value < 0.0 { "fall" } else { "rise" }
            );
        }
        return format!(
            "{start}{} {verb} by {} {per} along a straight line {place} ({percent} interval {}, {}).{bent}",
            capital(the_take),
            numbers::points(found.value.abs()),
            limits_read((low, high), numbers::points),
            numbers::p_value(p)
        );
    }
    format!(
        "{start}No trend of {the_take} is shown {place} ({}): the straight line has {} {per}, and anything from {} to {} cannot be ruled out ({percent} interval).",
        numbers::p_value(p),
        if found.cut { format!("{} or more", move_of(found.value)) } else { move_of(found.value) },
        move_of(low),
        move_of(high)
    )
}

fn notes(found: &TrialTrend, units: &Units, outcome: Outcome) -> Vec<Note> {
    let w = outcome.words();
    let mut notes = Vec::new();
    if units.kind == UnitKind::Pooled {
        notes.push(cautions::no_trays(Claims::Both));
    } else if !counted(found) {
        notes.push(cautions::trays_ignored(Claims::Both));
    } else {
        notes.push(cautions::cuttings_shown_too());
        if found.levels.iter().any(|one| one.n_units < 4) {
            notes.push(cautions::few_units(&found.unit));
        }
        let by_trays = found.tests.first().is_some_and(|one| one.test.method == TestName::TOnTrays);
        let alike = found.spread.filter(|_| found.withheld.is_none() && by_trays);
        notes.extend(alike.and_then(|one| leans_on_alike(&found.unit, one.dispersion, one.dispersion_df)));
    }
    let carried = found.carried.as_ref().filter(|_| found.withheld.is_none());
    notes.extend(carried.and_then(|one| one.note(&found.factor, &found.unit)));
    let note = if found.crossed_left_out { crossed_left_out } else { crossed_note };
    notes.extend(note(&found.factor, &found.judged_by).filter(|_| found.withheld.is_none()));
    notes.extend(uneven_note(&found.factor, &found.adjusted_for));
    if counted(found) {
        let lines = found.tests.iter().map(|one| one.test.method);
        notes.extend(lines_without_mix(units, (&found.factor, None), &lines.collect::<Vec<_>>(), str::to_owned));
    }
    notes.extend(found.follows_time.as_ref().map(|place| time_note(&found.factor, place)));
    if found.levels.len() == 2 {
        notes.push(Note::new(
            "ask_compare",
            "With two levels a trend is a comparison of the two, whose difference, test and interval lead here; lines below it weigh the same counts in other ways.",
        ));
        return notes;
    }
    if found.cut {
        notes.push(Note::new(
            "line_beyond_takes",
            format!(
                "The straight line runs beyond what {} can be, so its rise is cut at 100 {}: it does not describe these levels, and a curve does.",
                w.takes, w.per_hundred
            ),
        ));
    }
    notes.push(Note::new(
        "straight_line",
        "A trend is sought along a straight line over the scores; a hump, best in the middle, can pass it unseen.",
    ));
    if found.departure.as_ref().is_some_and(|test| test.p <= 0.05) {
        notes.push(Note::new(
            "not_straight",
            "The levels depart from a straight line by more than chance would; a curve describes them better.",
        ));
    }
    notes
}

/// The scores, and what they are where the levels are dates.
fn scores(found: &TrialTrend) -> String {
    let scores: Vec<String> = found.levels.iter().map(|one| numbers::number(one.score)).collect();
    let levels: Vec<String> = found.levels.iter().map(|one| one.level.clone()).collect();
    let are_days = match dated(&levels) {
        Dated::Days(days) => days.iter().zip(&found.levels).all(|(day, one)| (day - one.score).abs() < 0.5),
        Dated::Open | Dated::No => false,
    };
    format!("{}{}", scores.join(", "), if are_days { "; days from the first" } else { "" })
}

fn methods(found: &TrialTrend, units: &Units, outcome: Outcome) -> String {
    let (percent, unit) = (numbers::confidence(found.confidence), numbers::unit_in_full(&found.unit));
    let (rate, cuttings) = (outcome.words().rate, outcome.words().cuttings);
    let scores = scores(found);
    if !counted(found) {
        return format!(
            "A trend of the {rate} over {} (scores {}) was tested by the Cochran-Armitage test and its exact conditional form; {cuttings} were treated as independent. The rise along the line has a {percent} interval from the same variance.",
            found.factor, scores
        );
    }
    if found.tests.first().is_some_and(|one| one.test.method == TestName::Score) {
        return format!(
            "The experimental unit was the {unit}. The {rate} at the two levels of {} was compared by a score statistic on effective numbers of {cuttings} within blocks and other treatments, judged by t, with the {percent} interval that inverts it.",
            found.factor
        );
    }
    if !found.adjusted_for.is_empty() {
        let fit = text_of_units(units, "a weighted least-squares fit of the tray rates".to_owned());
        let spread = text_of_units(units, "its variance from those of trays and of the units above".to_owned());
        return format!(
            "The experimental unit was the {unit}. A trend of the {rate} over {} (scores {}) was tested by t on its slope in {fit} with {} in it, {spread} (mean squares by Henderson's method 3), with degrees of freedom after Satterthwaite and a {percent} interval from it. Beside it stands the Cochran-Armitage test on {cuttings} divided by their design effect, which leaves {} in.",
            found.factor,
            scores,
            join(&found.adjusted_for),
            join(&found.adjusted_for)
        );
    }
    format!(
        "The experimental unit was the {unit}. A trend of the {rate} over {} (scores {}) was tested by t on the slope of a straight line through the rates per {}, within blocks and other treatments, with {} as error and a {percent} interval from it. Beside it stands the Cochran-Armitage test on {cuttings} divided by their design effect, judged by F on {} minus treatments; lines that count cuttings treat them as independent.",
        found.factor,
        scores,
        numbers::unit_name(&found.unit),
        if widened(found) {
            "the spread between units of the same treatment and what places or plants that cross them add (mean squares by Henderson's method 3, with the fewer degrees of freedom of the two errors, Satterthwaite)"
        } else {
            "the spread between units of the same treatment"
        },
        plural(&found.unit)
    )
}

/// True where places or plants that cross the units are in the error.
fn widened(found: &TrialTrend) -> bool {
    found.judged_by.len() > 1 && !found.crossed_left_out && found.withheld.is_none()
}

fn cited(found: &TrialTrend) -> Vec<String> {
    let mut cited = vec![references::COCHRAN_1954.to_owned(), references::ARMITAGE_1955.to_owned()];
    if counted(found) {
        cited.push(references::DONNER_KLAR_2000.to_owned());
    }
    if widened(found) {
        let used = [references::HENDERSON_1953, references::SATTERTHWAITE_1946, references::FAI_CORNELIUS_1996];
        cited.extend(used.map(str::to_owned));
    }
    cited
}
