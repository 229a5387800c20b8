"""Loading and what a trial knows about itself."""

from typing import Any, final

__all__ = ["Trial", "from_stream", "outcome_words", "plural", "read_cells", "read_csv"]

@final
class Trial:
    """A checked trial."""

    @property
    def issues(self) -> list[dict[str, Any]]: ...
    @property
    def set_aside(self) -> list[dict[str, Any]]: ...
    @property
    def design(self) -> dict[str, Any]: ...
    @property
    def notes(self) -> list[dict[str, str]]: ...
    @property
    def units(self) -> dict[str, Any]: ...
    def units_of(self, outcome: str) -> dict[str, Any]: ...
    @property
    def responses(self) -> list[dict[str, Any]]: ...
    @property
    def options(self) -> dict[str, Any]: ...
    @property
    def source(self) -> str: ...
    def for_later(self) -> dict[str, Any]: ...
    @property
    def fingerprint(self) -> str: ...
    def __arrow_c_stream__(self, requested_schema: Any = None) -> Any: ...

def read_csv(text: bytes, options: dict[str, Any]) -> Trial:
    """Reads the bytes of a csv file and checks them."""

def read_cells(cells: list[list[str | None]], notes: list[tuple[str, str]], options: dict[str, Any]) -> Trial:
    """Checks the cells of a sheet, row by row from its first."""

def from_stream(table: Any, source: str, options: dict[str, Any]) -> Trial:
    """Checks any object with an Arrow stream."""

def outcome_words(outcome: str) -> dict[str, str]:
    """The words of what is counted, by what they are for the take."""

def plural(noun: str) -> str:
    """A noun for several."""
