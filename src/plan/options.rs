//! What is asked of a plan: the trial, the question, and the numbers of trays, cuttings and correlations to try.

use serde::{Deserialize, Serialize};

use super::design::PlannedTrial;
use super::question::{Asked, Question};
use crate::effects::Adjustment;
use crate::error::{PlanError, Result};
use crate::estimate::check_level;
use crate::layers::Earlier;
use crate::math::special::logit;

/// Correlations that are tried where nothing is known: no value for rooting trays is published, so a band is shown.
pub const BAND: [f64; 3] = [0.01, 0.05, 0.15];

/// What stands to be planned, and how it is tried.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PlanOptions {
    /// The trial; its trays, cuttings and correlation give way to the lists below.
    pub trial: PlannedTrial,
    /// Names of the levels; numbers where not given.
    pub levels: Vec<String>,
    /// What the trial is for.
    pub question: Question,
    /// Trays of each level to try; with bays, trays of each bay.
    pub trays: Vec<u64>,
    /// Cuttings of a tray to try.
    pub cuttings: Vec<u64>,
    /// Correlations to try; [`BAND`] where none is given.
    pub correlation: Vec<f64>,
    /// Earlier trials, whose knowledge of trays takes the place of correlations.
    pub earlier: Vec<Earlier>,
    /// Confidence level, a proportion.
    pub confidence: f64,
    /// The margin, a proportion.
    pub margin: Option<f64>,
    /// The target, a proportion.
    pub target: Option<f64>,
    /// Where the levels stand along the treatment; 0, 1, 2, ... where not given.
    pub scores: Option<Vec<f64>>,
    /// How P values of several pairs are adjusted.
    pub together: Adjustment,
    /// How often the trial is to show what is there, a proportion.
    pub power: f64,
    /// Most trays of a level that are looked at.
    pub most_trays: u64,
    /// Most cuttings of a tray that are looked at, where costs are given.
    pub most_cuttings: u64,
    /// Cost of a tray without its cuttings.
    pub cost_per_tray: Option<f64>,
    /// Cost of a cutting.
    pub cost_per_cutting: Option<f64>,
    /// Places for trays that there are, of all levels together.
    pub places: Option<u64>,
    /// Whether the trays are dealt out again in each drawn trial.
    pub second_opinion: bool,
    /// Trials drawn.
    pub draws: u64,
    /// Seed of the draws.
    pub seed: u64,
}

impl Default for PlanOptions {
    fn default() -> Self {
        Self {
            trial: PlannedTrial::default(),
            levels: Vec::new(),
            question: Question::Difference,
            trays: vec![8],
            cuttings: vec![20],
            correlation: Vec::new(),
            earlier: Vec::new(),
            confidence: 0.95,
            margin: None,
            target: None,
            scores: None,
            together: Adjustment::Holm,
            power: 0.8,
            most_trays: 100,
            most_cuttings: 60,
            cost_per_tray: None,
            cost_per_cutting: None,
            places: None,
            second_opinion: false,
            draws: 10_000,
            seed: 1,
        }
    }
}

fn proportion(name: &'static str, value: f64, example: &'static str) -> Result<()> {
    if value > 0.0 && value < 1.0 { Ok(()) } else { Err(PlanError::Proportion { name, value, example }.into()) }
}

impl PlanOptions {
    /// The correlations that are tried.
    pub(super) fn correlations(&self) -> Vec<f64> {
        if self.correlation.is_empty() { BAND.to_vec() } else { self.correlation.clone() }
    }

    /// What all earlier trials tell together.
    ///
    /// # Errors
    /// [`PlanError::NothingKnown`] where trials are given that tell nothing.
    pub(super) fn known(&self) -> Result<Option<Earlier>> {
        if self.earlier.is_empty() {
            return Ok(None);
        }
        Earlier::joined(&self.earlier).map(Some).ok_or_else(|| PlanError::NothingKnown.into())
    }

    /// The one trial of those asked for that is looked at by itself: the first number of trays and cuttings, the correlation in the middle.
    pub(super) fn one(&self) -> PlannedTrial {
        let correlations = self.correlations();
        let size = |list: &[u64], usual: u64| list.first().copied().unwrap_or(usual);
        let plan = self.trial.sized(size(&self.trays, 8), size(&self.cuttings, 20));
        plan.alike(correlations.get(correlations.len() / 2).copied().unwrap_or(0.05))
    }

    /// The question with all that decides it.
    ///
    /// # Errors
    /// [`PlanError`] for what is missing, or cannot be.
    pub(super) fn asked(&self) -> Result<Asked> {
        self.check_numbers()?;
        let (question, takes) = (self.question, &self.trial.takes);
        let (least, most) = (question.least_levels(), question.most_levels());
        if !(least..=most).contains(&takes.len()) {
            let needed = if least == most { format!("{least}") } else { format!("{least} to {most}") };
            let needed = format!("{needed} {}", if most == 1 { "level" } else { "levels" });
            return Err(PlanError::Levels { question: question.name(), needed, found: takes.len() }.into());
        }
        self.check_crossed()?;
        if question.has_margin() && self.margin.is_none() {
            return Err(PlanError::Needs { question: question.name(), name: "margin", example: "margin=0.10" }.into());
        }
        if question == Question::Target && self.target.is_none() {
            return Err(PlanError::Needs { question: question.name(), name: "target", example: "target=0.8" }.into());
        }
        for (name, list, expected) in [
            ("scores", self.scores.as_ref().map(Vec::len), takes.len()),
            ("levels", Some(self.levels.len()), takes.len()),
        ] {
            if let Some(found) = list.filter(|found| *found != expected && !(name == "levels" && *found == 0)) {
                return Err(PlanError::Unmatched { name, found, expected }.into());
            }
        }
        let scores = self.scores.clone().unwrap_or_else(|| (0..takes.len()).map(|at| at as f64).collect());
        if question == Question::Trend && !apart(&scores) {
            return Err(PlanError::OnePlace.into());
        }
        Ok(Asked {
            question,
            confidence: self.confidence,
            margin: self.margin.unwrap_or(0.0),
            target: self.target.unwrap_or(0.0),
            together: self.together,
            scores,
        })
    }

    /// That takes fill a table of two treatments where one is asked for, and that there is none otherwise.
    fn check_crossed(&self) -> Result<()> {
        let (question, columns, count) = (self.question, self.trial.columns, self.trial.takes.len() as u64);
        let fills = columns >= 2 && count % columns == 0 && count / columns >= 2;
        if question.is_crossed() && !fills {
            return Err(PlanError::NotCrossed { question: question.name() }.into());
        }
        if !question.is_crossed() && columns > 0 {
            return Err(PlanError::Crossed { question: question.name() }.into());
        }
        if question.is_crossed() && self.trial.bays > 0 {
            return Err(PlanError::CrossedInBays.into());
        }
        Ok(())
    }

    fn check_numbers(&self) -> Result<()> {
        check_level(self.confidence)?;
        proportion("power", self.power, "0.8")?;
        self.margin.map_or(Ok(()), |margin| proportion("margin", margin, "0.10"))?;
        self.target.map_or(Ok(()), |target| proportion("target", target, "0.8"))?;
        if !(100..=1_000_000).contains(&self.draws) {
            return Err(PlanError::Draws { draws: self.draws }.into());
        }
        for (name, list) in [("trays", &self.trays), ("cuttings", &self.cuttings)] {
            if list.is_empty() {
                return Err(PlanError::Empty { name }.into());
            }
        }
        for (name, value) in [("cost_per_tray", self.cost_per_tray), ("cost_per_cutting", self.cost_per_cutting)] {
            if let Some(value) = value.filter(|value| !(*value >= 0.0 && value.is_finite())) {
                return Err(PlanError::Cost { name, value }.into());
            }
        }
        Ok(())
    }

    /// That something is expected which the question can show.
    ///
    /// # Errors
    /// [`PlanError`] where nothing differs, or what is expected breaks the margin.
    pub(super) fn check_expected(&self, asked: &Asked) -> Result<()> {
        let takes = &self.trial.takes;
        let gap = takes.last().copied().unwrap_or(0.0) - takes.first().copied().unwrap_or(0.0);
        let broken = match asked.question {
            Question::Equivalent => gap.abs() >= asked.margin,
            Question::NotWorse => gap <= -asked.margin,
            _ => false,
        };
        if broken {
            return Err(PlanError::BeyondMargin { gap: gap.abs(), margin: asked.margin }.into());
        }
        let same = match asked.question {
            Question::Target => takes.first().is_some_and(|take| *take == asked.target),
            Question::NotWorse | Question::Equivalent => false,
            Question::Effect => {
                !takes.chunks(self.trial.columns.max(1) as usize).any(|row| takes.get(..row.len()) != Some(row))
            }
            Question::Interaction => self.parallel(),
            _ => !apart(takes),
        };
        if same && asked.question == Question::Effect {
            return Err(PlanError::NoEffect.into());
        }
        if same && asked.question == Question::Interaction {
            return Err(PlanError::NoInteraction.into());
        }
        if same { Err(PlanError::NothingToSee.into()) } else { Ok(()) }
    }

    /// True where the log odds of all takes are a sum of one part for either treatment.
    fn parallel(&self) -> bool {
        let rows: Vec<&[f64]> = self.trial.takes.chunks(self.trial.columns.max(1) as usize).collect();
        let Some(first) = rows.first() else { return true };
        let odds = |take: f64| logit(take);
        let gap = |row: &[f64], at: usize| {
            odds(row.get(at).copied().unwrap_or(0.5)) - odds(row.first().copied().unwrap_or(0.5))
        };
        rows.iter().all(|row| (1..row.len()).all(|at| (gap(row, at) - gap(first, at)).abs() < 1e-9))
    }

    /// How a level is called.
    pub(super) fn level(&self, at: usize) -> String {
        self.levels.get(at).cloned().unwrap_or_else(|| format!("level {}", at + 1))
    }
}

/// True where numbers differ.
fn apart(values: &[f64]) -> bool {
    values.iter().any(|value| Some(value) != values.first())
}
