//! Notes and methods text of models with a law of the trays.

use crate::answer::Note;
use crate::math::distributions::normal;
use crate::models::enter::TrayMode;
use crate::models::kept::{Model, is_used};
use crate::models::laws::Spread;
use crate::report::cautions::ALIKE_SINCE;
use crate::report::{agree, degrees_of_freedom, join, p_value};

/// Scores of rho below this are called underdispersion: chance alone is so far from 0, either way, in one trial of twenty.
const UNDERDISPERSED: f64 = -1.96;

/// Groupings of fewer levels are said to be few.
const FEW_LEVELS: u64 = 5;

/// Cautions that belong to the law.
pub(super) fn notes(model: &Model) -> Vec<Note> {
    let mut notes = Vec::new();
    if model.trays == TrayMode::Random {
        notes.extend(layout_note(model));
        notes.push(Note::new(
            "conditional_and_marginal",
            "Coefficients and odds ratios are those of a typical tray (conditional on its random effects); rates are averages over all \
             trays (marginal). The two differ wherever trays differ.",
        ));
        notes.extend(few_levels_note(model));
    }
    notes.extend(model.spread.iter().filter_map(nothing_note));
    notes.extend(endless_note(model));
    notes.extend(model.spread.iter().filter_map(underdispersion_note));
    notes.extend(equal_icc_note(model));
    notes.extend(few_trays_note(model));
    notes.extend(few_plots_note(model));
    notes
}

fn layout_note(model: &Model) -> Option<Note> {
    let law = model.law.as_ref().filter(|_| model.spread.len() > 1)?;
    let (layout, integration) = (law.layout.as_ref()?, law.integration.as_ref()?);
    let how = if law.nodes.is_empty() {
        " It is exact only as groups grow: with few cuttings in a group it puts standard deviations too low."
    } else {
        ""
    };
    let text = format!("Random intercepts: {layout}. They were integrated out by {integration}.{how}");
    Some(Note::new("random_layout", text))
}

fn few_levels_note(model: &Model) -> Option<Note> {
    let few = |spread: &&Spread| spread.of != "tray" && spread.n_levels < FEW_LEVELS;
    let names: Vec<String> = model
        .spread
        .iter()
        .filter(few)
        .map(|one| format!("{} ({} levels, {})", one.of, one.n_levels, degrees_of_freedom(one.df.unwrap_or(0.0))))
        .collect();
    if names.is_empty() {
        return None;
    }
    let text = format!(
        "A standard deviation between so few levels is hardly known: {}. As an effect of the model such a column takes its differences out \
         without having to estimate how large they are.",
        join(&names)
    );
    Some(Note::new("few_levels", text))
}

/// "trays", "trays of strength 2500", "levels of bay".
fn named(spread: &Spread) -> String {
    match (&spread.level, spread.of.as_str()) {
        (Some(level), _) => format!("trays of {level}"),
        (None, "tray") => "trays".to_owned(),
        (None, other) => format!("levels of {other}"),
    }
}

fn nothing_note(spread: &Spread) -> Option<Note> {
    if spread.value > 0.0 {
        return None;
    }
    let open = spread
        .high
        .map_or_else(|| "these data cannot tell it".to_owned(), |high| format!("up to {high:.2} cannot be ruled out"));
    let text = format!(
        "Nothing beyond chance is seen between {} ({} 0; {open}). Tests keep the degrees of freedom of the layout.",
        named(spread),
        spread.measure
    );
    Some(Note::new("no_spread_seen", text))
}

/// Standard deviations without an upper limit.
fn endless_note(model: &Model) -> Option<Note> {
    let endless = |spread: &&Spread| model.trays == TrayMode::Random && spread.value > 0.0 && spread.high.is_none();
    let names: Vec<String> = model.spread.iter().filter(endless).map(named).collect();
    if names.is_empty() {
        return None;
    }
    let text = format!(
        "These data put no upper limit on how far {} differ, as where some groups {} and others hardly at all. Read coefficients as \
         those of a typical tray only, and rates and tests beside those of the default, trays=\"auto\", which needs no such limit.",
        join(&names),
        model.spec.outcome.words().root
    );
    Some(Note::new("no_upper_limit", text))
}

fn underdispersion_note(spread: &Spread) -> Option<Note> {
    let score = spread.score.filter(|score| *score < UNDERDISPERSED)?;
    let text = format!(
        "Between {} rates differ less than chance alone would make them (score {:.1} standard errors below a correlation of 0, {}). The \
         beta-binomial law cannot follow that, so its correlation is 0 and intervals are not narrower than binomial ones. {ALIKE_SINCE}",
        named(spread),
        -score,
        p_value(2.0 * normal::cdf(score))
    );
    Some(Note::new("underdispersion", text))
}

fn equal_icc_note(model: &Model) -> Option<Note> {
    let found = model.law.as_ref()?.equal_icc.as_ref()?;
    let values: Vec<String> = model
        .spread
        .iter()
        .map(|one| format!("{:.3} for {}", one.value, one.level.clone().unwrap_or_default()))
        .collect();
    let verdict = if found.p <= 1.0 - model.spec.confidence {
        "They differ beyond chance"
    } else {
        "A difference between them is not shown, and one correlation for all would use the trays better"
    };
    let text = format!(
        "Trays of each level of {} have a correlation of their own: {}. {verdict} (likelihood ratio {:.2} on {}, {}).",
        found.by,
        join(&values),
        found.statistic,
        degrees_of_freedom(found.df),
        p_value(found.p)
    );
    Some(Note::new("correlation_by_level", text))
}

fn few_trays_note(model: &Model) -> Option<Note> {
    let few = model.strata.tray.df.filter(|df| is_used(model) && *df < 10.0)?;
    let text = format!(
        "The spread between trays rests on {few} degrees of freedom. Tests and limits by this likelihood are approximate with so \
         few trays; the default, trays=\"auto\", has been checked by simulation for them."
    );
    Some(Note::new("few_trays_for_likelihood", text))
}

/// What is laid out on few whole plots, and what simulated trials say of such tests.
fn few_plots_note(model: &Model) -> Option<Note> {
    let whole = model.strata.whole_plots.as_ref().filter(|_| model.trays == TrayMode::Random)?;
    let (effects, df) = (join(&whole.effects), whole.error?.df.filter(|df| *df < 10.0)?);
    let text = format!(
        "{effects} {} tested against {} on {}. In simulated trials of 3 to 8 bays with takes of 10 to 80 % such tests raised 0 to 3 % false \
         alarms, those of effects within bays 2 to 4 % on average and up to 9 % in single designs; nearer to 0 and 100 % they were not checked. \
         The default, trays=\"auto\", has been checked there too.",
        agree(&effects, "is", "are"),
        whole.name,
        degrees_of_freedom(df)
    );
    Some(Note::new("few_whole_plots_for_likelihood", text))
}

/// The law of the trays, for the methods paragraph.
pub(super) fn fitted_text(model: &Model) -> String {
    let df = degrees_of_freedom(model.strata.tray.df.unwrap_or(0.0));
    let tests = format!(
        "Likelihood ratios over their degrees of freedom were compared with F ({df} between trays: trays less what effects and groupings \
         take)."
    );
    let values = |digits: usize| -> Vec<String> {
        let name = |one: &Spread| one.level.clone().unwrap_or_else(|| one.of.clone());
        model.spread.iter().map(|one| format!("{} {:.digits$}", name(one), one.value)).collect()
    };
    match model.trays {
        TrayMode::BetaBinomial => {
            let rho = match model.spread.as_slice() {
                [one] => format!("{:.4}", one.value),
                _ => format!("by {}: {}", model.spec.correlation_by.clone().unwrap_or_default(), values(4).join(", ")),
            };
            format!(
                " Rates of trays followed a beta distribution with intraclass correlation 1 / (1 + a + b) = {rho} (Skellam 1948). {tests}"
            )
        }
        TrayMode::Random => {
            let law = model.law.clone().unwrap_or_default();
            let integration = law.integration.unwrap_or_default();
            let nodes: Vec<String> = law.nodes.iter().map(u64::to_string).collect();
            let nodes = if nodes.is_empty() { String::new() } else { format!(" with {} nodes", nodes.join(" x ")) };
            let carried: Vec<String> = model
                .strata
                .layers
                .iter()
                .filter(|layer| !layer.effects.is_empty() && model.strata.whole_plots.as_ref() != Some(*layer))
                .filter_map(|layer| {
                    let df = layer.error?.df?;
                    let (effects, name) = (join(&layer.effects), &layer.name);
                    let was = agree(&effects, "was", "were");
                    Some(format!(" {effects} {was} tested against {name} ({}).", degrees_of_freedom(df)))
                })
                .collect();
            format!(
                " Normal random effects on the link scale (standard deviations: {}; {}) were integrated out by {integration}{nodes} \
                 (Pinheiro and Chao 2006); rates are averages over trays. {tests}{}",
                values(3).join(", "),
                law.layout.unwrap_or_default(),
                carried.concat()
            )
        }
        _ => String::new(),
    }
}
