//! Rows that are no trays: sums, totals and averages below them.

use std::collections::HashSet;

/// Words that say so wherever they stand in a label: "Sum 1500", "Mean of K12".
const WORDS: [&str; 66] = [
    "sum",
    "sums",
    "total",
    "totals",
    "subtotal",
    "average",
    "averages",
    "avg",
    "mean",
    "means",
    "overall",
    "summe",
    "summen",
    "gesamt",
    "gesamtsumme",
    "zwischensumme",
    "insgesamt",
    "mittel",
    "mittelwert",
    "mittelwerte",
    "durchschnitt",
    "schnitt",
    "somme",
    "sommes",
    "totaux",
    "moyenne",
    "moyennes",
    "totaal",
    "som",
    "subtotaal",
    "gemiddelde",
    "gemiddeld",
    "suma",
    "promedio",
    "totale",
    "somma",
    "soma",
    "m\u{e9}dia",
    "celkem",
    "sou\u{10d}et",
    "pr\u{16f}m\u{11b}r",
    "razem",
    "\u{15b}rednia",
    "\u{142}\u{105}cznie",
    "gennemsnit",
    "gjennomsnitt",
    "genomsnitt",
    "medelv\u{e4}rde",
    "totalt",
    "summa",
    "keskiarvo",
    "yhteens\u{e4}",
    "\u{f6}sszesen",
    "\u{e1}tlag",
    "medie",
    "toplam",
    "ortalama",
    "skupaj",
    "povpre\u{10d}je",
    "ukupno",
    "prosjek",
    "\u{438}\u{442}\u{43e}\u{433}\u{43e}",
    "\u{432}\u{441}\u{435}\u{433}\u{43e}",
    "\u{441}\u{440}\u{435}\u{434}\u{43d}\u{435}\u{435}",
    "\u{43c}\u{3ad}\u{3c3}\u{3bf}\u{3c2}",
    "\u{3c3}\u{3cd}\u{3bd}\u{3bf}\u{3bb}\u{3bf}",
];

/// Short marks and words that can also name a level: asked about as a whole label, where it stands for a tray or in a single row.
const MARKS: [(&str, &str); 40] = [
    ("%", "%"),
    ("\u{d8}", "average"),
    ("\u{f8}", "average"),
    ("\u{2300}", "average"),
    ("\u{2205}", "average"),
    ("x\u{304}", "average"),
    ("x\u{305}", "average"),
    ("x-bar", "average"),
    ("xbar", "average"),
    ("x bar", "average"),
    ("mn", "average"),
    ("mu", "average"),
    ("\u{3bc}", "average"),
    ("av", "average"),
    ("ave", "average"),
    ("aver", "average"),
    ("avge", "average"),
    ("mw", "average"),
    ("moy", "average"),
    ("gem", "average"),
    ("prom", "average"),
    ("medel", "average"),
    ("media", "average"),
    ("medio", "average"),
    ("gns", "average"),
    ("sn", "average"),
    ("ges", "sum"),
    ("tot", "sum"),
    ("i alt", "sum"),
    ("all", "all"),
    ("alle", "all"),
    ("alles", "all"),
    ("tous", "all"),
    ("ensemble", "all"),
    ("todos", "all"),
    ("tutti", "all"),
    ("sd", "standard deviation"),
    ("std", "standard deviation"),
    ("stdev", "standard deviation"),
    ("stdabw", "standard deviation"),
];

/// What a label says of its row where it is no tray: "sum" or "average" for labels such as "Sum 1500", "Total", "Mittelwert:",
/// "Mean of K12". `alone` is true where the label names a tray or stands in a single row: then marks such as "Av.", "%", "all" and
/// the crossed o are asked about too.
#[must_use]
pub(super) fn total_word(text: &str, alone: bool) -> Option<&'static str> {
    if text.contains(['\u{2211}', '\u{3a3}']) {
        return Some("sum");
    }
    let lower = text.to_lowercase();
    let mut words = lower.split(|letter: char| !letter.is_alphabetic()).filter(|word| !word.is_empty());
    if let Some(word) = words.find_map(|word| WORDS.iter().find(|known| **known == word)) {
        return Some(word);
    }
    let bare = lower.trim_matches([' ', '.', ':', '=', '\u{a0}']);
    if is_of_percentages(bare) {
        return Some("%");
    }
    MARKS.iter().find(|(known, _)| alone && *known == bare).map(|(_, word)| *word)
}

/// True for "% rooted", "rooted %", "Percent rooted": names of a row of percentages. A number beside the sign names a level ("1 % talc").
fn is_of_percentages(label: &str) -> bool {
    const SPELT: [&str; 7] = ["percent", "percentage", "per cent", "prozent", "procent", "pourcentage", "porcentaje"];
    let sign = label.strip_prefix('%').or_else(|| label.strip_suffix('%'));
    let named = sign.is_some_and(|rest| !rest.trim().is_empty());
    (named || SPELT.iter().any(|word| label.starts_with(word))) && !label.chars().any(|letter| letter.is_ascii_digit())
}

/// The same for a label that may be made of several, as trays numbered afresh in each treatment have it: "K12 / Av.".
#[must_use]
pub(crate) fn label_word(text: &str, alone: bool) -> Option<&'static str> {
    total_word(text, alone).or_else(|| text.rsplit_once(" / ").and_then(|(_, own)| total_word(own, alone)))
}

/// A row whose counts are the sums of those from `from` on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Sum {
    /// The row.
    pub row: usize,
    /// The first row that was summed.
    pub from: usize,
}

/// Rows whose counts are the sums of those above: of all since the last such row, or of all that are no sums. Counts are given in
/// the order of the rows; a row without counts is passed over, and those of `trays` are no sums.
#[must_use]
pub(super) fn sums(counts: impl Iterator<Item = Option<(u64, u64)>>, trays: &[usize]) -> Vec<Sum> {
    let mut found = Vec::new();
    let (mut run, mut all, mut largest) = (Running::default(), Running::default(), 0_u64);
    for (row, count) in counts.enumerate() {
        let Some((rooted, stuck)) = count.filter(|(_, stuck)| *stuck > 0) else { continue };
        // A sum of two trays or more is larger than any of them; in a bed of trays of one size this is never asked.
        if stuck > largest && rooted > 0 && !trays.contains(&row) {
            let sum = [&run, &all].into_iter().find(|sum| sum.is(rooted, stuck)).map(|sum| sum.from);
            if let Some(from) = sum {
                found.push(Sum { row, from });
                run = Running::default();
                continue;
            }
        }
        run.add(row, rooted, stuck);
        all.add(row, rooted, stuck);
        largest = largest.max(stuck);
    }
    found
}

/// Groups of rows that must end in their mean before it is asked about: chance makes one or two.
const GROUPS: usize = 3;

/// Rows that hold the mean of those above them, where the sheet is made of such groups: every k-th row is exactly the mean of the k - 1
/// before it, to the end, in three groups at least whose rows lie about their means in ways of their own. Empty where a row has no counts.
#[must_use]
pub(crate) fn means(counts: &[Option<(u64, u64)>]) -> Vec<usize> {
    let Some(counts) = counts.iter().copied().collect::<Option<Vec<(u64, u64)>>>() else { return Vec::new() };
    let all = counts.len();
    let ends_in_means = |k: &usize| {
        let about: Option<HashSet<Vec<i128>>> = counts.chunks(*k).map(about_mean).collect();
        about.is_some_and(|ways| ways.len() >= GROUPS)
    };
    let period = (3..=all / GROUPS).find(|k| all % k == 0 && ends_in_means(k));
    period.map_or_else(Vec::new, |k| (k - 1..all).step_by(k).collect())
}

/// How the rooted of a group lie about its last row, in order of size; `None` where that row is not the mean of the others.
fn about_mean(group: &[(u64, u64)]) -> Option<Vec<i128>> {
    let (last, rows) = group.split_last()?;
    let sum = |of: fn(&(u64, u64)) -> u64| rows.iter().map(|row| u128::from(of(row))).sum::<u128>();
    let is = |of: fn(&(u64, u64)) -> u64| sum(of) == rows.len() as u128 * u128::from(of(last));
    if !is(|row| row.0) || !is(|row| row.1) {
        return None;
    }
    let mut away: Vec<i128> = rows.iter().map(|row| i128::from(row.0) - i128::from(last.0)).collect();
    away.sort_unstable();
    Some(away)
}

#[derive(Debug, Default)]
struct Running {
    from: usize,
    rows: usize,
    rooted: u64,
    stuck: u64,
}

impl Running {
    fn add(&mut self, row: usize, rooted: u64, stuck: u64) {
        if self.rows == 0 {
            self.from = row;
        }
        self.rows += 1;
        self.rooted = self.rooted.saturating_add(rooted);
        self.stuck = self.stuck.saturating_add(stuck);
    }

    fn is(&self, rooted: u64, stuck: u64) -> bool {
        self.rows >= 2 && self.rooted == rooted && self.stuck == stuck
    }
}
