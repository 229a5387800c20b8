//! Layouts: which tray gets what, and where it stands.
//!
//! * `numbers`: what is asked for, and what a plan holds
//! * `codes`: blind codes of trays, seals
//! * `latin`: Latin squares, each as likely as the others
//! * `restricted/`: restrictions on the order of trays, and the set that they leave
//! * `incomplete/`: blocks too small for all
//! * `asked`: what is asked for, looked at
//! * `benches`: trays by bench, dealt
//! * `shared`: plants and readers over the trays
//! * `set`: the set that a layout was drawn from
//! * `confounded`: what cannot be told apart
//! * `anew`: whether a difference holds up among other layouts of the set
//! * `made`: all of it together
//! * `phrases`, `told`: in words

mod anew;
mod asked;
mod benches;
mod codes;
mod confounded;
mod incomplete;
mod latin;
mod made;
mod numbers;
mod phrases;
mod restricted;
mod set;
mod shared;
mod told;

pub use anew::{AnewOptions, DealtAnew, dealt_anew};
pub use codes::{seal, tray_code};
pub use made::{check, layout};
pub use numbers::{
    BlockEfficiency, Counted, Layout, LayoutKind, LayoutOptions, LayoutSet, PlacedTray, PlannedConfounding, Sharing,
    TreatmentLevels,
};
