//! Sorted lists of table probabilities.
//!
//! What orders the tables of given margins is the product of the factorials of their counts. Its logarithm is kept as a whole
//! number of small steps, the same for equal products: parts of tables are joined by adding, equal ones merge, and a shift finds
//! the stretch of a list that a number falls into.

/// Entries per bucket when a list is sorted.
const PER_BUCKET: usize = 2;

/// Minus the sum of ln of the factorials of all counts, in steps, and the probability of such tables together.
pub(super) type Entry = (i64, f64);

/// Probabilities of parts of a table, the least probable first.
#[derive(Debug, Clone, Default)]
pub(super) struct Masses {
    entries: Vec<Entry>,
    /// Sum of the masses before each entry, and of all.
    sums: Vec<f64>,
    /// Place of each entry in a [`Dictionary`], where there is one.
    places: Vec<u32>,
}

impl Masses {
    /// The list of a part without columns.
    pub(super) fn nothing() -> Self {
        Self::of_sorted(vec![(0, 1.0)])
    }

    /// Sorts, and sums equal entries.
    pub(super) fn sorted(entries: &[Entry], sorting: &mut Sorting) -> Self {
        let sorted = sorting.sort(entries);
        let equal = || sorted.chunk_by(|a, b| a.0 == b.0);
        let mut merged = Vec::with_capacity(equal().count());
        merged.extend(equal().filter_map(|some| some.first().map(|one| (one.0, some.iter().map(|one| one.1).sum()))));
        Self::of_sorted(merged)
    }

    fn of_sorted(entries: Vec<Entry>) -> Self {
        let mut sums = Vec::with_capacity(entries.len() + 1);
        let mut sum = 0.0;
        sums.push(sum);
        for (_, mass) in &entries {
            sum += mass;
            sums.push(sum);
        }
        Self { entries, sums, places: Vec::new() }
    }

    pub(super) fn len(&self) -> usize {
        self.entries.len()
    }

    pub(super) fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    #[inline]
    pub(super) fn least(&self) -> i64 {
        self.entries.first().map_or(0, |entry| entry.0)
    }

    #[inline]
    pub(super) fn greatest(&self) -> i64 {
        self.entries.last().map_or(0, |entry| entry.0)
    }

    pub(super) fn total(&self) -> f64 {
        self.sums.last().copied().unwrap_or(0.0)
    }

    /// Number of entries up to `limit`.
    #[inline]
    pub(super) fn count_up_to(&self, limit: i64) -> usize {
        self.entries.partition_point(|entry| entry.0 <= limit)
    }

    pub(super) fn sum_of_first(&self, count: usize) -> f64 {
        self.sums.get(count).copied().unwrap_or(0.0)
    }

    /// Probability held by entries up to `limit`.
    pub(super) fn up_to(&self, limit: i64) -> f64 {
        self.sum_of_first(self.count_up_to(limit))
    }

    pub(super) fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// Sum of the masses before each entry, and of all.
    pub(super) fn sums(&self) -> &[f64] {
        &self.sums
    }

    /// True when at least three quarters of the entries lie above `low` and up to `high`.
    pub(super) fn mostly_within(&self, low: i64, high: i64) -> bool {
        let eighth = self.entries.len() / 8;
        let holds = |at: usize, is: &dyn Fn(i64) -> bool| self.entries.get(at).is_some_and(|entry| is(entry.0));
        holds(eighth, &|steps| steps > low)
            && holds(self.entries.len().saturating_sub(1 + eighth), &|steps| steps <= high)
    }

    pub(super) fn part(&self, from: usize, to: usize) -> &[Entry] {
        self.entries.get(from..to.max(from)).unwrap_or_default()
    }
}

/// Room to sort in, kept from list to list.
#[derive(Debug, Default)]
pub(super) struct Sorting {
    starts: Vec<u32>,
    sorted: Vec<Entry>,
}

impl Sorting {
    /// Sorts into buckets of equal width first, then within them.
    fn sort(&mut self, entries: &[Entry]) -> &[Entry] {
        let least = entries.iter().map(|entry| entry.0).min().unwrap_or(0);
        let greatest = entries.iter().map(|entry| entry.0).max().unwrap_or(0);
        let shift = shift_for(greatest - least, entries.len() / PER_BUCKET + 1);
        let bucket = |entry: &Entry| ((entry.0 - least) >> shift) as usize;
        self.starts.clear();
        self.starts.resize(((greatest - least) >> shift) as usize + 2, 0);
        for entry in entries {
            if let Some(count) = self.starts.get_mut(bucket(entry) + 1) {
                *count += 1;
            }
        }
        let mut sum = 0;
        for start in &mut self.starts {
            sum += *start;
            *start = sum;
        }
        self.sorted.clear();
        self.sorted.resize(entries.len(), (0, 0.0));
        for entry in entries {
            let Some(start) = self.starts.get_mut(bucket(entry)) else { continue };
            if let Some(place) = self.sorted.get_mut(*start as usize) {
                *place = *entry;
            }
            *start += 1;
        }
        // Each start has moved on to the end of its bucket.
        let mut from = 0;
        for end in &self.starts {
            let end = *end as usize;
            if end > from + 1
                && let Some(part) = self.sorted.get_mut(from..end)
            {
                part.sort_unstable_by_key(|entry| entry.0);
            }
            from = from.max(end);
        }
        &self.sorted
    }
}

/// The shift that cuts `width` into at most about `parts` stretches.
pub(super) fn shift_for(width: i64, parts: usize) -> u32 {
    let bits = i64::BITS - width.leading_zeros();
    bits.saturating_sub(parts.next_power_of_two().trailing_zeros())
}

/// All different entries of a layer, in rising order.
#[derive(Debug, Default)]
pub(super) struct Dictionary(Vec<i64>);

impl Dictionary {
    /// Of these lists, which learn their places in it; `None` when it would hold more than `most`.
    pub(super) fn of<'a>(lists: impl Iterator<Item = &'a mut Masses>, most: usize) -> Option<Self> {
        let mut lists: Vec<&mut Masses> = lists.collect();
        let mut all: Vec<i64> = Vec::new();
        for list in &lists {
            if all.len() + list.len() > 2 * most {
                all.sort_unstable();
                all.dedup();
            }
            all.extend(list.entries.iter().map(|entry| entry.0));
            if all.len() > 4 * most {
                return None;
            }
        }
        all.sort_unstable();
        all.dedup();
        for list in &mut lists {
            // Both rise: each search begins where the last one ended.
            let mut at = 0;
            let place = |(steps, _): &Entry| {
                at += places_below(all.get(at..).unwrap_or_default(), *steps);
                at as u32
            };
            list.places = list.entries.iter().map(place).collect();
        }
        (all.len() <= most).then_some(Self(all))
    }
}

/// Number of entries below `steps`, sought in growing strides.
fn places_below(entries: &[i64], steps: i64) -> usize {
    let mut stride = 1;
    while entries.get(stride).is_some_and(|entry| *entry < steps) {
        stride *= 2;
    }
    let from = stride / 2;
    let part = entries.get(from..entries.len().min(stride + 1)).unwrap_or_default();
    from + part.partition_point(|entry| *entry < steps)
}

/// Where lists are added up: one mass for each entry of a dictionary.
#[derive(Debug)]
pub(super) struct Board<'a> {
    dictionary: &'a Dictionary,
    masses: Vec<f64>,
    from: usize,
    to: usize,
}

impl<'a> Board<'a> {
    pub(super) fn of(dictionary: &'a Dictionary) -> Self {
        Self { dictionary, masses: vec![0.0; dictionary.0.len()], from: usize::MAX, to: 0 }
    }

    /// Adds the entries of a list above `low` and up to `high`, times `weight`; returns how many.
    pub(super) fn add(&mut self, list: &Masses, (low, high): (i64, i64), weight: f64) -> u64 {
        let (from, to) = (list.count_up_to(low), list.count_up_to(high));
        let places = list.places.get(from..to).unwrap_or_default();
        let (Some(first), Some(last)) = (places.first(), places.last()) else { return 0 };
        self.from = self.from.min(*first as usize);
        self.to = self.to.max(*last as usize + 1);
        for (place, (_, mass)) in places.iter().zip(list.part(from, to)) {
            if let Some(held) = self.masses.get_mut(*place as usize) {
                *held += mass * weight;
            }
        }
        places.len() as u64
    }

    /// All that was added; the board is empty again.
    pub(super) fn take(&mut self) -> Masses {
        let range = self.from.min(self.to)..self.to;
        let order = self.dictionary.0.get(range.clone()).unwrap_or_default();
        let held = self.masses.get_mut(range).unwrap_or_default();
        let mut entries = Vec::with_capacity(held.iter().filter(|mass| **mass > 0.0).count());
        for (steps, mass) in order.iter().zip(held) {
            if *mass > 0.0 {
                entries.push((*steps, std::mem::take(mass)));
            }
        }
        (self.from, self.to) = (usize::MAX, 0);
        Masses::of_sorted(entries)
    }
}
