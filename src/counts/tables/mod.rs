//! Tables of counts: chi-square and exact tests of association, and the 2 x 2 x 2 test of no three-factor interaction.

mod chi_square;
mod conditional;
mod fisher;
mod paired;
mod table;
mod three_way;
mod unconditional;

pub use chi_square::{ChiSquare, chi_square};
pub use fisher::{FisherExact, fisher};
pub use paired::{Paired, PairedMethod, paired, pairs};
pub use table::ContingencyTable;
pub use three_way::{ThreeWay, three_way};
pub use unconditional::{UnconditionalOrder, UnconditionalTest, unconditional};

pub(crate) use chi_square::chi_square_result;
pub(crate) use conditional::{Conditional, MOST_CONDITIONAL};
