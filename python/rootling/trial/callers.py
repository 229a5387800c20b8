"""Who called: the line of the user that a warning points to."""

from __future__ import annotations

import sys
from pathlib import Path

__all__ = ["callers_level"]

# The folder of the package.
HERE = str(Path(__file__).parents[1])


def callers_level() -> int:
    """The ``stacklevel`` at which a warning points to the line outside the package, from the function that warns."""
    level, frame = 1, sys._getframe(1)
    while frame.f_back is not None and frame.f_code.co_filename.startswith(HERE):
        level, frame = level + 1, frame.f_back
    return level
