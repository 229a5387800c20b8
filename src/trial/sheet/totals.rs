//! Rows that are no trays: sums, totals and averages below them.

const WORDS: [&str; 30] = [
    "sum",
    "sums",
    "total",
    "totals",
    "subtotal",
    "grand total",
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
    "durchschnitt",
    "schnitt",
    "somme",
    "moyenne",
    "totaal",
    "gemiddelde",
    "suma",
    "promedio",
    "totale",
    "celkem",
];

/// The word for a sum or an average in a label such as "Sum 1500", "Total", "Mittelwert:" or "Mean of K12".
#[must_use]
pub fn total_word(text: &str) -> Option<&'static str> {
    let lower = text.to_lowercase();
    if lower.contains('\u{2211}') || lower.contains('\u{f8}') && lower.trim().chars().count() <= 2 {
        return Some("sum");
    }
    let mut words = lower.split(|letter: char| !letter.is_alphabetic()).filter(|word| !word.is_empty());
    words.find_map(|word| WORDS.iter().find(|known| **known == word).copied())
}

/// A row whose counts are the sums of those from `from` on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sum {
    /// The row.
    pub row: usize,
    /// The first row that was summed.
    pub from: usize,
}

/// Rows whose counts are the sums of those above: of all since the last such row, or of all that are no sums. Counts are given in
/// the order of the rows; a row without counts is passed over, and those of `trays` are no sums.
#[must_use]
pub fn sums(counts: impl Iterator<Item = Option<(u64, u64)>>, trays: &[usize]) -> Vec<Sum> {
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
