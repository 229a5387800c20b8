//! A crop under watch.

mod baselines;
mod few_seasons;
mod loading;
mod run_lengths;
mod shares;
mod signals;
mod words;
