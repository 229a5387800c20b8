"""Loading visits: what the user names, checked and handed to the core."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rootling import _frames
from rootling._given import checked_progress, column_names, one_column, plain, row_numbers, shortened
from rootling._given.choices import BadRows
from rootling.exceptions import ChoiceError
from rootling.steps.times import Visits, visited

# Columns that are named one by one.
SINGLE = ("day", "tray", "started", "rooted", "dead", "sampled", "became", "last_without", "plant", "block")


def visits(
    data: Any,
    *,
    day: str,
    tray: str | None = None,
    started: str | None = None,
    rooted: str | None = None,
    dead: str | None = None,
    sampled: str | None = None,
    became: str | None = None,
    last_without: str | None = None,
    plant: str | None = None,
    treatments: str | Sequence[str] = (),
    block: str | None = None,
    same_visit: int = 0,
    sheet: str | None = None,
    header_row: int | None = None,
    encoding: str | None = None,
    leave_out: int | Sequence[int] = (),
    checked: str | Sequence[str] = (),
    bad_rows: BadRows = "stop",
    progress: _frames.Progress | None = None,
) -> Visits:
    """Loads and checks visits: one row per tray and visit with how many have rooted so far, or one row per plant.

    Parameters
    ----------
    data
        A path (csv, parquet, xlsx), a polars or pandas frame, any Arrow-stream object, or a dictionary of columns.
    day : str
        Column of days since setting, whole numbers: of the visit; of a plant the day on which its end was seen, or the
        last on which it was seen at all.
    tray : str, optional
        Column of the tray. Rows of trays need it; rows of plants without it count as if each stood alone.
    started, rooted : str, optional
        Columns of plants the tray began with, and of plants rooted so far. Counts are so far, as a person writes them
        at each visit, so they never fall.
    dead, sampled : str, optional
        Columns of plants dead so far, and of plants taken away so far, alive and without roots.
    became : str, optional
        Where each row is a plant: the column of what became of it, ``rooted`` or ``dead``; blank (or young, sold,
        sampled, moved) where it was followed no further.
    last_without : str, optional
        Where each row is a plant: the column of the last day on which it was seen waiting.
    plant : str, optional
        Column that names a plant; a name that comes twice in a tray is a mistake.
    treatments : list of str, optional
        Columns of treatments; a tray has one level of each.
    block : str, optional
        Column of the block in which a tray stands: levels are compared within blocks.
    same_visit : int
        Days by which visits may lie apart that count as one, by its last day, for trays set on different days.
    sheet, header_row, encoding
        Of a file: its sheet, the row of its names, how its letters are written.
    leave_out : list of int
        Numbers of rows to leave out; each has to be there.
    checked : list of str
        Questions that you have looked into: ``"similar_levels"``.
    bad_rows : {"stop", "set-aside"}
        Stop on rows that cannot be used, or go on without them and list them in ``visits.set_aside``.
    progress : callable, optional
        Called with how much is done and how much there is, where an engine holds the table.

    Returns
    -------
    Visits

    Raises
    ------
    TrialDataError
        With every problem found, in ``issues``.
    CountError
        When columns make neither rows of trays nor rows of plants.

    Notes
    -----
    Plants too young to have rooted are no failures: they are followed until they were last seen. Visits that a tray
    missed are allowed; what happened over them is shared out as in the other trays.

    Examples
    --------
    >>> import rootling as rl
    >>> rows = {"tray": ["a", "a", "b", "b"], "day": [14, 28, 14, 28], "started": [20] * 4, "rooted": [3, 11, 2, 9]}
    >>> seen = rl.steps.visits(rows, tray="tray", day="day", started="started", rooted="rooted")
    >>> seen.days
    (14, 28)
    """
    given = (day, tray, started, rooted, dead, sampled, became, last_without, plant, block)
    options: dict[str, Any] = {name: one_column(name, value) for name, value in zip(SINGLE, given, strict=True)}
    options |= {
        "treatments": column_names("treatments", treatments),
        "same_visit": _whole("same_visit", same_visit),
        "bad_rows": bad_rows,
        "checked": column_names("checked", checked),
        "leave_out": row_numbers("leave_out", leave_out),
        "header_row": None if header_row is None else _whole("header_row", header_row),
    }
    if options["day"] is None:
        raise ChoiceError('day= names the column of days since setting; write day="name of the column"')
    wanted = [options[name] for name in SINGLE if options[name] is not None] + options["treatments"]
    told = checked_progress(progress)
    found = _frames.read(data, list(dict.fromkeys(wanted)), sheet, options["header_row"], encoding, progress=told)
    if found.cells is not None:
        return visited("cells", (found.cells, found.notes or [], options))
    if found.text is not None:
        return visited("text", (found.text, options))
    return visited("frame", (found.frame, found.source, options))


def _whole(option: str, value: Any) -> int:
    value = plain(value)
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 2**31:
        return value
    raise ChoiceError(f"{option}={shortened(value)} is no whole number of 0 or more; write {option}=2")
