//! From a trial to a choice in money: what each level of a treatment brings, how sure that is, what one more trial is worth.
//!
//! * `options`, `numbers`: what is asked, what is answered
//! * `money`: what a cutting costs at each level, and options that cannot be
//! * `known`: what the trial tells of takes, by the rates that the other verbs tell
//! * `drawn`: takes and seasons drawn from that
//! * `worth`: what counts that are still to come are worth
//! * `weighed`: gains, chances and what knowing more is worth, from draws
//! * `turns`: where the choice would be another
//! * `told`, `choose`: the answer in words, with all its faces

mod choose;
mod drawn;
mod known;
mod money;
mod numbers;
mod options;
mod told;
mod turns;
mod weighed;
mod worth;

pub use choose::{choose, weigh};
pub use numbers::{BreakEven, ChoiceAt, Compared, LevelChoice, LevelGain, NextTrialWorth, TurnsOn};
pub use options::{ChooseOptions, Days, SeasonsPooled, TrialToCome};
pub use worth::{Worth, worth_of_counts};
