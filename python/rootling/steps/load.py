"""Loading counts of a chain: what the user names, checked and handed to the core."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rootling import _frames
from rootling._given import column_names, is_name, one_column, plain, row_numbers, shortened
from rootling._given.choices import BadRows
from rootling.exceptions import ChoiceError, TrialDataError
from rootling.steps.chain import Steps, again
from rootling.steps.going_on import with_line

# Columns that are named one by one.
SINGLE = (
    "last_step",
    "plant",
    "left",
    "times",
    "seedling",
    "rootstock",
    "scion",
    "season",
    "room",
    "grafter",
    "parent",
)

# Rows from which plants that are alike are put together before they are read, and the column that counts them.
LONG = 10_000
TIMES = "plants alike"
# What is said of rows one by one, so that none is alike to another.
ONE_BY_ONE = ("times", "dates", "leave_out", "header_row")


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
    times: str | None = None,
    seedling: str | None = None,
    rootstock: str | None = None,
    scion: str | None = None,
    season: str | None = None,
    room: str | None = None,
    grafter: str | None = None,
    levels: str | Sequence[str] = (),
    treatments: Mapping[str, str] | None = None,
    dates: Mapping[str, str] | None = None,
    parent: str | None = None,
    day_first: bool | None = None,
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
        A path (csv, parquet, xlsx), a polars or pandas frame, any Arrow-stream object, or a dictionary of columns; also
        a table that an engine holds, as for :func:`rootling.load_trial`: with one row per plant and no ``plant=`` the
        engine counts plants that are alike.
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
    times : str, optional
        Column of how many plants a row stands for, where plants that are alike in all that is named share one.
    seedling, rootstock, scion : str, optional
        Columns of the three cultivars.
    season : str, optional
        Column of the season: limits hold within it, and how many to start learns from three of them and more.
    room, grafter : str, optional
        Columns of the room and of who did the grafting.
    levels : list of str, optional
        Columns of other levels that batches differ in. All columns of levels can be compared.
    treatments : dict, optional
        Treatments of one step: their column with the step before which plants get them, for example
        ``{"strength": "rooted"}``. Levels of such a column are compared from that step to the end.
    dates : dict, optional
        Steps with the column of their day, for example ``{"grafted": "graft_date", "taken": "out_date"}``; with
        ``last_step`` also that column, for the day on which a plant was last seen. A later step is never earlier.
    parent : str, optional
        Column of the batch that this one was split from, or of the batches joined by ``+`` that it was merged of. A
        part begins with the plants it got, counted at a step that its origin counted too; parts and origin are one
        batch in all that is worked out, so that no plant is lost or counted twice.
    day_first : bool, optional
        True where 3/4/2026 is the third of April.
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
    given = {name: value for name, value in locals().items() if name != "data"}
    said = {name: value for name, value in given.items() if _is_said(name, value)}
    try:
        return _held_plants(data, said) or _many_plants(data, said) or _loaded(data, said)
    except TrialDataError as error:
        engine = _frames.engine_of(data)
        if engine is not None and (said.get("last_step") or not engine.numbered):
            # Rows that were counted are in no line to paste.
            raise
        raise with_line(error, data, said, _loaded) from None


def _many_plants(data: Any, said: Mapping[str, Any]) -> Steps | None:
    """A long frame of plants, those that are alike put together first; None where rows have to be read one by one.

    What is wrong is told of rows, so a frame with anything to tell is read row by row after all.
    """
    columns = _columns_of_plants(said)
    if not _is_long(data) or not said.get("last_step") or not set(columns) <= set(data.columns):
        return None
    if any(said.get(name) for name in ONE_BY_ONE) or TIMES in data.columns:
        return None
    if not _each_by_itself(data, said.get("plant")):
        return None
    counted = data.group_by(columns).len(name=TIMES)
    try:
        steps = _loaded(counted, {**{name: one for name, one in said.items() if name != "plant"}, "times": TIMES})
    except (TrialDataError, ChoiceError):
        return None
    return None if steps.issues else steps


def _held_plants(data: Any, said: Mapping[str, Any]) -> Steps | None:
    """Plants whose rows an engine holds, counted there; None of anything else, and where plants have names."""
    engine = _frames.engine_of(data)
    if engine is None or not said.get("last_step") or any(said.get(name) for name in (*ONE_BY_ONE, "plant")):
        return None
    columns = _columns_of_plants(said)
    if not set(columns) <= set(engine.names()) or (engine.numbered and engine.height(LONG) <= LONG):
        return None
    found = _frames.counted(engine, columns, ())
    return _loaded(_frames.Input(None, found.frame, "engine"), {**said, "times": found.times})


def _columns_of_plants(said: Mapping[str, Any]) -> list[str]:
    """The columns in which plants can be alike."""
    named = [said.get(name) for name in SINGLE if name not in ("plant", "times")]
    named += [*_several(said.get("batch")), *_several(said.get("levels")), *(said.get("treatments") or {})]
    return list(dict.fromkeys(name for name in named if name is not None))


def _each_by_itself(data: Any, plant: str | None) -> bool:
    """True where plants have no names, or each has one of its own."""
    if plant is None:
        return True
    return plant in data.columns and not data[plant].null_count() and data[plant].n_unique() == data.height


def _is_long(data: Any) -> bool:
    return (
        type(data).__module__.startswith("polars.") and hasattr(data, "group_by") and getattr(data, "height", 0) > LONG
    )


def _several(given: Any) -> list[str]:
    return [given] if isinstance(given, str) else list(given or ())


def _is_said(name: str, value: Any) -> bool:
    if name == "bad_rows":
        return bool(value != "stop")
    return value is not None and not (isinstance(value, tuple) and not value)


def _loaded(data: Any, said: Mapping[str, Any]) -> Steps:
    """A chain by the options that were said."""
    last_step, header_row = said.get("last_step"), said.get("header_row")
    options: dict[str, Any] = {
        "steps": column_names("steps", said.get("steps", ())),
        "batch": column_names("batch", said.get("batch", ())),
        "states": column_names("states", said.get("states", ())),
        "taken_away": [
            {"step": step, "column": one}
            for step, one in _pairs("taken_away", said.get("taken_away"), '{"rooted": "sold"}')
        ],
        "levels": column_names("levels", said.get("levels", ())),
        "treatments": [
            {"column": one, "step": step}
            for one, step in _pairs("treatments", said.get("treatments"), '{"strength": "rooted"}')
        ],
        "dates": [
            {"step": step, "column": one}
            for step, one in _pairs("dates", said.get("dates"), '{"grafted": "graft_date"}')
        ],
        "day_first": said.get("day_first"),
        **{name: one_column(name, said.get(name)) for name in SINGLE},
        "bad_rows": said.get("bad_rows", "stop"),
        "checked": column_names("checked", said.get("checked", ())),
        "leave_out": row_numbers("leave_out", said.get("leave_out", ())),
        "header_row": _row("header_row", header_row),
    }
    wanted = [*options["batch"], *(options["steps"] if last_step is None else ()), *options["states"]]
    wanted += [one["column"] for part in ("taken_away", "dates", "treatments") for one in options[part]]
    wanted += options["levels"]
    wanted += [options[name] for name in SINGLE if options[name] is not None]
    how = (said.get("sheet"), options["header_row"], said.get("encoding"))
    found = data if isinstance(data, _frames.Input) else _frames.read(data, list(dict.fromkeys(wanted)), *how)
    if found.cells is not None:
        return again("cells", (found.cells, found.notes or [], options))
    if found.text is not None:
        return again("text", (found.text, options))
    try:
        return again("frame", (found.frame, found.source, options))
    except TrialDataError as error:
        if found.source != "engine" or found.frame is None:
            raise
        lines = _frames.Lines(found.frame, options["times"], [], _frames.record_labels(options))
        raise lines.error(error, "the record of batches") from None


def _pairs(option: str, value: Any, line: str) -> list[tuple[str, str]]:
    given: Any = {} if value is None else value
    if not isinstance(given, Mapping) or not all(is_name(one) for pair in given.items() for one in pair):
        raise ChoiceError(f"{option}={shortened(value)} is no dictionary of steps and columns; write {option}={line}")
    return list(given.items())


def _row(option: str, value: Any) -> int | None:
    value = plain(value)
    if value is None or (isinstance(value, int) and not isinstance(value, bool) and 0 < value < 2**31):
        return value
    raise ChoiceError(f"{option}={shortened(value)} is no whole number above 0; write {option}=3")
