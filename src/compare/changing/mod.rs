//! Whether what is said of a treatment's levels changes with the levels of another treatment: the interaction as a model tests it, what the
//! levels do at each level of the other, and how it is said. It stands above both comparisons and models.

mod asked;
mod figures;
mod words;

pub use asked::{changing, changing_levels};
pub(super) use figures::shown;
pub use figures::{Changing, DifferenceAt, HighestAt};
pub(super) use words::{WITHIN_EACH, cited, details, methods, names, note, opposed, within_each};
