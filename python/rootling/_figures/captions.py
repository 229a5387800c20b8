"""What stands below a figure: what its marks are, and how many units it rests on."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

from rootling._words import clean, outcomes

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result

F = TypeVar("F", bound=Callable[..., "Figure"])
Told = str | Callable[[Any], str]

# By the function that draws, what its marks are; names in braces are words of the result.
MARKS: dict[Callable[..., Any], Told] = {}


def marks(told: Told) -> Callable[[F], F]:
    """Says what the marks of the figure that follows are."""

    def entered(draws: F) -> F:
        MARKS[draws] = told
        return draws

    return entered


def marks_of(draws: Callable[..., Any], result: Any) -> str:
    """What the marks of a figure are, in the words of its result.

    >>> @marks("Points: {of_stuck}.")
    ... def draws(result): ...
    >>> marks_of(draws, type("Asked", (), {"_record": {}})())
    'Points: rooted of stuck.'
    """
    told = MARKS.get(draws, "")
    text = told if isinstance(told, str) else told(result)
    return text.format_map(_words(result)) if "{" in text else text


def _words(result: Any) -> dict[str, str]:
    confidence = getattr(result, "confidence", None)
    share = f"{100 * confidence:g} %" if isinstance(confidence, float) else ""
    known = {"of": f"{share} " if share else "", "at": share}
    if not hasattr(result, "_record"):
        return known
    # Single marks are of trays, whatever carries the answer.
    drawn = "tray" if carried_by(result) else unit_of(result)
    return {**outcomes.words_of(result), "unit": drawn, "units": outcomes.plural(drawn), **known}


def unit_of(result: Any) -> str:
    """What one unit of a result is called: "tray", or "bay" where these carry it."""
    named = result._record.get("unit")
    known = isinstance(named, str) and named and named != "cutting" and getattr(result, "kind", "") not in OF_STRENGTHS
    return _plain(named if known else outcomes.called_of(result))


def _plain(name: Any) -> str:
    """A unit by its name: "stock plant", and "bay" where bays are numbered within something."""
    return clean(str(name)).replace("_", " ").partition(" within ")[0]


# Answers whose unit is that of their strengths.
OF_STRENGTHS = ("strengths_for", "next_strengths", "best_strength_plan", "best_over_seasons")
# Where records name the treatments that an answer is about.
ABOUT = ("factor", "by", "within", "column")
# Answers about trays themselves, whatever treatments were given to.
OF_UNITS = ("tray_correlation",)


def carried_by(result: Any) -> list[dict[str, Any]]:
    """The treatments of an answer that were given to whole bays, blocks, seasons or plants, with how many these are."""
    made = result._record.get("made_with")
    given = made.get("given_to") if isinstance(made, dict) else None
    known = [one for one in given or () if isinstance(one, dict) and isinstance(one.get("n_units"), int)]
    if not known:
        return []
    asked = _treatments(result)
    of_all = not asked and result.kind not in OF_UNITS
    return [one for one in known if of_all or one.get("treatment") in asked]


def _treatments(result: Any) -> set[str]:
    """The treatments that an answer names; none where it is about all of them."""
    record = result._record
    own = record.get("input")
    options = own.get("options") if isinstance(own, dict) else None
    found = {one for name in ABOUT for one in _names(record.get(name)) if name == "by" or record[name] == one}
    # Of curves what is named within has a curve for each level; elsewhere it may be what was taken out.
    found |= {one for name in ABOUT for one in _names(options.get(name))} if isinstance(options, dict) else set()
    pairs = record["made_with"].get("options") or ()
    named = {
        str(one[0]): str(one[1]) for one in pairs if isinstance(one, (list, tuple)) and len(one) == len(("name", ""))
    }
    return found | set(filter(None, named.get("by", "").replace(" and ", ", ").split(", ")))


def _names(value: Any) -> list[str]:
    """One name or several."""
    if isinstance(value, str):
        return [value] if value else []
    return list(map(str, value)) if isinstance(value, (list, tuple)) else []


def counted(result: Result) -> str:
    """How many units and cuttings a figure rests on; nothing where the result does not know.

    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> counted(trial.take_rates("strength"))
    'n = 12 trays, 240 cuttings.'
    """
    numbers = result._record
    batches = _batches(numbers)
    if batches:
        return batches
    found = _of_pairs(numbers) or _whole(numbers) or _summed(numbers) or _of_model(result)
    if found is None:
        return ""
    units, cuttings = found
    units = 0 if _of_cuttings(numbers) else units
    carried = carried_by(result) if units else []
    told = [_carried(result, units, carried[0]) if carried else _number_of(units, unit_of(result))] if units else []
    told += [f"{cuttings:,} cuttings"] if cuttings else []
    return f"n = {', '.join(told)}{_judged(result, carried)}." if told else ""


def _number_of(units: int, unit: str) -> str:
    return f"{units:,} {unit if units == 1 else outcomes.plural(unit)}"


def _carried(result: Any, units: int, by: dict[str, Any]) -> str:
    """Bays that carry an answer, and the trays in them where these were counted."""
    bay = _plain(by["unit"])
    if unit_of(result) == bay and result.kind not in OF_TRAYS:
        return _number_of(units, bay)
    bays = _number_of(by["n_units"], bay)
    return f"{bays} with {_number_of(units, 'tray')}" if _alone(result) else f"{_number_of(units, 'tray')} in {bays}"


# Answers that name what carries them and count trays all the same.
OF_TRAYS = ("association",)


def _alone(result: Any) -> bool:
    """True where an answer is about nothing that was given to single trays."""
    asked = _treatments(result)
    return bool(asked) and asked <= {one.get("treatment") for one in carried_by(result)}


def _judged(result: Any, carried: list[dict[str, Any]]) -> str:
    """Which treatments bays carry, where others are given to trays."""
    if not carried or _alone(result):
        return ""
    return "; " + "; ".join(judged_by(carried))


def judged_by(carried: list[dict[str, Any]]) -> list[str]:
    """What carries which treatments.

    >>> judged_by([{"treatment": "dark_days", "unit": "bay", "n_units": 9}])
    ['bays carry what is said of dark days']
    """
    units: dict[str, list[str]] = {}
    for one in carried:
        units.setdefault(_plain(one["unit"]), []).append(_plain(one["treatment"]))
    return [f"{outcomes.plural(unit)} carry what is said of {' and '.join(names)}" for unit, names in units.items()]


def _of_cuttings(numbers: Any) -> bool:
    """True where no trays were recorded, so that rows are no units."""
    table = numbers.get("table")
    names = [one.get("name") for one in table.get("columns") or ()] if isinstance(table, dict) else []
    return numbers.get("unit") == "cutting" or ("rates" in numbers and "stuck" in names and "n_units" not in names)


def _batches(numbers: Any) -> str:
    """Batches of a chain of steps, and plants started; nothing of what is counted otherwise."""
    levels = [one for one in numbers.get("levels") or () if isinstance(one, dict) and "n_batches" in one]
    names = ("n_batches", "n_batches_first", "n_batches_second")
    batches = sum(_number(numbers, name) for name in names) or sum(_number(one, "n_batches") for one in levels)
    if not batches or "steps" not in numbers:
        return ""
    started = _number(numbers, "n_started") or sum(_number(one, "n_started") for one in levels)
    return f"n = {batches:,} batch{'' if batches == 1 else 'es'}{f', {started:,} started' if started else ''}."


def _of_pairs(numbers: Any) -> tuple[int, int] | None:
    """Units of the levels of pairs, each level once."""
    levels: dict[str, int] = {}
    pairs = numbers.get("pairs")
    for pair in pairs if isinstance(pairs, (list, tuple)) else ():
        units = pair.get("n_units") if isinstance(pair, dict) else None
        if not isinstance(units, (list, tuple)) or len(units) != len(("first", "second")):
            return None
        levels |= {str(pair.get("first")): units[0], str(pair.get("second")): units[1]}
    return (sum(levels.values()), 0) if levels else None


def _number(record: Any, name: str) -> int:
    value = record.get(name)
    return value if isinstance(value, int) and not isinstance(value, bool) else 0


def _whole(numbers: Any) -> tuple[int, int] | None:
    units = _number(numbers, "n_units")
    return (units, _number(numbers, "n_cuttings")) if units else None


# Parts of an answer that share its units out between them.
PARTS = ("rates", "levels", "first", "second", "strengths")


def _summed(numbers: Any) -> tuple[int, int] | None:
    parts: list[Any] = []
    for name in PARTS:
        found = numbers.get(name)
        parts += found if isinstance(found, (list, tuple)) else [found]
    curves = numbers.get("curves")
    for curve in curves if isinstance(curves, (list, tuple)) else ():
        parts += curve.get("strengths") or [] if isinstance(curve, dict) else []
    shares = [one for one in parts if isinstance(one, dict) and _number(one, "n_units")]
    if not shares:
        return None
    return sum(_number(one, "n_units") for one in shares), sum(
        _number(one, "n_cuttings") or _number(one, "stuck") for one in shares
    )


def _of_model(result: Any) -> tuple[int, int] | None:
    """The units that a model was fitted to."""
    trays = result._record.get("trays")
    if isinstance(trays, (list, tuple)) and trays and isinstance(trays[0], dict) and "stuck" in trays[0]:
        return len(trays), sum(_number(one, "stuck") for one in trays)
    asked = result._context.get("units")
    units = None if asked is None else asked()
    if units is None:
        return _rested_on(result)
    if units["kind"] != "tray":
        return None
    return sum(1 for stuck in units["stuck"] if stuck), sum(units["stuck"])


def _rested_on(result: Any) -> tuple[int, int] | None:
    """The same of a record that is read: what it says it rests on."""
    pairs = result._record["made_with"].get("rests_on") or ()
    known = {str(one[0]): one[1] for one in pairs if isinstance(one, (list, tuple)) and len(one) == len(("name", ""))}
    units, cuttings = known.get("n_units"), known.get("n_cuttings")
    return (int(units), int(cuttings)) if units and cuttings else None
