"""Loading a trial: what the user names, checked and handed to the core."""

from __future__ import annotations

import ast
import os
import warnings
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rootling import _core, _frames
from rootling._arguments import call, options_of, wanted_of
from rootling._calls import check_known
from rootling._options import plain
from rootling._types import BadRows
from rootling.exceptions import LONGEST_LINE, Issue, RootlingWarning, TrialDataError
from rootling.trial import Trial
from rootling.units import Strength

if TYPE_CHECKING:
    import polars as pl

__all__ = ["load_trial"]


def load_trial(
    data: Any,
    *,
    rooted: str | None = None,
    stuck: str | int | None = None,
    dead: str | None = None,
    treatments: str | Sequence[str] | None = None,
    tray: str | Sequence[str] | None = None,
    block: str | None = None,
    whole_plot: str | None = None,
    season: str | None = None,
    stock_plant: str | None = None,
    covariates: str | Sequence[str] = (),
    strength: Strength | None = None,
    control: Mapping[str, Any] | None = None,
    level_order: Mapping[str, Sequence[Any]] | None = None,
    rooted_percent: str | bool | None = None,
    wide: Mapping[str, Any] | None = None,
    fill_down: str | Sequence[str] = (),
    lost: str | None = None,
    leave_out: int | Sequence[int] = (),
    sheet: str | None = None,
    header_row: int | None = None,
    thousands: str | None = None,
    decimal: str | None = None,
    encoding: str | None = None,
    checked: str | Sequence[str] = (),
    bad_rows: BadRows = "stop",
    distinct_levels: bool = False,
    earlier: Trial | Mapping[str, Any] | Sequence[Trial | Mapping[str, Any]] = (),
    **unknown: Any,
) -> Trial:
    """Loads and checks the counts of a rooting trial.

    Parameters
    ----------
    data
        A path (csv, parquet, xlsx), a polars or pandas frame, any Arrow-stream object, or a dictionary of columns.
    rooted : str
        Column of cuttings rooted per tray; or, without ``stuck``, of 0/1, true/false, yes/no with one row per cutting.
    stuck : str or int, optional
        Column of cuttings set per tray, or the number that every tray had (``stuck=20``).
    dead : str, optional
        Column of cuttings that died, counted as ``rooted`` is; rooted and dead together cannot exceed the
        number stuck. Then :meth:`Trial.damage_threshold` says at which strength deaths begin to rise.
    treatments : str or list of str
        Columns of what was tried.
    tray, block, whole_plot, season, stock_plant : str, optional
        Columns of the design. The tray is the experimental unit: without it no answer knows how trays differ.
        ``tray="each-row"`` says that every row is a tray; ``tray=["strength", "tray"]`` that tray numbers start afresh
        in each strength.
    covariates : list of str
        Numeric columns.
    strength : Strength, optional
        What the strength column means.
    control : dict, optional
        The control level of treatments, for example ``{"strength": 0}``: models set the others against it. The control
        of a declared strength is 0 where it was tried.
    level_order : dict, optional
        Levels in an order of their own, per column, for example ``{"light": ["dark", "dim", "bright"]}``. Numbers stand
        in their order and other levels in that of the alphabet otherwise.
    rooted_percent : str, optional
        Column of percentages (or shares, all between 0 and 1) in place of ``rooted``. With the number stuck they become
        counts; each has to be a whole number of cuttings to its rounding. True beside ``wide``.
    wide : dict, optional
        The columns of a sheet with one column per level, which hold cuttings rooted:
        ``{"strength": ["0", "1000", "3000"]}``, or ``{"strength": {0: "water", 1000: "low"}}`` where the names are not
        the levels. Each cell is a tray; an empty one is none. With the cuttings stuck in a column of their own beside
        each: ``{"strength": {0: ("0 rooted", "0 stuck"), 1000: ("1000 rooted", "1000 stuck")}}``.
    fill_down : list of str
        Columns whose blank cells and ditto marks take the entry above, as merged cells need it.
    lost : str, optional
        Column that says why a tray was lost. Rows with such a reason and nothing counted are set aside.
    leave_out : list of int
        Numbers of rows that are no trays, such as sums; as the messages and the spreadsheet number them.
    sheet : str, optional
        Sheet of a workbook; the one with the named columns when left out.
    header_row : int, optional
        Row of the column names, where it is not found by the names themselves.
    thousands, decimal : {".", ",", " ", "'"}, optional
        Marks within numbers, where they can be read two ways.
    encoding : str, optional
        How the letters of a text file are written, where that is not UTF-8, for example ``"cp1252"``.
    checked : list of str
        Codes of questions that you have looked into and whose answer is that all is right, for example
        ``["percent_as_counts"]``.
    bad_rows : {"stop", "set_aside"}
        Stop on rows that cannot be used, or go on without them and list them in ``trial.set_aside``.
    distinct_levels : bool
        Say True once you have checked that levels such as "K12" and "k12 " really are different.
    earlier : list of Trial or dict, optional
        Earlier trials of the same place, or what their :meth:`Trial.for_later` gave (a record that json can keep).
        How their trays, bays, blocks, seasons and plants differed then has a say in the error of this trial, with
        degrees of freedom of its own: most where this trial has few units, as with two bays per level. Nothing is
        tested first. The mean squares of this trial are averaged with what the earlier ones lead to expect; their
        weight follows from how much spreads differ between them, is never their summed degrees of freedom, and stays
        small with fewer than three of them. Units are matched by column name. ``trial.design.lines`` says how many
        degrees of freedom came from earlier trials, and a note says when this trial differs from them, which changes
        nothing. Counts of earlier trials do not enter any rate. Used by ``take_rates``, ``compare``, ``compare_all``,
        ``association``, ``trend`` and models with ``trays="auto"``, whose answers say so. Not by strength curves,
        response surfaces, damage thresholds and :meth:`Trial.tray_correlation`, nor by models whose trays enter by a
        law, by a dispersion or robustly. When not to use: for trials of another place or of another way of working,
        since nothing checks that they are alike (Smyth 2004; Lonnstedt and Speed 2002).

    Returns
    -------
    Trial

    Raises
    ------
    TrialDataError
        With every problem found, in ``issues``, and the call that would answer them, in ``paste`` and at the end of the
        message; also where an earlier trial has no trays, is this trial itself, or calls its units otherwise.
    ChoiceError
        When an argument is not what it can be.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> trial.design.n_units
    12
    >>> named = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray", "block": "bench"}
    >>> now = rl.load_trial(rl.demo.two_strengths(seed=2), **named, earlier=[trial])
    >>> any("1 earlier trial" in line for line in now.design.lines)
    True

    A sheet with one column per strength, twenty cuttings in each tray:

    >>> sheet = {"bench": ["A", "B", "C", "D"], "0": [3, 4, 2, 3], "1000": [9, 11, 12, 10]}
    >>> trial = rl.load_trial(sheet, wide={"strength": ["0", "1000"]}, stuck=20, tray="each-row", block="bench")
    >>> trial.design.n_units
    8
    """
    given = {name: value for name, value in locals().items() if name not in ("data", "unknown")}
    check_known(unknown, given, "load_trial")
    said = {name: value for name, value in given.items() if not _is_default(value)}
    try:
        return _load(data, given)
    except TrialDataError as error:
        raise _with_line(error, data, said) from None


def _is_default(value: Any) -> bool:
    return value is None or value is False or (isinstance(value, (str, tuple)) and value in ((), "stop"))


def _load(data: Any, given: Mapping[str, Any]) -> Trial:
    options = options_of(given) | {"earlier": _for_later(given["earlier"])}
    wanted = wanted_of(options)
    found = _frames.read(data, wanted, given["sheet"], given["header_row"], given["encoding"])
    if found.cells is not None:
        return Trial(_core.trial.read_cells(found.cells, found.notes or [], options))
    if found.text is not None:
        return Trial(_core.trial.read_csv(found.text, options))
    return Trial(_core.trial.from_stream(found.frame, found.source, options))


def _with_line(error: TrialDataError, data: Any, said: Mapping[str, Any]) -> TrialDataError:
    """The same error with the call that would answer it as its last line."""
    changed, dropped = _answers(error.issues, said)
    if not changed:
        # Nothing but the table itself can answer it: the same call reads it once that is done.
        line = call(_as_csv(data) if any(one.code == "vast_sheet" for one in error.issues) else data, said, {})
        if len(line) > LONGEST_LINE:
            return error
        return TrialDataError(f"{error}\nOnce that is done, this line loads it:\n  {line}", error.issues)
    kept = {name: value for name, value in said.items() if name not in dropped}
    line = call(data, kept, changed | ({"earlier": "earlier"} if "earlier" in kept else {}))
    if len(line) > LONGEST_LINE:
        return error
    return TrialDataError(f"{error}\nOnce you agree, this line goes on:\n  {line}", error.issues, line)


def _can_be_left(issue: Issue) -> bool:
    """True where the row of an issue can be set aside; that of the column names cannot."""
    return issue.severity != "information" and issue.code != "duplicate_header"


def _as_csv(data: Any) -> Any:
    return os.fspath(Path(data).with_suffix(".csv"))


def _answers(issues: Sequence[Issue], said: Mapping[str, Any]) -> tuple[dict[str, str], set[str]]:
    """The options that would answer the issues, and those given that they replace."""
    changed: dict[str, Any] = {}
    rows_left = any(one.paste is None and one.row is not None and _can_be_left(one) for one in issues)
    # Many rows share one answer: each is read once.
    answers = dict.fromkeys((one.code, one.column, one.paste) for one in issues if one.paste is not None)
    for code, column, paste in answers:
        name, text = str(paste).split("=", 1)
        value = ast.literal_eval(text)
        if code == "unknown_column":
            value = _renamed(changed.get(name, said.get(name)), column, value)
        elif name in ("fill_down", "leave_out", "checked"):
            before = changed.setdefault(name, dict.fromkeys(_several(said.get(name, []))))
            before.update(dict.fromkeys(value))
            continue
        elif isinstance(value, dict):
            value = {**changed.get(name, said.get(name, {})), **value}
        changed[name] = value
    for name in ("fill_down", "leave_out", "checked"):
        if name in changed:
            changed[name] = _several(changed[name])
    # A list of very many rows is no line to paste.
    too_many = len(changed.get("leave_out", ())) > MANY_ROWS
    if too_many:
        del changed["leave_out"]
    if rows_left or too_many:
        changed["bad_rows"] = "set_aside"
    dropped = {"rooted"} if "rooted_percent" in changed else set()
    return {name: repr(value) for name, value in changed.items()}, dropped


def _several(given: Any) -> list[Any]:
    return [given] if isinstance(given, (str, int)) else list(given)


MANY_ROWS = 50


def _renamed(given: Any, wrong: str | None, right: str) -> Any:
    """The option with one name changed, alone or within its list."""
    if isinstance(given, Mapping):
        return {name: _renamed(value, wrong, right) for name, value in given.items()}
    if given is None or isinstance(given, str):
        return right
    return [right if name == wrong else name for name in given]


def _for_later(earlier: Any) -> list[dict[str, Any]]:
    earlier = plain(earlier)
    single = isinstance(earlier, (Trial, Mapping, str)) or not isinstance(earlier, Iterable)
    each: list[Any] = [] if earlier is None else [earlier] if single else list(earlier)
    for one in each:
        if not isinstance(one, Trial) and not (isinstance(one, Mapping) and {"trials", "known"} <= one.keys()):
            reason = f"{type(one).__name__!r} in earlier= is neither a trial nor the record of one"
            hint = "give earlier=[trial], or what trial.for_later() gave"
            raise TrialDataError.of_input("not_an_earlier_trial", reason, hint)
    return [one.for_later() if isinstance(one, Trial) else dict(one) for one in each]


def again(frame: pl.DataFrame, source: str, options: dict[str, Any]) -> Trial:
    """A trial that was pickled: the same columns, checked with the same options; its cautions were given before."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RootlingWarning)
        return Trial(_core.trial.from_stream(frame, source, options))
