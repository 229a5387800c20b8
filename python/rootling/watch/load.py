"""Loading a record of batches: what the user names, checked and handed to the core."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rootling import _frames
from rootling._given import checked_progress, column_names, is_name, one_column, plain, row_numbers, shortened
from rootling._given.choices import BadRows
from rootling.exceptions import ChoiceError, TrialDataError
from rootling.watch.watch import Watch, again

__all__ = ["load"]


def load(
    data: Any,
    *,
    started: str,
    alive: str,
    set_date: str,
    reading_date: str,
    batch: str | Sequence[str] = (),
    cultivars: str | Sequence[str] = (),
    grafter: str | None = None,
    places: str | Sequence[str] = (),
    removed: str | None = None,
    status: str | None = None,
    parent: str | None = None,
    steps: Mapping[str, tuple[str, str]] | None = None,
    season: str | None = None,
    season_begins: int | None = None,
    reading_age: int | None = None,
    day_first: bool | None = None,
    today: Any = None,
    sheet: str | None = None,
    header_row: int | None = None,
    encoding: str | None = None,
    leave_out: int | Sequence[int] = (),
    checked: str | Sequence[str] = (),
    bad_rows: BadRows = "stop",
    progress: _frames.Progress | None = None,
) -> Watch:
    """Loads and checks a record of batches: one row per batch and reading.

    Parameters
    ----------
    data
        A path (csv, parquet, xlsx), a polars or pandas frame, any Arrow-stream object, or a dictionary of columns; also
        a table that an engine holds, as for :func:`rootling.load_trial`, of which the columns named come over.
    started, alive : str
        Columns of plants the batch began with, and of those alive at the reading. A blank count is a gap, never 0.
    set_date, reading_date : str
        Columns of the day it was set and the day it was read; best written as 2026-03-31.
    batch : str or list of str, optional
        Columns that name a batch together, for example ``["season", "batch"]``; without them each row is a batch.
    cultivars : str or list of str, optional
        Columns of cultivars: seedling, rootstock, scion.
    grafter : str, optional
        Column of who did the grafting.
    places : str or list of str, optional
        Columns of places: room, bench. Each level of a place gets a chart of its own.
    removed : str, optional
        Column of plants taken away alive (culled, sold, sampled): they are no deaths and leave the number started.
    status : str, optional
        Column that says ``read``, ``not due``, ``moved`` or ``sampled``; only what was read counts.
    parent : str, optional
        Column of the batch that this one was split from. A batch that descends from itself is a mistake.
    steps : dict, optional
        Steps of the chain with the columns of plants that began each and of those alive at its end, for example
        ``{"graft take": ("grafted", "taken"), "out of the dark": ("darkened", "out")}``. After a signal the answer says
        which step carries it.
    season : str, optional
        Column of the season; the year in which it began when left out.
    season_begins : int, optional
        Month in which a season begins, 1 to 12; January when left out.
    reading_age : int, optional
        Days after setting at which a batch is judged: its first reading about then or later counts. The usual age of
        last readings when left out.
    day_first : bool, optional
        True where 3/4/2026 is the third of April.
    today : str or date, optional
        Dates after it are mistakes; the clock's day when left out.
    sheet, header_row, encoding
        Of a file: its sheet, the row of its names, how its letters are written.
    leave_out : list of int
        Numbers of rows that are no readings, such as sums; each has to be there.
    checked : list of str
        Questions that you have looked into: ``"similar_batches"``, ``"similar_levels"``.
    bad_rows : {"stop", "set-aside"}
        Stop on rows that cannot be used, or go on without them and list them in ``watch.set_aside``.
    progress : callable, optional
        Called with how much is done and how much there is, where an engine holds the table.

    Returns
    -------
    Watch

    Raises
    ------
    TrialDataError
        With every problem found, in ``issues``.
    ChoiceError
        When an argument is not what it can be.

    Examples
    --------
    >>> import rootling as rl
    >>> rows = {"batch": ["b1", "b2"], "room": ["A", "B"], "set": ["2026-01-05"] * 2, "read": ["2026-03-02"] * 2,
    ...         "started": [15, 15], "alive": [13, 12]}
    >>> watch = rl.watch.load(rows, batch="batch", places="room", set_date="set", reading_date="read",
    ...                       started="started", alive="alive")
    >>> watch.reading_age
    56
    """
    options: dict[str, Any] = {
        "batch": column_names("batch", batch),
        "started": _name("started", started),
        "alive": _name("alive", alive),
        "set_date": _name("set_date", set_date),
        "reading_date": _name("reading_date", reading_date),
        "cultivars": column_names("cultivars", cultivars),
        "grafter": one_column("grafter", grafter),
        "places": column_names("places", places),
        "removed": one_column("removed", removed),
        "status": one_column("status", status),
        "parent": one_column("parent", parent),
        "steps": _steps(steps),
        "season": one_column("season", season),
        "season_begins": _whole("season_begins", season_begins),
        "reading_age": _whole("reading_age", reading_age),
        "day_first": day_first,
        "today": None if today is None else str(today)[:10],
        "bad_rows": bad_rows,
        "checked": column_names("checked", checked),
        "leave_out": row_numbers("leave_out", leave_out),
        "header_row": _whole("header_row", header_row),
    }
    parts = ("batch", "cultivars", "places")
    single = (*(options[name] for name in ("started", "alive", "set_date", "reading_date", "grafter", "removed")),)
    wanted = [*single, *(options[name] for name in ("status", "parent", "season"))]
    wanted += [name for part in parts for name in options[part]]
    wanted += [one[end] for one in options["steps"] for end in ("started", "alive")]
    columns = list(dict.fromkeys(name for name in wanted if name is not None))
    try:
        told = checked_progress(progress)
        found = _frames.read(data, columns, sheet, options["header_row"], encoding, progress=told)
    except TrialDataError as error:
        raise _of_batches(error) from None
    if found.cells is not None:
        return again("cells", (found.cells, found.notes or [], options))
    if found.text is not None:
        return again("text", (found.text, options))
    try:
        return again("frame", (found.frame, found.source, options))
    except TrialDataError as error:
        if found.source != "engine" or found.frame is None:
            raise
        lines = _frames.Lines(found.frame, None, [], _frames.record_labels(options))
        raise lines.error(error, "the record of batches") from None


def _of_batches(error: TrialDataError) -> TrialDataError:
    """What is wrong with a table, told of a record of batches."""
    lines = "".join(f"\n  {issue}" for issue in error.issues)
    count = len(error.issues)
    told = f"{count} {'problem' if count == 1 else 'problems'} in the record of batches:{lines}"
    return TrialDataError(told, error.issues, error.paste)


def _name(option: str, value: Any) -> str:
    """The name of a column that has to be given."""
    found = one_column(option, value)
    if found is None:
        raise ChoiceError(f'{option}=None is no name of a column; write {option}="name of the column"')
    return found


def _steps(value: Any) -> list[dict[str, str]]:
    given: Any = {} if value is None else value
    pairs: list[tuple[Any, Any]] = list(given.items()) if isinstance(given, Mapping) else [(None, None)]
    for name, pair in pairs:
        if not is_name(name) or not isinstance(pair, (tuple, list)) or not all(map(is_name, pair)) or len(pair) != 2:
            line = 'steps={"graft take": ("grafted", "taken")}'
            raise ChoiceError(f"steps={shortened(value)} is no dictionary of steps; write {line}")
    return [{"step": name, "started": pair[0], "alive": pair[1]} for name, pair in pairs]


def _whole(option: str, value: Any) -> int | None:
    value = plain(value)
    if value is None or (isinstance(value, int) and not isinstance(value, bool) and 0 < value < 2**31):
        return value
    raise ChoiceError(f"{option}={shortened(value)} is no whole number above 0; write {option}=3")
