"""Runs the demo: python3 notebooks-demo/run.py

Needs Rust and Python, and the network the first time. Builds rootling, runs the notebooks without a screen and writes
them, a report, the figures and a gallery of all questions to .demo-output. The notebooks themselves stay as they are.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "tests"))

import _setup


def main() -> None:
    """All steps in order."""
    _setup.check_python()
    rust = _setup.check_rust()
    print("Rust {}, Python {}.{}; compiled code goes to {}".format(rust, *sys.version_info[:2], _setup.target_folder()))
    steps = _setup.Steps(total=3)
    _setup.prepare_venv(steps, ROOT / "notebooks-demo" / "requirements.txt")
    _setup.build_wheel(steps)
    print(_setup.run_demo(steps))


if __name__ == "__main__":
    sys.exit(_setup.guarded(main))
