//! Sorted lists of table probabilities, and sums over pairs of them.

/// Logarithms of probabilities closer than this are one entry: rounding separates equal products by less, and the slack for
/// ties is a thousand times wider.
const MERGE: f64 = 1e-10;

/// Probabilities of parts of a table, the least probable first: their logarithm and how much probability they hold together.
#[derive(Debug, Clone, Default)]
pub(super) struct Masses {
    ln: Vec<f64>,
    mass: Vec<f64>,
    /// Each logarithm with the sum of the masses before it; closed by infinity with the sum of all.
    steps: Vec<(f64, f64)>,
    /// Where the entries of each stretch of the logarithm begin.
    grid: Vec<u32>,
    per_unit: f64,
}

impl Masses {
    /// The list of a part without columns.
    pub(super) fn nothing() -> Self {
        Self::sorted(vec![(0.0, 1.0)])
    }

    /// Sorts, and merges equal probabilities.
    pub(super) fn sorted(mut entries: Vec<(f64, f64)>) -> Self {
        entries.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let mut found = Self::default();
        for (ln, mass) in entries {
            match (found.ln.last(), found.mass.last_mut()) {
                (Some(last), Some(sum)) if ln - last < MERGE => *sum += mass,
                _ => {
                    found.ln.push(ln);
                    found.mass.push(mass);
                }
            }
        }
        found.ln.shrink_to_fit();
        found.mass.shrink_to_fit();
        found.index();
        found
    }

    fn index(&mut self) {
        let mut sum = 0.0;
        self.steps.reserve_exact(self.ln.len() + 1);
        for (ln, mass) in self.ln.iter().zip(&self.mass) {
            self.steps.push((*ln, sum));
            sum += mass;
        }
        self.steps.push((f64::INFINITY, sum));
        (self.per_unit, self.grid) = self.grid(2 * self.ln.len());
    }

    /// Stretches per unit of the logarithm, and the first entry that belongs to each stretch or a later one.
    fn grid(&self, stretches: usize) -> (f64, Vec<u32>) {
        let width = self.greatest() - self.least();
        let per_unit = if width > 0.0 { stretches as f64 / width } else { 0.0 };
        let mut grid = Vec::with_capacity(stretches + 1);
        for (at, ln) in self.ln.iter().enumerate() {
            let stretch = ((ln - self.least()) * per_unit) as usize;
            while grid.len() <= stretch {
                grid.push(at as u32);
            }
        }
        (per_unit, grid)
    }

    pub(super) fn len(&self) -> usize {
        self.ln.len()
    }

    pub(super) fn is_empty(&self) -> bool {
        self.ln.is_empty()
    }

    #[inline]
    pub(super) fn least(&self) -> f64 {
        self.ln.first().copied().unwrap_or(f64::INFINITY)
    }

    #[inline]
    pub(super) fn greatest(&self) -> f64 {
        self.ln.last().copied().unwrap_or(f64::NEG_INFINITY)
    }

    fn total(&self) -> f64 {
        self.steps.last().map_or(0.0, |step| step.1)
    }

    /// Number of entries whose logarithm is at most `limit`.
    fn count_up_to(&self, limit: f64) -> usize {
        self.ln.partition_point(|ln| *ln <= limit)
    }

    fn sum_of_first(&self, count: usize) -> f64 {
        self.steps.get(count).map_or(0.0, |step| step.1)
    }

    /// Probability held by entries at most `limit`.
    #[inline]
    pub(super) fn up_to(&self, limit: f64) -> f64 {
        // A limit below the list falls into the first stretch, one above it behind the last.
        let start = self
            .grid
            .get(((limit - self.least()) * self.per_unit) as usize)
            .map_or(self.ln.len(), |start| *start as usize);
        let steps = self.steps.get(start..).unwrap_or_default();
        steps.iter().find(|step| step.0 > limit).map_or(0.0, |step| step.1)
    }

    pub(super) fn entries(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.ln.iter().copied().zip(self.mass.iter().copied())
    }

    fn part(&self, from: usize, to: usize) -> impl Iterator<Item = (f64, f64)> + '_ {
        let to = to.max(from);
        let ln = self.ln.get(from..to).unwrap_or_default();
        let mass = self.mass.get(from..to).unwrap_or_default();
        ln.iter().copied().zip(mass.iter().copied())
    }

    /// Entries above `low` and at most `high`.
    pub(super) fn between(&self, low: f64, high: f64) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.part(self.count_up_to(low), self.count_up_to(high))
    }
}

/// The list that is searched most, with a finer grid.
#[derive(Debug)]
pub(super) struct Fine<'a> {
    masses: &'a Masses,
    per_unit: f64,
    grid: Vec<u32>,
}

const TWO_TO_52: f64 = 4_503_599_627_370_496.0;
const STRETCHES_PER_ENTRY: usize = 4;
/// Half a megabyte stays in the processor's cache.
const MOST_STRETCHES: usize = 1 << 16;

impl<'a> Fine<'a> {
    pub(super) fn of(masses: &'a Masses) -> Self {
        let stretches = (STRETCHES_PER_ENTRY * masses.len()).clamp(1, MOST_STRETCHES);
        let (per_unit, mut grid) = masses.grid(stretches);
        // One stretch more in front: places are rounded up by nearly one.
        grid.insert(0, 0);
        Self { masses, per_unit, grid }
    }

    /// Sum over `entries` of their mass times what this list holds up to `limit` less their logarithm, none of which is below
    /// the list.
    fn partners(&self, entries: impl Iterator<Item = (f64, f64)>, limit: f64) -> f64 {
        let (grid, steps) = (self.grid.as_slice(), self.masses.steps.as_slice());
        let per_unit = self.per_unit;
        let origin = (limit - self.masses.least()) * per_unit + 0.49;
        let mut sum = 0.0;
        for (ln, mass) in entries {
            // Adding 2^52 leaves the nearest whole number in the low bits. It names the stretch of the limit or one before it.
            let stretch = ((origin - ln * per_unit) + TWO_TO_52).to_bits() & 0xffff_ffff;
            let start = grid.get(stretch as usize).map_or(steps.len(), |start| *start as usize);
            let own_limit = limit - ln;
            // Most stretches hold one entry at most: a comparison without a branch, then a check that rarely fails.
            let passed = steps.get(start).is_some_and(|step| step.0 <= own_limit);
            sum += mass
                * match steps.get(start + usize::from(passed)) {
                    Some(step) if step.0 > own_limit => step.1,
                    _ => after(steps.get(start..).unwrap_or_default(), own_limit, self.masses.total()),
                };
        }
        sum
    }

    /// Sum of the products of masses over all pairs whose logarithms sum to at most `limit`, and the steps it took.
    pub(super) fn pairs_up_to(&self, other: &Masses, limit: f64) -> (f64, u64) {
        let own = self.masses;
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
            let walked: f64 = own.part(all, some).map(|(ln, mass)| mass * other.up_to(limit - ln)).sum();
            (complete(own, other, all) + walked, 1 + (some - all) as u64)
        }
    }
}

/// What stands before the first of `steps` above `limit`.
#[cold]
fn after(steps: &[(f64, f64)], limit: f64, all: f64) -> f64 {
    steps.iter().find(|step| step.0 > limit).map_or(all, |step| step.1)
}
