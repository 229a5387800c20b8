//! Which step of the chain carries a drop.

use super::numbers::StepChange;
use crate::math::distributions::normal;
use crate::math::special::expit;
use crate::watch::baseline::{Baseline, Expectations};
use crate::watch::crop::{Batch, Grouping};

/// Each step against its own baseline, in these batches; a batch counts for a step where `at_step` has its counts.
pub(super) fn steps(
    batches: &[&Batch],
    groupings: &[Grouping],
    baseline: &Baseline,
    names: &[String],
    at_step: impl Fn(&Batch, usize) -> Option<Batch>,
) -> Vec<StepChange> {
    let known = names.iter().enumerate().filter_map(|(at, name)| {
        let own = baseline.steps.iter().find(|(step, _)| step == name)?;
        Some((at, name, &own.1))
    });
    let mut found = Vec::new();
    for (at, name, own) in known {
        let counted: Vec<Batch> = batches.iter().filter_map(|batch| at_step(batch, at)).collect();
        let expected = Expectations::of(own, groupings);
        let (told, off) = expected.off(counted.iter());
        if told <= 0.0 {
            continue;
        }
        let each = counted.iter().filter_map(|batch| Some((batch, expected.logit(batch)?)));
        let (started, change) = each.fold((0.0, 0.0), |(started, change), (batch, logit)| {
            let n = batch.started as f64;
            (started + n, change + batch.alive as f64 - n * expit(logit))
        });
        // The baseline is an estimate too.
        let se = expected.mix_se(counted.iter()).hypot(1.0 / told.sqrt());
        let z = -off / se;
        found.push(StepChange {
            step: name.clone(),
            n_batches: counted.len() as u64,
            change: change / started.max(1.0),
            z,
            p: normal::sf(z),
        });
    }
    // Bonferroni over the steps.
    let count = found.len() as f64;
    found.iter_mut().for_each(|one| one.p = (one.p * count).min(1.0));
    found
}
