//! Whether the best strength of a curve may be stated: one rule for the curve itself, for curves compared, strengths for a take, the next trial
//! and figures.

use super::numbers::{Located, Withheld};
use crate::curves::fit::{CONTRADICTED, Curve, Member};

/// Fewer strengths than this make no curve.
pub(crate) const LEAST_STRENGTHS: usize = 3;

/// A lack of fit at or below this P is noted.
pub(crate) const NOTED: f64 = 0.05;

/// Shapes with less weight are not spoken of.
pub(crate) const SPOKEN_OF: f64 = 0.05;

/// A lack of fit that says that no curve fits.
pub(crate) fn misses(lack_p: Option<f64>) -> Option<f64> {
    lack_p.filter(|p| *p < CONTRADICTED)
}

/// Why a best strength is not stated; none where it may be. `lack_p` is that of all shapes by their weights.
fn withheld(all_alike: bool, strengths: usize, lack_p: Option<f64>, located: Located) -> Option<Withheld> {
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
    pub(crate) fn lack_p(&self) -> Option<f64> {
        const LEAST_DF: f64 = 0.05;
        let mean = |of: fn(&Member) -> f64| self.members.iter().map(|one| one.weight * of(one)).sum::<f64>();
        let df = mean(|one| one.lack_df);
        (df >= LEAST_DF).then(|| self.judge.tail(mean(|one| one.deviance), df))
    }

    /// The same of a fitted curve whose best strength has been looked for.
    pub(crate) fn withheld(&self, located: Located) -> Option<Withheld> {
        let overall = self.data.mean_take().0;
        withheld(overall <= 0.0 || overall >= 1.0, self.data.levels.len(), self.lack_p(), located)
    }
}
