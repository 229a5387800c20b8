"""Issues of lines that an engine counted, told of the rows behind them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import polars as pl

from rootling._frames import Lines
from rootling.exceptions import Issue

__all__ = ["labels_of", "told_of_rows"]

PLACES = ("season", "block", "whole_plot", "tray", "stock_plant")


def labels_of(options: Mapping[str, Any]) -> list[str]:
    """The columns by which a row is found again: treatments, then trays and places."""
    places = [options[name] for name in reversed(PLACES) if options.get(name)]
    return [*options["treatments"], *places]


def told_of_rows(core: Any, issues: Iterable[Mapping[str, Any]]) -> list[Issue]:
    """The issues of a trial; those of counted lines by their rows."""
    found = [Issue(**issue) for issue in issues]
    if not found:
        return found
    options = core.options
    numbers = options.get("row_numbers") or []
    if core.source != "engine" and not numbers:
        return found
    return Lines(pl.DataFrame(core), options.get("times"), numbers, labels_of(options), written=True).told(found)
