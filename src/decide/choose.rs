//! A choice in money as an answer: its table, cautions, methods and references.

use super::drawn::{Ahead, drawn};
use super::known::{Known, known, season_sd};
use super::money::{by_level, check};
use super::numbers::{Compared, LevelChoice, LevelGain};
use super::options::{ChooseOptions, Days};
use super::told::Told;
use super::turns::{break_even, sensitivity};
use super::weighed::{Found, Weighed, saleable};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::compare::{CompareOptions, column, strengths};
use crate::control::Control;
use crate::error::Result;
use crate::rates::uneven_mix;
use crate::report::cautions::{self, Claims};
use crate::report::references::{KORN_GRAUBARD_1998, WILSON_1927};
use crate::report::references_decide::{BARLOW_1972, CLAXTON_1999, RAIFFA_SCHLAIFER_1961, XIE_SINGH_2013};
use crate::report::references_seasons::IYER_WANG_MATHEW_2004;
use crate::report::{Spoken, confidence, degrees_of_freedom, join, number, whole};
use crate::trial::{Factor, Outcome, Trial, UnitKind, Units, notes_of_units, units_head, with_earlier};

/// Weighs the levels of a treatment by what they cost and what their trees bring: the gain of each with its limits, which to choose, how sure that
/// is, and what one more trial would be worth.
///
/// Takes are those of [`take_rates`](crate::rates::take_rates()): drawn from the law whose quantiles are its limits at every confidence, with what
/// all levels share (places, how well the spread of trays is known) drawn once for all. A new season moves the log odds of each level by itself
/// where `season_sd` or `pooled` says how far, as the season of the trial did. The next trial is worth what choosing after it brings more over
/// the seasons left.
///
/// # Errors
/// [`DecideError`](crate::error::DecideError) for prices, costs, seasons and trials that cannot be; a choice error for unknown columns and levels;
/// [`crate::Error::Interrupted`] when stopped.
///
/// # References
/// Raiffa and Schlaifer 1961, Applied Statistical Decision Theory; Xie and Singh 2013, International Statistical Review 81: 3-39.
///
/// ```
/// use rootling::prelude::*;
/// use rootling::decide::{ChooseOptions, TrialToCome, choose};
/// # let mut csv = String::from("strength,tray,rooted,stuck\n");
/// # for (tray, rooted) in [6, 8, 9, 7, 13, 15, 12, 11].into_iter().enumerate() {
/// #     csv += &format!("{},{tray},{rooted},20\n", if tray < 4 { 2500 } else { 5000 });
/// # }
/// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
/// # let trial = read_csv(csv.as_bytes(), &options)?;
/// let asked = ChooseOptions {
///     saleable: 0.8,
///     seasons: 3,
///     next_trial: Some(TrialToCome { trays: 8, cuttings: 20, cost: 500.0 }),
///     ..ChooseOptions::of(3.0, 20_000.0, 0.4)
/// };
/// let found = choose(&trial, "strength", &asked, &Control::new())?;
/// assert!(found.numbers.best == "5000" && found.numbers.chance_best > 0.95);
/// assert!(found.sentence.starts_with("Use strength 5000: "), "{}", found.sentence);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn choose(
    trial: &Trial,
    treatment: &str,
    options: &ChooseOptions,
    control: &Control,
) -> Result<Answer<LevelChoice>> {
    let said = trial.options().spoken(treatment);
    let mut answer = weigh(trial.units(), treatment, &said, options, control)?;
    answer.notes.splice(0..0, trial.deaths_note(Outcome::Take));
    Ok(trial.signed(answer))
}

/// The same from the units of a trial, as [`strengths`](crate::compare::strengths()) compares them; `said` is how levels are named.
///
/// # Errors
/// As [`choose`].
pub fn weigh(
    units: &Units,
    treatment: &str,
    said: &Spoken,
    options: &ChooseOptions,
    control: &Control,
) -> Result<Answer<LevelChoice>> {
    check(options)?;
    let factor = column(units, treatment)?;
    let known = known(units, factor, options)?;
    let season_sd = season_sd(&known, factor, options)?;
    let costs = by_level(factor, known.tray_size, options)?;
    let ahead = Ahead { season_sd: season_sd.unwrap_or(0.0), seasons: options.seasons, next_trial: options.next_trial };
    let drawn = drawn(&known, &ahead, (options.draws, options.seed), control)?;
    let weighed = Weighed { known: &known, costs: &costs, drawn: &drawn, options, saleable: saleable(options) };
    let found = weighed.found(control)?;
    let sensitivity = sensitivity(&weighed, &found, &known, &ahead, control)?;
    let name = |at: usize| found.levels.get(at).map(|level| level.level.clone()).unwrap_or_default();
    let (compared, withheld) = compared(units, factor, (&name(found.runner_up), &name(found.best)), options, control)?;
    let numbers = LevelChoice { sensitivity, compared, withheld, season_sd, ..numbers(&weighed, found, factor) };
    let answer = answer(numbers, (&known, factor), units, said, options);
    Ok(if known.counted { with_earlier(answer, units) } else { answer })
}

/// The numbers of all levels, before anything else is asked.
fn numbers(weighed: &Weighed<'_>, found: Found, factor: &Factor) -> LevelChoice {
    let (known, options) = (weighed.known, weighed.options);
    let name = |at: usize| found.levels.get(at).map(|level| level.level.clone()).unwrap_or_default();
    let of = |at: usize, what: fn(&LevelGain) -> f64| found.levels.get(at).map_or(0.0, what);
    LevelChoice {
        factor: factor.name.clone(),
        best: name(found.best),
        runner_up: name(found.runner_up),
        value: of(found.runner_up, |level| level.behind),
        low: found.lead.0,
        high: found.lead.1,
        chance_best: of(found.best, |level| level.chance_best),
        perfect_knowledge: found.perfect_knowledge,
        next_trial: options.next_trial.map(|next| weighed.next_trial(next, found.best)),
        break_even: break_even(weighed, &found),
        sensitivity: Vec::new(),
        compared: None,
        withheld: None,
        price: options.price,
        saleable: options.saleable,
        cuttings_a_season: options.cuttings_a_season,
        seasons: options.seasons,
        season_sd: None,
        money: options.money.clone(),
        correlation: known.correlation,
        df: known.counted.then_some(known.df),
        unit: if known.counted { known.unit.clone() } else { "cutting".to_owned() },
        confidence: options.confidence,
        draws: options.draws,
        levels: found.levels,
    }
}

/// The best and its runner-up as a comparison has them: the difference of takes, or why it is withheld.
fn compared(
    units: &Units,
    factor: &Factor,
    (first, second): (&str, &str),
    options: &ChooseOptions,
    control: &Control,
) -> Result<(Option<Compared>, Option<String>)> {
    let asked = CompareOptions {
        confidence: options.confidence,
        at: options.at.clone(),
        seed: options.seed,
        randomisations: 99,
        ..CompareOptions::default()
    };
    let found = strengths(units, &factor.name, first, second, &asked, control)?.numbers;
    let limits = found.low.zip(found.high);
    let compared = limits.map(|(low, high)| Compared { value: found.value, low, high });
    Ok((compared, found.withheld))
}

fn answer(
    found: LevelChoice,
    (known, factor): (&Known, &Factor),
    units: &Units,
    said: &Spoken,
    options: &ChooseOptions,
) -> Answer<LevelChoice> {
    let told = Told { found: &found, said };
    Answer {
        kind: "level_choice".to_owned(),
        sentence: told.sentence(),
        details: told.details(),
        notes: notes_of_units(units, notes(&told, (known, factor), units, options)),
        methods: methods(&found, known, options),
        references: references(&found, known),
        table: table(&told),
        made_with: made_with(&found, options),
        numbers: found,
    }
}

fn made_with(found: &LevelChoice, options: &ChooseOptions) -> MadeWith {
    let pairs = |given: Vec<(&String, String)>| -> String {
        given.into_iter().map(|(name, value)| format!("{name} {value}")).collect::<Vec<_>>().join(", ")
    };
    let by_level = |given: &std::collections::BTreeMap<String, f64>| {
        pairs(given.iter().map(|(level, value)| (level, value.to_string())).collect())
    };
    let mut asked = vec![
        ("treatment", found.factor.clone()),
        ("price", options.price.to_string()),
        ("cuttings_a_season", options.cuttings_a_season.to_string()),
        ("saleable", options.saleable.to_string()),
        ("seasons", options.seasons.to_string()),
        ("confidence", options.confidence.to_string()),
        ("draws", options.draws.to_string()),
        ("at", pairs(options.at.iter().map(|(name, value)| (name, value.clone())).collect())),
        ("of_level", by_level(&options.of_level)),
    ];
    let numbers = [
        ("per_cutting", options.per_cutting),
        ("per_tray", options.per_tray),
        ("per_day", options.per_day),
        ("cuttings_per_tray", options.cuttings_per_tray),
        ("season_sd", found.season_sd),
    ];
    asked.extend(numbers.into_iter().filter_map(|(name, value)| Some((name, value?.to_string()))));
    asked.extend(options.saleable_limits.map(|(low, high)| ("saleable_limits", format!("{low} to {high}"))));
    asked.extend(options.money.clone().map(|money| ("money", money)));
    asked.extend(options.days.as_ref().map(|days| {
        let told = match days {
            Days::Alike(days) => days.to_string(),
            Days::ByLevel(given) => by_level(given),
        };
        ("days", told)
    }));
    asked.extend(
        options
            .next_trial
            .map(|next| ("next_trial", format!("{} trays of {} cuttings, {}", next.trays, next.cuttings, next.cost))),
    );
    let mut made_with = MadeWith::new(&asked);
    made_with.seed = Some(options.seed);
    made_with
}

fn notes(told: &Told<'_>, (known, factor): (&Known, &Factor), units: &Units, options: &ChooseOptions) -> Vec<Note> {
    let found = told.found;
    let mut notes = Vec::new();
    match units.kind {
        UnitKind::Pooled => notes.push(cautions::no_trays(Claims::Intervals)),
        UnitKind::Tray if !known.counted => notes.push(Note::new(
            "trays_ignored",
            "No treatment has two trays, so trays cannot be counted: the limits are too narrow.",
        )),
        UnitKind::Tray => {}
    }
    if let Some(why) = &found.withheld {
        let text = format!("Levels cannot be told from what stood beside them, so no choice follows: {why}.");
        notes.push(Note::new("levels_not_apart", text));
    }
    match found.season_sd {
        None => notes.push(Note::new(
            "seasons_like_this_one",
            "How levels differ from season to season is not in these numbers: they hold for seasons like that of the trial. With season_sd, or seasons pooled, other seasons are in.",
        )),
        Some(0.0) => notes.push(Note::new(
            "seasons_taken_as_alike",
            "Seasons are taken to move no level more than another; a few seasons that agree do not show that others will.",
        )),
        Some(_) => {}
    }
    if let Some(pooled) = &options.pooled {
        let hardly = if pooled.n_seasons < 5 { ", though so few seasons hardly tell it" } else { "" };
        notes.push(Note::new(
            "takes_of_this_trial",
            format!(
                "Takes are those of this trial alone; of the {} pooled only how far they differ enters, as if it were known{hardly}.",
                whole(pooled.n_seasons, "season", "seasons")
            ),
        ));
    }
    if known.counted && found.levels.iter().any(|level| level.n_units < 4) {
        notes.push(cautions::few_units(&known.unit));
    }
    if options.at.is_empty() {
        notes.extend(uneven_mix(&[factor], units));
    }
    if found.next_trial.is_some() && !known.counted {
        notes.push(Note::new(
            "next_trial_assumed",
            "How alike cuttings of a tray are is not known without trays; the next trial is drawn with the planning value of 0.05. What takes are not known by is more than these limits say, so its worth is told too low.",
        ));
    }
    if told.loses() {
        notes.push(Note::new(
            "none_pays",
            "No level is expected to bring what it costs at this price; levels are compared with each other, not with leaving the crop alone.",
        ));
    }
    if told.said.is_strength() {
        notes.push(cautions::best_strength());
        notes.push(cautions::chemical());
    }
    notes
}

fn methods(found: &LevelChoice, known: &Known, options: &ChooseOptions) -> String {
    let percent = confidence(options.confidence);
    let law = match found.df {
        Some(df) => format!(
            "Takes were drawn from the confidence law of Wilson's interval on effective cuttings with t on {}: a draw is the end of that interval at a drawn t, with its sign, so that quantiles of draws are the limits of the take rates; differences between levels have these degrees of freedom. The uncertainty of the spread between units was drawn once for all levels",
            degrees_of_freedom(df)
        ),
        None => {
            "Takes were drawn from the confidence law of Wilson's interval, cuttings taken as independent".to_owned()
        }
    };
    let places = if known.shared > 0.0 {
        ", and so was what places add to all levels alike, which widens the limits of each and plays no part in how they stand to each other"
    } else {
        ""
    };
    let seasons = match found.season_sd {
        Some(sd) if sd > 0.0 => format!(
            " Each season, that of the trial among them, moves the log odds of every level by itself, with a standard deviation of {}.",
            number(sd)
        ),
        _ => String::new(),
    };
    let share = match options.saleable_limits {
        Some((low, high)) => format!(
            "of which a share of {} comes to sale ({percent} limits {} to {}, normal on the log odds)",
            number(options.saleable),
            number(low),
            number(high)
        ),
        None => format!("of which a share of {} comes to sale", number(options.saleable)),
    };
    let next = found.next_trial.as_ref().map_or_else(String::new, |next| {
        format!(
            " A next trial of {} of {} a level was drawn for every draw of takes, in a season of its own, with a correlation of {} within trays; after it the level of the highest mean gain given its own count is chosen (isotonic regression over draws, each half judged by the other; Barlow et al. 1972), and the worth of the trial is the mean gain of that choice over {}, less that of the present choice. Preposterior analysis is that of Raiffa and Schlaifer (1961).",
            whole(next.trays, "tray", "trays"),
            whole(next.cuttings, "cutting", "cuttings"),
            number(found.correlation),
            whole(next.seasons_left, "season", "seasons")
        )
    });
    format!(
        "{law}{places} ({} draws, seed {}; Xie and Singh 2013; Iyer, Wang and Mathew 2004).{seasons} The gain of a season is {} cuttings times price times take, {share}, less what the cuttings cost. Levels are chosen by expected gain (Claxton 1999); limits ({percent}) and chances are those of the mean over {}.{next}",
        options.draws,
        options.seed,
        number(options.cuttings_a_season),
        whole(options.seasons, "season", "seasons")
    )
}

fn references(found: &LevelChoice, known: &Known) -> Vec<String> {
    let mut cited = vec![WILSON_1927];
    if known.counted {
        cited.push(KORN_GRAUBARD_1998);
    }
    cited.extend([XIE_SINGH_2013, IYER_WANG_MATHEW_2004, RAIFFA_SCHLAIFER_1961]);
    if found.next_trial.is_some() {
        cited.push(BARLOW_1972);
    }
    cited.push(CLAXTON_1999);
    cited.into_iter().map(str::to_owned).collect()
}

/// A row for each level.
fn table(told: &Told<'_>) -> Sheet {
    let found = told.found;
    let levels = || found.levels.iter();
    let money = found.money.as_deref().unwrap_or_default();
    let head = |text: &str| if money.is_empty() { text.to_owned() } else { format!("{text}, {money}") };
    let mut sheet = Sheet::default();
    sheet.level(&found.factor, levels().map(|one| one.level.clone()));
    sheet.rate("take", levels().map(|one| one.take));
    sheet.whole("n_units", levels().map(|one| one.n_units)).headed(units_head(&found.unit));
    sheet.plain("cost", levels().map(|one| one.cost)).headed(head("cost of a cutting"));
    sheet.count("trees", levels().map(|one| one.trees)).headed("saleable trees a season");
    sheet.plain("value", levels().map(|one| one.value)).headed(head("gain a season"));
    sheet.plain("low", levels().map(|one| one.low));
    sheet.plain("high", levels().map(|one| one.high));
    sheet.rate("chance_best", levels().map(|one| one.chance_best)).headed("chance of being best");
    sheet.plain("behind", levels().map(|one| one.behind)).headed(head("behind the best"));
    sheet.plain("behind_low", levels().map(|one| one.behind_low)).headed("behind, low");
    sheet.plain("behind_high", levels().map(|one| one.behind_high)).headed("behind, high");
    let rooms = join(&[whole(found.seasons, "season", "seasons")]);
    sheet.plain("loss", levels().map(|one| one.loss)).headed(head(&format!("expected loss over {rooms}")));
    sheet
}
