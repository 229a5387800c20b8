//! Does an effect make a difference? One test per effect, against the right error.

use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::effects::average::RateOf;
use crate::effects::contrasts::Judge;
use crate::effects::decisions;
use crate::effects::judged_by::by_score;
use crate::effects::numbers::{EffectTest, WhatMatters};
use crate::effects::odds_ratios::statistic_is;
use crate::effects::sizes::sizes;
use crate::error::{Error, ModelError, Result};
use crate::models::{
    Design, Fit, Frame, Model, Ready, StatisticKind, change, is_robust, is_used, methods, references, score_parts,
    split_plot, tail, test_columns, warning,
};
use crate::report::facts;
use crate::report::numbers::{join, p_value, points};
use crate::report::references as cited;
use crate::report::{capital, verb_for};

/// What [`Model::what_matters`] tells, by a statistic that is named or by that of the model.
pub(crate) fn what_matters(model: &Model, asked: Option<StatisticKind>) -> Result<Answer<WhatMatters>> {
    if is_robust(model) && asked.is_some_and(|kind| kind != StatisticKind::Wald) {
        return Err(ModelError::StatisticUnderRobust.into());
    }
    let tester = Tester::new(model, asked)?;
    let judge_of_sizes = Judge::new(model, &tester.ready, RateOf::AllTrays)?;
    let mut effects = Vec::new();
    for (index, term) in tester.ready.frame.terms.iter().enumerate().filter(|(_, term)| term.asked) {
        let mut test = tester.test(index, &term.name)?;
        let (largest, beyond) = sizes(model, &judge_of_sizes, &term.variables, &term.name);
        (test.largest_difference, test.not_ruled_out) = (largest, beyond);
        if let Some(kind) = asked.filter(|_| test.p.is_some() && !is_robust(model)) {
            test.test = chosen(kind, model.penalised, test.error_df.is_some());
        }
        effects.push(test);
    }
    Ok(answer(model, &tester.ready.frame, (WhatMatters { effects }, asked)))
}

/// The test of one effect, or of the interaction of several, as [`what_matters`] has it, without the sizes of its differences; none where
/// the model has no such effect.
pub(crate) fn effect_test(model: &Model, effects: &[&str]) -> Result<Option<EffectTest>> {
    let tester = Tester::new(model, None)?;
    let frame = &tester.ready.frame;
    let named = |at: &usize| frame.variables.get(*at).is_some_and(|one| effects.contains(&one.name.as_str()));
    let mut terms = frame.terms.iter().enumerate();
    let found = terms.find(|(_, term)| term.variables.len() == effects.len() && term.variables.iter().all(named));
    found.map(|(index, term)| tester.test(index, &term.name)).transpose()
}

/// A fitted model, and by what its effects are tested.
struct Tester<'a> {
    model: &'a Model,
    ready: Ready,
    plots: Option<Frame>,
    kind: StatisticKind,
}

impl<'a> Tester<'a> {
    fn new(model: &'a Model, asked: Option<StatisticKind>) -> Result<Self> {
        let ready = model.ready()?;
        // Effects that vary within whole plots are compared within them, so the whole plots join those models.
        let seen = model.strata.whole_plots.as_ref().is_some_and(|whole| whole.error.is_some_and(|e| e.df.is_some()));
        let visible = seen && model.strata.above.is_none();
        // With random effects they are in every model already.
        let plots = if visible && !is_used(model) { plots_of(model, &ready.frame) } else { None };
        // Effective counts are judged by scores, unless a penalised likelihood was asked for.
        let own = if by_score(model) { StatisticKind::SmallSampleScore } else { StatisticKind::LikelihoodRatio };
        Ok(Self { model, ready, plots, kind: asked.unwrap_or(own) })
    }

    fn test(&self, index: usize, name: &str) -> Result<EffectTest> {
        let Self { model, ready, kind, .. } = self;
        let within = self.plots.as_ref().filter(|_| !model.strata.on_whole_plots(name));
        match within {
            _ if is_robust(model) => robustly(model, &ready.frame, index, name),
            _ if ready.layered.is_some() && *kind == StatisticKind::SmallSampleScore => {
                layered(model, ready, index, name)
            }
            Some(frame) => {
                let made = || change(model, frame, (index + 1, None), *kind);
                Ok(judge(model, name, ready.answered.statistic((index, true), *kind, made)?))
            }
            None => {
                let made = || change(model, &ready.frame, (index, Some(ready)), *kind);
                match ready.answered.statistic((index, false), *kind, made) {
                    // The estimates stand; without the effect the random effects have no likelihood at its maximum.
                    Err(Error::Model(ModelError::NotFitted { .. })) if is_used(model) => {
                        let columns = ready.design.of_term(index).len();
                        Ok(EffectTest { test: NOT_SETTLED.to_owned(), ..untested(name, columns) })
                    }
                    found => Ok(judge(model, name, found?)),
                }
            }
        }
    }
}

/// "score as F".
fn chosen(kind: StatisticKind, penalised: bool, by_f: bool) -> String {
    let name = match (kind, penalised) {
        (StatisticKind::LikelihoodRatio, true) => "penalised likelihood ratio",
        (StatisticKind::LikelihoodRatio, false) => "likelihood ratio",
        (StatisticKind::Score, _) => "score",
        (StatisticKind::SmallSampleScore, _) => "score for few cuttings",
        (StatisticKind::Wald, _) => "Wald",
    };
    format!("{name}{}", if by_f { " as F" } else { "" })
}

/// The frame with the whole plots as a factor, its counts as the model takes them.
fn plots_of(model: &Model, frame: &Frame) -> Option<Frame> {
    split_plot(frame, &model.units).map(|(with, _)| model.strata.weighted(with))
}

/// The test by the robust covariance of the model of all effects that do not contain the effect, and the effect.
fn robustly(model: &Model, frame: &Frame, term: usize, effect: &str) -> Result<EffectTest> {
    let mut order = frame.not_containing(term);
    order.push(term);
    let design = Design::new(frame, &order, &frame.data);
    let held = design.of_term(term);
    let mut test = untested(effect, held.len());
    if let Some(joint) = test_columns(model, frame, &design, &held)?.filter(|_| model.strata.of(effect).is_some()) {
        test.test = "robust F".to_owned();
        test.statistic = Some(joint.statistic);
        test.error_df = Some(joint.error_df);
        test.p = Some(tail(joint.statistic, joint.df, test.error_df));
    }
    Ok(test)
}

/// The test by a score whose variance comes from the layers it draws on.
fn layered(model: &Model, ready: &Ready, term: usize, effect: &str) -> Result<EffectTest> {
    let mut order = ready.frame.not_containing(term);
    order.push(term);
    let design = Design::new(&ready.frame, &order, &ready.frame.data);
    let held = design.of_term(term);
    let mut test = untested(effect, held.len());
    if held.is_empty() || model.strata.of(effect).is_none() {
        return Ok(test);
    }
    let fit = Fit { design: &design, data: &ready.frame.data, link: model.spec.link, penalised: model.penalised };
    let parts = score_parts(&fit, &held)?;
    if let Some(joint) = ready.layered.as_ref().and_then(|layered| layered.test(&parts)) {
        test.test = f_on(model, effect);
        test.statistic = Some(joint.statistic * joint.rank as f64 / test.df);
        test.error_df = Some(joint.df);
        test.p = Some(tail(joint.statistic, test.df, test.error_df));
    }
    Ok(test)
}

/// "F", or "F on bay" for what was laid out on bays.
fn f_on(model: &Model, effect: &str) -> String {
    let names = model.strata.above.as_ref().map(|above| above.names(effect)).unwrap_or_default();
    if names.is_empty() { "F".to_owned() } else { format!("F on {}", join(&names)) }
}

/// What is said of a test whose fit without the effect did not settle.
const NOT_SETTLED: &str = "not settled";

fn untested(effect: &str, df: usize) -> EffectTest {
    EffectTest {
        effect: effect.to_owned(),
        test: "not tested".to_owned(),
        statistic: None,
        df: df as f64,
        error_df: None,
        p: None,
        largest_difference: None,
        not_ruled_out: None,
    }
}

fn judge(model: &Model, effect: &str, (statistic, df): (f64, usize)) -> EffectTest {
    let mut test = untested(effect, df);
    let Some(error) = model.strata.of(effect).filter(|_| df > 0) else { return test };
    let value = if error.df.is_some() { statistic / test.df / error.dispersion } else { statistic };
    let name = match (error.df.is_some(), model.penalised) {
        (true, _) if is_used(model) => "likelihood ratio as F",
        (true, _) if model.strata.on_whole_plots(effect) => "F on whole plots",
        (true, _) => "F",
        (false, true) => "penalised likelihood ratio",
        (false, false) => "likelihood ratio",
    };
    test.test = name.to_owned();
    test.statistic = Some(value);
    test.error_df = error.df;
    test.p = Some(tail(value, test.df, error.df));
    test
}

fn table(rows: &[EffectTest]) -> Sheet {
    let mut table = Sheet::default();
    table
        .text("effect", rows.iter().map(|row| row.effect.clone()))
        .text("test", rows.iter().map(|row| row.test.clone()))
        .text("statistic_is", rows.iter().map(|row| statistic_is(row.statistic, row.error_df)))
        .statistic("statistic", rows.iter().map(|row| row.statistic))
        .degrees("df", rows.iter().map(|row| row.df))
        .degrees("error_df", rows.iter().map(|row| row.error_df))
        .p("p", rows.iter().map(|row| row.p))
        .size("largest_difference", rows.iter().map(|row| row.largest_difference))
        .size("not_ruled_out", rows.iter().map(|row| row.not_ruled_out));
    table
}

fn answer(model: &Model, frame: &Frame, (figures, asked): (WhatMatters, Option<StatisticKind>)) -> Answer<WhatMatters> {
    let w = model.spec.outcome.words();
    let mut notes = model.notes.clone();
    for larger in frame.terms.iter().filter(|larger| larger.asked) {
        let under = frame.terms.iter().filter(|term| term.asked && term.name != larger.name && term.within(larger));
        let names: Vec<&str> = under.map(|term| term.name.as_str()).collect();
        if !names.is_empty() {
            let text = format!(
                "{} belong to the interaction {}: a line of its own is an average over the other factor. If the \
                 interaction matters, read the rates within each level instead.",
                capital(&join(&names)),
                larger.name
            );
            notes.push(Note::new("main_effect_under_interaction", text));
        }
    }
    let open: Vec<&str> =
        figures.effects.iter().filter(|row| row.test == NOT_SETTLED).map(|row| row.effect.as_str()).collect();
    if !open.is_empty() {
        let text = format!(
            "Without {} the likelihood of the random effects rises without end or is flat, as where hardly any {} {}, so there \
             is no test. The default, trays=\"auto\", gives one.",
            join(&open),
            w.cutting,
            w.rooted
        );
        notes.push(Note::new("test_not_settled", text));
    }
    let mut references = references(model);
    references.push(cited::NELDER_1977.to_owned());
    let mut made_with = MadeWith::new(&[("confidence", model.spec.confidence.to_string())]).about(model.spec.outcome);
    let by_f = figures.effects.iter().any(|row| row.error_df.is_some());
    let way = match asked {
        None => way(model, by_f).to_owned(),
        Some(kind) => {
            let name = chosen(kind, model.penalised, by_f);
            made_with.options.push(("test".to_owned(), name.clone()));
            let text = "The statistic was chosen by hand; the one this model takes by itself is the one whose false alarms were simulated.";
            notes.push(Note::new("chosen_statistic", text));
            format!("statistics: {name}")
        }
    };
    Answer {
        kind: "what_matters".to_owned(),
        details: facts(&sentence(model, &figures)),
        sentence: decisions::what_matters(model, &figures),
        table: table(&figures.effects),
        notes,
        methods: format!(
            "{} Each effect was tested in the presence of all effects that do not contain it (Nelder 1977), whatever the order in \
             which they were given; {}.",
            methods(model),
            way
        ),
        references,
        made_with,
        numbers: figures,
    }
}

/// What effects were tested by.
fn way(model: &Model, by_f: bool) -> &'static str {
    match (by_f, by_score(model)) {
        (true, true) => {
            "score statistics over their degrees of freedom were held against F; differences not ruled out have limits by the same score"
        }
        (true, false) => {
            "likelihood ratios over their degrees of freedom were held against F where trays or whole plots give an error"
        }
        (false, _) => "likelihood ratios were held against chi-square",
    }
}

fn sentence(model: &Model, figures: &WhatMatters) -> String {
    let alpha = 1.0 - model.spec.confidence;
    let trees = |proportion: f64| format!("{} {}", points(proportion), model.spec.outcome.of_hundred());
    let under = |row: &EffectTest| {
        let parts: Vec<&str> = row.effect.split(" x ").collect();
        let larger = figures.effects.iter().find(|other| {
            let others: Vec<&str> = other.effect.split(" x ").collect();
            others.len() > parts.len()
                && parts.iter().all(|part| others.contains(part))
                && other.p.is_some_and(|p| p < alpha)
        });
        larger.map_or_else(String::new, |larger| format!(" This is an average: it changes in {}.", larger.effect))
    };
    let one = |row: &EffectTest| {
        let name = capital(&row.effect.replace('_', " "));
        let size = row.largest_difference.map(trees);
        let Some(p) = row.p else {
            let size = size.map_or_else(String::new, |size| format!("; its rates differ by up to {size}"));
            let why = if row.test == NOT_SETTLED { "by random effects of these counts" } else { "in this layout" };
            return format!("{name} cannot be tested {why}{size}.");
        };
        let p_words = p_value(p);
        if p < alpha {
            let size = size.map_or_else(String::new, |size| match row.effect.contains(" x ") {
                true => format!(": differences change by up to {size}"),
                false => format!(": its rates differ by up to {size}"),
            });
            let matters = verb_for(&row.effect, "matters", "matter");
            return format!("{name} {matters} ({p_words}){size}.{}", under(row));
        }
        let open = row.not_ruled_out.map_or_else(
            || "how large a difference remains possible cannot be given".to_owned(),
            |beyond| format!("differences up to {} cannot be ruled out", trees(beyond.min(100.0))),
        );
        format!("{name}: no difference shown ({p_words}); {open}.{}", under(row))
    };
    format!("{}{}", warning(model), figures.effects.iter().map(one).collect::<Vec<_>>().join(" "))
}
