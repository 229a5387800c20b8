"""Invented counts on a plan: the sheet as it would come back and its answer, before the first cutting is stuck."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._given import plain, shortened, spelled
from rootling._loading import load_trial
from rootling._results import Note, Result
from rootling.exceptions import ChoiceError
from rootling.plan.asked import take
from rootling.plan.laid_out import Layout
from rootling.trial import Trial

if TYPE_CHECKING:
    import polars as pl

USUAL = 20
INVENTED = "Invented counts, to show what the answer will look like and not what it will be."


class DryRun:
    """A trial that has not been: the filled ``sheet``, the ``trial`` loaded from it, and its ``answer``."""

    __slots__ = ("answer", "notes", "plan", "sheet", "trial")
    plan: Layout
    sheet: pl.DataFrame
    trial: Trial
    answer: Result
    notes: tuple[Note, ...]

    def __init__(self, plan: Layout, sheet: pl.DataFrame, trial: Trial, answer: Result) -> None:
        # What a plan cannot tell apart comes first: no count will mend it.
        said = {note.code: note for note in (*plan.notes, *answer.notes)}
        given = {"plan": plan, "sheet": sheet, "trial": trial, "answer": answer, "notes": tuple(said.values())}
        for name, value in given.items():
            object.__setattr__(self, name, value)

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("a dry run cannot be changed; make another with rl.plan.dry_run")

    def __reduce__(self) -> tuple[Any, ...]:
        return DryRun, (self.plan, self.sheet, self.trial, self.answer)

    @property
    def sentence(self) -> str:
        """What the tool would say of these counts, marked as invented."""
        return f"{INVENTED} {self.answer.sentence}"

    def _planned(self) -> str:
        own = {note.code for note in self.answer.notes}
        return "\n".join(f"Of the plan: {note.text}" for note in self.plan.notes if note.code not in own)

    def __repr__(self) -> str:
        return "\n".join(part for part in (INVENTED, self._planned(), repr(self.answer)) if part)

    def _repr_html_(self) -> str:
        from html import escape

        first = "".join(f"<p>{escape(line)}</p>" for line in (INVENTED, *self._planned().splitlines()))
        return first + self.answer._repr_html_()


def dry_run(
    plan: Layout,
    takes: Mapping[Any, float],
    *,
    correlation: float = 0.05,
    spread: float = 0.3,
    number: int = 0,
    seed: int = 1,
) -> DryRun:
    """Draws counts on a plan, loads them as the real sheet will be, and shows the answer that such counts would get.

    With one treatment of two levels that is their comparison, with more levels all of them compared, with several
    treatments the tests of their effects; ``.trial`` answers every other question. What the plan cannot tell apart
    (one bay for each length of darkness, a reader for each treatment) stands first.

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
    DryRun
        ``sheet``, a row for each tray with ``tray``, ``plan``, ``stuck``, ``rooted``; ``trial`` and ``answer`` from it.

    Raises
    ------
    ChoiceError
        When ``plan`` is no plan, or ``takes`` leave a level out.
    CountError
        For a take, a correlation or a spread that cannot be.

    Examples
    --------
    >>> import rootling as rl
    >>> plan = rl.plan.layout("blocks", {"strength": [2500, 5000]}, blocks=6, stuck=20, seed=1)
    >>> dry = rl.plan.dry_run(plan, {2500: 0.60, 5000: 0.90})
    >>> dry.answer.value > 0
    True
    >>> dry.trial.take_rates("strength").table().height
    2
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
    sheet = pl.DataFrame({**columns, "stuck": stuck, "rooted": rooted})
    trial = load_trial(sheet, plan=plan)
    return DryRun(plan, sheet, trial, _answer(trial, plan))


def _answer(trial: Trial, plan: Layout) -> Result:
    """What a trial of such a plan is asked first."""
    treatments = plan.options.treatments
    names = [one.name for one in treatments]
    if len(names) > 1:
        return trial.model(names, interactions=list(combinations(names, 2))).what_matters()
    levels = list(treatments[0].levels)
    return trial.compare(names[0], *levels) if len(levels) == 2 else trial.compare_all(names[0])


def _key(levels: Any) -> tuple[str, ...]:
    levels = plain(levels)
    return tuple(spelled(one) for one in levels) if isinstance(levels, tuple) else (spelled(levels),)
