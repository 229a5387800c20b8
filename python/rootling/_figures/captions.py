"""What stands below a figure: what its marks are, and how many units it rests on."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

from rootling._words import outcomes

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
    return {**outcomes.words_of(result), "unit": unit_of(result), "units": outcomes.plural(unit_of(result)), **known}


def unit_of(result: Any) -> str:
    """What one unit of a result is called."""
    named = result._record.get("unit")
    # Of what is asked of a curve the unit is that of its strengths.
    known = named if isinstance(named, str) and named in UNITS else outcomes.called_of(result)
    return known.replace("_", " ")


UNITS = ("tray", "block", "whole_plot", "season", "stock_plant", "mother_plant", "mother plant")


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
    told = [f"{units:,} {unit_of(result) if units == 1 else outcomes.plural(unit_of(result))}"] if units else []
    told += [f"{cuttings:,} cuttings"] if cuttings else []
    return f"n = {', '.join(told)}." if told else ""


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
    if units is None or units["kind"] != "tray":
        return None
    return sum(1 for stuck in units["stuck"] if stuck), sum(units["stuck"])
