//! Takes, yield and where trees go, in words.

use super::asked::asked;
use super::numbers::{StepNumbers, StepYields, YieldOf, YieldOptions};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::error::Result;
use crate::report::references::{BELL_MCCAFFREY_2002, KORN_GRAUBARD_1998, WILSON_1927};
use crate::report::references_steps::TUKEY_1958;
use crate::report::{capital, fitted, join, number, percent, points, whole};
use crate::steps::costs;
use crate::steps::held::Steps;

impl Steps {
    /// The take of each step and the overall yield, with where trees are lost and what five points at each step would bring.
    ///
    /// Of followed cohorts batches count that were counted at every step; at current rates each step has all batches that passed it.
    /// Batches are the units: limits are Wilson's on effective plants with t, within seasons where these are named.
    ///
    /// # Errors
    /// [`StepsError`](crate::error::StepsError) for fewer than two batches and for a step that no plant reached; a count error for an
    /// impossible confidence.
    ///
    /// ```
    /// use rootling::steps::{StepsOptions, YieldOptions, read_csv};
    /// let text = b"batch,grafted,taken,saleable\nb1,50,45,20\nb2,50,44,26\nb3,60,52,28\n";
    /// let steps = read_csv(text, &StepsOptions::columns(&["grafted", "taken", "saleable"]).with_batch(&["batch"]))?;
    /// let found = steps.yields(&YieldOptions::default())?;
    /// assert!(found.sentence.starts_with("Saleable costs most: 42 of 100 started"), "{}", found.sentence);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn yields(&self, options: &YieldOptions) -> Result<Answer<StepYields>> {
        self.counted_at_each_step()?;
        let found = asked(self, options)?;
        let mut made_with = MadeWith::new(&[
            ("whose", options.whose.name().to_owned()),
            ("confidence", options.confidence.to_string()),
            ("draws", options.draws.to_string()),
        ]);
        made_with.options.extend(costs::as_option(&options.costs).map(|(name, value)| (name.to_owned(), value)));
        made_with.seed = Some(options.seed);
        made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        Ok(self.told(Answer {
            kind: "step_yields".to_owned(),
            sentence: sentence(&found),
            details: details(&found),
            notes: notes(&found),
            methods: methods(&found),
            references: [WILSON_1927, KORN_GRAUBARD_1998, BELL_MCCAFFREY_2002, TUKEY_1958].map(str::to_owned).to_vec(),
            table: table(&found),
            made_with,
            numbers: found,
        }))
    }
}

/// A share of draws from which one step is said to cost most.
const SURE: f64 = 0.8;

/// Trees per 100 as a decision says them: whole from one on.
fn trees(share: f64) -> String {
    let per_100 = 100.0 * share;
    if per_100 >= 0.95 || per_100 == 0.0 { format!("{per_100:.0}") } else { format!("{per_100:.1}") }
}

fn spoken(step: &str) -> String {
    step.replace('_', " ")
}

/// What the last step that plants came to is called.
fn end_of(found: &StepYields) -> String {
    found.steps.last().map(|last| spoken(&last.step)).unwrap_or_default()
}

fn sentence(found: &StepYields) -> String {
    let costliest = found.steps.iter().reduce(|most, one| if one.lost > most.lost { one } else { most });
    let Some(most) = costliest.filter(|most| most.lost > 0.0) else {
        return format!("No tree was lost at any of {}.", whole(found.steps.len() as u64, "step", "steps"));
    };
    let end = end_of(found);
    let raised = 0.05_f64.min(1.0 - most.take);
    let raised = if raised < 0.05 { format!("{} points", trees(raised)) } else { "five points".to_owned() };
    let gained = format!("{raised} there bring {} more to {end}", trees(most.gain));
    let name = spoken(&most.step);
    if most.take <= 0.0 {
        let lead =
            format!("{} costs most: all that come to it are lost, {} of 100 started", capital(&name), trees(most.lost));
        return fitted(&lead, &[format!("; {gained}")]);
    }
    if most.most_often >= SURE || found.draws == 0 {
        let name = capital(&name);
        return fitted(&format!("{name} costs most: {} of 100 started", trees(most.lost)), &[format!("; {gained}")]);
    }
    let other =
        found.steps.iter().filter(|one| one.step != most.step).max_by(|a, b| a.most_often.total_cmp(&b.most_often));
    let beside = other.map(|other| format!(", or else {} ({})", spoken(&other.step), trees(other.lost)));
    let lead = format!("Leaning to {name}: {} of 100 started are lost there", trees(most.lost));
    fitted(&lead, &beside.into_iter().chain([format!("; {gained}")]).collect::<Vec<_>>())
}

fn details(found: &StepYields) -> Vec<String> {
    let end = end_of(found);
    let whose = match found.whose {
        YieldOf::FollowedCohorts => "of batches followed from start to end",
        YieldOf::CurrentRates => "at current rates, each step from the batches that passed it",
    };
    let mut lines = vec![format!(
        "Overall yield {whose}: {} of 100 started come to {end} ({} to {}), from {} plants in {}.",
        points(found.value),
        points(found.low),
        points(found.high),
        found.n_started,
        whole(found.n_batches, "batch", "batches")
    )];
    let line = |one: &StepNumbers| {
        let often = if found.draws > 0 && one.lost > 0.0 {
            format!("; costs most in {} of drawn sets of batches", percent(one.most_often))
        } else {
            String::new()
        };
        format!(
            "{}: take {} ({} to {}), {} of 100 started lost, five points bring {} more{often}.",
            capital(&spoken(&one.step)),
            percent(one.take),
            percent(one.low),
            percent(one.high),
            points(one.lost),
            points(one.gain)
        )
    };
    lines.extend(found.steps.iter().map(line));
    if !found.not_reached.is_empty() {
        let names: Vec<String> = found.not_reached.iter().map(|step| spoken(step)).collect();
        lines.push(format!(
            "No plant was left for {}, so {} no take; the overall yield cannot be above what is told of {end}.",
            join(&names.iter().map(String::as_str).collect::<Vec<_>>()),
            if names.len() == 1 { "it has" } else { "these have" }
        ));
    }
    if let Some((cost, low)) = found.cost.zip(found.cost_low) {
        let range = found
            .cost_high
            .map_or_else(|| format!("{} or more", number(low)), |high| format!("{} to {}", number(low), number(high)));
        lines.push(format!("Each tree that comes to {end} costs {} ({range}).", number(cost)));
        let columns: Vec<String> =
            std::iter::once(found.start.clone()).chain(found.steps.iter().map(|one| one.step.clone())).collect();
        // Of all started the share that comes to a column behind the first step is what is left after the one before.
        let shares: Vec<f64> = std::iter::once(1.0).chain(found.steps.iter().map(|one| one.left)).collect();
        lines.extend(costs::told(&found.costs, &columns, &shares));
    }
    if found.cost.is_none() && !found.costs.is_empty() {
        lines.push(if found.value > 0.0 {
            "Nothing is spent, so trees have no cost.".to_owned()
        } else {
            format!("No tree came to {end}, so all that was spent is lost and no tree has a cost.")
        });
    }
    if found.n_young > 0 {
        let were = if found.n_young == 1 { "batch is" } else { "batches are" };
        lines.push(format!("{} {were} too young for a step and not counted as lost.", found.n_young));
    }
    lines
}

/// Batches below which how they differ is poorly known.
const FEW: u64 = 6;

fn notes(found: &StepYields) -> Vec<Note> {
    let mut notes = Vec::new();
    if found.whose == YieldOf::CurrentRates {
        notes.push(Note::new(
            "current_rates",
            "At current rates no plant has met all of these steps: it is what plants would come to if each step stayed as it is now.",
        ));
    }
    if found.n_lost_early > 0 && found.whose == YieldOf::FollowedCohorts {
        notes.push(Note::new(
            "lost_early_counts",
            format!(
                "{} at an early step and so {} to their end, while {} that may live {} too young to count: takes here lean down. Current rates, each step from all batches that passed it, do not.",
                whole(found.n_lost_early, "batch lost all its plants", "batches lost all their plants"),
                if found.n_lost_early == 1 { "is followed" } else { "are followed" },
                whole(found.n_young, "batch", "batches"),
                if found.n_young == 1 { "is" } else { "are" },
            ),
        ));
    }
    if found.n_batches < FEW {
        notes.push(Note::new(
            "few_batches",
            format!(
                "{} only: how batches differ is poorly known, so limits are wide; more batches help, larger ones hardly do.",
                whole(found.n_batches, "batch", "batches")
            ),
        ));
    }
    notes.push(Note::new(
        "these_seasons_only",
        "The limits hold for the seasons of these batches; how a further season would differ is not in them.",
    ));
    notes
}

fn methods(found: &StepYields) -> String {
    let whose = match found.whose {
        YieldOf::FollowedCohorts => "batches counted at every step",
        YieldOf::CurrentRates => "all batches that passed each step",
    };
    format!(
        "Takes are ratios over {whose}, the overall yield is their product. Variances and covariances between steps are by linearisation over batches, within seasons where these are named, corrected for the share of each batch (Bell and McCaffrey) and never below those of plants that stand alone. Limits are Wilson's on effective plants with t; degrees of freedom are fewer where batches are of unlike sizes or takes near 0 or 100 %. Leaving out one batch at a time is the second route. How often a step costs most is from {} sets of batches drawn with replacement.",
        found.draws
    )
}

fn table(found: &StepYields) -> Sheet {
    let rows = &found.steps;
    let mut table = Sheet::default();
    table.text("step", rows.iter().map(|one| one.step.clone()));
    table.whole("reached", rows.iter().map(|one| one.reached));
    table.whole("passed", rows.iter().map(|one| one.passed));
    table.rate("value", rows.iter().map(|one| one.take)).headed("take");
    table.rate("low", rows.iter().map(|one| one.low));
    table.rate("high", rows.iter().map(|one| one.high));
    table.rate("left", rows.iter().map(|one| one.left)).headed("left of those started");
    table.size("lost", rows.iter().map(|one| one.lost)).headed("lost of those started");
    table.size("gain", rows.iter().map(|one| one.gain)).headed("gain from five points");
    table.rate("most_often", rows.iter().map(|one| one.most_often)).headed("costs most in");
    table
}
