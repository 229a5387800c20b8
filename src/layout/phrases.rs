//! Words that several texts of a layout use.

use super::asked::Asked;
use super::numbers::LayoutKind;
use crate::report::{join, number};

/// Numbers up to this stand in full.
const IN_FULL: f64 = 1e9;

/// A number of layouts: "576", "161,280", "about 1.2 x 10^24".
pub(super) fn shown(n: f64) -> String {
    if n >= IN_FULL {
        return format!("about {}", number(n));
    }
    let digits = format!("{n:.0}");
    let first = digits.len() % 3;
    let mut told = digits.get(..first).unwrap_or_default().to_owned();
    let mut at = first;
    while let Some(three) = digits.get(at..at + 3) {
        if !told.is_empty() {
            told.push(',');
        }
        told.push_str(three);
        at += 3;
    }
    told
}

/// A smallest P value without more digits than it is known by.
pub(super) fn p_shown(p: f64) -> String {
    if p >= 1.0 { "1".to_owned() } else { format!("{p:.2}") }
}

/// Names of columns as they are said.
pub(super) fn said(names: &[&str]) -> String {
    join(&names.iter().map(|name| name.replace('_', " ")).collect::<Vec<_>>())
}

/// What is given to a tray: "level of strength", "combination of strength and dark days".
pub(super) fn given(asked: &Asked<'_>) -> String {
    let names: Vec<&str> = asked.options.treatments.iter().map(|one| one.name.as_str()).collect();
    let what = if names.len() > 1 { "combination" } else { "level" };
    format!("{what} of {}", said(&names))
}

/// Treatments of whole plots, and those of trays within.
pub(super) fn outer_and_inner(asked: &Asked<'_>) -> (String, String) {
    let (outer, inner) = asked.outer_and_inner();
    let names = |at: Vec<usize>| {
        let named = at.iter().filter_map(|at| asked.options.treatments.get(*at));
        said(&named.map(|one| one.name.as_str()).collect::<Vec<_>>())
    };
    (names(outer), names(inner))
}

/// The set that a layout is drawn from, in words.
pub(super) fn within(asked: &Asked<'_>) -> String {
    let order = asked.combinations.len();
    let set = match asked.options.layout {
        LayoutKind::CompletelyRandomised => "all ways to deal the trays out over the positions".to_owned(),
        LayoutKind::Blocks => "all ways to deal the trays of each block out within it".to_owned(),
        LayoutKind::LatinSquare if order <= 6 => format!("all Latin squares of order {order}"),
        LayoutKind::LatinSquare => {
            format!(
                "all Latin squares of order {order}, as nearly uniform as {} moves make it",
                shown((order * order * order) as f64)
            )
        }
        LayoutKind::SplitPlot if asked.blocks() == 0 => {
            "all ways to deal whole plots out over their places, and trays within each".to_owned()
        }
        LayoutKind::SplitPlot => "all ways to deal whole plots out within blocks, and trays within each".to_owned(),
        LayoutKind::StripPlot => "all ways to deal rows and columns out within each block".to_owned(),
        LayoutKind::IncompleteBlocks => {
            "one design of blocks, with levels, replicates, blocks and trays dealt out anew".to_owned()
        }
        LayoutKind::Augmented => {
            "all ways to deal new entries out over the blocks, and the trays of each block within it".to_owned()
        }
    };
    if asked.rule.is_none() { set } else { format!("{set}, with {}", asked.rule.words()) }
}
