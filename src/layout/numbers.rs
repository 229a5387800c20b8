//! A plan as plain data: what was asked, where each tray stands, which set of layouts it was drawn from.

use serde::{Deserialize, Serialize};

use crate::choice::choice;

/// How treatments are given to trays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LayoutKind {
    /// Any tray anywhere.
    CompletelyRandomised,
    /// Every combination in every block.
    Blocks,
    /// Every combination once in each row and each column.
    LatinSquare,
    /// Some treatments by whole plots, the others by trays within.
    SplitPlot,
    /// Some treatments by rows, the others by columns across them.
    StripPlot,
    /// Blocks too small for all, in groups that hold all.
    IncompleteBlocks,
    /// New entries once, controls in every block.
    Augmented,
}

choice!(
    LayoutKind, "layout":
    CompletelyRandomised = "completely-randomised",
    Blocks = "blocks",
    LatinSquare = "latin-square",
    SplitPlot = "split-plot",
    StripPlot = "strip-plot",
    IncompleteBlocks = "incomplete-blocks",
    Augmented = "augmented",
);

/// How a number of layouts is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Counted {
    /// To the last one, as far as a number holds digits.
    Exactly,
    /// From the share of drawn layouts that meet the restrictions.
    ByDraws,
    /// Not known.
    NotKnown,
}

choice!(Counted, "way of counting": Exactly = "exactly", ByDraws = "by-draws", NotKnown = "not-known");

/// A treatment with its levels in the order given.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TreatmentLevels {
    /// Its name.
    pub name: String,
    /// Its levels.
    pub levels: Vec<String>,
}

/// Stock plants or readers: spread over all trays, or given to the levels of a treatment.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Sharing {
    /// Names to be spread over the trays; empty where they belong to levels.
    pub names: Vec<String>,
    /// The treatment to whose levels they belong.
    pub treatment: Option<String>,
    /// Levels with the names that belong to each.
    pub by_level: Vec<TreatmentLevels>,
}

/// What a layout is asked for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LayoutOptions {
    /// How treatments are given to trays.
    pub layout: LayoutKind,
    /// Treatments, crossed.
    pub treatments: Vec<TreatmentLevels>,
    /// Trays per combination, or per control of new entries.
    #[serde(default)]
    pub trays: Option<u64>,
    /// Names of blocks.
    #[serde(default)]
    pub blocks: Vec<String>,
    /// Treatments given to whole plots, or to rows of strips.
    #[serde(default)]
    pub whole_plot: Vec<String>,
    /// Whole plots per level, where there are no blocks.
    #[serde(default)]
    pub whole_plots: Option<u64>,
    /// Trays that a block has room for.
    #[serde(default)]
    pub per_block: Option<u64>,
    /// Levels that stand in every block, beside the new entries.
    #[serde(default)]
    pub controls: Vec<String>,
    /// Rows and columns of positions on a bench.
    #[serde(default)]
    pub positions: Option<(u64, u64)>,
    /// Cuttings per tray.
    #[serde(default)]
    pub stuck: Option<u64>,
    /// Mother plants.
    #[serde(default)]
    pub stock_plants: Option<Sharing>,
    /// The treatment whose levels are kinds of plants.
    #[serde(default)]
    pub genotype: Option<String>,
    /// Who reads which tray.
    #[serde(default)]
    pub readers: Option<Sharing>,
    /// Trays of one combination in a row, at most.
    #[serde(default)]
    pub longest_run: Option<u64>,
    /// True where no combination may stand at both ends of a row.
    #[serde(default)]
    pub different_ends: bool,
    /// Seed of the draws.
    #[serde(default)]
    pub seed: u64,
}

/// One tray in its place.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PlacedTray {
    /// Its blind code.
    pub tray: String,
    /// The bench.
    pub bench: String,
    /// Row on the bench, from 1.
    pub row: u64,
    /// Column on the bench, from 1.
    pub column: u64,
    /// Group of blocks that holds all.
    pub replicate: Option<String>,
    /// Block.
    pub block: Option<String>,
    /// Whole plot, or row of strips.
    pub whole_plot: Option<String>,
    /// Column of strips.
    pub strip: Option<String>,
    /// Level of each treatment, in the order of the treatments.
    pub levels: Vec<String>,
    /// Mother plant of its cuttings.
    pub stock_plant: Option<String>,
    /// Who reads it.
    pub reader: Option<String>,
    /// Letters that go with this tray's line of the key and with no other.
    pub seal: String,
}

/// The layouts that this one was drawn from, each as likely as the others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LayoutSet {
    /// In words.
    pub within: String,
    /// How many there are.
    pub layouts: Option<f64>,
    /// How that is known.
    pub counted: Counted,
    /// How many there would be without restrictions.
    pub without_restrictions: Option<f64>,
    /// Smallest P value that dealing the trays out anew within the set can give.
    pub smallest_p: Option<f64>,
    /// Trays of one combination in a row, at most.
    pub longest_run: Option<u64>,
    /// True where no combination stands at both ends of a row.
    pub different_ends: bool,
    /// Chance that neighbours in a row are treated alike: least and most of all pairs, where restrictions change it.
    pub neighbours_alike: Option<(f64, f64)>,
    /// The same of any two trays.
    pub any_two_alike: Option<f64>,
}

/// How much incomplete blocks keep of what complete blocks would tell.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BlockEfficiency {
    /// Average efficiency factor: harmonic mean of the canonical ones.
    pub value: f64,
    /// What no resolvable design of this size exceeds.
    pub bound: f64,
    /// Fewest blocks that two levels share.
    pub fewest_together: u64,
    /// Most blocks that two levels share.
    pub most_together: u64,
}

/// What cannot be told apart, or only by fewer units, before anything is stuck.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PlannedConfounding {
    /// The treatment.
    pub treatment: String,
    /// "whole plot", "block", "stock plant", "reader".
    pub with: String,
    /// True where the treatment cannot be tested at all.
    pub inseparable: bool,
    /// Why, in a sentence.
    pub reason: String,
}

/// A plan: where each tray stands and how that was drawn.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Layout {
    /// What was asked for.
    pub options: LayoutOptions,
    /// Trays in the order of benches, rows and columns.
    pub trays: Vec<PlacedTray>,
    /// How many.
    pub n_units: u64,
    /// Combinations of treatments.
    pub n_combinations: u64,
    /// Benches.
    pub n_benches: u64,
    /// Rows of a bench.
    pub rows: u64,
    /// Columns of a bench.
    pub columns: u64,
    /// The set it was drawn from.
    pub set: LayoutSet,
    /// Of incomplete blocks.
    pub efficiency: Option<BlockEfficiency>,
    /// What cannot be told apart.
    pub confounded: Vec<PlannedConfounding>,
    /// Twelve letters that go with this plan alone.
    pub fingerprint: String,
}
