//! The chain of steps, readers and early signs.

mod chain;
mod compared;
mod errors;
mod loading;
mod readers;
mod sign;
mod split;
mod start;
mod yields;
