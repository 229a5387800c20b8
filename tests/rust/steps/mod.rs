//! The chain of steps, readers, early signs and times.

mod chain;
mod compared;
mod errors;
mod loading;
mod parts;
mod readers;
mod sign;
mod split;
mod start;
mod time;
mod yields;
