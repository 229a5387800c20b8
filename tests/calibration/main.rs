//! Prints `table.md`: `cargo run --release --example calibration > tests/calibration/table.md` (about ten minutes on two cores).
//! An argument sets the replicates per design (default 1000).
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::print_stdout, missing_docs)]

mod simulation;
mod summary;

fn main() {
    let replicates: u64 = std::env::args().nth(1).and_then(|text| text.parse().ok()).unwrap_or(1000);
    print!("{}", summary::document(replicates, 20_261_125));
}
