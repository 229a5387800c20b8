//! A layout that cannot be made as asked.

use super::shown;

/// What can be wrong with a layout that is asked for.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LayoutError {
    /// Nothing to lay out.
    #[error(
        "treatments names nothing to compare; write treatments={{\"strength\": [2500, 5000]}} with two levels or more"
    )]
    NothingToCompare,
    /// A level that stands twice.
    #[error("level {:?} of {:?} stands twice; name each level once", shown::name(.level), shown::name(.treatment))]
    LevelTwice {
        /// The treatment.
        treatment: String,
        /// The level.
        level: String,
    },
    /// A name that the sheets need for themselves.
    #[error("{:?} is a column of the sheets themselves; give the treatment another name", shown::name(.name))]
    NameOfTheSheets {
        /// The name.
        name: String,
    },
    /// A number that an option cannot be.
    #[error("{option}={value} is not a number from {least} to {most}; {hint}")]
    Outside {
        /// The option.
        option: &'static str,
        /// Its value.
        value: u64,
        /// The least that it can be.
        least: u64,
        /// The most.
        most: u64,
        /// What to do.
        hint: String,
    },
    /// An option that the layout needs.
    #[error("layout=\"{layout}\" needs {option}=; {hint}")]
    Needs {
        /// The layout.
        layout: &'static str,
        /// The option.
        option: &'static str,
        /// What to do.
        hint: String,
    },
    /// An option that the layout has no use for.
    #[error("layout=\"{layout}\" has no {option}=; {hint}")]
    NoUse {
        /// The layout.
        layout: &'static str,
        /// The option.
        option: &'static str,
        /// What to do.
        hint: String,
    },
    /// Trays that cannot be shared out evenly.
    #[error("{trays} trays per combination cannot be shared evenly by {parts} {what}; write {option}={fitting}")]
    Uneven {
        /// Trays per combination.
        trays: u64,
        /// Blocks, whole plots, rows.
        parts: u64,
        /// What they are.
        what: &'static str,
        /// The option to change.
        option: &'static str,
        /// The nearest number that can be shared.
        fitting: u64,
    },
    /// More trays than there are places for.
    #[error(
        "{trays} trays have no room on {rows} x {columns} = {} positions; write positions=({rows}, {fitting}), or take fewer",
        rows * columns
    )]
    NoRoom {
        /// Trays that belong on one bench.
        trays: u64,
        /// Rows of positions.
        rows: u64,
        /// Columns of positions.
        columns: u64,
        /// Columns that would do.
        fitting: u64,
    },
    /// A Latin square that is none.
    #[error(
        "a Latin square of {combinations} combinations has {combinations} rows and {combinations} columns, and positions=({rows}, {columns}) is another shape; leave positions= out, or write layout=\"blocks\""
    )]
    NotSquare {
        /// Combinations of treatments.
        combinations: u64,
        /// Rows asked for.
        rows: u64,
        /// Columns asked for.
        columns: u64,
    },
    /// A treatment that is not among those laid out.
    #[error("{option}= names {:?}, which is none of the treatments {}; name one of them", shown::name(.name), shown::names(.known))]
    NoTreatment {
        /// The option.
        option: &'static str,
        /// The name.
        name: String,
        /// The treatments.
        known: Vec<String>,
    },
    /// Whole plots without anything within.
    #[error(
        "whole_plot= takes {}, so trays within a whole plot do not differ; leave a treatment to the trays, or write layout=\"blocks\" with whole plots as trays",
        shown::names(.named)
    )]
    NothingWithin {
        /// The treatments given to whole plots.
        named: Vec<String>,
    },
    /// Levels without plants or readers, or the other way round.
    #[error("{option}= of {:?} names levels {} and the treatment has {}; give each level its own", shown::name(.treatment), shown::names(.given), shown::names(.known))]
    OtherLevels {
        /// The option.
        option: &'static str,
        /// The treatment.
        treatment: String,
        /// Levels given.
        given: Vec<String>,
        /// Levels of the treatment.
        known: Vec<String>,
    },
    /// Restrictions that no layout meets.
    #[error("{rule} is met by none of the {of} layouts; {hint}")]
    Impossible {
        /// The restriction in words.
        rule: String,
        /// Layouts without it.
        of: String,
        /// What is possible.
        hint: String,
    },
    /// Restrictions that leave too few layouts.
    #[error("{rule} leaves {left} layouts of {of}, too few for a test: the smallest P would be {smallest}; {hint}")]
    SetTooSmall {
        /// The restriction in words.
        rule: String,
        /// Layouts left.
        left: String,
        /// Layouts without it.
        of: String,
        /// Smallest P value of a test that deals the trays out anew.
        smallest: String,
        /// What is possible.
        hint: String,
    },
    /// Restrictions that are met too seldom to be drawn.
    #[error("{rule} is met by only 1 layout in {one_in}, too rare to be drawn; {hint}")]
    TooRare {
        /// The restriction in words.
        rule: String,
        /// One in so many.
        one_in: String,
        /// What is possible.
        hint: String,
    },
    /// Blocks that do not connect all cultivars.
    #[error(
        "{replicates} replicates in blocks of {per_block} do not connect all {levels} levels, so some differences could not be estimated; write trays={} or larger blocks",
        replicates + 1
    )]
    NotConnected {
        /// Replicates.
        replicates: u64,
        /// Trays in a block.
        per_block: u64,
        /// Levels.
        levels: u64,
    },
    /// Controls that are new entries too.
    #[error("{:?} is a control and a new entry; name it once", shown::name(.level))]
    ControlIsEntry {
        /// The level.
        level: String,
    },
    /// A record that was changed.
    #[error("this record is no plan any more ({what}); take the file as it was written, or make the plan again")]
    NoPlan {
        /// What does not fit.
        what: String,
    },
}
