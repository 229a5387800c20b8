//! Laws of the trays: engines on plain slices (`mixed`), what they are asked of a trial's groupings (`tray_law`), and their record (`law_record`).

mod law_record;
pub mod mixed;
pub(super) mod tray_law;

pub use law_record::{EqualIcc, LawRecord, Spread};
