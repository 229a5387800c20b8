"""The choices that options accept, for type checkers. Written by tests/_choices.py from the compiled core."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Literal, TypeAlias

Confidence: TypeAlias = float
Progress: TypeAlias = Callable[[int, int], object]
CheckPanel: TypeAlias = Literal["calibration", "change", "residuals", "order"]
FigureWidth: TypeAlias = Literal["85 mm", "180 mm"]
ReferenceForm: TypeAlias = Literal["bibtex", "csl-json"]
ContrastPattern: TypeAlias = Literal["all-pairs", "control", "steps", "trend"] | Mapping[Any, Any]
AverageOver: TypeAlias = Literal["alike", "as-stuck"] | Mapping[str, Mapping[Any, float]]
BadRows: TypeAlias = Literal["stop", "set-aside"]
Trays: TypeAlias = Literal["auto", "ignore"]
Outcome: TypeAlias = Literal["take", "survival", "rooted-of-survivors"]
GradesOf: TypeAlias = Literal["stuck", "rooted"]
CurveTrays: TypeAlias = Literal["auto", "dispersion", "beta-binomial", "random", "ignore"]
CurveBlocks: TypeAlias = Literal["auto", "spread"]
ModelTrays: TypeAlias = Literal["auto", "effective", "dispersion", "beta-binomial", "random", "robust", "ignore"]
Link: TypeAlias = Literal["logit", "probit", "complementary-log-log", "log-log"]
EffectTestKind: TypeAlias = Literal["auto", "likelihood-ratio", "score", "small-sample-score", "wald"]
IntervalMethod: TypeAlias = Literal[
    "wald",
    "wilson",
    "wilson-corrected",
    "clopper-pearson",
    "mid-p",
    "jeffreys",
    "agresti-coull",
    "likelihood",
    "blaker",
]
DifferenceMethod: TypeAlias = Literal[
    "miettinen-nurminen", "mee", "newcombe", "newcombe-corrected", "agresti-caffo", "wald", "exact"
]
RatioMethod: TypeAlias = Literal["koopman", "log", "miettinen-nurminen"]
OddsRatioMethod: TypeAlias = Literal["conditional-exact", "mid-p", "woolf", "score", "miettinen-nurminen"]
Adjustment: TypeAlias = Literal[
    "bonferroni",
    "holm",
    "hochberg",
    "hommel",
    "sidak",
    "sidak-step-down",
    "benjamini-hochberg",
    "benjamini-yekutieli",
    "none",
]
AssociationMethod: TypeAlias = Literal[
    "tray-rates", "randomisation", "donner", "rao-scott", "rao-scott-first-order", "rao-scott-second-order", "score"
]
CorrelationMethod: TypeAlias = Literal["anova", "beta-binomial"]
Sides: TypeAlias = Literal["both", "lower", "upper"]
TargetMethod: TypeAlias = Literal["exact", "doubled", "blaker", "mid-p", "score"]
Claim: TypeAlias = Literal["equivalent", "not-worse", "not-better"]
MarginMethod: TypeAlias = Literal["score", "exact"]
UnconditionalMethod: TypeAlias = Literal["boschloo", "barnard", "barnard-unpooled"]
PairedMethod: TypeAlias = Literal["tango", "newcombe"]
Shape: TypeAlias = Literal[
    "auto",
    "flat",
    "straight",
    "rising-from-none-to-all",
    "rising-from-none",
    "natural-response",
    "rising",
    "falling",
    "hump",
    "rise-and-fall",
    "brain-cousens",
    "cedergreen",
]
OneStep: TypeAlias = Literal["joint", "tukey-kramer", "dunnett", "scheffe"]
RateScale: TypeAlias = Literal["points", "ratio", "odds"]
RateOf: TypeAlias = Literal["all-trays", "typical-tray"]
LetterOrder: TypeAlias = Literal["descending", "ascending"]
LayoutKind: TypeAlias = Literal[
    "completely-randomised", "blocks", "latin-square", "split-plot", "strip-plot", "incomplete-blocks", "augmented"
]
Question: TypeAlias = Literal[
    "difference", "not-worse", "equivalent", "against-control", "all-pairs", "trend", "target", "effect", "interaction"
]
TrayLaw: TypeAlias = Literal["beta-binomial", "logit-normal"]
Boundary: TypeAlias = Literal["pocock", "obrien-fleming"]
GradeWeights: TypeAlias = Literal["same", "linear", "squared"]
Kept: TypeAlias = Literal["chosen", "irrespective"]
YieldOf: TypeAlias = Literal["followed-cohorts", "current-rates"]
TimeEvent: TypeAlias = Literal["rooted", "dead"]
LawOfCounts: TypeAlias = Literal[
    "poisson",
    "negative-binomial",
    "truncated-poisson",
    "truncated-negative-binomial",
    "hurdle-poisson",
    "hurdle-negative-binomial",
    "zero-inflated-poisson",
    "zero-inflated-negative-binomial",
]
MeanOf: TypeAlias = Literal["stuck", "rooted"]
ResponseKind: TypeAlias = Literal["count", "length", "mass", "grade"]
ResponseUnit: TypeAlias = Literal["mm", "cm", "m", "mg", "g", "kg"]
ContrastAdjustment: TypeAlias = OneStep | Adjustment
MeanAdjustment: TypeAlias = Literal["joint"] | Adjustment
