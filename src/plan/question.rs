//! What a planned trial is to answer, and by which of the tool's own tests it will be judged.

use serde::{Deserialize, Serialize};

use crate::choice::choice;
use crate::effects::Adjustment;

/// What the trial is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Question {
    /// Whether two levels differ.
    #[default]
    Difference,
    /// Whether the second of two levels is worse by less than the margin.
    NotWorse,
    /// Whether two levels differ by less than the margin.
    Equivalent,
    /// Which levels differ from the first, the control.
    AgainstControl,
    /// Which pairs of levels differ.
    AllPairs,
    /// Whether the take rises or falls along the levels.
    Trend,
    /// Whether the rate of one level differs from a target.
    Target,
    /// Whether the first of two treatments has any effect, the second taken out.
    Effect,
    /// Whether what the first of two treatments does depends on the second.
    Interaction,
}

choice!(
    Question, "question":
    Difference = "difference",
    NotWorse = "not-worse",
    Equivalent = "equivalent",
    AgainstControl = "against-control",
    AllPairs = "all-pairs",
    Trend = "trend",
    Target = "target",
    Effect = "effect",
    Interaction = "interaction",
);

impl Question {
    /// The fewest levels that it can be asked of.
    pub(super) const fn least_levels(self) -> usize {
        match self {
            Self::Target => 1,
            Self::Trend => 3,
            Self::Effect | Self::Interaction => 4,
            _ => 2,
        }
    }

    /// The most levels that it can be asked of.
    pub(super) const fn most_levels(self) -> usize {
        match self {
            Self::Target => 1,
            Self::Difference | Self::NotWorse | Self::Equivalent => 2,
            Self::AgainstControl | Self::AllPairs | Self::Trend | Self::Effect | Self::Interaction => 40,
        }
    }

    /// True where two treatments are crossed.
    pub(super) const fn is_crossed(self) -> bool {
        matches!(self, Self::Effect | Self::Interaction)
    }

    /// True where a margin decides.
    pub(super) const fn has_margin(self) -> bool {
        matches!(self, Self::NotWorse | Self::Equivalent)
    }

    /// The pairs of levels that it sets side by side, the one that is subtracted first.
    pub(super) fn pairs(self, levels: usize) -> Vec<(usize, usize)> {
        match self {
            Self::Target | Self::Trend | Self::Effect | Self::Interaction => Vec::new(),
            Self::Difference | Self::NotWorse | Self::Equivalent => vec![(0, 1)],
            Self::AgainstControl => (1..levels).map(|level| (0, level)).collect(),
            Self::AllPairs => (0..levels).flat_map(|one| (one + 1..levels).map(move |other| (one, other))).collect(),
        }
    }
}

/// The question with all that decides it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Asked {
    /// What the trial is for.
    pub question: Question,
    /// Confidence level of intervals and of all pairs together, a proportion.
    pub confidence: f64,
    /// The margin, a proportion: for `not-worse` and `equivalent`.
    pub margin: f64,
    /// The target, a proportion: for `target`.
    pub target: f64,
    /// How P values of several pairs are adjusted.
    pub together: Adjustment,
    /// Where the levels stand along the treatment: for `trend`.
    pub scores: Vec<f64>,
}
