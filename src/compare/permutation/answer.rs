//! The randomisation test of two lists of tray rates, with its interval, sentence and notes.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::interval::randomisation_interval;
use super::strata::Stratum;
use super::two::randomisation_test;
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::control::Control;
use crate::counts::two_rates::{gain_in_words, gap_in_words};
use crate::error::{CountError, Result};
use crate::report::{cautions, numbers, references, whole};

/// Options of [`randomisation`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct RandomisationOptions {
    /// Stratum (block) of each tray of the first and of the second arm; one stratum when not given.
    pub strata: Option<(Vec<String>, Vec<String>)>,
    /// Confidence level, a proportion.
    pub confidence: f64,
    /// Seed of drawn assignments.
    pub seed: u64,
    /// Assignments drawn when there are too many to enumerate.
    pub draws: u64,
}

impl Default for RandomisationOptions {
    fn default() -> Self {
        Self { strata: None, confidence: 0.95, seed: 1, draws: 99_999 }
    }
}

/// Two arms of trays compared by re-dealing them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct RandomisedDifference {
    /// Difference of mean tray rates within strata, second minus first, a proportion.
    pub value: f64,
    /// Lower limit by inversion; -1 when no shift can be refused.
    pub low: f64,
    /// Upper limit by inversion; 1 when no shift can be refused.
    pub high: f64,
    /// Confidence asked for.
    pub confidence: f64,
    /// Confidence that the number of assignments attains.
    pub attained_confidence: f64,
    /// Two-sided P value.
    pub p: f64,
    /// Smallest P value any outcome could reach, by the design.
    pub smallest_p: f64,
    /// Smallest P value any assignment of these rates could reach.
    pub smallest_p_given_rates: f64,
    /// Number of assignments.
    pub assignments: f64,
    /// Assignments drawn, when not all were enumerated.
    pub drawn: Option<u64>,
    /// Monte Carlo standard error of the P value, when assignments were drawn.
    pub se: Option<f64>,
    /// Trays of the first and of the second arm.
    pub n_units: (u64, u64),
    /// Strata.
    pub n_strata: u64,
}

fn check(rates: &[f64], arm: &str) -> Result<()> {
    if rates.is_empty() {
        return Err(CountError::TooFewTrays { name: format!("the {arm} arm"), found: 0, needed: 1 }.into());
    }
    match rates.iter().position(|rate| !(0.0..=1.0).contains(rate)) {
        None => Ok(()),
        Some(at) => {
            let value = rates.get(at).copied().unwrap_or(f64::NAN);
            let problem = Box::new(CountError::OutOfRange { name: "tray rate", value, low: 0.0, high: 1.0 });
            Err(CountError::Entry { index: at + 1, problem }.into())
        }
    }
}

fn gather(first: &[f64], second: &[f64], options: &RandomisationOptions) -> Result<Vec<Stratum>> {
    check(first, "first")?;
    check(second, "second")?;
    let single = (vec![String::new(); first.len()], vec![String::new(); second.len()]);
    let (labels_1, labels_2) = options.strata.as_ref().unwrap_or(&single);
    let mut found: BTreeMap<&str, Stratum> = BTreeMap::new();
    for (rates, labels, side) in [(first, labels_1, false), (second, labels_2, true)] {
        if labels.len() != rates.len() {
            let of = if side { "trays of the second arm" } else { "trays of the first arm" };
            return Err(
                CountError::UnmatchedList { what: "strata", found: labels.len(), of, expected: rates.len() }.into()
            );
        }
        for (rate, label) in rates.iter().zip(labels) {
            let stratum = found.entry(label).or_insert_with(|| Stratum { rates: Vec::new(), second: Vec::new() });
            stratum.rates.push(*rate);
            stratum.second.push(side);
        }
    }
    Ok(found.into_values().collect())
}

/// Randomisation test of two lists of tray rates (proportions), with an interval for the difference.
///
/// See [`randomisation_test`] and [`randomisation_interval`].
///
/// # Errors
/// A count error for a rate outside 0 to 1, an empty arm, strata that do not match the trays, no stratum with both arms, a level
/// outside (0, 1) or draws outside 1 to a milliard; [`crate::Error::Interrupted`] when stopped.
///
/// ```
/// use rootling::compare::{RandomisationOptions, randomisation};
/// let control = rootling::control::Control::new();
/// let found = randomisation(&[0.2, 0.3, 0.25, 0.15], &[0.6, 0.7, 0.55, 0.75], &RandomisationOptions::default(), &control)?;
/// approx::assert_relative_eq!(found.numbers.p, 2.0 / 70.0, epsilon = 0.0, max_relative = 3.5e-11);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn randomisation(
    first: &[f64],
    second: &[f64],
    options: &RandomisationOptions,
    control: &Control,
) -> Result<Answer<RandomisedDifference>> {
    if !(1..=1_000_000_000).contains(&options.draws) {
        return Err(CountError::OutOfRange { name: "draws", value: options.draws as f64, low: 1.0, high: 1e9 }.into());
    }
    let strata = gather(first, second, options)?;
    let both = |stratum: &Stratum| stratum.second.iter().any(|side| *side) && stratum.second.iter().any(|side| !*side);
    if !strata.iter().any(both) {
        let why = "no stratum holds trays of both arms; leave the strata out or correct them";
        return Err(CountError::NotDefined { what: "a randomisation test", why }.into());
    }
    let limits = randomisation_interval(&strata, options.confidence, (options.seed, options.draws), control)?;
    let test = randomisation_test(&strata, options.seed, options.draws, control)?;
    let figures = RandomisedDifference {
        value: limits.value,
        low: limits.low.max(-1.0),
        high: limits.high.min(1.0),
        confidence: limits.confidence,
        attained_confidence: limits.attained_confidence,
        p: test.p,
        smallest_p: test.smallest_p,
        smallest_p_given_rates: test.smallest_p_given_rates,
        assignments: test.assignments,
        drawn: test.drawn,
        se: test.se,
        n_units: (first.len() as u64, second.len() as u64),
        n_strata: strata.len() as u64,
    };
    let made_with = MadeWith {
        seed: figures.drawn.map(|_| options.seed),
        ..MadeWith::new(&[
            ("confidence", figures.confidence.to_string()),
            ("strata", figures.n_strata.to_string()),
            ("draws", figures.drawn.map_or_else(String::new, |drawn| drawn.to_string())),
        ])
    };
    Ok(Answer {
        kind: "randomisation".to_owned(),
        details: details(&figures),
        table: table(&figures),
        sentence: sentence(&figures),
        notes: notes(&figures),
        methods: methods(&figures),
        references: [references::FISHER_1935, references::PHIPSON_SMYTH_2010, references::HARTIGAN_1969]
            .map(str::to_owned)
            .to_vec(),
        numbers: figures,
        made_with,
    })
}

fn table(found: &RandomisedDifference) -> Sheet {
    let mut sheet = Sheet::default();
    sheet.text("what", ["difference of mean tray rates, second minus first"]);
    sheet.difference("value", [found.value]).difference("low", [found.low]).difference("high", [found.high]);
    sheet.confidence("confidence", [found.confidence]).confidence("attained_confidence", [found.attained_confidence]);
    sheet.p("p", [found.p]).plain("p_error", [found.se]);
    sheet.p("smallest_p", [found.smallest_p]).count("assignments", [found.assignments]);
    sheet
}

/// True when no shift at all is refused.
fn whole_line(found: &RandomisedDifference) -> bool {
    found.attained_confidence >= 1.0
}

fn sentence(found: &RandomisedDifference) -> String {
    let p = numbers::p_value(found.p);
    if whole_line(found) {
        return format!(
            "The second arm's trays rooted {} per 100 than the first's ({p}); so few trays rule nothing out.",
            gain_in_words(found.value)
        );
    }
    let gap = gap_in_words((found.value, found.low, found.high), found.confidence, "per 100");
    format!("The second arm's trays rooted {gap} than the first's, {p}.")
}

/// What stands behind it, a fact a line.
fn details(found: &RandomisedDifference) -> Vec<String> {
    let trays = format!("{} and {} trays were dealt out again at random.", found.n_units.1, found.n_units.0);
    if whole_line(found) {
        return vec![trays, "With so few ways to deal them no difference at all can be ruled out.".to_owned()];
    }
    let verdict = match (found.low > 0.0 || found.high < 0.0, found.p <= 1.0 - found.confidence) {
        (true, true) => "A difference is shown",
        (false, false) => "No difference is shown",
        _ => "Interval and test do not agree, so the evidence is borderline",
    };
    let open = format!(
        "{verdict}; differences from {} to {} per 100 cannot be ruled out.",
        numbers::points(found.low),
        numbers::points(found.high)
    );
    vec![trays, open]
}

/// What the number of assignments allows, said before it disappoints: codes `p_out_of_reach` and `p_out_of_reach_with_ties`.
fn reach(found: &RandomisedDifference) -> Option<Note> {
    let alpha = 1.0 - found.confidence;
    let say = |code: &str, whose: &str, smallest: f64| {
        let text = format!(
            "{whose} could give a P value below {}; more trays are needed for a claim.",
            numbers::number(smallest)
        );
        Some(Note::new(code, text))
    };
    if found.smallest_p > alpha {
        say("p_out_of_reach", "With trays laid out like this no outcome", found.smallest_p)
    } else if found.smallest_p_given_rates > alpha {
        let whose = "Many trays have the same rate: no way to deal these very rates";
        say("p_out_of_reach_with_ties", whose, found.smallest_p_given_rates)
    } else {
        None
    }
}

fn notes(found: &RandomisedDifference) -> Vec<Note> {
    let mut notes: Vec<Note> = reach(found).into_iter().collect();
    if whole_line(found) {
        notes.push(Note::new(
            "no_interval",
            format!(
                "{} cannot give {} % limits: the interval is the whole range, -100 to 100 per 100.",
                whole(found.assignments as u64, "assignment", "assignments"),
                numbers::number(100.0 * found.confidence)
            ),
        ));
    } else if found.drawn.is_none() && found.attained_confidence > found.confidence + 0.005 {
        notes.push(Note::new(
            "discrete",
            format!(
                "The number of assignments allows only certain levels; these limits hold at {} %.",
                numbers::number(100.0 * found.attained_confidence)
            ),
        ));
    }
    if let (Some(drawn), Some(error)) = (found.drawn, found.se) {
        notes.push(cautions::drawn_assignments(drawn, error));
    }
    notes
}

fn methods(found: &RandomisedDifference) -> String {
    let how = match found.drawn {
        Some(drawn) => format!("over {drawn} random assignments, the observed one counted among them"),
        None => format!("over all {} assignments", found.assignments),
    };
    let strata = if found.n_strata > 1 { " within strata" } else { "" };
    format!(
        "Mean tray rates of two arms were compared by a two-sided randomisation test that deals trays to arms anew{strata}, {how}. The interval holds all shifts of the second arm that both one-sided tests keep; the attained level is {} %.",
        numbers::number(100.0 * found.attained_confidence)
    )
}
