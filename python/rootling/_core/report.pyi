"""Tables as they are read, and the words of cautions."""

from typing import Any

__all__ = ["cells", "doi_of", "laid_out", "own_names", "working_cautions", "written"]

def cells(table: dict[str, Any], format: str) -> dict[str, Any]:
    """Heads and cells of a table, and which columns hold numbers."""

def doi_of(reference: str) -> str | None:
    """The identifier of a work by the line that lists it."""

def laid_out(table: dict[str, Any], format: str) -> str:
    """The table as one text."""

def own_names(names: list[str]) -> list[str]:
    """Column names without twins."""

def working_cautions() -> list[dict[str, str]]:
    """What is said wherever strengths are shown."""

def written(value: float, scale: str) -> str:
    """A number by what it is."""
