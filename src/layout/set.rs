//! The set of layouts that one was drawn from: how many, what a test that deals anew can reach, chances of neighbours.

use std::collections::BTreeMap;

use super::asked::Asked;
use super::benches::{grid, undealt};
use super::latin;
use super::numbers::{Counted, LayoutKind, LayoutSet};
use super::phrases::{p_shown, shown, within};
use super::restricted::{Rows, Rule, all_orders, meeting, neighbours, share_by_draws};
use crate::error::{LayoutError, Result};

/// A test has to be able to come to this.
const REACH: f64 = 0.05;
/// The smallest share that drawn orders show.
const LEAST_SEEN: f64 = 5e-5;
/// The smallest share of orders that is drawn until one comes.
const RAREST: f64 = 1e-5;

/// One bench: how many trays of each combination it holds.
struct Orders {
    sizes: Vec<usize>,
    rows: Rows,
}

/// What is known of the set before anything is dealt.
///
/// # Errors
/// Restrictions that no layout meets, that leave too few for a test, or that are met too seldom to be drawn.
pub(super) fn set(asked: &Asked<'_>) -> Result<LayoutSet> {
    let mut set = LayoutSet {
        within: within(asked),
        layouts: None,
        counted: Counted::NotKnown,
        without_restrictions: None,
        smallest_p: None,
        longest_run: asked.options.longest_run,
        different_ends: asked.options.different_ends,
        neighbours_alike: None,
        any_two_alike: None,
    };
    let factorial = |n: usize| all_orders(&vec![1; n]);
    let blocks = asked.blocks() as i32;
    match asked.options.layout {
        LayoutKind::CompletelyRandomised | LayoutKind::Blocks => return of_orders(asked, set),
        LayoutKind::Augmented => return Ok(of_augmented(asked, set)),
        LayoutKind::LatinSquare => {
            let order = asked.combinations.len();
            let squares = (asked.trays / order) as i32;
            set.layouts = latin::number(order).map(|n| n.powi(squares));
            set.smallest_p = set.layouts.map(|n| smallest(n, factorial(order)));
        }
        LayoutKind::SplitPlot => {
            let (outer, inner) = asked.outer_and_inner();
            let (plots, within) = (asked.combinations_of(&outer).len(), asked.combinations_of(&inner).len());
            let per_level = asked.options.whole_plots.map_or(asked.blocks(), |n| n as usize);
            let of_plots =
                if blocks == 0 { all_orders(&vec![per_level; plots]) } else { factorial(plots).powi(blocks) };
            let of_trays = all_orders(&vec![asked.trays / per_level.max(1); within]).powi((plots * per_level) as i32);
            set.layouts = Some(of_plots * of_trays);
            set.smallest_p = Some(smallest(of_trays, factorial(within)));
        }
        LayoutKind::StripPlot => {
            let (outer, inner) = asked.outer_and_inner();
            let (rows, columns) = (asked.combinations_of(&outer).len(), asked.combinations_of(&inner).len());
            set.layouts = Some((factorial(rows) * factorial(columns)).powi(blocks));
            set.smallest_p = Some(smallest(factorial(columns).powi(blocks), factorial(columns)));
        }
        LayoutKind::IncompleteBlocks => {}
    }
    set.layouts = set.layouts.filter(|layouts| layouts.is_finite());
    if set.layouts.is_some() {
        set.counted = Counted::Exactly;
        set.without_restrictions = set.layouts;
    }
    Ok(set)
}

/// Smallest P value of a test that sees no difference between layouts which only exchange the names of treatments.
fn smallest(layouts: f64, names: f64) -> f64 {
    if layouts.is_finite() { (names / layouts).min(1.0) } else { 0.0 }
}

/// The smallest P value of whole plots dealt out anew.
pub(super) fn smallest_of_whole_plots(asked: &Asked<'_>) -> Option<f64> {
    let (outer, _) = asked.outer_and_inner();
    let plots = asked.combinations_of(&outer).len();
    let names = all_orders(&vec![1; plots]);
    let layouts = match asked.options.layout {
        LayoutKind::SplitPlot if asked.blocks() == 0 => {
            all_orders(&vec![asked.options.whole_plots.unwrap_or(1) as usize; plots])
        }
        LayoutKind::SplitPlot | LayoutKind::StripPlot => names.powi(asked.blocks() as i32),
        _ => return None,
    };
    Some(smallest(layouts, names))
}

/// Names of combinations that can be exchanged without changing how many trays each has.
fn names_of(sizes: &[usize]) -> f64 {
    let mut alike: BTreeMap<usize, usize> = BTreeMap::new();
    sizes.iter().for_each(|size| *alike.entry(*size).or_default() += 1);
    alike.values().map(|n| all_orders(&vec![1; *n])).product()
}

fn of_orders(asked: &Asked<'_>, mut set: LayoutSet) -> Result<LayoutSet> {
    let benches = undealt(asked);
    let most = benches.iter().map(|bench| bench.trays.len()).max().unwrap_or(1);
    let columns = grid(asked, most)?.1;
    let orders: Vec<Orders> = benches
        .iter()
        .map(|bench| {
            let size = |one: usize| bench.trays.iter().filter(|other| **other == one).count();
            let sizes = (0..asked.combinations.len()).map(size).collect();
            Orders { sizes, rows: Rows { trays: bench.trays.len(), columns } }
        })
        .collect();
    let Some(first) = orders.first() else { return Ok(set) };
    let names = names_of(&first.sizes);
    let times = orders.len() as i32;
    let all = all_orders(&first.sizes).powi(times);
    set.without_restrictions = Some(all).filter(|all| all.is_finite());
    if asked.rule.is_none() {
        set.layouts = set.without_restrictions;
        set.counted = if set.layouts.is_some() { Counted::Exactly } else { Counted::NotKnown };
        set.smallest_p = Some(smallest(all, names));
        return Ok(set);
    }
    // Benches of these layouts hold the same, so one stands for all.
    let trays = benches.first().map(|bench| bench.trays.as_slice()).unwrap_or_default();
    let orders_of_one = all_orders(&first.sizes);
    let counted = meeting(asked.rule, first.rows, &first.sizes, None).filter(|_| orders_of_one.is_finite());
    let drawn = counted.is_none().then(|| share_by_draws(asked.options.seed, asked.rule, first.rows, trays));
    let share = counted.map(|met| met / orders_of_one).or(drawn.as_ref().map(|drawn| drawn.met)).unwrap_or_default();
    let layouts = counted.map_or_else(|| all * share.powi(times), |met| met.powi(times));
    if counted.is_some() {
        check_set(asked, first, times, (layouts, all, names))?;
    }
    if share < RAREST {
        let (rule, one_in) = (
            asked.rule.words(),
            shown((1.0 / share.max(if counted.is_some() { RAREST / 10.0 } else { LEAST_SEEN })).round()),
        );
        return Err(LayoutError::TooRare { rule, one_in, hint: looser(asked.rule, first, times, names) }.into());
    }
    set.layouts = Some(layouts).filter(|layouts| layouts.is_finite());
    set.counted = match (set.layouts, counted) {
        (None, _) => Counted::NotKnown,
        (_, Some(_)) => Counted::Exactly,
        (_, None) => Counted::ByDraws,
    };
    set.smallest_p = Some(smallest(layouts, names));
    let repeated = first.sizes.iter().any(|size| *size > 1);
    set.neighbours_alike = drawn
        .map_or_else(|| neighbours(asked.rule, first.rows, &first.sizes), |drawn| drawn.neighbours)
        .filter(|_| repeated);
    let n = first.rows.trays as f64;
    let pairs: f64 = first.sizes.iter().map(|size| (size * size.saturating_sub(1)) as f64).sum();
    set.any_two_alike = set.neighbours_alike.map(|_| pairs / (n * (n - 1.0)));
    Ok(set)
}

/// Refuses a set that is empty, or too small for a test where the layouts without restrictions would do.
fn check_set(asked: &Asked<'_>, first: &Orders, times: i32, (layouts, all, names): (f64, f64, f64)) -> Result<()> {
    let (rule, of) = (asked.rule.words(), shown(all));
    let hint = || looser(asked.rule, first, times, names);
    if layouts < 1.0 {
        return Err(LayoutError::Impossible { rule, of, hint: hint() }.into());
    }
    let reached = smallest(layouts, names);
    if reached > REACH && smallest(all, names) <= REACH {
        let (left, smallest) = (shown(layouts), p_shown(reached));
        return Err(LayoutError::SetTooSmall { rule, left, of, smallest, hint: hint() }.into());
    }
    Ok(())
}

/// The next looser restriction that leaves enough.
fn looser(rule: Rule, first: &Orders, times: i32, names: f64) -> String {
    let most = first.sizes.iter().copied().max().unwrap_or(1);
    let begin = rule.longest_run.map_or(most, |run| run + 1);
    for run in begin..most {
        let tried = Rule { longest_run: Some(run), ..rule };
        let Some(left) = meeting(tried, first.rows, &first.sizes, None).map(|left| left.powi(times)) else { break };
        if left >= 1.0 && smallest(left, names) <= REACH {
            let ends = if rule.different_ends { " with different_ends=True" } else { "" };
            return format!("longest_run={run}{ends} leaves {}", shown(left));
        }
    }
    "leave the restriction out".to_owned()
}

/// New entries: how many layouts there are is not asked for; whether the restrictions can be met is seen when they are dealt.
fn of_augmented(asked: &Asked<'_>, mut set: LayoutSet) -> LayoutSet {
    let controls = asked.options.controls.len();
    let entries = asked.combinations.len() - controls;
    let each = asked.trays / asked.blocks();
    let (even, more) = (entries / asked.blocks(), entries % asked.blocks());
    let own = |at: usize| even + usize::from(at < more);
    // Which entries stand where, and controls among entries.
    let sizes = |at: usize| [vec![each; controls], vec![own(at)]].concat();
    let places: f64 = (0..asked.blocks()).map(|at| all_orders(&sizes(at))).product();
    let all = places * all_orders(&vec![1; entries]);
    set.without_restrictions = Some(all).filter(|all| all.is_finite());
    if asked.rule.is_none() && set.without_restrictions.is_some() {
        set.layouts = set.without_restrictions;
        set.counted = Counted::Exactly;
    }
    set
}
