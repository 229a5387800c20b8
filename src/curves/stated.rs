//! Whether the best strength of a curve may be stated: one rule for the curve itself, for curves compared, strengths for a take, the next trial
//! and figures.

use serde::{Deserialize, Serialize};

use super::best::Located;
use super::candidates::{Curve, Member};

/// Fewer strengths than this make no curve.
pub(super) const LEAST_STRENGTHS: usize = 3;

/// A lack of fit below this P contradicts a shape, and that of all shapes by their weights says that no curve fits. At 0.05 one hump in fifty
/// would be refused by chance (`tests/calibration/curves.md`).
pub(super) const CONTRADICTED: f64 = 0.01;
/// A lack of fit at or below this P is noted.
pub(super) const NOTED: f64 = 0.05;
/// Shapes with less weight are not spoken of.
pub(super) const SPOKEN_OF: f64 = 0.05;

/// Why the best strength of a curve is not stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Withheld {
    /// All cuttings rooted, or none did.
    AllAlike,
    /// Fewer than three strengths.
    FewStrengths,
    /// The shapes, by their weights, are contradicted by the strengths' own takes.
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
    lack_p.filter(|p| *p < CONTRADICTED)
}

/// Why a best strength is not stated; none where it may be. `lack_p` is that of all shapes by their weights.
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
    /// P of the lack of fit of all shapes by their weights: what they lose against a rate of its own for every strength, and its degrees of freedom,
    /// averaged. Of a single shape it is its own. None where hardly any degree of freedom is left.
    pub(super) fn lack_p(&self) -> Option<f64> {
        const LEAST_DF: f64 = 0.05;
        let mean = |of: fn(&Member) -> f64| self.members.iter().map(|one| one.weight * of(one)).sum::<f64>();
        let df = mean(|one| one.lack_df);
        (df >= LEAST_DF).then(|| self.judge.tail(mean(|one| one.deviance), df))
    }

    /// The same of a fitted curve whose best strength has been looked for.
    pub(super) fn withheld(&self, located: Located) -> Option<Withheld> {
        let overall = self.data.mean_take().0;
        withheld(overall <= 0.0 || overall >= 1.0, self.data.levels.len(), self.lack_p(), located)
    }
}
