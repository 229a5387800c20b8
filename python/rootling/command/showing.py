"""The demo: an invented trial as a file, its report, and what to type next."""

from __future__ import annotations

import argparse
import shlex
from pathlib import Path

from rootling._loading import load_trial
from rootling.command.mistakes import ANSWERED, CommandError
from rootling.command.told import say
from rootling.command.waiting import Waiting
from rootling.demo import two_strengths
from rootling.report import write
from rootling.units import Strength

__all__ = ["demo"]

TABLE, PAGE = "trays.csv", "report.html"
QUESTION = "--block bench --substance IBA --unit mg/L --method 'quick dip' --treatment strength 2500 5000"


def demo(asked: argparse.Namespace) -> int:
    """Writes the table and the report of an invented trial."""
    folder = Path(asked.output)
    table, page = folder / TABLE, folder / PAGE
    there = [path for path in (table, page) if path.exists()]
    if there and not asked.replace:
        raise CommandError(f"there is {str(there[0])!r} already; name another folder, or add --replace")
    try:
        folder.mkdir(exist_ok=True)
        two_strengths(seed=1).write_csv(table)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise CommandError(f"{str(folder)!r} could not be written ({reason}); name another folder") from None
    with Waiting("Working"):
        trial = load_trial(
            table,
            rooted="rooted",
            stuck="stuck",
            treatments=["strength"],
            tray="tray",
            block="bench",
            strength=Strength("IBA", unit="mg/L", method="quick dip"),
        )
        result = trial.compare("strength", 2500, 5000)
        write([trial, result, trial.take_rates(by="strength")], page)
    say(result.sentence)
    print(f"\nTwelve invented trays, of which nothing was observed: {table}")
    print(f"Their report, for a browser: {page}\n\nTry next:")
    print(f"  rootling check {shlex.quote(str(table))} --block bench")
    print(f"  rootling answer {shlex.quote(str(table))} {QUESTION}")
    return ANSWERED
