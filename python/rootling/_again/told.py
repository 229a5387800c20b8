"""The verdict on a record: what differs, and what that means."""

from __future__ import annotations

import textwrap
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from rootling._words import clean

if TYPE_CHECKING:
    import polars as pl

__all__ = ["Difference", "Verified"]

WIDTH = 100
# Differences that are shown one by one; the table holds all.
MOST = 12


@dataclass(frozen=True)
class Difference:
    """A number or a word that does not come out as it was recorded.

    Attributes
    ----------
    what : str
        Its place in the record, such as ``"pairs 2, p_adjusted"``.
    recorded, found : float, str or None
        What the record holds, and what is found now.
    error : float or None
        The error of the difference, where the number was drawn and the record states how exactly.
    within : bool
        True where it lies within what drawing anew makes of it.
    """

    what: str
    recorded: Any
    found: Any
    error: float | None = None
    within: bool = False

    def __str__(self) -> str:
        drawn = "" if self.error is None else f" (drawn, error {self.error:.2g})"
        return clean(f"{self.what}: {_shown(self.recorded)} recorded, {_shown(self.found)} found{drawn}")


@dataclass(frozen=True)
class Verified:
    """Whether a record comes out again; made by :func:`rootling.verify`.

    Attributes
    ----------
    kind : str
        The kind of the record.
    agrees : bool
        True where the data are the same and all numbers come out: to their digits, those drawn anew within their error.
    exact : bool
        True where every number and word comes out to the last digit.
    data_changed : bool
        True where the data are not those that were recorded.
    sentence : str
        The verdict.
    details : tuple of str
        What stands behind it, a fact a line.
    differences : tuple of Difference
        All that does not come out to the last digit.
    """

    kind: str
    agrees: bool
    exact: bool
    data_changed: bool
    sentence: str
    details: tuple[str, ...] = ()
    differences: tuple[Difference, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """All of it as plain dictionaries, lists and values."""
        plain = asdict(self)
        lists = {"details": list(self.details), "differences": list(plain["differences"])}
        return {**plain, **lists}

    def table(self) -> pl.DataFrame:
        """One row for each difference, as a polars frame; values as texts, since numbers and words may differ."""
        import polars as pl

        rows = [(one.what, _shown(one.recorded), _shown(one.found), one.error, one.within) for one in self.differences]
        kinds = {
            "what": pl.String,
            "recorded": pl.String,
            "found": pl.String,
            "error": pl.Float64,
            "within": pl.Boolean,
        }
        return pl.DataFrame(rows, schema=kinds, orient="row")

    def __bool__(self) -> bool:
        return self.agrees

    def __repr__(self) -> str:
        told = [str(one) for one in self.differences[:MOST]]
        if len(self.differences) > MOST:
            told.append(f"and {len(self.differences) - MOST} more; see .table()")
        lines = [textwrap.fill(clean(self.sentence), WIDTH)]
        for one in (*self.details, *told):
            lines.append(textwrap.fill(clean(one), WIDTH, initial_indent="- ", subsequent_indent="  "))
        return "\n".join(lines)


def _shown(value: Any) -> str:
    return "nothing" if value is None or value == () else repr(value) if isinstance(value, float) else str(value)
