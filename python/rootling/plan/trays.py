"""How many trays, what they show, how near they come: asked of trials that are drawn and judged as real ones are."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._given.choices import Adjustment, Confidence, Question, TrayLaw
from rootling.exceptions import ChoiceError
from rootling.plan.asked import Share, Takes, Whole, options, whole
from rootling.plan.results import Power, Precision, SmallestDifference, TraysNeeded

if TYPE_CHECKING:
    import numpy as np
    import polars as pl


Progress = Callable[[int, int], object]


def power(
    takes: Takes,
    *,
    trays: Whole,
    cuttings: Whole = 20,
    question: Question = "difference",
    correlation: Share | None = None,
    earlier: Any = None,
    margin: float | None = None,
    target: float | None = None,
    scores: Any = None,
    together: Adjustment = "holm",
    blocks: int | None = None,
    block_spread: float = 0.5,
    bays: int | None = None,
    bay_spread: float = 0.3,
    lost: float = 0.0,
    law: TrayLaw = "beta-binomial",
    confidence: Confidence = 0.95,
    second_opinion: bool = False,
    draws: int = 10_000,
    seed: int = 1,
    progress: Progress | None = None,
) -> Power:
    """How often a trial so laid out shows what is there, judged as its real counts would be.

    Parameters
    ----------
    takes : list of float, or dict of level and float
        Takes expected, proportions: ``(0.60, 0.75)`` or ``{2500: 0.60, 5000: 0.75}``. A single one for ``"target"``; a
        list of rows, one for each level of the first treatment, for ``"effect"`` and ``"interaction"``.
    trays : int or list of int
        Trays of each level (of each combination, where two treatments are crossed; of each bay, with ``bays``).
    cuttings : int or list of int
        Cuttings of each tray.
    question : str
        ``"difference"``, ``"not-worse"``, ``"equivalent"`` (both with ``margin``), ``"against-control"`` (the first
        level is the control), ``"all-pairs"``, ``"trend"``, ``"target"``, ``"effect"`` or ``"interaction"``.
    correlation : float or list of float, optional
        Correlation of two cuttings of one tray; 0.01, 0.05 and 0.15 when left out.
    earlier : Trial or list of Trial, optional
        Trials that tell how alike cuttings of a tray are: the power is then also averaged over what they leave likely.
    margin, target : float, optional
        Difference that would not matter, and rate to be met; proportions.
    scores : list of float, optional
        Where the levels stand along the treatment, for ``"trend"``; left out, the levels themselves where they are
        numbers, and their order otherwise.
    together : str
        How P values of several pairs are adjusted, as in ``compare_all``.
    blocks : int, optional
        Trays of each level in a block, where trays stand in blocks.
    block_spread, bay_spread : float
        Standard deviation of blocks and of bays on the log odds; takes are then those of a block or bay in the middle.
    bays : int, optional
        Bays of each level, where levels are given to whole bays, as darkness is.
    lost : float
        Share of trays that get lost.
    law : str
        By which law trays differ: ``"beta-binomial"`` or ``"logit-normal"``.
    confidence : float
        Confidence level, a proportion.
    second_opinion : bool
        Whether the trays of every drawn trial are dealt out again too (takes some ten times as long).
    draws : int
        Trials drawn of every design.
    seed : int
        Seed of the draws.
    progress : callable, optional
        Called with designs finished and expected.

    Returns
    -------
    Power
        A row for every number of trays, of cuttings and every correlation.

    Examples
    --------
    >>> import rootling as rl
    >>> found = rl.plan.power({2500: 0.60, 5000: 0.75}, trays=[8, 16], correlation=0.05, draws=2000)
    >>> [round(row.power, 1) for row in found.rows]
    [0.5, 0.8]
    """
    asked = options(
        takes,
        trays,
        cuttings,
        correlation,
        question=question,
        earlier=earlier,
        margin=margin,
        target=target,
        scores=scores,
        together=together,
        blocks=blocks,
        block_spread=block_spread,
        bays=bays,
        bay_spread=bay_spread,
        lost=lost,
        law=law,
        confidence=confidence,
        second_opinion=second_opinion,
        draws=draws,
        seed=seed,
    )
    return Power(_core.plan.power(asked, progress))


def precision(
    takes: Takes,
    *,
    trays: Whole,
    cuttings: Whole = 20,
    question: Question = "difference",
    correlation: Share | None = None,
    earlier: Any = None,
    margin: float | None = None,
    target: float | None = None,
    scores: Any = None,
    blocks: int | None = None,
    block_spread: float = 0.5,
    bays: int | None = None,
    bay_spread: float = 0.3,
    lost: float = 0.0,
    law: TrayLaw = "beta-binomial",
    confidence: Confidence = 0.95,
    draws: int = 10_000,
    seed: int = 1,
    progress: Progress | None = None,
) -> Precision:
    """How near such a trial comes: half the width of the interval, in the middle of all trials and in nine of ten.

    Parameters
    ----------
    takes, trays, cuttings, question, correlation, earlier, margin, target, scores
        As in :func:`power`; of several pairs, the interval is that of the first.
    blocks, block_spread, bays, bay_spread, lost, law, confidence, draws, seed, progress
        As in :func:`power`.

    Returns
    -------
    Precision
        A row for every design.

    Examples
    --------
    >>> import rootling as rl
    >>> found = rl.plan.precision((0.6, 0.6), trays=8, correlation=0.05, draws=1000)
    >>> 0.12 < found.rows[0].half_width < found.rows[0].half_width_90 < 0.25
    True
    """
    asked = options(
        takes,
        trays,
        cuttings,
        correlation,
        question=question,
        earlier=earlier,
        margin=margin,
        target=target,
        scores=scores,
        blocks=blocks,
        block_spread=block_spread,
        bays=bays,
        bay_spread=bay_spread,
        lost=lost,
        law=law,
        confidence=confidence,
        draws=draws,
        seed=seed,
    )
    return Precision(_core.plan.precision(asked, progress))


def trays_needed(
    takes: Takes,
    *,
    cuttings: Whole = 20,
    power: float = 0.8,
    question: Question = "difference",
    correlation: Share | None = None,
    earlier: Any = None,
    margin: float | None = None,
    target: float | None = None,
    scores: Any = None,
    together: Adjustment = "holm",
    blocks: int | None = None,
    block_spread: float = 0.5,
    trays_per_bay: int | None = None,
    bay_spread: float = 0.3,
    lost: float = 0.0,
    law: TrayLaw = "beta-binomial",
    cost_per_tray: float | None = None,
    cost_per_cutting: float | None = None,
    places: int | None = None,
    most_trays: int = 100,
    most_cuttings: int = 60,
    confidence: Confidence = 0.95,
    second_opinion: bool = False,
    draws: int = 10_000,
    seed: int = 1,
    progress: Progress | None = None,
) -> TraysNeeded:
    """The fewest trays of each level that show what is expected as often as asked, there and at every number beyond.

    Parameters
    ----------
    takes, cuttings, question, correlation, earlier, margin, target, scores, together
        As in :func:`power`.
    power : float
        How often the trial is to show it, a proportion.
    blocks, block_spread, bay_spread, lost, law, confidence, second_opinion, draws, seed, progress
        As in :func:`power`.
    trays_per_bay : int, optional
        Trays of each bay, where levels are given to whole bays: the answer is then the number of bays.
    cost_per_tray, cost_per_cutting : float, optional
        Cost of a tray without its cuttings, and of a cutting, in any currency. With one of them cuttings are chosen
        too, so that the trial costs least; ``cuttings`` is then not used.
    places : int, optional
        Places for trays on the benches, of all levels together: no trial that needs more is looked at.
    most_trays, most_cuttings : int
        Most trays of a level, and most cuttings of a tray, that are looked at.

    Returns
    -------
    TraysNeeded
        A row for every number of cuttings and every correlation; ``reached`` is false where ``most_trays`` or
        ``places`` fall short.

    Examples
    --------
    >>> import rootling as rl
    >>> found = rl.plan.trays_needed((0.50, 0.80), cuttings=20, correlation=0.05, draws=1000)
    >>> found.rows[0].reached and found.rows[0].power >= 0.8
    True
    """
    asked = options(
        takes,
        trays_per_bay or 8,
        cuttings,
        correlation,
        power=power,
        question=question,
        earlier=earlier,
        margin=margin,
        target=target,
        scores=scores,
        together=together,
        blocks=blocks,
        block_spread=block_spread,
        bays=None if trays_per_bay is None else 2,
        bay_spread=bay_spread,
        lost=lost,
        law=law,
        cost_per_tray=cost_per_tray,
        cost_per_cutting=cost_per_cutting,
        places=None if places is None else whole("places", places)[0],
        most_trays=most_trays,
        most_cuttings=most_cuttings,
        confidence=confidence,
        second_opinion=second_opinion,
        draws=draws,
        seed=seed,
    )
    if trays_per_bay is not None:
        asked["trial"]["trays"] = asked["trays"][0]
    return TraysNeeded(_core.plan.trays_needed(asked, progress))


def smallest_difference(
    take: float,
    *,
    trays: Whole,
    cuttings: Whole = 20,
    power: float = 0.8,
    correlation: Share | None = None,
    blocks: int | None = None,
    block_spread: float = 0.5,
    lost: float = 0.0,
    law: TrayLaw = "beta-binomial",
    confidence: Confidence = 0.95,
    draws: int = 10_000,
    seed: int = 1,
    progress: Progress | None = None,
) -> SmallestDifference:
    """The smallest rise and the smallest fall from a take that such a trial shows as often as asked.

    Parameters
    ----------
    take : float
        Take expected of the first level, a proportion.
    power : float
        How often the difference is to be shown, a proportion.
    trays, cuttings, correlation, blocks, block_spread, lost, law, confidence, draws, seed, progress
        As in :func:`power`.

    Returns
    -------
    SmallestDifference
        ``rise`` and ``fall`` of every design, proportions; none where even all or nothing would not be shown.

    Examples
    --------
    >>> import rootling as rl
    >>> found = rl.plan.smallest_difference(0.6, trays=8, correlation=0.05, draws=1000)
    >>> 0.17 < found.rows[0].rise < 0.26
    True
    """
    asked = options(
        [take],
        trays,
        cuttings,
        correlation,
        power=power,
        blocks=blocks,
        block_spread=block_spread,
        lost=lost,
        law=law,
        confidence=confidence,
        draws=draws,
        seed=seed,
    )
    return SmallestDifference(_core.plan.smallest_difference(asked, progress))


def p_values(
    takes: Takes,
    *,
    trays: int,
    cuttings: int = 20,
    question: Question = "difference",
    correlation: float = 0.05,
    blocks: int | None = None,
    block_spread: float = 0.5,
    law: TrayLaw = "beta-binomial",
    draws: int = 10_000,
    seed: int = 1,
) -> np.ndarray[Any, np.dtype[np.float64]]:
    """The leading P value of every drawn trial, for figures and checks of your own; 1 where a trial has none.

    Parameters
    ----------
    takes, trays, cuttings, question, correlation, blocks, block_spread, law, draws, seed
        As in :func:`power`.

    Returns
    -------
    numpy.ndarray
        One P value for each drawn trial.

    Examples
    --------
    >>> import rootling as rl
    >>> found = rl.plan.p_values((0.5, 0.5), trays=8, draws=1000)
    >>> found.shape, bool((found <= 0.05).mean() < 0.08)
    ((1000,), True)
    """
    if question in ("target", "not-worse", "equivalent"):
        raise ChoiceError(f'question="{question}" is decided by limits, not by a P value; ask rl.plan.power(...)')
    asked = options(
        takes,
        trays,
        cuttings,
        correlation,
        question=question,
        blocks=blocks,
        block_spread=block_spread,
        law=law,
        draws=draws,
        seed=seed,
    )
    return _core.plan.p_values(asked)


def draw_trial(
    takes: Takes,
    *,
    trays: int,
    cuttings: int = 20,
    correlation: float = 0.05,
    blocks: int | None = None,
    block_spread: float = 0.5,
    lost: float = 0.0,
    law: TrayLaw = "beta-binomial",
    number: int = 0,
    seed: int = 1,
) -> pl.DataFrame:
    """One of the trials that a plan is judged by: invented counts, to see what an answer would look like.

    Parameters
    ----------
    takes, trays, cuttings, correlation, blocks, block_spread, lost, law, seed
        As in :func:`power`.
    number : int
        Which trial, from 0.

    Returns
    -------
    polars.DataFrame
        A row for each tray: ``level``, ``block`` where there are blocks, ``tray``, ``rooted``, ``stuck``.

    Examples
    --------
    >>> import rootling as rl
    >>> drawn = rl.plan.draw_trial({2500: 0.60, 5000: 0.75}, trays=6)
    >>> trial = rl.load_trial(drawn, rooted="rooted", stuck="stuck", treatments=["level"], tray="tray")
    >>> trial.compare("level", 2500, 5000).kind
    'comparison'
    """
    import polars as pl

    asked = options(
        takes,
        trays,
        cuttings,
        correlation,
        question="target" if isinstance(takes, (int, float)) else "all-pairs",
        target=0.5 if isinstance(takes, (int, float)) else None,
        blocks=blocks,
        block_spread=block_spread,
        lost=lost,
        law=law,
        seed=seed,
    )
    levels, places, rooted, stuck = _core.plan.draw_trial(asked, number)
    names = asked["levels"] or [str(at + 1) for at in range(len(asked["trial"]["takes"]))]
    columns: dict[str, Any] = {"level": [names[at] for at in levels]}
    if blocks is not None:
        columns["block"] = [f"block {at + 1}" for at in places]
    columns |= {"tray": [str(at) for at in range(1, len(levels) + 1)], "rooted": rooted, "stuck": stuck}
    return pl.DataFrame(columns)
