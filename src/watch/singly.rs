//! Batches one by one: the fewest alive that chance still makes likely, an average of what they leave over, and trees lost so far.

use serde::{Deserialize, Serialize};

use crate::math::distributions::normal;
use crate::math::special::{expit, gauss_hermite};
use crate::watch::baseline::{Baseline, Expectations};
use crate::watch::crop::{Batch, Grouping};
use crate::watch::law::{Law, alive_law, average_limit};

/// One batch beside what was expected of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BatchSeen {
    /// The batch.
    pub batch: String,
    /// Day it was read.
    pub read: i32,
    /// Plants started.
    pub started: u64,
    /// Plants alive.
    pub alive: u64,
    /// Plants expected alive; None where nothing is expected.
    pub expected: Option<f64>,
    /// The fewest alive that are no signal; None where even none alive would be none.
    pub lower_limit: Option<u64>,
    /// True where fewer are alive than that.
    pub below: bool,
    /// Average of the batches' standing so far, 0 where all is as expected.
    pub average: f64,
    /// Its lower limit.
    pub average_limit: f64,
    /// Trees lost so far against expectation.
    pub lost: f64,
}

/// How batches are looked at one by one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct BatchOptions {
    /// Batches, of which one may lie below its limit by chance.
    pub one_in: f64,
    /// Weight of each batch in the average, 0-1.
    pub weight: f64,
}

impl Default for BatchOptions {
    fn default() -> Self {
        Self { one_in: 500.0, weight: 0.1 }
    }
}

const POINTS: usize = 9;

/// The law of the number alive with the layers of weeks and places integrated out.
pub(crate) fn law_of(started: u64, logit: f64, baseline: &Baseline) -> Law {
    let spreads = baseline.spreads;
    let width = spreads.week.hypot(spreads.week_in_place);
    if width == 0.0 {
        return alive_law(started, expit(logit), spreads.batch);
    }
    let rule = gauss_hermite(POINTS);
    let laws: Vec<Law> =
        rule.nodes.iter().map(|z| alive_law(started, expit(logit + width * z), spreads.batch)).collect();
    Law::mixture(&laws, &rule.weights)
}

/// Batches in the order of their readings. The standing of a batch is the normal quantile of its place in its own law, halfway through its own
/// probability, so that small batches and large ones speak alike.
pub(crate) fn singly(
    batches: &[&Batch],
    groupings: &[Grouping],
    baseline: &Baseline,
    options: &BatchOptions,
) -> Vec<BatchSeen> {
    let expectations = Expectations::of(baseline, groupings);
    let chance = 1.0 / options.one_in;
    let (mut average, mut variance, mut lost) = (0.0, 0.0, 0.0);
    let keep = 1.0 - options.weight;
    let widths = average_limit(options.weight, options.one_in);
    let mut seen = Vec::with_capacity(batches.len());
    for batch in batches {
        let logit = expectations.logit(batch);
        let expected = logit.map(|logit| {
            let law = law_of(batch.started, logit, baseline);
            (law, batch.started as f64 * expit(logit))
        });
        let mut lower = None;
        if let Some((law, mean)) = &expected {
            lower = lower_limit(law, chance);
            let standing = standing(law, batch.alive);
            average = keep * average + options.weight * standing.0;
            variance = keep * keep * variance + options.weight * options.weight * standing.1;
            lost += mean - batch.alive as f64;
        }
        seen.push(BatchSeen {
            batch: batch.name.clone(),
            read: batch.read,
            started: batch.started,
            alive: batch.alive,
            expected: expected.map(|(_, mean)| mean),
            lower_limit: lower,
            below: lower.is_some_and(|limit| batch.alive < limit),
            average,
            average_limit: -widths * variance.sqrt(),
            lost,
        });
    }
    seen
}

/// The largest count below which the law lies with this probability at most; None where that is 0.
fn lower_limit(law: &Law, chance: f64) -> Option<u64> {
    let mut below = 0.0;
    for (count, p) in law.atoms() {
        if below + p > chance {
            return u64::try_from(count).ok().filter(|limit| *limit > 0);
        }
        below += p;
    }
    None
}

/// The standing of a count in its law, and the variance that such standings have.
fn standing(law: &Law, alive: u64) -> (f64, f64) {
    let mut below = 0.0;
    let (mut own, mut mean, mut square) = (0.0, 0.0, 0.0);
    for (count, p) in law.atoms() {
        let middle = (below + 0.5 * p).clamp(1e-12, 1.0 - 1e-12);
        let z = normal::quantile(middle);
        if count == alive as i64 || own == 0.0 && count > alive as i64 {
            own = z;
        }
        mean += p * z;
        square += p * z * z;
        below += p;
    }
    (own - mean, (square - mean * mean).max(0.0))
}
