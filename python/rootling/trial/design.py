"""What the recorded columns say about the design."""

from __future__ import annotations

from typing import Any

from rootling._results import typed
from rootling._words import clean


class Design(typed.trial.Design):
    """The design as recorded: the unit, balance, nesting, and what cannot be tested."""

    __slots__ = ()

    def __repr__(self) -> str:
        return "\n".join(map(clean, [self["sentence"], *(f"- {line}" for line in self["lines"])]))

    def __reduce__(self) -> Any:
        return Design, (dict(self._items),)
