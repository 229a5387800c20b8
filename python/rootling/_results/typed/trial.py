"""The design of a trial as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from collections.abc import Mapping

from rootling._results.numbers import Numbers
from rootling._results.typed import shared


class Confounding(Numbers):
    """A treatment that cannot be told apart from a place or from another treatment."""

    __slots__ = ()

    treatment: str
    # numbers["with"]: str
    reason: str


class DesignFields:
    """The design as recorded."""

    __slots__ = ()

    unit: str
    n_units: int
    n_cuttings: int
    n_combinations: int
    fewest_units: int
    most_units: int
    confounded: tuple[Confounding, ...]
    whole_plot_treatments: tuple[str, ...]
    controls: Mapping[str, str]
    sentence: str
    lines: tuple[str, ...]
    notes: tuple[shared.Note, ...]


class Design(DesignFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()
