//! A resolvable design by interchange: two levels of different blocks of a replicate are exchanged where that raises the average
//! efficiency factor most, until no exchange does; then a few are exchanged at random and it begins anew (John and Williams 1995).

use ndarray::Array2;
use rand_chacha::ChaCha8Rng;

use super::design::{Resolvable, bound};
use crate::control::checkpoint;
use crate::math::rng::{below, deal};

/// Starts from drawn designs, and shakes of each.
const STARTS: usize = 10;
const SHAKES: usize = 30;
/// What an exchange has to take from the trace.
const GAIN: f64 = 1e-10;

/// The best design found; None where no start connects all levels.
pub(in crate::layout) fn found(
    rng: &mut ChaCha8Rng,
    levels: usize,
    sizes: &[usize],
    replicates: usize,
) -> Option<Resolvable> {
    let most = bound(levels, sizes, replicates);
    let mut best: Option<(Resolvable, f64)> = None;
    for _ in 0..STARTS {
        let Some(start) = connected(rng, levels, sizes, replicates) else { continue };
        let mut own = climbed(start);
        for _ in 0..SHAKES {
            checkpoint();
            let tried = climbed(shaken(rng, &own.0));
            if tried.1 > own.1 {
                own = tried;
            }
            if own.1 > most - 1e-9 {
                return Some(own.0);
            }
        }
        if best.as_ref().is_none_or(|(_, known)| own.1 > *known) {
            best = Some(own);
        }
    }
    best.map(|(design, _)| design)
}

fn connected(rng: &mut ChaCha8Rng, levels: usize, sizes: &[usize], replicates: usize) -> Option<Resolvable> {
    (0..50).find_map(|_| {
        let design = drawn(rng, levels, sizes, replicates);
        (sizes.len() < 2 || design.inverse().is_some()).then_some(design)
    })
}

fn drawn(rng: &mut ChaCha8Rng, levels: usize, sizes: &[usize], replicates: usize) -> Resolvable {
    let replicate = |rng: &mut ChaCha8Rng| {
        let mut order: Vec<usize> = (0..levels).collect();
        deal(rng, &mut order, levels);
        let mut left = order.into_iter();
        sizes.iter().map(|size| left.by_ref().take(*size).collect()).collect()
    };
    Resolvable { levels, replicates: (0..replicates).map(|_| replicate(rng)).collect() }
}

/// Three exchanges at random.
fn shaken(rng: &mut ChaCha8Rng, design: &Resolvable) -> Resolvable {
    let mut other = design.clone();
    for _ in 0..3 {
        let replicate = below(rng, other.replicates.len() as u32) as usize;
        let Some(blocks) = other.replicates.get(replicate).filter(|blocks| blocks.len() > 1) else { return other };
        let one = below(rng, blocks.len() as u32) as usize;
        let two = (one + 1 + below(rng, blocks.len() as u32 - 1) as usize) % blocks.len();
        let size = |at: usize| blocks.get(at).map_or(1, Vec::len) as u32;
        let places = (below(rng, size(one)) as usize, below(rng, size(two)) as usize);
        exchange(&mut other, Exchange { replicate, blocks: (one, two), places });
    }
    other
}

/// Two places of two blocks of a replicate.
#[derive(Debug, Clone, Copy)]
struct Exchange {
    replicate: usize,
    blocks: (usize, usize),
    places: (usize, usize),
}

fn exchange(design: &mut Resolvable, Exchange { replicate, blocks: (p, q), places: (i, j) }: Exchange) {
    let Some(blocks) = design.replicates.get_mut(replicate) else { return };
    let level = |block: usize, at: usize| blocks.get(block).and_then(|block| block.get(at)).copied();
    let (Some(one), Some(two)) = (level(p, i), level(q, j)) else { return };
    for (block, at, new) in [(p, i, two), (q, j, one)] {
        if let Some(slot) = blocks.get_mut(block).and_then(|block| block.get_mut(at)) {
            *slot = new;
        }
    }
}

/// Exchanges until none helps; with the efficiency factor reached.
fn climbed(mut design: Resolvable) -> (Resolvable, f64) {
    loop {
        let Some(inverse) = design.inverse() else { return (design, 0.0) };
        let trace = inverse.diag().sum();
        let known = Known::of(&design, inverse);
        match known.best_exchange(&design) {
            Some((change, gain)) if gain > GAIN => exchange(&mut design, change),
            _ => {
                let reached = design.efficiency_of(trace);
                return (design, reached);
            }
        }
    }
}

/// The inverse and its square with their products with blocks, from which every exchange is judged by a few sums.
struct Known {
    inverse: Array2<f64>,
    square: Array2<f64>,
    /// Products with the blocks' means, a column each.
    inverse_blocks: Array2<f64>,
    square_blocks: Array2<f64>,
    /// The same between blocks.
    inverse_between: Array2<f64>,
    square_between: Array2<f64>,
}

impl Known {
    fn of(design: &Resolvable, inverse: Array2<f64>) -> Self {
        let sizes: Vec<&Vec<usize>> = design.blocks().collect();
        let mut means = Array2::zeros((design.levels, sizes.len()));
        for (at, block) in sizes.iter().enumerate() {
            for level in *block {
                if let Some(slot) = means.get_mut([*level, at]) {
                    *slot = 1.0 / block.len() as f64;
                }
            }
        }
        let square = inverse.dot(&inverse);
        let (inverse_blocks, square_blocks) = (inverse.dot(&means), square.dot(&means));
        let (inverse_between, square_between) = (means.t().dot(&inverse_blocks), means.t().dot(&square_blocks));
        Self { inverse, square, inverse_blocks, square_blocks, inverse_between, square_between }
    }

    /// The exchange that takes most from the trace, and how much.
    fn best_exchange(&self, design: &Resolvable) -> Option<(Exchange, f64)> {
        let mut best: Option<(Exchange, f64)> = None;
        let mut before = 0;
        for (replicate, blocks) in design.replicates.iter().enumerate() {
            for (p, one) in blocks.iter().enumerate() {
                for (q, two) in blocks.iter().enumerate().skip(p + 1) {
                    let sizes = 1.0 / one.len() as f64 + 1.0 / two.len() as f64;
                    for (i, level) in one.iter().enumerate() {
                        for (j, other) in two.iter().enumerate() {
                            let gain = self.gain((*level, *other), (before + p, before + q), sizes);
                            if best.as_ref().is_none_or(|(_, known)| gain > *known) {
                                best = Some((Exchange { replicate, blocks: (p, q), places: (i, j) }, gain));
                            }
                        }
                    }
                }
            }
            before += blocks.len();
        }
        best
    }

    /// What the trace of the inverse loses when `i` of block `p` and `j` of block `q` change places.
    ///
    /// With `d = e_j - e_i` and `w` the difference of the blocks' means the information changes by `-(d w' + w d' + c d d')`, of rank two
    /// (`c` the sum of one over their sizes), so the inverse follows from four sums.
    fn gain(&self, (i, j): (usize, usize), (p, q): (usize, usize), c: f64) -> f64 {
        let products = |matrix: &Array2<f64>, blocks: &Array2<f64>, between: &Array2<f64>| {
            let dd = matrix[[i, i]] + matrix[[j, j]] - 2.0 * matrix[[i, j]];
            let dw = blocks[[j, p]] - blocks[[i, p]] - blocks[[j, q]] + blocks[[i, q]];
            let ww = between[[p, p]] + between[[q, q]] - 2.0 * between[[p, q]];
            (dd, dw, ww)
        };
        let (dgd, dgw, wgw) = products(&self.inverse, &self.inverse_blocks, &self.inverse_between);
        let (dhd, dhw, whw) = products(&self.square, &self.square_blocks, &self.square_between);
        let (a, b, d) = (dgd, dgw - 1.0, wgw + c);
        let determinant = a * d - b * b;
        if determinant >= -1e-12 {
            // The exchange would leave levels unconnected.
            return f64::NEG_INFINITY;
        }
        (d * dhd - 2.0 * b * dhw + a * whw) / determinant
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::incomplete::block_sizes;
    use crate::math::rng::stream;

    #[test]
    fn the_gain_of_an_exchange_is_what_happens() {
        for (levels, most) in [(13, 5), (12, 4)] {
            let sizes = block_sizes(levels, most);
            let mut rng = stream(2, levels as u64);
            let design = connected(&mut rng, levels, &sizes, 3).unwrap();
            let inverse = design.inverse().unwrap();
            let trace = inverse.diag().sum();
            let known = Known::of(&design, inverse);
            for (one, two) in [(0, 1), (0, 2), (1, 2)] {
                let (level, other) = (design.replicates[1][one][1], design.replicates[1][two][0]);
                let c = 1.0 / sizes[one] as f64 + 1.0 / sizes[two] as f64;
                let gain = known.gain((level, other), (sizes.len() + one, sizes.len() + two), c);
                let mut changed = design.clone();
                exchange(&mut changed, Exchange { replicate: 1, blocks: (one, two), places: (1, 0) });
                let after = changed.inverse().unwrap().diag().sum();
                assert!((trace - after - gain).abs() < 1e-9, "{gain} {}", trace - after);
            }
        }
    }

    /// Lattices are optimal, so the search has to reach their factors (see `design`).
    #[test]
    fn the_search_finds_what_is_known_to_be_best() {
        for (levels, k, r) in [(9, 3, 2), (9, 3, 3), (9, 3, 4), (16, 4, 2), (16, 4, 3), (25, 5, 2), (25, 5, 3)] {
            let sizes = block_sizes(levels, k);
            let design = found(&mut stream(1, levels as u64), levels, &sizes, r).unwrap();
            let most = bound(levels, &sizes, r);
            assert!((design.efficiency() - most).abs() < 1e-9, "{levels} {k} {r}: {} of {most}", design.efficiency());
        }
    }

    #[test]
    fn six_to_thirty_cultivars_on_benches_of_four_to_twelve() {
        for levels in [6, 11, 18, 24, 30] {
            for most in [4, 7, 12] {
                for (r, share) in [(2, 0.85), (3, 0.93)] {
                    let sizes = block_sizes(levels, most);
                    let design = found(&mut stream(0, 0), levels, &sizes, r).unwrap();
                    let (reached, best) = (design.efficiency(), bound(levels, &sizes, r));
                    assert!(reached <= best + 1e-9, "{levels} {sizes:?} {r}: {reached} above {best}");
                    assert!(reached >= share * best, "{levels} {sizes:?} {r}: {reached} of {best}");
                    for replicate in &design.replicates {
                        let mut all: Vec<usize> = replicate.iter().flatten().copied().collect();
                        all.sort_unstable();
                        assert_eq!(all, (0..levels).collect::<Vec<_>>());
                    }
                }
            }
        }
    }
}
