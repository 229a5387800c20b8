"""Names that are not known, answered with the nearest that is."""

from __future__ import annotations

from collections.abc import Iterable

from rootling._given.values import shortened
from rootling.exceptions import ChoiceError

BEGINNING = 3
ALIKE = 0.7


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name that begins so, or the one that is written most alike.

    >>> nearest("conf", ["confidence", "trays"]), nearest("sede", ["seed", "trays"]), nearest("x", ["seed"])
    ('confidence', 'seed', None)
    """
    import difflib

    known = list(known)
    begun = [one for one in known if len(name) >= BEGINNING and one.startswith(name)]
    alike = difflib.get_close_matches(name, known, 1, ALIKE)
    return begun[0] if len(begun) == 1 else alike[0] if alike else None


def check_known(unknown: Iterable[str], known: Iterable[str], caller: str) -> None:
    """Refuses keywords that are none of the options, with the nearest that is."""
    known = list(known)
    for name in unknown:
        near = nearest(name, known)
        ask = f"; did you mean {near!r}?" if near else ";"
        options = f"its options are {', '.join(known)}" if known else "it has none"
        raise ChoiceError(
            f"{caller} has no option {shortened(name)}{ask} {options[0].upper() if near else 'i'}{options[1:]}"
        )
