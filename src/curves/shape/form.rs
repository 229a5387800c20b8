//! A shape with all that makes it one curve but its coordinates, and a rate with its slopes by these.

use super::axis::On;
use super::shapes::Shape;
use crate::math::regression::Link;

/// A rate and its slopes by the coordinates (those in use come first).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct RateAt {
    pub(crate) mean: f64,
    pub(crate) slopes: [f64; 4],
}

/// A strength on the two axes of a shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spot {
    /// `ln(1 + d / d0)`, 0 at the lowest and 1 at the highest tested strength.
    pub(crate) t: f64,
    /// `ln d`.
    pub(crate) z: f64,
    /// `ln d0` of the axis asked for.
    pub(crate) ln_d0: f64,
}

/// The power alpha in the stimulation `exp(-(d0 / d)^alpha)`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Power {
    Quarter,
    Half,
    One,
}

impl Power {
    /// All that are tried, from the slowest stimulation to the fastest.
    pub(crate) const ALL: [Self; 3] = [Self::Quarter, Self::Half, Self::One];

    pub(crate) fn value(self) -> f64 {
        match self {
            Self::Quarter => 0.25,
            Self::Half => 0.5,
            Self::One => 1.0,
        }
    }
}

/// A shape with its link.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Form {
    pub(crate) shape: Shape,
    pub(crate) link: Link,
    /// The axis of shapes in `ln(1 + d / d0)`.
    pub(crate) on: On,
    /// The power of Cedergreen's stimulation.
    pub(crate) power: Power,
}
