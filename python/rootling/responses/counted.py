"""Laws of plain counts: how many have any, how many those have, and which law the counts follow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl

from rootling import _core
from rootling._figures import laws
from rootling._given import is_name, list_of, plain, shortened, spelled, whole_array
from rootling._given.choices import Confidence, LawOfCounts
from rootling._results import Faces, Result, typed
from rootling.exceptions import CountError

__all__ = ["CountLaw", "count_law"]

COLUMNS = 'columns={"length": [8.5, 9.0, ...]}'


class CountLaw(
    Result[typed.responses.FittedCounts],
    typed.responses.FittedCountsFields,
    faces=Faces(
        figure=laws.count_law,
        question="How many {name} do cuttings have, and which law do these counts follow?",
        rows="groups",
    ),
):
    """A law of plain counts, by group."""

    kind = "count_law"

    def counted(self) -> pl.DataFrame:
        """One row per group and count: how often it was met, and how often the law expects it.

        The last row of a group holds all counts that are larger, where there are any (``or_more``).
        """
        last = self.last_count
        rows = [
            (one.group, min(at, last + 1), at > last, seen, expected)
            for one in self.groups
            for at, (seen, expected) in enumerate(zip(one.observed, one.expected, strict=True))
        ]
        names = ("group", "count", "or_more", "observed", "expected")
        return pl.DataFrame(rows, schema=names, orient="row")

    def laws(self) -> pl.DataFrame:
        """One row per law, the likeliest for its numbers first: likelihood, criterion, zeros that it expects."""
        names = ("law", "loglik", "n_parameters", "aic", "behind", "zeros", "spread", "why")
        kinds: dict[str, Any] = {"n_parameters": pl.Int64, "law": pl.String, "why": pl.String}
        schema = {name: kinds.get(name, pl.Float64) for name in names}
        return pl.DataFrame(
            [[getattr(one, name) for name in names] for one in self.beside], schema=schema, orient="row"
        )


def count_law(
    counts: Any,
    groups: Any = None,
    *,
    law: LawOfCounts = "hurdle-negative-binomial",
    columns: Mapping[str, Sequence[Any]] | None = None,
    offset: Any = None,
    zero_inflated: bool = False,
    name: str = "roots",
    by: str | None = None,
    confidence: Confidence = 0.95,
) -> CountLaw:
    """The law of plain counts, one entry per cutting; cuttings count as independent.

    Parameters
    ----------
    counts : list of int
        What was counted on each cutting; 0 where it has none.
    groups : list, optional
        The group of each cutting, for example its strength.
    law : str
        ``"poisson"`` and ``"negative-binomial"`` have zeros as they come; ``"hurdle-poisson"`` and
        ``"hurdle-negative-binomial"`` ask first whether there are any, then how many; ``"truncated-poisson"`` and
        ``"truncated-negative-binomial"`` are for counts of 1 or more alone; ``"zero-inflated-poisson"`` and
        ``"zero-inflated-negative-binomial"`` add zeros to those of the law.
    columns : dict, optional
        What else is known of each cutting, by name: numbers, or levels. They act on both parts of a law. Means are then
        averages over all cuttings, each group given the columns of all.
    offset : list of float, optional
        Natural logarithm of how much was looked at on each cutting; the mean of the law is in proportion to it.
    zero_inflated : bool
        Also set laws with zeros added beside the others.
    name : str
        What was counted, in the plural.
    by : str, optional
        What the groups are of, for example ``"strength"``; the name of a series when left out.
    confidence : float
        Confidence level, a proportion.

    Returns
    -------
    CountLaw
        ``groups``, each with its mean count ``value``, the share ``any`` that has any, the mean ``of_any`` of those,
        all with limits; ``spread``; ``effects`` of columns; ``aic`` and ``beside``, the laws by Akaike's criterion;
        ``counted()`` and ``laws()`` as tables.

    Raises
    ------
    CountError
        For counts that cannot be, that are all 0, or that hold zeros under a truncated law; for columns that groups
        make up; and for a law whose likelihood has no top.

    Notes
    -----
    Roots of cuttings have zeros of their own, so the hurdle leads: a treatment may change who roots, how many roots
    these have, or both. Not for cuttings in trays: trays differ, so load the trial and use ``trial.means``.

    References
    ----------
    Mullahy 1986, J. Econom. 33:341-365; Lambert 1992, Technometrics 34:1-14; Ridout, Demetrio & Hinde 1998.

    Examples
    --------
    >>> import rootling as rl
    >>> roots = [0, 2, 0, 3, 1, 5, 0, 4, 2, 0, 4, 6, 3, 5, 8, 0, 7, 2, 5, 4]
    >>> found = rl.responses.count_law(roots, [0] * 10 + [2500] * 10, by="strength")
    >>> [round(one.any, 2) for one in found.groups], [round(one.value, 2) for one in found.groups]
    ([0.6, 0.9], [1.7, 4.4])
    """
    values = whole_array(counts)
    if values.ndim != 1:
        raise CountError("counts are a list with one entry per cutting")
    if not is_name(name):
        raise CountError(f'name={shortened(name)} is no name of what was counted; write name="roots"')
    codes, levels = _groups(groups, len(values))
    options = {
        "law": law,
        "zero_inflated": zero_inflated,
        "confidence": confidence,
        "name": name,
        "by": _by(by, groups),
    }
    offsets = None if offset is None else _numbers("offset", offset)
    given = _columns(columns)
    return CountLaw(_core.responses.count_law(values, (codes, levels), given, offsets, options))


def _by(by: str | None, groups: Any) -> str:
    """What the groups are of."""
    if by is not None and not is_name(by):
        raise CountError(f'by={shortened(by)} is no name of what groups are of; write by="strength"')
    named = getattr(groups, "name", None) if by is None else by
    return str(named) if is_name(named) else ""


def _groups(given: Any, rows: int) -> tuple[Any, list[str]]:
    """The place of each group among the levels, and what these are called: numbers rise, words stand as they come."""
    import numpy as np

    if given is None:
        return np.zeros(rows, dtype=np.uint32), ["all"]
    held = _list("groups", given)
    numbers = _as_numbers(held)
    if numbers is not None:
        found, codes = np.unique(numbers, return_inverse=True)
        return codes.astype(np.uint32), [spelled(one) for one in found.tolist()]
    places, levels = _placed("groups", held)
    return np.asarray(places, dtype=np.uint32), levels


def _placed(name: str, held: Sequence[Any]) -> tuple[list[int], list[str]]:
    """The place of each entry among the words met, and these in their order."""
    found: dict[str, int] = {}
    places = []
    for at, one in enumerate(held):
        if one is None or one != one:
            raise CountError(f"{name}: entry {at + 1} is missing; give one for each count, or leave its cutting out")
        places.append(found.setdefault(spelled(one), len(found)))
    return places, list(found)


def _as_numbers(held: Any) -> Any:
    """An array where all entries are numbers and none is missing."""
    import numpy as np

    found = held if hasattr(held, "dtype") else np.asarray(held) if _all_numbers(held) else None
    if found is None or found.dtype.kind not in "iuf" or not bool(np.isfinite(found).all()):
        return None
    return found


def _all_numbers(held: Sequence[Any]) -> bool:
    return all(isinstance(one, (int, float)) and not isinstance(one, bool) for one in held)


def _list(name: str, given: Any) -> Any:
    """An array or list with one entry per cutting."""
    if hasattr(given, "dtype") and getattr(given, "ndim", 0) == 1 and getattr(given.dtype, "kind", "") in "iuf":
        return given
    if isinstance(given, (str, bytes, Mapping)) or not hasattr(given, "__iter__"):
        raise CountError(f"{name}={shortened(given)} is no list; give one entry for each count")
    return [plain(one) for one in list_of(given)]


def _numbers(name: str, given: Any) -> Any:
    """Numbers as an array; what is missing among them is told by the core."""
    import numpy as np

    held = _list(name, given)
    try:
        return np.ascontiguousarray(held, dtype=np.float64)
    except (TypeError, ValueError):
        raise CountError(f"{name} holds entries that are no numbers; give a number for each count") from None


def _columns(given: Any) -> list[tuple[str, tuple[str, str] | None, Any]]:
    """Columns as the core takes them: numbers as they are, each further level against the first."""
    import numpy as np

    if given is None:
        return []
    if not isinstance(given, Mapping) or not all(is_name(one) for one in given):
        raise CountError(f"columns={shortened(given)} does not say what they are called; write {COLUMNS}")
    made: list[tuple[str, tuple[str, str] | None, Any]] = []
    for name, values in given.items():
        held = _list(name, values)
        if hasattr(held, "dtype") or _all_numbers(held) or None in held:
            made.append((name, None, _numbers(name, held)))
            continue
        places, levels = _placed(name, held)
        codes = np.asarray(places)
        made += [(name, (level, levels[0]), (codes == at).astype(float)) for at, level in enumerate(levels) if at]
    return made
