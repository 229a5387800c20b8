"""A curve strength by strength: what was counted beside what the curve says, and which shapes were averaged."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling._words import outcomes, shapes_told

if TYPE_CHECKING:
    from rootling._results import Result

__all__ = ["by_strength", "with_shapes"]


def by_strength(result: Result) -> list[dict[str, Any]]:
    """Columns of the strengths of a curve: counted take with its interval, the curve's take, counts."""
    if result.kind != "strength_curve":
        return []
    record, words = result._record, outcomes.words_of(result)
    curves = record["curves"]
    levels = [(curve, one) for curve in curves for one in curve["strengths"]]
    asked = record["input"]
    whole = [one for _, one in levels]
    columns = _of_curves(record["table"]["columns"], levels, curves)
    columns += [
        _number("strength", "strength", [one["strength"] for one in whole], unit=asked["unit"]),
        _number("value", "rate", [one["value"] for one in whole], head=f"{words['rate']} counted"),
        _number("low", "rate", [one["low"] for one in whole]),
        _number("high", "rate", [one["high"] for one in whole]),
        _number("fitted", "rate", [one["fitted"] for one in whole], head="by the curve"),
    ]
    counts = {"n_units": None, "stuck": words["stuck_head"], "rooted": words["counted_head"]}
    for name, head in counts.items():
        if name != "n_units" or not asked["pooled"]:
            made = {"name": name, "kind": "whole", "scale": "count", "values": [one[name] for one in whole]}
            columns.append(made if head is None else {**made, "head": head})
    return columns


def _of_curves(known: list[dict[str, Any]], levels: list[Any], curves: list[Any]) -> list[dict[str, Any]]:
    """Whose strengths they are: the columns of levels that the answer's own table begins with."""
    if len(curves) == 1:
        return []
    begin = [one for one in known if one.get("scale") == "level"]
    place = {id(curve): at for at, curve in enumerate(curves)}
    return [{**one, "values": [one["values"][place[id(curve)]] for curve, _ in levels]} for one in begin]


def _number(name: str, scale: str, values: list[Any], **more: Any) -> dict[str, Any]:
    return {"name": name, "kind": "number", "scale": scale, "values": values, **more}


def with_shapes(columns: list[dict[str, Any]], result: Result) -> list[dict[str, Any]]:
    """The table of curves with all shapes that were averaged in place of the heaviest alone."""
    if result.kind != "strength_curve":
        return columns
    told = [shapes_told(curve["shapes"]) for curve in result._record["curves"]]
    averaged = any("%" in one for one in told)
    head = "shapes, weight in the average" if averaged else "shape"
    return [{**one, "values": told, "head": head} if one["name"] == "shape" else one for one in columns]
