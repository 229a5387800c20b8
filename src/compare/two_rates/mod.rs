//! Two take rates compared from counts that are independent of each other: difference, ratio, odds ratio, tests.

mod difference;
mod effective;
mod equality;
mod odds_ratio;
mod ratio;
pub(in crate::compare) mod score;

pub use difference::{DifferenceMethod, difference};
pub use effective::{newcombe_effective, score_effective};
pub use equality::{likelihood_ratio_test, score_test};
pub use odds_ratio::{OddsRatioMethod, odds_ratio};
pub use ratio::{RatioEstimate, RatioMethod, ratio};
