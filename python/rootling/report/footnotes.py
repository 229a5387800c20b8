"""What stands below a table: which interval, letters at which level, what the unit is, what was taken out of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from rootling._figures import carried_by, judged_by, unit_of
from rootling._words import outcomes

if TYPE_CHECKING:
    from rootling._results import Result

__all__ = ["interval_word", "notes_of"]

# How values that an answer judges together are adjusted, as texts write it.
TOGETHER = {
    "joint": "their joint distribution",
    "tukey-kramer": "Tukey and Kramer",
    "benjamini-hochberg": "Benjamini and Hochberg",
    "benjamini-yekutieli": "Benjamini and Yekutieli",
    "scheffe": "Scheffé",
    "sidak": "Šidák",
    "sidak-step-down": "Šidák, step down",
}
# Answers whose intervals hold for each line by itself, and those whose intervals hold together.
SINGLE = ("take_rates", "adjusted_rates", "letters", "predictions", "odds_ratios")
FAMILY = ("all_comparisons", "contrasts")
# Of what points are in answers about a chain of steps.
OF_STEPS = dict.fromkeys(("step_yields", "yield_change", "yield_comparison", "yields_by_level"), "of 100 started")
OF_STEPS |= dict.fromkeys(("agreement", "early_sign"), "plants of 100")
BELOW = {
    "tests": "P values: {}.",
    "test": "Test: {}.",
    "counts": "Counted: {}.",
    "df": "Degrees of freedom: {}.",
    "error_df": "Degrees of freedom of the error: {}.",
    "other_effects": "Other effects: {}.",
}


def interval_word(result: Result) -> str:
    """The head of limits: ``"95 % interval"``, or ``"interval"`` where the record does not say how sure.

    Pairs that are judged together have limits of a higher level each; what holds for all is what is named.
    """
    confidence = _confidence(result)
    return "interval" if confidence is None else f"{100 * confidence:g} % interval"


def _confidence(result: Result) -> float | None:
    own = result._record.get("confidence")
    if isinstance(own, float):
        return own
    pairs = result._record["made_with"].get("options") or ()
    said = next((str(one[1]) for one in pairs if len(one) == 2 and one[0] == "confidence"), "")
    try:
        return float(said)
    except ValueError:
        return None


def notes_of(results: Sequence[Result], columns: Sequence[dict[str, Any]], told: dict[str, str]) -> tuple[str, ...]:
    """A line for each thing that heads cannot say."""
    names = {one["name"] for one in columns}
    lines = [*_of_intervals(results[0], names), *_of_letters(results, names)]
    lines += _of_units(results[0], columns, names)
    heads = {one.get("head") for one in columns}
    lines += [BELOW[name].format(one) for name, one in told.items() if name in BELOW and one not in heads]
    lines += _of_p(results[0], names)
    return tuple(dict.fromkeys(lines))


def _of_intervals(result: Result, names: set[str]) -> list[str]:
    record, method, word = result._record, result._record.get("method"), interval_word(result)
    if not {"low", "high"} <= names:
        return []
    lines = []
    if result.kind in SINGLE:
        if isinstance(method, str) and result.kind == "take_rates":
            lines.append(f"{_capital(word)}: {_named(method)}.")
        lines.append(f"Each {word} holds for its line alone; whether two overlap is no test of their difference.")
    if result.kind == "comparison" and isinstance(method, str):
        lines.append(f"{_capital(word)} of the difference: {method}; rates have intervals of their own.")
    if result.kind in FAMILY and record.get("n_tests", 1) > 1:
        alone, level = record.get("together") == "none", record.get("interval_level")
        each = f", each at {100 * level:.4g} %" if isinstance(level, float) and not alone else ""
        many = f"all {record['n_tests']} lines together{each}"
        lines.append(f"The {word}s hold for {'each line by itself' if alone else many}.")
    return lines


def _named(method: str) -> str:
    return method[:1].upper() + method[1:]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _of_letters(results: Sequence[Result], names: set[str]) -> list[str]:
    of = next((one for one in results if one.kind == "letters"), None)
    if of is None or "letters" not in names:
        return []
    confidence = _confidence(of)
    at = "" if confidence is None else f" at {100 * (1 - confidence):.4g} %"
    within = of._record.get("within")
    where = f", within each {str(within).replace('_', ' ')}" if within else ""
    how = f" (all pairs, {_adjusted(str(of._record['together']))})" if of._record.get("together") else ""
    return [f"Letters: levels that share one are not shown to differ{at}{how}{where}, which does not make them equal."]


def _adjusted(together: str) -> str:
    if together == "none":
        return "not adjusted"
    return TOGETHER.get(together, _capital(together))


def _of_units(result: Result, columns: Sequence[dict[str, Any]], names: set[str]) -> list[str]:
    words = outcomes.words_of(result)
    lines = []
    scales = [one for column in columns for one in _scales(column)]
    with_se = any(value is not None for one in columns if one["name"] == "se" for value in one["values"])
    if with_se and "size" in [one for column in columns if column["name"] == "se" for one in _scales(column)]:
        lines.append(f"SE: standard error, in {words['per_hundred']}.")
    elif with_se:
        lines.append("SE: standard error.")
    if "difference" in scales or ("size" in scales and "se" not in names):
        lines.append(f"Points: {OF_STEPS.get(result.kind, words['per_hundred'])}.")
    if "not_ruled_out" in names:
        lines.append("Not ruled out: the largest difference that the counts leave possible.")
    if "n_units" in names and isinstance(result._record.get("unit"), str):
        lines.append(f"Unit of the experiment: {unit_of(result)}.")
    carried = carried_by(result)
    if carried and not any(unit_of(result) == str(one["unit"]).replace("_", " ") for one in carried):
        told = "; ".join(judged_by(carried))
        lines = [one for one in lines if not one.startswith("Unit of the experiment")]
        lines.append(f"Units of the experiment: {told}, since their trays share their luck.")
    return lines


def _scales(column: dict[str, Any]) -> list[str]:
    scale = column.get("scale")
    return [one for one in (scale if isinstance(scale, list) else [scale]) if isinstance(one, str)]


def _of_p(result: Result, names: set[str]) -> list[str]:
    together, tests = result._record.get("together"), result._record.get("n_tests")
    if "p_adjusted" not in names or not isinstance(together, str):
        return []
    return [f"Adjusted P: over {tests} tests, {_adjusted(together)}."] if isinstance(tests, int) else []
