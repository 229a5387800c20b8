//! The Rust test binary: one module per domain.
// Reference values are kept with all the digits their source gives.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::excessive_precision
)]
// Cases stand in one table, helpers beside what they check.
#![allow(
    clippy::too_many_lines,
    clippy::items_after_statements,
    clippy::default_trait_access,
    clippy::cast_lossless,
    clippy::maybe_infinite_iter,
    clippy::manual_midpoint,
    clippy::redundant_closure_for_method_calls
)]

#[macro_use]
mod support;

mod alike;
mod changing;
mod checks;
mod compare;
mod contrast_scores;
mod contrast_values;
mod contrasts;
mod contrasts_under_law;
mod count_faults;
mod counted;
mod counts_peers;
mod curve_bays;
mod curve_damage;
mod curve_ends;
mod curve_errors;
mod curve_fits;
mod curve_laws;
mod curve_places;
mod curve_surface;
mod curves;
mod decide;
mod differs_between_levels;
mod earlier;
mod effective_trays;
mod effects;
mod errors;
mod exact_tables;
mod frames;
mod grades;
mod hostile;
mod issues;
mod issues_of_options;
mod issues_of_responses;
mod kept_fits;
mod layered;
mod layered_models;
mod layers;
mod layers_reference;
mod layout_errors;
mod letters;
mod limits_hold;
mod many_levels;
mod math;
mod mixed;
mod mixed_direct;
mod mixed_identities;
mod mixed_layers;
mod model_errors;
mod model_tests;
mod models;
mod one_rate;
mod plan;
mod plan_errors;
mod plants_for_trays;
#[cfg(feature = "polars")]
mod polars_frames;
mod predict;
mod randomisation;
mod rates;
mod rendered;
mod report;
mod responses;
mod restarts;
mod robust;
mod robust_by;
mod seasons;
mod seasons_anew;
mod set_ups;
mod simultaneous;
mod small_fits;
mod steps;
mod strata;
mod sum_rows;
mod table_words;
mod tables;
mod threads;
mod tray_groupings;
mod tray_laws;
mod tray_methods;
mod trays;
mod trend;
mod trial;
mod two_levels;
mod two_rates;
mod uneven_levels;
mod uneven_mix;
mod units;
mod units_above;
mod watch;
