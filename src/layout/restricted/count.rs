//! How many orders meet the restrictions: combinations with as many trays left are alike, so orders are summed by how many are left of
//! each and not listed.

use std::collections::HashMap;

use super::rule::{Rows, Rule};

/// Trays of a bench whose orders are counted: a sum stands within that of the tray before it.
const LONGEST: usize = 300;
/// Sums kept; where more would be needed the number is not worked out.
const MOST: usize = 300_000;

/// Orders of so many trays of each combination: a multinomial coefficient.
pub(in crate::layout) fn all_orders(sizes: &[usize]) -> f64 {
    let (mut placed, mut orders) = (0_usize, 1.0);
    for size in sizes {
        for at in 1..=*size {
            placed += 1;
            orders = orders * placed as f64 / at as f64;
        }
    }
    orders
}

/// Where an order stands: trays left of each combination other than the two that matter, of the last one with its run, of the first one
/// of the row where it is another.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct State {
    at: usize,
    others: Vec<usize>,
    last: Option<(usize, usize)>,
    first: First,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum First {
    Free,
    IsLast,
    Left(usize),
}

struct Counting {
    rule: Rule,
    rows: Rows,
    alike: Option<usize>,
    known: HashMap<State, f64>,
    full: bool,
}

/// How many orders meet the rule; with `alike`, of those that have the same combination at this place and the next. None where too
/// many sums would be needed, or sums too deep.
pub(in crate::layout) fn meeting(rule: Rule, rows: Rows, sizes: &[usize], alike: Option<usize>) -> Option<f64> {
    if rows.trays > LONGEST {
        return None;
    }
    let mut others: Vec<usize> = sizes.iter().copied().filter(|left| *left > 0).collect();
    others.sort_unstable();
    let mut counting = Counting { rule, rows, alike, known: HashMap::new(), full: false };
    let found = counting.from(&State { at: 0, others, last: None, first: First::Free });
    (!counting.full).then_some(found)
}

impl Counting {
    fn from(&mut self, state: &State) -> f64 {
        if state.at == self.rows.trays {
            return 1.0;
        }
        if self.rows.begins(state.at) && (state.last.is_some() || state.first != First::Free) {
            return self.from(&fresh(state));
        }
        if let Some(known) = self.known.get(state) {
            return *known;
        }
        if self.full || self.known.len() >= MOST {
            self.full = true;
            return 0.0;
        }
        let sum = self.last_again(state) + self.first_again(state) + self.another(state);
        self.known.insert(state.clone(), sum);
        sum
    }

    /// True where this place has to hold what the one before held.
    fn has_to_repeat(&self, at: usize) -> bool {
        self.alike.is_some_and(|place| place + 1 == at)
    }

    fn last_again(&mut self, state: &State) -> f64 {
        let Some((left, run)) = state.last.filter(|(left, _)| *left > 0) else { return 0.0 };
        let too_long = self.rule.longest_run.is_some_and(|most| run >= most);
        let closes = self.rule.different_ends && self.rows.ends(state.at) && state.first == First::IsLast;
        if too_long || closes {
            return 0.0;
        }
        // Without a limit to runs their length is not kept.
        let run = if self.rule.longest_run.is_some() { run + 1 } else { 0 };
        self.from(&State { at: state.at + 1, last: Some((left - 1, run)), ..state.clone() })
    }

    fn first_again(&mut self, state: &State) -> f64 {
        let First::Left(left) = state.first else { return 0.0 };
        if left == 0 || self.rows.ends(state.at) || self.has_to_repeat(state.at) {
            return 0.0;
        }
        let others = with(&state.others, state.last.map(|(left, _)| left));
        self.from(&State { at: state.at + 1, others, last: Some((left - 1, self.first_run())), first: First::IsLast })
    }

    fn another(&mut self, state: &State) -> f64 {
        if self.has_to_repeat(state.at) && state.last.is_some() {
            return 0.0;
        }
        let mut sum = 0.0;
        let distinct: Vec<&[usize]> = state.others.chunk_by(|a, b| a == b).collect();
        for group in distinct {
            let Some(left) = group.first().copied().filter(|left| *left > 0) else { continue };
            let mut others = state.others.clone();
            if let Some(at) = others.iter().position(|one| *one == left) {
                others.remove(at);
            }
            let (others, first) = match (state.last, state.first) {
                (None, _) if self.rule.different_ends => (others, First::IsLast),
                (None, _) => (others, First::Free),
                (Some((gone, _)), First::IsLast) => (others, First::Left(gone)),
                (Some((gone, _)), first) => (with(&others, Some(gone)), first),
            };
            let next = State { at: state.at + 1, others, last: Some((left - 1, self.first_run())), first };
            sum += group.len() as f64 * self.from(&next);
        }
        sum
    }

    fn first_run(&self) -> usize {
        usize::from(self.rule.longest_run.is_some())
    }
}

/// The state in which a row begins.
fn fresh(state: &State) -> State {
    let first = if let First::Left(left) = state.first { Some(left) } else { None };
    let others = with(&with(&state.others, state.last.map(|(left, _)| left)), first);
    State { at: state.at, others, last: None, first: First::Free }
}

/// Trays left with one combination more; those of which none is left make no difference.
fn with(others: &[usize], more: Option<usize>) -> Vec<usize> {
    let mut all: Vec<usize> = others.iter().copied().chain(more).filter(|left| *left > 0).collect();
    all.sort_unstable();
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All orders of a multiset, one by one.
    fn orders(sizes: &[usize]) -> Vec<Vec<usize>> {
        fn on(n: usize, left: &mut Vec<usize>, begun: &mut Vec<usize>, found: &mut Vec<Vec<usize>>) {
            if begun.len() == n {
                found.push(begun.clone());
                return;
            }
            for one in 0..left.len() {
                if left[one] > 0 {
                    left[one] -= 1;
                    begun.push(one);
                    on(n, left, begun, found);
                    begun.pop();
                    left[one] += 1;
                }
            }
        }
        let n: usize = sizes.iter().sum();
        let (mut found, mut left) = (Vec::new(), sizes.to_vec());
        on(n, &mut left, &mut Vec::new(), &mut found);
        found
    }

    #[test]
    fn counts_are_those_of_listing() {
        for sizes in [vec![6, 6], vec![3, 3, 3], vec![2, 2, 2, 2], vec![4, 2, 1], vec![1, 1, 1, 1, 1], vec![5, 3]] {
            let n: usize = sizes.iter().sum();
            for columns in [n, 4, 3, 1] {
                for (longest_run, different_ends) in
                    [(None, false), (Some(1), false), (Some(2), false), (None, true), (Some(2), true), (Some(1), true)]
                {
                    let (rule, rows) = (Rule { longest_run, different_ends }, Rows { trays: n, columns });
                    let met: Vec<Vec<usize>> =
                        orders(&sizes).into_iter().filter(|order| rule.is_met(rows, order)).collect();
                    assert_eq!(
                        meeting(rule, rows, &sizes, None),
                        Some(met.len() as f64),
                        "{sizes:?} {columns} {rule:?}"
                    );
                    for at in 0..n - 1 {
                        let same_row = at / columns == (at + 1) / columns;
                        let alike = met.iter().filter(|order| order[at] == order[at + 1]).count() as f64;
                        if same_row {
                            assert_eq!(meeting(rule, rows, &sizes, Some(at)), Some(alike), "{sizes:?} {columns} {at}");
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn two_treatments_alternating_are_2_of_924() {
        let (rule, rows) = (Rule { longest_run: Some(1), different_ends: false }, Rows { trays: 12, columns: 12 });
        assert_eq!(all_orders(&[6, 6]), 924.0);
        assert_eq!(meeting(rule, rows, &[6, 6], None), Some(2.0));
    }

    #[test]
    fn many_cultivars_are_counted_without_listing() {
        let (rule, rows) = (Rule { longest_run: Some(1), different_ends: true }, Rows { trays: 60, columns: 60 });
        let found = meeting(rule, rows, &[2; 30], None).unwrap();
        // Without pairs side by side about exp(-1) of all are left (30 pairs of 59 neighbours, each alike by 1 in 59), less those with like ends.
        let share = found / all_orders(&[2; 30]);
        assert!((0.33..0.39).contains(&share), "{share}");
    }

    #[test]
    fn very_many_trays_are_not_counted() {
        let (rule, rows) = (Rule { longest_run: Some(1), different_ends: false }, Rows { trays: 5000, columns: 12 });
        assert_eq!(meeting(rule, rows, &vec![1; 5000], None), None);
        let rows = Rows { trays: 300, columns: 300 };
        assert!(meeting(rule, rows, &[1; 300], None).is_some());
    }
}
