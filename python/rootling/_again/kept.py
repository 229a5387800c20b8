"""Questions of plain counts and of plans: kept in the record as they were asked, and asked from there.

What a trial, a model or a crop was asked is in its options already. These questions have no data beside what they are
given, or more than one thing (two models, a plan and its trial), so that is what the record keeps, in
``made_with["asked"]``: the name of the question and its arguments. Trials, models and plans among these are only named.
"""

from __future__ import annotations

import functools
import inspect
import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from types import ModuleType
from typing import Any

from rootling import compare, decide, models, plan, rates, responses, seasons, steps, tables
from rootling._again.options import Asked
from rootling._given import has_columns, plain, rows_of
from rootling._results import Result
from rootling.exceptions import ChoiceError
from rootling.trial import Trial

__all__ = ["ask_kept", "keep_all", "kept"]

HOMES: dict[str, ModuleType | type] = {
    **{"compare": compare, "plan": plan, "rates": rates, "steps": steps, "tables": tables},
    **{"decide": decide, "responses": responses, "seasons": seasons, "model": models.Model, "layout": plan.Layout},
}
# What is only named in a record, and given again beside it.
NAMED: dict[type, str] = {Trial: "trial", models.Model: "model", plan.Layout: "plan"}
QUESTIONS = (
    *("compare.score_test", "compare.likelihood_ratio_test", "compare.equivalence", "compare.randomisation"),
    *("tables.chi_square", "tables.fisher", "tables.unconditional", "tables.paired", "tables.freeman_halton"),
    *("tables.stratified", "tables.three_way", "tables.trend", "tables.linear_by_linear", "rates.against_target"),
    *("responses.count_law", "steps.yield_change", "steps.agreement", "steps.early_sign"),
    *("plan.power", "plan.precision", "plan.trays_needed", "plan.smallest_difference", "plan.looks"),
    *(
        "plan.best_strength",
        "plan.chance_at_end",
        "model.predict",
        "model.against",
        "layout.dealt_anew",
        "seasons.pool",
        "seasons.pool_curves",
        "decide.choose",
    ),
)
# The question whose frame has names that count; other tables are kept by their rows, whatever they were given as.
NAMED_COLUMNS = "model.predict"
# Entries that a record has room for; of longer lists the question is not kept.
MOST = 20_000
# What only says how the work is followed.
UNKEPT = ("progress",)


class _NotKeptError(Exception):
    """A value that no record holds."""


def keep_all(put: Callable[[ModuleType | type, str, Callable[..., Any]], None]) -> None:
    """Has every question leave what it was asked in its record."""
    for name in QUESTIONS:
        home, function = name.split(".")
        put(HOMES[home], function, _keeping(name, getattr(HOMES[home], function)))


def _keeping(name: str, function: Callable[..., Any]) -> Callable[..., Any]:
    @functools.wraps(function)
    def asked(*given: Any, **named: Any) -> Any:
        answer = function(*given, **named)
        if isinstance(answer, Result):
            try:
                arguments = inspect.signature(function).bind(*given, **named).arguments
                tables = _columns if name == NAMED_COLUMNS else _rows
                held = {one: _held(value, tables) for one, value in arguments.items() if one not in UNKEPT}
            except _NotKeptError:
                return answer
            made_with = {**answer._record["made_with"], "asked": {"question": name, "arguments": held}}
            answer._record["made_with"] = made_with
        return answer

    return asked


Tables = Callable[[Any], Any]


def _rows(frame: Any) -> Any:
    return _held([list(row) for row in rows_of(frame)], _rows)


def _columns(frame: Any) -> Any:
    names = frame if isinstance(frame, Mapping) else getattr(frame, "column_names", None) or list(frame.columns)
    return {"columns": [[_held(str(name), _rows), _held(frame[name], _rows)] for name in names]}


def _held(value: Any, tables: Tables) -> Any:
    """A value as a record holds it: lists stay lists, what has names is told as pairs, data are only named."""
    value = plain(value)
    if value is None or isinstance(value, (bool, int, str)):
        return value
    if isinstance(value, float) and math.isfinite(value):
        return value
    named = _named(value)
    if named is not None:
        return {"data": named}
    return _held_whole(value, tables)


def _named(value: Any) -> str | None:
    """What data are called; none for what is no data."""
    if isinstance(value, Result) and type(value) not in NAMED:
        return value.kind
    return next((called for known, called in NAMED.items() if isinstance(value, known)), None)


def _held_whole(value: Any, tables: Tables) -> Any:
    """What has several values, entry by entry."""
    if hasattr(value, "collect") or hasattr(value, "compute"):
        # Held by an engine: what it held then is not known to the record.
        raise _NotKeptError
    if has_columns(value) or (tables is _columns and isinstance(value, Mapping)):
        return tables(value)
    if isinstance(value, Mapping):
        return {"pairs": [[_held(one, tables), _held(each, tables)] for one, each in value.items()]}
    if hasattr(value, "__len__") and len(value) > MOST:
        raise _NotKeptError
    listed = [getattr(value, name) for name in ("tolist", "to_list", "to_pylist") if hasattr(value, name)]
    if listed:
        return _held(listed[0](), tables)
    if isinstance(value, Iterable):
        return [_held(one, tables) for one in value]
    raise _NotKeptError


def kept(record: Result) -> Mapping[str, Any] | None:
    """The question that a record keeps; none where it keeps none that is known."""
    found = record._record["made_with"].get("asked")
    known = isinstance(found, Mapping) and found.get("question") in QUESTIONS
    return found if known and isinstance(found.get("arguments"), Mapping) else None


def ask_kept(found: Mapping[str, Any], data: Any, seed: int | None) -> Asked:
    """The question asked again; ``data`` are the trials, models and plans that it was given, in their order."""
    home, function = str(found["question"]).split(".")
    data = list(data.values()) if isinstance(data, Mapping) else data
    given = list(data) if isinstance(data, (list, tuple)) else [] if data is None else [data]
    wanted = list(_data_in(found["arguments"]))
    if [_named(one) for one in given] != wanted:
        shown = ", ".join(["record", *([f"[{', '.join(wanted)}]"] if len(wanted) > 1 else wanted)])
        what = " and ".join(f"a {one}" for one in wanted) or "nothing beside its record"
        raise ChoiceError(
            f"{found['question']} is asked of {what}, and something else was given; write rl.verify({shown})"
        )
    left = iter(given)
    named = {one: _given(value, left) for one, value in found["arguments"].items()}
    if seed is not None and "seed" in named:
        named["seed"] = seed
    question = getattr(HOMES[home], function)
    return Asked(question(named.pop("self"), **named) if "self" in named else question(**named))


def _data_in(value: Any) -> Iterator[str]:
    if isinstance(value, Mapping):
        if "data" in value:
            yield str(value["data"])
        else:
            yield from (one for each in value.values() for one in _data_in(each))
    elif isinstance(value, list):
        yield from (one for each in value for one in _data_in(each))


def _given(value: Any, data: Iterator[Any]) -> Any:
    if isinstance(value, list):
        return [_given(one, data) for one in value]
    if not isinstance(value, Mapping):
        return value
    if "data" in value:
        return next(data)
    if "columns" in value:
        import polars as pl

        return pl.DataFrame({str(name): _given(values, data) for name, values in value["columns"]})
    return {_given(one, data): _given(each, data) for one, each in value["pairs"]}
