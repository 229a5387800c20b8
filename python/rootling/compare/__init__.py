"""Two groups compared, from plain counts and from tray rates; P values adjusted for their number.

In what works on counts, cuttings count as independent.
"""

# The room, in reading order:
# ``counts``: two groups from plain counts
# ``lists``: tray rates dealt anew, P values of one family
# ``results``: the answers

from rootling.compare.counts import (
    difference,
    equivalence,
    likelihood_ratio_test,
    odds_ratio,
    ratio,
    score_test,
)
from rootling.compare.lists import adjusted_p, randomisation
from rootling.compare.results import AllComparisons, Comparison, EqualityTest, Equivalence, RandomisedDifference

__all__ = [
    "AllComparisons",
    "Comparison",
    "EqualityTest",
    "Equivalence",
    "RandomisedDifference",
    "adjusted_p",
    "difference",
    "equivalence",
    "likelihood_ratio_test",
    "odds_ratio",
    "randomisation",
    "ratio",
    "score_test",
]
