"""Plans: how many trays, what they show, how near they come, and where each of them stands."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from rootling._results import Result
from rootling.command.mistakes import ANSWERED, CommandError
from rootling.command.told import say_record, say_result, tell
from rootling.command.waiting import Waiting
from rootling.exceptions import ReportError
from rootling.plan import layout, power, precision, smallest_difference, trays_needed

__all__ = ["LAYOUT", "QUESTIONS", "asked_of_draws", "laid_out"]

OF_ALL = ("cuttings", "correlation", "blocks", "lost", "law", "confidence", "draws", "seed")
# Each question of a plan: what answers it, and which options it has beside those of all.
QUESTIONS: dict[str, tuple[Callable[..., Result], tuple[str, ...]]] = {
    "trays-needed": (trays_needed, ("takes", "power", "question", "margin", "target", "together", "trays_per_bay")),
    "power": (power, ("takes", "trays", "question", "margin", "target", "together", "bays")),
    "precision": (precision, ("takes", "trays", "question", "margin", "target", "bays")),
    "smallest-difference": (smallest_difference, ("take", "trays", "power")),
}
LAYOUT = (
    *("trays", "blocks", "whole_plot", "whole_plots", "per_block", "controls", "positions", "stuck"),
    *("stock_plants", "readers", "longest_run", "different_ends", "seed"),
)
# What a plan writes; the record sheet may hold counts by now.
FILES = ("record_sheet.xlsx", "labels.html", "labels.csv", "bench_map.pdf", "key.csv", "plan.json")


def asked_of_draws(asked: argparse.Namespace) -> int:
    """One of the questions that drawn trials answer."""
    question, own = QUESTIONS[asked.verb]
    given = _given(asked, (*own, *OF_ALL))
    for name in ("trays", "cuttings", "correlation"):
        if len(given.get(name, ())) == 1:
            (given[name],) = given[name]
    if "takes" in given:
        given["takes"] = _takes(given["takes"])
    with Waiting("Drawing trials") as waiting:
        result = question(given.pop("takes", None) or given.pop("take"), **given, progress=waiting)
    _show(result, asked)
    return ANSWERED


def _given(asked: argparse.Namespace, names: Sequence[str]) -> dict[str, Any]:
    return {name: getattr(asked, name) for name in names if getattr(asked, name, None) is not None}


def _takes(given: Sequence[Any]) -> Any:
    named = [one for one in given if isinstance(one, tuple)]
    if named and len(named) < len(given):
        raise CommandError("--takes names the level of some takes only; write 2500=0.6 5000=0.75, or 0.6 0.75")
    if len(dict(named)) < len(named):
        raise CommandError("--takes names a level twice; each level has one take")
    return dict(named) if named else list(given)


def _show(result: Result, asked: argparse.Namespace) -> None:
    if asked.json:
        say_record(result.to_json(indent=1))
    else:
        say_result(result)


def laid_out(asked: argparse.Namespace) -> int:
    """Lays a trial out, shows the plan and writes what is carried and what is kept."""
    given = _given(asked, LAYOUT)
    for name in ("blocks", "stock_plants", "readers"):
        if name in given:
            given[name] = _so_many(given[name])
    folder = None if asked.output is None else Path(asked.output)
    if folder is not None:
        _refuse_what_is_there(folder)
    with Waiting("Laying out"):
        plan = layout(asked.layout, _treatments(asked.treatment), **given)
    if folder is None:
        _show(plan, asked)
    else:
        written = _written(plan, folder)
        _show(plan, asked)
        tell("\n".join(["Written:", *(f"  {path}" for path in written)]))
        tell("Carry the record sheet, the labels and the map; keep the key and the plan from whoever reads.")
    if asked.seed is None and not asked.json:
        tell(f"The seed was drawn; --seed {plan.made_with.seed} gives this plan again.")
    return ANSWERED


def _so_many(given: Sequence[str]) -> Any:
    """How many, or their names."""
    return int(given[0]) if len(given) == 1 and given[0].isascii() and given[0].isdigit() else list(given)


def _treatments(given: Sequence[Sequence[str]]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, *levels in given:
        if not levels:
            raise CommandError(f"--treatment {name} names no levels; write such as --treatment strength 2500 5000")
        if name in found:
            raise CommandError(f"--treatment {name} is given twice; name all its levels at once")
        found[name] = levels
    return found


def _refuse_what_is_there(folder: Path) -> None:
    there = [name for name in FILES if (folder / name).exists()]
    if there:
        raise CommandError(
            f"there is {str(folder / there[0])!r} already, and counts or an earlier plan are never replaced; name "
            "another folder"
        )


def _written(plan: Any, folder: Path) -> list[Path]:
    try:
        folder.mkdir(exist_ok=True)
        written: list[Path] = plan.write(folder)
    except ReportError:
        raise
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise CommandError(
            f"the plan could not be written to {str(folder)!r} ({reason}); name another folder"
        ) from None
    return written
