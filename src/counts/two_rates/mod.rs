//! Two take rates compared from counts that are independent of each other: difference, ratio, odds ratio, tests.

mod difference;
mod effective;
mod equality;
mod exact;
mod faces;
mod margin;
mod odds_ratio;
mod ratio;
pub(crate) mod score;
mod words;

pub use difference::{DifferenceMethod, difference, difference_until};
pub use effective::{newcombe_effective, ratio_effective, score_effective};
pub use equality::{likelihood_ratio_test, score_test};
pub use faces::{difference_answer, equality_answer, odds_ratio_answer, ratio_answer};
pub use odds_ratio::{OddsRatioMethod, odds_ratio};
pub use ratio::{RatioEstimate, RatioMethod, ratio};
pub use words::{difference_sentence, odds_ratio_sentence, ratio_sentence};

pub(crate) use margin::margin_p_values;
pub(crate) use words::{gain_in_words, gap_in_words, range_in_words, rates_in_words};
