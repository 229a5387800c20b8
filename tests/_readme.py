"""Runs the README's examples, and checks that the table it shows is the one that is printed. Started by run.py."""

from __future__ import annotations

import doctest
import re
import sys
import warnings
from pathlib import Path

README = Path(__file__).resolve().parents[1] / "README.md"
TABLE = re.compile(r"this is its table:\n\n```text\n(.*?)```", re.DOTALL)


def main() -> int:
    """Examples first, then the table; what differs is printed."""
    text = README.read_text(encoding="utf-8")
    test = doctest.DocTestParser().get_doctest(text, {}, README.name, str(README), 0)
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        failed, tried = runner.run(test, clear_globs=False)
    shown = TABLE.search(text)
    printed = [line.rstrip() for line in repr(test.globs["comparison"]).splitlines()]
    absent = [] if shown is None else [line for line in shown[1].splitlines() if line.rstrip() not in printed]
    if shown is None or absent:
        print("the table of the first example is not the one that is printed:", *absent, "", *printed, sep="\n")
    print(f"{tried - failed} passed, {failed} failed")
    return int(failed > 0 or shown is None or bool(absent))


if __name__ == "__main__":
    sys.exit(main())
