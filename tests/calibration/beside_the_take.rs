//! What is asked beside the take of one trial: grades, seasons, money.

use crate::{decide, full, grades, season_curves, seasons};

/// Best strengths over seasons and limits of that of a new one hold what they promise: see `seasons.md`.
#[test]
fn curves_of_seasons_hold() {
    season_curves::curves_hold(full().unwrap_or(30));
}

/// Odds ratios of grades hold in trays: see `grades.md`.
#[test]
fn grades_hold() {
    grades::odds_ratios_hold(full());
}

/// Averages over seasons and limits of a new one hold what they promise: see `seasons.md`.
#[test]
fn seasons_hold() {
    seasons::limits_hold(full().unwrap_or(40));
    seasons::trials_hold(full().unwrap_or(40));
}

/// Limits of gains hold and chances of being best come true: see `decide.md`.
#[test]
fn choices_hold() {
    decide::limits_hold(full().unwrap_or(60));
    decide::chances_come_true(full().unwrap_or(300));
}
