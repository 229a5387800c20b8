"""Rows that do not enter, as a list that reads as one."""

from __future__ import annotations

from html import escape

from rootling.exceptions import Issue

__all__ = ["SetAside", "count_of_rows"]

MOST = 40


class SetAside(tuple[Issue, ...]):
    """The issues of rows that do not enter, one a line when shown; a tuple otherwise.

    Examples
    --------
    >>> from rootling._set_aside import SetAside
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
        head = "<tr><th>row</th><th>column</th><th>why</th></tr>"
        body = "".join(f"<tr>{''.join(f'<td>{escape(part)}</td>' for part in line)}</tr>" for line in self._lines())
        return f'<table class="rootling-table"><thead>{head}</thead><tbody>{body}</tbody></table>'


def count_of_rows(issues: tuple[Issue, ...]) -> int:
    """How many rows of the sheet these are, those included that are only counted; a stretch of blank rows is one."""
    beyond = sum(int(one.value or 0) for one in issues if one.code == "more_rows")
    return len({one.row for one in issues if one.code != "more_rows"}) + beyond
