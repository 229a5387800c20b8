"""A record sheet and its plan: what loading needs of them, or that without the plan it stays blind."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from typing import Any

import polars as pl

from rootling import _frames
from rootling._loading.read_back import BLIND, blind_columns, joined, read_apart
from rootling.exceptions import RootlingWarning

__all__ = ["of_plan"]


def of_plan(data: Any, plan: Any, given: Mapping[str, Any]) -> tuple[dict[str, Any], Any]:
    """The arguments and the data with which a trial is loaded."""
    if plan is not None:
        table, arguments, source = joined(data, plan, given)
        for said in read_apart(table, arguments.get("treatments", ())):
            warnings.warn(said, RootlingWarning, stacklevel=3)
        frame = pl.DataFrame({name: pl.Series(cells, dtype=pl.String) for name, cells in table.items()})
        found = _frames.Input(None, frame, source, names=frame.columns)
        return {**given, **arguments, "sheet": None, "encoding": None}, found
    if not blind_columns(data, given):
        return dict(given), data
    warnings.warn(BLIND, RootlingWarning, stacklevel=3)
    usual = {"rooted": "rooted", "tray": "tray"} | ({"stuck": "stuck"} if given["stuck"] is None else {})
    return {**given, **{name: one for name, one in usual.items() if given[name] is None}, "treatments": []}, data
