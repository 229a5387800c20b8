"""What a model's answers hold for: scales, bounds, values beyond what was tried."""

from __future__ import annotations

import math
import pickle
import warnings

import polars as pl
import pytest
import rootling as rl
from matplotlib.figure import Figure


def loaded(rows: list[tuple[int, str, float, int]]) -> rl.Trial:
    frame = pl.DataFrame(rows, schema=["strength", "rootstock", "dark_days", "rooted"], orient="row")
    frame = frame.with_columns(tray=pl.int_range(pl.len()), stuck=pl.lit(20))
    treatments = ["strength", "rootstock"] if frame["rootstock"].n_unique() > 1 else ["strength"]
    roles = {"rooted": "rooted", "stuck": "stuck", "tray": "tray", "covariates": ["dark_days"]}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rl.exceptions.FewTraysWarning)
        return rl.load_trial(frame, treatments=treatments, **roles)


@pytest.fixture(scope="module")
def trial() -> rl.Trial:
    counts = [0, 0, 0, 0, 6, 5, 8, 7, 11, 9, 12, 10, 0, 0, 0, 0, 15, 13, 16, 14, 18, 17, 16, 19]
    rows = [
        ([0, 2500, 5000][at // 4 % 3], ["K12", "K17"][at // 12], 20.0 + at % 4, count)
        for at, count in enumerate(counts)
    ]
    return loaded(rows)


def test_changes_need_their_interaction(trial: rl.Trial) -> None:
    with pytest.raises(rl.exceptions.ChoiceError, match=r'interactions=\[\("strength", "rootstock"\)\]'):
        trial.model(["strength", "rootstock"]).contrasts("strength", changing_with="rootstock")
    model = trial.model(["strength", "rootstock"], interactions=[("strength", "rootstock")])
    found = model.contrasts("strength", changing_with="rootstock")
    assert "depends_on_scale" in {note.code for note in found.notes}


def test_bounds_that_are_none_are_infinite_in_numbers_tables_and_records(trial: rl.Trial) -> None:
    found = trial.model(["strength", "rootstock"]).contrasts("strength", against="0", scale="ratio")
    first = found.contrasts[0]
    assert first.high == math.inf
    assert first.why is None
    assert found.table()["high"][0] == math.inf
    assert '"inf"' in found.to_json()
    assert rl.Result.from_json(found.to_json()) == found
    assert pickle.loads(pickle.dumps(found)) == found
    assert isinstance(found.plot(), Figure)
    assert "no upper limit" in repr(found)


def test_what_is_not_available_says_why() -> None:
    same = [(strength, "K12", 20.0, 4 if strength == 0 else 12) for strength in (0, 2500) for _ in range(3)]
    more = [(5000, "K12", 20.0, count) for count in (15, 18, 17)]
    found = loaded(same + more).model("strength", trays="robust").contrasts("strength")
    rows = found.table().to_dicts()
    assert rows[0]["p"] is None
    assert "alike to the last cutting" in rows[0]["why"]
    assert rows[1]["p"] is not None
    assert rows[1]["why"] == ""


def test_statistics_and_odds_ratios_are_named(trial: rl.Trial) -> None:
    model = trial.model(["strength", "rootstock"])
    held, averaged = model.odds_ratios(), model.contrasts("strength", against="2500", scale="odds")
    assert set(held.table()["statistic_is"]) == {"F"}
    assert set(averaged.table()["statistic_is"]) == {"t"}
    assert set(held.table()["other_effects"]) == {"held"}
    assert set(averaged.table()["other_effects"]) == {"averaged over"}


@pytest.mark.parametrize("value", [400, 1e6, -1e6])
def test_far_outside_the_tested_range(trial: rl.Trial, value: float) -> None:
    model = trial.model(["strength", "rootstock", "dark_days"])
    at = {"dark_days": value}
    answers: list[rl.Result] = [
        ask("strength", at=at) for ask in (model.adjusted_rates, model.letters, model.contrasts)
    ]
    for found in answers:
        assert "outside_tested_range" in {note.code for note in found.notes}
        assert rl.Result.from_json(found.to_json()) == found
        for row in found.table().to_dicts():
            assert all(not isinstance(x, float) or math.isfinite(x) for x in row.values())
    shown = repr(answers[0])
    assert all(error is None or error > 0 for error in answers[0].table()["se"])
    assert "nan" not in shown.lower()


def test_rows_that_combine_levels_untried_are_guesses() -> None:
    rows = [(strength, stock, 20.0, count) for strength, stock, count in [
        (0, "K12", 3), (0, "K12", 5), (2500, "K12", 11), (2500, "K12", 9), (0, "K17", 6), (0, "K17", 4),
        (5000, "K17", 15), (5000, "K17", 16), (2500, "K17", 12), (2500, "K17", 13),
    ]]  # fmt: skip
    found = loaded(rows).model(["strength", "rootstock"]).predict({"strength": [5000, 0], "rootstock": ["K12", "K12"]})
    assert [row.tried for row in found.rows] == [False, True]
    notes = {note.code: note.text for note in found.notes}
    assert notes["not_tried"].startswith("Row 1 combines levels of which the trial has no tray together")
