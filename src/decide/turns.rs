//! Where the choice turns: prices and costs at which another level is expected to bring as much, and the choice at half and at double.

use super::drawn::{Ahead, drawn};
use super::known::Known;
use super::numbers::{BreakEven, ChoiceAt, TurnsOn, lead_error};
use super::weighed::{Found, Weighed, largest};
use crate::control::Control;
use crate::error::Result;

/// Expected takes, in the order of levels.
fn takes(found: &Found) -> Vec<f64> {
    found.levels.iter().map(|level| level.take_expected).collect()
}

/// A price, and the level that brings as much there.
type Meeting = (f64, String);

/// Prices on either side and costs of the best and its runner-up at which the choice turns.
pub(super) fn break_even(weighed: &Weighed<'_>, found: &Found) -> Vec<BreakEven> {
    let Some((best, next)) = found.levels.get(found.best).zip(found.levels.get(found.runner_up)) else {
        return Vec::new();
    };
    let (price, share) = (weighed.options.price, weighed.share());
    // Takes that differ by no more than what draws wander by meet at no price.
    let options = weighed.options;
    let wanders = 2.0 * lead_error(found.lead, options.confidence, options.draws) / options.cuttings_a_season / price;
    // Lines of gain over the price meet where what is saleable more pays for what costs more.
    let meets = found.levels.iter().filter(|other| other.level != best.level).filter_map(|other| {
        let more = share * (best.take_expected - other.take_expected);
        if more.abs() <= wanders {
            return None;
        }
        let at = (best.cost - other.cost) / more;
        (at > 0.0 && at.is_finite()).then(|| (at, other.level.clone()))
    });
    let (mut lower, mut upper): (Option<Meeting>, Option<Meeting>) = (None, None);
    for (at, level) in meets {
        if at < price && lower.as_ref().is_none_or(|known| at > known.0) {
            lower = Some((at, level));
        } else if at > price && upper.as_ref().is_none_or(|known| at < known.0) {
            upper = Some((at, level));
        }
    }
    let of_price = |(at, instead): (f64, String), above: bool| BreakEven {
        what: TurnsOn::Price,
        level: None,
        at,
        above,
        chosen: best.level.clone(),
        instead,
    };
    let each = next.behind / weighed.options.cuttings_a_season;
    let of_cost = |level: &str, at: f64, above: bool| BreakEven {
        what: TurnsOn::Cost,
        level: Some(level.to_owned()),
        at,
        above,
        chosen: best.level.clone(),
        instead: next.level.clone(),
    };
    let own = of_cost(&best.level, best.cost + each, true);
    let other = (next.cost > each * (1.0 + 1e-9)).then(|| of_cost(&next.level, next.cost - each, false));
    let prices = lower.map(|one| of_price(one, false)).into_iter().chain(upper.map(|one| of_price(one, true)));
    prices.chain([own]).chain(other).collect()
}

/// The choice at half and at double of the price and of the spread between seasons.
///
/// # Errors
/// [`crate::Error::Interrupted`] when stopped.
pub(super) fn sensitivity(
    weighed: &Weighed<'_>,
    found: &Found,
    known: &Known,
    ahead: &Ahead,
    control: &Control,
) -> Result<Vec<ChoiceAt>> {
    let price = weighed.options.price;
    let now = takes(found);
    let choice = |what: TurnsOn, at: f64, gains: &[f64]| -> Option<ChoiceAt> {
        let best = largest(gains);
        let most = gains.get(best)?;
        let next = gains.iter().enumerate().filter(|(at, _)| *at != best).map(|(_, gain)| *gain);
        let value = most - next.fold(f64::NEG_INFINITY, f64::max);
        let level = found.levels.get(best)?.level.clone();
        Some(ChoiceAt { what, at, best: level, value, changes: best != found.best })
    };
    let mut all = Vec::new();
    for factor in [0.5, 2.0] {
        let at = factor * price;
        all.extend(choice(TurnsOn::Price, at, &weighed.at_price(at, &now)));
    }
    if ahead.season_sd > 0.0 {
        for factor in [0.5, 2.0] {
            let season_sd = factor * ahead.season_sd;
            let other = Ahead { season_sd, next_trial: None, ..*ahead };
            let levels = drawn(known, &other, (weighed.options.draws, weighed.options.seed), control)?;
            let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
            let takes: Vec<f64> = levels.iter().map(|level| mean(&level.lasting)).collect();
            all.extend(choice(TurnsOn::SeasonSd, season_sd, &weighed.at_price(price, &takes)));
        }
    }
    Ok(all)
}
