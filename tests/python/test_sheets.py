"""Sheets as nurseries keep them load right, or stop with a line that loads them right; none loads wrong."""

from __future__ import annotations

import warnings
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
import rootling as rl
from rootling.exceptions import TrialDataError
from sheets_made import Made, all_made

MADE = all_made()


def _counts(trial: rl.Trial, treatments: list[str]) -> Counter[Any]:
    frame = trial.tray_counts()
    # Treatments stand first, counts last.
    names = [*frame.columns[: len(treatments)], *frame.columns[-2:]]
    return Counter(tuple(map(str, row)) for row in frame.select(names).iter_rows())


def _truth(made: Made, treatments: list[str]) -> Counter[Any]:
    return Counter(tuple(str(tray[name]) for name in (*treatments, "rooted", "stuck")) for tray in made.truth)


def _asked(made: Made) -> dict[str, Any]:
    ask = dict(made.ask)
    if "strength" in ask:
        ask["strength"] = rl.Strength(**ask["strength"])
    return ask


def _pasted(line: str) -> rl.Trial:
    space: dict[str, Any] = {"rl": rl}
    exec(line, space)
    trial = space["trial"]
    assert isinstance(trial, rl.Trial)
    return trial


def _follow(path: Path, ask: dict[str, Any]) -> tuple[rl.Trial, list[TrialDataError]]:
    """Loads the sheet; where it stops, pastes the line it gives, at most three times."""
    errors: list[TrialDataError] = []
    call: Any = lambda: rl.load_trial(path, **ask)  # noqa: E731
    for _ in range(4):
        try:
            return call(), errors
        except TrialDataError as error:
            errors.append(error)
            assert error.paste is not None, str(error)
            assert str(error).endswith(error.paste)
            call = lambda line=error.paste: _pasted(line)  # noqa: E731
    raise AssertionError(f"no line loads it: {errors[-1]}")


def test_there_are_at_least_sixty_sheets() -> None:
    assert len(MADE) >= 60
    assert len({made.name for made in MADE}) == len(MADE)


@pytest.mark.parametrize("made", MADE, ids=lambda made: made.name)
def test_each_sheet_loads_right_or_says_the_line(made: Made, tmp_path: Path) -> None:
    path = made.save(tmp_path)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rl.exceptions.RootlingWarning)
        trial, errors = _follow(path, _asked(made))
    treatments = made.ask.get("treatments", ["strength"])
    assert _counts(trial, treatments) == _truth(made, treatments)
    assert bool(errors) == made.stops, errors
    if made.says is not None:
        assert made.says in {note.code for note in trial.notes}
