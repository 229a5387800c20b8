"""Names of the columns of a table: without twins, and as heads for reading."""

from __future__ import annotations


def own_names(names: list[str]) -> list[str]:
    """Column names without twins: columns of the trial come first, and give way to the result's own.

    >>> own_names(["level", "value", "level"])
    ['level (your column)', 'value', 'level']
    """
    made: list[str] = []
    for at, name in enumerate(names):
        while name in names[at + 1 :] or name in made:
            name += " (your column)"
        made.append(name)
    return made


def heading(name: str) -> str:
    """A column name for reading."""
    return {
        "p": "P value",
        "low": "from",
        "high": "to",
        "n_units": "trays",
        "n_cuttings": "cuttings",
        "p_adjusted": "adjusted P",
        "take_low": "take from",
        "take_high": "take to",
        "adequate": "enough",
        "adequate_low": "enough from",
        "adequate_high": "enough to",
        "why": "why not",
        "error_df": "error df",
    }.get(name, name.replace("_", " "))
