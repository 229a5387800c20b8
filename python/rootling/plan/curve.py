"""A trial that is to find the best strength."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from numbers import Real
from typing import Any

from rootling import _core
from rootling._given import plain, shortened
from rootling.exceptions import ChoiceError
from rootling.plan.asked import takes as expected_takes
from rootling.plan.results import BestStrengthPlan


def best_strength(
    takes: Any,
    *,
    trays: int,
    cuttings: int = 20,
    correlation: float = 0.05,
    unit: str = "",
    draws: int = 100,
    seed: int = 1,
    progress: Callable[[int, int], object] | None = None,
) -> BestStrengthPlan:
    """How well so many trays find the best strength of a curve as you expect it, spread evenly or otherwise.

    Parameters
    ----------
    takes : dict of strength and float
        The take expected at each strength, a proportion: ``{0: 0.1, 1000: 0.5, 3000: 0.6, 8000: 0.3}``; at least four.
    trays : int
        Trays of the whole trial, at least two for each strength.
    cuttings : int
        Cuttings of each tray.
    correlation : float
        Correlation of two cuttings of one tray.
    unit : str
        Unit of the strengths, as ``"mg/L"``.
    draws : int
        Trials drawn of each layout, 10 to 100: every one is fitted with all shapes.
    seed : int
        Seed of the draws.
    progress : callable, optional
        Called with trials finished and expected.

    Returns
    -------
    BestStrengthPlan
        ``layouts``: trays spread evenly, and put so that the variance of the best would be least were the shape
        known; each with the share of trials that locate the best strength, its limits, and what is lost.

    Examples
    --------
    >>> import rootling as rl
    >>> found = rl.plan.best_strength({0: 0.1, 500: 0.4, 1000: 0.6, 2000: 0.7, 4000: 0.5}, trays=24, draws=10)
    >>> [layout.layout for layout in found.layouts]
    ['even', 'least variance']
    """
    takes = plain(takes)
    if not isinstance(takes, Mapping) or not all(isinstance(one, Real) for one in takes):
        raise ChoiceError(
            f"takes={shortened(takes)} is no dictionary of strengths; "
            "write takes={0: 0.1, 1000: 0.5, 3000: 0.6, 8000: 0.3}"
        )
    rising = dict(sorted(takes.items()))
    asked = {
        "strengths": [float(one) for one in rising],
        "takes": expected_takes(rising)[0],
        "unit": unit,
        "trays": trays,
        "cuttings": cuttings,
        "correlation": correlation,
        "draws": draws,
        "seed": seed,
    }
    return BestStrengthPlan(_core.plan.best_strength(asked, progress))
