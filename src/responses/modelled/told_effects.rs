//! Tests of the effects of a model of means in words.

use super::effects::effects;
use super::numbers::{MeanEffect, MeanEffects};
use super::options::MeanModelSpec;
use super::told_shared::{Of, around, methods, notes, options, references, signed};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::control::Control;
use crate::error::Result;
use crate::report::numbers::{join, p_value};
use crate::report::references_responses::BRUNNER_1997;
use crate::report::{capital, fitted, verb_for};
use crate::responses::amounts::Amounts;
use crate::responses::told::unit_of;
use crate::trial::Trial;

/// The answer.
pub(super) fn answer(trial: &Trial, spec: &MeanModelSpec, control: &Control) -> Result<Answer<MeanEffects>> {
    let found = effects(trial, spec, control)?;
    let widest = found.effects.iter().filter_map(|one| one.largest_difference).fold(0.0, f64::max);
    let amounts = Amounts::of(&found.response, found.mean_of, widest);
    let of = Of {
        response: &found.response,
        mean_of: found.mean_of,
        primary: found.primary,
        n_left_out: found.n_left_out,
        fewest: None,
    };
    let (_, above) = around(trial, spec);
    let mut cautions = notes(&of, spec, &[], trial);
    cautions.extend(larger(&found.effects));
    let mut works = references(&of);
    works.push(BRUNNER_1997);
    let mut made = options(&of, spec);
    made.push(("confidence", found.confidence.to_string()));
    let parts = found.effects.iter().any(|one| one.take_p.is_some());
    let beside = if parts {
        " Beside them stand the tests of the same effects on the share that rooted (score tests of a model of takes) and on the mean of those that rooted."
    } else {
        ""
    };
    Ok(signed(
        trial,
        Answer {
            kind: "mean_effects".to_owned(),
            sentence: decision(&found, &amounts),
            details: details(&found, &amounts),
            notes: cautions,
            methods: format!(
                "{} An effect is what its contrasts say with all levels of the other treatments alike; their sum of squares over the sum of their variances is held against F, both degrees of freedom matched by moments (Brunner, Dette and Munk 1997).{beside}",
                methods(&of, spec, &found.places, &above)
            ),
            references: works.into_iter().map(str::to_owned).collect(),
            table: table(&found),
            made_with: MadeWith::new(&made),
            numbers: found,
        },
    ))
}

/// That a treatment's own line is an average where it interacts.
fn larger(effects: &[MeanEffect]) -> Option<Note> {
    let set = effects.iter().find(|one| one.effect.contains(" x "))?;
    let text = format!(
        "{} belong to the interaction {}: a line of its own is an average over the other treatment. If the interaction matters, read the means within each level instead.",
        join(&set.effect.split(" x ").collect::<Vec<_>>()),
        set.effect
    );
    Some(Note::new("main_effect_under_interaction", capital(&text)))
}

fn name(row: &MeanEffect) -> String {
    row.effect.replace('_', " ")
}

fn decision(found: &MeanEffects, amounts: &Amounts) -> String {
    let alpha = 1.0 - found.confidence;
    let matter: Vec<&MeanEffect> = found.effects.iter().filter(|row| row.p.is_some_and(|p| p < alpha)).collect();
    let together = matter.iter().find(|row| row.effect.contains(" x "));
    let inside = |row: &MeanEffect| together.is_some_and(|set| set.effect.split(" x ").any(|part| part == row.effect));
    let open: Vec<String> =
        found.effects.iter().filter(|row| row.p.is_some_and(|p| p >= alpha) && !inside(row)).map(name).collect();
    let untested: Vec<String> = found.effects.iter().filter(|row| row.p.is_none()).map(name).collect();
    let mut lead = String::new();
    if let Some(set) = together {
        let names: Vec<String> = set.effect.split(" x ").map(|part| part.replace('_', " ")).collect();
        let (first, others) = names.split_first().map_or((String::new(), &[][..]), |(one, rest)| (one.clone(), rest));
        lead = format!(
            "{}: {first} acts differently by {} ({}): read the means within each",
            amounts.head(),
            join(others),
            p_value(set.p.unwrap_or(f64::NAN))
        );
    } else if let [only] = matter.as_slice() {
        let size = only
            .largest_difference
            .map_or_else(String::new, |size| format!(": means differ by up to {}", amounts.said(size)));
        let matters = verb_for(&only.effect, "matters", "matter");
        lead = format!("{}: {} {matters} ({}){size}", amounts.head(), name(only), p_value(only.p.unwrap_or(f64::NAN)));
    } else if !matter.is_empty() {
        lead = format!("{}: {} matter", amounts.head(), join(&matter.iter().map(|row| name(row)).collect::<Vec<_>>()));
    }
    let mut tails = Vec::new();
    if !open.is_empty() {
        let verb = if let [only] = open.as_slice() { verb_for(only, "is", "are") } else { "are" };
        let told = format!("{} {verb} not shown to matter", join(&open));
        if lead.is_empty() {
            lead = format!("{}: {told}", amounts.head());
        } else {
            tails.push(format!("; {told}"));
        }
    }
    if !untested.is_empty() {
        let told = format!("{} cannot be tested here", join(&untested));
        if lead.is_empty() {
            lead = format!("{}: {told}", amounts.head());
        } else {
            tails.push(format!("; {told}"));
        }
    }
    if !found.primary {
        tails.push("; a secondary response".to_owned());
    }
    fitted(&lead, &tails)
}

fn details(found: &MeanEffects, amounts: &Amounts) -> Vec<String> {
    let alpha = 1.0 - found.confidence;
    let one = |row: &MeanEffect| {
        let name = capital(&name(row));
        let size = row.largest_difference.map(|size| amounts.said(size));
        let judged = if row.unit == "tray" {
            String::new()
        } else {
            format!(", judged by {}", crate::report::numbers::plural(&row.unit.replace('_', " ")))
        };
        let Some(p) = row.p else {
            let size = size.map_or_else(String::new, |size| format!("; its means differ by up to {size}"));
            let why = row.why.as_ref().map_or_else(String::new, |why| format!(": {why}"));
            return format!("{name} cannot be tested{why}{size}.");
        };
        let p_words = p_value(p);
        let parts = parts(row, alpha);
        if p < alpha {
            let matters = verb_for(&row.effect, "matters", "matter");
            let size = size.map_or_else(String::new, |size| match row.effect.contains(" x ") {
                true => format!(": differences change by up to {size}"),
                false => format!(": its means differ by up to {size}"),
            });
            return format!("{name} {matters} ({p_words}{judged}){size}.{parts}");
        }
        let open = row.not_ruled_out.map_or_else(
            || "how large a difference remains possible cannot be given".to_owned(),
            |beyond| format!("differences up to {} cannot be ruled out", amounts.said(beyond)),
        );
        format!("{name}: no difference shown ({p_words}{judged}); {open}.{parts}")
    };
    let mut lines: Vec<String> = found.effects.iter().map(one).collect();
    lines.push(format!("{} trays with {} cuttings; amounts are {}.", found.n_units, found.n_cuttings, amounts.what()));
    lines
}

/// What an effect does to how many root, and to those that did.
fn parts(row: &MeanEffect, alpha: f64) -> String {
    let Some((take, rooted)) = row.take_p.zip(row.of_rooted_p) else { return String::new() };
    let shown =
        |p: f64| if p < alpha { format!("shown ({})", p_value(p)) } else { format!("not shown ({})", p_value(p)) };
    format!(" In how many root: {}; in those that rooted: {}.", shown(take), shown(rooted))
}

fn table(found: &MeanEffects) -> Sheet {
    let rows = &found.effects;
    let mut table = Sheet::default();
    table
        .text("effect", rows.iter().map(|row| row.effect.clone()))
        .text("test", rows.iter().map(|row| row.test.clone()))
        .statistic("statistic", rows.iter().map(|row| row.statistic))
        .degrees("df", rows.iter().map(|row| row.df))
        .degrees("error_df", rows.iter().map(|row| row.error_df))
        .p("p", rows.iter().map(|row| row.p))
        .plain("largest_difference", rows.iter().map(|row| row.largest_difference))
        .of_unit(&unit_of(&found.response))
        .plain("not_ruled_out", rows.iter().map(|row| row.not_ruled_out))
        .of_unit(&unit_of(&found.response));
    if rows.iter().any(|row| row.take_p.is_some()) {
        table.p("take_p", rows.iter().map(|row| row.take_p));
    }
    if rows.iter().any(|row| row.of_rooted_p.is_some()) {
        table.p("of_rooted_p", rows.iter().map(|row| row.of_rooted_p));
    }
    table
}
