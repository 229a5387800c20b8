"""Tables of counts: chi-square and exact tests of association; cuttings count as independent."""

# The room, in reading order:
# ``two_way``: tables of rows and columns
# ``ordered``: groups and factors with an order
# ``layers``: strata, and effects that depend on another
# ``entries``: counts and scores, looked at
# ``results``: the answers

from rootling.tables.layers import stratified, three_way
from rootling.tables.ordered import linear_by_linear, trend
from rootling.tables.results import (
    Association,
    ChiSquare,
    Fisher,
    FreemanHalton,
    LinearByLinear,
    Paired,
    PlainTrend,
    Stratified,
    ThreeWay,
    Trend,
    UnconditionalTest,
)
from rootling.tables.two_way import chi_square, fisher, freeman_halton, paired, unconditional

__all__ = [
    "Association",
    "ChiSquare",
    "Fisher",
    "FreemanHalton",
    "LinearByLinear",
    "Paired",
    "PlainTrend",
    "Stratified",
    "ThreeWay",
    "Trend",
    "UnconditionalTest",
    "chi_square",
    "fisher",
    "freeman_halton",
    "linear_by_linear",
    "paired",
    "stratified",
    "three_way",
    "trend",
    "unconditional",
]
