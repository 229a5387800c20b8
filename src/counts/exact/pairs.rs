//! Sums over the pairs of two lists that stay below a limit.

use super::lists::{Entry, Masses, shift_for};

const STRETCHES_PER_ENTRY: usize = 8;
/// Two megabytes: what is in use of them stays in the processor's cache.
const MOST_STRETCHES: usize = 1 << 17;
/// Added to the place of a stretch that holds more than one entry: beyond all places, so that looking it up fails.
const CROWDED: u32 = 1 << 31;

/// A stretch of numbers that holds one entry at most.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    /// How far the entry it holds lies above the least of the list; more than any number if it holds none.
    first: u64,
    /// Number of entries below the stretch; if there are several in it, with [`CROWDED`].
    below: u32,
}

/// The list that is searched most, with a grid that leads to the place of a number.
#[derive(Debug)]
pub(super) struct Fine {
    masses: Masses,
    grid: Vec<Stretch>,
    shift: u32,
}

impl Fine {
    pub(super) fn of(masses: Masses) -> Self {
        let (least, width) = (masses.least(), masses.greatest() - masses.least());
        let shift = shift_for(width, (STRETCHES_PER_ENTRY * masses.len()).clamp(1, MOST_STRETCHES));
        let mut grid: Vec<Stretch> = Vec::with_capacity((width >> shift) as usize + 1);
        for (at, (steps, _)) in masses.entries().iter().enumerate() {
            let (stretch, below) = (((steps - least) >> shift) as usize, at as u32);
            match grid.get_mut(stretch) {
                Some(held) => held.below |= CROWDED,
                None => {
                    grid.resize(stretch, Stretch { first: u64::MAX, below });
                    grid.push(Stretch { first: (steps - least) as u64, below });
                }
            }
        }
        Self { masses, grid, shift }
    }

    /// Sum over `entries` of their mass times what this list holds up to `limit` less the entry.
    fn partners(&self, entries: &[Entry], limit: i64) -> f64 {
        let (grid, sums, shift) = (self.grid.as_slice(), self.masses.sums(), self.shift);
        let (most, total) = (limit - self.masses.least(), self.masses.total());
        let share = |(own, mass): &Entry| -> f64 {
            let left = most - own;
            let Some(Stretch { first, below }) = grid.get((left as u64 >> shift) as usize) else {
                return if left < 0 { 0.0 } else { mass * total };
            };
            let held = sums.get(*below as usize + usize::from(*first <= left as u64));
            mass * held.copied().unwrap_or_else(|| self.among_several(*below, limit - own))
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

    /// What the list holds up to `left`, which lies in a stretch with several entries.
    #[cold]
    #[inline(never)]
    fn among_several(&self, below: u32, left: i64) -> f64 {
        let below = (below & !CROWDED) as usize;
        let after = self.masses.entries().get(below..).unwrap_or_default();
        self.masses.sum_of_first(below + after.iter().take_while(|entry| entry.0 <= left).count())
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
            // Looking for the bounds costs more than the entries outside them when these are few.
            let mostly_inside = other.mostly_within(limit - own.greatest(), limit - own.least());
            let (all, some) = if mostly_inside { (0, other.len()) } else { bounds(other, own) };
            (complete(other, own, all) + self.partners(other.part(all, some), limit), 1 + (some - all) as u64)
        } else {
            let (all, some) = bounds(own, other);
            let walked: f64 = own.part(all, some).iter().map(|(steps, mass)| mass * other.up_to(limit - steps)).sum();
            (complete(own, other, all) + walked, 1 + (some - all) as u64)
        }
    }
}
