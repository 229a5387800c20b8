"""A choice in money on the command line: as in Python, in the words of options, with the codes of all commands."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import rootling as rl
from rootling.command import main

COSTS = ["--price", "3 EUR", "--per-cutting", "0.40", "--of-level", "5000=0.02", "--cuttings-a-season", "20000"]
ASKED = ["--block", "bench", "--treatment", "strength", *COSTS]


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def table() -> str:
    rl.demo.two_strengths(seed=1).write_csv("trays.csv")
    return "trays.csv"


def choice(table: str, **options: Any) -> rl.decide.LevelChoice:
    trial = rl.load_trial(table, rooted="rooted", stuck="stuck", treatments=["strength"], tray="tray", block="bench")
    asked: dict[str, Any] = {"price": "3 EUR", "per_cutting": "0.40", "of_level": {"5000": "0.02"}}
    return rl.decide.choose(trial, "strength", cuttings_a_season=20_000, **{**asked, **options})


def test_it_is_answered_as_in_python(table: str, capsys: pytest.CaptureFixture[str]) -> None:
    more = ["--seasons", "3", "--season-sd", "0.3", "--saleable", "0.8", "--saleable-limits", "0.7", "0.88"]
    more += ["--next-trial", "trays=8", "cuttings=20", "cost=500", "--draws", "2000"]
    options: dict[str, Any] = {"seasons": 3, "season_sd": 0.3, "saleable": 0.8, "saleable_limits": (0.7, 0.88)}
    options |= {"next_trial": {"trays": 8, "cuttings": 20, "cost": "500"}, "draws": 2000}
    found = choice(table, **options)
    assert main(["decide", table, *ASKED, *more]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert said.startswith(" ".join(found.sentence.split()))
    assert "EUR" in found.sentence
    assert main(["decide", table, *ASKED, *more, "--json"]) == 0
    assert rl.Result.from_json(capsys.readouterr().out) == found


def test_days_of_darkness(table: str, capsys: pytest.CaptureFixture[str]) -> None:
    dark = ["--per-day", "0.1", "--days"]
    assert main(["decide", table, *ASKED, *dark, "28", "--json"]) == 0
    alike = rl.Result.from_json(capsys.readouterr().out)
    assert alike == choice(table, per_day="0.1", days=28)
    assert main(["decide", table, *ASKED, *dark, "2500=14", "5000=28", "--json"]) == 0
    assert rl.Result.from_json(capsys.readouterr().out) == choice(table, per_day="0.1", days={"2500": 14, "5000": 28})


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([*ASKED, "--days", "28"], "--days is given and --per-day is not"),
        ([*ASKED, "--days", "long"], "--days long holds no days; write --days 28"),
        ([*ASKED, "--per-tray", "1 USD"], "price is in EUR and per_tray in USD"),
        ([*ASKED, "--money", "5"], "is no name of a money; write --money EUR"),
        ([*ASKED, "--next-trial", "trays=8", "cuttings=20", "price=5"], "--next-trial says trays, cuttings and cost"),
        ([*ASKED, "--next-trial", "trays=8", "cuttings=few", "cost=5"], "--next-trial: 'few' is no whole number"),
        (["--treatment", "strength"], "--price and --cuttings-a-season are missing"),
        (["--treatment", "strength", "5000", *COSTS], "all levels of the treatment are weighed"),
        ([*ASKED, "--price", "cheap"], "is no amount of money"),
    ],
)
def test_mistakes_are_one_sentence(words: list[str], told: str, table: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["decide", table, *words]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert told in said
    assert "Traceback" not in said


def test_the_help_shows_a_line_to_copy(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["decide", "--help"]) == 0
    said = capsys.readouterr().out
    assert 'rootling decide trays.csv --treatment strength --price "3 EUR"' in said
    assert "Every command ends with a code" in said
