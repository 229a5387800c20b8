//! Tables of counts: chi-square and exact tests of association, and the 2 x 2 x 2 test of no three-factor interaction.

mod chi_square;
mod conditional;
mod fisher;
mod table;
mod three_way;

pub use chi_square::{ChiSquare, chi_square};
pub use fisher::{FisherExact, fisher};
pub use table::ContingencyTable;
pub use three_way::{ThreeWay, three_way};

pub(crate) use chi_square::chi_square_result;
pub(crate) use conditional::Conditional;
