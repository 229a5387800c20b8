//! What is counted of each cutting: that it rooted, that it lived, or that it rooted having lived.

use std::sync::Arc;

use crate::answer::Note;
use crate::choice::choice;
use crate::error::{CountError, Result};
use crate::trial::{Covariate, Factor, Trial, Units, picked};

/// What a rate is a rate of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Outcome {
    /// Rooted of stuck: survival and rooting together.
    #[default]
    Take,
    /// Alive of stuck.
    Survival,
    /// Rooted of those that lived.
    RootedOfSurvivors,
    /// Of a grade that was named or a better one ([`Trial::reaching`]).
    GradeReached,
}

choice!(
    Outcome, "outcome":
    Take = "take",
    Survival = "survival",
    RootedOfSurvivors = "rooted-of-survivors",
    GradeReached = "grade-reached",
);

/// The most words of a decision line.
const MOST_WORDS: usize = 30;

/// Words of the take, and what stands in their place for survival and for rooting among survivors.
const WORDS: [(&str, &str, &str); 6] = [
    ("Of 100 cuttings", "Of 100 cuttings", "Of 100 survivors"),
    ("of 100 cuttings", "of 100 cuttings", "of 100 survivors"),
    ("rooted", "survived", "rooted"),
    ("trees per 100", "survivors per 100", "rooted per 100 survivors"),
    ("The take ", "It ", "It "),
    ("the take ", "it ", "it "),
];

impl Outcome {
    /// What deaths tell apart.
    pub const OF_DEATHS: [Self; 3] = [Self::Take, Self::Survival, Self::RootedOfSurvivors];

    /// A sentence about takes told of this outcome, which it names first.
    ///
    /// ```
    /// use rootling::trial::Outcome;
    /// let told = Outcome::Survival.told("Of 100 cuttings 80 at 0 to 95 at 2500 rooted.");
    /// assert_eq!(told, "Survival: Of 100 cuttings 80 at 0 to 95 at 2500 survived.");
    /// ```
    #[must_use]
    pub fn told(self, sentence: &str) -> String {
        let words = |text: String, (take, survival, rooted): &(&str, &str, &str)| {
            text.replace(take, if self == Self::Survival { survival } else { rooted })
        };
        match self {
            Self::Take | Self::GradeReached => self.named(sentence),
            _ => self.named(&WORDS.iter().fold(sentence.to_owned(), words)),
        }
    }

    /// A sentence that speaks of this outcome already, behind its name unless it begins with it.
    ///
    /// ```
    /// use rootling::trial::Outcome;
    /// assert_eq!(Outcome::Survival.headed("Survival falls by 12 survivors per 100."), "Survival falls by 12 survivors per 100.");
    /// ```
    #[must_use]
    pub fn headed(self, sentence: &str) -> String {
        let begun = sentence.to_lowercase().starts_with(&self.words().the_take.to_lowercase());
        if begun { sentence.to_owned() } else { self.named(sentence) }
    }

    /// A sentence that speaks of this outcome already, behind its name; what stands last gives way where that is too long.
    ///
    /// ```
    /// use rootling::trial::Outcome;
    /// assert_eq!(Outcome::Survival.named("80 of 100 survived."), "Survival: 80 of 100 survived.");
    /// ```
    #[must_use]
    pub fn named(self, sentence: &str) -> String {
        let told = format!("{}: {sentence}", self.words().title);
        let long = told.split_whitespace().count() > MOST_WORDS;
        told.rsplit_once("; ").filter(|_| long).map_or_else(|| told.clone(), |(lead, _)| format!("{lead}."))
    }
}

impl Trial {
    /// The counts of an outcome: `rooted` of `stuck` hold what is counted of how many. Trays without a survivor have no rate of
    /// rooting among survivors and are left out of that outcome. What earlier trials showed is of takes, so the other outcomes do not draw
    /// on it.
    ///
    /// # Errors
    /// A count error when deaths are not recorded, or when nothing survived.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,dead,stuck\n0,a,3,2,20\n0,b,5,1,20\n2500,c,14,3,20\n2500,d,12,4,20\n";
    /// # let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # options.dead = Some("dead".to_owned());
    /// # let trial = read_csv(csv, &options)?;
    /// let survival = trial.units_of(Outcome::Survival)?;
    /// assert_eq!(survival.rooted, [18, 19, 17, 16]); // alive of 20
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn units_of(&self, outcome: Outcome) -> Result<Units> {
        let units = self.units();
        if outcome == Outcome::GradeReached && self.reached().is_none() {
            let why = "it is that of a grade; name the response with response= and the grade with at_least=";
            return Err(CountError::NotDefined { what: "this outcome", why }.into());
        }
        if matches!(outcome, Outcome::Take | Outcome::GradeReached) {
            return Ok(units.clone());
        }
        let dead = self.dead().ok_or(CountError::NotDefined {
            what: "this outcome",
            why: "deaths are not recorded; name their column with dead= when loading",
        })?;
        let alive: Vec<u64> = units.stuck.iter().zip(dead).map(|(stuck, dead)| stuck.saturating_sub(*dead)).collect();
        if outcome == Outcome::Survival {
            return Ok(Units { rooted: alive, earlier: None, ..units.clone() });
        }
        let kept: Vec<usize> =
            alive.iter().enumerate().filter(|(_, alive)| **alive > 0).map(|(unit, _)| unit).collect();
        if kept.is_empty() {
            let why = "not one cutting survived";
            return Err(CountError::NotDefined { what: "rooting among survivors", why }.into());
        }
        Ok(Units { stuck: alive, earlier: None, ..units.clone() }.only(&kept))
    }

    /// The same, shared where it is the trial's own.
    pub(crate) fn shared_units_of(&self, outcome: Outcome) -> Result<Arc<Units>> {
        if outcome == Outcome::Take {
            Ok(Arc::clone(self.shared_units()))
        } else {
            self.units_of(outcome).map(Arc::new)
        }
    }

    /// The note that an answer of one outcome leaves the deaths out of sight, where they are recorded.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,dead,stuck\n0,a,3,2,20\n0,b,5,1,20\n2500,c,14,3,20\n2500,d,12,4,20\n";
    /// # let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # options.dead = Some("dead".to_owned());
    /// # let trial = read_csv(csv, &options)?;
    /// assert!(trial.deaths_note(Outcome::Take).is_some_and(|note| note.code == "deaths_recorded"));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn deaths_note(&self, outcome: Outcome) -> Option<Note> {
        let dead: u64 = self.dead()?.iter().sum();
        let text = match outcome {
            Outcome::Take => format!(
                "{dead} cuttings died and count as not rooted here; the outcomes survival and rooted-of-survivors tell the two apart."
            ),
            Outcome::Survival => "This is about survival alone, whether a survivor rooted or not.".to_owned(),
            Outcome::GradeReached => return None,
            Outcome::RootedOfSurvivors => {
                "Only survivors are counted; where deaths differ between treatments these are no longer the plants that were dealt out."
                    .to_owned()
            }
        };
        (dead > 0 || outcome != Outcome::Take).then(|| Note::new("deaths_recorded", text))
    }
}

impl Units {
    /// The units named, in their order.
    pub(crate) fn only(mut self, kept: &[usize]) -> Self {
        let tray = self.tray.take().map(|one| Factor { codes: picked(&one.codes, kept), ..one });
        Self { tray, ..self.without_names(kept) }
    }

    /// The same without the names of trays, of which there may be very many.
    pub(crate) fn without_names(&self, kept: &[usize]) -> Self {
        use picked as of;
        let factor = |one: &Factor| Factor {
            name: one.name.clone(),
            levels: one.levels.clone(),
            numbers: one.numbers.clone(),
            codes: of(&one.codes, kept),
        };
        Self {
            kind: self.kind,
            rooted: of(&self.rooted, kept),
            stuck: of(&self.stuck, kept),
            treatments: self.treatments.iter().map(factor).collect(),
            tray: None,
            block: self.block.as_ref().map(factor),
            whole_plot: self.whole_plot.as_ref().map(factor),
            earlier: self.earlier.clone(),
            season: self.season.as_ref().map(factor),
            stock_plant: self.stock_plant.as_ref().map(factor),
            covariates: self
                .covariates
                .iter()
                .map(|one| Covariate { name: one.name.clone(), values: of(&one.values, kept) })
                .collect(),
        }
    }
}
