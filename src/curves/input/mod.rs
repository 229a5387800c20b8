//! From a trial to the trays of each curve. Plain data first: what is asked (`options`), places (`places`), the trays (`trays`). Then gathering: what
//! strengths were given to (`layers`), what goes along with them (`along`), what becomes of places (`blocks`, `over`, `bays`, `held`), all together
//! (`gather`).

mod along;
mod bays;
mod blocks;
mod gather;
mod held;
mod layers;
mod options;
mod over;
mod places;
mod trays;

pub(super) use along::one_substance;
pub(super) use gather::{gather, known_law, offering, strengths};
pub(super) use layers::note;
pub use options::{BlocksUse, CurveOptions, CurveTrays};
pub use places::{CurveBays, CurveBlocks, CurvePlaces, LevelOverBays};
pub use trays::{CurveGroup, CurveInput, StayBelow, TrayCount};
