"""One number with its interval, or arrays of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rootling import _figures
from rootling._results.checked import check_estimate
from rootling._results.note import Note
from rootling._results.records import read_record, write_record

if TYPE_CHECKING:
    import polars as pl
    from matplotlib.figure import Figure

    from rootling._given.choices import FigureWidth


@dataclass(frozen=True, eq=False)
class Estimate:
    """One number with its interval, or arrays of them.

    Attributes
    ----------
    value, low, high : float or numpy.ndarray
        The estimate and its confidence limits, on the scale of the function that made it.
    se : float or None
        Standard error, where the method has one.
    confidence : float
        Confidence level, a proportion.
    method : str
        Name of the method.
    sentence : str or None
        The figures in words, for single numbers.
    notes : tuple of Note
        Named cautions.
    methods : str or None
        The sentence for a methods section, with the definition used.
    references : tuple of str
        Works cited.
    details : tuple of str
        What else is worth saying, a fact a line, for single numbers.
    """

    value: Any
    low: Any
    high: Any
    confidence: float
    method: str
    se: Any = None
    sentence: str | None = None
    notes: tuple[Note, ...] = ()
    methods: str | None = None
    references: tuple[str, ...] = ()
    details: tuple[str, ...] = ()

    @classmethod
    def from_record(cls, record: Mapping[str, Any]) -> Estimate:
        """Builds it from what the core hands over."""
        named: dict[str, Any] = {name: record.get(name) for name in cls.__dataclass_fields__}
        notes = tuple(Note(note["code"], note["text"]) for note in record.get("notes") or ())
        lists = {name: tuple(record.get(name) or ()) for name in ("references", "details")}
        return cls(**{**named, "notes": notes, **lists})

    def to_dict(self) -> dict[str, Any]:
        """Plain values; arrays become lists."""
        plain = {name: getattr(self, name) for name in self.__dataclass_fields__}
        made = {name: value.tolist() if hasattr(value, "tolist") else value for name, value in plain.items()}
        notes = [{"code": note.code, "text": note.text} for note in self.notes]
        return {**made, "notes": notes, "references": list(self.references), "details": list(self.details)}

    def to_json(self, indent: int | None = None) -> str:
        """The record as JSON. Infinite numbers are written as ``"inf"`` and ``"-inf"``; ``non_finite`` lists where."""
        return write_record(self.to_dict(), indent)

    @classmethod
    def from_json(cls, text: str) -> Estimate:
        """The estimate of a record written by :meth:`to_json`; arrays come back as lists."""
        record = read_record(text)
        check_estimate(record)
        return cls.from_record(record)

    def plot(self, *, width: FigureWidth | None = None) -> Figure:
        """A matplotlib figure: each value with its limits.

        Parameters
        ----------
        width : {"85 mm", "180 mm"}, optional
            Set for one column or for two of a journal; as it reads best on a screen when left out.
        """
        return _figures.sized(lambda: _figures.counts.estimate(self), width)

    @property
    def caption(self) -> str:
        """What belongs below the figure: the finding, and what the marks are."""
        return f"{self.sentence} {_figures.marks_of(_figures.counts.estimate, self)}"

    def table(self) -> pl.DataFrame:
        """One row per estimate, as a polars frame."""
        import polars as pl

        told = ("notes", "methods", "references", "details")
        figures = {name: value for name, value in self.to_dict().items() if name not in told}
        columns = {name: value if isinstance(value, list) else [value] for name, value in figures.items()}
        length = len(figures["value"]) if isinstance(figures["value"], list) else 1
        return pl.DataFrame({n: v * length if len(v) == 1 != length else v for n, v in columns.items()})

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Estimate) and self.to_dict() == other.to_dict()

    def __hash__(self) -> int:
        return hash(repr(self.to_dict()))
