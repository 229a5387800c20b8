"""A record sheet and its plan: what loading needs of them, or that without the plan it stays blind."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from typing import Any

import polars as pl

from rootling import _frames
from rootling._given import listed
from rootling._loading.cautions import cautions
from rootling._loading.read_back import BLIND, blind_sheet, joined
from rootling.exceptions import RootlingWarning, TrialDataError
from rootling.trial import callers_level

__all__ = ["blind", "of_plan"]


def of_plan(data: Any, plan: Any, given: Mapping[str, Any]) -> tuple[dict[str, Any], Any]:
    """The arguments and the data with which a trial is loaded."""
    if plan is not None:
        table, arguments, source = joined(data, plan, given)
        for said in cautions(table, arguments, given):
            warnings.warn(said, RootlingWarning, stacklevel=callers_level())
        frame = pl.DataFrame({name: pl.Series(cells, dtype=pl.String) for name, cells in table.items()})
        found = _frames.Input(None, frame, source, names=frame.columns)
        return {**given, **arguments, "sheet": None, "encoding": None}, found
    named = any(given[name] is not None for name in ("treatments", "wide", "rooted_percent"))
    if named or blind_sheet(data, given) is None:
        return dict(given), data
    warnings.warn(BLIND, RootlingWarning, stacklevel=callers_level())
    usual = {"rooted": "rooted", "tray": "tray"} | ({"stuck": "stuck"} if given["stuck"] is None else {})
    return {**given, **{name: one for name, one in usual.items() if given[name] is None}, "treatments": []}, data


def blind(data: Any, given: Mapping[str, Any]) -> TrialDataError | None:
    """The answer to who names treatments of a record sheet that is loaded without its plan."""
    columns = blind_sheet(data, given)
    missing = [] if columns is None else [name for name in listed(given["treatments"]) if name not in columns]
    if not missing:
        return None
    reason = "the sheet is blind: it holds codes of trays and not what they got"
    return TrialDataError.of_input("blind_sheet", reason, 'load it with plan="plan.json" or plan="key.csv"', missing[0])
