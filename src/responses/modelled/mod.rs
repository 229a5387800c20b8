//! A model of tray means: several treatments and their interactions at once, with places beside them.
//!
//! * `numbers`: what is asked, what is answered; `options`: what is asked of levels
//! * `grid`: the combinations of levels, the columns of the model, and what an effect says of the combinations
//! * `stratum`: units of one kind (trays, or bays that a treatment was given to as a whole) with their fit
//! * `model`: a trial's response in its strata; any contrast of combinations drawn from all of them
//! * `effects`: tests of the effects, with both parts beside
//! * `levels`: adjusted means; `family`: their contrasts; `lettered`: letters
//! * `predicted`: means expected of rows of levels
//! * `checked`: what the fit leaves over, and what each tray does to the tests
//! * `told_*`: each of them in words

mod checked;
mod effects;
mod family;
mod grid;
mod lettered;
mod levels;
mod model;
mod numbers;
mod of_trial;
mod options;
mod predicted;
mod stratum;
mod told_checks;
mod told_contrasts;
mod told_effects;
mod told_means;
mod told_shared;

pub use numbers::{
    AdjustedMean, AdjustedMeans, CheckedUnit, EffectWithout, LetterMean, MeanChecks, MeanContrast, MeanContrasts,
    MeanEffect, MeanEffects, MeanLetters, MeanPrediction, MeanPredictions,
};
pub use options::{MeanContrastOptions, MeanLevelOptions, MeanModelSpec};
