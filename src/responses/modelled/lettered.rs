//! Letters beside adjusted means: levels that share one are not shown to differ.

use super::family::asked;
use super::levels::{Levels, one};
use super::model::Modelled;
use super::numbers::{AdjustedMean, LetterMean, MeanLetters};
use super::options::{MeanContrastOptions, MeanLevelOptions, MeanModelSpec};
use crate::control::Control;
use crate::effects::{Adjust, letters_of_pairs};
use crate::error::{EffectError, Result};
use crate::trial::{Trial, unit_called};

/// Works out letters.
pub(super) fn letters(
    trial: &Trial,
    spec: &MeanModelSpec,
    by: &str,
    options: &MeanContrastOptions,
    control: &Control,
) -> Result<MeanLetters> {
    if options.together == Adjust::Dunnett {
        let instead = "letters compare all pairs, so use together=\"joint\" or together=\"holm\"";
        return Err(EffectError::NotTogether { first: "together=\"dunnett\"", second: "letters", instead }.into());
    }
    let model = Modelled::of(trial, spec)?;
    let pairs = asked(trial, &model, by, options, control)?;
    let levels = MeanLevelOptions {
        within: options.within.clone(),
        at: options.at.clone(),
        average: options.average.clone(),
        confidence: Some(pairs.confidence),
    };
    let question = Levels::of(&model, by, &levels)?;
    let fits = model.fits();
    let width = model.grid.width(question.by);
    let (mut means, mut fewest) = (Vec::new(), true);
    let slices = pairs.contrasts.chunks((width * width.saturating_sub(1) / 2).max(1));
    for (within, contrasts) in question.slices(&model).into_iter().zip(slices) {
        let own: Vec<AdjustedMean> =
            (0..width).map(|level| one(&fits, &question, (level, within), pairs.confidence)).collect();
        // What was not tried is the model's guess and gets no letter.
        let levels: Vec<(f64, bool)> = own.iter().map(|one| (one.value.unwrap_or(0.0), one.n_units > 0)).collect();
        let differ: Vec<Option<bool>> =
            contrasts.iter().map(|one| one.p_adjusted.map(|p| p < 1.0 - pairs.confidence)).collect();
        let (letters, least) = letters_of_pairs(&levels, &differ, options.order)?;
        means.extend(own.into_iter().zip(letters).map(|(mean, letters)| LetterMean { mean, letters }));
        fewest &= least;
    }
    Ok(MeanLetters {
        model: model.spec.clone(),
        response: pairs.response,
        mean_of: pairs.mean_of,
        by: by.to_owned(),
        within: options.within.clone(),
        together: options.together,
        confidence: pairs.confidence,
        unit: unit_called(model.gathered.units),
        fewest,
        means,
        primary: pairs.primary,
        n_left_out: pairs.n_left_out,
    })
}
