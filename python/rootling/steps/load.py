"""Loading counts of a chain: what the user names, checked and handed to the core."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rootling import _frames
from rootling._given import checked_progress, column_names, is_name, one_column, plain, row_numbers, shortened
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

# Those that a table of plants has.
OF_PLANTS = ("last_step", "plant", "left", "times")

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
    plants: Any = None,
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
    progress: _frames.Progress | None = None,
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
        Counts never rise. A blank at the end (also ``-``, ``n/a`` and the like) is a batch too young for the step,
        never a loss; 0 is written as 0.
    batch : str or list of str, optional
        Columns that name a batch (or a tray) together; without them each row is one. Where they are named each row has
        a batch; rows called sum, total, mean and the like are asked about.
    states : str or list of str, optional
        Columns of states that may come and go, as callus: counted beside the chain, no step of it.
    taken_away : dict, optional
        Steps with the column of plants that left alive after them (sold, sampled, moved), for example
        ``{"rooted": "sold"}``: they leave the number that could pass the next step and are no losses.
    plants : optional
        A second table, of whatever kind ``data`` can be, with one row per plant for the later steps of batches that are
        counted in ``data``. It has the columns of ``batch``, ``last_step``, ``plant``, ``left`` and ``times``;
        treatments may stand in either. Plants of a batch are listed from a step on at which as many were counted;
        counts of later steps have to agree with them, and steps that only plants came to need no column in ``data``.
    last_step : str, optional
        Where each row is a plant: the column of the last step it reached, spelled as in ``steps``; ``batch`` is needed
        then.
    plant : str, optional
        Column that names a plant; a name that comes twice is a mistake.
    left : str, optional
        Column that says why a plant is followed no further though it did not fail: ``young``, ``sold``, ``sampled`` or
        ``moved``; blank where it failed at the next step or reached the end. It left after the last step it reached, so
        at the end of the chain it changes nothing: such a plant came to the end.
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
        ``{"strength": "rooted"}``. Levels of such a column are compared from that step to the end. Parts of a batch,
        and plants of one where each row is a plant, may have several: the batch stays one unit, and where each has both
        levels, what its parts share falls out of their difference. Blank where no plant came to it.
    dates : dict, optional
        Steps with the column of their day, for example ``{"grafted": "graft_date", "taken": "out_date"}``; with
        ``last_step`` also that column, for the day on which a plant was last seen. A later step is never earlier, none
        that was counted is still to come, and a year far from all others is asked about.
    parent : str, optional
        Column of the batch that this one was split from, or of the batches joined by ``+`` that it was merged of. A
        part begins with the plants it got, counted at a step that its origin counted too; parts and origin are one
        batch in all that is worked out, so that no plant is lost or counted twice. A part that names a level of its own
        counts at it from where it was split off; what came before counts at the level of its origin.
    day_first : bool, optional
        True where 3/4/2026 is the third of April.
    sheet, header_row, encoding
        Of a file: its sheet, the row of its names, how its letters are written.
    leave_out : list of int
        Numbers of rows that are no batches, such as sums; each has to be there.
    checked : list of str
        Questions that you have looked into: ``"similar_levels"``, ``"total_row"``, ``"odd_year"``.
    bad_rows : {"stop", "set-aside"}
        Stop on rows that cannot be used, or go on without them and list them in ``steps.set_aside``; each answer then
        says how many there are and why.
    progress : callable, optional
        Called with how much is done and how much there is, where an engine holds the table.

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

    Counts up to a step, and plants one by one behind it:

    >>> counts = {"batch": ["b1", "b2"], "grafted": [5, 4], "taken": [3, 2]}
    >>> plants = {"batch": ["b1"] * 3 + ["b2"] * 2, "last": ["taken", "rooted", "rooted", "taken", "rooted"]}
    >>> chain = ["grafted", "taken", "rooted"]
    >>> steps = rl.steps.load(counts, plants=plants, batch="batch", steps=chain, last_step="last")
    >>> steps.batches().filter(step="rooted")["passed"].to_list()
    [2, 1]
    """
    given = {name: value for name, value in locals().items() if name not in ("data", "progress")}
    said = {name: value for name, value in given.items() if _is_said(name, value)}
    held, asked = _frames.engine_of(data, checked_progress(progress)) or data, dict(said)
    if said.get("plants") is not None:
        asked["plants"] = _frames.engine_of(said["plants"], progress) or said["plants"]
    try:
        return _held_plants(held, asked) or _many_plants(held, asked) or _loaded(held, asked)
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
    beside = said.get("plants") is not None
    frame = said["plants"] if beside else data
    if not _is_long(frame) or not said.get("last_step"):
        return None
    columns = _columns_of_plants(said, frame.columns)
    if not set(columns) <= set(frame.columns) or any(said.get(name) for name in ONE_BY_ONE) or TIMES in frame.columns:
        return None
    if not _each_by_itself(frame, said.get("plant")):
        return None
    counted = frame.group_by(columns).len(name=TIMES)
    options = {**{name: one for name, one in said.items() if name != "plant"}, "times": TIMES}
    try:
        steps = _loaded(data, {**options, "plants": counted}) if beside else _loaded(counted, options)
    except (TrialDataError, ChoiceError):
        return None
    # Beside counts rows have numbers of their own, and batches may be too young.
    return None if any(not beside or one.severity != "information" for one in steps.issues) else steps


def _held_plants(data: Any, said: Mapping[str, Any]) -> Steps | None:
    """Plants whose rows an engine holds, counted there; None of anything else, and where plants have names."""
    beside = said.get("plants") is not None
    engine = _frames.engine_of(said["plants"] if beside else data)
    if engine is None or not said.get("last_step") or any(said.get(name) for name in (*ONE_BY_ONE, "plant")):
        return None
    columns = _columns_of_plants(said, engine.names())
    if not set(columns) <= set(engine.names()) or (engine.numbered and engine.height(LONG) <= LONG):
        return None
    found = _frames.counted(engine, columns, ())
    engine.told(_frames.PARTS, _frames.PARTS)
    counted, options = _frames.Input(None, found.frame, "engine"), {**said, "times": found.times}
    return _loaded(data, {**options, "plants": counted}) if beside else _loaded(counted, options)


def _columns_of_plants(said: Mapping[str, Any], held: Sequence[str]) -> list[str]:
    """The columns in which plants can be alike; ``held`` are those of their table."""
    beside = said.get("plants") is not None
    named = [said.get(name) for name in (("last_step", "left") if beside else SINGLE) if name not in ("plant", "times")]
    named += _several(said.get("batch"))
    # Beside counts treatments alone may be told of plants.
    named += [name for name in said.get("treatments") or {} if not beside or name in held]
    named += [] if beside else _several(said.get("levels"))
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
    plants = said.get("plants")
    singles = [name for name in SINGLE if options[name] is not None and (plants is None or name not in OF_PLANTS)]
    counts = last_step is None or plants is not None
    wanted = [*options["batch"], *(options["steps"] if counts else ()), *options["states"]]
    wanted += [one["column"] for part in ("taken_away", "dates", "treatments") for one in options[part]]
    wanted += options["levels"]
    wanted += [options[name] for name in singles]
    how, given = _read(data, wanted, said.get("sheet"), options["header_row"], said.get("encoding"))
    if plants is None:
        return _told(how, (*given, options))
    listed = [*options["batch"], *(options[name] for name in OF_PLANTS if options[name] is not None)]
    listed += [one["column"] for part in ("dates", "treatments") for one in options[part]]
    return again("both", (how, given, *_read(plants, listed, None, None, None), wanted, listed, options))


def _told(how: str, given: tuple[Any, ...]) -> Steps:
    """A chain; what is wrong with lines that an engine counted is told of the rows behind them."""
    try:
        return again(how, given)
    except TrialDataError as error:
        if how != "frame" or given[1] != "engine":
            raise
        frame, _, options = given
        lines = _frames.Lines(frame, options["times"], [], _frames.record_labels(options))
        raise lines.error(error, "the record of batches") from None


def _read(
    data: Any, wanted: Sequence[str], sheet: str | None, header_row: int | None, encoding: str | None
) -> tuple[str, tuple[Any, ...]]:
    """A table as the core takes it, with the kind it is of."""
    how = (sheet, header_row, encoding)
    found = data if isinstance(data, _frames.Input) else _frames.read(data, list(dict.fromkeys(wanted)), *how)
    if found.cells is not None:
        return "cells", (found.cells, found.notes or [])
    if found.text is not None:
        return "text", (found.text,)
    return "frame", (found.frame, found.source)


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
