"""The line that goes on after an error: what the issues answer, tried before it is shown."""

from __future__ import annotations

import ast
import os
import warnings
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rootling._frames import Lines, is_answer
from rootling._given import has_columns, plain
from rootling._loading.arguments import call
from rootling.exceptions import LONGEST_LINE, ONE_ROW, ChoiceError, Issue, RootlingWarning, TrialDataError

if TYPE_CHECKING:
    from rootling.trial import Trial

__all__ = ["with_line", "with_line_of_rows"]

Load = Callable[[Any, Mapping[str, Any]], "Trial"]
Given = Mapping[str, Any]
LISTS = ("fill_down", "leave_out", "checked")
# A list of more rows is no line to paste.
MANY_ROWS = 50
# What one answer uncovers is answered too, so often.
ROUNDS = 4
# Of the rows of a sheet, the share that may be set aside by a line to paste.
SET_ASIDE = 0.25


def with_line(error: TrialDataError, data: Any, given: Given, said: Given, load: Load) -> TrialDataError:
    """The same error with the call that would answer it as its last line; without one where no call loads the trial.

    What comes to light only after the first answers is told with them, so that nothing is agreed to unseen.
    """
    if not _can_be_read_again(data):
        return error
    if any(one.code == "more_rows" for one in error.issues):
        # More rows are wrong than are listed: no answer for each, and a long table is not read a second time.
        return _without_option(str(error), error.issues, data, said)
    said = {name: _in_plain_values(value) for name, value in said.items()}
    issues, changed, later = list(error.issues), dict(said), error
    told = [str(error)]
    for _ in range(ROUNDS):
        answered = _answers(later.issues, changed)
        if answered is None or answered == changed:
            break
        changed = answered
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", RootlingWarning)
                trial = load(data, {**_defaults(given, said), **changed})
        except TrialDataError as found:
            known = {str(issue) for issue in issues}
            new = [issue for issue in found.issues if str(issue) not in known]
            if not new:
                break
            issues += new
            told.append("Then there would be " + str(found))
            later = found
        except ChoiceError:
            break
        else:
            earlier = {"earlier": "earlier"} if "earlier" in changed else {}
            line = None if _loses_much(trial) else call(data, changed, earlier)
            if line is None or len(line) > LONGEST_LINE:
                break
            lines = [*told, f"Once you agree, this line goes on{_whose(data)}:", f"  {line}"]
            return TrialDataError("\n".join(lines), issues, line)
    # What a first answer would uncover is told, though no line follows.
    return _without_option("\n".join(told[:2]), issues, data, said)


def with_line_of_rows(
    error: TrialDataError, lines: Lines, given: Given, said: Given, load: Callable[[Given], Trial | None]
) -> TrialDataError:
    """What is wrong with lines that an engine counted or listed, told of rows, with the call that would answer it.

    ``load`` tries a call on the lines, and has nothing for one that asks for columns which did not come over.
    """
    shown = lines.error(error)
    issues, later = list(error.issues), error
    changed: dict[str, Any] = {name: _in_plain_values(value) for name, value in said.items()}
    said, told = dict(changed), [str(shown)]
    for _ in range(ROUNDS):
        # Rows are not named one by one here, nor filled from those above.
        answered = _answers(
            [one if is_answer(one.paste) else replace(one, paste=None) for one in later.issues], changed
        )
        if answered is None or answered == changed:
            break
        changed = answered
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", RootlingWarning)
                trial = load({**_defaults(given, said), **changed})
        except TrialDataError as found:
            new = [issue for issue in found.issues if str(issue) not in {str(one) for one in issues}]
            if not new:
                break
            issues += new
            told.append("Then there would be " + str(lines.error(TrialDataError(str(found), new))))
            later = found
        except ChoiceError:
            break
        else:
            earlier = {"earlier": "earlier"} if "earlier" in changed else {}
            line = None if trial is None or _loses_many(trial, lines) else call(..., changed, earlier)
            if line is None or len(line) > LONGEST_LINE:
                break
            text = "\n".join([*told, f"Once you agree, this line goes on{_whose(...)}:", f"  {line}"])
            return TrialDataError(text, shown.issues, line)
    return TrialDataError("\n".join(told[:2]) + _once_put_right(issues, ..., said), shown.issues)


def _loses_many(trial: Trial, lines: Lines) -> bool:
    """True where rows that are set aside are a good part of all, or take a level of a treatment with them."""
    wrong = [one for one in trial._core.set_aside if one["severity"] == "problem"]
    if any(one["row"] is None for one in wrong) or any(one["code"] == "more_rows" for one in trial._core.set_aside):
        return True
    bad = {lines.at(one["row"]) for one in wrong}
    frame, times = lines.frame, lines.times
    rows = [1] * frame.height if times is None else [count or 0 for count in frame.get_column(times).to_list()]
    if sum(rows[line] for line in bad) > SET_ASIDE * sum(rows):
        return True
    kept = frame[[line for line in range(frame.height) if line not in bad]]
    columns = trial._core.options["treatments"]
    return any(_levels(kept.get_column(name)) != _levels(frame.get_column(name)) for name in columns)


def _levels(column: Any) -> set[Any]:
    return set(column.drop_nulls().unique().to_list())


def _without_option(told: str, issues: Sequence[Issue], data: Any, said: Given) -> TrialDataError:
    return TrialDataError(told + _once_put_right(issues, data, said), issues)


def _whose(data: Any) -> str:
    return "" if isinstance(data, (str, os.PathLike)) else ", with your data for ..."


# What is put right in the table itself, beside all that is said of a row.
IN_THE_TABLE = {
    *("covariate_varies", "duplicate_header", "duplicate_tray", "empty_file", "no_header", "no_rows"),
    *("not_a_column", "not_text", "not_utf8", "one_level", "similar_levels", "too_many_fields", "unequal_columns"),
    *("unreadable", "unreadable_column", "unreadable_entry", "unreadable_header", "vast_sheet"),
}


# What a row number shows, and only another argument can put right.
IN_THE_CALL = {"bare_percent_column", "wrong_header_row", "yes_no_with_stuck"}


def _once_put_right(issues: Sequence[Issue], data: Any, said: Given) -> str:
    """The call as it was given, where only the table can answer the issues; it loads the table once that is done.

    Where not one row can be used it is the call that is wrong rather than every row.
    """
    wrong = [one for one in issues if one.severity != "information"]
    in_rows = all(one.row is not None or one.code in IN_THE_TABLE for one in wrong)
    # One number stuck for all trays that several trays exceed is no mistake of the table.
    too_few = isinstance(said.get("stuck"), int) and sum(one.code == "rooted_above_stuck" for one in wrong) > 1
    if not in_rows or too_few or any(one.code in IN_THE_CALL for one in wrong):
        return ""
    named = isinstance(data, (str, os.PathLike))
    again = Path(data).with_suffix(".csv") if named and wrong[0].code == "vast_sheet" else data
    line = call(again, said, {"earlier": "earlier"} if "earlier" in said else {})
    return f"\nOnce that is put right, this line loads it{_whose(data)}:\n  {line}" if len(line) <= LONGEST_LINE else ""


def _in_plain_values(value: Any) -> Any:
    """Arrays and series as lists, which can be compared and written in a line."""
    value = plain(value)
    kept = value.tolist() if hasattr(value, "tolist") else value.to_list() if hasattr(value, "to_list") else value
    return kept


def _can_be_read_again(data: Any) -> bool:
    """A stream that can be read once is gone after the first attempt."""
    return isinstance(data, (str, os.PathLike, Mapping)) or has_columns(data)


def _defaults(given: Given, said: Given) -> dict[str, Any]:
    blank = {"covariates": (), "fill_down": (), "leave_out": (), "checked": (), "earlier": (), "bad_rows": "stop"}
    return {name: blank.get(name, False if name == "distinct_levels" else None) for name in given}


def _loses_much(trial: Trial) -> bool:
    """True where rows with something wrong take a level of a treatment with them, or a good part of the sheet."""
    bad = {one.row for one in trial.set_aside if one.severity == "problem" and not _is_answered(one, trial)}
    if not bad:
        return False
    options, frame = trial._core.options, trial.frame
    first = 2 if trial._core.source == "file" else 1
    rows = (options.get("shaped") or {}).get("rows") or range(first, frame.height + first)
    if len(bad) > SET_ASIDE * frame.height:
        return True
    left = {row for row, issue in ((one.row, one) for one in trial.set_aside) if issue.severity != "problem"}
    for name in options["treatments"]:
        levels: dict[str, bool] = {}
        for row, value in zip(rows, frame[name].to_list(), strict=True):
            if row in left or value is None or not str(value).strip():
                continue
            level = str(value).strip()
            levels[level] = levels.get(level, False) or row not in bad
        if not all(levels.values()):
            return True
    return False


def _is_answered(issue: Issue, trial: Trial) -> bool:
    """A row that the user leaves out is no loss."""
    return issue.row in set(trial._core.options.get("leave_out") or ())


def _answers(issues: Sequence[Issue], said: Given) -> dict[str, Any] | None:
    """The options as given, with what would answer the issues; None where nothing would."""
    # That no row can be used is said of the others, and goes with them.
    stops = [
        one for one in issues if one.severity != "information" and one.paste is None and one.code != "no_usable_rows"
    ]
    if any(one.row is None for one in stops):
        return None
    changed: dict[str, Any] = dict(said)
    lists: dict[str, dict[Any, None]] = {}
    # Many rows share one answer: each is read once.
    for code, column, paste in dict.fromkeys((i.code, i.column, i.paste) for i in issues if i.paste is not None):
        for name, value in _options_of(str(paste)):
            before = changed.get(name)
            if code == "unknown_column":
                changed[name] = _renamed(before, column, value)
            elif name in LISTS:
                known = lists.setdefault(name, dict.fromkeys(_several(() if before is None else before)))
                known.update(dict.fromkeys(value))
            else:
                changed[name] = {**(before or {}), **value} if isinstance(value, dict) else value
    changed |= {name: list(known) for name, known in lists.items()}
    rows = changed.get("leave_out", ())
    if isinstance(rows, list) and len(rows) > MANY_ROWS:
        changed |= {"leave_out": said.get("leave_out", ())}
        stops = [*stops, *issues]
    if stops:
        changed["bad_rows"] = "set-aside"
    if "rooted_percent" in changed:
        changed.pop("rooted", None)
    return {name: value for name, value in changed.items() if value is not None and value != ()}


def _options_of(paste: str) -> list[tuple[str, Any]]:
    """The options of a text such as ``rooted="a", stuck=20``."""
    if row := ONE_ROW.fullmatch(paste):
        return [("leave_out", [int(row[1])])]
    made = ast.parse(f"f({paste})", mode="eval").body
    assert isinstance(made, ast.Call)
    return [(str(one.arg), ast.literal_eval(one.value)) for one in made.keywords]


def _several(given: Any) -> list[Any]:
    given = plain(given)
    return [given] if isinstance(given, (str, int)) else list(given)


def _renamed(given: Any, wrong: str | None, right: Any) -> Any:
    """The option with one name changed, alone or within its list; the levels of a wide sheet keep their own names."""
    if isinstance(given, Mapping):
        ((treatment, columns),) = given.items()
        if not isinstance(columns, Mapping):
            columns = {level: str(level) for level in map(plain, columns)}
        return {treatment: {level: _renamed_one(name, wrong, right) for level, name in columns.items()}}
    if given is None or isinstance(given, str):
        return right
    return [right if name == wrong else name for name in given]


def _renamed_one(given: Any, wrong: str | None, right: Any) -> Any:
    """A column of a wide sheet, or a pair of them."""
    if isinstance(given, (list, tuple)):
        return tuple(right if str(name) == wrong else name for name in given)
    return right if str(given) == wrong else given
