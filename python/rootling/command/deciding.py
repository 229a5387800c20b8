"""Decide: the levels of a treatment weighed in money."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import Any

from rootling.command.mistakes import ANSWERED, CommandError
from rootling.command.parser import Parser, number, pair, whole
from rootling.command.roles import loaded
from rootling.command.spoken import option
from rootling.command.told import say_record, say_result
from rootling.command.waiting import Waiting
from rootling.decide import choose

__all__ = ["add_options", "decide"]

NEXT: dict[str, Callable[[str], Any]] = {"trays": whole, "cuttings": whole, "cost": str}
AMOUNTS = {
    "price": 'what a saleable tree brings: 3, or "3 EUR"',
    "per_cutting": "cost of a cutting, whatever its level",
    "per_tray": "cost of a tray",
    "per_day": "cost of a day of darkness of a tray",
}
NUMBERS = {
    "cuttings_a_season": "cuttings stuck in a season: 20000",
    "cuttings_per_tray": "cuttings of a tray; those of the trial's trays if not said",
    "saleable": "share of rooted cuttings that come to sale; 1 if not said",
    "season_sd": "how far log odds of a level move from season to season: 0.3 is about 7 trees per 100",
    "confidence": "of limits; 0.95 if not said",
}
WHOLE = {
    "seasons": "seasons that the choice is to hold; 1 if not said",
    "draws": "draws of what is not known; 10000 if not said",
    "seed": "of the draws; 1 if not said",
}


def add_options(parser: Parser) -> None:
    """What is chosen, what it costs and brings, and what may come."""
    chosen = parser.add_argument_group("What is chosen")
    chosen.add_argument("--treatment", nargs="+", metavar="COLUMN", required=True, help="the treatment")
    chosen.add_argument(
        "--at", type=pair, nargs="+", action="extend", metavar="COLUMN=LEVEL", help="stay within levels of others"
    )
    money = parser.add_argument_group("What it brings and costs")
    for name, told in AMOUNTS.items():
        money.add_argument(option(name), metavar="AMOUNT", required=name == "price", help=told)
    money.add_argument(
        "--of-level", type=pair, nargs="+", action="extend", metavar="LEVEL=AMOUNT", help="further cost of a cutting"
    )
    money.add_argument("--days", nargs="+", metavar="DAYS", help="days of darkness: 28, or 2500=14 5000=28")
    money.add_argument("--money", metavar="NAME", help="the name of the money, where no amount says it")
    for name in ("cuttings_a_season", "cuttings_per_tray", "saleable"):
        money.add_argument(
            option(name), type=number, metavar="NUMBER", required=name == "cuttings_a_season", help=NUMBERS[name]
        )
    money.add_argument("--saleable-limits", type=number, nargs=2, metavar=("LOW", "HIGH"), help="its limits: 0.70 0.88")
    later = parser.add_argument_group("What may come")
    later.add_argument("--seasons", type=whole, metavar="NUMBER", help=WHOLE["seasons"])
    later.add_argument("--season-sd", type=number, metavar="NUMBER", help=NUMBERS["season_sd"])
    later.add_argument(
        "--next-trial",
        type=pair,
        nargs=3,
        metavar=("trays=NUMBER", "cuttings=NUMBER", "cost=AMOUNT"),
        help="one more trial: trays of each level, cuttings of each tray, what it costs",
    )
    how = parser.add_argument_group("How it is answered")
    how.add_argument("--confidence", type=number, metavar="SHARE", help=NUMBERS["confidence"])
    for name in ("draws", "seed"):
        how.add_argument(option(name), type=whole, metavar="NUMBER", help=WHOLE[name])


def decide(asked: argparse.Namespace) -> int:
    """The choice: the sentence, what stands behind it, cautions."""
    options = _options(asked)
    treatment, *levels = asked.treatment
    if levels:
        raise CommandError(
            f"--treatment {treatment} {levels[0]} names a level; all levels of the treatment are weighed, so name "
            "the treatment alone"
        )
    asked.treatment = [treatment]
    trial = loaded(asked)
    with Waiting("Drawing takes"):
        result = choose(trial, treatment, **options)
    if asked.json:
        say_record(result.to_json(indent=1))
    else:
        say_result(result, trial)
    return ANSWERED


def _options(asked: argparse.Namespace) -> dict[str, Any]:
    names = (*AMOUNTS, *NUMBERS, *WHOLE, "money", "at", "of_level", "days", "saleable_limits", "next_trial")
    given = {name: getattr(asked, name) for name in names if getattr(asked, name) is not None}
    for name in ("at", "of_level"):
        if name in given:
            given[name] = dict(given[name])
    if "days" in given:
        given["days"] = _days(given["days"])
    if "saleable_limits" in given:
        given["saleable_limits"] = tuple(given["saleable_limits"])
    if "next_trial" in given:
        given["next_trial"] = _next_trial(dict(given["next_trial"]))
    return given


def _days(given: list[str]) -> Any:
    """One number of days, or one for each level."""
    named = [one.partition("=") for one in given]
    try:
        if len(given) == 1 and not named[0][1]:
            return float(given[0])
        if all(sign for _, sign, _ in named):
            return {level: float(days) for level, _, days in named}
    except ValueError:
        pass
    raise CommandError(f"--days {' '.join(given)} holds no days; write --days 28, or --days 2500=14 5000=28")


def _next_trial(given: dict[str, str]) -> dict[str, Any]:
    if set(given) != set(NEXT):
        raise CommandError(
            "--next-trial says trays, cuttings and cost; write --next-trial trays=8 cuttings=20 cost=500"
        )
    try:
        return {name: read(given[name]) for name, read in NEXT.items()}
    except argparse.ArgumentTypeError as error:
        raise CommandError(f"--next-trial: {error}") from None
