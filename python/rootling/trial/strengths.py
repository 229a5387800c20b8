"""The question of strength, asked of a trial."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._given import listed
from rootling._given.choices import (
    Confidence,
    CurveBlocks,
    CurveTrays,
    Link,
    Outcome,
    Progress,
    Shape,
    Trays,
)
from rootling.curves import DamageThreshold, ResponseSurface, StrengthCurve
from rootling.trial.given import levels_within, strengths_of

if TYPE_CHECKING:
    from rootling.trial.trial import Trial


def strength_curve(
    self: Trial,
    within: str | Sequence[str] | None = None,
    *,
    strength: str | None = None,
    common: str | Sequence[str] | None = None,
    shape: Shape = "auto",
    at: Mapping[str, Any] | None = None,
    link: Link = "logit",
    confidence: Confidence = 0.95,
    nearly: float = 0.05,
    enough: float = 0.95,
    zero_scale: float | None = None,
    trays: CurveTrays = "auto",
    blocks: CurveBlocks = "auto",
    draws: int = 0,
    seed: int = 1,
    outcome: Outcome = "take",
    progress: Progress | None = None,
) -> StrengthCurve:
    """How the take follows the strength, where it is best, and how sure that is.

    Strength 0 is a real value. Curves are averaged over shapes unless one is forced, so that choosing a shape adds
    no false certainty. See :class:`rootling.curves.StrengthCurve` for what can be asked of the result.

    Parameters
    ----------
    within : str or list of str, optional
        Columns whose levels get a curve each, for example ``"rootstock"``.
    strength : str, optional
        The treatment that holds the strengths; the declared one when left out.
    common : str or list of str, optional
        Columns whose levels share one curve, each with a height of its own (a shift of the log odds, taken out as
        blocks are), for example ``"rootstock"`` where single curves have too few trays to show a best strength.
    shape : str
        ``"auto"`` weighs all but the shapes without natural rooting and ``"cedergreen"``; a name forces one. See
        :mod:`rootling.curves`.
    at : dict, optional
        Levels of other treatments to stay within, for example ``{"dark_days": 21}``.
    link : {"logit", "probit", "complementary-log-log", "log-log"}
        Scale of the rising and falling shapes.
    confidence : float
        Confidence level, a proportion.
    nearly : float
        Difference from the best take (a proportion): the range holds the strengths not shown to be more than so
        many fewer than the best.
    enough : float
        Share of the best take that is adequate.
    zero_scale : float, optional
        ``d0`` of the axis ``log(1 + d/d0)``, in the unit of the strengths; when left out the lowest strength above
        0 (under ``"auto"`` for the hump every doubling from a quarter of that up to half of the highest strength,
        for the rise and fall every fourfold of it). Cedergreen's stimulation counts strengths in it.
    trays : {"auto", "dispersion", "beta-binomial", "random", "ignore"}
        How trays of one strength differ. ``"auto"`` divides counts by the design effect of their trays, with one
        correlation for all curves; it needs no law, and simulation has checked it for few trays.
        ``"dispersion"`` divides by one dispersion (Pearson's, around rates of their own for all strengths), the
        same for large and small trays; in trays of one size it nearly agrees with ``"auto"``.
        ``"beta-binomial"`` and ``"random"`` are likelihoods of the trays' own counts, with one correlation or one
        standard deviation for each curve, estimated with it: for trays of very unlike sizes, and for a write-up
        that names the law; limits are approximate with few trays, and too narrow where blocks are taken out as
        well. Under ``"random"`` trays have normal effects on
        the log odds: shapes are those of a typical tray, takes and their limits averages over all trays.
        ``"ignore"`` treats cuttings as independent, and the result is marked; blocks are taken out all the same.
    blocks : {"auto", "spread"}
        What becomes of blocks (and of bays where strengths are laid out within them). ``"auto"`` takes them out as
        shifts of the log odds where each strength stands in several of them and enough trays are left; takes are
        then averages over blocks, with limits that hold over further ones (seasons too), as those of take rates.
        ``"spread"`` counts their differences as spread between trays. Where strengths
        were given to whole bays, the bay is the unit and nothing is taken out. Where a treatment in ``within`` or
        ``at`` was given to whole bays, strengths are compared within bays, and takes hold over bays.
    draws : int
        Trials to draw for bootstrap limits beside those by profile likelihood, for example 2000; none when 0.
    seed : int
        Seed of the drawn trials.
    outcome : {"take", "survival", "rooted-of-survivors"}
        What is counted, in a trial loaded with ``dead=``: rooted of stuck, alive of stuck, or rooted of those that
        lived. How the two others run over the strengths stands in the details. Where deaths rise, as
        :meth:`damage_threshold` finds it, no strength above is recommended (``stay_below`` in the table).
    progress : callable, optional
        Called with the parts of the work done and those there are, where it has parts that take long. In a notebook and
        at a terminal a bar is shown where none is given and the work takes more than a second.

    Returns
    -------
    StrengthCurve

    Raises
    ------
    CurveError
        For strengths that make no curve, and for a law of trays that these trays cannot show (no strength with two
        trays, trays of single cuttings, no trays recorded).

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength", "rootstock"], tray="tray", block="bench",
    ...                       strength=rl.Strength("IBA", unit="mg/L", method="quick dip"))
    >>> curve = trial.strength_curve(within="rootstock")
    >>> curve.table().height
    2

    Under a law of the trays:

    >>> law = trial.strength_curve(at={"rootstock": "K12"}, trays="beta-binomial", shape="hump")
    >>> law.parameters()["parameter"].to_list()[-1]
    'correlation within trays'
    """
    options = {
        "column": strengths_of(self, strength),
        "within": [] if within is None else list(dict.fromkeys(listed(within))),
        "common": [] if common is None else list(dict.fromkeys(listed(common))),
        "at": levels_within(self, at),
        "shape": shape,
        "link": link,
        "confidence": confidence,
        "nearly": nearly,
        "enough": enough,
        "zero_scale": zero_scale,
        "trays": trays,
        "blocks": blocks,
        "draws": draws,
        "seed": seed,
        "outcome": outcome,
    }
    fit, record = _core.curves.strength_curve(self._core, options, progress)
    return StrengthCurve(record, {"trial": self}, fit)


def damage_threshold(
    self: Trial,
    within: str | Sequence[str] | None = None,
    *,
    strength: str | None = None,
    rise: float = 0.05,
    at: Mapping[str, Any] | None = None,
    link: Link = "logit",
    confidence: Confidence = 0.95,
    zero_scale: float | None = None,
    trays: Trays = "auto",
) -> DamageThreshold:
    """The strength at which deaths begin to rise, for trials loaded with ``dead=``.

    Three outcomes (rooted, alive without roots, dead) are taken in two steps: dead among stuck, and rooted among
    survivors. The threshold is the lowest strength at which deaths exceed those at the lowest strength tested by
    ``rise``; where the tested strengths do not show it, or are only two, it is not located.

    Parameters
    ----------
    within : str or list of str, optional
        Columns whose levels get a curve each.
    strength : str, optional
        The treatment that holds the strengths; the declared one when left out.
    rise : float
        The rise of deaths that counts as damage, a proportion: 0.05 are 5 trees per 100.
    at : dict, optional
        Levels of other treatments to stay within.
    link : {"logit", "probit", "complementary-log-log", "log-log"}
        Scale of the rising shapes.
    confidence : float
        Confidence level, a proportion.
    zero_scale : float, optional
        ``d0`` of the axis ``log(1 + d/d0)``.
    trays : {"auto", "ignore"}
        ``"ignore"`` treats cuttings as independent, and the result is marked.

    Returns
    -------
    DamageThreshold

    Raises
    ------
    CurveError
        For a trial without a column of deaths.

    Examples
    --------
    >>> import rootling as rl
    >>> counts = {"strength": [0, 1000, 2000, 4000, 8000] * 4, "tray": list(range(20)), "stuck": [20] * 20,
    ...           "rooted": [3, 8, 12, 10, 4, 2, 9, 11, 11, 5, 4, 7, 13, 9, 3, 3, 10, 12, 10, 4],
    ...           "dead": [1, 1, 0, 3, 9, 0, 1, 2, 2, 8, 1, 0, 1, 4, 11, 0, 2, 1, 3, 10]}
    >>> trial = rl.load_trial(counts, rooted="rooted", stuck="stuck", dead="dead",
    ...                       treatments="strength", tray="tray")
    >>> found = trial.damage_threshold()
    >>> 1000 < found.curves[0].threshold.value < 8000
    True
    """
    options = {
        "curve": {
            "column": strengths_of(self, strength),
            "within": [] if within is None else list(dict.fromkeys(listed(within))),
            "at": levels_within(self, at),
            "link": link,
            "confidence": confidence,
            "zero_scale": zero_scale,
            "trays": trays,
        },
        "rise": rise,
    }
    return DamageThreshold(_core.curves.damage_threshold(self._core, options), {"trial": self})


def response_surface(
    self: Trial,
    darkness: str = "dark_days",
    *,
    strength: str | None = None,
    at: Mapping[str, Any] | None = None,
    confidence: Confidence = 0.95,
    zero_scale: float | None = None,
    trays: Trays = "auto",
    progress: Progress | None = None,
) -> ResponseSurface:
    """How the take follows strength and darkness together, and how the best strength shifts with darkness.

    Log odds are quadratic in ``log(1 + d/d0)`` and, with three or more levels, in the days of darkness, with their
    product. Where darkness was given to rooms or bays (``whole_plot=``), it is judged by how rooms of one darkness
    differ; where each darkness stood in one room only, nothing is claimed of it.

    Parameters
    ----------
    darkness : str
        The treatment that holds the days of darkness.
    strength : str, optional
        The treatment that holds the strengths; the declared one when left out.
    at : dict, optional
        Levels of other treatments to stay within, for example ``{"rootstock": "K12"}``.
    confidence : float
        Confidence level, a proportion.
    zero_scale : float, optional
        ``d0`` of the axis ``log(1 + d/d0)``; when left out the likeliest of several.
    trays : {"auto", "ignore"}
        ``"ignore"`` treats cuttings as independent, and the result is marked.
    progress : callable, optional
        Called with the parts of the work done and those there are, where it has parts that take long. In a notebook and
        at a terminal a bar is shown where none is given and the work takes more than a second.

    Returns
    -------
    ResponseSurface
        One row per darkness with the best strength, its limits and the take there.

    Raises
    ------
    CurveError
        For fewer than three strengths or two levels of darkness, or levels that are not numbers.

    Examples
    --------
    >>> import rootling as rl
    >>> days, strengths = [14, 28, 42], [0, 1000, 2000, 4000, 8000]
    >>> rooted = [3, 8, 11, 9, 4, 5, 12, 14, 11, 3, 6, 13, 13, 8, 2]
    >>> counts = {
    ...     "dark_days": [day for day in days for _ in strengths] * 4,
    ...     "strength": strengths * 12,
    ...     "tray": list(range(60)),
    ...     "rooted": [count + extra for extra in (0, 1, 2, 0) for count in rooted],
    ...     "stuck": [20] * 60,
    ... }
    >>> trial = rl.load_trial(counts, rooted="rooted", stuck="stuck",
    ...                       treatments=["strength", "dark_days"], tray="tray")
    >>> trial.response_surface().table().height
    3
    """
    options = {
        "curve": {
            "column": strengths_of(self, strength),
            "at": levels_within(self, at),
            "confidence": confidence,
            "zero_scale": zero_scale,
            "trays": trays,
        },
        "darkness": darkness,
    }
    return ResponseSurface(_core.curves.response_surface(self._core, options, progress), {"trial": self})
