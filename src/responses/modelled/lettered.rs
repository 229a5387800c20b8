//! Letters beside adjusted means: levels that share one are not shown to differ.

use super::family::asked;
use super::levels::{Levels, one};
use super::model::Modelled;
use super::numbers::{AdjustedMean, LetterMean, MeanContrast, MeanLetters};
use super::options::{MeanContrastOptions, MeanLevelOptions, MeanModelSpec};
use crate::control::Control;
use crate::effects::{Adjust, LetterOrder, letter_groups};
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
        let (lettered, least) = lettered(own, contrasts, options.order, 1.0 - pairs.confidence)?;
        means.extend(lettered);
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

/// Letters of one slice, whose pairs stand in the order of its levels.
fn lettered(
    means: Vec<AdjustedMean>,
    contrasts: &[MeanContrast],
    order: LetterOrder,
    alpha: f64,
) -> Result<(Vec<LetterMean>, bool)> {
    let width = means.len();
    let pairs = (0..width).flat_map(|i| (i + 1..width).map(move |j| (i, j)));
    let (mut differs, mut tested) = (vec![vec![false; width]; width], vec![false; width]);
    for ((i, j), contrast) in pairs.zip(contrasts) {
        // What was not tried is the model's guess and gets no letter.
        let tried = [i, j].iter().all(|level| means.get(*level).is_some_and(|mean| mean.n_units > 0));
        let Some(p) = contrast.p_adjusted.filter(|_| tried) else { continue };
        for level in [i, j] {
            tested.get_mut(level).into_iter().for_each(|known| *known = true);
        }
        differs.get_mut(i).and_then(|row| row.get_mut(j)).into_iter().for_each(|place| *place = p < alpha);
    }
    // Levels that cannot be compared stand aside.
    let kept: Vec<usize> = (0..width).filter(|level| tested.get(*level) == Some(&true)).collect();
    let pick = |row: &Vec<bool>| kept.iter().filter_map(|level| row.get(*level).copied()).collect::<Vec<bool>>();
    let shown: Vec<Vec<bool>> = kept.iter().filter_map(|level| differs.get(*level)).map(pick).collect();
    let values: Vec<f64> =
        kept.iter().filter_map(|level| means.get(*level)).map(|mean| mean.value.unwrap_or(0.0)).collect();
    let groups = letter_groups(&values, &shown, order)?;
    let letters = |level: usize| {
        let place = kept.iter().position(|known| *known == level)?;
        groups.letters.get(place).cloned()
    };
    let found = means.into_iter().enumerate().map(|(level, mean)| LetterMean { letters: letters(level), mean });
    Ok((found.collect(), groups.fewest))
}
