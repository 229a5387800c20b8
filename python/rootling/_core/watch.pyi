"""Watching a crop."""

from collections.abc import Callable
from typing import Any, final

__all__ = ["Watch", "day_of", "from_stream", "read_cells", "read_csv", "shown_day"]

@final
class Watch:
    """A crop under watch."""

    @property
    def issues(self) -> list[dict[str, Any]]:
        """Everything found while reading."""

    @property
    def set_aside(self) -> list[dict[str, Any]]:
        """Rows that do not enter."""

    @property
    def notes(self) -> list[dict[str, Any]]:
        """Named cautions."""

    @property
    def batches(self) -> list[dict[str, Any]]:
        """The batches."""

    @property
    def groupings(self) -> list[dict[str, Any]]:
        """The columns of levels."""

    @property
    def reading_age(self) -> int | None:
        """Days after setting at which batches are judged."""

    @property
    def fingerprint(self) -> str:
        """A short hash of the batches."""

    def expected(self, options: dict[str, Any], progress: Callable[[int, int], object] | None = None) -> dict[str, Any]:
        """A baseline."""

    def signals(
        self,
        baseline: dict[str, Any],
        options: dict[str, Any],
        progress: Callable[[int, int], object] | None = None,
    ) -> dict[str, Any]:
        """Charts, signals and what follows."""

    def mix(self, options: dict[str, Any]) -> dict[str, Any]:
        """Parts of a raw difference."""

    def target(self, target: float | None, baseline: dict[str, Any], options: dict[str, Any]) -> dict[str, Any]:
        """A rate against a target, or against last season where none is given."""

    def places(self, baseline: dict[str, Any], options: dict[str, Any]) -> dict[str, Any]:
        """Rooms or grafters side by side."""

    def batch_chart(self, baseline: dict[str, Any], options: dict[str, Any]) -> dict[str, Any]:
        """Batches one by one."""

def read_csv(text: bytes, options: dict[str, Any]) -> Watch:
    """Reads delimited text."""

def read_cells(cells: list[list[str | None]], notes: list[tuple[str, str]], options: dict[str, Any]) -> Watch:
    """Reads the cells of a sheet."""

def from_stream(table: Any, source: str, options: dict[str, Any]) -> Watch:
    """Reads a frame."""

def day_of(text: str) -> int | None:
    """A day counted from 1970."""

def shown_day(day: int) -> str:
    """A day as it is written."""
