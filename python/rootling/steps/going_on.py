"""The line that goes on after an error of a chain: what the issues answer, tried before it is shown."""

from __future__ import annotations

import ast
import os
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from rootling._given import has_columns, plain
from rootling.exceptions import LONGEST_LINE, ONE_ROW, ChoiceError, CountError, TrialDataError

if TYPE_CHECKING:
    from rootling.steps.chain import Steps

# Options to which an answer is added; of others it takes the place.
GATHERED = ("checked", "leave_out")

# Of the batches, the share that may be set aside by a line to paste.
SET_ASIDE = 0.25


def with_line(
    error: TrialDataError, data: Any, said: Mapping[str, Any], load: Callable[[Any, dict[str, Any]], Steps]
) -> TrialDataError:
    """The same error with a line to paste: the call that goes on, or the same call once the table is put right."""
    whose = "" if isinstance(data, (str, os.PathLike)) else ", with your data for ..."
    changed = _answered(error, said)
    if changed != dict(said) and (isinstance(data, (str, os.PathLike, Mapping)) or has_columns(data)):
        try:
            steps = load(data, changed)
        except (TrialDataError, ChoiceError, CountError):
            pass
        else:
            line = _call(data, changed)
            lost = len({one.row for one in steps.set_aside})
            if lost <= SET_ASIDE * (lost + len(steps._core.batches)) and len(line) <= LONGEST_LINE:
                return TrialDataError(
                    f"{error}\nOnce you agree, this line goes on{whose}:\n  {line}", error.issues, line
                )
    wrong = [one for one in error.issues if one.severity != "information"]
    line = _call(data, said)
    if all(one.row is not None for one in wrong) and len(line) <= LONGEST_LINE:
        return TrialDataError(f"{error}\nOnce that is put right, this line loads it{whose}:\n  {line}", error.issues)
    return error


def _answered(error: TrialDataError, said: Mapping[str, Any]) -> dict[str, Any]:
    """The options as given, with what answers the issues; rows that nothing answers are set aside."""
    changed: dict[str, Any] = dict(said)
    for issue in error.issues:
        if issue.severity == "information" or issue.code == "no_usable_rows":
            continue
        if issue.paste is None or ONE_ROW.fullmatch(issue.paste):
            if issue.row is not None:
                changed["bad_rows"] = "set-aside"
            continue
        made = ast.parse(f"f({issue.paste})", mode="eval").body
        for one in made.keywords if isinstance(made, ast.Call) else ():
            value, before = ast.literal_eval(one.value), changed.get(str(one.arg))
            if isinstance(value, list) and one.arg in GATHERED:
                known = [before] if isinstance(before, str) else list(before or ())
                value = list(dict.fromkeys([*known, *value]))
            changed[str(one.arg)] = value
    return changed


def _call(data: Any, said: Mapping[str, Any]) -> str:
    shown = repr(os.fspath(data)) if isinstance(data, (str, os.PathLike)) else "..."
    table = said.get("plants")
    plants = "..." if table is not None and not isinstance(table, (str, os.PathLike)) else None
    written = {name: plants if name == "plants" and plants else _written(value) for name, value in said.items()}
    parts = [shown, *(f"{name}={value}" for name, value in written.items())]
    return f"steps = rl.steps.load({', '.join(parts)})"


def _written(value: Any) -> str:
    value = plain(value)
    return repr(value.tolist() if hasattr(value, "tolist") else value)
