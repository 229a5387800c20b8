"""A folder of the process for the files of its cases; each case leaves it empty."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from pathlib import Path

_made: list[Path] = []


def folder() -> Path:
    """The folder, made at first use and removed when the process ends."""
    if not _made:
        _made.append(Path(tempfile.mkdtemp(prefix="rootling-fuzz-")))
        atexit.register(shutil.rmtree, _made[0], ignore_errors=True)
    return _made[0]


def clear() -> None:
    """Removes what the case before left behind."""
    for path in folder().iterdir():
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink()
