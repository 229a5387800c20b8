//! A chain of steps, two readers or an early sign that cannot be asked as given.

use super::shown;

/// What can be wrong with counts of steps, readers and signs.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StepsError {
    /// A chain without a step.
    #[error(
        "no step is given; give each step of the chain with its take, for example {{\"graft\": 0.8, \"rooted\": 0.6}}"
    )]
    NoSteps,
    /// A chain of one column.
    #[error(
        "a chain needs a column of what was started and one of each step; write steps=[\"grafted\", \"taken\", \"rooted\"]"
    )]
    OneStep,
    /// Plants without a batch, or with counts beside them.
    #[error(
        "where each row is a plant, batch= names its batch and left= says who left alive, not taken_away=; write last_step=\"last\", batch=\"batch\", left=\"left\""
    )]
    PlantsOfNoBatch,
    /// One name for two steps.
    #[error("step {:?} stands twice in the chain; give each step a name of its own", shown::name(.step))]
    StepTwice {
        /// The step.
        step: String,
    },
    /// Two chains of different steps.
    #[error("the two have different steps ({} and {}); give both the same steps", shown::name(.first), shown::name(.second))]
    UnlikeSteps {
        /// Steps of the first.
        first: String,
        /// Steps of the second.
        second: String,
    },
    /// A take that is no proportion.
    #[error("the take {take} of step {:?} is not between 0 and 1; give it as a proportion, for example 0.8", shown::name(.step))]
    TakeOutOfRange {
        /// The step.
        step: String,
        /// The take given.
        take: f64,
    },
    /// More plants after a step than before it.
    #[error(
        "batch {batch}, step {step}: {out} passed of {into} that reached it; counts never rise along the chain, so correct one of the two"
    )]
    RisesAlongChain {
        /// 1-based place of the batch.
        batch: usize,
        /// 1-based place of the step.
        step: usize,
        /// Plants that reached the step.
        into: u64,
        /// Plants that passed it.
        out: u64,
    },
    /// A step that no plant reached.
    #[error(
        "no plant reached step {step}, so it has no take; leave it and those behind it out of steps=, or wait until batches are old enough"
    )]
    NothingReached {
        /// 1-based place of the step.
        step: usize,
    },
    /// The same of a chain whose steps have names.
    #[error(
        "no plant was left for {:?}, so it has no take; leave it and the steps behind it out of steps=, or wait until batches are old enough", shown::name(.step)
    )]
    NothingLeftFor {
        /// The step.
        step: String,
    },
    /// A step by its name that one batch alone was counted at.
    #[error(
        "{:?} was counted in one batch only, so nothing tells how batches differ there; leave it and the steps behind it out of steps=, or wait for more batches", shown::name(.step)
    )]
    OneBatchCounted {
        /// The step.
        step: String,
    },
    /// A step that one batch alone was counted at.
    #[error(
        "step {step} was counted in one batch only, so nothing tells how batches differ there; leave it and those behind it out of steps=, or wait for more batches"
    )]
    OneBatchAtStep {
        /// 1-based place of the step.
        step: usize,
    },
    /// Batches with different numbers of steps.
    #[error(
        "batch {batch} has another number of steps ({found}) than the first ({expected}); give every batch the same steps, empty where one was not counted"
    )]
    UnevenChain {
        /// 1-based place of the batch.
        batch: usize,
        /// Steps found.
        found: usize,
        /// Steps expected.
        expected: usize,
    },
    /// Too few batches to see how they differ.
    #[error(
        "{batches} of the batches can be used; at least 2 are needed to see how batches differ: add batches, or ask whose=\"current-rates\" where some are too young"
    )]
    TooFewBatches {
        /// Batches that can be used.
        batches: usize,
    },
    /// Too few batches, since rows were set aside.
    #[error(
        "{batches} of the batches can be used, and {} set aside; at least 2 are needed to see how batches differ: look at .set_aside, correct these rows, or add batches",
        if *.set_aside == 1 { "1 row was".to_owned() } else { format!("{} rows were", .set_aside) }
    )]
    TooFewLeft {
        /// Batches that can be used.
        batches: usize,
        /// Rows that were set aside.
        set_aside: usize,
    },
    /// More draws than are worth waiting for.
    #[error("draws={draws} is above {most}; 999 tell how often a step costs most")]
    TooManyDraws {
        /// Draws given.
        draws: u64,
        /// Most that are made.
        most: u64,
    },
    /// A table of two readers that is not square.
    #[error(
        "the table of tray {tray} is not {grades} x {grades}; give a row for each answer of the first reader and a column for each of the second"
    )]
    NotSquare {
        /// 1-based place of the tray.
        tray: usize,
        /// Answers expected.
        grades: usize,
    },
    /// Fewer than two answers.
    #[error(
        "one answer only leaves readers nothing to differ in; give a table of at least 2 x 2, for example [[40, 9], [6, 45]]"
    )]
    OneAnswer,
    /// Names of answers that do not fit the table.
    #[error("{names} names are given for {grades} answers; give each answer one name of its own")]
    AnswerNames {
        /// Names given.
        names: usize,
        /// Answers of the table.
        grades: usize,
    },
    /// No plant was read.
    #[error("no plant was read, so nothing can be said; enter the plants that were read")]
    NothingRead,
    /// A sign of which one side was never read.
    #[error(
        "no plant {side} the sign was read to its end, so what the sign tells cannot be worked out; keep some of them, chosen irrespective of outlook"
    )]
    SideNotRead {
        /// "with" or "without".
        side: &'static str,
    },
    /// No tree at the end.
    #[error(
        "no plant of the batches followed to the end reached it, so no number of starts can be given; wait for batches that do, or load the chain up to the last step that plants passed"
    )]
    NothingAtTheEnd,
    /// A column of one level.
    #[error("column {:?} has the one level {:?} among batches that can be used, so there is nothing to compare; name another column", shown::name(.column), shown::name(.level))]
    OneLevel {
        /// The column.
        column: String,
        /// Its level.
        level: String,
    },
    /// No column of levels was named.
    #[error(
        "no column of levels was named when loading; write season=\"season\", room=, grafter=, rootstock= or levels=[\"bench\"]"
    )]
    NoLevels,
    /// Too few batches of a level to see how they differ.
    #[error("{:?} has too few batches that can be used ({batches}); at least 2 of each level are needed to see how batches differ", shown::name(.level))]
    TooFewOfLevel {
        /// The level.
        level: String,
        /// Its batches.
        batches: usize,
    },
    /// A level at which too few batches stood up to the end.
    #[error(
        "fewer than two batches have plants at {:?} level {:?} up to the last step, so it cannot be followed to the end; compare levels at which plants stayed, or load the chain without its last steps",
        shown::name(.column),
        shown::name(.level)
    )]
    LevelNotFollowed {
        /// The column.
        column: String,
        /// The level.
        level: String,
    },
    /// A step at which no batch was counted yet.
    #[error("no batch was counted at {:?} yet; leave it out of steps= until there are counts", shown::name(.step))]
    StepNotCounted {
        /// The step.
        step: String,
    },
    /// A law of starts that cannot be.
    #[error("{name} {value} is not {wanted}; correct it")]
    NoSuchStart {
        /// What the number is.
        name: &'static str,
        /// The value given.
        value: f64,
        /// What it has to be.
        wanted: &'static str,
    },
    /// Columns of visits that are neither counts of trays nor plants.
    #[error(
        "visits are one row per tray and visit (tray=, day=, started=, rooted=) or one row per plant (last_without=, day=, became=); name the columns of one of the two"
    )]
    NeitherCountsNorPlants,
    /// A treatment of one level, to be compared.
    #[error("treatment {:?} has one level only, so there is nothing to compare; name another treatment", shown::name(.treatment))]
    OneLevelOverTime {
        /// The treatment.
        treatment: String,
    },
    /// A level against itself.
    #[error("level {:?} is named twice; name two levels", shown::name(.level))]
    LevelAgainstItself {
        /// The level.
        level: String,
    },
    /// One level of a pair.
    #[error("one level of a pair is named; name both, or none for all levels against one")]
    HalfAPair,
    /// Two levels that stand nowhere together.
    #[error(
        "{:?} and {:?} never stand in one block with the same levels of other treatments, so they cannot be compared; compare others, or load without these columns",
        shown::name(.first),
        shown::name(.second)
    )]
    NowhereTogether {
        /// The first level.
        first: String,
        /// The second.
        second: String,
    },
    /// Nothing to compare in time.
    #[error(
        "no plant of {:?} or {:?} was seen {event}, so there is no time to compare; wait for later visits, compare others, or ask event=\"{}\"",
        shown::name(.first),
        shown::name(.second),
        if *.event == "rooted" { "dead" } else { "rooted" }
    )]
    NothingHappened {
        /// "rooted" or "dead".
        event: &'static str,
        /// The first level.
        first: String,
        /// The second.
        second: String,
    },
    /// A level of which no plant was seen at a visit after setting.
    #[error(
        "no plant of {:?} was seen again at a visit after setting, so nothing can be told of it; visit its trays, or name two levels that were visited",
        shown::name(.level)
    )]
    NeverSeenAgain {
        /// The level.
        level: String,
    },
    /// A day on which there was no visit.
    #[error("day={day} is no day on which both levels were visited; these are {days}")]
    NoSuchVisit {
        /// The day.
        day: u64,
        /// Days of visits.
        days: String,
    },
}
