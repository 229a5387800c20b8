"""The results of comparing two groups, or all levels of a treatment."""

from __future__ import annotations

from rootling import _figures
from rootling._results import Faces, Result, typed


class Comparison(
    Result[typed.compare.Comparison],
    typed.compare.ComparisonFields,
    faces=Faces(
        figure=_figures.differences.comparison,
        question="Do {factor} {first} and {second} differ, and by how much?",
    ),
):
    """Two levels of a treatment compared."""

    kind = "comparison"


class AllComparisons(
    Result[typed.compare.AllComparisons],
    typed.compare.AllComparisonsFields,
    faces=Faces(
        figure=_figures.differences.all_comparisons,
        question="Which levels of {factor} differ?",
        rows="pairs",
    ),
):
    """All levels of a treatment compared, with P values and intervals that hold together."""

    kind = "all_comparisons"


class RandomisedDifference(
    Result[typed.compare.RandomisedDifference],
    typed.compare.RandomisedDifferenceFields,
    faces=Faces(
        figure=_figures.differences.randomisation,
        question="Do the two differ when trays are dealt out again?",
    ),
):
    """Two lists of tray rates compared by dealing the trays anew."""

    kind = "randomisation"


class EqualityTest(
    Result[typed.shared.TestResult],
    typed.shared.TestResultFields,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Do the two rates differ?",
    ),
):
    """A test of equal take rates from plain counts."""

    kind = "equality_test"


class Equivalence(
    Result[typed.compare.Equivalence],
    typed.compare.EquivalenceFields,
    faces=Faces(
        figure=_figures.differences.comparison,
        question="Are the two alike within the margin?",
    ),
):
    """Two rates tested against a margin."""

    kind = "equivalence"
