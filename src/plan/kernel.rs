//! One planned trial drawn and judged as the tool judges real ones by default, without building a frame.

use super::design::{PlannedTrial, TrayLaw};
use super::draw::{LogOdds, TrayTable};
use super::question::{Asked, Question};
use crate::compare::{EffectiveStrata, Stratum, randomisation_up_to};
use crate::control::Control;
use crate::effects::{adjusted_p, effect_test};
use crate::error::Result;
use crate::math::rng::{self, ChaCha8Rng};
use crate::models::{Model, ModelSpec};
use crate::rates::{Arm, TraySpread, tray_interval, tray_spread, tray_spread_within};
use crate::simulate::{coded, shifted};
use crate::tables::{ScoredTray, tray_trend};
use crate::trial::{UnitKind, Units};

/// Assignments that are enumerated for one drawn trial, and those drawn where there are more.
const ENUMERATED: u64 = 20_000;
const DEALT: u64 = 1_999;

/// What one drawn trial came to.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Outcome {
    /// Whether each thing asked was shown: the pairs of the question in their order, or the one thing.
    pub(super) shown: Vec<bool>,
    /// The leading P value, where a test leads.
    pub(super) p: Option<f64>,
    /// Half the width of the interval, where it was asked for.
    pub(super) half_width: Option<f64>,
    /// Whether dealing the trays out again shows it too, where that was asked for.
    pub(super) confirmed: Option<bool>,
}

/// What is wanted of every drawn trial beside the decision.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Wanted {
    /// Half the width of the interval.
    pub(super) widths: bool,
    /// The second opinion.
    pub(super) second_opinion: bool,
}

/// A planned trial ready to be drawn many times.
#[derive(Debug, Clone)]
pub(super) struct Kernel<'a> {
    plan: &'a PlannedTrial,
    asked: &'a Asked,
    wanted: Wanted,
    /// Counts of the trays of each level, where no place moves them.
    tables: Vec<TrayTable>,
    /// Log odds of the trays of each level, where places move them by that law.
    odds: Vec<LogOdds>,
    pairs: Vec<(usize, usize)>,
    /// Block of every tray of a level.
    places: Vec<u32>,
}

/// The counts of a drawn trial: the units of every level, and the block of each.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Drawn {
    pub(super) arms: Vec<Arm>,
    pub(super) places: Vec<Vec<u32>>,
}

impl<'a> Kernel<'a> {
    /// # Errors
    /// What cannot be planned; a numeric error where no law of the trays has such a mean and variance.
    pub(super) fn new(plan: &'a PlannedTrial, asked: &'a Asked, wanted: Wanted) -> Result<Self> {
        plan.check()?;
        let moved = plan.block_trays > 0 || plan.bays > 0;
        let table = |take: &f64| TrayTable::new(plan.cuttings, *take, plan.correlation, plan.law);
        let tables = if moved { Vec::new() } else { plan.takes.iter().map(table).collect::<Result<_>>()? };
        let odds = |take: &f64| LogOdds::of(*take, plan.correlation);
        let by_odds = moved && plan.law == TrayLaw::LogitNormal;
        let odds = if by_odds { plan.takes.iter().map(odds).collect::<Result<_>>()? } else { Vec::new() };
        let places = (0..plan.trays).map(|tray| tray.checked_div(plan.block_trays).unwrap_or(0) as u32);
        Ok(Self {
            plan,
            asked,
            wanted,
            tables,
            odds,
            pairs: asked.question.pairs(plan.takes.len()),
            places: places.collect(),
        })
    }

    /// The pairs of levels that are judged.
    pub(super) fn pairs(&self) -> &[(usize, usize)] {
        &self.pairs
    }

    /// The counts of one trial.
    pub(super) fn drawn(&self, random: &mut ChaCha8Rng) -> Drawn {
        if self.plan.bays > 0 {
            return self.drawn_in_bays(random);
        }
        let blocks = self.places.last().map_or(0, |last| last + 1);
        let effects: Vec<f64> = if self.plan.block_trays > 0 {
            (0..blocks).map(|_| self.plan.block_sd * rng::deviate(random)).collect()
        } else {
            Vec::new()
        };
        let mut drawn = Drawn::default();
        for level in 0..self.plan.takes.len() {
            let (mut arm, mut own) = (Arm::default(), Vec::with_capacity(self.places.len()));
            for place in &self.places {
                let rooted = self.tray(random, level, effects.get(*place as usize).copied());
                // A lost tray is drawn too, so that what else is drawn does not depend on it.
                if self.plan.lost > 0.0 && rng::uniform(random) < self.plan.lost {
                    continue;
                }
                arm.rooted.push(rooted);
                arm.stuck.push(self.plan.cuttings);
                own.push(*place);
            }
            drawn.arms.push(arm);
            drawn.places.push(own);
        }
        drawn
    }

    /// Bays of one level each, as units: their trays added up.
    fn drawn_in_bays(&self, random: &mut ChaCha8Rng) -> Drawn {
        let mut drawn = Drawn::default();
        for level in 0..self.plan.takes.len() {
            let mut arm = Arm::default();
            for _ in 0..self.plan.bays {
                let effect = self.plan.bay_sd * rng::deviate(random);
                let (mut rooted, mut stuck) = (0, 0);
                for _ in 0..self.plan.trays {
                    let own = self.tray(random, level, Some(effect));
                    if self.plan.lost > 0.0 && rng::uniform(random) < self.plan.lost {
                        continue;
                    }
                    rooted += own;
                    stuck += self.plan.cuttings;
                }
                if stuck > 0 {
                    arm.rooted.push(rooted);
                    arm.stuck.push(stuck);
                }
            }
            drawn.places.push(vec![0; arm.stuck.len()]);
            drawn.arms.push(arm);
        }
        drawn
    }

    /// Rooted cuttings of a tray of a level, in a place that moves its log odds where there is one.
    #[inline]
    fn tray(&self, random: &mut ChaCha8Rng, level: usize, effect: Option<f64>) -> u64 {
        if let Some(table) = self.tables.get(level) {
            return table.draw(random);
        }
        let effect = effect.unwrap_or(0.0);
        if let Some(odds) = self.odds.get(level) {
            return odds.draw(random, self.plan.cuttings, effect);
        }
        let take = self.plan.takes.get(level).copied().unwrap_or(0.5);
        rng::beta_binomial(random, self.plan.cuttings, shifted(take, effect), self.plan.correlation)
    }

    /// Draws one trial and judges it.
    ///
    /// # Errors
    /// [`crate::Error::Interrupted`] when stopped; a numeric error of a limit.
    pub(super) fn one(&self, random: &mut ChaCha8Rng, control: &Control) -> Result<Outcome> {
        let drawn = self.drawn(random);
        self.judged(&drawn, random, control)
    }

    /// What the tool says of these counts. A trial that lost a whole level shows nothing.
    pub(super) fn judged(&self, drawn: &Drawn, random: &mut ChaCha8Rng, control: &Control) -> Result<Outcome> {
        let nothing = || Outcome { shown: vec![false; self.pairs.len().max(1)], ..Outcome::default() };
        if drawn.arms.iter().any(|arm| arm.stuck.is_empty()) {
            return Ok(nothing());
        }
        let blocked = self.plan.block_trays > 0;
        let spread = if blocked { tray_spread_within(&drawn.arms, &drawn.places) } else { tray_spread(&drawn.arms) };
        let Some(spread) = spread else { return Ok(nothing()) };
        match self.asked.question {
            Question::Target => self.against_target(drawn, &spread),
            Question::Trend => Ok(self.along(drawn)),
            Question::Effect | Question::Interaction => Ok(self.crossed(drawn)),
            _ => self.compared(drawn, &spread, random, control),
        }
    }

    fn against_target(&self, drawn: &Drawn, spread: &TraySpread) -> Result<Outcome> {
        let Some(arm) = drawn.arms.first() else { return Ok(Outcome::default()) };
        let (low, high) = tray_interval(arm, spread, self.asked.confidence)?;
        let expected = self.plan.takes.first().copied().unwrap_or(0.5);
        let off = |limit: f64, side: f64| side * (limit - self.asked.target) > 0.0;
        // The side on which it lies counts, unless it is expected to meet the target.
        let shown =
            (off(low, 1.0) && expected >= self.asked.target) || (off(high, -1.0) && expected <= self.asked.target);
        Ok(Outcome { shown: vec![shown], half_width: Some(0.5 * (high - low)), ..Outcome::default() })
    }

    fn along(&self, drawn: &Drawn) -> Outcome {
        let mut trays = Vec::new();
        for (level, ((arm, places), score)) in drawn.arms.iter().zip(&drawn.places).zip(&self.asked.scores).enumerate()
        {
            let rates = arm.tray_rates().into_iter().zip(places);
            trays.extend(rates.map(|(rate, place)| ScoredTray {
                rate,
                score: *score,
                arm: level as u32,
                stratum: *place,
            }));
        }
        let Some(found) = tray_trend(&trays) else { return Outcome { shown: vec![false], ..Outcome::default() } };
        let shown = found.p <= 1.0 - self.asked.confidence && rightly(found.slope, self.expected_slope());
        Outcome { shown: vec![shown], p: Some(found.p), ..Outcome::default() }
    }

    /// The model's own test of an effect or of the interaction. A model that is refused shows nothing.
    fn crossed(&self, drawn: &Drawn) -> Outcome {
        let units = crossed_units(drawn, self.plan.columns.max(1) as usize, self.plan.block_trays > 0);
        let mut spec = ModelSpec::of(&CROSSED);
        let interaction = self.asked.question == Question::Interaction;
        if interaction {
            spec.interactions = vec![CROSSED.map(str::to_owned).to_vec()];
        }
        let effects = if interaction { &CROSSED[..] } else { &CROSSED[..1] };
        let test = Model::fit(&units, &spec).and_then(|model| effect_test(&model, effects));
        let p = test.ok().flatten().and_then(|test| test.p);
        let shown = p.is_some_and(|p| p <= 1.0 - self.asked.confidence);
        Outcome { shown: vec![shown], p, half_width: None, confirmed: None }
    }

    fn expected_slope(&self) -> f64 {
        let (takes, scores) = (&self.plan.takes, &self.asked.scores);
        let middle = scores.iter().sum::<f64>() / scores.len().max(1) as f64;
        takes.iter().zip(scores).map(|(take, score)| take * (score - middle)).sum()
    }

    fn compared(
        &self,
        drawn: &Drawn,
        spread: &TraySpread,
        random: &mut ChaCha8Rng,
        control: &Control,
    ) -> Result<Outcome> {
        let mut p_values = Vec::with_capacity(self.pairs.len());
        let mut gaps = Vec::with_capacity(self.pairs.len());
        let mut lead = None;
        for (first, second) in &self.pairs {
            let strata = strata(drawn, *first, *second);
            let score = EffectiveStrata::new(&strata, spread);
            p_values.push(if score.is_empty() { 1.0 } else { score.p() });
            gaps.push(score.difference());
            lead.get_or_insert((strata, score));
        }
        let Some((strata, score)) = lead else { return Ok(Outcome::default()) };
        let p = p_values.first().copied();
        if score.is_empty() {
            return Ok(Outcome { shown: vec![false; self.pairs.len()], ..Outcome::default() });
        }
        let limits = |confidence: f64| score.difference_limits(spread.critical(confidence));
        if self.asked.question.has_margin() {
            let (low, high) = limits(self.asked.confidence)?;
            let inside =
                low > -self.asked.margin && (self.asked.question == Question::NotWorse || high < self.asked.margin);
            return Ok(Outcome { shown: vec![inside], p, half_width: Some(0.5 * (high - low)), confirmed: None });
        }
        let count = p_values.len();
        let alpha = 1.0 - self.asked.confidence;
        let half_width = if self.wanted.widths {
            let (low, high) = limits(self.asked.together.interval_level(self.asked.confidence, count))?;
            Some(0.5 * (high - low))
        } else {
            None
        };
        let judged = if count > 1 { adjusted_p(&p_values, self.asked.together, control)? } else { p_values };
        let takes = |level: usize| self.plan.takes.get(level).copied().unwrap_or(0.5);
        let expected = self.pairs.iter().map(|(first, second)| takes(*second) - takes(*first));
        let shown: Vec<bool> = judged
            .iter()
            .zip(gaps.iter().zip(expected))
            .map(|(p, (gap, expected))| *p <= alpha && rightly(*gap, expected))
            .collect();
        let confirmed = match shown.first() {
            Some(shown) if self.wanted.second_opinion && count == 1 => {
                Some(*shown && dealt_again(&strata, rng_seed(random), control)? <= alpha)
            }
            _ => None,
        };
        Ok(Outcome { shown, p, half_width, confirmed })
    }
}

/// The names under which two crossed treatments enter a model.
const CROSSED: [&str; 2] = ["first", "second"];

/// A drawn trial of two crossed treatments as typed columns.
pub(super) fn crossed_units(drawn: &Drawn, columns: usize, blocked: bool) -> Units {
    let each = |level: usize, arm: &Arm| vec![level as u32; arm.stuck.len()];
    let codes = |of: &dyn Fn(usize) -> usize| -> Vec<u32> {
        drawn.arms.iter().enumerate().flat_map(|(at, arm)| each(of(at), arm)).collect()
    };
    let stuck: Vec<u64> = drawn.arms.iter().flat_map(|arm| arm.stuck.iter().copied()).collect();
    let [first, second] = CROSSED;
    Units {
        kind: UnitKind::Tray,
        treatments: vec![coded(first, codes(&|at| at / columns)), coded(second, codes(&|at| at % columns))],
        tray: Some(coded("tray", (0..stuck.len() as u32).collect())),
        block: blocked.then(|| coded("block", drawn.places.concat())),
        whole_plot: None,
        season: None,
        earlier: None,
        stock_plant: None,
        covariates: Vec::new(),
        rooted: drawn.arms.iter().flat_map(|arm| arm.rooted.iter().copied()).collect(),
        stuck,
    }
}

/// True when a difference lies on the side expected, or none was expected.
fn rightly(found: f64, expected: f64) -> bool {
    expected == 0.0 || found * expected > 0.0
}

fn rng_seed(random: &mut ChaCha8Rng) -> u64 {
    (rng::uniform(random) * 9_007_199_254_740_992.0) as u64
}

/// Two levels block by block.
fn strata(drawn: &Drawn, first: usize, second: usize) -> Vec<(Arm, Arm)> {
    let empty = (&Arm::default(), &Vec::new());
    let of = |level: usize| drawn.arms.get(level).zip(drawn.places.get(level)).unwrap_or(empty);
    let (one, other) = (of(first), of(second));
    let last = one.1.iter().chain(other.1).max().copied().unwrap_or(0);
    if last == 0 {
        return vec![(one.0.clone(), other.0.clone())];
    }
    let mut found = vec![(Arm::default(), Arm::default()); last as usize + 1];
    for ((arm, places), second) in [(one, false), (other, true)] {
        for ((rooted, stuck), place) in arm.rooted.iter().zip(&arm.stuck).zip(places) {
            if let Some(stratum) = found.get_mut(*place as usize) {
                let side = if second { &mut stratum.1 } else { &mut stratum.0 };
                side.rooted.push(*rooted);
                side.stuck.push(*stuck);
            }
        }
    }
    found
}

/// P value of dealing the trays of two levels out again within blocks.
fn dealt_again(strata: &[(Arm, Arm)], seed: u64, control: &Control) -> Result<f64> {
    let stratum = |(first, second): &(Arm, Arm)| {
        let (rates, others) = (first.tray_rates(), second.tray_rates());
        let labels = rates.iter().map(|_| false).chain(others.iter().map(|_| true)).collect();
        Stratum { rates: [rates, others].concat(), second: labels }
    };
    let strata: Vec<Stratum> = strata.iter().map(stratum).collect();
    Ok(randomisation_up_to(ENUMERATED, &strata, (seed, DEALT), control)?.p)
}
