//! Models in which trays follow a law of their own: beta-binomial, or normal effects on the link scale. In reading order: groupings of trays
//! (`layers`), what effects are tested against (`strata`), either engine's fit (`law`), what it is fitted to (`trays`), how trays spread
//! (`spreads`).

mod law;
mod layers;
mod spreads;
mod strata;
mod trays;

pub(crate) use law::Law;
pub(crate) use layers::Layer;
pub(crate) use spreads::spreads;
pub(crate) use trays::Trays;
