//! Plants over trays, and what can be worked out of them.

use super::numbers::{SignCounts, SignQuestion};

/// Plants as numbers: rooted and failed, with and without the sign, and those not read.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Sums {
    /// With the sign, rooted.
    pub(super) a: f64,
    /// With the sign, failed.
    pub(super) b: f64,
    /// Without, rooted.
    pub(super) c: f64,
    /// Without, failed.
    pub(super) d: f64,
    /// With, not read.
    pub(super) u: f64,
    /// Without, not read.
    pub(super) v: f64,
}

impl Sums {
    pub(super) fn of(trays: &[SignCounts]) -> Self {
        trays.iter().map(Self::one).fold(Self::default(), |sum, tray| sum.plus(tray, 1.0))
    }

    pub(super) fn one(tray: &SignCounts) -> Self {
        Self {
            a: tray.with_rooted as f64,
            b: tray.with_failed as f64,
            c: tray.without_rooted as f64,
            d: tray.without_failed as f64,
            u: tray.with_unread as f64,
            v: tray.without_unread as f64,
        }
    }

    /// These and `times` others.
    pub(super) fn plus(self, other: Self, times: f64) -> Self {
        Self {
            a: self.a + times * other.a,
            b: self.b + times * other.b,
            c: self.c + times * other.c,
            d: self.d + times * other.d,
            u: self.u + times * other.u,
            v: self.v + times * other.v,
        }
    }

    pub(super) fn with(self) -> f64 {
        self.a + self.b + self.u
    }

    pub(super) fn without(self) -> f64 {
        self.c + self.d + self.v
    }

    pub(super) fn all(self) -> f64 {
        self.with() + self.without()
    }

    /// The same if `rooted_with` and `rooted_without` of the plants not read on each side had rooted.
    fn if_read(self, rooted_with: f64, rooted_without: f64) -> Self {
        Self {
            a: self.a + rooted_with,
            b: self.b + self.u - rooted_with,
            c: self.c + rooted_without,
            d: self.d + self.v - rooted_without,
            u: 0.0,
            v: 0.0,
        }
    }

    /// The same if plants not read are like those read on their side; None where a side was never read.
    pub(super) fn filled(self) -> Option<Self> {
        let share = |some: f64, others: f64, left: f64| match (some + others > 0.0, left > 0.0) {
            (true, _) => Some(left * some / (some + others)),
            (false, false) => Some(0.0),
            (false, true) => None,
        };
        Some(self.if_read(share(self.a, self.b, self.u)?, share(self.c, self.d, self.v)?))
    }

    /// The answer to a question by the plants that were read; None where nothing defines it.
    pub(super) fn answer(self, question: SignQuestion) -> Option<f64> {
        let over = |some: f64, of: f64| (of > 0.0).then(|| some / of);
        let (rooted, failed) = (self.a + self.c, self.b + self.d);
        match question {
            SignQuestion::Sensitivity => over(self.a, rooted),
            SignQuestion::Specificity => over(self.d, failed),
            SignQuestion::RootedOfWith => over(self.a, self.a + self.b),
            SignQuestion::FailedOfWithout => over(self.d, self.c + self.d),
            SignQuestion::LikelihoodRatioWith => over(over(self.a, rooted)?, over(self.b, failed)?),
            SignQuestion::LikelihoodRatioWithout => over(over(self.c, rooted)?, over(self.d, failed)?),
        }
    }

    /// Least and largest answer, whatever became of the plants not read. Each answer rises or falls throughout with those rooted on
    /// either side, so the ends lie where all or none of a side rooted; a ratio may have no upper end.
    pub(super) fn bounds(self, question: SignQuestion) -> (Option<f64>, Option<f64>) {
        let corners = [(0.0, 0.0), (0.0, self.v), (self.u, 0.0), (self.u, self.v)];
        let answers: Vec<Option<f64>> =
            corners.iter().map(|(with, without)| self.if_read(*with, *without).answer(question)).collect();
        let known = || answers.iter().copied().flatten();
        let open = question.is_ratio() && answers.iter().any(Option::is_none);
        let high = if open { None } else { known().reduce(f64::max) };
        (known().reduce(f64::min), high)
    }
}
