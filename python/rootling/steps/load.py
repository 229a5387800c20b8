"""Loading counts of a chain: what the user names, checked and handed to the core."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rootling import _frames
from rootling._given import column_names, is_name, one_column, plain, row_numbers, shortened
from rootling._given.choices import BadRows
from rootling.exceptions import ChoiceError
from rootling.steps.chain import Steps, again

# Columns that are named one by one.
SINGLE = ("last_step", "plant", "left", "seedling", "rootstock", "scion", "season")


def load(
    data: Any,
    *,
    steps: Sequence[str],
    batch: str | Sequence[str] = (),
    states: str | Sequence[str] = (),
    taken_away: Mapping[str, str] | None = None,
    last_step: str | None = None,
    plant: str | None = None,
    left: str | None = None,
    seedling: str | None = None,
    rootstock: str | None = None,
    scion: str | None = None,
    season: str | None = None,
    sheet: str | None = None,
    header_row: int | None = None,
    encoding: str | None = None,
    leave_out: int | Sequence[int] = (),
    checked: str | Sequence[str] = (),
    bad_rows: BadRows = "stop",
) -> Steps:
    """Loads and checks counts of a chain: one row per batch or tray, a column for each step with how many reached it.

    Parameters
    ----------
    data
        A path (csv, parquet, xlsx), a polars or pandas frame, any Arrow-stream object, or a dictionary of columns.
    steps : list of str
        Columns of counts in the order of the chain, what was started first: ``["grafted", "taken", "rooted"]``.
        Counts never rise. A blank at the end is a batch too young for the step, never a loss.
    batch : str or list of str, optional
        Columns that name a batch (or a tray) together; without them each row is one.
    states : str or list of str, optional
        Columns of states that may come and go, as callus: counted beside the chain, no step of it.
    taken_away : dict, optional
        Steps with the column of plants that left alive after them (sold, sampled, moved), for example
        ``{"rooted": "sold"}``: they leave the number that could pass the next step and are no losses.
    last_step : str, optional
        Where each row is a plant: the column of the last step it reached, spelled as in ``steps``; ``batch`` is needed
        then.
    plant : str, optional
        Column that names a plant; a name that comes twice is a mistake.
    left : str, optional
        Column that says why a plant is followed no further though it did not fail: ``young``, ``sold``, ``sampled`` or
        ``moved``; blank where it failed at the next step or reached the end.
    seedling, rootstock, scion : str, optional
        Columns of the three cultivars.
    season : str, optional
        Column of the season.
    sheet, header_row, encoding
        Of a file: its sheet, the row of its names, how its letters are written.
    leave_out : list of int
        Numbers of rows that are no batches, such as sums; each has to be there.
    checked : list of str
        Questions that you have looked into: ``"similar_levels"``.
    bad_rows : {"stop", "set-aside"}
        Stop on rows that cannot be used, or go on without them and list them in ``steps.set_aside``.

    Returns
    -------
    Steps

    Raises
    ------
    TrialDataError
        With every problem found, in ``issues``.
    ChoiceError
        When an argument is not what it can be.

    Examples
    --------
    >>> import rootling as rl
    >>> rows = {"batch": ["b1", "b2"], "grafted": [50, 60], "taken": [45, 52], "rooted": [30, None]}
    >>> steps = rl.steps.load(rows, batch="batch", steps=["grafted", "taken", "rooted"])
    >>> [issue.code for issue in steps.issues]
    ['too_young']
    """
    options: dict[str, Any] = {
        "steps": column_names("steps", steps),
        "batch": column_names("batch", batch),
        "states": column_names("states", states),
        "taken_away": _taken_away(taken_away),
        "last_step": one_column("last_step", last_step),
        "plant": one_column("plant", plant),
        "left": one_column("left", left),
        "seedling": one_column("seedling", seedling),
        "rootstock": one_column("rootstock", rootstock),
        "scion": one_column("scion", scion),
        "season": one_column("season", season),
        "bad_rows": bad_rows,
        "checked": column_names("checked", checked),
        "leave_out": row_numbers("leave_out", leave_out),
        "header_row": _row("header_row", header_row),
    }
    wanted = [*options["batch"], *(options["steps"] if last_step is None else ()), *options["states"]]
    wanted += [one["column"] for one in options["taken_away"]]
    wanted += [options[name] for name in SINGLE if options[name] is not None]
    found = _frames.read(data, list(dict.fromkeys(wanted)), sheet, options["header_row"], encoding)
    if found.cells is not None:
        return again("cells", (found.cells, found.notes or [], options))
    if found.text is not None:
        return again("text", (found.text, options))
    return again("frame", (found.frame, found.source, options))


def _taken_away(value: Any) -> list[dict[str, str]]:
    given: Any = {} if value is None else value
    if not isinstance(given, Mapping) or not all(is_name(one) for pair in given.items() for one in pair):
        line = 'taken_away={"rooted": "sold"}'
        raise ChoiceError(f"taken_away={shortened(value)} is no dictionary of steps and columns; write {line}")
    return [{"step": step, "column": column} for step, column in given.items()]


def _row(option: str, value: Any) -> int | None:
    value = plain(value)
    if value is None or (isinstance(value, int) and not isinstance(value, bool) and 0 < value < 2**31):
        return value
    raise ChoiceError(f"{option}={shortened(value)} is no whole number above 0; write {option}=3")
