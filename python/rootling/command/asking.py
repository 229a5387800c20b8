"""Check, answer, report and verify: what a trial is asked, and how the answer is given."""

from __future__ import annotations

import argparse
import os
from collections import Counter
from collections.abc import Mapping
from itertools import combinations
from pathlib import Path
from typing import Any

from rootling._again import verify as ask_again
from rootling._results import Result, write_record
from rootling._words import interactions_told
from rootling.command.mistakes import ANSWERED, PROBLEMS, CommandError
from rootling.command.roles import about, loaded
from rootling.command.spoken import spoken
from rootling.command.told import ASIDE, LOADING, say, say_lines, say_notes, say_record, say_result, say_verdict, tell
from rootling.command.waiting import Waiting
from rootling.exceptions import Issue, ModelError, TrialDataError
from rootling.models import Model
from rootling.report import write
from rootling.trial import Trial

__all__ = ["answer", "check", "report", "verify"]

PAIR = 2
# Trays of every combination from which on an interaction is fitted.
FEWEST = 2
# What each question uses of the options, beside the treatment.
USED = {
    "two levels": ("at", "margin", "confidence", "trays", "seed", "nearly", "outcome"),
    "all levels": ("against", "together", "at", "confidence", "trays", "seed", "nearly", "outcome"),
    "levels within another": ("within", "trays", "seed", "outcome"),
    "several treatments": ("confidence", "outcome"),
}
ALL = tuple(dict.fromkeys(name for names in USED.values() for name in names))


def check(asked: argparse.Namespace) -> int:
    """Reads the table, says what it holds, and every problem with it."""
    try:
        trial = loaded(asked)
    except TrialDataError as error:
        if not asked.json:
            raise
        say_record(write_record({"problems": [_plain(one) for one in error.issues]}, 1))
        return PROBLEMS
    if asked.json:
        say_record(write_record(_checked(trial), 1))
        return ANSWERED
    say(trial.design["sentence"])
    say_lines(trial.design["lines"])
    say_notes(trial.notes)
    say_lines((spoken(str(one), LOADING) for one in trial.set_aside), ASIDE)
    return ANSWERED


def _checked(trial: Trial) -> dict[str, Any]:
    return {
        "fingerprint": trial.fingerprint,
        "design": trial.design["sentence"],
        "lines": list(trial.design["lines"]),
        "notes": [{"code": note.code, "text": spoken(note.text, LOADING)} for note in trial.notes],
        "set_aside": [_plain(one) for one in trial.set_aside],
    }


def _plain(issue: Issue) -> dict[str, Any]:
    names = ("code", "severity", "row", "column", "value", "reason", "hint")
    told = {name: getattr(issue, name) for name in names}
    # Rows and values are as they stand in the table; what to do is said in options of the command.
    return {**told, **{name: spoken(told[name], LOADING) for name in ("reason", "hint") if told[name]}}


def answer(asked: argparse.Namespace) -> int:
    """One answer: the sentence, its details, the table, the cautions."""
    trial = loaded(asked)
    with Waiting("Working"):
        result = _answered(trial, asked)
    if asked.json:
        say_record(result.to_json(indent=1))
    else:
        say_result(result, trial)
        say_lines(interactions_told(result))
    return ANSWERED


def report(asked: argparse.Namespace) -> int:
    """The page of a trial: its take rates and the answer to the question."""
    target = Path(asked.output)
    if os.path.lexists(target) and not asked.replace:
        raise CommandError(
            f"there is {str(target)!r} already, so it is left as it is; name another, or add --replace to put the new "
            "report in the place of an earlier one"
        )
    trial = loaded(asked)
    with Waiting("Working"):
        result = _answered(trial, asked)
        rates = trial.take_rates(
            by=about(asked) or list(_treatments(trial)), **_given(asked, ("confidence", "trays", "outcome"))
        )
        written = write([trial, result, rates], target, title=asked.title)
    say(result.sentence)
    tell(f"The report is {str(written)!r}.")
    return ANSWERED


def verify(asked: argparse.Namespace) -> int:
    """Asks the question of a record again, and says whether the same comes out."""
    trial = None if asked.file is None else loaded(asked)
    with Waiting("Working"):
        found = ask_again(Path(asked.record), trial, seed=asked.seed)
    say_verdict(found, as_json=asked.json)
    return ANSWERED if found.agrees else PROBLEMS


def _treatments(trial: Trial) -> Mapping[str, list[str]]:
    return {one["name"]: one["levels"] for one in trial._core.units["treatments"]}


def _given(asked: argparse.Namespace, names: tuple[str, ...]) -> dict[str, Any]:
    given = {name: getattr(asked, name) for name in names if getattr(asked, name, None) is not None}
    if "at" in given:
        given["at"] = dict(given["at"])
    return given


def _answered(trial: Trial, asked: argparse.Namespace) -> Result:
    known = _treatments(trial)
    named = list(asked.treatment or [])
    if not named and len(known) > 1 and not (asked.at or asked.within or asked.against):
        return _of_several(trial, list(known), _used(asked, "several treatments")).what_matters()
    treatment, levels = _meant(named, known)
    two = known.get(treatment, [])
    if len(levels) == PAIR or (not asked.within and len(two) == PAIR and asked.against is None):
        compared: Result = trial.compare(
            treatment, *(levels if len(levels) == PAIR else two), **_used(asked, "two levels")
        )
        return compared
    if asked.within:
        return trial.association(treatment, **_used(asked, "levels within another"))
    return trial.compare_all(treatment, **_used(asked, "all levels"))


def _of_several(trial: Trial, treatments: list[str], options: Mapping[str, Any]) -> Model:
    """A model with the interaction of every two treatments whose combinations all have two trays or more."""
    pairs = _crossed(trial)
    model: Model
    try:
        model = trial.model(treatments, interactions=pairs, **options)
    except ModelError:
        if not pairs:
            raise
        # So many effects may be more than the trays can tell apart.
        model = trial.model(treatments, **options)
    return model


def _crossed(trial: Trial) -> list[tuple[str, str]]:
    units = trial._core.units
    if units["kind"] != "tray":
        return []
    found = []
    for one, other in combinations(units["treatments"], PAIR):
        trays = Counter(zip(one["codes"], other["codes"], strict=True))
        whole = len(one["levels"]) * len(other["levels"])
        if len(trays) == whole and min(trays.values()) >= FEWEST:
            found.append((one["name"], other["name"]))
    return found


def _meant(named: list[str], known: Mapping[str, list[str]]) -> tuple[str, list[str]]:
    """The treatment that is asked about, and the levels named of it."""
    treatment = named[0] if named else next(iter(known)) if len(known) == 1 else None
    if treatment is None:
        raise CommandError(f"say which treatment is asked about: --treatment with one of {', '.join(known)}")
    levels = named[1:]
    if len(levels) == 1:
        raise CommandError(
            f"--treatment {treatment} {levels[0]} names one level; name two to compare them, none for all, or write "
            f"--treatment {treatment} --against {levels[0]}"
        )
    if len(levels) > PAIR:
        raise CommandError(f"--treatment {treatment} takes two levels, the second is set against the first; or none")
    return treatment, levels


def _used(asked: argparse.Namespace, question: str) -> dict[str, Any]:
    """The options of a question; one that it has no use for is refused."""
    idle = [name for name in ALL if name not in USED[question] and getattr(asked, name) is not None]
    if idle:
        uses = ", ".join(f"--{name}" for name in USED[question])
        raise CommandError(f"--{idle[0]} has no part in a question of {question}; that uses {uses}")
    return _given(asked, USED[question])
