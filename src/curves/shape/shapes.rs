//! The shapes a strength curve can have: names, parameters, limits.

use super::axis::Axis;
use crate::choice::{choice, written_by_name};
use crate::math::search::Region;

/// A form of the take rate along the strength `d` (mg/L). `x = ln(1 + d / d0)`, `F` rises from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Shape {
    /// One take at all strengths.
    Flat,
    /// Log odds straight in x.
    Straight,
    /// `F`: nothing without hormone, all at high strengths. 2 parameters.
    RisingFromNoneToAll,
    /// `ceiling F`: nothing without hormone. 3 parameters.
    RisingFromNone,
    /// `floor + (1 - floor) F`: Abbott's and Finney's natural response. 3 parameters.
    NaturalResponse,
    /// `floor + (ceiling - floor) F`. 4 parameters.
    Rising,
    /// `floor (1 - F)`: the take without hormone, burnt away. 3 parameters.
    Falling,
    /// Log odds quadratic in x, opening downward. 3 parameters.
    Hump,
    /// A rising times a falling logistic curve in x. 4 parameters.
    RiseAndFall,
    /// `(c + f d) / (1 + (d / e)^b)`, after Brain and Cousens. 4 parameters.
    BrainCousens,
    /// `(c + f exp(-(d0 / d)^alpha)) / (1 + (d / e)^b)` with alpha 0.25, 0.5 or 1, after Cedergreen, Ritz and Streibig. 4 parameters.
    Cedergreen,
}

choice!(
    Shape, "shape":
    Flat = "flat",
    Straight = "straight",
    RisingFromNoneToAll = "rising-from-none-to-all",
    RisingFromNone = "rising-from-none",
    NaturalResponse = "natural-response",
    Rising = "rising",
    Falling = "falling",
    Hump = "hump",
    RiseAndFall = "rise-and-fall",
    BrainCousens = "brain-cousens",
    Cedergreen = "cedergreen",
);

/// The shapes among which `auto` weighs.
pub(crate) const CANDIDATES: [Shape; 7] =
    [Shape::Flat, Shape::Straight, Shape::Rising, Shape::Falling, Shape::Hump, Shape::RiseAndFall, Shape::BrainCousens];

/// The shapes that deaths can follow: as many everywhere, or more with the strength.
pub(crate) const DEATHS: [Shape; 4] = [Shape::Flat, Shape::Straight, Shape::NaturalResponse, Shape::Rising];

/// Which shape a curve is to have: "auto" or the name of one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ShapeChoice {
    /// Several shapes, weighed.
    #[default]
    Auto,
    /// This one.
    One(Shape),
}

impl ShapeChoice {
    /// The name that the option accepts.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Auto => "auto",
            Self::One(shape) => shape.name(),
        }
    }
}

impl std::str::FromStr for ShapeChoice {
    type Err = crate::Error;

    fn from_str(given: &str) -> crate::Result<Self> {
        if given == Self::Auto.name() { Ok(Self::Auto) } else { given.parse().map(Self::One) }
    }
}

written_by_name!(ShapeChoice, Shape::names());

/// The shapes that are fitted: one, or all that `auto` weighs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Asked {
    Auto,
    One(Shape),
    /// The shapes that deaths can follow, weighed like those of `Auto`.
    Deaths,
}

impl From<ShapeChoice> for Asked {
    fn from(choice: ShapeChoice) -> Self {
        match choice {
            ShapeChoice::Auto => Self::Auto,
            ShapeChoice::One(shape) => Self::One(shape),
        }
    }
}

/// Largest size of a log odds at the ends of the tested range.
const MOST_LOGIT: f64 = 25.0;

/// Slowest rise, log odds per e-fold strength.
const SLOWEST: f64 = 0.2;

/// Log odds that the steepest curve gains between the two nearest strengths.
const STEEPEST: f64 = 20.0;

impl Shape {
    /// All names, with "auto" first.
    #[must_use]
    pub fn names() -> Vec<&'static str> {
        std::iter::once("auto").chain(Self::ALL.into_iter().map(Self::name)).collect()
    }

    /// Number of parameters.
    #[must_use]
    pub fn parameters(self) -> usize {
        match self {
            Self::Flat => 1,
            Self::Straight | Self::RisingFromNoneToAll => 2,
            Self::RisingFromNone | Self::NaturalResponse | Self::Falling | Self::Hump => 3,
            Self::Rising | Self::RiseAndFall | Self::BrainCousens | Self::Cedergreen => 4,
        }
    }

    /// True for the shapes whose take at strength 0 is 0 whatever the parameters.
    #[must_use]
    pub fn needs_none_at_zero(self) -> bool {
        matches!(self, Self::RisingFromNone | Self::RisingFromNoneToAll)
    }

    /// True for the shapes that rise along `F`.
    #[must_use]
    pub fn rises(self) -> bool {
        matches!(self, Self::RisingFromNoneToAll | Self::RisingFromNone | Self::NaturalResponse | Self::Rising)
    }

    /// True for the shapes with a best strength of their own.
    #[must_use]
    pub fn has_top(self) -> bool {
        matches!(self, Self::Hump | Self::RiseAndFall) || self.is_hormetic()
    }

    /// True for a stimulated take over a falling curve.
    #[must_use]
    pub fn is_hormetic(self) -> bool {
        matches!(self, Self::BrainCousens | Self::Cedergreen)
    }

    /// The coordinate that says where along the strengths the curve lies, and whether it counts in x (else in ln d).
    #[must_use]
    pub(crate) fn location(self) -> Option<(usize, bool)> {
        match self {
            Self::Flat | Self::Straight => None,
            Self::RisingFromNoneToAll | Self::RisingFromNone | Self::NaturalResponse | Self::Rising => Some((2, false)),
            Self::Falling => Some((1, false)),
            Self::Hump => Some((2, true)),
            Self::RiseAndFall => Some((3, true)),
            Self::BrainCousens | Self::Cedergreen => Some((3, false)),
        }
    }

    /// The coordinate that says how steep the curve is.
    #[must_use]
    pub(crate) fn steepness(self) -> Option<usize> {
        match self {
            Self::Flat | Self::Straight => None,
            Self::RisingFromNoneToAll | Self::RisingFromNone | Self::NaturalResponse | Self::Rising => Some(3),
            Self::Falling | Self::RiseAndFall | Self::BrainCousens | Self::Cedergreen => Some(2),
            Self::Hump => Some(1),
        }
    }

    /// The box of the coordinates, the free ones among them, for the strengths of `axis`.
    ///
    /// Coordinates: flat (rate); straight (log odds at the lowest, at the highest strength); rising (floor, share of the rest
    /// that is gained, ln of the strength halfway, ln of steepness); falling (floor, ln strength halfway, ln steepness);
    /// hump (log odds at the top, curvature, place of the top); rise and fall (log odds of the rising and of the falling part at
    /// the top, ln slope, place of the top); Brain-Cousens (take at the top, gain, ln b, ln strength of the top); Cedergreen (take at
    /// the top, gain, ln of what the steepness has beyond its least, ln strength of the top). Places count from 0 at the lowest to
    /// 1 at the highest strength.
    #[must_use]
    pub(crate) fn region(self, axis: &Axis) -> Region {
        let wide = axis.z_span().max(4.0_f64.ln());
        let (z_low, z_high) = (axis.z_low - wide, axis.z_high + wide);
        let (slow, steep) = (SLOWEST.ln(), (STEEPEST / axis.z_gap).max(2.0 * SLOWEST).ln());
        let all = |bounds: &[(f64, f64)], free: &[usize]| Region {
            low: bounds.iter().map(|b| b.0).collect(),
            high: bounds.iter().map(|b| b.1).collect(),
            free: free.to_vec(),
        };
        let rising = [(0.0, 1.0), (0.0, 1.0), (z_low, z_high), (slow, steep)];
        match self {
            Self::Flat => all(&[(0.0, 1.0)], &[0]),
            Self::Straight => all(&[(-MOST_LOGIT, MOST_LOGIT); 2], &[0, 1]),
            Self::RisingFromNoneToAll => all(&rising, &[2, 3]),
            Self::RisingFromNone => all(&rising, &[1, 2, 3]),
            Self::NaturalResponse => all(&rising, &[0, 2, 3]),
            Self::Rising => all(&rising, &[0, 1, 2, 3]),
            Self::Falling => all(&[(0.0, 1.0), (z_low, z_high), (slow, steep)], &[0, 1, 2]),
            Self::Hump => all(&[(-MOST_LOGIT, MOST_LOGIT), (0.0, 400.0), (-1.0, 2.0)], &[0, 1, 2]),
            Self::RiseAndFall => {
                all(&[(-6.0, 9.0), (-6.0, 9.0), ((1e-4_f64).ln(), (50.0_f64).ln()), (-1.0, 2.0)], &[0, 1, 2, 3])
            }
            Self::BrainCousens => {
                let steep = (STEEPEST / axis.z_gap).clamp(2.0, 30.0).ln();
                all(&[(0.0, 1.0), (0.0, 1.0), (1.05_f64.ln(), steep), (z_low, z_high)], &[0, 1, 2, 3])
            }
            Self::Cedergreen => {
                let steep = (STEEPEST / axis.z_gap).clamp(2.0, 30.0).ln();
                // Far below d0 nothing is stimulated, so a top there is the take without hormone.
                let nearest = (axis.ln_d0() - 8.0_f64.ln()).clamp(z_low, axis.z_low);
                all(&[(0.0, 1.0), (0.0, 1.0), (0.05_f64.ln(), steep), (nearest, z_high)], &[0, 1, 2, 3])
            }
        }
    }

    /// Where the coordinates that do not move are held: a floor of 0, a ceiling of 1.
    pub(crate) fn held(self, theta: &mut [f64]) {
        if let [floor, gain, ..] = theta {
            if self.needs_none_at_zero() {
                *floor = 0.0;
            }
            if matches!(self, Self::NaturalResponse | Self::RisingFromNoneToAll) {
                *gain = 1.0;
            }
        }
    }
}
