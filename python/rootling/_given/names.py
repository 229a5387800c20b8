"""Names that are not known, answered with the nearest that is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from rootling._given.values import is_name, plain, shortened
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


def one_column(option: str, value: Any) -> str | None:
    """The name of a column, or None where none was given."""
    value = plain(value)
    if value is None or is_name(value):
        return value  # type: ignore[no-any-return]
    raise ChoiceError(f'{option}={shortened(value)} is no name of a column; write {option}="name of the column"')


def column_names(option: str, value: Any) -> list[str]:
    """Names of columns, of which one may stand alone."""
    value = plain(value)
    if value is None:
        return []
    if isinstance(value, str):
        return [str(one_column(option, value))]
    if isinstance(value, Iterable) and not isinstance(value, (str, bytes, Mapping)):
        found = [plain(name) for name in value]
        if all(map(is_name, found)):
            return found
    raise ChoiceError(f'{option}={shortened(value)} is no list of names; write {option}=["first", "second"]')


def checked_progress(value: Any) -> Any:
    """What is called while work goes on; None where nobody watches."""
    if value is None or callable(value):
        return value
    raise ChoiceError(f"progress={shortened(value)} cannot be called; write progress=print")


def row_numbers(option: str, value: Any) -> list[int]:
    """Numbers of rows, of which one may stand alone."""
    value = plain(value)
    found = [plain(row) for row in value] if isinstance(value, Iterable) and not isinstance(value, str) else [value]
    if all(isinstance(row, int) and not isinstance(row, bool) and 0 < row < 2**63 for row in found):
        return found
    raise ChoiceError(f"{option}={shortened(value)} is no list of row numbers; write {option}=[14, 15]")
