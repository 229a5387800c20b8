//! What a law of counts must tell, and the traits that follow from it.

use crate::math::search::boundary;

/// Support, tails and probabilities of a law of counts.
pub(super) trait Counts {
    /// The least and the largest count.
    fn support(&self) -> (u64, u64);
    /// P(X <= k).
    fn below(&self, k: f64) -> f64;
    /// P(X > k).
    fn above(&self, k: f64) -> f64;
    /// P(X = k).
    fn at(&self, k: f64) -> f64;
    /// Its logarithm.
    fn ln_at(&self, k: f64) -> f64;
    /// The smallest count with P(X <= k) >= p. Above 1/2 the upper tail is asked, which keeps its digits there.
    fn point(&self, p: f64) -> u64 {
        let (least, most) = self.support();
        let enough = |k: f64| if p > 0.5 { self.above(k) <= 1.0 - p } else { self.below(k) >= p };
        if p.is_nan() || p <= 0.0 {
            return least;
        }
        boundary(least as f64 - 1.0, most as f64, enough) as u64
    }
}

/// `Min`, `Max`, `DiscreteCDF` and `Discrete` of laws that tell their [`Counts`].
macro_rules! counts {
    ($law:ty) => {
        impl statrs::statistics::Min<u64> for $law {
            fn min(&self) -> u64 {
                $crate::math::distributions::laws::counts::Counts::support(self).0
            }
        }

        impl statrs::statistics::Max<u64> for $law {
            fn max(&self) -> u64 {
                $crate::math::distributions::laws::counts::Counts::support(self).1
            }
        }

        impl statrs::distribution::DiscreteCDF<u64, f64> for $law {
            fn cdf(&self, k: u64) -> f64 {
                $crate::math::distributions::laws::counts::Counts::below(self, k as f64)
            }

            fn sf(&self, k: u64) -> f64 {
                $crate::math::distributions::laws::counts::Counts::above(self, k as f64)
            }

            fn inverse_cdf(&self, p: f64) -> u64 {
                $crate::math::distributions::laws::counts::Counts::point(self, p)
            }
        }

        impl statrs::distribution::Discrete<u64, f64> for $law {
            fn pmf(&self, k: u64) -> f64 {
                $crate::math::distributions::laws::counts::Counts::at(self, k as f64)
            }

            fn ln_pmf(&self, k: u64) -> f64 {
                $crate::math::distributions::laws::counts::Counts::ln_at(self, k as f64)
            }
        }
    };
}

pub(super) use counts;
