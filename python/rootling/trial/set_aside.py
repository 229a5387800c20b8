"""Rows that do not enter, as a list that reads as one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from rootling._pages import in_notebook
from rootling.exceptions import Issue

__all__ = ["SetAside", "count_of_rows"]

MOST = 40


class SetAside(tuple[Issue, ...]):
    """The issues of rows that do not enter, one a line when shown; a tuple otherwise.

    Examples
    --------
    >>> from rootling.trial.set_aside import SetAside
    >>> from rootling.exceptions import Issue
    >>> SetAside([Issue("none_stuck", row=3, column="stuck", reason="0 stuck", hint="correct it")])
    row  column  why
      3  stuck   0 stuck; correct it
    """

    __slots__ = ()

    def _lines(self) -> list[tuple[str, str, str]]:
        """Row, column and reason; a row of a wide sheet, which holds several trays, is told once."""
        told = dict.fromkeys(
            ("" if one.row is None else str(one.row), one.column or "", f"{one.reason}; {one.hint}".rstrip("; "))
            for one in self
        )
        return list(told)

    def __repr__(self) -> str:
        lines = self._lines()
        if not lines:
            return "no rows are set aside"
        shown = [("row", "column", "why"), *lines[:MOST]]
        row, column = (max(len(line[at]) for line in shown) for at in (0, 1))
        text = [f"{line[0]:>{row}}  {line[1]:<{column}}  {line[2]}" for line in shown]
        more = [f"... and {len(lines) - MOST} more"] if len(lines) > MOST else []
        return "\n".join([*text, *more])

    def _repr_html_(self) -> str:
        return in_notebook("table", header=("row", "column", "why"), body=self._lines())


def count_of_rows(issues: tuple[Issue, ...], rows: Sequence[int] = ()) -> str:
    """How many rows of the sheet these are, those included that are only counted; a stretch of blank rows is one.

    Trays of a plan that stand on no row are counted as trays.

    ``rows`` are the numbers of all rows, each as often as it holds trays: of a wide sheet's row some cells alone may be
    set aside.

    >>> count_of_rows((Issue("text_in_count", row=4, reason="no count", hint="correct it"),), [3, 3, 4, 4])
    '1 cell'
    """
    beyond = sum(int(one.value or 0) for one in issues if one.code == "more_rows")
    told = Counter(one.row for one in issues if one.row is not None)
    absent = sum(one.row is None and one.code == "unread_tray" for one in issues)
    held = Counter(rows)
    parts = [row for row, times in told.items() if times < held[row]]
    cells = sum(told[row] for row in parts)
    whole = len(told) - len(parts) + beyond
    said = [
        f"{count} {noun if count == 1 else noun + 's'}"
        for count, noun in ((whole, "row"), (cells, "cell"), (absent, "tray"))
        if count
    ]
    return " and ".join(said)
