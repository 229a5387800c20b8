//! Numbers and slices: special functions, searches, distributions, matrices, designs and binomial regression.
//!
//! Nothing here knows trays or treatments. The rooms, from the ground up; each knows only those before it:
//!
//! | room | what is in it |
//! |---|---|
//! | [`special`] | gamma, beta and choose, logits, Gauss rules and sums of rising products |
//! | `sparse` | large symmetric matrices with few entries |
//! | [`dense`] | columns, small symmetric matrices and their decompositions |
//! | [`search`] | roots, largest values, limits of profiles, and the record every fit carries |
//! | [`distributions`] | tails, quantiles and probabilities; draws in [`rng`] |
//! | [`design`] | tall matrices of coded columns, and lines that are alike in codes |
//! | [`regression`] | binomial regression, its links and its covariances |

pub mod dense;
pub mod design;
pub mod distributions;
pub mod regression;
pub mod search;
pub mod sparse;
pub mod special;

pub use distributions::rng;
