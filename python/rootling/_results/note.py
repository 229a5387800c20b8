"""A named caution."""

from __future__ import annotations

from dataclasses import dataclass

from rootling._words import clean_lines


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
        object.__setattr__(self, "text", clean_lines(self.text))

    def __str__(self) -> str:
        return f"{self.code}: {self.text}"
