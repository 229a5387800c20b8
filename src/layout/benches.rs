//! Trays by bench, dealt: each layout makes its benches in its own way, and their trays then take the positions row after row.

use rand_chacha::ChaCha8Rng;

use super::asked::Asked;
use super::incomplete::{self, Resolvable, block_sizes, bound};
use super::latin;
use super::numbers::{BlockEfficiency, LayoutKind, PlacedTray};
use super::phrases::shown;
use super::restricted::{Rows, dealt};
use crate::error::{LayoutError, Result};
use crate::math::rng::{deal, stream};

/// Columns of a bench of which no positions are told.
const USUAL_COLUMNS: usize = 12;

/// One bench and the combinations of its trays.
#[derive(Debug, Clone, Default)]
pub(super) struct Bench {
    pub(super) name: String,
    pub(super) replicate: Option<String>,
    pub(super) block: Option<String>,
    pub(super) whole_plot: Option<String>,
    pub(super) trays: Vec<usize>,
}

/// All benches, and what rows and columns of a bench are.
pub(super) struct Benches {
    pub(super) benches: Vec<Bench>,
    pub(super) rows: usize,
    pub(super) columns: usize,
}

fn named(at: usize) -> String {
    (at + 1).to_string()
}

/// The benches with their trays in the order of combinations, before anything is dealt, for layouts whose trays are dealt one by one.
pub(super) fn undealt(asked: &Asked<'_>) -> Vec<Bench> {
    let times = |n: usize| {
        let all = 0..asked.combinations.len();
        all.flat_map(|one| std::iter::repeat_n(one, n)).collect::<Vec<usize>>()
    };
    match asked.options.layout {
        LayoutKind::CompletelyRandomised => {
            vec![Bench { name: named(0), trays: times(asked.trays), ..Bench::default() }]
        }
        LayoutKind::Blocks => {
            let bench = |name: &String| Bench {
                name: name.clone(),
                block: Some(name.clone()),
                trays: times(asked.trays / asked.blocks()),
                ..Bench::default()
            };
            asked.options.blocks.iter().map(bench).collect()
        }
        _ => Vec::new(),
    }
}

/// What deals the trays out, again and again: the design of incomplete blocks is searched once.
pub(super) struct Dealer<'a> {
    asked: &'a Asked<'a>,
    design: Option<Resolvable>,
    pub(super) efficiency: Option<BlockEfficiency>,
    /// Rows and columns of a bench, where trays do not simply fill it.
    shape: Option<(usize, usize)>,
}

impl<'a> Dealer<'a> {
    pub(super) fn new(asked: &'a Asked<'a>) -> Result<Self> {
        let mut made = Self { asked, design: None, efficiency: None, shape: None };
        match asked.options.layout {
            LayoutKind::LatinSquare => made.shape = Some((asked.combinations.len(), asked.combinations.len())),
            LayoutKind::StripPlot => {
                let (outer, inner) = asked.outer_and_inner();
                made.shape = Some((asked.combinations_of(&outer).len(), asked.combinations_of(&inner).len()));
            }
            LayoutKind::IncompleteBlocks => {
                let (design, kept) = searched(asked)?;
                (made.design, made.efficiency) = (Some(design), Some(kept));
            }
            _ => {}
        }
        Ok(made)
    }

    /// Deals the trays out; bench by bench as many as in every other deal.
    pub(super) fn deal(&self, rng: &mut ChaCha8Rng) -> Result<Benches> {
        let asked = self.asked;
        let benches = match asked.options.layout {
            LayoutKind::CompletelyRandomised | LayoutKind::Blocks => undealt(asked),
            LayoutKind::Augmented => augmented(asked, rng),
            LayoutKind::LatinSquare => squares(asked, rng),
            LayoutKind::SplitPlot => split_plots(asked, rng),
            LayoutKind::StripPlot => strips(asked, rng),
            LayoutKind::IncompleteBlocks => self.design.clone().map_or_else(Vec::new, |design| of_blocks(design, rng)),
        };
        let (rows, columns) = match self.shape {
            Some(shape) => shape,
            None => grid(asked, benches.iter().map(|bench| bench.trays.len()).max().unwrap_or(1))?,
        };
        let mut made = Benches { benches, rows, columns };
        if self.shape.is_none() {
            made.deal(asked, rng)?;
        }
        Ok(made)
    }
}

/// Rows and columns of a bench for so many trays.
pub(super) fn grid(asked: &Asked<'_>, trays: usize) -> Result<(usize, usize)> {
    let Some((rows, columns)) = asked.options.positions else {
        let rows = trays.div_ceil(USUAL_COLUMNS).max(1);
        return Ok((rows, trays.div_ceil(rows).max(1)));
    };
    if rows == 0 || columns == 0 || rows.saturating_mul(columns) < trays as u64 {
        let fitting = (trays as u64).div_ceil(rows.max(1));
        return Err(LayoutError::NoRoom { trays: trays as u64, rows, columns, fitting }.into());
    }
    Ok((rows as usize, columns as usize))
}

impl Benches {
    /// Deals the trays of each bench within it, as the restrictions allow.
    fn deal(&mut self, asked: &Asked<'_>, rng: &mut ChaCha8Rng) -> Result<()> {
        for bench in &mut self.benches {
            let n = bench.trays.len();
            if asked.rule.is_none() {
                deal(rng, &mut bench.trays, n);
                continue;
            }
            let rows = Rows { trays: n, columns: self.columns };
            bench.trays = dealt(rng, asked.rule, rows, &bench.trays).ok_or_else(|| LayoutError::TooRare {
                rule: asked.rule.words(),
                one_in: shown(3_000_000.0),
                hint: "loosen it".to_owned(),
            })?;
        }
        Ok(())
    }

    /// Every tray with its place; its code is still blank.
    pub(super) fn placed(&self, asked: &Asked<'_>) -> Vec<(usize, PlacedTray)> {
        let mut found = Vec::new();
        let kind = asked.options.layout;
        for (at, bench) in self.benches.iter().enumerate() {
            for (place, combination) in bench.trays.iter().enumerate() {
                let (row, column) = (place / self.columns, place % self.columns);
                let levels = asked.combinations.get(*combination).into_iter().flatten().zip(&asked.levels);
                let mut tray = PlacedTray {
                    bench: bench.name.clone(),
                    row: row as u64 + 1,
                    column: column as u64 + 1,
                    replicate: bench.replicate.clone(),
                    block: bench.block.clone(),
                    whole_plot: bench.whole_plot.clone(),
                    levels: levels.filter_map(|(level, names)| Some((*names.get(*level)?).to_owned())).collect(),
                    ..PlacedTray::default()
                };
                match kind {
                    LayoutKind::LatinSquare => tray.block = Some(named(at * self.rows + row)),
                    LayoutKind::StripPlot => {
                        tray.whole_plot = Some(named(at * self.rows + row));
                        tray.strip = Some(named(at * self.columns + column));
                    }
                    _ => {}
                }
                found.push((*combination, tray));
            }
        }
        found
    }
}

fn squares(asked: &Asked<'_>, rng: &mut ChaCha8Rng) -> Vec<Bench> {
    let order = asked.combinations.len();
    let bench = |at: usize| {
        let trays = latin::drawn(rng, order).into_iter().flatten().collect();
        Bench { name: named(at), trays, ..Bench::default() }
    };
    (0..asked.trays / order).map(bench).collect()
}

/// New entries dealt over the blocks as evenly as can be, controls in each.
fn augmented(asked: &Asked<'_>, rng: &mut ChaCha8Rng) -> Vec<Bench> {
    let controls = asked.options.controls.len();
    let n_entries = asked.combinations.len() - controls;
    let mut entries: Vec<usize> = (0..n_entries).collect();
    deal(rng, &mut entries, n_entries);
    let each = asked.trays / asked.blocks();
    let standing: Vec<usize> =
        (n_entries..asked.combinations.len()).flat_map(|one| std::iter::repeat_n(one, each)).collect();
    let bench = |(at, name): (usize, &String)| {
        let own = entries.iter().skip(at).step_by(asked.blocks());
        let trays = own.chain(&standing).copied().collect();
        Bench { name: name.clone(), block: Some(name.clone()), trays, ..Bench::default() }
    };
    asked.options.blocks.iter().enumerate().map(bench).collect()
}

fn split_plots(asked: &Asked<'_>, rng: &mut ChaCha8Rng) -> Vec<Bench> {
    let (outer, inner) = asked.outer_and_inner();
    let (plots, within) = (asked.combinations_of(&outer), asked.combinations_of(&inner));
    let per_level = asked.options.whole_plots.map_or(asked.blocks(), |plots| plots as usize);
    let each = asked.trays / per_level.max(1);
    let mut order: Vec<(Option<String>, usize)> = Vec::new();
    let all = |times: usize| (0..plots.len()).flat_map(|one| std::iter::repeat_n(one, times)).collect::<Vec<_>>();
    if asked.blocks() == 0 {
        let mut own = all(per_level);
        let n = own.len();
        deal(rng, &mut own, n);
        order.extend(own.into_iter().map(|one| (None, one)));
    }
    for block in &asked.options.blocks {
        let mut own = all(1);
        let n = own.len();
        deal(rng, &mut own, n);
        order.extend(own.into_iter().map(|one| (Some(block.clone()), one)));
    }
    let bench = |(at, (block, plot)): (usize, (Option<String>, usize))| {
        let level = plots.get(plot).map(Vec::as_slice).unwrap_or_default();
        let one = |own: &Vec<usize>| asked.number_of([(&outer, level), (&inner, own)]);
        let trays = within.iter().flat_map(|own| std::iter::repeat_n(one(own), each)).collect();
        Bench { name: named(at), block, whole_plot: Some(named(at)), trays, ..Bench::default() }
    };
    order.into_iter().enumerate().map(bench).collect()
}

fn strips(asked: &Asked<'_>, rng: &mut ChaCha8Rng) -> Vec<Bench> {
    let (outer, inner) = asked.outer_and_inner();
    let (mut rows, mut columns) = (asked.combinations_of(&outer), asked.combinations_of(&inner));
    let bench = |name: &String| {
        let (n_rows, n_columns) = (rows.len(), columns.len());
        deal(rng, &mut rows, n_rows);
        deal(rng, &mut columns, n_columns);
        let crossing = rows.iter().flat_map(|row| columns.iter().map(move |column| (row, column)));
        let trays = crossing.map(|(row, column)| asked.number_of([(&outer, row), (&inner, column)])).collect();
        Bench { name: name.clone(), block: Some(name.clone()), trays, ..Bench::default() }
    };
    asked.options.blocks.iter().map(bench).collect()
}

/// The design is searched from a start that no seed changes, so that plans of other seeds are of one set.
fn searched(asked: &Asked<'_>) -> Result<(Resolvable, BlockEfficiency)> {
    let (levels, replicates) = (asked.combinations.len(), asked.trays);
    let sizes = block_sizes(levels, asked.options.per_block.unwrap_or(2) as usize);
    let Some(design) = incomplete::found(&mut stream(0, 0), levels, &sizes, replicates) else {
        let per_block = sizes.first().copied().unwrap_or(1) as u64;
        let (replicates, levels) = (replicates as u64, levels as u64);
        return Err(LayoutError::NotConnected { replicates, per_block, levels }.into());
    };
    let (fewest_together, most_together) = design.together();
    let (value, bound) = (design.efficiency(), bound(levels, &sizes, replicates));
    Ok((design, BlockEfficiency { value, bound, fewest_together, most_together }))
}

/// Levels, replicates and blocks of a design dealt, a bench for each block.
fn of_blocks(mut design: Resolvable, rng: &mut ChaCha8Rng) -> Vec<Bench> {
    shuffled(&mut design, rng);
    let mut benches = Vec::new();
    for (replicate, blocks) in design.replicates.into_iter().enumerate() {
        for trays in blocks {
            let name = named(benches.len());
            let (block, replicate) = (Some(name.clone()), Some(named(replicate)));
            benches.push(Bench { name, replicate, block, whole_plot: None, trays });
        }
    }
    benches
}

fn shuffled(design: &mut Resolvable, rng: &mut ChaCha8Rng) {
    let mut names: Vec<usize> = (0..design.levels).collect();
    deal(rng, &mut names, design.levels);
    let n = design.replicates.len();
    deal(rng, &mut design.replicates, n);
    for blocks in &mut design.replicates {
        let n = blocks.len();
        deal(rng, blocks, n);
        // Larger blocks keep the larger benches.
        blocks.sort_by_key(|block| std::cmp::Reverse(block.len()));
        for level in blocks.iter_mut().flatten() {
            *level = names.get(*level).copied().unwrap_or_default();
        }
    }
}
