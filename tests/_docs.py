"""Writes both documentations into a folder: .venv/bin/python tests/_docs.py FOLDER

The crate's by `cargo doc` (rust/), the package's by pdoc from its docstrings (python/). A warning of either is an
error. The package has to be installed in .venv, as `tests/run.py` and the demo command leave it.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from _setup import ROOT, environment, target_folder, venv_tool

CRATE = ["cargo", "doc", "--release", "--locked", "--no-deps", "--no-default-features"]


def main() -> None:
    """Both documentations; what was there before goes."""
    if len(sys.argv) != 2:
        sys.exit("name the folder to write to: tests/_docs.py FOLDER")
    folder = Path(sys.argv[1]).resolve()
    subprocess.run(CRATE, cwd=ROOT, env=environment(), check=True)
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(target_folder() / "doc", folder / "rust")
    pdoc = [venv_tool("python"), "-W", "error", "-m", "pdoc", "-d", "numpy"]
    # Not from the root, where the sources without their compiled part would be found first.
    subprocess.run([*pdoc, "-o", str(folder / "python"), "rootling"], cwd=folder, check=True)


if __name__ == "__main__":
    main()
