"""Checks that the notebooks in git carry no outputs and no run counts: python3 tests/_notebooks.py"""

from __future__ import annotations

import json
import sys
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[1] / "notebooks-demo"


def leftovers(path: Path) -> list[str]:
    """Cells that were run and saved, by number."""
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    code = [(at, cell) for at, cell in enumerate(cells, start=1) if cell["cell_type"] == "code"]
    return [
        f"{path.name}: cell {at} holds outputs or a run count; clear them before committing"
        for at, cell in code
        if cell["outputs"] or cell["execution_count"] is not None
    ]


def main() -> int:
    """Prints every leftover; code 1 when there is one."""
    found = [line for path in sorted(FOLDER.glob("*.ipynb")) for line in leftovers(path)]
    print("\n".join(found) or "notebooks carry no outputs")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
