//! Strength curves that cannot be drawn.

/// A strength curve that cannot be set up or answered.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CurveError {
    /// Levels that are not numbers.
    #[error("level {level:?} of {column:?} is not a number; a strength curve needs strengths as numbers in one unit")]
    NotNumbers {
        /// The column.
        column: String,
        /// The first such level.
        level: String,
    },
    /// A strength below 0.
    #[error(
        "column {column:?} holds strength {value}, which is below 0; correct it (a trial loaded with strength= names the row)"
    )]
    Negative {
        /// The column.
        column: String,
        /// The value.
        value: f64,
    },
    /// A single strength.
    #[error("{place} holds the single strength {strength}; a curve needs at least two strengths")]
    OneStrength {
        /// The trial or the part of it.
        place: String,
        /// The strength.
        strength: f64,
    },
    /// No tray is left.
    #[error("no tray is left for the curve{place}; correct at= or within=")]
    NoTrays {
        /// Which part.
        place: String,
    },
    /// The strength itself where another treatment is asked for.
    #[error(
        "{option}={column:?} is the strength that a curve runs along; name another treatment, or leave {option}= out"
    )]
    AlongItself {
        /// The option.
        option: &'static str,
        /// The column.
        column: String,
    },
    /// Another treatment that differs.
    #[error("{column:?} differs between trays too; {offered}keep one level with at={{{column:?}: {level:?}}}")]
    OtherTreatment {
        /// The treatment.
        column: String,
        /// One of its levels.
        level: String,
        /// What else the question offers, "name it in within= for a curve each, or ".
        offered: &'static str,
    },
    /// A column with several units.
    #[error(
        "column {column:?} says that strengths are in {first} and in {second}; convert them to one unit, they cannot share one axis"
    )]
    MixedUnits {
        /// The column.
        column: String,
        /// First unit.
        first: String,
        /// Second unit.
        second: String,
    },
    /// A trial without a column of deaths.
    #[error("no column of deaths was named; load the trial with dead= to ask where damage begins")]
    NoDeaths,
    /// Deaths that do not belong to the units.
    #[error("{deaths} counts of deaths for {units} units; give one for each unit")]
    DeathsOfUnits {
        /// Counts.
        deaths: usize,
        /// Units.
        units: usize,
    },
    /// Too few levels for a surface.
    #[error(
        "{strengths} strengths and {darkness} levels of darkness are too few for a surface; it needs three strengths and two levels of darkness"
    )]
    TooFewForSurface {
        /// Strengths.
        strengths: usize,
        /// Levels of darkness.
        darkness: usize,
    },
    /// A law of trays without trays.
    #[error(
        "trays={trays:?} describes how trays differ and none are recorded; load the trial with tray=, or use trays=\"auto\""
    )]
    LawWithoutTrays {
        /// The law.
        trays: &'static str,
    },
    /// A law of trays that these trays cannot show.
    #[error("trays={trays:?} cannot be fitted to {place}: {why}; use trays=\"auto\"")]
    LawNotShown {
        /// The law.
        trays: &'static str,
        /// Which curve.
        place: String,
        /// Why.
        why: String,
    },
    /// A law of trays that a question does not know.
    #[error("{question} does not offer trays={trays:?}; use trays=\"auto\", or ask strength_curve")]
    LawOfQuestion {
        /// The law.
        trays: &'static str,
        /// The question.
        question: &'static str,
    },
    /// A shape that cannot be fitted to these counts.
    #[error("shape {shape:?} cannot be fitted here: {why}; choose a shape with fewer parameters, or \"auto\"")]
    ShapeOut {
        /// The shape.
        shape: &'static str,
        /// Why.
        why: String,
    },
    /// No parameter for the axis.
    #[error("zero_scale {value} is not a strength above 0; give d0 of log(1 + d/d0) in the unit of the strengths")]
    Shift {
        /// The value.
        value: f64,
    },
    /// Comparison of fewer than two curves.
    #[error("there is one curve only; name a column in within= to compare the curves of its levels")]
    OneCurve,
    /// Curves that no shape can be fitted to together.
    #[error(
        "no shape can be fitted to all {curves} curves; some have too few strengths, or all or none of their cuttings rooted"
    )]
    NoCommonShape {
        /// Number of curves.
        curves: usize,
    },
}
