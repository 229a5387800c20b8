"""Importing the package is light: what is only needed for some answers is loaded when it is needed."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = ("matplotlib", "jinja2", "pandas", "pyarrow", "fastexcel", "docx", "lxml")
LOAD = """
trial = rootling.load_trial(rootling.demo.two_strengths(), rooted="rooted", stuck="stuck", treatments="strength",
                            tray="tray", block="bench")
repr(trial.compare("strength", 2500, 5000))
"""


@pytest.mark.parametrize("work", ["", LOAD], ids=["import", "an answer"])
def test_heavy_packages_stay_out(work: str) -> None:
    code = f"import sys, rootling\n{work}\nprint([name for name in {HEAVY!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[]"


def test_the_version_is_that_of_the_package() -> None:
    from importlib.metadata import version

    import rootling as rl

    assert rl.__version__ == version("rootling")
