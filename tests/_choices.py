"""Writes python/rootling/_given/choices.py anew from the compiled core: python tests/_choices.py

The types of options are made from what the core reads, so the two cannot drift apart; a test compares them.
"""

from __future__ import annotations

from pathlib import Path

PLACE = Path(__file__).resolve().parents[1] / "python" / "rootling" / "_given" / "choices.py"
WIDTH = 120
HEAD = '''"""The choices that options accept, for type checkers. Written by tests/_choices.py from the compiled core."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Literal, TypeAlias

Confidence: TypeAlias = float
Progress: TypeAlias = Callable[[int, int], object]
CheckPanel: TypeAlias = Literal["calibration", "change", "residuals", "order"]
FigureWidth: TypeAlias = Literal["85 mm", "180 mm"]
ReferenceForm: TypeAlias = Literal["bibtex", "csl-json"]
ContrastPattern: TypeAlias = Literal["all-pairs", "control", "steps", "trend"] | Mapping[Any, Any]
AverageOver: TypeAlias = Literal["alike", "as-stuck"] | Mapping[str, Mapping[Any, float]]
'''
TAIL = (
    'ContrastAdjustment: TypeAlias = OneStep | Adjustment\nMeanAdjustment: TypeAlias = Literal["joint"] | Adjustment\n'
)


def literal(name: str, values: list[str]) -> str:
    """One type, on one line where it fits."""
    quoted = [f'"{value}"' for value in values]
    line = f"{name}: TypeAlias = Literal[{', '.join(quoted)}]"
    if len(line) <= WIDTH:
        return line + "\n"
    inner = f"    {', '.join(quoted)}"
    if len(inner) <= WIDTH:
        return f"{name}: TypeAlias = Literal[\n{inner}\n]\n"
    return f"{name}: TypeAlias = Literal[\n" + "".join(f"    {one},\n" for one in quoted) + "]\n"


def text() -> str:
    """The whole file."""
    from rootling import _core

    return HEAD + "".join(literal(name, values) for name, values in _core.choices.all()) + TAIL


if __name__ == "__main__":
    PLACE.write_text(text(), encoding="utf-8")
