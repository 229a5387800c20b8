"""The arguments of :func:`rootling.load_trial`: each is checked, and a wrong one is answered with the right line."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, get_args

from rootling._given import column_names, is_name, one_column, plain, row_numbers, shortened, spelled
from rootling._given.choices import BadRows
from rootling._loading.measured import columns_of, responses_of
from rootling._loading.wide_names import ask_of_units, level_of
from rootling.exceptions import ChoiceError
from rootling.units import Strength

__all__ = ["call", "options_of", "wanted_of"]

ONE_NAME = ("rooted", "dead", "times", "season", "lost")
PLACES = ("block", "whole_plot", "stock_plant")
NAMES = ("treatments", "covariates", "fill_down", "checked")
PAIR = 2
PAIRS = 'wide={"strength": {0: ("0 rooted", "0 stuck"), 1000: ("1000 rooted", "1000 stuck")}}'


def _per_column(option: str, value: Any, treatments: Sequence[str], example: str) -> Mapping[Any, Any]:
    if value is None:
        return {}
    if isinstance(value, Mapping):
        return value
    column = treatments[0] if treatments else "strength"
    shown = plain(value)
    shown = list(shown) if isinstance(shown, tuple) else shown
    given = f"{shown!r}" if isinstance(shown, (int, float, str, list)) else example
    given = given if len(given) <= 200 else example
    raise ChoiceError(
        f'{option}={shortened(value)} does not say of which column; write {option}={{"{column}": {given}}}'
    )


def _quoted(name: str) -> str:
    """A name as it stands in a line to paste."""
    return json.dumps(name, ensure_ascii=not name.isprintable())


def _strength(value: Any) -> dict[str, Any]:
    if value is None:
        return {"strength": None, "strength_column": None}
    if isinstance(value, Strength):
        return {"strength": value.to_dict(), "strength_column": value.column}
    is_unit = isinstance(value, str) and re.search(r"/|%|ppm|mM", value)
    told = value[:60] if isinstance(value, str) else "IBA"
    substance, unit = ("IBA", told) if is_unit else (told, "mg/L")
    raise ChoiceError(
        f"strength={shortened(value)} does not say what the numbers are; "
        f'write strength=rl.Strength({_quoted(substance)}, unit={_quoted(unit)}, method="quick dip")'
    )


def _stuck(value: Any) -> dict[str, Any]:
    value = plain(value)
    if isinstance(value, int) and not isinstance(value, bool):
        if value < 1:
            raise ChoiceError(f"stuck={value} is no number of cuttings in a tray; write stuck=20, or name a column")
        return {"stuck": None, "stuck_each": value}
    if isinstance(value, (bool, float)):
        raise ChoiceError(
            f"stuck={shortened(value)} is no number of cuttings in a tray; write stuck=20, or name a column"
        )
    return {"stuck": one_column("stuck", value), "stuck_each": None}


def _tray(value: Any) -> dict[str, Any]:
    value = plain(value)
    if value == "each-row" if isinstance(value, str) else False:
        return {"tray": None, "tray_each_row": True, "tray_within": []}
    if value is None or is_name(value):
        return {"tray": value, "tray_each_row": False, "tray_within": []}
    names = column_names("tray", value)
    if len(names) == 1:
        return {"tray": names[0], "tray_each_row": False, "tray_within": []}
    return {"tray": None, "tray_each_row": False, "tray_within": names}


def _places(given: Mapping[str, Any]) -> dict[str, Any]:
    """Columns of places and plants: one each or, where labels start afresh in others, a list that ends with its own."""
    found = {role: column_names(role, given[role]) for role in PLACES}
    return {
        **{role: names[0] if len(names) == 1 else None for role, names in found.items()},
        "labels_within": {role: names for role, names in found.items() if len(names) > 1},
    }


def _wide(value: Any, strength: Any) -> dict[str, Any] | None:
    if value is None:
        return None
    example = 'wide={"strength": ["0", "1000", "3000"]}'
    if not isinstance(value, Mapping) or len(value) != 1:
        raise ChoiceError(f"wide={shortened(value)} does not say which columns are levels of what; write {example}")
    ((treatment, columns),) = value.items()
    stuck: list[str] = []
    if isinstance(columns, Mapping):
        both = [column for column in columns.values() if isinstance(column, (list, tuple)) and len(column) == PAIR]
        if both and len(both) < len(columns):
            raise ChoiceError(f"wide={value!r} names a pair of columns for some levels only; write {PAIRS}")
        stuck = [str(column[1]) for column in both]
        pairs = [(str(column[0] if both else column), spelled(level)) for level, column in columns.items()]
    elif isinstance(columns, Iterable) and not isinstance(columns, str):
        ask_of_units(str(treatment), [str(column) for column in columns], strength)
        pairs = [(str(column), level_of(str(column), strength)) for column in columns]
    else:
        raise ChoiceError(f"wide={shortened(value)} names no columns; write {example}")
    levels = [level for _, level in pairs]
    return {"treatment": str(treatment), "columns": [column for column, _ in pairs], "levels": levels, "stuck": stuck}


def _mark(option: str, value: Any) -> str | None:
    if value is None or (isinstance(value, str) and value in (".", ",", " ", "'")):
        return value
    raise ChoiceError(f'{option}={shortened(value)} is no mark within numbers; write {option}="." or {option}=","')


def options_of(given: Mapping[str, Any]) -> dict[str, Any]:
    """What the core takes, from what the user gave."""
    treatments = column_names("treatments", given["treatments"])
    if not treatments and given["wide"] is None and not isinstance(given["treatments"], (list, tuple)):
        raise ChoiceError('treatments names no column; write treatments=["strength"] with what was tried')
    percent = given["rooted_percent"]
    if given["rooted"] is None and percent is None and given["wide"] is None:
        raise ChoiceError('rooted names no column; write rooted="rooted" with the column of cuttings that rooted')
    if percent is not None and given["rooted"] is not None:
        raise ChoiceError("rooted= and rooted_percent= say the same in two ways; keep rooted_percent= for percentages")
    strength = _strength(given["strength"])
    options: dict[str, Any] = {name: one_column(name, given[name]) for name in ONE_NAME}
    options |= {name: column_names(name, given[name]) for name in NAMES}
    options |= _stuck(given["stuck"]) | _tray(given["tray"]) | _places(given) | strength
    control = _per_column("control", given["control"], treatments, "0")
    order = _per_column("level_order", given["level_order"], treatments, '["first", "second"]')
    options["rooted"] = options["rooted"] or ""
    options["rooted_percent"] = (
        "" if percent is True and given["wide"] is not None else one_column("rooted_percent", percent)
    )
    options["wide"] = wide = _wide(given["wide"], strength["strength"])
    if wide and wide["stuck"] and given["stuck"] is not None:
        raise ChoiceError("wide= names the columns of cuttings stuck, so stuck= says it twice; leave stuck= out")
    options["control"] = {str(name): spelled(level) for name, level in control.items()}
    options["level_order"] = {
        str(name): [spelled(one) for one in _levels(name, levels)] for name, levels in order.items()
    }
    options |= responses_of(given.get("responses"), given.get("primary"))
    options["leave_out"] = row_numbers("leave_out", given["leave_out"])
    options["header_row"] = _header_row(given["header_row"])
    options |= {name: _mark(name, given[name]) for name in ("thousands", "decimal")}
    if options["decimal"] is not None and options["thousands"] == options["decimal"]:
        raise ChoiceError(f"thousands= and decimal= are both {options['decimal']!r}; leave one of them out")
    options["bad_rows"] = _bad_rows(given["bad_rows"])
    if not isinstance(plain(given["distinct_levels"]), bool):
        shown = shortened(given["distinct_levels"])
        raise ChoiceError(f"distinct_levels={shown} is neither yes nor no; write distinct_levels=True")
    options["distinct_levels"] = plain(given["distinct_levels"])
    for name in ("sheet", "encoding"):
        if given[name] is not None and not is_name(given[name]):
            raise ChoiceError(f'{name}={shortened(given[name])} is no text; write {name}="name"')
    return options


def _header_row(value: Any) -> int | None:
    value = plain(value)
    if value is None or (isinstance(value, int) and not isinstance(value, bool) and 0 < value < 2**63):
        return value
    raise ChoiceError(f"header_row={shortened(value)} is no row number; write header_row=3")


def _bad_rows(value: Any) -> str:
    if value in get_args(BadRows) if isinstance(value, str) else False:
        return str(value)
    shown = value[:60] if isinstance(value, str) else shortened(value)
    raise ChoiceError(f'bad_rows= option "{shown}" is not known; known: {", ".join(get_args(BadRows))}')


def _levels(column: Any, levels: Any) -> list[Any]:
    if isinstance(levels, Iterable) and not isinstance(levels, (str, Mapping)):
        return list(levels)
    raise ChoiceError(
        f'level_order of {column!r} is no list of levels; write level_order={{"{column}": ["first", "second"]}}'
    )


def wanted_of(options: Mapping[str, Any]) -> list[str]:
    """The columns of the sheet as it is."""
    wide = options["wide"] or {"treatment": None, "columns": [], "stuck": []}
    made = {wide["treatment"], "", None}
    single = (options[name] for name in (*ONE_NAME, *PLACES, "stuck", "tray", "rooted_percent"))
    lists = (options[name] for name in ("treatments", "covariates", "fill_down", "tray_within"))
    joined = options["labels_within"].values()
    every = (name for names in (*lists, *joined) for name in names)
    named = [*single, *every, *columns_of(options), *wide["columns"], *wide["stuck"]]
    return list(dict.fromkeys(name for name in named if name not in made))


def call(data: Any, given: Mapping[str, Any], changed: Mapping[str, str]) -> str:
    """The call as it can be pasted: what was given, with what is changed in it.

    The name that a frame has in a notebook is not known here: dots stand in its place.
    """
    shown = repr(os.fspath(data)) if isinstance(data, (str, os.PathLike)) else "..."
    parts = {name: _shown(value) for name, value in given.items()} | dict(changed)
    return f"trial = rl.load_trial({shown}, {', '.join(f'{name}={text}' for name, text in parts.items())})"


def _shown(value: Any) -> str:
    value = plain(value)
    if isinstance(value, Strength):
        said = {name: one for name, one in vars(value).items() if one is not None and name != "substance"}
        return f"rl.Strength({value.substance!r}, {', '.join(f'{name}={one!r}' for name, one in said.items())})"
    return repr(value.tolist()) if hasattr(value, "tolist") else repr(value)
