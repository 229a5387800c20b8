"""What earlier trials hand on to a later one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from rootling._given import plain
from rootling.exceptions import TrialDataError
from rootling.trial.trial import Trial

LARGEST = 2**63


_KNOWN: dict[str, type | tuple[type, ...]] = {
    **dict.fromkeys(("unit", "role"), str),
    "totals": bool,
    **dict.fromkeys(("mean_square", "beneath", "cuttings", "df"), (int, float)),
}


def earlier_records(earlier: Any) -> list[dict[str, Any]]:
    """Trials, or the records that they hand on, as records."""
    earlier = plain(earlier)
    single = isinstance(earlier, (Trial, Mapping, str)) or not isinstance(earlier, Iterable)
    each: list[Any] = [] if earlier is None else [earlier] if single else list(earlier)
    for one in each:
        if not isinstance(one, Trial) and not is_earlier(one):
            what = "a record" if isinstance(one, Mapping) else repr(type(one).__name__)
            reason = f"{what} in earlier= is neither a trial nor the record of one"
            hint = "give earlier=[trial], or what trial.for_later() gave"
            raise TrialDataError.of_input("not_an_earlier_trial", reason, hint)
    return [one.for_later() if isinstance(one, Trial) else dict(one) for one in each]


def is_earlier(record: Any) -> bool:
    """Whether this is what a trial hands on to later ones, all of it.

    >>> is_earlier({"trials": ["63169ff9cd5944df"], "known": []}), is_earlier({"trials": 1, "known": []})
    (True, False)
    """
    if not isinstance(record, Mapping) or set(record) != {"trials", "known"}:
        return False
    trials, known = record["trials"], record["known"]
    lists = isinstance(trials, (list, tuple)) and isinstance(known, (list, tuple))
    return lists and all(isinstance(one, str) for one in trials) and all(map(_is_known, known))


def _is_known(one: Any) -> bool:
    if not isinstance(one, Mapping) or set(one) != set(_KNOWN):
        return False
    numbers = (name for name, kind in _KNOWN.items() if kind == (int, float))
    kinds = all(isinstance(one[name], kind) for name, kind in _KNOWN.items())
    return kinds and not any(isinstance(one[name], bool) or abs(one[name]) > LARGEST for name in numbers)
