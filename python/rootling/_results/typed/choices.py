"""The words that numbers hold, written by tests/_numbers.py from the core."""

from __future__ import annotations

from typing import Literal, TypeAlias

Adjust: TypeAlias = Literal[
    "joint",
    "tukey-kramer",
    "dunnett",
    "scheffe",
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
BlocksUse: TypeAlias = Literal["auto", "spread"]
Boundary: TypeAlias = Literal["pocock", "obrien-fleming"]
Claim: TypeAlias = Literal["equivalent", "not-worse", "not-better"]
CommonMethod: TypeAlias = Literal[
    "mantel-haenszel, robins-breslow-greenland", "mantel-haenszel, greenland-robins", "mantel-haenszel, sato"
]
CorrelationMethod: TypeAlias = Literal["anova", "beta-binomial"]
Counted: TypeAlias = Literal["exactly", "by-draws", "not-known"]
CriteriaUnit: TypeAlias = Literal["trays", "cuttings"]
Criterion: TypeAlias = Literal["best strength", "whole curve"]
CurveTrays: TypeAlias = Literal["auto", "dispersion", "beta-binomial", "random", "ignore"]
EffectOn: TypeAlias = Literal["any", "count", "added-zero"]
Exactness: TypeAlias = Literal["exact", "drawn"]
Form: TypeAlias = Literal["step", "drift", "open"]
GoesWith: TypeAlias = Literal["setting", "reading", "open"]
GradeWeights: TypeAlias = Literal["same", "linear", "squared"]
GradesOf: TypeAlias = Literal["stuck", "rooted"]
Kept: TypeAlias = Literal["chosen", "irrespective"]
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
LayoutKind: TypeAlias = Literal[
    "completely-randomised", "blocks", "latin-square", "split-plot", "strip-plot", "incomplete-blocks", "augmented"
]
Link: TypeAlias = Literal["logit", "probit", "complementary-log-log", "log-log"]
Located: TypeAlias = Literal[
    "located",
    "not located: may lie at or above the highest strength",
    "not located: the lowest strength may be the best",
    "not located: no strength is shown to be the best",
]
MarginTest: TypeAlias = Literal["score", "exact"]
MeanOf: TypeAlias = Literal["stuck", "rooted"]
OddsRatioMethod: TypeAlias = Literal["conditional-exact", "mid-p", "woolf", "score", "miettinen-nurminen"]
Outcome: TypeAlias = Literal["take", "survival", "rooted-of-survivors", "grade-reached"]
PairedMethod: TypeAlias = Literal["tango", "newcombe"]
Part: TypeAlias = Literal["cultivar", "grafter", "place"]
Question: TypeAlias = Literal[
    "difference", "not-worse", "equivalent", "against-control", "all-pairs", "trend", "target", "effect", "interaction"
]
RateOf: TypeAlias = Literal["all-trays", "typical-tray"]
ResponseKind: TypeAlias = Literal["count", "length", "mass", "grade"]
ResponseUnit: TypeAlias = Literal["mm", "cm", "m", "mg", "g", "kg"]
Scale: TypeAlias = Literal["points", "ratio", "odds"]
SeasonSpread: TypeAlias = Literal["not-counted", "given", "estimated"]
Shape: TypeAlias = Literal[
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
ShapeChoice: TypeAlias = Literal[
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
SignPoints: TypeAlias = Literal["to-rooting", "against-rooting", "not-shown", "nowhere"]
SignQuestion: TypeAlias = Literal[
    "sensitivity",
    "specificity",
    "rooted-of-with",
    "failed-of-without",
    "likelihood-ratio-with",
    "likelihood-ratio-without",
]
SplitMethod: TypeAlias = Literal["logarithmic-mean", "all-orders"]
StartQuestion: TypeAlias = Literal["to-start", "sure-of"]
StrengthMethod: TypeAlias = Literal["profile", "delta", "fieller"]
TargetMethod: TypeAlias = Literal["exact", "doubled", "blaker", "mid-p", "score"]
TestName: TypeAlias = Literal[
    "score",
    "likelihood-ratio",
    "pearson",
    "pearson-corrected",
    "fisher",
    "freeman-halton",
    "freeman-halton, drawn",
    "exact",
    "mid-p",
    "asymptotic",
    "asymptotic-corrected",
    "cochran-mantel-haenszel",
    "cochran-mantel-haenszel-corrected",
    "general-association",
    "mean-scores",
    "correlation",
    "breslow-day",
    "breslow-day-tarone",
    "woolf",
    "cochran-armitage",
    "cochran-armitage on effective cuttings",
    "exact trend",
    "drawn trend",
    "t on trays",
    "departure",
    "linear-by-linear",
    "tray-rates",
    "randomisation",
    "donner",
    "rao-scott",
    "rao-scott-first-order",
    "rao-scott-second-order",
    "same form",
    "same curve",
    "no difference",
    "same but for height",
    "same height",
    "one best strength at every darkness",
    "darkness",
    "lack of fit",
    "deaths differ between strengths",
]
TimeEvent: TypeAlias = Literal["rooted", "dead"]
TrayMode: TypeAlias = Literal["auto", "effective", "dispersion", "beta-binomial", "random", "robust", "ignore"]
TurnsOn: TypeAlias = Literal["price", "cost", "season-sd"]
UnconditionalOrder: TypeAlias = Literal["boschloo", "barnard", "barnard-unpooled"]
Verdict: TypeAlias = Literal["fitted", "fitted with caution", "not fitted"]
Why: TypeAlias = Literal[
    "the control: what roots without any",
    "below the best: how fast the take climbs",
    "where the best may lie: how high the take is",
    "above the best: how soon more does harm",
    "not tested yet: the best may lie there",
]
Withheld: TypeAlias = Literal["all-alike", "few-strengths", "no-curve-fits", "not-located"]
YieldOf: TypeAlias = Literal["followed-cohorts", "current-rates"]
