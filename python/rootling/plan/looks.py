"""A trial that may end early, and one that is under way."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from rootling import _core
from rootling._given import spelled
from rootling._given.choices import Boundary, Confidence, TrayLaw
from rootling.exceptions import ChoiceError
from rootling.plan.asked import Takes, options
from rootling.plan.asked import takes as expected_takes
from rootling.plan.results import ChanceAtEnd, Looks
from rootling.trial import Trial


def looks(
    takes: Takes,
    *,
    trays: int,
    looks: int = 2,
    boundary: Boundary = "obrien-fleming",
    cuttings: int = 20,
    correlation: float = 0.05,
    lost: float = 0.0,
    law: TrayLaw = "beta-binomial",
    confidence: Confidence = 0.95,
    draws: int = 10_000,
    seed: int = 1,
    progress: Callable[[int, int], object] | None = None,
) -> Looks:
    """P levels for looks at equal parts of a trial, so that all looks together alarm no more often than one would.

    Parameters
    ----------
    takes : list of float, or dict of level and float
        The two takes expected, proportions.
    trays : int
        Trays of each level at the end; a multiple of ``looks``.
    looks : int
        Looks, the end among them.
    boundary : str
        ``"obrien-fleming"``: very small P levels first; ``"pocock"``: the same at every look.
    cuttings, correlation, lost, law, confidence, draws, seed, progress
        As in :func:`rootling.plan.power`.

    Returns
    -------
    Looks
        ``p_level`` of every look, what they cost, and what looking without them would do.

    Examples
    --------
    >>> import rootling as rl
    >>> found = rl.plan.looks((0.5, 0.8), trays=12, looks=2, draws=1000)
    >>> found.rows[0].p_level < found.rows[1].p_level < 0.051
    True
    """
    plan = options(
        takes,
        trays,
        cuttings,
        correlation,
        lost=lost,
        law=law,
        confidence=confidence,
        draws=draws,
        seed=seed,
    )
    return Looks(_core.plan.looks({"plan": plan, "looks": looks, "boundary": boundary}, progress))


def chance_at_end(
    trial: Trial,
    treatment: str,
    first: Any,
    second: Any,
    *,
    trays: int,
    takes: Takes = None,
    cuttings: int | None = None,
    p_level: float = 0.05,
    draws: int = 10_000,
    seed: int = 1,
    progress: Callable[[int, int], object] | None = None,
) -> ChanceAtEnd:
    """The chance that a trial under way ends with a difference shown, the trays read so far staying as they are.

    Parameters
    ----------
    trial : Trial
        The trays read so far, of one treatment, dealt out freely.
    treatment : str
        Column of the treatment.
    first, second : level
        The levels compared.
    trays : int
        Trays of each level at the end.
    takes : list of two float, optional
        Takes that were expected when the trial was planned.
    cuttings : int, optional
        Cuttings of trays to come; as many as those read hold on average when left out.
    p_level : float
        The P value at or below which the trial shows a difference at its end: 0.05, or the last one of :func:`looks`.
    draws, seed, progress
        As in :func:`rootling.plan.power`.

    Returns
    -------
    ChanceAtEnd
        A row for takes as expected, as seen so far, and without a difference.

    Examples
    --------
    >>> import rootling as rl
    >>> drawn = rl.plan.draw_trial({2500: 0.3, 5000: 0.7}, trays=4)
    >>> trial = rl.load_trial(drawn, rooted="rooted", stuck="stuck", treatments=["level"], tray="tray")
    >>> found = rl.plan.chance_at_end(trial, "level", 2500, 5000, trays=8, draws=1000)
    >>> found.rows[0].chance > 0.8
    True
    """
    asked: dict[str, Any] = {"trays": trays, "p_level": p_level, "draws": draws, "seed": seed}
    if takes is not None:
        expected = expected_takes(takes)[0]
        if len(expected) != 2:
            raise ChoiceError(f"takes= holds {len(expected)} where two levels are compared; write takes=(0.60, 0.75)")
        asked["takes"] = expected
    if cuttings is not None:
        asked["cuttings"] = cuttings
    levels = (spelled(first), spelled(second))
    return ChanceAtEnd(_core.plan.chance_at_end(trial._core, treatment, levels, asked, progress))
