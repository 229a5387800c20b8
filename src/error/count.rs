//! Counts and levels that cannot be.

/// A count, table or level outside its range.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CountError {
    /// No cuttings.
    #[error("0 cuttings were stuck, so there is no rate; leave this group out or correct the count")]
    NoneStuck,
    /// A new tray without cuttings.
    #[error("new_tray 0 is a tray without cuttings; give the cuttings of one tray, for example 60")]
    TrayEmpty,
    /// A new tray beyond any tray.
    #[error("new_tray {stuck} is no tray (at most {most} cuttings); give the cuttings of one tray, for example 60")]
    TrayTooLarge {
        /// Cuttings asked for.
        stuck: u64,
        /// Most that are taken.
        most: u64,
    },
    /// More rooted than stuck.
    #[error("{rooted} rooted of {stuck} stuck; the number rooted cannot exceed the number stuck")]
    RootedAboveStuck {
        /// Number rooted.
        rooted: u64,
        /// Number stuck.
        stuck: u64,
    },
    /// Above 2^53.
    #[error("count {value} is above 9007199254740992, the largest that is held exactly; check the entry")]
    TooLarge {
        /// The value given.
        value: u64,
    },
    /// Too many plants for exact work.
    #[error(
        "{total} plants are too many for this exact method (at most {most}); use the score test or interval, which is rougher when few rooted or few failed"
    )]
    TooLargeForExact {
        /// Plants given.
        total: u64,
        /// Most that are worked through.
        most: u64,
    },
    /// A margin of equivalence outside 0 to 1.
    #[error(
        "margin {value} is not above 0 and at most 1; give it as a proportion, for example 0.1 for 10 trees per 100"
    )]
    Margin {
        /// The value given.
        value: f64,
    },
    /// A target rate at or beyond 0 or 1.
    #[error("target {value} is not between 0 and 1; give the rate to test against as a proportion, for example 0.6")]
    Target {
        /// The value given.
        value: f64,
    },
    /// A confidence level outside (0, 1).
    #[error("confidence {value} is not between 0 and 1; give it as a proportion, for example 0.95")]
    Level {
        /// The value given.
        value: f64,
    },
    /// A margin or target outside its range.
    #[error("{name} {value} is {}{}", outside(*.low, *.high), in_trees(.name, *.value))]
    OutOfRange {
        /// What the number is.
        name: &'static str,
        /// The value given.
        value: f64,
        /// Lower bound.
        low: f64,
        /// Upper bound.
        high: f64,
    },
    /// A table with too few rows or columns.
    #[error("a table of {rows} x {columns} has no association to test; give at least 2 rows and 2 columns")]
    TableTooSmall {
        /// Rows given.
        rows: usize,
        /// Columns given.
        columns: usize,
    },
    /// Rows of unequal length.
    #[error("row {row} of the table is {found} long where the first is {expected} long; give all rows the same length")]
    RaggedTable {
        /// 1-based row.
        row: usize,
        /// Entries found.
        found: usize,
        /// Entries expected.
        expected: usize,
    },
    /// A row or column without any plant.
    #[error("{axis} {index} of the table is all zero; leave it out")]
    EmptyMargin {
        /// "row" or "column".
        axis: &'static str,
        /// 1-based index.
        index: usize,
    },
    /// Too few trays for any inference.
    #[error("{name} has {found} {}; at least {needed} are needed to see how trays differ", if *.found == 1 { "tray" } else { "trays" })]
    TooFewTrays {
        /// Treatment.
        name: String,
        /// Trays found.
        found: usize,
        /// Trays needed.
        needed: usize,
    },
    /// A level without a single survivor.
    #[error("{name} has no survivor in its {trays} {}, so there is no rooting of survivors to compare; compare survival or the take", if *.trays == 1 { "tray" } else { "trays" })]
    NoSurvivors {
        /// Treatment and level.
        name: String,
        /// Its trays.
        trays: usize,
    },
    /// A quantity that these counts do not define.
    #[error("{what} is not defined: {why}")]
    NotDefined {
        /// The quantity.
        what: &'static str,
        /// Why, and what to ask for instead.
        why: &'static str,
    },
    /// A problem at one place of a list of counts.
    #[error("entry {index}: {problem}")]
    Entry {
        /// 1-based place in the list.
        index: usize,
        /// What is wrong there.
        problem: Box<CountError>,
    },
    /// Two lists that belong together but differ in length.
    #[error("the lists differ in length: {rooted} rooted, {stuck} stuck; give both for every entry")]
    UnequalLengths {
        /// Entries rooted.
        rooted: usize,
        /// Entries stuck.
        stuck: usize,
    },
    /// Two lists that belong together but differ in length, each with its name.
    #[error("{what}: {found} for {expected} {of}; give one for each")]
    UnmatchedList {
        /// What the list holds.
        what: &'static str,
        /// Its length.
        found: usize,
        /// What it belongs to.
        of: &'static str,
        /// The length wanted.
        expected: usize,
    },
    /// A score that is no number, or infinite.
    #[error("score {index} is {value}; give each group or level a number, for example its strength")]
    Score {
        /// 1-based place.
        index: usize,
        /// The value given.
        value: f64,
    },
    /// A level whose score is no number, or infinite.
    #[error("scores= gives {value} for level {level:?}; give each level a number, for example its strength")]
    ScoreOfLevel {
        /// The level.
        level: String,
        /// The value given.
        value: f64,
    },
    /// A level without a score.
    #[error("scores= leaves out level {level:?}; give each level a number, for example its strength")]
    NoScore {
        /// The level.
        level: String,
    },
    /// No counts at all.
    #[error("there are no counts; give one for each cutting, for example [0, 3, 5]")]
    NoCounts,
    /// Counts that are all 0.
    #[error(
        "no count of {cuttings} is above 0, so there is no law of counts; what share may have any, the interval of a take of 0 tells"
    )]
    NoneHasAny {
        /// Cuttings.
        cuttings: u64,
    },
    /// Zeros under a law that has none.
    #[error(
        "{zeros} of {cuttings} counts are 0, and a truncated law has none; leave them out, or choose a hurdle law, which keeps them apart"
    )]
    ZerosTruncated {
        /// Counts that are 0.
        zeros: u64,
        /// Counts.
        cuttings: u64,
    },
    /// A count beyond any that is worked through.
    #[error("entry {index}: {count} is above {most}, more than is counted on a cutting; check the entry")]
    CountTooLarge {
        /// 1-based place.
        index: usize,
        /// The count.
        count: u64,
        /// The largest taken.
        most: u64,
    },
    /// A column of another length than the counts.
    #[error("column {:?}: {found} entries for {expected} counts; give one for each", super::shown::name(.name))]
    ColumnLength {
        /// The column.
        name: String,
        /// Its length.
        found: usize,
        /// That of the counts.
        expected: usize,
    },
    /// An entry that is missing, infinite or far too large.
    #[error("{} entry {index} is no number that can be used; correct it, or leave its cutting out", super::shown::name(.name))]
    NotANumber {
        /// The column, or "offset".
        name: String,
        /// 1-based place.
        index: usize,
    },
    /// A column that is made up by others.
    #[error(
        "column {:?} {}, so what it does cannot be told; leave it out",
        super::shown::name(.column),
        if *.groups > 1 { "is made up by the groups and the columns before it" } else { "is the same for all cuttings, or made up by the columns before it" }
    )]
    ColumnNotApart {
        /// The column.
        column: String,
        /// Groups.
        groups: usize,
    },
    /// A law whose likelihood has no top.
    #[error(
        "the law {law} cannot be fitted to these counts: its likelihood has no highest point; choose a simpler one, such as \"poisson\" or \"hurdle-poisson\""
    )]
    LawNotFitted {
        /// The law.
        law: &'static str,
    },
    /// A law that has no number for a group.
    #[error(
        "the law {law} cannot be fitted to these counts: {} group {:?} has any; {}",
        if *.has == "any" { "every cutting of" } else { "no cutting of" },
        super::shown::name(.group),
        if .law.starts_with("zero") { "choose a hurdle law" } else { "leave the columns out, or that group" }
    )]
    LawNeedsBoth {
        /// The law.
        law: &'static str,
        /// The group.
        group: String,
        /// "any" where all have any, "none" where no cutting has.
        has: &'static str,
    },
    /// Strata of different shape.
    #[error(
        "stratum {index} is {rows} x {columns} where the first is {expected_rows} x {expected_columns}; all must have the same shape"
    )]
    UnequalStrata {
        /// 1-based stratum.
        index: usize,
        /// Its rows.
        rows: usize,
        /// Its columns.
        columns: usize,
        /// Rows of the first.
        expected_rows: usize,
        /// Columns of the first.
        expected_columns: usize,
    },
}

/// A range in words; one of all numbers above 0 has no ends worth their digits.
/// What a difference that was given in trees per 100 is as a proportion.
fn in_trees(name: &str, value: f64) -> String {
    let trees = matches!(name, "nearly" | "margin" | "rise") && value > 1.0 && value <= 100.0;
    if trees {
        format!("; give it as a proportion, {} for {value} trees per 100", value / 100.0)
    } else {
        String::new()
    }
}

fn outside(low: f64, high: f64) -> String {
    if low <= f64::MIN_POSITIVE && high >= f64::MAX {
        return "not a number above 0".to_owned();
    }
    format!("outside {low} to {high}")
}
