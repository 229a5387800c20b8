//! Seasons as they are given, each with its comparison, and whether they were asked the same.

use super::measured::Measured;
use super::numbers::PoolOptions;
use crate::answer::Answer;
use crate::compare::{CompareOptions, Comparison};
use crate::control::Control;
use crate::error::{Error, Result, SeasonsError};
use crate::report::Spoken;
use crate::trial::Trial;

/// What is told of strengths that seasons have to share.
const STRENGTHS: &str = "strengths in";

/// What is known of a season.
#[derive(Debug, Clone, Copy)]
pub enum Given<'a> {
    /// Its trial, which is asked.
    Trial(&'a Trial),
    /// What its trial answered, perhaps read from a record.
    Compared(&'a Answer<Comparison>),
}

/// A season and its name.
#[derive(Debug, Clone)]
pub struct Season<'a> {
    /// Its name; the one season of the trial where there is none, else its place among those given.
    pub name: Option<String>,
    /// What is known of it.
    pub given: Given<'a>,
}

impl<'a> Season<'a> {
    /// A season by its trial.
    #[must_use]
    pub const fn of_trial(trial: &'a Trial) -> Self {
        Self { name: None, given: Given::Trial(trial) }
    }

    /// A season by its comparison.
    #[must_use]
    pub const fn of_comparison(found: &'a Answer<Comparison>) -> Self {
        Self { name: None, given: Given::Compared(found) }
    }

    /// The same with a name.
    #[must_use]
    pub fn named(self, name: &str) -> Self {
        Self { name: Some(name.to_owned()), ..self }
    }

    /// The name that it has or is given.
    fn called(&self, place: usize) -> String {
        let own = |trial: &Trial| match trial.units().season.as_ref().map(|season| season.levels.as_slice()) {
            Some([only]) => Some(only.clone()),
            _ => None,
        };
        let from_trial = match self.given {
            Given::Trial(trial) => own(trial),
            Given::Compared(_) => None,
        };
        self.name.clone().or(from_trial).unwrap_or_else(|| place.to_string())
    }
}

/// A season with what it was asked.
pub(super) struct Entered {
    pub(super) name: String,
    pub(super) found: Comparison,
    pub(super) fingerprint: Option<String>,
    /// Levels of other columns that it stayed within.
    pub(super) at: String,
    pub(super) spoken: Option<Spoken>,
}

impl Entered {
    /// What is compared, in words that have to be the same in all seasons.
    fn asked(&self) -> [Shared; 4] {
        let levels = |rate: &crate::rates::TakeRate| rate.levels.concat();
        [
            ("treatment", self.found.factor.clone()),
            ("levels", format!("{} and {}", levels(&self.found.first), levels(&self.found.second))),
            ("outcome", self.found.outcome.noun().to_owned()),
            (STRENGTHS, self.spoken.as_ref().map(Spoken::unit_and_substance).unwrap_or_default()),
        ]
    }

    /// The difference with its error, or why there is none that could be weighed against others.
    pub(super) fn measured(&self) -> std::result::Result<Measured, String> {
        let found = &self.found;
        if found.unit == "cutting" {
            return Err("no trays are counted, so its limits are too narrow".to_owned());
        }
        let (Some(low), Some(high), Some(df)) = (found.low, found.high, found.df) else {
            let why = found.withheld.clone().unwrap_or_else(|| "a level has a single unit".to_owned());
            return Err(format!("its limits are withheld: {why}"));
        };
        let Some(ends) = unclipped(found.value, (low, high)) else {
            return Err("its limits are all that a difference can be, so it has no error to weigh it by".to_owned());
        };
        let measured = Measured::of_limits(found.value, ends, df, found.confidence);
        let inside = low <= found.value && found.value <= high;
        let usable = inside && measured.variance > 0.0 && measured.variance.is_finite() && df >= 1.0;
        if usable { Ok(measured) } else { Err("its error does not follow from its limits".to_owned()) }
    }
}

/// Limits as far from the value on both sides as on the side that is not cut off where differences end; None where both are.
fn unclipped(value: f64, (low, high): (f64, f64)) -> Option<(f64, f64)> {
    match (low > -1.0, high < 1.0) {
        (true, true) => Some((low, high)),
        (true, false) => Some((low, 2.0 * value - low)),
        (false, true) => Some((2.0 * value - high, high)),
        (false, false) => None,
    }
}

/// All seasons, asked and checked.
///
/// # Errors
/// [`SeasonsError`]; what a trial fails with, with the name of its season; [`Error::Interrupted`] when stopped.
pub(super) fn entered(seasons: &[Season<'_>], options: &PoolOptions, control: &Control) -> Result<Vec<Entered>> {
    let each = seasons.iter().zip(1..).map(|(season, place)| {
        let name = season.called(place);
        match season.given {
            Given::Trial(trial) => of_trial(trial, name, options, control),
            Given::Compared(found) => Ok(of_comparison(found, name)),
        }
    });
    let all = each.collect::<Result<Vec<_>>>()?;
    check(&all, options)?;
    Ok(all)
}

fn of_trial(trial: &Trial, name: String, options: &PoolOptions, control: &Control) -> Result<Entered> {
    let (Some(treatment), Some((first, second))) = (&options.treatment, &options.levels) else {
        return Err(SeasonsError::NotSaid.into());
    };
    let asked = CompareOptions {
        confidence: options.confidence,
        at: options.at.clone(),
        nearly: options.nearly,
        outcome: options.outcome,
        seed: options.seed,
        ..CompareOptions::default()
    };
    let found = trial.compare(treatment, (first, second), &asked, control).map_err(|error| match error {
        Error::Interrupted => Error::Interrupted,
        other => SeasonsError::NotAsked { season: name.clone(), why: other.to_string() }.into(),
    })?;
    Ok(of_comparison(&found, name))
}

fn of_comparison(found: &Answer<Comparison>, name: String) -> Entered {
    let at = found.made_with.options.iter().find(|(option, _)| option == "at");
    Entered {
        name,
        fingerprint: found.made_with.data_fingerprint.clone(),
        at: at.map(|(_, held)| held.clone()).unwrap_or_default(),
        found: found.numbers.clone(),
        spoken: found
            .made_with
            .strength
            .as_ref()
            .map(Spoken::of_declared)
            .filter(|said| said.treatment == found.numbers.factor),
    }
}

/// Names, counts and questions of all seasons beside each other.
fn check(all: &[Entered], options: &PoolOptions) -> Result<()> {
    let Some(first) = all.first() else { return Ok(()) };
    let mut wanted = first.asked();
    if let Some(treatment) = &options.treatment {
        wanted[0].1.clone_from(treatment);
    }
    if let Some((low, high)) = &options.levels {
        wanted[1].1 = format!("{low} and {high}");
    }
    let own = |season: &'_ Entered| (season.name.clone(), season.fingerprint.clone(), season.asked());
    beside(&all.iter().map(own).collect::<Vec<_>>(), &wanted)
}

/// What a season has to share with others, and what it is called there.
pub(super) type Shared = (&'static str, String);

/// Refuses seasons of one name or with the same counts, and those that do not share what is wanted; each with its name, the fingerprint of its
/// counts and what it shares.
pub(super) fn beside<const N: usize>(
    all: &[(String, Option<String>, [Shared; N])],
    wanted: &[Shared; N],
) -> Result<()> {
    for (at, (name, fingerprint, shared)) in all.iter().enumerate() {
        let before = all.iter().take(at);
        if before.clone().any(|other| other.0 == *name) {
            return Err(SeasonsError::NameTwice { season: name.clone() }.into());
        }
        let same = before.clone().find(|other| fingerprint.is_some() && other.1 == *fingerprint);
        if let Some(other) = same {
            return Err(SeasonsError::SameData { first: other.0.clone(), second: name.clone() }.into());
        }
        // A season that does not say what its strengths are may be of these.
        let open = |found: &str, wanted: &str| found.is_empty() || wanted.is_empty();
        let differ = |(found, wanted): &(&Shared, &Shared)| {
            found.1 != wanted.1 && !(found.0 == STRENGTHS && open(&found.1, &wanted.1))
        };
        if let Some(((what, found), (_, wanted))) = shared.iter().zip(wanted).find(differ) {
            let (season, found, wanted) = (name.clone(), found.clone(), wanted.clone());
            return Err(SeasonsError::Unlike { season, what, found, wanted }.into());
        }
    }
    Ok(())
}
