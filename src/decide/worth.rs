//! What counts that are still to come are worth: the gain of choosing after them, less that of choosing now.

/// A worth by draws, with its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worth {
    /// Mean gain of choosing after the counts, less that of choosing now.
    pub value: f64,
    /// Its standard error by the draws.
    pub error: f64,
    /// The share of draws in which another choice is made.
    pub chance_other: f64,
}

/// What it is worth to see `seen` before choosing. `gains` and `seen` hold a list of draws for each choice: what it brings in truth, and what would
/// be counted of it; `now` is the choice made without.
///
/// After the counts the choice is that of the highest mean gain given its own count. That mean is the isotonic regression of gains on counts over
/// draws, since more counted never means that less is to be expected. The draws fall into two halves, and each is judged by the means of the
/// other, so that no draw speaks for itself; what is found is then the worth of a way of choosing that could be followed, and not more than the
/// worth of the best one.
///
/// # References
/// Raiffa and Schlaifer 1961, Applied Statistical Decision Theory, chapters 4 and 5 (preposterior analysis); Barlow, Bartholomew, Bremner and Brunk
/// 1972, Statistical Inference under Order Restrictions.
///
/// ```
/// use rootling::decide::worth_of_counts;
/// // Two choices that are worth 0 or 1 by the toss of a coin, seen without error: knowing brings 3/4, choosing now 1/2.
/// let toss = |bit: u32| -> Vec<f64> { (0..4000_u32).map(|draw| f64::from(draw >> bit & 1)).collect() };
/// let gains = [toss(1), toss(2)];
/// let found = worth_of_counts(&gains, &gains, 0);
/// approx::assert_abs_diff_eq!(found.value, 0.25, epsilon = 1e-12);
/// ```
#[must_use]
pub fn worth_of_counts(gains: &[Vec<f64>], seen: &[Vec<f64>], now: usize) -> Worth {
    let draws = gains.first().map_or(0, Vec::len);
    // What each half expects of a choice by its count.
    let rules: Vec<[Rising; 2]> = gains
        .iter()
        .zip(seen)
        .map(|(gain, count)| [0, 1].map(|half| Rising::of(every_other(count, half), every_other(gain, half))))
        .collect();
    let (mut sum, mut squares, mut others) = (0.0, 0.0, 0.0);
    for draw in 0..draws {
        let expected = |(rule, count): (&[Rising; 2], &Vec<f64>)| -> f64 {
            let by_the_other = rule.get((draw + 1) % 2);
            by_the_other.zip(count.get(draw)).map_or(f64::NEG_INFINITY, |(rule, count)| rule.at(*count))
        };
        let each = rules.iter().zip(seen).map(expected);
        let stay = rules.get(now).zip(seen.get(now)).map_or(f64::NEG_INFINITY, expected);
        let (chosen, most) = each.enumerate().fold((now, stay), |best, one| if one.1 > best.1 { one } else { best });
        if chosen == now || most <= stay {
            continue;
        }
        let gain = |choice: usize| gains.get(choice).and_then(|all| all.get(draw)).copied().unwrap_or_default();
        let more = gain(chosen) - gain(now);
        sum += more;
        squares += more * more;
        others += 1.0;
    }
    let count = draws as f64;
    let value = sum / count;
    let variance = (squares / count - value * value).max(0.0);
    Worth { value, error: (variance / count).sqrt(), chance_other: others / count }
}

fn every_other(values: &[f64], half: usize) -> impl Iterator<Item = f64> {
    values.iter().copied().skip(half).step_by(2)
}

/// A mean that rises with a count: knots, between which it is drawn straight.
#[derive(Debug, Clone, Default)]
struct Rising {
    knots: Vec<Knot>,
}

#[derive(Debug, Clone, Copy)]
struct Knot {
    weight: f64,
    count: f64,
    mean: f64,
}

impl Knot {
    fn with(self, other: Self) -> Self {
        let weight = self.weight + other.weight;
        let between = |one: f64, two: f64| (self.weight * one + other.weight * two) / weight;
        Self { weight, count: between(self.count, other.count), mean: between(self.mean, other.mean) }
    }
}

impl Rising {
    /// The isotonic regression, by pooling neighbours that fall.
    fn of(counts: impl Iterator<Item = f64>, values: impl Iterator<Item = f64>) -> Self {
        let mut pairs: Vec<(f64, f64)> = counts.zip(values).collect();
        pairs.sort_by(|one, other| one.0.total_cmp(&other.0));
        let mut knots: Vec<Knot> = Vec::new();
        for (count, mean) in pairs {
            let one = Knot { weight: 1.0, count, mean };
            match knots.last_mut() {
                // Sorted, so that one not above is the same count.
                Some(last) if last.count >= count => *last = last.with(one),
                _ => knots.push(one),
            }
        }
        let mut rising: Vec<Knot> = Vec::with_capacity(knots.len());
        for mut one in knots {
            while let Some(last) = rising.pop_if(|last| last.mean >= one.mean) {
                one = last.with(one);
            }
            rising.push(one);
        }
        Self { knots: rising }
    }

    /// The mean at a count.
    fn at(&self, count: f64) -> f64 {
        let next = self.knots.partition_point(|knot| knot.count < count);
        let (before, after) = (next.checked_sub(1).and_then(|at| self.knots.get(at)), self.knots.get(next));
        match (before, after) {
            (Some(low), Some(high)) => {
                low.mean + (high.mean - low.mean) * (count - low.count) / (high.count - low.count)
            }
            (Some(one), None) | (None, Some(one)) => one.mean,
            (None, None) => f64::NEG_INFINITY,
        }
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::{Rising, worth_of_counts};
    use crate::math::distributions::normal;
    use crate::math::rng::{beta, binomial, deviate, stream};

    #[test]
    fn two_normal_means_have_the_worth_of_the_unit_normal_loss() {
        // Raiffa and Schlaifer 1961, section 5.7: s* (phi(u) - u sf(u)) with s*^2 = s^4 / (s^2 + v) and u = |d| / s*. One choice is known to bring 0.
        let draws = 800_000_u64;
        for (d, s, v) in [(0.3, 1.0, 0.5), (1.0, 1.0, 1.0), (-0.5, 2.0, 9.0), (0.0, 1.0, 0.1)] {
            let both: Vec<(f64, f64)> = (0..draws)
                .map(|draw| {
                    let random = &mut stream(3, draw);
                    let truth = d + s * deviate(random);
                    (truth, truth + f64::sqrt(v) * deviate(random))
                })
                .collect();
            let (truth, seen): (Vec<f64>, Vec<f64>) = both.into_iter().unzip();
            let nothing = vec![0.0; truth.len()];
            let now = usize::from(d > 0.0);
            let found = worth_of_counts(&[nothing.clone(), truth], &[nothing, seen], now);
            let star = s * s / f64::sqrt(s * s + v);
            let u: f64 = f64::abs(d) / star;
            let wanted = star * ((-0.5 * u * u).exp() / (2.0 * std::f64::consts::PI).sqrt() - u * normal::sf(u));
            let off = (found.value - wanted).abs();
            assert!(off < 3.5 * found.error, "{d} {s} {v}: {} of {wanted}, error {}", found.value, found.error);
            assert!(found.error < 0.02 * wanted);
        }
    }

    #[test]
    fn two_betas_and_binomial_counts_have_the_worth_of_their_sums() {
        // tests/reference/make/next_trial.py, scipy 1.17: sums of the larger of two posterior means over both beta-binomial laws.
        let draws = 200_000_u64;
        let beta_of = |at: usize| [(12.0, 8.0), (10.0, 9.0)][at];
        let each: Vec<[(f64, f64); 2]> = (0..draws)
            .map(|draw| {
                let random = &mut stream(5, draw);
                [0, 1].map(|at| {
                    let (a, b) = beta_of(at);
                    let take = beta(random, a, b);
                    (take, binomial(random, 30, take) as f64)
                })
            })
            .collect();
        let of =
            |at: usize, part: fn(&(f64, f64)) -> f64| -> Vec<f64> { each.iter().map(|one| part(&one[at])).collect() };
        let gains = [of(0, |one| one.0), of(1, |one| one.0)];
        let found = worth_of_counts(&gains, &[of(0, |one| one.1), of(1, |one| one.1)], 0);
        assert!((found.value - TWO_BETAS).abs() < 3.5 * found.error, "{found:?}");
        assert!(found.error < 0.02 * TWO_BETAS);
    }

    /// As that script prints it.
    const TWO_BETAS: f64 = 0.020_255_795_699_977_04;

    #[test]
    fn a_mean_rises_with_its_count() {
        let rising = Rising::of([3.0, 1.0, 2.0, 2.0, 4.0].into_iter(), [2.0, 0.0, 3.0, 3.0, 5.0].into_iter());
        // Counts of 2 and 3 fall, so they are pooled: 8/3 at 7/3.
        assert_relative_eq!(rising.at(7.0 / 3.0), 8.0 / 3.0, max_relative = 1e-14);
        assert_relative_eq!(rising.at(0.0), 0.0);
        assert_relative_eq!(rising.at(9.0), 5.0);
        assert!(rising.at(2.0) < rising.at(3.0));
    }
}
