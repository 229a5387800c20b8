"""The results of tests of tables."""

from __future__ import annotations

from rootling import _figures
from rootling._results import Faces, Result, typed


class Association(
    Result[typed.tables.Association],
    typed.tables.AssociationFields,
    faces=Faces(
        figure=_figures.rates.association,
        question="Does {rooting} go with {factor}?",
        rows="tests",
    ),
):
    """A treatment against rooting, cuttings counted as independent."""

    kind = "association"


class UnconditionalTest(
    Result[typed.tables.UnconditionalTest],
    typed.tables.UnconditionalTestFields,
    faces=Faces(
        figure=_figures.differences.comparison,
        question="Do the two groups differ?",
    ),
):
    """An exact test that fixes the two group sizes only."""

    kind = "unconditional_test"


class Paired(
    Result[typed.tables.Paired],
    typed.tables.PairedFields,
    faces=Faces(
        figure=_figures.differences.comparison,
        question="Do the two differ within pairs?",
    ),
):
    """Two rates within pairs."""

    kind = "paired"


class Trend(
    Result[typed.tables.TrialTrend],
    typed.tables.TrialTrendFields,
    faces=Faces(
        figure=_figures.trend.trend,
        question="Does {the_take} rise or fall along the levels of {factor}?",
    ),
):
    """The trend of the take rate along the levels of a treatment."""

    kind = "trend"


class ChiSquare(
    Result[typed.tables.ChiSquare],
    typed.tables.ChiSquareFields,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Do rows and columns go together?",
    ),
):
    """Chi-square tests of a plain table."""

    kind = "chi_square"


class Fisher(
    Result[typed.tables.FisherExact],
    typed.tables.FisherExactFields,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Do the two groups differ?",
    ),
):
    """Fisher's exact test of a 2 x 2 table."""

    kind = "fisher"


class FreemanHalton(
    Result[typed.tables.FreemanHalton],
    typed.tables.FreemanHaltonFields,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Do rows and columns go together?",
    ),
):
    """The exact test of a table of any shape."""

    kind = "freeman_halton"


class ThreeWay(
    Result[typed.tables.ThreeWay],
    typed.tables.ThreeWayFields,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Does one effect depend on the other?",
    ),
):
    """The test of no three-factor interaction in a 2 x 2 x 2 table."""

    kind = "three_way"


class PlainTrend(
    Result[typed.tables.Trend],
    typed.tables.TrendFields,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Does the rate rise or fall along the groups?",
    ),
):
    """The trend of plain counts along ordered groups."""

    kind = "plain_trend"


class LinearByLinear(
    Result[typed.tables.LinearByLinear],
    typed.tables.LinearByLinearFields,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Do the two orders go together?",
    ),
):
    """Linear association of two ordered factors."""

    kind = "linear_by_linear"


class Stratified(
    Result[typed.tables.Stratified],
    typed.tables.StratifiedFields,
    faces=Faces(
        figure=_figures.counts.stratified,
        question="Do the two differ within the tables?",
    ),
):
    """Association within strata, put together."""

    kind = "stratified"
