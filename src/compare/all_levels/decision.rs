//! The decision of all comparisons of a treatment in at most thirty words, and the rest, a fact a line.

use super::borderline::{self, CROSSES};
use super::numbers::{AllComparisons, AllOptions, PairComparison};
use crate::compare::changing::{self, Changing};
use crate::compare::how_sure::cannot_object;
use crate::compare::opinion;
use crate::compare::wanted::units_for;
use crate::effects::Adjustment;
use crate::report::{HOW_SURE, Spoken, capital, fitted, join, numbers, plural, whole, with_confidence};
use crate::trial::{Outcome, UnitKind, Units, follows_time, time_tail};

/// Levels that are named one by one in the decision.
const NAMED: usize = 3;

/// What is claimed of a pair.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Claim {
    /// Adjusted P value and interval agree that there is a difference.
    Shown,
    /// The adjusted P value of a step-wise method says so, the wider interval crosses 0: not claimed.
    ByPOnly,
    /// No difference is shown.
    Open,
    /// There is no test.
    Untested,
}

impl Claim {
    pub(super) fn of(pair: &PairComparison, alpha: f64) -> Self {
        let away = match (pair.low, pair.high) {
            (Some(low), Some(high)) => low > 0.0 || high < 0.0,
            _ => false,
        };
        match pair.p_adjusted {
            None => Self::Untested,
            Some(p) if p > alpha => Self::Open,
            Some(_) if away => Self::Shown,
            Some(_) => Self::ByPOnly,
        }
    }

    /// The entry of the table's column.
    pub(super) fn in_words(pair: &PairComparison, alpha: f64) -> String {
        match Self::of(pair, alpha) {
            Self::Shown => "yes".to_owned(),
            Self::ByPOnly => format!("no: {}, {CROSSES}", adjusted(pair)),
            Self::Open => "no".to_owned(),
            Self::Untested => "not tested".to_owned(),
        }
    }
}

/// "adjusted P = 0.033".
fn adjusted(pair: &PairComparison) -> String {
    pair.p_adjusted.map(|p| format!("adjusted {}", numbers::p_value(p))).unwrap_or_default()
}

/// A pair seen from the level with the higher take.
struct Ranked<'a> {
    pair: &'a PairComparison,
    better: &'a str,
    worse: &'a str,
}

impl<'a> Ranked<'a> {
    fn of(pair: &'a PairComparison) -> Self {
        let (better, worse) = if pair.value < 0.0 { (&pair.first, &pair.second) } else { (&pair.second, &pair.first) };
        Self { pair, better, worse }
    }

    /// "30 more trees per 100 (12 to 45)".
    fn gain(&self, per: &str) -> String {
        format!("{} more {per}{}", trees(self.pair.value.abs()), self.range())
    }

    /// "30 trees per 100 (12 to 45)".
    fn size(&self, per: &str) -> String {
        format!("{} {per}{}", trees(self.pair.value.abs()), self.range())
    }

    /// " (12 to 45)".
    fn range(&self) -> String {
        let up = self.pair.value >= 0.0;
        let limits = self.pair.low.zip(self.pair.high);
        let limits = limits.map(|(low, high)| if up { (low, high) } else { (-high, -low) });
        limits.map_or_else(String::new, |(low, high)| format!(" ({} to {})", trees(low), trees(high)))
    }
}

fn trees(x: f64) -> String {
    format!("{:.0}", (100.0 * x).round() + 0.0)
}

/// The decision.
pub(super) fn sentence(found: &AllComparisons, options: &AllOptions, units: &Units) -> String {
    let plain = Spoken::plain(&found.factor);
    let said = options.compare.spoken.as_ref().unwrap_or(&plain);
    let alpha = 1.0 - found.confidence;
    let name = said.name();
    let hint = units.kind == UnitKind::Pooled || found.unit == "cutting";
    let at: Vec<&str> = options.compare.at.values().map(String::as_str).collect();
    let scope = if at.is_empty() { String::new() } else { format!(" ({})", at.join(", ")) };
    let start = if hint { format!("Without trays only a hint{scope}: ") } else { String::new() };
    let scope = if hint { "" } else { scope.as_str() };
    if found.n_tests == 0 {
        return format!(
            "{start}No verdict on {name}{scope}: this layout allows no test of any pair; the differences stand in the table."
        );
    }
    let shown: Vec<Ranked<'_>> =
        found.pairs.iter().filter(|pair| Claim::of(pair, alpha) == Claim::Shown).map(Ranked::of).collect();
    let changes = changing::shown(&found.changing);
    if let Some(apart) = changing::opposed(&changes, said) {
        let start = if options.compare.outcome.is_part() {
            capital(options.compare.outcome.words().the_take) + " alone"
        } else {
            "No single answer".to_owned()
        };
        return fitted(&format!("{start}{scope}: {apart}{}", changing::WITHIN_EACH), &[]);
    }
    let scope = &averaged(scope, &changes);
    let (text, mut tails) = match &found.against {
        Some(control) => against((found, options), (said, scope), control, &shown),
        None => pairs((found, options), (said, scope), &shown, hint),
    };
    let time = units.factor(&found.factor).is_some_and(|one| follows_time(units, one).is_some());
    // Nobody chooses a time: what is shown is told, without advice.
    let told = |text: String| format!("{text}{}", time_tail(&format!("{start}{text}"), None));
    let text = if time { told(bare(&text)) } else { text };
    // What is best in one part of the take need not be what to use.
    let text = if options.compare.outcome.is_part() { bare(&text) } else { text };
    let text = if hint { lower(&text) } else { capital(&text) };
    if found.pairs.iter().any(rests_on_few) && !hint {
        tails.insert(0, format!("; some pairs rest on a part of the {}", plural(&found.unit)));
    }
    tails.splice(0..0, borderline::tail(by_p_only(found)));
    tails.splice(0..0, changing::within_each(&changes));
    fitted(&format!("{start}{text}"), if hint { &[] } else { &tails })
}

/// Pairs whose adjusted P value is small while their interval crosses 0.
fn by_p_only(found: &AllComparisons) -> usize {
    found.pairs.iter().filter(|pair| Claim::of(pair, 1.0 - found.confidence) == Claim::ByPOnly).count()
}

/// Where it holds: an average over what the differences change with.
fn averaged(scope: &str, changes: &[&Changing]) -> String {
    if changes.is_empty() { scope.to_owned() } else { format!("{scope} on average over {}", changing::names(changes)) }
}

/// The text without its advice.
fn bare(text: &str) -> String {
    let starts = ["Use ", "Leaning to ", "Keep "];
    let told = starts.iter().find_map(|start| text.strip_prefix(start)).unwrap_or(text);
    told.replace(": it beats", " beats").replacen("No reason to choose: ", "", 1)
}

/// True where much of a level's units tells nothing.
fn rests_on_few(pair: &PairComparison) -> bool {
    pair.p.is_some() && pair.carried.as_ref().is_some_and(|carried| carried.tail("").is_some())
}

type Told = (String, Vec<String>);

/// What a level with a higher outcome does, what those with a lower one did, and what none is shown to do.
fn doing(outcome: Outcome) -> [&'static str; 3] {
    match outcome {
        Outcome::Take => ["roots more", "rooted fewer", "root more"],
        Outcome::Survival => ["keeps more alive", "kept fewer alive", "keep more alive"],
        Outcome::RootedOfSurvivors => ["roots more of its survivors", "rooted fewer of theirs", "root more of them"],
        Outcome::GradeReached => {
            ["has more at the grade or better", "had fewer at the grade or better", "have more at the grade or better"]
        }
    }
}

fn against(
    (found, options): (&AllComparisons, &AllOptions),
    (said, scope): (&Spoken, &str),
    control: &str,
    shown: &[Ranked<'_>],
) -> Told {
    let (control_said, per) = (said.short(control), options.compare.outcome.of_hundred());
    let mut better: Vec<&Ranked<'_>> = shown.iter().filter(|one| one.worse == control).collect();
    let worse: Vec<&Ranked<'_>> = shown.iter().filter(|one| one.better == control).collect();
    better.sort_by(|a, b| b.pair.value.abs().total_cmp(&a.pair.value.abs()));
    if let Some((best, others)) = better.split_first() {
        let names: Vec<String> = others.iter().map(|one| said.short(one.better)).collect();
        let more = if names.is_empty() {
            String::new()
        } else {
            format!("; {} {} it too", some(&names), if names.len() == 1 { "beats" } else { "beat" })
        };
        let name = said.level(best.better);
        let text = if best.pair.confirmed && changing::shown(&found.changing).is_empty() {
            let does = doing(options.compare.outcome)[0];
            format!("{name}{scope} {does} than {control_said}: {}{more}", best.gain(per))
        } else {
            format!("Leaning to {name}{scope}: {} than {control_said}{more}", best.gain(per))
        };
        return (text, Vec::new());
    }
    if !worse.is_empty() {
        let [_, fewer, more] = doing(options.compare.outcome);
        let who = match worse.as_slice() {
            [one] if found.pairs.len() == 1 => said.level(one.worse),
            several => format!("{} of {} {}", several.len(), found.pairs.len(), levels_of(said)),
        };
        let none = if found.pairs.len() == 1 { String::new() } else { format!(", none is shown to {more}") };
        let text = if options.compare.outcome.is_part() {
            // The substance is said once.
            let control =
                if worse.len() == found.pairs.len() && worse.len() == 1 { control_said } else { said.level(control) };
            format!("{who}{scope} {fewer} than {control}{none}")
        } else {
            let start = if changing::shown(&found.changing).is_empty() { "Keep" } else { "Leaning to" };
            format!("{start} {}{scope}: {who} {fewer}{none}", said.level(control))
        };
        return (text, Vec::new());
    }
    nothing((found, options), scope, &format!("no {} is shown to differ from {}", said.name(), said.level(control)))
}

fn pairs(
    (found, options): (&AllComparisons, &AllOptions),
    (said, scope): (&Spoken, &str),
    shown: &[Ranked<'_>],
    hint: bool,
) -> Told {
    if shown.is_empty() {
        return nothing((found, options), scope, &format!("no two {} are shown to differ", levels_of(said)));
    }
    let per = options.compare.outcome.of_hundred();
    let ranked: Vec<Ranked<'_>> = found.pairs.iter().map(Ranked::of).collect();
    let mut levels: Vec<&str> = ranked.iter().flat_map(|one| [one.better, one.worse]).collect();
    levels.sort_unstable();
    levels.dedup();
    // The level that no other is above, where there is one.
    let top = levels.iter().find(|level| ranked.iter().all(|one| one.worse != **level));
    let beaten: Vec<&str> = shown.iter().filter(|one| Some(&one.better) == top).map(|one| one.worse).collect();
    let Some(top) = top.filter(|_| !beaten.is_empty()) else {
        let largest = shown.iter().max_by(|a, b| a.pair.value.abs().total_cmp(&b.pair.value.abs()));
        let largest = largest.map_or_else(String::new, |one| {
            format!(": most of all {} against {}, {}", said.level(one.better), said.short(one.worse), one.gain(per))
        });
        return (format!("{}{scope}{largest}", whole(shown.len() as u64, "pair differs", "pairs differ")), Vec::new());
    };
    let alike: Vec<String> =
        levels.iter().filter(|level| *level != top && !beaten.contains(level)).map(|level| said.short(level)).collect();
    let top_said = said.level(top);
    if alike.is_empty() {
        let next = shown
            .iter()
            .filter(|one| one.better == *top)
            .min_by(|a, b| a.pair.value.abs().total_cmp(&b.pair.value.abs()));
        let next =
            next.map_or_else(String::new, |one| format!(", the next, {}, by {}", said.short(one.worse), one.size(per)));
        // "Use" is for what a second opinion, where it can, confirms of every pair.
        let confirmed = changing::shown(&found.changing).is_empty()
            && shown.iter().filter(|one| one.better == *top).all(|one| one.pair.confirmed);
        let start = if confirmed { format!("Use {top_said}{scope}") } else { format!("Leaning to {top_said}{scope}") };
        let only = shown.first().filter(|_| levels.len() == 2);
        let text = match (hint, only) {
            (true, _) => format!("{top_said} beats all other levels{next}"),
            (false, Some(one)) => format!("{start}: {} than {}", one.gain(per), said.short(one.worse)),
            (false, None) => format!("{start}: it beats all other levels{next}"),
        };
        return (text, Vec::new());
    }
    let beaten: Vec<String> = beaten.iter().map(|level| said.short(level)).collect();
    let start = if hint { format!("{top_said} beats") } else { format!("Leaning to {top_said}{scope}: it beats") };
    (
        format!("{start} {}; {} not told apart from it", some(&beaten), is_or_are(&alike)),
        narrowed(found, options).into_iter().collect(),
    )
}

fn nothing((found, options): (&AllComparisons, &AllOptions), scope: &str, what: &str) -> Told {
    let most = open_difference(found).filter(|most| most.is_finite());
    let fine = most.is_some_and(|most| most < options.compare.nearly);
    let wanted = narrowed(found, options);
    let start = match (fine, &wanted) {
        (true, _) => "No reason to choose".to_owned(),
        (false, Some(_)) => format!("Too few {} to tell", plural(&found.unit)),
        (false, None) => "Not settled".to_owned(),
    };
    let open = most.map(|most| {
        format!("; up to {} {} remain possible", numbers::trees_out(most), options.compare.outcome.of_hundred())
    });
    (format!("{start}{scope}: {what}{}", open.unwrap_or_default()), wanted.into_iter().collect())
}

/// "; 18 trays each narrow that to 10 either way": what brings the widest interval of an open pair to the difference that matters.
fn narrowed(found: &AllComparisons, options: &AllOptions) -> Option<String> {
    let (alpha, nearly) = (1.0 - found.confidence, options.compare.nearly);
    let open = found.pairs.iter().filter(|pair| Claim::of(pair, alpha) != Claim::Shown);
    let width = |pair: &PairComparison| pair.low.zip(pair.high).map(|(low, high)| 0.5 * (high - low));
    let (pair, half) = open
        .filter_map(|pair| Some((pair, width(pair)?)))
        .filter(|(_, half)| half.is_finite())
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    let have = pair.n_units.0.min(pair.n_units.1) as f64;
    let wanted = units_for(half, nearly, (found.interval_level, pair.error_df?), have)?;
    Some(format!("; {wanted} {} each narrow that to {} either way", plural(&found.unit), trees(nearly)))
}

/// The largest difference, either way, that the intervals leave open.
fn open_difference(found: &AllComparisons) -> Option<f64> {
    let alpha = 1.0 - found.confidence;
    let open = found.pairs.iter().filter(|pair| Claim::of(pair, alpha) != Claim::Shown);
    open.flat_map(|pair| [pair.low, pair.high]).flatten().map(f64::abs).max_by(f64::total_cmp)
}

/// "strengths", "levels of dark days": what a name that is a plural already, or a word for what was done, cannot give by itself.
fn levels_of(said: &Spoken) -> String {
    let name = said.name();
    if said.is_strength() {
        return "strengths".to_owned();
    }
    let no_noun = name.contains(' ') || ["s", "ed"].iter().any(|end| name.ends_with(end));
    if no_noun { format!("levels of {name}") } else { plural(&name) }
}

/// A few by name, more by number.
fn some(names: &[String]) -> String {
    if names.len() <= NAMED { join(names) } else { format!("{} others", names.len()) }
}

fn is_or_are(names: &[String]) -> String {
    format!("{} {}", some(names), if names.len() == 1 { "is" } else { "are" })
}

fn lower(text: &str) -> String {
    let starts = ["No ", "Not ", "Too ", "Use ", "Keep ", "Leaning ", "Against "];
    let mut letters = text.chars();
    match letters.next() {
        Some(first) if starts.iter().any(|start| text.starts_with(start)) => {
            first.to_lowercase().chain(letters).collect()
        }
        _ => text.to_owned(),
    }
}

/// Everything else.
pub(super) fn details(
    found: &AllComparisons,
    adjust: Adjustment,
    (options, units): (&AllOptions, &Units),
) -> Vec<String> {
    let plain = Spoken::plain(&found.factor);
    let said = options.compare.spoken.as_ref().unwrap_or(&plain);
    let alpha = 1.0 - found.confidence;
    let family = match &found.against {
        Some(level) => {
            format!("{} with {}", whole(found.pairs.len() as u64, "comparison", "comparisons"), said.level(level))
        }
        None => format!("{} of levels of {}", whole(found.pairs.len() as u64, "pair", "pairs"), said.name()),
    };
    let of_hundred = options.compare.outcome.of_hundred();
    let mut lines: Vec<String> = how_sure(found, said, alpha).into_iter().collect();
    lines.extend(changing::details(&changing::shown(&found.changing), said, of_hundred));
    lines.extend(found.pairs.iter().filter(|pair| rests_on_few(pair)).map(|pair| carried(pair, said, &found.unit)));
    // One pair is not judged together with anything.
    if found.n_tests > 1 {
        lines.push(format!("{} judged together: {}.", capital(&family), adjust.in_words()));
    }
    for pair in &found.pairs {
        let one = Ranked::of(pair);
        let start = format!("{}: {}", capital(&said.level(one.better)), one.gain(of_hundred));
        let told = format!("{start} than {}, {}", said.short(one.worse), adjusted(pair));
        match Claim::of(pair, alpha) {
            Claim::Shown => lines.push(format!("{told}.")),
            Claim::ByPOnly => lines.push(format!("{told}, {CROSSES}: not told apart.")),
            Claim::Open | Claim::Untested => {}
        }
    }
    lines.extend(borderline::line(by_p_only(found), found, options, units));
    lines.extend(unconfirmed(found, said, alpha));
    lines.extend(unreached(found, said, alpha));
    if let Some(most) = open_difference(found) {
        lines.push(format!(
            "Where no difference is shown, up to {} {of_hundred} cannot be ruled out.",
            numbers::points(most)
        ));
    }
    lines
}

/// "5000 mg/L against 0 mg/L rests on 8 of 40 and 8 of 12 trays; ..."
fn carried(pair: &PairComparison, said: &Spoken, unit: &str) -> String {
    let ((first, second), (of_first, of_second)) = (pair.n_units_used, pair.n_units);
    format!(
        "{} against {} rests on {second} of {of_second} and {first} of {of_first} {}; the others stand where only one of the two was tried.",
        capital(&said.level(&pair.second)),
        said.short(&pair.first),
        plural(unit)
    )
}

/// What the limits hold for, and whether a second check could object to what is shown.
fn how_sure(found: &AllComparisons, said: &Spoken, alpha: f64) -> Option<String> {
    // Of differences in opposite directions an average says nothing.
    let alike = changing::opposed(&changing::shown(&found.changing), said).is_none();
    let counted = found.unit != "cutting" && found.n_tests > 0 && alike;
    let alone = found.n_tests < 2 || found.interval_level <= found.confidence;
    let hold = if alone { "each range in brackets holds" } else { "the ranges in brackets hold together" };
    let shown = || found.pairs.iter().filter(|pair| Claim::of(pair, alpha) == Claim::Shown);
    let wanted = 1.0 - found.interval_level;
    let beyond = shown().filter_map(|pair| pair.smallest_p).filter(|least| *least > wanted).min_by(f64::total_cmp);
    let judged = shown().filter(|pair| pair.second_opinion.is_some()).count();
    let open = shown().filter(|pair| !pair.confirmed).count();
    let check = match (beyond, open, judged) {
        (Some(least), ..) => {
            let needs = if alone {
                String::new()
            } else {
                format!(", and a pair of several needs {}", numbers::number(wanted))
            };
            format!("; {}{needs}", cannot_object(&format!("so few {}", plural(&found.unit)), least))
        }
        (None, _, 0) => String::new(),
        (None, 0, _) => "; a second check that assumes less agrees".to_owned(),
        (None, ..) => {
            format!("; a second check that assumes less does not confirm {open} of {judged} differences shown")
        }
    };
    counted.then(|| format!("{HOW_SURE}{hold} {}{check}.", with_confidence(found.confidence)))
}

/// The pairs that are shown and that dealing the trays out again could confirm and does not.
fn unconfirmed(found: &AllComparisons, said: &Spoken, alpha: f64) -> Option<String> {
    let open = found.pairs.iter().filter(|pair| Claim::of(pair, alpha) == Claim::Shown && !pair.confirmed);
    let one = |pair: &PairComparison| {
        let p = pair.second_opinion.map(|p| format!(" ({})", numbers::p_value(p))).unwrap_or_default();
        format!("{}{p}", named(pair, said))
    };
    let told: Vec<String> = open.map(one).collect();
    let needs = opinion::a_pair_needs(found.interval_level, found.confidence, found.n_tests);
    (!told.is_empty()).then(|| {
        format!(
            "{} does not confirm {}{needs}: take {} as evidence, not as settled.",
            opinion::begins(&found.unit),
            join(&told),
            if told.len() == 1 { "it" } else { "them" }
        )
    })
}

/// "5000 mg/L against 0".
fn named(pair: &PairComparison, said: &Spoken) -> String {
    format!("{} against {}", said.level(&pair.second), said.short(&pair.first))
}

/// The pairs that are shown and that dealing the units out again cannot confirm, by the smallest P value that their units allow.
fn unreached(found: &AllComparisons, said: &Spoken, alpha: f64) -> Vec<String> {
    let wanted = 1.0 - found.interval_level;
    let beyond = |pair: &&PairComparison| Claim::of(pair, alpha) == Claim::Shown && pair.second_opinion.is_some();
    let mut alike: Vec<(f64, Vec<String>)> = Vec::new();
    for pair in found.pairs.iter().filter(beyond) {
        let Some(least) = pair.smallest_p.filter(|least| *least > wanted) else { continue };
        match alike.iter_mut().find(|(known, _)| numbers::p_value(*known) == numbers::p_value(least)) {
            Some((_, names)) => names.push(named(pair, said)),
            None => alike.push((least, vec![named(pair, said)])),
        }
    }
    let needs = opinion::a_pair_needs(found.interval_level, found.confidence, found.n_tests);
    let line =
        |(least, names): (f64, Vec<String>)| opinion::out_of_reach(&found.unit, &join(&names), (None, least), &needs);
    alike.into_iter().map(line).collect()
}
