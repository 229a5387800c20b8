"""Where a question stands: in a map or a class, and in the file that it was written in."""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import ModuleType
from typing import Any

__all__ = ["put"]


def put(owner: ModuleType | type, name: str, made: Callable[..., Any]) -> None:
    """Puts a guarded question in its place, and also where it was written: it is one function, and pickles as one."""
    before = vars(owner)[name]
    setattr(owner, name, made)
    home = sys.modules[made.__module__]
    if vars(home).get(made.__qualname__) is before:
        setattr(home, made.__qualname__, made)
