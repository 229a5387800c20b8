//! Rows that are means or sums of those above by one number and something that no tray has: a fraction of a cutting, or a label unlike all
//! others (a word among numbers).

/// What a row holds: the numbers rooted and stuck, and half a unit of the last digit of the first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Held {
    /// The number rooted.
    pub rooted: f64,
    /// Half a unit of its last digit.
    pub slack: f64,
    /// The number stuck.
    pub stuck: f64,
}

/// A row that is worked out from those above.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct OddRow {
    /// The row.
    pub row: usize,
    /// True for a mean, false for a sum.
    pub is_mean: bool,
}

/// Rows with a fraction or with an `odd` label whose numbers are the mean or the sum of two rows or more above: of those since the last
/// such row, or of all. Labels tell where each stands at such a row, and one alone where it is the very mean: chance rounds to a mean
/// now and then.
#[must_use]
pub(crate) fn odd_rows(rows: &[Option<Held>], odd: &[bool]) -> Vec<OddRow> {
    let (mut found, mut run, mut all) = (Vec::new(), Vec::new(), Vec::new());
    let (mut labels, mut exact, mut labels_tell) = (0, true, true);
    for (row, held) in rows.iter().enumerate() {
        let Some(held) = held else { continue };
        let fraction = held.rooted.fract() != 0.0;
        let labelled = odd.get(row) == Some(&true) && !fraction;
        if fraction || labelled {
            if let Some((is_mean, very)) = worked_out(&run, held).or_else(|| worked_out(&all, held)) {
                found.push((OddRow { row, is_mean }, fraction));
                labels += usize::from(labelled);
                exact &= very || !labelled;
                run.clear();
                continue;
            }
            labels_tell &= !labelled;
        }
        if !fraction {
            run.push(*held);
            all.push(*held);
        }
    }
    labels_tell &= labels > 1 || exact;
    found.into_iter().filter(|(_, fraction)| *fraction || labels_tell).map(|(one, _)| one).collect()
}

/// Whether a row is the mean (true) or the sum (false) of these, and whether it is the very number. Rows that are all alike have no mean
/// of their own.
fn worked_out(rows: &[Held], held: &Held) -> Option<(bool, bool)> {
    if rows.len() < 2 || rows.iter().all(|one| one.rooted == held.rooted) {
        return None;
    }
    let sum = |of: fn(&Held) -> f64| rows.iter().map(of).sum::<f64>();
    let (rooted, stuck, n) = (sum(|one| one.rooted), sum(|one| one.stuck), rows.len() as f64);
    let away = (rooted / n - held.rooted).abs();
    if away <= held.slack + 1e-9 && (stuck / n - held.stuck).abs() <= 0.5 {
        return Some((true, away < 1e-9));
    }
    ((rooted - held.rooted).abs() < 1e-9 && (stuck - held.stuck).abs() < 1e-9).then_some((false, true))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(rooted: &[f64]) -> Vec<Option<Held>> {
        rooted.iter().map(|&rooted| Some(Held { rooted, slack: 0.05, stuck: 20.0 })).collect()
    }

    #[test]
    fn a_fraction_is_a_mean_where_it_is_that_of_the_rows_above() {
        let found = odd_rows(&rows(&[3.0, 4.0, 6.0, 5.0, 4.5, 9.0, 8.0, 11.0, 9.3, 8.0, 2.5]), &[]);
        assert_eq!(found.iter().map(|one| one.row).collect::<Vec<_>>(), [4, 8]);
        assert!(found.iter().all(|one| one.is_mean));
    }

    #[test]
    fn odd_labels_tell_only_where_each_stands_at_a_mean_or_a_sum() {
        let half = |held: Option<Held>| held.map(|one| Held { slack: 0.5, ..one });
        let rows: Vec<Option<Held>> = rows(&[3.0, 4.0, 6.0, 4.0, 9.0, 8.0, 11.0, 9.0]).into_iter().map(half).collect();
        let odd = [false, false, false, true, false, false, false, true];
        assert_eq!(odd_rows(&rows, &odd).len(), 2);
        assert_eq!(odd_rows(&rows[..4], &odd[..4]), [], "4 is not 13/3");
        let mut other = rows;
        other[7] = Some(Held { rooted: 14.0, slack: 0.5, stuck: 20.0 });
        assert_eq!(odd_rows(&other, &odd), []);
    }
}
