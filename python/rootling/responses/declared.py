"""What a column of a response holds: counts, lengths, masses or grades, in their unit or on their scale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from rootling._given import is_name, plain, shortened
from rootling.exceptions import ChoiceError

__all__ = ["Response", "count", "grade", "length", "mass"]

LENGTHS = ("mm", "cm", "m")
MASSES = ("mg", "g", "kg")


@dataclass(frozen=True, repr=False)
class Response:
    """What a column of a response holds. Made by :func:`count`, :func:`length`, :func:`mass` and :func:`grade`.

    Examples
    --------
    >>> import rootling as rl
    >>> rl.responses.length("cm")
    rl.responses.length('cm')
    """

    kind: str
    unit: str | None = None
    lowest: int | None = None
    highest: int | None = None
    means_of: str | None = None

    def __repr__(self) -> str:
        given = [repr(one) for one in (self.unit, self.lowest, self.highest) if one is not None]
        given += [] if self.means_of is None else [f"means_of={self.means_of!r}"]
        return f"rl.responses.{self.kind}({', '.join(given)})"


def count(*, means_of: str | None = None) -> Response:
    """Counts of a rooted cutting, such as its roots.

    With one row per cutting an entry is a whole number: 1 or more where the cutting rooted, 0 or blank where it did
    not. A rooted cutting without an entry is asked about, since a blank is no 0.

    Parameters
    ----------
    means_of : str, optional
        With one row per tray: entries are means over rooted cuttings, and this column says over how many
        (``means_of="rooted"`` where all that rooted were counted). How cuttings of one tray differ is lost then.

    Returns
    -------
    Response

    Examples
    --------
    >>> import rootling as rl
    >>> rows = {"strength": [0] * 4 + [2500] * 4, "tray": list("abcdefgh"), "stuck": [20] * 8,
    ...         "rooted": [6, 8, 5, 9, 13, 15, 12, 14], "roots": [2.5, 2.5, 2.6, 3.0, 4.0, 4.4, 3.5, 5.5]}
    >>> trial = rl.load_trial(rows, rooted="rooted", stuck="stuck", treatments="strength", tray="tray",
    ...                       responses={"roots": rl.responses.count(means_of="rooted")})
    >>> [line for line in trial.design.lines if line.startswith("roots")]
    ['roots: counts of 82 rooted cuttings as tray means, 2.5 to 5.5']
    """
    return Response("count", means_of=_means_of(means_of))


def length(unit: str, *, means_of: str | None = None) -> Response:
    """Lengths of a rooted cutting, such as its longest root.

    Parameters
    ----------
    unit : {"mm", "cm", "m"}
        The unit of all entries. One that says another, as "30 mm" in a column of cm, is listed and never converted.
    means_of : str, optional
        As in :func:`count`.

    Returns
    -------
    Response

    Examples
    --------
    >>> import rootling as rl
    >>> rl.responses.length("cm").unit
    'cm'
    """
    return Response("length", unit=_unit("length", unit, LENGTHS), means_of=_means_of(means_of))


def mass(unit: str, *, means_of: str | None = None) -> Response:
    """Masses of a rooted cutting, such as that of its roots, dried.

    Parameters
    ----------
    unit : {"mg", "g", "kg"}
        The unit of all entries.
    means_of : str, optional
        As in :func:`count`.

    Returns
    -------
    Response

    Examples
    --------
    >>> import rootling as rl
    >>> rl.responses.mass("g").kind
    'mass'
    """
    return Response("mass", unit=_unit("mass", unit, MASSES), means_of=_means_of(means_of))


def grade(lowest: int, highest: int) -> Response:
    """Grades of every cutting, rooted or not, on a scale of whole numbers.

    Grades have an order and no mean: 4 is more than 2, not twice as much.

    Parameters
    ----------
    lowest, highest : int
        The ends of the scale. Where it begins at 0, a blank of a cutting that did not root is a 0.

    Returns
    -------
    Response

    Examples
    --------
    >>> import rootling as rl
    >>> rl.responses.grade(0, 5).highest
    5
    """
    ends = [plain(end) for end in (lowest, highest)]
    whole = all(isinstance(end, int) and not isinstance(end, bool) for end in ends)
    if not whole or not 0 <= ends[0] < ends[1] <= ends[0] + 20:
        shown = f"{shortened(lowest)} to {shortened(highest)}"
        raise ChoiceError(f"{shown} is no scale of grades; write rl.responses.grade(0, 5) with its lowest and highest")
    return Response("grade", lowest=ends[0], highest=ends[1])


def _unit(kind: str, unit: Any, known: tuple[str, ...]) -> str:
    if isinstance(unit, str) and unit in known:
        return unit
    told = f"write rl.responses.{kind}({known[1]!r}); known: {', '.join(known)}"
    raise ChoiceError(f"unit {shortened(unit)} is no unit of a {kind}; {told}")


def _means_of(name: Any) -> str | None:
    name = plain(name)
    if name is None or is_name(name):
        return None if name is None else str(name)
    raise ChoiceError(f'means_of={shortened(name)} is no name of a column; write means_of="rooted"')
