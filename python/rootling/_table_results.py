"""The results of tests of tables."""

from __future__ import annotations

from rootling._results import Result


class Association(Result):
    """A treatment against rooting, cuttings counted as independent."""

    kind = "association"


class UnconditionalTest(Result):
    """An exact test that fixes the two group sizes only."""

    kind = "unconditional_test"


class Paired(Result):
    """Two rates within pairs."""

    kind = "paired"


class Trend(Result):
    """The trend of the take rate along the levels of a treatment."""

    kind = "trend"


class ChiSquare(Result):
    """Chi-square tests of a plain table."""

    kind = "chi_square"


class Fisher(Result):
    """Fisher's exact test of a 2 x 2 table."""

    kind = "fisher"


class FreemanHalton(Result):
    """The exact test of a table of any shape."""

    kind = "freeman_halton"


class ThreeWay(Result):
    """The test of no three-factor interaction in a 2 x 2 x 2 table."""

    kind = "three_way"


class PlainTrend(Result):
    """The trend of plain counts along ordered groups."""

    kind = "plain_trend"


class LinearByLinear(Result):
    """Linear association of two ordered factors."""

    kind = "linear_by_linear"


class Stratified(Result):
    """Association within strata, put together."""

    kind = "stratified"
