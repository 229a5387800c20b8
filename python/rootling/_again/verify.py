"""A record and its data: the same question once more, and whether the same comes out."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any

from rootling._again.asked import ask
from rootling._again.beside import Leaves, error_beside, is_number, leaves_of, same, shown_place, unlike
from rootling._again.given import fingerprint_of, record_of
from rootling._again.options import Asked, options_of, seed_of
from rootling._again.told import Difference, Verified
from rootling.exceptions import ChoiceError, RootlingError

__all__ = ["verify"]

# Errors within which a number that was drawn anew is the same.
FAR = 4.0
# Numbers that records of a kind hold since later: where one has none of them, nothing was edited.
ADDED = {"comparison": ("se",), "take_rates": ("se",)}
# How it is said that data do not have a level.
NOT_A_LEVEL = re.compile("level of .* is not known")
# What a record says of its numbers in words.
WORDS = ("sentence", "details", "table", "notes", "methods", "references")


def verify(record: Any, data: Any = None, *, seed: int | None = None) -> Verified:
    """Asks the question of a record again, and says whether the same comes out.

    Numbers that follow from the data alone have to come out to their digits (the last may differ between machines,
    which is told). Numbers that were drawn come out as recorded by the same seed; by another one, or where the
    program draws otherwise by now, within four times the error that the records state.

    Parameters
    ----------
    record : Result, Model, dict, str or path
        A result or a model, its ``to_dict()``, its ``to_json()``, or the name of a file that holds it.
    data : Trial, Model, StrengthCurve, Watch, Baseline, Steps, Visits, Layout or list, optional
        What the question was asked of: a trial; the model or curve whose answer it is; the baseline, for what was
        asked of a crop with one. The layout of a plan and what was asked of plain counts need none: their records say
        it. A list where there are several: ``[model, smaller]``, ``[plan, trial]``.
    seed : int, optional
        Another seed for what is drawn; the recorded one when left out.

    Returns
    -------
    Verified
        ``agrees`` (also as ``bool(...)``), ``sentence``, ``details``, ``differences`` with ``table()``. Changed data
        are told from a changed program: by the fingerprint of the data, before anything is compared.

    Raises
    ------
    ChoiceError
        For what is no record, for a record that does not hold its question (one of plain counts or of a plan by an
        earlier version is such), and for data that are not what its question is asked of.

    Notes
    -----
    What words say of the numbers may change between versions and is told then. In a record of this very version other
    words (sentence, details, table, notes, methods, references) are those of an edited record. Options that a record
    leaves open are taken at their defaults, and ``details`` name them.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> kept = trial.compare("strength", 2500, 5000).to_json()
    >>> rl.verify(kept, trial).agrees
    True
    >>> later = rl.load_trial(rl.demo.two_strengths(seed=2), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> rl.verify(kept, later).sentence.split(":")[0]
    'The data have changed'
    """
    result = record_of(record)
    changed = _changed(result, data)
    try:
        asked = ask(result, data, seed)
    except ChoiceError as error:
        if changed is None and NOT_A_LEVEL.match(str(error)):
            raise ChoiceError(f"the record asks for a level that the data do not have: {error}") from None
        if changed is None or "was given; write" in str(error):
            raise
        return _cannot_be_asked(result, changed, error)
    except RootlingError as error:
        if changed is None:
            raise
        return _cannot_be_asked(result, changed, error)
    steps = _other_steps(result, asked.found)
    if steps is not None:
        return Verified(
            kind=result.kind,
            agrees=False,
            exact=False,
            data_changed=False,
            sentence=f"Asked with another option: the plants are followed along other steps. {steps}",
        )
    recorded, now = leaves_of(result.to_dict()), leaves_of(asked.found.to_dict())
    later = ADDED.get(result.kind, ())
    now = {place: value for place, value in now.items() if place[-1] not in later or place in recorded}
    places = unlike(recorded, now)
    unequal = any(not same(recorded.get(one), now.get(one)) for one in places)
    drawn = _drawn(result, data, seed, (recorded, now)) if unequal else set()
    differences = tuple(
        _difference(recorded, now, place, drawn=place in drawn, another=seed is not None) for place in places
    )
    otherwise = _other_strengths(result, asked.found)
    if otherwise is not None and changed is None:
        return Verified(
            kind=result.kind,
            agrees=False,
            exact=False,
            data_changed=True,
            sentence="The counts are those of the record, but strengths are declared otherwise: " + otherwise,
            differences=differences,
        )
    return _verdict(result, asked, (changed, seed), differences)


def _other_strengths(result: Any, found: Any) -> str | None:
    """What strengths were and are now, where a record says it and they differ; the fingerprint of counts does not."""
    recorded, now = (one.to_dict().get("made_with", {}).get("strength") for one in (result, found))
    if recorded is None or recorded == now:
        return None
    said = [
        "nothing"
        if one is None
        else ", ".join(str(one[part]) for part in ("substance", "unit", "method") if one.get(part))
        for one in (recorded, now)
    ]
    return f"{said[0]} in the record, {said[1]} now."


def _other_steps(result: Any, found: Any) -> str | None:
    """The steps of a chain then and now, where they are not the same: its fingerprint holds them too."""
    recorded, now = (_steps(one.to_dict()) for one in (result, found))
    if not recorded or not now or recorded == now:
        return None
    return f"{', '.join(recorded)} in the record, {', '.join(now)} now; name the same in steps=."


def _steps(record: Any) -> list[str]:
    """The steps of a record from its start on; none where it is of no chain."""
    start, steps = record.get("start"), record.get("steps")
    if not isinstance(start, str) or not isinstance(steps, list):
        return []
    return list(dict.fromkeys([start, *(str(one["step"]) for one in steps if isinstance(one, dict) and "step" in one)]))


def _changed(result: Any, data: Any) -> str | None:
    """That the data are not those of the record, with both fingerprints."""
    recorded = result.made_with["data_fingerprint"]
    now = fingerprint_of(data)
    if result.kind in {"pooled", "best_over_seasons"} and data is not None:
        several = data.values() if isinstance(data, Mapping) else data if isinstance(data, (list, tuple)) else (data,)
        recorded = ", ".join(str(one.data_fingerprint) for one in result.seasons)
        now = ", ".join(str(fingerprint_of(one)) for one in several)
    if recorded is None or now is None or recorded == now:
        return None
    return f"Fingerprint of the data: {recorded} recorded, {now} now; columns in other roles change it, too."


def _other_words(result: Any, found: Any) -> list[str]:
    """The parts of a record that do not read as this version writes them."""
    if result.made_with["version"] is None:
        return []
    recorded, now = result.to_dict(), found.to_dict()
    return [part for part in WORDS if not _reads_alike(recorded.get(part), now.get(part))]


def _other_making(result: Any, found: Any, seed: int | None) -> list[str]:
    """How a record says it was made, where asking it again says otherwise."""
    before, after = result.made_with, found.made_with
    if before["version"] is None or result.kind == "model":
        return []
    other = ["options"] if dict(before["options"]) != dict(after["options"]) else []
    return other + (["seed"] if seed is None and before["seed"] != after["seed"] else [])


def _reads_alike(recorded: Any, now: Any) -> bool:
    before, after = (leaves_of({"words": one}) for one in (recorded, now))
    return all(same(before.get(place), after.get(place)) for place in unlike(before, after))


def _cannot_be_asked(result: Any, changed: str, error: RootlingError) -> Verified:
    return Verified(
        kind=result.kind,
        agrees=False,
        exact=False,
        data_changed=True,
        sentence=f"The data have changed: the question of {_this(result)} cannot be asked of them.",
        details=(changed, str(error)),
    )


def _this(result: Any) -> str:
    """What the record is of: "this comparison", "these step yields"."""
    return f"{'these' if _several(result) else 'this'} {str(result.kind).replace('_', ' ')}"


def _several(result: Any) -> bool:
    kind = str(result.kind)
    return kind.endswith("s") and kind != "what_matters"


def _drawn(result: Any, data: Any, seed: int | None, both: tuple[Leaves, Leaves]) -> set[Any]:
    """The places that change with the seed; none where nothing was drawn."""
    recorded, now = both
    if result.made_with["seed"] is None:
        return set()
    other, _ = ask(result, data, seed_of(result, seed) + 1)
    found = set(unlike(now, leaves_of(other.to_dict())))
    if seed is not None and seed != result.made_with["seed"]:
        # A count may be the same by two seeds. What comes out as recorded by the recorded one changed with the seed.
        by_own, _ = ask(result, data, None)
        own = leaves_of(by_own.to_dict())
        found |= {place for place in unlike(recorded, now) if same(recorded.get(place), own.get(place))}
    return found


def _difference(recorded: Leaves, now: Leaves, place: Any, *, drawn: bool, another: bool) -> Difference:
    """What differs at a place that is drawn or not, under another seed or the same."""
    before, after = recorded.get(place), now.get(place)
    what = shown_place(place)
    if same(before, after):
        return Difference(what, before, after, within=True)
    errors = [error_beside(one, place) for one in (recorded, now)] if drawn else []
    stated = [one for one in errors if one is not None]
    if len(stated) == len((recorded, now)) and before is not None and after is not None:
        error = math.hypot(*stated)
        return Difference(what, before, after, error, abs(after - before) <= FAR * error)
    # By another seed other draws come out, and where no error is stated nothing more can be said of them.
    return Difference(what, before, after, within=drawn and another)


def _verdict(
    result: Any, asked: Asked, of: tuple[str | None, int | None], differences: tuple[Difference, ...]
) -> Verified:
    (found, assumed), (changed, seed) = asked, of
    beyond = [one for one in differences if not one.within]
    # Words follow the numbers: only where these come out can the words of this version be others by an edit alone.
    exact = all(same(one.recorded, one.found) for one in differences)
    edited = [*_other_words(result, found), *_other_making(result, found, seed)] if exact else []
    edited = [] if _versions(result, found) else edited
    details = [] if changed is None else [changed]
    details += _versions(result, found) + _options(result, found)
    if beyond:
        details += [f"{one[0].upper()}{one[1:]}." for one in assumed]
    elif edited:
        details += _told_of_words(found, edited, assumed)
    elif result.sentence not in (found.sentence, None):
        details.append(f"The sentence reads otherwise by now: {found.sentence}")
    return Verified(
        kind=result.kind,
        agrees=not beyond and not edited and changed is None,
        exact=not differences and not edited,
        data_changed=changed is not None and bool(beyond),
        sentence=_sentence(result, (found, changed, edited), differences),
        details=tuple(details),
        differences=differences,
    )


def _told_of_words(found: Any, edited: list[str], assumed: tuple[str, ...]) -> list[str]:
    told = [f"The sentence is: {found.sentence}"] if "sentence" in edited else []
    told.append(
        "Words of this version follow from the numbers; another method of the strengths, or another name of a column, "
        "changes them too."
    )
    return [*told, *(f"{one[0].upper()}{one[1:]}." for one in assumed)]


def _versions(result: Any, found: Any) -> list[str]:
    before, after = result.made_with["version"], found.made_with["version"]
    return [] if before in (after, None) else [f"Version: {before} recorded, {after} now."]


def _options(result: Any, found: Any) -> list[str]:
    """Options in force that are not as recorded, such as earlier trials that the data now bring along."""
    before, after = options_of(result), options_of(found)
    names = [name for name in dict.fromkeys([*before, *after]) if before.get(name) != after.get(name)]
    return [
        f"Option {name}: {before.get(name) or 'nothing'} recorded, {after.get(name) or 'nothing'} now."
        for name in names
        if result.kind != "model"
    ]


def _sentence(result: Any, against: tuple[Any, str | None, list[str]], differences: tuple[Difference, ...]) -> str:
    found, changed, edited = against
    both = [leaves_of(one.to_dict()) for one in (result, found)]
    count = len({place for leaves in both for place, value in leaves.items() if is_number(value)})
    beyond = [one for one in differences if not one.within]
    numbers = sum(is_number(one.recorded) or is_number(one.found) for one in beyond)
    share = f"{numbers} of {count} numbers" if numbers else "words that say how it was found"
    if changed is not None and beyond:
        return f"The data have changed: {share} come out otherwise."
    if changed is not None:
        return (
            f"The fingerprint of the data differs though all {count} numbers come out as recorded: columns in other "
            "roles, or an edited record."
        )
    if beyond and _versions(result, found):
        return f"The same data give other numbers with this version: {share} come out otherwise."
    if beyond:
        reason = "the record was edited, or asked with an option that it does not hold"
        return f"The same data give other numbers than were recorded: {share} come out otherwise; {reason}."
    if edited:
        parts = (
            f"{', '.join(edited[:-1])} and {edited[-1]} read" if len(edited) > 1 else f"{edited[0]} {_reads(*edited)}"
        )
        return f"All {count} numbers come out, but the text of {_this(result)} was edited: its {parts} otherwise."
    anew = sum(not same(one.recorded, one.found) for one in differences)
    if anew:
        most = f"{anew} of {count} numbers were drawn anew and are as near as drawing comes"
        come = "come" if _several(result) else "comes"
        return f"{_this(result).capitalize()} {come} out as recorded; {most}."
    digits = ", but for their last digits" if differences else ""
    return f"All {count} numbers of {_this(result)} come out as they were recorded{digits}."


def _reads(part: str) -> str:
    return "reads" if part in ("sentence", "table", "seed") else "read"
