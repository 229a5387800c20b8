"""Columns that bear exactly the name of a role, taken for it where the command does not say."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from rootling import _frames
from rootling.exceptions import RootlingError, TrialDataError

__all__ = ["guesses"]

ROLES = ("rooted", "stuck", "dead", "tray", "block", "whole_plot", "season", "stock_plant", "lost")
# A treatment that bears the name of a role, too.
TREATMENT = "strength"
# Rows above the names, such as titles, that are looked through.
LOOKED_AT = 60
# Letters of a text that are looked through.
FIRST = 200_000
# Signs between the entries of a text.
BETWEEN = (",", ";", "\t", "|")


def guesses(path: str, given: Mapping[str, Any]) -> dict[str, Any]:
    """Roles that the command leaves open and a column bears the name of.

    Where the plan of the trial is given it says all of this, and nothing is guessed.
    """
    if "plan" in given:
        return {}
    names = _names(path, given)
    used = {one for value in given.values() for one in _texts(value)}
    open_roles = [role for role in ROLES if role not in given and role not in used]
    if "wide" in given or "rooted_percent" in given:
        open_roles = [role for role in open_roles if role != "rooted"]
    found: dict[str, Any] = {role: role for role in open_roles if role in names}
    if not given.get("treatments") and "wide" not in given and TREATMENT in names:
        found["treatments"] = TREATMENT
    return found


def _texts(value: Any) -> Iterable[str]:
    """Every text in an option."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for key, one in value.items():
            yield from (*_texts(key), *_texts(one))
    elif isinstance(value, (list, tuple)):
        for one in value:
            yield from _texts(one)


def _names(path: str, given: Mapping[str, Any]) -> set[str]:
    """The row that holds the most names of roles; a table that cannot be read is told of when it is loaded."""
    how = [given.get(name) for name in ("sheet", "header_row", "encoding")]
    try:
        found = _frames.read(path, ["rooted"], *how)
    except TrialDataError as error:
        if any(one.code == "no_file" for one in error.issues):
            raise
        return set()
    except RootlingError:
        return set()
    lines: list[Sequence[str | None]]
    if found.cells is not None:
        lines = [*found.cells[:LOOKED_AT]]
    elif found.text is not None:
        lines = [line for mark in BETWEEN for line in _split(found.text, mark)]
    else:
        lines = [list(found.names or [])]
    sets = [{(one or "").strip() for one in line} for line in lines]
    known = {*ROLES, TREATMENT}
    return max(sets, key=lambda one: len(one & known), default=set())


def _split(text: bytes, mark: str) -> list[list[str]]:
    lines = text[:FIRST].decode("utf-8-sig", "replace").splitlines()[:LOOKED_AT]
    try:
        return list(csv.reader(lines, delimiter=mark))
    except csv.Error:
        return []
