//! The chain of steps, readers and early signs.

mod chain;
mod errors;
mod readers;
mod sign;
mod split;
mod start;
