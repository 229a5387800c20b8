"""The one shape of all results: numbers, table, sentence, notes, plot, methods, record."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, ClassVar, Generic, cast

from rootling._figures import sized
from rootling._results import display
from rootling._results.checked import check_result, check_rows
from rootling._results.kinds import KINDS, Faces, caption_of, draw, enter, faces_of
from rootling._results.note import Note
from rootling._results.numbers import Numbers
from rootling._results.records import copy_record, read_record, write_record
from rootling._words import clean, clean_lines, own_names, with_works
from rootling.exceptions import ChoiceError

if TYPE_CHECKING:
    import polars as pl
    from matplotlib.figure import Figure
    from typing_extensions import TypeVar

    from rootling._given.choices import FigureWidth
    from rootling._results.typed.shared import MadeWith

    N = TypeVar("N", bound=Numbers, default=Numbers, covariant=True)
else:
    # At run time a result may leave out of which numbers it is, whatever the version of the language.
    from typing import TypeVar

    N = TypeVar("N", bound=Numbers, covariant=True)

# What every record holds beside its numbers.
PARTS = ("kind", "table", "sentence", "details", "notes", "methods", "references", "made_with")


# What a record says of how it was made, and no answer depends on: how its question was put, what was told of the trial.
UNASKED = ("asked", "about")


def _with_about(record: dict[str, Any], trial: Any) -> dict[str, Any]:
    """A record with what was told of the trial that answers, where something was."""
    told = getattr(trial, "about", None)
    return {**record, "made_with": {**record["made_with"], "about": dict(told.told)}} if told else record


def _answered(result: Result) -> dict[str, Any]:
    """The record without the form in which its question was put: counts from a list and a frame answer alike."""
    record = result.to_dict()
    made_with = {name: one for name, one in record["made_with"].items() if name not in UNASKED}
    return {**record, "made_with": made_with}


class Result(Generic[N]):
    """The parent of all results.

    A result is frozen and carries everything needed to read, show and redo it. Its figures are attributes, named with
    the field's words (``value``, ``low``, ``p``, ``n_units``, ...).
    """

    kind: str = ""
    _faces: ClassVar[Faces | None] = None
    _record: dict[str, Any]
    _numbers: Numbers
    _context: Mapping[str, Any]

    def __init__(self, record: Mapping[str, Any], context: Mapping[str, Any] | None = None) -> None:
        if not isinstance(record, Mapping) or "kind" not in record:
            # Nothing else is looked at here, since the core makes many: what comes from elsewhere goes by from_dict.
            check_result(record, PARTS)
        put = object.__setattr__
        put(self, "_record", _with_about(dict(record), (context or {}).get("trial")))
        put(self, "kind", str(record["kind"]))
        put(self, "_numbers", Numbers({k: v for k, v in self._record.items() if k not in PARTS}))
        put(self, "_context", context or {})

    def __init_subclass__(cls, *, faces: Faces | None = None, **options: Any) -> None:
        super().__init_subclass__(**options)
        enter(cls, faces)

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
    def numbers(self) -> N:
        """All numbers, by name."""
        return cast("N", self._numbers)

    @property
    def sentence(self) -> str:
        """The decision in plain words, at most 30 of them."""
        return clean(str(self._record["sentence"]))

    @property
    def details(self) -> tuple[str, ...]:
        """Everything else worth saying, a fact a line."""
        return tuple(map(clean, self._record.get("details", ())))

    @property
    def notes(self) -> tuple[Note, ...]:
        """Named cautions, each with a sentence of explanation."""
        return tuple(Note(note["code"], note["text"]) for note in self._record["notes"])

    @property
    def methods(self) -> str:
        """The paragraph for a methods section; works that are listed and not named in it stand at its end."""
        return with_works(clean_lines(str(self._record["methods"])), self.references)

    @property
    def references(self) -> tuple[str, ...]:
        """Works cited."""
        return tuple(map(clean, self._record["references"]))

    @property
    def made_with(self) -> MadeWith:
        """Version, options, seed and data fingerprint."""
        return cast("MadeWith", Numbers(self._record["made_with"]))

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

    def plot(self, *, width: FigureWidth | None = None) -> Figure:
        """A matplotlib figure of the result; ``caption`` says what it shows.

        Parameters
        ----------
        width : {"85 mm", "180 mm"}, optional
            Set for one column or for two of a journal, with letters of 6 points and more, to be placed as it is:
            saved as SVG its text stays text, saved as PDF it holds its fonts. As it reads best on a screen when left
            out.
        """
        return self._drawn(lambda: draw(self), width)

    @property
    def caption(self) -> str:
        """What belongs below the figure: the finding, what the marks are, and how many units stand behind it."""
        return caption_of(self)

    def _drawn(self, draw: Callable[[], Figure], width: FigureWidth | None = None) -> Figure:
        try:
            return sized(draw, width)
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
        check_result(record, PARTS)
        faces = faces_of(str(record["kind"]))
        check_rows(record, "" if faces is None else faces.rows)
        made = KINDS.get(str(record["kind"]), Result)
        return made(copy_record(record))

    @classmethod
    def from_json(cls, text: str) -> Result:
        """The result of a record written by :meth:`to_json`."""
        return cls.from_dict(read_record(text))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Result) and _answered(self) == _answered(other)

    def __hash__(self) -> int:
        return hash(write_record(_answered(self), None))

    def __reduce__(self) -> tuple[Any, tuple[dict[str, Any]]]:
        return Result.from_dict, (self.to_dict(),)

    def __repr__(self) -> str:
        try:
            return display.text(self)
        except Exception:
            return f"{type(self).__name__} whose record cannot be shown; take it again from the trial or model"

    def _repr_html_(self) -> str:
        return display.html_fragment(self)
