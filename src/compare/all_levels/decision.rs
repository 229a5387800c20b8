//! The decision of all comparisons of a treatment in at most thirty words, and the rest, a fact a line.

use super::pairs::{AllComparisons, AllOptions, PairComparison};
use crate::compare::decision::capital;
use crate::effects::Adjustment;
use crate::report::{Spoken, join, numbers, plural, whole};
use crate::trial::{UnitKind, Units, follows_time};

/// Levels that are named one by one in the decision.
const NAMED: usize = 3;

/// What is claimed of a pair.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Claim {
    /// Adjusted P value and interval agree that there is a difference.
    Shown,
    /// The adjusted P value of a step-wise method says so, the wider interval still holds 0.
    ByPOnly,
    /// No difference is shown.
    Open,
    /// There is no test.
    Untested,
}

impl Claim {
    pub(super) fn of(pair: &PairComparison, alpha: f64) -> Self {
        let away = match (pair.conf_low, pair.conf_high) {
            (Some(low), Some(high)) => low > 0.0 || high < 0.0,
            _ => false,
        };
        match pair.adjusted_p {
            None => Self::Untested,
            Some(p) if p > alpha => Self::Open,
            Some(_) if away => Self::Shown,
            Some(_) => Self::ByPOnly,
        }
    }

    /// The entry of the table's column.
    pub(super) fn in_words(self) -> &'static str {
        match self {
            Self::Shown => "yes",
            Self::ByPOnly => "P only, the interval holds 0",
            Self::Open => "no",
            Self::Untested => "not tested",
        }
    }
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
    fn gain(&self) -> String {
        let up = self.pair.value >= 0.0;
        let limits = self.pair.conf_low.zip(self.pair.conf_high);
        let limits = limits.map(|(low, high)| if up { (low, high) } else { (-high, -low) });
        let range = limits.map_or_else(String::new, |(low, high)| format!(" ({} to {})", trees(low), trees(high)));
        format!("{} more trees per 100{range}", trees(self.pair.value.abs()))
    }
}

fn trees(x: f64) -> String {
    format!("{:.0}", (100.0 * x).round() + 0.0)
}

/// The decision.
pub(super) fn sentence(found: &AllComparisons, options: &AllOptions, units: &Units) -> String {
    let plain = Spoken::plain(&found.factor);
    let said = options.compare.spoken.as_ref().unwrap_or(&plain);
    let alpha = 1.0 - found.level;
    let name = said.name();
    let hint = units.kind == UnitKind::Pooled || found.unit == "cutting";
    let time = units.factor(&found.factor).is_some_and(|one| follows_time(units, one).is_some());
    let start = if hint { "Without trays only a hint: " } else { "" };
    if found.n_tests == 0 {
        return format!(
            "{start}No verdict on {name}: this layout allows no test of any pair; the differences stand in the table."
        );
    }
    let shown: Vec<Ranked<'_>> =
        found.pairs.iter().filter(|pair| Claim::of(pair, alpha) == Claim::Shown).map(Ranked::of).collect();
    let text = match &found.against {
        Some(control) => against(found, said, control, &shown, time),
        None => pairs(found, said, &shown, hint || time),
    };
    let text = if hint { lower(&text) } else { text };
    let text = if time { format!("{} Times were not dealt out.", text) } else { text };
    format!("{start}{text}")
}

fn against(found: &AllComparisons, said: &Spoken, control: &str, shown: &[Ranked<'_>], time: bool) -> String {
    let control_said = said.level(control);
    let better: Vec<&Ranked<'_>> = shown.iter().filter(|one| one.worse == control).collect();
    let worse: Vec<&Ranked<'_>> = shown.iter().filter(|one| one.better == control).collect();
    if let Some(best) = better.iter().max_by(|a, b| a.pair.value.abs().total_cmp(&b.pair.value.abs())) {
        let others = better.len() - 1;
        let more = if others == 0 {
            String::new()
        } else {
            format!("; {others} more {} too", if others == 1 { "does" } else { "do" })
        };
        return format!("{} beats {control_said}: {}{more}.", capital(&said.level(best.better)), best.gain());
    }
    if !worse.is_empty() {
        let start = if time { capital(&control_said) } else { format!("Keep {control_said}") };
        return format!(
            "{start}: {} of {} {} rooted fewer, none is shown to root more.",
            worse.len(),
            found.pairs.len(),
            plural(&said.name())
        );
    }
    nothing(found, &format!("no {} is shown to differ from {control_said}", said.name()))
}

fn pairs(found: &AllComparisons, said: &Spoken, shown: &[Ranked<'_>], hint: bool) -> String {
    if shown.is_empty() {
        return nothing(found, &format!("no two levels of {} are shown to differ", said.name()));
    }
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
            format!(": most of all {} against {}, {}", said.level(one.better), said.short(one.worse), one.gain())
        });
        return format!("{}{largest}.", whole(shown.len() as u64, "pair differs", "pairs differ"));
    };
    let alike: Vec<String> =
        levels.iter().filter(|level| *level != top && !beaten.contains(level)).map(|level| said.short(level)).collect();
    if alike.is_empty() {
        let next = shown
            .iter()
            .filter(|one| one.better == *top)
            .min_by(|a, b| a.pair.value.abs().total_cmp(&b.pair.value.abs()));
        let next = next
            .map_or_else(String::new, |one| format!(", and {} than {}, the next", one.gain(), said.short(one.worse)));
        let top = said.level(top);
        return if hint {
            format!("{} beats all other levels{next}.", capital(&top))
        } else {
            format!("Use {top}: it beats all other levels{next}.")
        };
    }
    format!(
        "{} leads and beats {}; {} not told apart from it.",
        capital(&said.level(top)),
        some(&beaten.iter().map(|level| said.short(level)).collect::<Vec<_>>()),
        is_or_are(&alike)
    )
}

fn nothing(found: &AllComparisons, what: &str) -> String {
    let limit = open_difference(found).map(|most| format!("; up to {} trees per 100 remain possible", trees(most)));
    format!("No verdict: {what}{}.", limit.unwrap_or_default())
}

/// The largest difference, either way, that the intervals leave open.
fn open_difference(found: &AllComparisons) -> Option<f64> {
    let alpha = 1.0 - found.level;
    let open = found.pairs.iter().filter(|pair| Claim::of(pair, alpha) != Claim::Shown);
    open.flat_map(|pair| [pair.conf_low, pair.conf_high]).flatten().map(f64::abs).max_by(f64::total_cmp)
}

/// A few by name, more by number.
fn some(names: &[String]) -> String {
    if names.len() <= NAMED { join(names) } else { format!("{} others", names.len()) }
}

fn is_or_are(names: &[String]) -> String {
    format!("{} {}", some(names), if names.len() == 1 { "is" } else { "are" })
}

fn lower(text: &str) -> String {
    let starts = ["No ", "Use ", "Keep "];
    let mut letters = text.chars();
    match letters.next() {
        Some(first) if starts.iter().any(|start| text.starts_with(start)) => {
            first.to_lowercase().chain(letters).collect()
        }
        _ => text.to_owned(),
    }
}

/// Everything else.
pub(super) fn details(found: &AllComparisons, adjust: Adjustment, options: &AllOptions) -> Vec<String> {
    let plain = Spoken::plain(&found.factor);
    let said = options.compare.spoken.as_ref().unwrap_or(&plain);
    let alpha = 1.0 - found.level;
    let family = match &found.against {
        Some(level) => {
            format!("{} with {}", whole(found.pairs.len() as u64, "comparison", "comparisons"), said.level(level))
        }
        None => format!("{} of levels of {}", whole(found.pairs.len() as u64, "pair", "pairs"), said.name()),
    };
    let mut lines = vec![format!("{} judged together: {}.", capital(&family), adjust.in_words())];
    for pair in &found.pairs {
        let one = Ranked::of(pair);
        let start = format!("{}: {}", capital(&said.level(one.better)), one.gain());
        let p = pair.adjusted_p.map(|p| format!(", adjusted {}", numbers::p_value(p))).unwrap_or_default();
        match Claim::of(pair, alpha) {
            Claim::Shown => lines.push(format!("{start} than {}{p}.", said.short(one.worse))),
            Claim::ByPOnly => lines.push(format!(
                "{start} than {}{p}: the steps of the adjustment show a difference, the wider interval of all pairs still holds 0.",
                said.short(one.worse)
            )),
            Claim::Open | Claim::Untested => {}
        }
    }
    if let Some(most) = open_difference(found) {
        lines.push(format!(
            "Where no difference is shown, up to {} per 100 cannot be ruled out.",
            numbers::points(most)
        ));
    }
    lines
}
