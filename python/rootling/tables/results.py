"""The results of tests of tables."""

from __future__ import annotations

from rootling import _figures
from rootling._results import Faces, Result


class Association(
    Result,
    faces=Faces(
        figure=_figures.rates.association,
        question="Does {rooting} go with {factor}?",
        rows="tests",
    ),
):
    """A treatment against rooting, cuttings counted as independent."""

    kind = "association"


class UnconditionalTest(
    Result,
    faces=Faces(
        figure=_figures.differences.comparison,
        question="Do the two groups differ?",
    ),
):
    """An exact test that fixes the two group sizes only."""

    kind = "unconditional_test"


class Paired(
    Result,
    faces=Faces(
        figure=_figures.differences.comparison,
        question="Do the two differ within pairs?",
    ),
):
    """Two rates within pairs."""

    kind = "paired"


class Trend(
    Result,
    faces=Faces(
        figure=_figures.trend.trend,
        question="Does {the_take} rise or fall along the levels of {factor}?",
    ),
):
    """The trend of the take rate along the levels of a treatment."""

    kind = "trend"


class ChiSquare(
    Result,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Do rows and columns go together?",
    ),
):
    """Chi-square tests of a plain table."""

    kind = "chi_square"


class Fisher(
    Result,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Do the two groups differ?",
    ),
):
    """Fisher's exact test of a 2 x 2 table."""

    kind = "fisher"


class FreemanHalton(
    Result,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Do rows and columns go together?",
    ),
):
    """The exact test of a table of any shape."""

    kind = "freeman_halton"


class ThreeWay(
    Result,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Does one effect depend on the other?",
    ),
):
    """The test of no three-factor interaction in a 2 x 2 x 2 table."""

    kind = "three_way"


class PlainTrend(
    Result,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Does the rate rise or fall along the groups?",
    ),
):
    """The trend of plain counts along ordered groups."""

    kind = "plain_trend"


class LinearByLinear(
    Result,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Do the two orders go together?",
    ),
):
    """Linear association of two ordered factors."""

    kind = "linear_by_linear"


class Stratified(
    Result,
    faces=Faces(
        figure=_figures.counts.stratified,
        question="Do the two differ within strata?",
    ),
):
    """Association within strata, put together."""

    kind = "stratified"
