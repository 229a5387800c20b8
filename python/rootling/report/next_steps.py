"""What to do next after an answer: the line of its details that says so, else by its kind and its numbers."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

from rootling._words import numbers

if TYPE_CHECKING:
    from rootling._results import Result

__all__ = ["NEXT", "next_of"]

# How a detail begins that says what to do next.
NEXT = "Next: "
BATCH = "on a small batch before all of it"
LAYOUT = "settle trays and cuttings, then have a layout draw by lot which tray gets what."
# What follows on an answer whatever its numbers are.
ALWAYS = {
    "take_rates": "ask for the differences between levels; intervals that overlap are no test of them.",
    "adjusted_rates": "ask for the differences between levels; intervals that overlap are no test of them.",
    "what_matters": "read the rates of the effects that matter, and which of their levels differ.",
    "association": "ask which levels differ, and by how much.",
    "trend": "with four strengths and more ask for a curve, which tells where the best lies.",
    "checks": "look at the trays named here in the sheet before anything is left out.",
    "trays_needed": LAYOUT,
    "power": LAYOUT,
    "precision": LAYOUT,
    "smallest_difference": LAYOUT,
    "best_strength_plan": LAYOUT,
    "layout": "print sheets and labels, set the cuttings by them, and load the counts with this plan.",
    "looks": "write these bounds down before the first count is read, and keep to them.",
    "chance_at_end": "go on to the planned number of trays, or stop if this chance is not worth them.",
    "baseline": "hold the batches read after it against it: has anything changed?",
    "step_yields": "look for what was recorded of batches that differs at the step where five points bring most.",
    "start_numbers": "start that many, and keep counting batches: each one makes the next number surer.",
    "yields_by_level": "look at the step where the gap costs most.",
    "contrasts": f"try what stands out {BATCH}; where nothing does, more trays or bays of each level tell more.",
    "strengths_for": f"try it {BATCH}.",
    "damage_threshold": "stay below the lower limit, and count deaths in the next trial too.",
    "next_strengths": "have a layout draw by lot which tray gets which of them.",
    "tray_correlation": "plan the next trial with this likeness of cuttings and its limits.",
    "yield_comparison": "look for what differs at the step that accounts for most.",
    "target_watched": "ask since when and where fewer survive.",
    "early_sign": "read a random part of the plants without the sign to the end; only that tells what culling costs.",
}
# Answers that are what another one leads to: where one of them stands beside it, nothing is to be asked any more.
DIFFERENCES = {"comparison", "all_comparisons", "contrasts", "letters"}
LEADS_TO = {
    "take_rates": DIFFERENCES,
    "adjusted_rates": DIFFERENCES,
    "what_matters": {"adjusted_rates", *DIFFERENCES},
    "association": DIFFERENCES,
    "trend": {"strength_curve"},
    "baseline": {"signals"},
    "target_watched": {"signals"},
    "step_yields": {"yield_comparison", "yields_by_level"},
    **{one: {"layout"} for one in ("trays_needed", "power", "precision", "smallest_difference", "best_strength_plan")},
}


def next_of(result: Result, beside: Iterable[str] = ()) -> str:
    """What to do next, ``""`` where nothing follows that the answer, or one of the kinds beside it, does not say.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> next_of(trial.take_rates("strength"))[:38]
    'Next: ask for the differences between '
    """
    said = next((one for one in result.details if one.startswith(NEXT)), "")
    if said:
        return said
    if LEADS_TO.get(result.kind, set()) & set(beside):
        return ""
    by_numbers = BY_NUMBERS.get(result.kind)
    line = ALWAYS.get(result.kind, "") if by_numbers is None else by_numbers(result._record)
    return f"{NEXT}{line}" if line else ""


def _pairs(record: dict[str, Any]) -> str:
    """Of all pairs: the table of the core says which are shown."""
    columns = {one["name"]: one["values"] for one in record["table"]["columns"]}
    if "yes" in (columns.get("shown") or ()):
        return f"try the level that stands out {BATCH}."
    return "plan more trays of each level; until then nothing speaks for a change."


def _letters(record: dict[str, Any]) -> str:
    """Of letters without groups: whether another level shares one with the highest."""
    rates = record["rates"]
    top = max(rates, key=lambda one: one["value"])
    alone = not any(set(one["letters"]) & set(top["letters"]) for one in rates if one is not top)
    if alone and not record.get("within"):
        return f"try the highest {BATCH}."
    return f"among levels that share a letter with the highest choose by cost and harm, and try that one {BATCH}."


def _curve(record: dict[str, Any]) -> str:
    """Of curves: where the best is located it can be tried, where an end is open further strengths tell."""
    unit = record["input"]["unit"]
    told = []
    for curve in record["curves"]:
        of = f" for {curve['name']}" if len(record["curves"]) > 1 else ""
        best = curve["best"]
        strength, tested = best["strength"], [one["strength"] for one in curve["strengths"]]
        if best["withheld"] is None:
            told.append(f"try the best strength{of} {BATCH}")
        elif best["withheld"] == "not-located" and strength["open_high"]:
            told.append(
                f"test strengths above {numbers.written(max(tested), 'strength')} {unit}{of}".replace("  ", " ")
            )
        elif best["withheld"] == "not-located" and strength["open_low"] and min(tested) > 0:
            told.append(
                f"test strengths below {numbers.written(min(tested), 'strength')} {unit}{of}".replace("  ", " ")
            )
        elif best["withheld"] == "not-located" and strength["open_low"]:
            told.append(f"compare the lowest strengths{of} with none at all in more trays")
    return "" if not told else f"{'; '.join(told)}."


def _signals(record: dict[str, Any]) -> str:
    if not record["signals"]:
        return "go on recording; ask again when the next batches are read."
    return "check reading dates, grafters, medium and wood of the batches set then: a signal tells where, not why."


def _below(record: dict[str, Any]) -> str:
    return "look at the batches below their limits first." if any(one["below"] for one in record["batches"]) else ""


BY_NUMBERS: dict[str, Callable[[dict[str, Any]], str]] = {
    "all_comparisons": _pairs,
    "letters": _letters,
    "strength_curve": _curve,
    "signals": _signals,
    "batch_chart": _below,
}
