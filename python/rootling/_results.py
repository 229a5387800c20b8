"""The one shape of all results: figures, table, sentence, notes, plot, methods, record."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

from rootling import _display
from rootling._records import check_estimate, check_result
from rootling.exceptions import ChoiceError

if TYPE_CHECKING:
    import polars as pl
    from matplotlib.figure import Figure

FACES = ("kind", "table", "sentence", "details", "notes", "methods", "references", "made_with")


@dataclass(frozen=True)
class Note:
    """A named caution.

    Attributes
    ----------
    code : str
        Short name such as ``"few_trays"``.
    text : str
        What it means.
    """

    code: str
    text: str

    def __post_init__(self) -> None:
        object.__setattr__(self, "text", _display.clean_lines(self.text))

    def __str__(self) -> str:
        return f"{self.code}: {self.text}"


class Numbers(Mapping[str, Any]):
    """A frozen group of named numbers; read them as attributes or by name.

    Groups within are frozen when they are asked for: a result may hold one for each of many rows.

    Examples
    --------
    >>> from rootling._results import Numbers
    >>> Numbers({"value": 0.5, "confidence": 0.95}).value
    0.5
    """

    __slots__ = ("_items",)

    def __init__(self, items: Mapping[str, Any]) -> None:
        object.__setattr__(self, "_items", dict(items))

    def __getitem__(self, name: str) -> Any:
        value = self._items[name]
        if isinstance(value, (dict, list)):
            value = self._items[name] = freeze(value)
        return value

    def __iter__(self) -> Iterator[str]:
        return iter(self._items)

    def __len__(self) -> int:
        return len(self._items)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__") or name == "_items":
            raise AttributeError(name)
        try:
            return self[name]
        except KeyError:
            raise AttributeError(f"there is no figure {name!r}; known: {', '.join(self._items)}") from None

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("results cannot be changed")

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *self._items]

    def __hash__(self) -> int:
        return hash(tuple(self.items()))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Numbers) and dict(self.items()) == dict(other.items())

    def __repr__(self) -> str:
        return "Numbers(" + ", ".join(f"{name}={value!r}" for name, value in self.items()) + ")"

    def __reduce__(self) -> tuple[type[Numbers], tuple[dict[str, Any]]]:
        return Numbers, (dict(self.items()),)


def freeze(value: Any) -> Any:
    """Lists become tuples and dictionaries become :class:`Numbers`, all the way down."""
    if isinstance(value, Mapping):
        return value if isinstance(value, Numbers) else Numbers(value)
    if isinstance(value, (list, tuple)):
        return tuple(freeze(part) for part in value)
    return value


def own_names(names: list[str]) -> list[str]:
    """Column names without twins: columns of the trial come first, and give way to the result's own.

    >>> own_names(["level", "value", "level"])
    ['level (your column)', 'value', 'level']
    """
    made: list[str] = []
    for at, name in enumerate(names):
        while name in names[at + 1 :] or name in made:
            name += " (your column)"
        made.append(name)
    return made


def copy_record(value: Any) -> Any:
    """A deep copy made of plain dictionaries, lists and values."""
    if isinstance(value, Mapping):
        return {str(name): copy_record(part) for name, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [copy_record(part) for part in value]
    return value


def _spell_non_finite(value: Any, path: tuple[Any, ...], found: list[list[Any]]) -> Any:
    if isinstance(value, dict):
        return {name: _spell_non_finite(part, (*path, name), found) for name, part in value.items()}
    if isinstance(value, list):
        return [_spell_non_finite(part, (*path, at), found) for at, part in enumerate(value)]
    if isinstance(value, float) and not math.isfinite(value):
        found.append(list(path))
        return "inf" if value > 0 else "-inf" if value < 0 else None
    return value


def write_record(record: dict[str, Any], indent: int | None) -> str:
    """A record as JSON; infinite numbers are spelled, and ``non_finite`` lists where."""
    found: list[list[Any]] = []
    plain = _spell_non_finite(record, (), found)
    if found:
        plain["non_finite"] = found
    return json.dumps(plain, indent=indent, ensure_ascii=False, allow_nan=False)


def read_record(text: str) -> dict[str, Any]:
    """The record written by :func:`write_record`."""
    try:
        record = json.loads(text)
        if not isinstance(record, dict):
            raise TypeError("a JSON object is wanted")
        for path in record.pop("non_finite", []):
            place: Any = record
            for step in path[:-1]:
                place = place[step]
            place[path[-1]] = math.nan if place[path[-1]] is None else float(place[path[-1]])
    except (ValueError, TypeError, LookupError, RecursionError, OverflowError) as error:
        raise ChoiceError(f"this is not the record of a result: {error}") from None
    return record


class Result:
    """The parent of all results.

    A result is frozen and carries everything needed to read, show and redo it. Its figures are attributes, named with
    the field's words (``value``, ``low``, ``p``, ``n_units``, ...).
    """

    kind: str = ""
    _kinds: ClassVar[dict[str, type[Result]]] = {}
    _record: dict[str, Any]
    _numbers: Numbers
    _context: Mapping[str, Any]

    def __init__(self, record: Mapping[str, Any], context: Mapping[str, Any] | None = None) -> None:
        put = object.__setattr__
        put(self, "_record", dict(record))
        put(self, "kind", str(record["kind"]))
        put(self, "_numbers", Numbers({k: v for k, v in self._record.items() if k not in FACES}))
        put(self, "_context", context or {})

    def __init_subclass__(cls, **options: Any) -> None:
        super().__init_subclass__(**options)
        if cls.kind:
            Result._kinds[cls.kind] = cls

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("results cannot be changed")

    def __delattr__(self, name: str) -> None:
        raise AttributeError("results cannot be changed")

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        try:
            return self._numbers[name]
        except KeyError:
            known = ", ".join(self._numbers)
            raise AttributeError(f"{type(self).__name__} has no number {name!r}; its numbers are {known}") from None

    def __dir__(self) -> list[str]:
        return sorted({*super().__dir__(), *self._numbers})

    @property
    def numbers(self) -> Numbers:
        """All numbers, by name."""
        return self._numbers

    @property
    def sentence(self) -> str:
        """The decision in plain words, at most 30 of them."""
        return _display.clean(str(self._record["sentence"]))

    @property
    def details(self) -> tuple[str, ...]:
        """Everything else worth saying, a fact a line."""
        return tuple(map(_display.clean, self._record.get("details", ())))

    @property
    def notes(self) -> tuple[Note, ...]:
        """Named cautions, each with a sentence of explanation."""
        return tuple(Note(note["code"], note["text"]) for note in self._record["notes"])

    @property
    def methods(self) -> str:
        """The paragraph for a methods section."""
        text: str = _display.clean_lines(str(self._record["methods"]))
        return text

    @property
    def references(self) -> tuple[str, ...]:
        """Works cited."""
        return tuple(map(_display.clean, self._record["references"]))

    @property
    def made_with(self) -> Numbers:
        """Version, options, seed and data fingerprint."""
        return Numbers(self._record["made_with"])

    def table(self) -> pl.DataFrame:
        """One row per estimate, as a polars frame; proportions lie between 0 and 1.

        Columns keep their names whatever is counted: of survival ``rooted`` holds the survivors, and of rooting among
        survivors ``stuck`` does. What is shown (``print``, reports) heads them by what they hold.
        """
        import polars as pl

        kinds: dict[str, Any] = {"text": pl.String, "whole": pl.Int64, "number": pl.Float64}
        columns = self._record["table"]["columns"]
        names = own_names([c["name"] for c in columns])
        return pl.DataFrame(
            [pl.Series(name, c["values"], dtype=kinds[c["kind"]]) for name, c in zip(names, columns, strict=True)]
        )

    def plot(self) -> Figure:
        """A matplotlib figure of the result."""
        from rootling import _plots

        return self._drawn(lambda: _plots.draw(self))

    def _drawn(self, draw: Callable[[], Figure]) -> Figure:
        try:
            return draw()
        except (TypeError, AttributeError, LookupError, ValueError) as error:
            if isinstance(error, ChoiceError):
                raise
            raise ChoiceError(f"the record of this {self.kind} does not hold what its figure shows ({error})") from None

    def to_dict(self) -> dict[str, Any]:
        """The record as plain dictionaries, lists and values; a copy."""
        return copy_record(self._record)  # type: ignore[no-any-return]

    def to_json(self, indent: int | None = None) -> str:
        """The record as JSON. Infinite numbers are written as ``"inf"`` and ``"-inf"``; ``non_finite`` lists where."""
        return write_record(self.to_dict(), indent)

    @classmethod
    def from_dict(cls, record: Mapping[str, Any]) -> Result:
        """The result of a record; its class follows from the record's kind."""
        check_result(record, FACES)
        made = Result._kinds.get(str(record["kind"]), Result)
        return made(copy_record(record))

    @classmethod
    def from_json(cls, text: str) -> Result:
        """The result of a record written by :meth:`to_json`."""
        return cls.from_dict(read_record(text))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Result) and self.to_dict() == other.to_dict()

    def __hash__(self) -> int:
        return hash(self.to_json())

    def __reduce__(self) -> tuple[Any, tuple[dict[str, Any]]]:
        return Result.from_dict, (self.to_dict(),)

    def __repr__(self) -> str:
        try:
            return _display.text(self)
        except Exception:
            return f"{type(self).__name__} whose record cannot be shown; take it again from the trial or model"

    def _repr_html_(self) -> str:
        return _display.html_fragment(self)


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

    def plot(self) -> Figure:
        """A matplotlib figure: each value with its limits."""
        from rootling import _count_plots

        return _count_plots.estimate(self)

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
