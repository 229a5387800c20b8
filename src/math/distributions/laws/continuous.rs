//! What a continuous law must tell, and the traits that follow from it.

/// Support, tails and points of a law.
pub(super) trait Tails {
    /// Ends of the support.
    fn support(&self) -> (f64, f64);
    /// P(X <= x).
    fn below(&self, x: f64) -> f64;
    /// P(X > x).
    fn above(&self, x: f64) -> f64;
    /// x with P(X <= x) = p; NaN where p is no probability.
    fn point(&self, p: f64) -> f64;
}

/// `Min`, `Max` and `ContinuousCDF` of laws that tell their [`Tails`].
macro_rules! continuous {
    ($($law:ty),+) => {$(
        impl statrs::statistics::Min<f64> for $law {
            fn min(&self) -> f64 {
                $crate::math::distributions::laws::continuous::Tails::support(self).0
            }
        }

        impl statrs::statistics::Max<f64> for $law {
            fn max(&self) -> f64 {
                $crate::math::distributions::laws::continuous::Tails::support(self).1
            }
        }

        impl statrs::distribution::ContinuousCDF<f64, f64> for $law {
            fn cdf(&self, x: f64) -> f64 {
                $crate::math::distributions::laws::continuous::Tails::below(self, x)
            }

            fn sf(&self, x: f64) -> f64 {
                $crate::math::distributions::laws::continuous::Tails::above(self, x)
            }

            fn inverse_cdf(&self, p: f64) -> f64 {
                $crate::math::distributions::laws::continuous::Tails::point(self, p)
            }

            fn try_inverse_cdf(&self, p: f64) -> std::result::Result<f64, statrs::distribution::InverseCdfError> {
                let outside = statrs::distribution::InverseCdfError::ArgumentOutOfRange;
                if (0.0..=1.0).contains(&p) { Ok(self.inverse_cdf(p)) } else { Err(outside) }
            }
        }
    )+};
}

pub(super) use continuous;
