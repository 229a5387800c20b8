//! What a watched crop is asked, and what it answers.
//!
//! * `signals`: is a drop real, since when, where; or quiet, and what would have shown
//! * `signal_words`: the words of that
//! * `baseline`: what is expected
//! * `batches`: batches one by one
//! * `funnel`: rooms or grafters side by side
//! * `mix`: what of a raw difference is the mix
//! * `target`: a rate against a target
//! * `phrases`: words that several of them use

mod baseline;
mod batches;
mod funnel;
mod mix;
mod phrases;
mod signal_words;
mod signals;
mod target;

pub use baseline::BaselineNumbers;
pub use batches::BatchNumbers;
pub use funnel::{PlaceNumbers, PlacesOptions};
pub use mix::MixOptions;
pub use signals::SignalNumbers;
pub use target::TargetOptions;
