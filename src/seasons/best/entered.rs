//! Seasons as they are given, each with its curve, and what that tells of its best strength.

use super::numbers::BestOptions;
use crate::answer::Answer;
use crate::control::Control;
use crate::curves::{CurveOptions, Located, OneCurve, StrengthCurve, Withheld};
use crate::error::{Error, Result, SeasonsError};
use crate::seasons::entered::{Shared, beside};
use crate::seasons::measured::Measured;
use crate::trial::Trial;

/// A season and its name: its trial, which is asked, or what its trial answered, perhaps read from a record.
#[derive(Debug, Clone, Copy)]
pub enum CurveSeason<'a> {
    /// Its trial.
    Trial(Option<&'a str>, &'a Trial),
    /// Its curve.
    Curve(Option<&'a str>, &'a Answer<StrengthCurve>),
}

/// Which limits of a best strength tell its error.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sides {
    Both,
    Lower,
    Upper,
}

/// A season's curve.
pub(super) struct Entered {
    pub(super) name: String,
    pub(super) curve: OneCurve,
    pub(super) unit: String,
    pub(super) substance: Option<String>,
    pub(super) column: String,
    pub(super) options: CurveOptions,
    pub(super) counted: bool,
    pub(super) fingerprint: Option<String>,
}

impl Entered {
    /// What seasons have to share.
    fn shared(&self) -> [Shared; 3] {
        [
            ("unit", self.unit.clone()),
            ("substance", self.substance.clone().unwrap_or_default()),
            ("outcome", self.options.outcome.noun().to_owned()),
        ]
    }

    /// Lowest strength above 0 and highest strength tested.
    pub(super) fn tested(&self) -> (f64, f64) {
        let strengths = self.curve.strengths.iter().map(|one| one.strength).filter(|one| *one > 0.0);
        strengths.fold((f64::INFINITY, 0.0), |(low, high), one| (low.min(one), high.max(one)))
    }

    /// Which limits tell the error: both; the lower or the upper one alone where the other stands open, but the curve's top lies within what was
    /// tested. Leaving such seasons out would leave those whose best lies in the middle. None where the top itself is not told.
    pub(super) fn sides(&self) -> Option<Sides> {
        let best = &self.curve.best;
        if best.withheld.is_some_and(|why| why != Withheld::NotLocated) {
            return None;
        }
        let strengths = || self.curve.strengths.iter().map(|one| one.strength);
        let (lowest, highest) = (strengths().fold(f64::INFINITY, f64::min), strengths().fold(0.0, f64::max));
        let within = best.strength.value > lowest && best.strength.value < highest;
        match best.located {
            Located::Inside => Some(Sides::Both),
            Located::High if within => Some(Sides::Lower),
            Located::Low if within => Some(Sides::Upper),
            _ => None,
        }
    }

    /// The best strength on the scale with its error, or why there is none that could be weighed.
    pub(super) fn measured(&self, scale: impl Fn(f64) -> f64) -> std::result::Result<Measured, String> {
        let best = &self.curve.best;
        if !self.counted {
            return Err("no trays are counted, so its limits are too narrow".to_owned());
        }
        let Some(sides) = self.sides() else {
            return Err(match best.located {
                Located::High => "its best strength may lie at or above the highest tested",
                Located::Low => "its lowest strength may be the best",
                Located::Nowhere => "no strength is shown to be its best",
                Located::Inside => "its curve does not fit its takes",
            }
            .to_owned());
        };
        let at = scale(best.strength.value);
        let (low, high) = (scale(best.strength.low), scale(best.strength.high));
        let ends = match sides {
            Sides::Both => (low, high),
            Sides::Lower => (low, 2.0 * at - low),
            Sides::Upper => (2.0 * at - high, high),
        };
        let df = self.curve.df.unwrap_or(f64::INFINITY);
        let found = Measured::of_limits(at, ends, df, self.options.confidence);
        let usable = found.variance > 0.0 && found.variance.is_finite() && found.df >= 1.0;
        if usable { Ok(found) } else { Err("its error does not follow from its limits".to_owned()) }
    }
}

/// All seasons, asked and checked.
///
/// # Errors
/// [`SeasonsError`]; what a trial fails with, with the name of its season; [`Error::Interrupted`] when stopped.
pub(super) fn entered(seasons: &[CurveSeason<'_>], options: &BestOptions, control: &Control) -> Result<Vec<Entered>> {
    let each = seasons.iter().enumerate().map(|(at, season)| {
        control.step()?;
        match season {
            CurveSeason::Trial(name, trial) => of_trial(trial, called(*name, Some(trial), at), options, control),
            CurveSeason::Curve(name, found) => one(found, called(*name, None, at)),
        }
    });
    let all = each.collect::<Result<Vec<_>>>()?;
    check(&all)?;
    Ok(all)
}

/// The name given; the one season of a trial; else the place among those given.
fn called(name: Option<&str>, trial: Option<&Trial>, at: usize) -> String {
    let season = trial.and_then(|trial| trial.units().season.as_ref());
    let own = season.and_then(|season| match season.levels.as_slice() {
        [only] => Some(only.clone()),
        _ => None,
    });
    name.map(str::to_owned).or(own).unwrap_or_else(|| (at + 1).to_string())
}

fn of_trial(trial: &Trial, name: String, options: &BestOptions, control: &Control) -> Result<Entered> {
    let asked = CurveOptions {
        column: options.column.clone(),
        at: options.at.clone(),
        outcome: options.outcome,
        confidence: options.confidence,
        ..CurveOptions::default()
    };
    let found = trial.strength_curve(&asked, control).and_then(|curve| curve.answer(control));
    let found = found.map_err(|error| match error {
        Error::Interrupted => Error::Interrupted,
        other => SeasonsError::NotAsked { season: name.clone(), why: other.to_string() }.into(),
    })?;
    one(&found, name)
}

/// The one curve of an answer.
fn one(found: &Answer<StrengthCurve>, name: String) -> Result<Entered> {
    let [curve] = found.numbers.curves.as_slice() else {
        let why = "it has several curves; stay within one with at=, or ask without within=".to_owned();
        return Err(SeasonsError::NotAsked { season: name, why }.into());
    };
    let input = &found.numbers.input;
    let substance = input.strength.as_ref().map(|strength| strength.substance().to_string());
    Ok(Entered {
        name,
        curve: curve.clone(),
        unit: input.unit.clone(),
        substance,
        column: input.options.column.clone(),
        options: input.options.clone(),
        counted: input.counted,
        fingerprint: found.made_with.data_fingerprint.clone(),
    })
}

/// Names, counts and units of all seasons beside each other.
fn check(all: &[Entered]) -> Result<()> {
    let Some(first) = all.first() else { return Ok(()) };
    let own = |season: &Entered| (season.name.clone(), season.fingerprint.clone(), season.shared());
    beside(&all.iter().map(own).collect::<Vec<_>>(), &first.shared())
}
