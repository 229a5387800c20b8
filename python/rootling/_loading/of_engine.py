"""A trial whose rows an engine holds: cuttings are counted there, trays listed, and what is wrong is told of rows."""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rootling import _core, _frames
from rootling._frames import Counted, Engine, Lines, Which
from rootling._given import is_name, shortened
from rootling._loading.about import days_of
from rootling._loading.arguments import options_of, wanted_of
from rootling._loading.going_on import with_line_of_rows
from rootling.exceptions import ChoiceError, Issue, TrialDataError
from rootling.trial import Trial, labels_of

__all__ = ["of_engine", "told_by_engine"]

ENDINGS = (".parquet", ".csv")
COUNTS = ("stuck", "stuck_each", "wide", "rooted_percent", "times")
IN_ORDER = {
    "fill_down": "fill_down= takes the entry of the row above",
    "leave_out": "leave_out= names rows by number",
    "tray_each_row": 'tray="each-row" names each tray by its row',
}


def _counts_cuttings(options: Mapping[str, Any]) -> bool:
    """True where each row is a cutting, so that rows can be counted before they come over."""
    return not any(options[name] for name in COUNTS)


def told_by_engine(data: Any, given: Mapping[str, Any]) -> bool:
    """True where messages tell of rows that an engine holds, with the line that goes on where there is one."""
    engine = _frames.engine_of(data)
    counted = not any(given.get(name) for name in COUNTS)
    return engine is not None and (counted or not engine.numbered)


def of_engine(engine: Engine, options: dict[str, Any], given: Mapping[str, Any], said: Mapping[str, Any]) -> Trial:
    """Loads a trial from the table of an engine; ``said`` are the arguments that the caller gave."""
    for name in ("sheet", "header_row", "encoding"):
        if given[name] is not None:
            raise ChoiceError(f"{name}= is for files, and a table of {engine.name} is none; leave it out")
    cuttings = _counts_cuttings(options)
    _refuse_order(engine, options, counted=cuttings)
    path = _where_to(given["set_aside_to"])
    if path is not None and path.suffix.lower() not in engine.writes:
        raise ChoiceError(f"{engine.name} writes parquet; write set_aside_to={str(path.with_suffix('.parquet'))!r}")
    wanted = wanted_of(options)
    days = days_of(given["about"], engine.names())
    if not set(wanted) <= set(engine.names()):
        # The core says so, from the names alone.
        lacking = _frames.nothing_of(engine, wanted)
        return Trial(_core.trial.from_stream(lacking.frame, lacking.source, options))
    if not cuttings:
        return _of_units(_Asked(engine, options, given, said), wanted, days, path)
    outcome = None if options["dead"] else options["rooted"]
    found = _frames.counted(engine, wanted, options["covariates"], outcome, days)
    trial, found = _checked(_Asked(engine, options, given, said), found)
    engine.told(_frames.PARTS, _frames.PARTS)
    if path is not None:
        _write(engine, trial, found.raw, path)
    return trial


def _where_to(value: Any) -> Path | None:
    """The file for rows set aside, looked at before any row is."""
    if value is None:
        return None
    if not (is_name(value) or isinstance(value, os.PathLike)) or Path(value).suffix.lower() not in ENDINGS:
        raise ChoiceError(f'set_aside_to={shortened(value)} is no file to write; write set_aside_to="rows.parquet"')
    path = Path(value)
    if path.exists():
        raise ChoiceError(f"set_aside_to={str(path)!r} is there already and is not replaced; give another name")
    if not path.absolute().parent.is_dir():
        raise ChoiceError(f"set_aside_to={str(path)!r} names a folder that does not exist; make it first")
    return path


def _refuse_order(engine: Engine, options: Mapping[str, Any], *, counted: bool) -> None:
    """What rests on the order of rows, where there is none."""
    if engine.numbered and not counted:
        return
    why = "rows of cuttings are counted without their order" if engine.numbered else f"{engine.name} keeps no order"
    for name, what in IN_ORDER.items():
        if options[name]:
            raise ChoiceError(f"{what}, and {why}; put it right in the query before loading, or load a frame")


@dataclass(frozen=True)
class _Asked:
    """What is loaded from which engine: the core's options, all arguments, and those that the caller gave."""

    engine: Engine
    options: dict[str, Any]
    given: Mapping[str, Any]
    said: Mapping[str, Any]

    @property
    def source(self) -> str:
        return "frame" if self.engine.numbered else "engine"

    def told(self, error: TrialDataError, lines: Lines, beside: Mapping[str, Any]) -> TrialDataError:
        """What is wrong with lines, told of rows, with the line that goes on: tried on the lines that are here."""

        def load(changed: Mapping[str, Any]) -> Trial | None:
            options = options_of(changed)
            if not set(wanted_of(options)) <= set(lines.frame.columns):
                return None
            options |= {"earlier": self.options["earlier"], **beside}
            return Trial(_core.trial.from_stream(lines.frame, self.source, options))

        return with_line_of_rows(error, lines, self.given, self.said, load)


def _of_units(asked: _Asked, wanted: list[str], days: list[str], path: Path | None) -> Trial:
    """A table whose rows are trays."""
    found = _frames.read(asked.engine, wanted, days=days)
    beside = {"columns": found.names or []}
    frame = found.frame
    assert frame is not None
    options = {**asked.options, **beside}
    try:
        trial = Trial(_core.trial.from_stream(frame, found.source, options))
    except TrialDataError as error:
        if asked.engine.numbered:
            raise
        raise asked.told(error, Lines(frame, None, [], labels_of(options), written=True), beside) from None
    if path is not None and found.raw is not None:
        _write(asked.engine, trial, found.raw.select(wanted), path)
    return trial


def _checked(asked: _Asked, found: Counted) -> tuple[Trial, Counted]:
    """The lines loaded; where something is to be told of rows that have numbers, once more with these."""
    engine = asked.engine
    beside: dict[str, Any] = {"times": found.times, "columns": found.names}
    options = {**asked.options, **beside}
    if found.tally is not None:
        # What is wrong is told of lines that say yes or no.
        with suppress(TrialDataError):
            core = _core.trial.from_stream(found.tally, asked.source, {**options, "tallied": True})
            if not core.issues:
                return Trial(core), found
    labels = labels_of(options)
    try:
        core = _core.trial.from_stream(found.frame, asked.source, options)
        if not (engine.numbered and core.issues):
            return Trial(core), found
    except TrialDataError as error:
        if not engine.numbered:
            lines = Lines(found.frame, found.times, [], labels, written=True)
            raise asked.told(error, lines, beside) from None
    found = found.numbered(engine)
    beside["row_numbers"] = found.numbers
    try:
        return Trial(_core.trial.from_stream(found.frame, asked.source, {**options, **beside})), found
    except TrialDataError as error:
        lines = Lines(found.frame, found.times, found.numbers, labels, written=True)
        raise asked.told(error, lines, beside) from None


# Problems that one entry of a column makes, so that all rows with it are set aside.
OF_AN_ENTRY = {
    *("not_yes_no", "missing_value", "text_in_strength", "negative_strength", "ambiguous_number", "not_a_number"),
    *("total_row", "ditto_mark"),
}


def _write(engine: Engine, trial: Trial, raw: Any, path: Path) -> None:
    """Has the engine write the rows that were set aside; the file is there as a whole or not at all."""
    issues = [Issue(**issue) for issue in trial._core.set_aside]
    if any(one.code == "more_rows" for one in issues):
        reason = "more than 10000 different lines have one problem, too many to be asked for"
        raise TrialDataError.of_input("not_written", reason, "put the column right in the query, and load again")
    if not issues:
        return
    options = trial._core.options
    lines = Lines(raw, options.get("times"), options.get("row_numbers") or [], [])
    which = _which(issues, lines, [name for name in raw.columns if name != options.get("times")])
    part = path.with_name(f".{path.stem}.part{path.suffix}")
    try:
        engine.write(which, part)
        os.replace(part, path)
    except BaseException:
        _remove(part)
        raise


def _which(issues: list[Issue], lines: Lines, columns: list[str]) -> Which:
    entries: dict[str, list[Any]] = {}
    apart: dict[int, dict[str, Any]] = {}
    for issue in issues:
        if issue.row is None:
            continue
        line = lines.at(issue.row)
        if issue.code in OF_AN_ENTRY and issue.column in columns:
            entry = lines.frame.get_column(issue.column)[line]
            known = entries.setdefault(issue.column, [])
            known += [] if entry in known else [entry]
        else:
            apart[line] = {name: lines.frame.get_column(name)[line] for name in columns}
    return Which(entries, list(apart.values()))


def _remove(path: Path) -> None:
    import shutil

    if path.is_dir():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink(missing_ok=True)
