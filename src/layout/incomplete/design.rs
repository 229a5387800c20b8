//! Replicates of blocks, what they keep of the information of complete blocks, and the most that any could.

use ndarray::Array2;

use crate::math::dense::Cholesky;

/// Levels by replicate and block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::layout) struct Resolvable {
    pub(in crate::layout) levels: usize,
    pub(in crate::layout) replicates: Vec<Vec<Vec<usize>>>,
}

/// Sizes of the fewest blocks of at most `most` trays that hold all levels, as even as can be.
pub(in crate::layout) fn block_sizes(levels: usize, most: usize) -> Vec<usize> {
    let blocks = levels.div_ceil(most.max(1)).max(1);
    (0..blocks).map(|at| levels / blocks + usize::from(at < levels % blocks)).collect()
}

impl Resolvable {
    /// All blocks, replicate by replicate.
    pub(super) fn blocks(&self) -> impl Iterator<Item = &Vec<usize>> {
        self.replicates.iter().flatten()
    }

    /// `r I - N K^-1 N' + J / v`: the information on levels within blocks, with the direction of their sum filled in.
    pub(super) fn information(&self) -> Array2<f64> {
        let (v, r) = (self.levels, self.replicates.len() as f64);
        let mut found = Array2::from_elem((v, v), 1.0 / v as f64);
        found.diag_mut().iter_mut().for_each(|slot| *slot += r);
        for block in self.blocks() {
            for one in block {
                for other in block {
                    if let Some(slot) = found.get_mut([*one, *other]) {
                        *slot -= 1.0 / block.len() as f64;
                    }
                }
            }
        }
        found
    }

    /// The inverse of that; None where some levels are not connected.
    pub(super) fn inverse(&self) -> Option<Array2<f64>> {
        let information = self.information();
        let rows: Vec<Vec<f64>> = information.rows().into_iter().map(|row| row.to_vec()).collect();
        let root = Cholesky::new(&rows).filter(|root| root.smallest_share() > 1e-9)?;
        let inverse = root.inverse();
        Some(Array2::from_shape_fn((self.levels, self.levels), |(i, j)| {
            inverse.get(i).and_then(|row| row.get(j)).copied().unwrap_or_default()
        }))
    }

    /// Average efficiency factor: the harmonic mean of the canonical ones; 0 where levels are not connected.
    pub(in crate::layout) fn efficiency(&self) -> f64 {
        self.inverse().map_or(0.0, |inverse| self.efficiency_of(inverse.diag().sum()))
    }

    /// The same from the trace of the inverse.
    pub(super) fn efficiency_of(&self, trace: f64) -> f64 {
        (self.levels as f64 - 1.0) / (self.replicates.len() as f64 * (trace - 1.0))
    }

    /// Fewest and most blocks that two levels share.
    pub(in crate::layout) fn together(&self) -> (u64, u64) {
        let mut shared = Array2::<u64>::zeros((self.levels, self.levels));
        for block in self.blocks() {
            for one in block {
                for other in block {
                    if let Some(slot) = shared.get_mut([*one, *other]) {
                        *slot += 1;
                    }
                }
            }
        }
        let pairs = || shared.indexed_iter().filter(|((i, j), _)| i < j).map(|(_, n)| *n);
        (pairs().min().unwrap_or(0), pairs().max().unwrap_or(0))
    }
}

/// What no resolvable design of `levels` in `replicates` with blocks of these sizes exceeds.
///
/// Of the `v - 1` canonical factors at most `r (s - 1)` differ from 1, and all of them sum to `v - s` (Patterson and Williams 1976). Blocks
/// share whole numbers of levels, so those factors cannot all be alike, and their harmonic mean lies below its value at the least
/// variance that this leaves (Jarrett 1977; John and Williams 1995); the same holds of pairs of levels, which share whole numbers of
/// blocks.
pub(in crate::layout) fn bound(levels: usize, sizes: &[usize], replicates: usize) -> f64 {
    let (v, s, r) = (levels as f64, sizes.len() as f64, replicates as f64);
    if sizes.len() < 2 {
        return 1.0;
    }
    let deviating = (r * (s - 1.0)).min(v - 1.0);
    let mean = 1.0 - (s - 1.0) / deviating;
    let overall = |one: f64| if one > 0.0 { (v - 1.0) / (v - 1.0 - deviating + deviating / one) } else { 0.0 };
    let mut least = overall(mean);
    if r * (s - 1.0) <= v - 1.0 {
        // Squares of what blocks share, over their sizes, as small as whole numbers let them be.
        let shared: f64 = sizes.iter().map(|size| least_shared(*size, sizes) / *size as f64).sum();
        let squares = (s / r + (r - 1.0) * shared / r - 1.0) - deviating * (1.0 - mean).powi(2);
        least = least.min(overall(below(mean, deviating, squares)));
    }
    if sizes.first() == sizes.last() {
        let (k, all) = (v / s, (v - s) / (v - 1.0));
        let odd = (r * (k - 1.0)) % (v - 1.0);
        let squares = v * odd * (v - 1.0 - odd) / ((v - 1.0) * (r * k).powi(2));
        least = least.min(below(all, v - 1.0, squares));
    }
    least
}

/// The least sum of squares over sizes that a block of `size` levels can have in common with the blocks of another replicate: each level
/// goes to the block where it adds least.
fn least_shared(size: usize, sizes: &[usize]) -> f64 {
    let mut shared = vec![0_u32; sizes.len()];
    let mut sum = 0.0;
    for _ in 0..size {
        let added = |(slot, size): &(&mut u32, &usize)| (2.0 * f64::from(**slot) + 1.0) / **size as f64;
        let next = shared.iter_mut().zip(sizes).min_by(|one, other| added(one).total_cmp(&added(other)));
        if let Some((slot, own)) = next {
            sum += (2.0 * f64::from(*slot) + 1.0) / *own as f64;
            *slot += 1;
        }
    }
    sum
}

/// The largest harmonic mean of `n` numbers with this mean and this sum of squares about it: all but one of them alike and below the mean.
fn below(mean: f64, n: f64, squares: f64) -> f64 {
    if n < 2.0 || squares <= 0.0 {
        return mean;
    }
    let step = (squares / (n * (n - 1.0))).sqrt();
    mean - (n - 1.0) * step * step / (mean + (n - 2.0) * step)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square lattice of k x k levels: rows, columns, and squares of signs for k prime.
    fn lattice(k: usize, replicates: usize) -> Resolvable {
        let replicate = |at: usize| -> Vec<Vec<usize>> {
            (0..k)
                .map(|block| {
                    let member = |row: usize, column: usize| match at {
                        0 => row == block,
                        at => (column + (at - 1) * row) % k == block,
                    };
                    (0..k * k).filter(|level| member(level / k, level % k)).collect()
                })
                .collect()
        };
        Resolvable { levels: k * k, replicates: (0..replicates).map(replicate).collect() }
    }

    /// Efficiency factors of square lattices (Yates 1936; Cochran and Cox 1957, chapter 10; from memory): simple (k+1)/(k+3), triple
    /// (2k+2)/(2k+5), balanced k/(k+1); in general (k+1)(r-1) / ((k+1)(r-1) + r).
    #[test]
    fn lattices_have_their_published_factors() {
        for k in [3_usize, 5, 7] {
            let size = k as f64;
            for (r, wanted) in [
                (2, (size + 1.0) / (size + 3.0)),
                (3, (2.0 * size + 2.0) / (2.0 * size + 5.0)),
                (k + 1, size / (size + 1.0)),
            ] {
                let design = lattice(k, r);
                assert!((design.efficiency() - wanted).abs() < 1e-12, "{k} {r} {} {wanted}", design.efficiency());
                // A lattice is optimal: it reaches the bound.
                assert!((bound(k * k, &vec![k; k], r) - wanted).abs() < 1e-12, "{k} {r}");
            }
        }
    }

    /// Fifteen levels in blocks of three over seven replicates, each pair together once (Kirkman 1850): v (k-1) / (k (v-1)) = 5/7.
    #[test]
    fn the_bound_of_a_balanced_design_is_its_factor() {
        assert!((bound(15, &[3; 5], 7) - 5.0 / 7.0).abs() < 1e-12);
    }

    #[test]
    fn what_does_not_connect_has_no_efficiency() {
        let rows = lattice(3, 1).replicates[0].clone();
        assert_eq!(Resolvable { levels: 9, replicates: vec![rows.clone(), rows] }.efficiency(), 0.0);
    }

    #[test]
    fn blocks_are_as_even_as_can_be() {
        assert_eq!(block_sizes(13, 6), [5, 4, 4]);
        assert_eq!(block_sizes(6, 12), [6]);
        assert_eq!(block_sizes(24, 6), [6; 4]);
    }
}
