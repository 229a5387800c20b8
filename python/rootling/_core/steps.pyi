"""The chain of steps, readers, early signs and visits."""

from collections.abc import Callable
from typing import Any, final

__all__ = ["Steps", "StepsTable", "Visits", "agreement", "early_sign", "from_stream", "read_cells", "read_csv"]
__all__ += ["read_visits", "table_of_cells", "table_of_csv", "table_of_stream", "visits_of_cells", "visits_of_stream"]
__all__ += ["with_plants", "yield_change"]

@final
class Steps:
    """A chain of steps."""

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
    def columns(self) -> list[str]:
        """The columns of the chain."""

    @property
    def level_columns(self) -> list[dict[str, Any]]:
        """Columns of levels with the parts they play."""

    @property
    def fingerprint(self) -> str:
        """A short hash of the batches."""

    def yields(self, options: dict[str, Any]) -> dict[str, Any]:
        """Takes, overall yield, where trees go."""

    def compare(self, column: str, levels: tuple[str, str], options: dict[str, Any]) -> dict[str, Any]:
        """Two levels side by side."""

    def compare_all(self, column: str, options: dict[str, Any]) -> dict[str, Any]:
        """All levels side by side."""

    def to_start(self, wanted: int, options: dict[str, Any]) -> dict[str, Any]:
        """How many to start."""

    def sure_of(self, started: int, options: dict[str, Any]) -> dict[str, Any]:
        """What so many started bring."""

def read_csv(text: bytes, options: dict[str, Any]) -> Steps:
    """A chain from delimited text."""

def read_cells(cells: list[list[str | None]], notes: list[tuple[str, str]], options: dict[str, Any]) -> Steps:
    """A chain from the cells of a sheet."""

def from_stream(table: Any, source: str, options: dict[str, Any]) -> Steps:
    """A chain from a frame."""

@final
class StepsTable:
    """A table of counts or of plants."""

def table_of_csv(text: bytes, columns: list[str], header_row: int | None) -> StepsTable:
    """A table from delimited text."""

def table_of_cells(
    cells: list[list[str | None]], notes: list[tuple[str, str]], columns: list[str], header_row: int | None
) -> StepsTable:
    """A table from the cells of a sheet."""

def table_of_stream(table: Any, source: str) -> StepsTable:
    """A table from a frame."""

def with_plants(counts: StepsTable, plants: StepsTable, options: dict[str, Any]) -> Steps:
    """A chain from counts of batches and their plants."""

def yield_change(before: list[tuple[str, float]], after: list[tuple[str, float]]) -> dict[str, Any]:
    """A change of the overall yield, step by step."""

def agreement(trays: list[list[list[int]]], options: dict[str, Any]) -> dict[str, Any]:
    """What two readers agree on."""

def early_sign(trays: list[list[int]], options: dict[str, Any]) -> dict[str, Any]:
    """What an early sign of rooting tells."""

@final
class Visits:
    """Visits to trays."""

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
    def columns(self) -> dict[str, Any]:
        """What was named when they were loaded."""

    @property
    def days(self) -> list[int]:
        """The days of the visits."""

    @property
    def fingerprint(self) -> str:
        """A short hash of the trays."""

    def rows(self) -> list[dict[str, Any]]:
        """Plants at risk and what became of them, by tray and visit."""

    def over_time(
        self, options: dict[str, Any], progress: Callable[[int, int], object] | None = None
    ) -> dict[str, Any]:
        """Shares of all started by each visit."""

    def compare_times(
        self, treatment: str, options: dict[str, Any], progress: Callable[[int, int], object] | None = None
    ) -> dict[str, Any]:
        """Levels compared over time."""

def read_visits(text: bytes, options: dict[str, Any]) -> Visits:
    """Visits from delimited text."""

def visits_of_cells(cells: list[list[str | None]], notes: list[tuple[str, str]], options: dict[str, Any]) -> Visits:
    """Visits from the cells of a sheet."""

def visits_of_stream(table: Any, source: str, options: dict[str, Any]) -> Visits:
    """Visits from a frame."""
