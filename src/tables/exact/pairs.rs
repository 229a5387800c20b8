//! Sums over the pairs of two lists that stay below a limit.

use super::lists::{Entry, Masses, shift_for};

const STRETCHES_PER_ENTRY: usize = 4;
/// Half a megabyte stays in the processor's cache.
const MOST_STRETCHES: usize = 1 << 17;

/// The list that is searched most, with a grid that leads to the place of a number.
#[derive(Debug)]
pub(super) struct Fine {
    masses: Masses,
    /// Each entry with the sum of the masses before it; closed by two impossible ones with the sum of all.
    steps: Vec<Entry>,
    /// The first entry that belongs to each stretch or a later one.
    grid: Vec<u32>,
    shift: u32,
}

impl Fine {
    pub(super) fn of(masses: Masses) -> Self {
        let (least, width) = (masses.least(), masses.greatest() - masses.least());
        let shift = shift_for(width, (STRETCHES_PER_ENTRY * masses.len()).clamp(1, MOST_STRETCHES));
        let mut grid = Vec::with_capacity((width >> shift) as usize + 1);
        for (at, (steps, _)) in masses.entries().iter().enumerate() {
            let stretch = ((steps - least) >> shift) as usize;
            while grid.len() <= stretch {
                grid.push(at as u32);
            }
        }
        let steps = masses.steps().chain([(i64::MAX, masses.total()); 2]).collect();
        Self { masses, steps, grid, shift }
    }

    /// Sum over `entries` of their mass times what this list holds up to `limit` less the entry, which is inside the list.
    fn partners(&self, entries: &[Entry], limit: i64) -> f64 {
        let (grid, steps, shift) = (self.grid.as_slice(), self.steps.as_slice(), self.shift);
        let least = self.masses.least();
        let share = |(own, mass): &Entry| -> f64 {
            let left = limit - own;
            let stretch = (left.wrapping_sub(least) as u64 >> shift) as usize;
            let start = grid.get(stretch).map_or(usize::MAX, |start| *start as usize);
            let Some([first, second]) = steps.get(start..).and_then(|steps| steps.first_chunk()) else { return 0.0 };
            // Most stretches hold one entry at most: a choice without a branch, then a check that rarely fails.
            let held = *if first.0 > left { &first.1 } else { &second.1 };
            mass * if second.0 > left { held } else { before(steps, start, left) }
        };
        // Four sums that do not wait for each other.
        let (fours, rest) = entries.as_chunks::<4>();
        let mut sums = [0.0; 4];
        for four in fours {
            for (sum, entry) in sums.iter_mut().zip(four) {
                *sum += share(entry);
            }
        }
        sums.iter().sum::<f64>() + rest.iter().map(share).sum::<f64>()
    }

    /// Sum of the products of masses over all pairs that sum to at most `limit`, and the entries it went through.
    pub(super) fn pairs_up_to(&self, other: &Masses, limit: i64) -> (f64, u64) {
        let own = &self.masses;
        if own.greatest() + other.greatest() <= limit {
            return (own.total() * other.total(), 1);
        }
        if own.least() + other.least() > limit {
            return (0.0, 1);
        }
        // Every partner fits for the first entries, none for the last.
        let bounds = |short: &Masses, long: &Masses| {
            let all = short.count_up_to(limit - long.greatest());
            (all, short.count_up_to(limit - long.least()).max(all))
        };
        let complete = |short: &Masses, long: &Masses, all: usize| short.sum_of_first(all) * long.total();
        if other.len() <= 4 * own.len() {
            let (all, some) = bounds(other, own);
            (complete(other, own, all) + self.partners(other.part(all, some), limit), 1 + (some - all) as u64)
        } else {
            let (all, some) = bounds(own, other);
            let walked: f64 = own.part(all, some).iter().map(|(steps, mass)| mass * other.up_to(limit - steps)).sum();
            (complete(own, other, all) + walked, 1 + (some - all) as u64)
        }
    }
}

/// What stands before the first of `steps` above `limit`.
#[cold]
fn before(steps: &[Entry], start: usize, limit: i64) -> f64 {
    steps.get(start..).unwrap_or_default().iter().find(|step| step.0 > limit).map_or(0.0, |step| step.1)
}
