//! How many to start, in words.

use super::known::{Known, known};
use super::numbers::{SeasonSpread, StartNumbers, StartOptions, StartQuestion};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::error::{Result, StepsError};
use crate::report::{fitted, number, percent, points, whole};
use crate::steps::chain::StartLaw;
use crate::steps::costs;
use crate::steps::held::Steps;

/// Most plants that are asked about.
const MOST: u64 = 100_000_000;

impl Steps {
    /// How many plants to start so that at least `wanted` reach the end with the chance asked for.
    ///
    /// The law has the yield of batches followed from start to end with its standard error and t, the correlation of plants of one batch
    /// that this standard error implies, and the spread of seasons: as given, or of three seasons and more with t on seasons less one.
    ///
    /// # Errors
    /// [`StepsError`] for fewer than two followed batches, none that reached the end, and numbers that cannot be.
    ///
    /// ```
    /// use rootling::steps::{StartOptions, StepsOptions, read_csv};
    /// let text = b"batch,grafted,saleable\nb1,50,20\nb2,50,26\nb3,60,28\nb4,50,24\n";
    /// let steps = read_csv(text, &StepsOptions::columns(&["grafted", "saleable"]).with_batch(&["batch"]))?;
    /// let found = steps.to_start(200, &StartOptions::default())?.numbers;
    /// assert!(found.started.unwrap() > found.alone.unwrap() && found.alone.unwrap() > found.by_yield);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn to_start(&self, wanted: u64, options: &StartOptions) -> Result<Answer<StartNumbers>> {
        let known = known(self, options)?;
        within("wanted", wanted)?;
        let started = known.law.needed(wanted, options.assurance)?;
        self.start_answer(StartQuestion::ToStart, &known, (started, wanted), options)
    }

    /// How many plants at least reach the end of `started` with the chance asked for.
    ///
    /// # Errors
    /// As [`Steps::to_start`].
    pub fn sure_of(&self, started: u64, options: &StartOptions) -> Result<Answer<StartNumbers>> {
        let known = known(self, options)?;
        within("started", started)?;
        let wanted = known.law.sure_of(started, options.assurance)?;
        self.start_answer(StartQuestion::SureOf, &known, (Some(started), wanted), options)
    }

    /// The law of plants to be started, as followed batches tell it: what [`Steps::to_start`] and [`Steps::sure_of`] ask.
    ///
    /// # Errors
    /// As [`Steps::to_start`].
    pub fn start_law(&self, options: &StartOptions) -> Result<StartLaw> {
        Ok(known(self, options)?.law)
    }

    fn start_answer(
        &self,
        question: StartQuestion,
        known: &Known,
        (started, wanted): (Option<u64>, u64),
        options: &StartOptions,
    ) -> Result<Answer<StartNumbers>> {
        let law = known.law;
        let alone = StartLaw { correlation: 0.0, season_sd: 0.0, se: 0.0, ..law }.needed(wanted, options.assurance)?;
        let by_yield = (wanted as f64 / law.take).ceil() as u64;
        let chance = |started: u64| law.assurance(started, wanted);
        let found = StartNumbers {
            question,
            started,
            wanted,
            assurance: options.assurance,
            chance: started.map(chance).transpose()?,
            by_yield,
            by_yield_chance: chance(by_yield)?,
            alone,
            alone_chance: alone.map(chance).transpose()?,
            take: law.take,
            found: Some(known.found),
            se: known.se,
            batch_size: law.batch_size,
            correlation: law.correlation,
            season_sd: law.season_sd,
            seasons: known.seasons,
            n_seasons: known.n_seasons,
            df: law.df.is_finite().then_some(law.df),
            n_batches: known.batches,
            cost: known.cost.zip(started).map(|(each, started)| each * started as f64),
            cost_per_tree: known.cost.map(|each| each / law.take),
            costs: options.costs.clone(),
        };
        let mut made_with = MadeWith::new(&[
            ("assurance", options.assurance.to_string()),
            ("season_sd", law.season_sd.to_string()),
            ("batch_size", law.batch_size.to_string()),
        ]);
        made_with.options.extend(costs::as_option(&options.costs).map(|(name, value)| (name.to_owned(), value)));
        made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        let end = self.columns().last().map(|last| last.replace('_', " ")).unwrap_or_default();
        Ok(self.told(Answer {
            kind: "start_numbers".to_owned(),
            sentence: sentence(&found, &end),
            details: details(&found, &end),
            notes: notes(&found),
            methods: methods(&found),
            references: Vec::new(),
            table: table(&found),
            made_with,
            numbers: found,
        }))
    }
}

fn within(name: &'static str, value: u64) -> Result<()> {
    if (1..=MOST).contains(&value) {
        return Ok(());
    }
    Err(StepsError::NoSuchStart { name, value: value as f64, wanted: "a number of plants from 1 to 100000000" }.into())
}

fn sure(assurance: f64) -> String {
    format!("{} % assurance", number(100.0 * assurance))
}

/// Times the number by the yield alone beyond which a number of starts is no instruction.
const BEYOND: u64 = 10;

fn sentence(found: &StartNumbers, end: &str) -> String {
    let assurance = sure(found.assurance);
    match (found.question, found.started) {
        (StartQuestion::ToStart, Some(started)) if started > BEYOND.saturating_mul(found.by_yield) => format!(
            "Too little is known to say how many to start: by the yield alone {}, to be sure {started} for {} {end}; count more batches first.",
            found.by_yield, found.wanted
        ),
        (StartQuestion::ToStart, Some(started)) => {
            let lead = format!("Start {started} for {} {end} with {assurance}", found.wanted);
            let plain = format!(
                "; {}, by the yield alone, would do in {:.0} of 100",
                found.by_yield,
                100.0 * found.by_yield_chance
            );
            fitted(&lead, &[plain])
        }
        (StartQuestion::ToStart, None) => {
            format!(
                "No number of starts brings {} {end} with {assurance}: too little is known of the yield.",
                found.wanted
            )
        }
        (StartQuestion::SureOf, _) => {
            let started = found.started.unwrap_or_default();
            let expected = found.take * started as f64;
            let lead = format!("{started} started bring at least {} {end} with {assurance}", found.wanted);
            fitted(&lead, &[format!("; {expected:.0} are to be expected")])
        }
    }
}

fn details(found: &StartNumbers, end: &str) -> Vec<String> {
    let from = whole(found.n_batches, "followed batch", "followed batches");
    let mut lines = vec![if found.found.is_some_and(|value| value >= 1.0) {
        format!(
            "In {from} all that were started came to {end}; of 100 it is taken that {} will, as if half a plant had been lost, with a standard error of {} points.",
            points(found.take),
            points(found.se)
        )
    } else {
        format!(
            "Of 100 started {} come to {end}, known from {from} with a standard error of {} points.",
            points(found.take),
            points(found.se)
        )
    }];
    let alone = found.alone.zip(found.alone_chance).filter(|_| found.question == StartQuestion::ToStart);
    if let Some((alone, chance)) = alone {
        lines.push(format!(
            "If each plant stood alone and the yield were known, {alone} would do; as batches differ and the yield is an estimate, they do in {} of cases.",
            percent(chance)
        ));
    }
    if let Some((cost, each)) = found.cost.zip(found.cost_per_tree) {
        lines.push(format!(
            "They will cost about {}, which is {} for each tree to be expected.",
            number(cost),
            number(each)
        ));
    }
    let how = if found.found.is_some_and(|value| value >= 1.0) { "taken to be correlated" } else { "correlated" };
    lines.push(format!(
        "Two plants of one batch of {} are {how} by {}.",
        number(found.batch_size),
        number(found.correlation)
    ));
    lines
}

fn notes(found: &StartNumbers) -> Vec<Note> {
    let mut notes = Vec::new();
    match (found.seasons, found.n_seasons) {
        (SeasonSpread::NotCounted, None) => notes.push(Note::new(
            "these_seasons_only",
            "The number holds for a season like those of these batches; how a further season would differ is not in it. Give season_sd= where you know how seasons spread.",
        )),
        (SeasonSpread::NotCounted, Some(count)) => notes.push(Note::new(
            "these_seasons_only",
            format!(
                "The number holds for {} of these batches only: three seasons and more are needed to see how a further one would differ. Give season_sd= where you know how seasons spread.",
                if count == 1 { "the one season" } else { "the two seasons" }
            ),
        )),
        (SeasonSpread::Estimated, Some(count)) if count < 6 => notes.push(Note::new(
            "few_seasons",
            format!("{count} seasons say little of how a further one may differ, and much of the number is for that."),
        )),
        _ => {}
    }
    if found.n_batches < 6 {
        notes.push(Note::new(
            "few_batches",
            format!(
                "{} only: the yield is poorly known, and much of the number is for that.",
                whole(found.n_batches, "batch", "batches")
            ),
        ));
    }
    notes
}

fn methods(found: &StartNumbers) -> String {
    let seasons = match found.seasons {
        SeasonSpread::Given if found.season_sd > 0.0 => {
            format!(" and a standard deviation of seasons of {}", number(found.season_sd))
        }
        SeasonSpread::Estimated => format!(
            " and the standard deviation of {} seasons ({})",
            found.n_seasons.unwrap_or_default(),
            number(found.season_sd)
        ),
        _ => String::new(),
    };
    let law =
        found.df.map_or_else(|| "a normal law".to_owned(), |df| format!("t with {} degrees of freedom", number(df)));
    format!(
        "The number that reach the end has a beta-binomial law with the variance of batches of {} and correlation {}. The log odds of the yield follow {law} about the estimate, with its standard error{seasons}. The chance is the mean over 400 equally likely yields.",
        number(found.batch_size),
        number(found.correlation)
    )
}

fn table(found: &StartNumbers) -> Sheet {
    let rows = [
        ("as batches differ", found.started, found.chance),
        ("by the yield alone", Some(found.by_yield), Some(found.by_yield_chance)),
        ("if each plant stood alone", found.alone, found.alone_chance),
    ];
    let mut table = Sheet::default();
    table.text("how", rows.map(|row| row.0));
    table.whole("started", rows.map(|row| row.1));
    table.whole("wanted", rows.map(|_| found.wanted)).headed("at the end, at least");
    table.rate("chance", rows.map(|row| row.2));
    table
}
