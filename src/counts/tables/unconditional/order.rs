//! What makes one 2 x 2 table more extreme than another.

use crate::choice::choice;

/// What makes one table more extreme than another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum UnconditionalOrder {
    /// A smaller P value of Fisher's test (Boschloo 1970); never above Fisher's own P.
    #[default]
    Boschloo,
    /// A larger score statistic with pooled variance (Suissa & Shuster 1985; a form of Barnard's test).
    Barnard,
    /// A larger Wald statistic with unpooled variance.
    BarnardUnpooled,
}

choice!(
    UnconditionalOrder, "unconditional test":
    Boschloo = "boschloo",
    Barnard = "barnard",
    BarnardUnpooled = "barnard-unpooled",
);
