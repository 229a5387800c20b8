//! Whether the best strength of a curve may be stated: one rule for the curve itself, for curves compared, strengths for a take, the next trial
//! and figures.

use serde::{Deserialize, Serialize};

use super::best::Located;
use super::candidates::Curve;

/// Fewer strengths than this make no curve.
pub(super) const LEAST_STRENGTHS: usize = 3;

/// A lack of fit at or below this P says that no curve fits.
const MISSES: f64 = 0.05;

/// Why the best strength of a curve is not stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Withheld {
    /// All cuttings rooted, or none did.
    AllAlike,
    /// Fewer than three strengths.
    FewStrengths,
    /// Even the likeliest shape is contradicted by the strengths' own takes.
    NoCurveFits,
    /// The tested strengths do not enclose it.
    NotLocated,
}

impl Withheld {
    /// True where there is no curve whose highest place would mean anything.
    pub(super) fn has_no_curve(self) -> bool {
        self != Self::NotLocated
    }
}

/// A lack of fit that says that no curve fits.
pub(super) fn misses(lack_p: Option<f64>) -> Option<f64> {
    lack_p.filter(|p| *p <= MISSES)
}

/// Why a best strength is not stated; none where it may be. `lack_p` is that of the likeliest shape.
pub(super) fn withheld(all_alike: bool, strengths: usize, lack_p: Option<f64>, located: Located) -> Option<Withheld> {
    if all_alike {
        Some(Withheld::AllAlike)
    } else if strengths < LEAST_STRENGTHS {
        Some(Withheld::FewStrengths)
    } else if misses(lack_p).is_some() {
        Some(Withheld::NoCurveFits)
    } else if located != Located::Inside {
        Some(Withheld::NotLocated)
    } else {
        None
    }
}

impl Curve {
    /// The same of a fitted curve whose best strength has been looked for.
    pub(super) fn withheld(&self, located: Located) -> Option<Withheld> {
        let overall = self.data.mean_take().0;
        let lack_p = self.members.first().and_then(|lead| lead.lack_p);
        withheld(overall <= 0.0 || overall >= 1.0, self.data.levels.len(), lack_p, located)
    }
}
