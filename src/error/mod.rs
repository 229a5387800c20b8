//! One public error type; each domain keeps its own enum.

mod choice;
mod count;
mod curve;
mod data;
mod decide;
mod effect;
mod grade;
mod issue;
mod layout;
mod model;
mod numeric;
mod plan;
mod response;
mod seasons;
pub(crate) mod shown;
mod steps;
mod strength;
mod watch;

pub use choice::ChoiceError;
pub(crate) use choice::nearest;
pub use count::CountError;
pub use curve::CurveError;
pub use data::{DataError, RecordError, RowsError};
pub use decide::DecideError;
pub use effect::EffectError;
pub use grade::GradeError;
pub use issue::{Issue, Severity};
pub use layout::LayoutError;
pub use model::ModelError;
pub use numeric::NumericError;
pub use plan::PlanError;
pub use response::ResponseError;
pub use seasons::SeasonsError;
pub use steps::StepsError;
pub use strength::StrengthError;
pub use watch::WatchError;

/// Everything that can go wrong, in one clear sentence each.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// A count that cannot be.
    #[error(transparent)]
    Count(#[from] CountError),
    /// An option or name that is not known.
    #[error(transparent)]
    Choice(#[from] ChoiceError),
    /// A trial file or frame that does not pass its checks.
    #[error(transparent)]
    Data(#[from] DataError),
    /// A record of batches that does not pass its checks.
    #[error(transparent)]
    Record(#[from] RecordError),
    /// A strength curve that cannot be drawn.
    #[error(transparent)]
    Dose(#[from] CurveError),
    /// A question about grades that cannot be answered as asked.
    #[error(transparent)]
    Grade(#[from] GradeError),
    /// Rows that a fitted model cannot speak of.
    #[error(transparent)]
    Rows(#[from] RowsError),
    /// A model that cannot be fitted.
    #[error(transparent)]
    Model(#[from] ModelError),
    /// A question to a fitted model that has no answer.
    #[error(transparent)]
    Effect(#[from] EffectError),
    /// A hormone strength that cannot be read or converted.
    #[error(transparent)]
    Strength(#[from] StrengthError),
    /// A question that a watched crop cannot answer.
    #[error(transparent)]
    Watch(#[from] WatchError),
    /// A chain of steps, readers or a sign that cannot be asked as given.
    #[error(transparent)]
    Steps(#[from] StepsError),
    /// A trial that cannot be planned as asked.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// Seasons that cannot be pooled as given.
    #[error(transparent)]
    Seasons(#[from] SeasonsError),
    /// A choice in money that cannot be made as asked.
    #[error(transparent)]
    Decide(#[from] DecideError),
    /// A response that a trial cannot be asked about.
    #[error(transparent)]
    Response(#[from] ResponseError),
    /// A layout that cannot be made.
    #[error(transparent)]
    Layout(#[from] LayoutError),
    /// A numeric routine outside its range.
    #[error(transparent)]
    Numeric(#[from] NumericError),
    /// The user asked to stop.
    #[error("stopped before the end, as asked; no result was kept")]
    Interrupted,
}

/// The crate's result type.
pub type Result<T> = std::result::Result<T, Error>;
