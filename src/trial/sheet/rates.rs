//! Percentages in a column that was named as counts.

/// How a column of counts gives itself away.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Share {
    /// Every count is a multiple of what one cutting is in percent.
    Multiples {
        /// Cuttings in a tray.
        stuck: u64,
        /// 100 / stuck.
        step: u64,
    },
    /// Counts above the number stuck, none above 100, all whole numbers of cuttings when read as percentages.
    Above {
        /// Cuttings in a tray.
        stuck: u64,
    },
}

const WORDS: [&str; 18] = [
    "percent",
    "percentage",
    "pct",
    "perc",
    "proc",
    "rate",
    "rates",
    "share",
    "proportion",
    "prozent",
    "quote",
    "anteil",
    "anteile",
    "pourcentage",
    "taux",
    "porcentaje",
    "procent",
    "bewurzelungsrate",
];

/// True for a column called by a word for percent or rate.
#[must_use]
pub(crate) fn percent_name(name: &str) -> bool {
    let lower = name.to_lowercase();
    lower.contains('%') || lower.split(|letter: char| !letter.is_alphabetic()).any(|word| WORDS.contains(&word))
}

/// Counts that look like percentages; `counts` gives rooted and stuck of every tray anew. By chance all of `n` trays in which
/// something rooted hold multiples of `step` cuttings with probability `step^-n`; below one in a thousand it is asked about.
#[must_use]
pub(crate) fn percent_values<I: Iterator<Item = (u64, u64)>>(counts: impl Fn() -> I) -> Option<Share> {
    let (_, stuck) = counts().next().filter(|(_, stuck)| *stuck > 0)?;
    let step = 100_u64.checked_div(stuck).filter(|step| step * stuck == 100 && *step > 1);
    let mut above = 0_usize;
    let (mut filled, mut largest, mut least, mut multiples) = (0_usize, 0_u64, u64::MAX, step.is_some());
    for (rooted, set) in counts() {
        above += usize::from(rooted > set);
        multiples &= set == stuck && step.is_some_and(|step| rooted % step == 0);
        if rooted > 0 {
            filled += 1;
            largest = largest.max(rooted);
            least = least.min(rooted);
        }
    }
    let whole = |(rooted, set): (u64, u64)| {
        let cuttings = (rooted as f64 * set as f64 / 100.0).round();
        rooted <= 100 && (100.0 * cuttings / set.max(1) as f64 - rooted as f64).abs() <= 0.5
    };
    if above >= 2 && 5 * above >= counts().count() && counts().all(whole) {
        return Some(Share::Above { stuck });
    }
    let step = step.filter(|step| (*step as f64).powi(-(filled.min(1000) as i32)) < 1e-3)?;
    // Two values at least: one alone says little.
    (multiples && above == 0 && largest > least).then_some(Share::Multiples { stuck, step })
}
