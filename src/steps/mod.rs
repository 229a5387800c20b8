//! The chain from graft to saleable tree: where a change of the yield comes from, what two readers agree on, what an early sign tells.
//!
//! * `split`: a change of a product of takes over its steps, exactly
//! * `change`: the same as an answer
//! * `without_one`: what is learnt by leaving out one unit after the other
//! * `trays`: counts of trays as a rate with limits
//! * `readers/`: agreement of two readers
//! * `sign/`: an early sign of rooting
//! * `chain/`: take of each step, overall yield, how many to start, as mathematics
//! * `costs`: what is spent on plants
//! * `held`: a chain as it was read, batch by batch
//! * `load/`: reading and checking it
//! * `yields/`, `starts/`, `compared/`: what a chain is asked
//! * `time/`: visits to trays: when plants root, levels compared over time

mod chain;
mod change;
mod compared;
mod costs;
mod held;
mod load;
mod readers;
mod sign;
mod split;
mod starts;
mod time;
mod trays;
mod without_one;
mod yields;

pub use chain::{ChainYield, Passed, StartLaw, StepYield, chain_yield, lost_most_often};
pub use change::{StepPart, YieldChange, yield_change};
pub use compared::{
    CompareYieldsOptions, LevelPair, LevelStep, LevelYield, StepDifference, YieldComparison, YieldMix, YieldsByLevel,
};
pub use costs::StepCost;
pub use held::{LevelColumn, Steps, StepsBatch, StepsPart};
pub use load::{
    StepDate, StepTreatment, StepsOptions, StepsTable, TakenAway, read_cells, read_csv, read_frame, read_with_plants,
};
pub use readers::{
    Agreement, AgreementOptions, GradeAgreement, GradeWeights, Kappa, agreement, kappa_of, kappa_weighted,
};
pub use sign::{EarlySign, Kept, SignCounts, SignMeasure, SignOptions, SignPoints, SignQuestion, early_sign};
pub use split::{Split, SplitMethod, split};
pub use starts::{SeasonSpread, StartNumbers, StartOptions, StartQuestion};
pub use time::{
    CourseOptions, Ending, HalfBy, History, Incidence, LevelCourse, LogRank, OtherShares, PaceNumbers, RateNumbers,
    RateRatio, ShareBy, TimeCourse, TimeEvent, TimesCompared, TimesOptions, TimesPair, VisitCell, VisitColumns,
    VisitRow, VisitTray, Visits, VisitsOptions, incidence, incidence_variance, log_rank, rate_ratio, read_visits,
    read_visits_cells, read_visits_frame,
};
pub use yields::{StepNumbers, StepYields, YieldOf, YieldOptions};
