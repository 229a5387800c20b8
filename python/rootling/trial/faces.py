"""A trial shown in terminal and notebook, its units as a frame, and the name of its strength."""

from __future__ import annotations

from itertools import pairwise
from operator import mul
from typing import TYPE_CHECKING, Any

from rootling._pages import in_notebook
from rootling._words import own_names
from rootling.trial.set_aside import count_of_rows

if TYPE_CHECKING:
    import polars as pl

    from rootling.trial.trial import Trial


def text(trial: Trial) -> str:
    """The design, how many rows are set aside, and the cautions."""
    lines = [repr(trial.design)]
    if trial.set_aside:
        rows = (trial._core.options.get("shaped") or {}).get("rows") or ()
        lines.append(f"{count_of_rows(trial.set_aside, rows)} set aside; see .set_aside")
    return "\n".join([*lines, *(f"! {note.text}" for note in trial.notes)])


def html(trial: Trial) -> str:
    """The same for a notebook."""
    lines = [*trial.design["lines"], *(note.text for note in trial.notes)]
    return in_notebook("said", said=trial.design["sentence"], lines=lines)


def counts(trial: Trial, outcome: str) -> pl.DataFrame:
    """One row per unit: its treatments, its place, and in ``rooted`` of ``stuck`` what is counted of how many."""
    import polars as pl

    units = trial._core.units if outcome == "take" else trial._core.units_of(outcome)
    roles = ("tray", "block", "whole_plot", "season", "stock_plant")
    factors = [*units["treatments"], *(units[role] for role in roles)]
    columns = [(f["name"], [f["levels"][code] for code in f["codes"]]) for f in factors if f is not None]
    columns += [("rooted", units["rooted"]), ("stuck", units["stuck"])]
    if outcome == "take":
        columns += _means(trial)
    names = own_names([name for name, _ in columns])
    return pl.DataFrame({name: values for name, (_, values) in zip(names, columns, strict=True)})


def _means(trial: Trial) -> list[tuple[str, list[Any]]]:
    """The mean of each response over the cuttings measured in a unit, and how many these are."""
    columns: list[tuple[str, list[Any]]] = []
    for one in trial._core.responses:
        if one["response"]["kind"] == "grade":
            continue
        name, starts = one["response"]["column"], one["starts"]
        spans = [slice(start, end) for start, end in pairwise(starts)]
        numbers = [sum(one["times"][span]) for span in spans]
        totals = [sum(map(mul, one["values"][span], one["times"][span])) for span in spans]
        means = [total / number if number else None for total, number in zip(totals, numbers, strict=True)]
        columns += [(name, means), (f"{name} measured", numbers)]
    return columns


def unit_of(trial: Trial, column: str) -> str | None:
    """Unit, substance and method of the declared strength, when this is its column."""
    options = trial._core.options
    named = options["strength_column"] or "strength"
    known = options["strength"] if column == named else None
    return None if known is None else "{unit} {substance} ({method})".format(**known).replace(" (None)", "")
