//! Models in which trays follow a law of their own: beta-binomial, or normal effects on the link scale. In reading order: groupings of trays
//! (`layers`), what effects are tested against (`strata`), either engine's fit (`law`), what it is fitted to (`trays`), how trays spread
//! (`spreads`), the whole fit (`fit`), what is asked of it (`again`), and its words.

pub(super) mod again;
pub(super) mod fit;
pub(super) mod law;
pub(super) mod layers;
mod spreads;
mod strata;
pub(super) mod trays;
pub(super) mod words;
