//! Tests of `math`, beside its parts by name.

mod coded_rows;
mod count_laws;
mod counts;
mod counts_battery;
mod cumulative;
mod digits;
mod functions;
mod groups;
mod large_trays;
mod laws_battery;
mod multiplicity;
mod tails;
