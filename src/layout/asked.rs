//! What a layout is asked for, looked at before anything is dealt.

use std::collections::BTreeSet;

use super::codes;
use super::numbers::{LayoutKind, LayoutOptions, Sharing, TreatmentLevels};
use super::restricted::Rule;
use crate::error::{LayoutError, Result};

/// Trays that a plan can hold.
const MOST_TRAYS: u64 = 5000;
/// The largest Latin square.
const LARGEST_SQUARE: usize = 20;
/// Columns of the sheets and of the key.
const OWN_NAMES: [&str; 17] = [
    "plan",
    "tray",
    "bench",
    "row",
    "column",
    "replicate",
    "block",
    "whole_plot",
    "strip",
    "stock_plant",
    "reader",
    "seal",
    "stuck",
    "rooted",
    "dead",
    "lost",
    "date",
];

/// What is asked for, with the combinations of treatments.
pub(super) struct Asked<'a> {
    pub(super) options: &'a LayoutOptions,
    /// Levels of each treatment by name; those of new entries end with the controls.
    pub(super) levels: Vec<Vec<&'a str>>,
    /// Places of levels, a list for each combination; the last treatment changes fastest.
    pub(super) combinations: Vec<Vec<usize>>,
    /// Trays per combination, per control where there are new entries.
    pub(super) trays: usize,
    pub(super) rule: Rule,
}

impl<'a> Asked<'a> {
    pub(super) fn new(options: &'a LayoutOptions) -> Result<Self> {
        check_treatments(options)?;
        check_needs(options)?;
        let names = |one: &'a TreatmentLevels| one.levels.iter().map(String::as_str).collect::<Vec<_>>();
        let mut levels: Vec<Vec<&str>> = options.treatments.iter().map(names).collect();
        if let (LayoutKind::Augmented, Some(entries)) = (options.layout, levels.first_mut()) {
            if let Some(level) = options.controls.iter().find(|one| entries.contains(&one.as_str())) {
                return Err(LayoutError::ControlIsEntry { level: level.clone() }.into());
            }
            entries.extend(options.controls.iter().map(String::as_str));
        }
        let sizes: Vec<usize> = levels.iter().map(Vec::len).collect();
        let n_combinations = sizes.iter().fold(1_usize, |all, size| all.saturating_mul(*size));
        if n_combinations < 2 {
            return Err(LayoutError::NothingToCompare.into());
        }
        outside("treatments", n_combinations as u64, 2, MOST_TRAYS, "name fewer levels")?;
        let rule =
            Rule { longest_run: options.longest_run.map(|most| most as usize), different_ends: options.different_ends };
        let mut asked = Self { options, levels, combinations: crossed(&sizes), trays: 0, rule };
        asked.trays = asked.trays_per_combination()? as usize;
        let all = asked.trays.saturating_mul(n_combinations);
        outside("trays", all as u64, 2, MOST_TRAYS.min(codes::MOST as u64), "plan fewer trays in all")?;
        check_sharing("stock_plants", options.stock_plants.as_ref(), options)?;
        check_sharing("readers", options.readers.as_ref(), options)?;
        if let Some(name) = &options.genotype {
            check_known("genotype", name, options)?;
        }
        Ok(asked)
    }

    pub(super) fn blocks(&self) -> usize {
        self.options.blocks.len()
    }

    /// Treatments of whole plots by place, and the others.
    pub(super) fn outer_and_inner(&self) -> (Vec<usize>, Vec<usize>) {
        let given = |at: &usize| {
            self.options.treatments.get(*at).is_some_and(|one| self.options.whole_plot.contains(&one.name))
        };
        (0..self.levels.len()).partition(given)
    }

    /// Combinations of some treatments, and the whole combination that two such make.
    pub(super) fn combinations_of(&self, treatments: &[usize]) -> Vec<Vec<usize>> {
        crossed(&treatments.iter().filter_map(|at| self.levels.get(*at)).map(Vec::len).collect::<Vec<_>>())
    }

    /// The number of the combination with these levels of the treatments at these places.
    pub(super) fn number_of(&self, parts: [(&[usize], &[usize]); 2]) -> usize {
        let level = |treatment: usize| {
            let mut places = parts.iter().flat_map(|(at, levels)| at.iter().zip(levels.iter()));
            places.find(|(at, _)| **at == treatment).map_or(0, |(_, level)| *level)
        };
        self.levels.iter().enumerate().fold(0, |number, (at, levels)| number * levels.len() + level(at))
    }

    fn trays_per_combination(&self) -> Result<u64> {
        let options = self.options;
        let blocks = options.blocks.len() as u64;
        let n = self.combinations.len() as u64;
        match options.layout {
            LayoutKind::CompletelyRandomised | LayoutKind::IncompleteBlocks => {
                let hint = "write trays=4 for four trays of each";
                let trays = options.trays.ok_or_else(|| needs(options.layout, "trays", hint))?;
                let least = if options.layout == LayoutKind::IncompleteBlocks { 2 } else { 1 };
                outside("trays", trays, least, MOST_TRAYS, "each level needs so many trays")?;
                Ok(trays)
            }
            LayoutKind::Blocks | LayoutKind::Augmented => even(options.trays, blocks, ("blocks", "trays")),
            LayoutKind::LatinSquare => {
                if self.combinations.len() > LARGEST_SQUARE {
                    let hint = "a larger square is no use; write layout=\"incomplete-blocks\"";
                    outside("treatments", n, 2, LARGEST_SQUARE as u64, hint)?;
                }
                if let Some((rows, columns)) = options.positions.filter(|(rows, columns)| (*rows, *columns) != (n, n)) {
                    return Err(LayoutError::NotSquare { combinations: n, rows, columns }.into());
                }
                even(options.trays, n, ("rows of a square", "trays"))
            }
            LayoutKind::SplitPlot => {
                let plots = options.whole_plots.unwrap_or(blocks);
                even(options.trays, plots, ("whole plots of each level", "trays"))
            }
            LayoutKind::StripPlot => {
                let trays = options.trays.unwrap_or(blocks);
                outside("trays", trays, blocks, blocks, "strips that cross hold one tray of each in a block")?;
                Ok(trays)
            }
        }
    }
}

/// All combinations of so many levels each, the last changing fastest.
fn crossed(sizes: &[usize]) -> Vec<Vec<usize>> {
    sizes.iter().fold(vec![Vec::new()], |begun, size| {
        begun.iter().flat_map(|one| (0..*size).map(move |level| [one.as_slice(), &[level]].concat())).collect()
    })
}

/// Trays that so many parts share evenly; a tray each where nothing is said.
fn even(trays: Option<u64>, parts: u64, (what, option): (&'static str, &'static str)) -> Result<u64> {
    let trays = trays.unwrap_or(parts);
    if trays > 0 && trays.is_multiple_of(parts.max(1)) {
        return Ok(trays);
    }
    let fitting = trays.div_ceil(parts.max(1)).max(1).saturating_mul(parts);
    Err(LayoutError::Uneven { trays, parts, what, option, fitting }.into())
}

fn outside(option: &'static str, value: u64, least: u64, most: u64, hint: &str) -> Result<()> {
    if (least..=most).contains(&value) {
        return Ok(());
    }
    Err(LayoutError::Outside { option, value, least, most, hint: hint.to_owned() }.into())
}

fn needs(layout: LayoutKind, option: &'static str, hint: &str) -> LayoutError {
    LayoutError::Needs { layout: layout.name(), option, hint: hint.to_owned() }
}

fn check_treatments(options: &LayoutOptions) -> Result<()> {
    if options.treatments.is_empty() {
        return Err(LayoutError::NothingToCompare.into());
    }
    let mut names = BTreeSet::new();
    for one in &options.treatments {
        if OWN_NAMES.contains(&one.name.as_str()) || !names.insert(&one.name) {
            return Err(LayoutError::NameOfTheSheets { name: one.name.clone() }.into());
        }
        if one.levels.is_empty() {
            return Err(LayoutError::NothingToCompare.into());
        }
        twice(&one.name, &one.levels)?;
    }
    twice("blocks", &options.blocks)?;
    twice("controls", &options.controls)
}

fn twice(name: &str, levels: &[String]) -> Result<()> {
    let mut seen = BTreeSet::new();
    match levels.iter().find(|level| !seen.insert(level.as_str())) {
        Some(level) => Err(LayoutError::LevelTwice { treatment: name.to_owned(), level: level.clone() }.into()),
        None => Ok(()),
    }
}

fn check_known(option: &'static str, name: &str, options: &LayoutOptions) -> Result<()> {
    let known: Vec<String> = options.treatments.iter().map(|one| one.name.clone()).collect();
    if known.iter().any(|one| one == name) {
        return Ok(());
    }
    Err(LayoutError::NoTreatment { option, name: name.to_owned(), known }.into())
}

/// What each layout has to be told, and what it has no use for.
fn check_needs(options: &LayoutOptions) -> Result<()> {
    use LayoutKind::{Augmented, Blocks, CompletelyRandomised, IncompleteBlocks, SplitPlot, StripPlot};
    let kind = options.layout;
    let plots = matches!(kind, SplitPlot | StripPlot);
    let told = [
        ("blocks", !options.blocks.is_empty(), matches!(kind, Blocks | Augmented | SplitPlot | StripPlot)),
        ("whole_plot", !options.whole_plot.is_empty(), plots),
        ("whole_plots", options.whole_plots.is_some(), kind == SplitPlot && options.blocks.is_empty()),
        ("per_block", options.per_block.is_some(), kind == IncompleteBlocks),
        ("controls", !options.controls.is_empty(), kind == Augmented),
        ("longest_run", options.longest_run.is_some(), matches!(kind, CompletelyRandomised | Blocks | Augmented)),
        ("different_ends", options.different_ends, matches!(kind, CompletelyRandomised | Blocks | Augmented)),
        ("positions", options.positions.is_some(), kind != StripPlot),
    ];
    if let Some((option, ..)) = told.into_iter().find(|(_, given, of_use)| *given && !of_use) {
        return Err(LayoutError::NoUse { layout: kind.name(), option, hint: "leave it out".to_owned() }.into());
    }
    if let Some(most) = options.longest_run {
        outside("longest_run", most, 1, MOST_TRAYS, "1 lets no treatment stand twice in a row")?;
    }
    if let Some(per_block) = options.per_block {
        outside("per_block", per_block, 2, MOST_TRAYS, "so many trays have room in a block")?;
    }
    if let Some(plots) = options.whole_plots {
        outside("whole_plots", plots, 1, MOST_TRAYS, "each level needs so many whole plots")?;
    }
    if let Some(stuck) = options.stuck {
        outside("stuck", stuck, 1, 100_000, "so many cuttings are in a tray")?;
    }
    check_blocks(options)?;
    if matches!(kind, Augmented | IncompleteBlocks) && options.treatments.len() > 1 {
        let hint = "lay out one treatment, or name combinations as its levels";
        outside("treatments", options.treatments.len() as u64, 1, 1, hint)?;
    }
    if plots { check_whole_plot(options) } else { Ok(()) }
}

fn check_blocks(options: &LayoutOptions) -> Result<()> {
    let kind = options.layout;
    let without = options.blocks.is_empty();
    match kind {
        LayoutKind::Blocks | LayoutKind::StripPlot if without => {
            Err(needs(kind, "blocks", "write blocks=4, or blocks=[\"north\", \"south\"]").into())
        }
        LayoutKind::Augmented if without => {
            Err(needs(kind, "blocks", "write blocks=4 for controls in each of four blocks").into())
        }
        LayoutKind::Augmented if options.controls.is_empty() => {
            Err(needs(kind, "controls", "write controls=[\"K12\"] with what stands in every block").into())
        }
        LayoutKind::SplitPlot if without && options.whole_plots.is_none() => {
            Err(needs(kind, "whole_plots", "write whole_plots=3 for three of each level, or blocks=3").into())
        }
        LayoutKind::IncompleteBlocks if options.per_block.is_none() => {
            Err(needs(kind, "per_block", "write per_block=6 with the trays that a bench has room for").into())
        }
        _ => Ok(()),
    }
}

fn check_whole_plot(options: &LayoutOptions) -> Result<()> {
    let kind = options.layout;
    if options.whole_plot.is_empty() {
        return Err(needs(kind, "whole_plot", "write whole_plot=\"dark_days\" with what a whole bay receives").into());
    }
    options.whole_plot.iter().try_for_each(|name| check_known("whole_plot", name, options))?;
    if options.treatments.iter().all(|one| options.whole_plot.contains(&one.name)) {
        return Err(LayoutError::NothingWithin { named: options.whole_plot.clone() }.into());
    }
    Ok(())
}

fn check_sharing(option: &'static str, shared: Option<&Sharing>, options: &LayoutOptions) -> Result<()> {
    let Some(shared) = shared else { return Ok(()) };
    twice(option, &shared.names)?;
    let Some(name) = &shared.treatment else { return Ok(()) };
    check_known(option, name, options)?;
    let known: Vec<String> =
        options.treatments.iter().filter(|one| one.name == *name).flat_map(|one| one.levels.clone()).collect();
    let given: Vec<String> =
        shared.by_level.iter().filter(|one| !one.levels.is_empty()).map(|one| one.name.clone()).collect();
    let same = known.len() == given.len() && known.iter().all(|level| given.contains(level));
    if same { Ok(()) } else { Err(LayoutError::OtherLevels { option, treatment: name.clone(), given, known }.into()) }
}
