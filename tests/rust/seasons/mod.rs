//! One difference over seasons.

mod errors;
mod pooled;
mod values;
