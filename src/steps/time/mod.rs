//! Time to roots, and to death: visits to trays, what happened between them, and levels compared.
//!
//! * `table`, `histories`: plants at risk and ends between visits, also where a visit was missed
//! * `incidence`: shares of all started by each visit, where death rules out roots
//! * `log_rank`, `grouped`, `trinomial`: two groups compared: seen and expected, the ratio of rates, and its likelihood
//! * `limits`: what is known of shares, by leaving out trays
//! * `held`, `load/`: visits as they were read; reading and checking them
//! * `course/`, `compared/`: what they are asked

mod compared;
mod course;
mod grouped;
mod held;
mod histories;
mod incidence;
mod limits;
mod load;
mod log_rank;
mod table;
mod trinomial;

pub use compared::{OtherShares, PaceNumbers, RateNumbers, TimesCompared, TimesOptions, TimesPair};
pub use course::{CourseOptions, HalfBy, LevelCourse, ShareBy, TimeCourse, TimeEvent};
pub use grouped::{RateRatio, rate_ratio};
pub use held::{VisitColumns, VisitRow, VisitTray, Visits};
pub use histories::History;
pub use incidence::{Incidence, incidence, incidence_variance};
pub use load::{VisitsOptions, read_visits, read_visits_cells, read_visits_frame};
pub use log_rank::{LogRank, log_rank};
pub use table::{Cell as VisitCell, Ending};
