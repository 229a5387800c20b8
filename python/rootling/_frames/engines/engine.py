"""What is asked of any engine that holds a table, and whether something is such a table."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Protocol, runtime_checkable

import polars as pl

from rootling._frames.engines.adapted import ENGINES, Adapted, Progress, adapted
from rootling._frames.engines.streamed import Streamed
from rootling._frames.engines.tally import Tally
from rootling._frames.engines.which import Asked, Which

__all__ = ["Engine", "engine_of"]


@runtime_checkable
class Engine(Protocol):
    """A table where it lies. Answers are frames of polars or pandas, as the engine gives them."""

    @property
    def name(self) -> str:
        """The engine, as its makers write it."""

    @property
    def numbered(self) -> bool:
        """True where rows stand in an order, so that messages can name them by number."""

    @property
    def writes(self) -> tuple[str, ...]:
        """Endings of the files that it writes."""

    def names(self) -> list[str]:
        """The columns."""

    def plain(self) -> list[str]:
        """Columns of numbers, text, dates and true/false."""

    def told(self, done: int, parts: int) -> None:
        """Tells whoever watches how many parts of loading are done, of how many."""

    def height(self, most: int) -> int:
        """The number of rows; of more than ``most`` any number above."""

    def first(self, columns: Sequence[str], rows: int) -> Any:
        """So many rows, those that come first."""

    def listed(self, columns: Sequence[str]) -> Any:
        """The columns as they are."""

    def counted(self, columns: Sequence[str], asked: Asked) -> Any:
        """A line for each set of rows that are alike in the columns, with how many they are."""

    def tallied(self, columns: Sequence[str], asked: Asked) -> Tally | None:
        """The same with yes and no beside each other; None where that is no faster, or where something else is said."""

    def values(self, columns: Sequence[str]) -> dict[str, int]:
        """How many different entries each column has, nearly."""

    def varying(self, labels: Sequence[str], columns: Sequence[str]) -> dict[str, int]:
        """In how many sets of labels each column has more than one entry."""

    def write(self, which: Which, path: Path) -> None:
        """Writes rows to a file of parquet or csv."""


def engine_of(data: Any, progress: Progress | None = None) -> Engine | None:
    """The engine that holds a table; None for anything else."""
    if isinstance(data, (Streamed, Adapted)):
        return data
    if isinstance(data, pl.LazyFrame):
        return Streamed(data, progress)
    return adapted(data, progress) if type(data).__module__.split(".")[0] in ENGINES else None
