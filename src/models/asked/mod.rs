//! What a fitted model is asked. How questions come to its fit (`reading`, `again`); the statistic of an effect (`effect_statistic`), limits by the
//! profile (`profile_limits`), spread (`spread`), rates over places (`over_places`), the law of a count (`count_law`).

mod again;
mod count_law;
mod effect_statistic;
mod over_places;
mod profile_limits;
mod reading;
mod spread;

pub(crate) use again::fall_without;
pub(crate) use count_law::CountLaw;
pub(crate) use effect_statistic::change;
pub(crate) use over_places::{HeldPlaces, OverPlaces};
pub(crate) use spread::Spread;
