//! From a trial to a choice in money.

mod agrees;
mod chosen;
mod errors;
