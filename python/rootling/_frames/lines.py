"""Issues of lines that an engine counted, told of the rows behind them: how many, and a few of them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import polars as pl

from rootling.exceptions import Issue, TrialDataError

__all__ = ["Lines", "is_answer", "record_labels", "told_by_rows"]

# Rows named of one problem, columns that say where one stands, and problems of a message.
EXAMPLES = 5
PLACES = 3
SHOWN = 20
# What is no answer where rows are counted: their order is not known, or not theirs to change.
HINTS = {
    "ditto_mark": "write the level in each row",
    "missing_value": "enter it or remove the row",
}


# Told of a column by one of its rows.
OF_A_COLUMN = ("bare_percent_column",)
# Another row, by a number that nobody sees.
OTHER_ROW = re.compile(r"\b(in|by|of|that of) row [0-9]+")
ROW_BESIDE = re.compile(r" \(row [0-9]+\)")


def told_by_rows(given: tuple[str, tuple[Any, ...]], issues: Iterable[Mapping[str, Any]]) -> list[Issue]:
    """The issues of a record, from what was handed to the core; where rows have no numbers, by what rows hold."""
    found = [Issue(**issue) for issue in issues]
    how, parts = given
    if how != "frame" or parts[1] != "engine" or not found:
        return found
    frame, _, options = parts
    return Lines(frame, options.get("times"), [], record_labels(options)).told(found)


def record_labels(options: Mapping[str, Any]) -> list[str]:
    """The columns by which a row of a record of batches is found again."""
    names = [*options.get("batch", ()), *options.get("places", ()), *options.get("levels", ())]
    return [*names, *(options[name] for name in ("reading_date", "season", "room") if options.get(name))]


@dataclass(frozen=True)
class Lines:
    """Lines, the column of how many rows each stands for, the numbers of their first rows, and columns of labels.

    ``written`` where the engine can write all rows of a problem.
    """

    frame: pl.DataFrame
    times: str | None
    numbers: Sequence[int]
    labels: Sequence[str]
    written: bool = False

    @cached_property
    def _at(self) -> dict[int, int]:
        return {number: at for at, number in enumerate(self.numbers)}

    def at(self, row: int) -> int:
        """The line of a row, as the core numbers it."""
        return self._at.get(row, row - 1) if self.numbers else row - 1

    def rows(self, line: int) -> int:
        """How many rows a line stands for."""
        held = self.times is not None and 0 <= line < self.frame.height
        return int(self.frame.get_column(str(self.times))[line] or 0) if held else 1

    def told(self, issues: Iterable[Issue]) -> list[Issue]:
        """Each problem by its first rows, and how many more there are."""
        found: list[Issue] = []
        for group in _groups(issues):
            if _stands_alone(group[0]):
                found += [one if self.numbers else replace(one, row=None) for one in group]
                continue
            examples = [self._placed(one) for one in group[:EXAMPLES]]
            all_rows = sum(self.rows(self.at(one.row)) for one in group if one.row is not None)
            more = all_rows - len(examples) if self.numbers else all_rows
            found += examples
            if more > 0:
                found.append(self._more(group[0], more, len(examples)))
        return found

    def error(self, error: TrialDataError, place: str = "the trial data") -> TrialDataError:
        """The same error, told of rows."""
        groups = _groups(error.issues)
        shown = [one for one in groups if one[0].severity != "information" or one[0].code == "more_rows"] or groups
        lines = [self._line(group) for group in shown[:SHOWN]]
        lines += [f"... and {len(shown) - SHOWN} more in .issues"] if len(shown) > SHOWN else []
        head = f"{len(shown)} {'problem' if len(shown) == 1 else 'problems'} in {place}:"
        return TrialDataError("\n".join([head, *(f"  {line}" for line in lines)]), self.told(error.issues))

    def _line(self, group: list[Issue]) -> str:
        """One problem with its rows."""
        if _stands_alone(group[0]):
            return str(group[0] if self.numbers else replace(group[0], row=None))
        first = self._placed(group[0])
        all_rows = sum(self.rows(self.at(one.row)) for one in group if one.row is not None)
        if not self.numbers:
            return f"{first} ({all_rows} {'row' if all_rows == 1 else 'rows'} in all)"
        others = [str(one.row) for one in group[1 : EXAMPLES + 1]]
        more = all_rows - 1 - len(others)
        if not others:
            return f"{first} ({more} more {'row' if more == 1 else 'rows'} likewise)" if more else str(first)
        noun = "row" if len(others) == 1 and not more else "rows"
        return f"{first} (likewise in {noun} {', '.join(others)}{f' and {more} more' if more else ''})"

    def _more(self, first: Issue, more: int, examples: int) -> Issue:
        """The rows of a problem that are not named one by one."""
        if self.numbers:
            rows = f"{more} more {'row has' if more == 1 else 'rows have'}"
            beyond = f"the first{f' {examples}' if examples > 1 else ''}"
            reason = f'{rows} the problem "{first.code}", beyond {beyond}: {more + examples} in all'
        else:
            reason = f'{more} {"row has" if more == 1 else "rows have"} the problem "{first.code}"'
        hint = "what holds for those named holds for them"
        if self.written:
            hint += '; set_aside_to="rows.parquet" beside bad_rows="set-aside" has all of them written'
        return Issue("more_rows", "information", None, first.column, str(more), reason, hint)

    def _placed(self, issue: Issue) -> Issue:
        """The issue of one line: by the number of its first row, or by what its row holds."""
        paste = issue.paste if is_answer(issue.paste) else None
        hint = issue.hint if paste == issue.paste else HINTS.get(issue.code, issue.hint)
        if self.numbers:
            return replace(issue, paste=paste, hint=hint)
        where = self._where(self.at(issue.row or 0), issue.column)
        reason = ROW_BESIDE.sub("", OTHER_ROW.sub(r"\1 another row", issue.reason))
        return replace(issue, row=None, paste=paste, hint=hint, reason=f"{reason}{where}")

    def _where(self, line: int, column: str | None) -> str:
        named = [name for name in self.labels if name != column and name in self.frame.columns]
        if not 0 <= line < self.frame.height:
            return ""
        held = [(name, self.frame.get_column(name)[line]) for name in named]
        told = [f"{name} is {_shown(value)}" for name, value in held if value is not None][:PLACES]
        return f", where {' and '.join(told)}" if told else ""


def _shown(value: Any) -> str:
    return f'"{value}"' if isinstance(value, str) else f"{value:g}" if isinstance(value, float) else str(value)


def is_answer(paste: str | None) -> bool:
    """True for an option that would still answer; rows cannot be named, nor filled from those above."""
    return paste is not None and not paste.startswith(("leave_out=", "fill_down="))


def _stands_alone(issue: Issue) -> bool:
    """True for what is said of a column or of the table."""
    return issue.row is None or issue.code in OF_A_COLUMN


def _groups(issues: Iterable[Issue]) -> list[list[Issue]]:
    """Issues of rows by what is wrong in which column; others alone."""
    groups: dict[Any, list[Issue]] = {}
    for at, issue in enumerate(issues):
        option = issue.paste if is_answer(issue.paste) else None
        key = at if _stands_alone(issue) else (issue.code, issue.column, option)
        groups.setdefault(key, []).append(issue)
    return list(groups.values())
