"""Invented counts on a plan: the sheet as it would come back, to see the answer before the first cutting is stuck."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._given import plain, shortened, spelled
from rootling.exceptions import ChoiceError
from rootling.plan.asked import take
from rootling.plan.laid_out import Layout

if TYPE_CHECKING:
    import polars as pl

USUAL = 20


def dry_run(
    plan: Layout,
    takes: Mapping[Any, float],
    *,
    correlation: float = 0.05,
    spread: float = 0.3,
    number: int = 0,
    seed: int = 1,
) -> pl.DataFrame:
    """The record sheet of a plan, filled with invented counts: load it and ask what the real one will be asked.

    Parameters
    ----------
    plan : Layout
        What goes where, from :func:`rootling.plan.layout`.
    takes : dict
        The take expected of each level, a proportion: ``{2500: 0.60, 5000: 0.75}``; of each combination where
        treatments are crossed: ``{(2500, "K12"): 0.60, ...}``, in the order of the plan's treatments.
    correlation : float
        Correlation of two cuttings of one tray.
    spread : float
        Standard deviation of blocks, or of whole plots where there are no blocks, on the log odds.
    number : int
        Which of the invented trials, from 0.
    seed : int
        Seed of the draws.

    Returns
    -------
    polars.DataFrame
        A row for each tray: ``tray``, ``plan``, ``stuck``, ``rooted``; ``rl.load_trial(filled, plan=plan)`` reads it.

    Examples
    --------
    >>> import rootling as rl
    >>> plan = rl.plan.layout("blocks", {"strength": [2500, 5000]}, blocks=6, stuck=20, seed=1)
    >>> trial = rl.load_trial(rl.plan.dry_run(plan, {2500: 0.60, 5000: 0.90}), plan=plan)
    >>> trial.compare("strength", 2500, 5000).value > 0
    True
    """
    import polars as pl

    if not isinstance(plan, Layout):
        raise ChoiceError(f"plan={shortened(plan)} is no plan; give what rl.plan.layout made")
    if not isinstance(takes, Mapping):
        raise ChoiceError(f"takes={shortened(takes)} is no dictionary; write takes={{2500: 0.60, 5000: 0.75}}")
    expected = {_key(levels): take(value, f"level {shortened(levels)}") for levels, value in takes.items()}
    trays = plan.trays
    wanted = [tuple(tray.levels) for tray in trays]
    missing = sorted({levels for levels in wanted if levels not in expected})
    if missing:
        shown = ", ".join(" and ".join(levels) for levels in missing[:3])
        raise ChoiceError(f"takes= says nothing of {shown}; give the take expected of every level of the plan")
    places = [tray.block or tray.whole_plot or "" for tray in trays]
    codes = {place: at for at, place in enumerate(dict.fromkeys(places))}
    stuck = [plan.options.stuck or USUAL] * len(trays)
    drawn = {
        "takes": [expected[levels] for levels in wanted],
        "stuck": stuck,
        "places": [codes[place] for place in places],
        "spread": spread if len(codes) > 1 else 0.0,
        "correlation": correlation,
    }
    rooted = _core.plan.draw_counts(drawn, seed, number)
    columns = {"plan": [plan.fingerprint] * len(trays), "tray": [tray.tray for tray in trays]}
    return pl.DataFrame({**columns, "stuck": stuck, "rooted": rooted})


def _key(levels: Any) -> tuple[str, ...]:
    levels = plain(levels)
    return tuple(spelled(one) for one in levels) if isinstance(levels, tuple) else (spelled(levels),)
