//! Reading and checking visits: one row per tray and visit with counts so far, or one row per plant.
//!
//! * `options`: what the columns are
//! * `cells`: cells of one row: counts, days, levels
//! * `readings`: one row per tray and visit
//! * `followed`: readings of a tray put in order, and what became of its plants between them
//! * `plants`: one row per plant
//! * `loaded`: all of it together

mod cells;
mod followed;
mod loaded;
mod options;
mod plants;
mod readings;

pub use loaded::{read_visits, read_visits_cells, read_visits_frame};
pub use options::VisitsOptions;
