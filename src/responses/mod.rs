//! What else is measured on a cutting than that it rooted, asked of a trial: means of responses, and levels compared in them.
//!
//! * `numbers`: what is asked, what is answered
//! * `gathered`: trays of a trial as units with the sums of a response
//! * `means`: the mean of every combination of levels; `means_told` says it
//! * `pair`: two levels: units, strata, the difference and its parts; `compared` with trays dealt anew
//! * `decision`: the sentence; `told`: the answer in words
//! * `amounts`: numbers in the unit of a response
//! * `of_trial`: the questions
//! * [`grade`]: root grades
//! * `modelled`: several treatments at once: tests of effects, adjusted means, contrasts, letters, checks

mod amounts;
mod compared;
mod decision;
mod gathered;
pub mod grade;
mod means;
mod means_told;
mod modelled;
mod numbers;
mod of_trial;
mod pair;
mod told;

pub use modelled::{
    AdjustedMean, AdjustedMeans, CheckedUnit, EffectWithout, LetterMean, MeanChecks, MeanContrast, MeanContrastOptions,
    MeanContrasts, MeanEffect, MeanEffects, MeanLetters, MeanLevelOptions, MeanModelSpec, MeanPrediction,
    MeanPredictions,
};
pub use numbers::{
    CompareResponseOptions, MeanOf, MeansOptions, PartDifference, RatioOfMeans, ResponseComparison, ResponseMean,
    ResponseMeans,
};
