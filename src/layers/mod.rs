//! Units above the tray: seasons, blocks, bays, stock plants, nested or crossed, each with a correlation of its own.
//!
//! [`Trays`] are counts with a fixed design and the places they stand in. [`Layers::of`] estimates one correlation per place by
//! analysis of variance of the tray rates about the linear fit of the design (weights: tray sizes), on the scale of `p (1 - p)`: two trays
//! of one bay have covariance `rho_bay sqrt(v_i v_j)` with `v = p (1 - p)`. A linear combination of tray counts then has the variance of
//! the layers it draws on, as a combination of mean squares, with Satterthwaite's degrees of freedom ([`Layers::variance`] from sums by
//! level, [`Layers::of_combination`] from one number per tray).
//!
//! [`Earlier`] lets earlier trials of the place have a say in the mean squares ([`Layers::with`]).
//!
//! Read in this order: `trays` (what enters, nesting), `stage` (one linear fit and what it leaves), `components` (mean squares and their
//! expectations), `earlier` (what earlier trials add), `combine` (variance and degrees of freedom).
//!
//! ```
//! use rootling::layers::{Layers, Place, Trays};
//! // Two lengths, three bays each, two trays of 20 a bay.
//! let rooted = [4.0, 6.0, 9.0, 8.0, 5.0, 7.0, 12.0, 14.0, 8.0, 9.0, 13.0, 11.0];
//! let (stuck, length) = ([20.0; 12], [0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1]);
//! let places = [Place::new("bay", &[0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5])];
//! // Rows of the design: one per length, written as an indicator each.
//! let design = [vec![1.0, 0.0], vec![0.0, 1.0]];
//! let trays = Trays { rooted: &rooted, stuck: &stuck, row: &length, design: &design, places: &places };
//! let layers = Layers::of(&trays).ok_or("no degree of freedom left")?;
//! let bay = layers.components[0].clone();
//! assert_eq!((bay.df, layers.tray.df), (4.0, 6.0));
//!
//! // The difference of the two lengths, in trees per cutting: counts over 120, one sign per length.
//! let weights: Vec<f64> = length.iter().map(|l| if *l == 1 { 1.0 / 120.0 } else { -1.0 / 120.0 }).collect();
//! let rates: Vec<f64> = length.iter().map(|l| if *l == 1 { 67.0 / 120.0 } else { 39.0 / 120.0 }).collect();
//! let judged = layers.of_combination(&trays, &weights, &rates);
//! // It lies between bays alone: their mean square, their degrees of freedom.
//! approx::assert_relative_eq!(judged.df, 4.0, epsilon = 0.0, max_relative = 2.5e-10);
//! # Ok::<(), &str>(())
//! ```
//!
//! # References
//! Henderson (1953), Biometrics 9:226-252 (method 3); Searle, Casella and `McCulloch` (1992), Variance Components, chapter 5; Satterthwaite
//! (1946), Biometrics Bulletin 2:110-114; Donner and Klar (2000), chapters 1 and 6; Fai and Cornelius (1996), J. Stat. Comput. Simul. 54:363-378.

mod combine;
mod components;
mod earlier;
mod joint;
mod stage;
mod trays;

pub use combine::Judged;
pub use components::{Component, Layers, PLANNING_ICC, TrayPart};
pub use earlier::{Earlier, Known, Shrunk, TRAY};
pub use joint::{JointJudged, joint};
pub use trays::{Place, Trays, refines};
