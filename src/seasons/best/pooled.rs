//! Best strengths of seasons together, on the scale `x = ln(1 + d / d0)` of the curves.

use super::entered::{Entered, Sides};
use super::numbers::{BestOptions, BestOut, BestOverSeasons, SeasonBest};
use crate::control::Control;
use crate::error::{Result, SeasonsError};
use crate::seasons::ahead::{drawn, without};
use crate::seasons::average::season_test;
use crate::seasons::measured::Measured;
use crate::seasons::numbers::SeasonChanges;
use crate::seasons::pooled::{A_NEW_ONE, SETTLED, average_of};

/// Of all seasons the share that may be without a located best strength before what is said is provisional.
const LEFT_OUT: f64 = 0.25;

/// Between strengths and the scale on which they are averaged.
#[derive(Debug, Clone, Copy)]
struct Along {
    zero_scale: f64,
}

impl Along {
    /// With the median of the seasons' own scales.
    fn of(all: &[Entered]) -> Self {
        let mut scales: Vec<f64> = all.iter().map(|season| season.curve.zero_scale).collect();
        scales.sort_by(f64::total_cmp);
        let middle = |at: usize| scales.get(at).copied().unwrap_or(1.0);
        let half = scales.len() / 2;
        let zero_scale =
            if scales.len() % 2 == 1 { middle(half) } else { (middle(half.saturating_sub(1)) * middle(half)).sqrt() };
        Self { zero_scale }
    }

    fn x(self, strength: f64) -> f64 {
        (strength / self.zero_scale).ln_1p()
    }

    /// The strength there; 0 for all below it.
    fn strength(self, x: f64) -> f64 {
        (self.zero_scale * x.exp_m1()).max(0.0)
    }

    fn both(self, (low, high): (f64, f64)) -> (f64, f64) {
        (self.strength(low), self.strength(high))
    }
}

/// The numbers of best strengths over seasons.
pub(super) fn pooled(all: &[Entered], options: &BestOptions, control: &Control) -> Result<BestOverSeasons> {
    let along = Along::of(all);
    let (mut entering, mut left_out) = (Vec::new(), Vec::new());
    for season in all {
        match season.measured(|strength| along.x(strength)) {
            Ok(measured) => entering.push((season, measured)),
            Err(why) => {
                let value = season.curve.best.strength.value;
                left_out.push(BestOut { season: season.name.clone(), value, why });
            }
        }
    }
    if entering.len() < 2 {
        let left_out = left_out.iter().map(|one| format!("{}: {}", one.season, one.why)).collect();
        return Err(SeasonsError::TooFew { entering: entering.len(), left_out }.into());
    }
    let measured: Vec<Measured> = entering.iter().map(|(_, measured)| *measured).collect();
    let average = average_of(&measured, options.confidence);
    let these_alone = measured.len() < A_NEW_ONE;
    let draws = (!these_alone).then(|| drawn(&measured, options.draws, options.seed, control)).transpose()?;
    let ahead = draws.as_ref().map(|draws| draws.limits(options.confidence)).transpose()?;
    // A new season is never told more closely than the average.
    let ahead = ahead.map(|(low, high)| along.both((low.min(average.low), high.max(average.high))));
    let between = draws.as_ref().map(|draws| draws.spread_squared_limits(&measured, options.confidence)).transpose()?;
    let spread = (!these_alone).then(|| average.spread_squared.sqrt());
    let test = season_test(&measured);
    let seasons = each(&entering, average.spread_squared, (along, options.confidence));
    let (low, high) = along.both((average.low, average.high));
    let first = all.first();
    let many_out = left_out.len() as f64 > LEFT_OUT * all.len() as f64;
    let tested = all.iter().map(Entered::tested);
    Ok(BestOverSeasons {
        factor: first.map(|one| one.column.clone()).unwrap_or_default(),
        unit: first.map(|one| one.unit.clone()).unwrap_or_default(),
        substance: first.and_then(|one| one.substance.clone()),
        outcome: first.map(|one| one.options.outcome).unwrap_or_default(),
        n_seasons: seasons.len() as u64,
        n_units: seasons.iter().map(|one| one.n_units).sum(),
        n_cuttings: seasons.iter().map(|one| one.n_cuttings).sum(),
        seasons,
        left_out,
        zero_scale: along.zero_scale,
        value: along.strength(average.value),
        low,
        high,
        df: average.df,
        these_alone,
        provisional: !these_alone && (measured.len() < SETTLED || many_out),
        new_low: ahead.map(|ends| ends.0),
        new_high: ahead.map(|ends| ends.1),
        tested: tested.fold((f64::INFINITY, 0.0), |sum, one| (sum.0.min(one.0), sum.1.max(one.1))),
        spread,
        spread_low: between.map(|(low, _)| low.sqrt()),
        spread_high: between.map(|(_, high)| high.sqrt()),
        usual: spread.map(|spread| along.both((average.value - spread, average.value + spread))),
        changes: SeasonChanges { statistic: test.statistic, df: test.df, error_df: test.error_df, p: test.p },
        confidence: options.confidence,
    })
}

fn each(entering: &[(&Entered, Measured)], spread_squared: f64, (along, confidence): (Along, f64)) -> Vec<SeasonBest> {
    let measured: Vec<Measured> = entering.iter().map(|(_, measured)| *measured).collect();
    let alike = measured.len() < A_NEW_ONE;
    let weight = |one: &Measured| if alike { 1.0 } else { 1.0 / (one.variance + spread_squared) };
    let total: f64 = measured.iter().map(weight).sum();
    let one = |(at, (season, own)): (usize, &(&Entered, Measured))| {
        let best = &season.curve.best;
        let others = || along.strength(average_of(&without(&measured, at), confidence).value);
        SeasonBest {
            season: season.name.clone(),
            value: best.strength.value,
            low: best.strength.low,
            high: best.strength.high,
            one_sided: season.sides() != Some(Sides::Both),
            se: own.variance.sqrt(),
            df: season.curve.df,
            take: best.take,
            n_units: season.curve.n_units,
            n_cuttings: season.curve.n_cuttings,
            weight: weight(own) / total,
            without: (!alike).then(others),
            data_fingerprint: season.fingerprint.clone(),
        }
    };
    entering.iter().enumerate().map(one).collect()
}
