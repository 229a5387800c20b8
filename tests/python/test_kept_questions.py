"""Questions of plain counts and plans are kept in their records, and asked again from there alone."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
import pytest
import rootling as rl
from every_kind import ASKED, model, plan, several, strengths_of, years
from rootling._again.asked import MISSING
from rootling._again.kept import QUESTIONS
from rootling.exceptions import ChoiceError

ALONE = sorted(name for name in ASKED if name.split(",")[0] in MISSING)
BESIDE = {
    "predictions",
    "model_comparison",
    "dealt_anew",
    "chance_at_end",
    "pooled",
    "pooled, two",
    "best_over_seasons",
    "level_choice",
}


def under_way() -> rl.Trial:
    """The trial that ``every_kind`` asks of its chance at the end."""
    drawn = rl.plan.draw_trial({2500: 0.5, 5000: 0.7}, trays=4, number=3)
    return rl.load_trial(drawn, rooted="rooted", stuck="stuck", treatments="level", tray="tray")


@pytest.mark.parametrize("name", [name for name in ALONE if name not in BESIDE])
def test_a_record_alone_is_asked_again(name: str) -> None:
    record = ASKED[name]().to_json()
    found = rl.verify(record)
    assert (found.agrees, found.exact) == (True, True), found
    with pytest.raises(ChoiceError, match=r"is asked of nothing beside its record.*write rl.verify\(record\)"):
        rl.verify(record, several())


def test_records_with_their_data() -> None:
    rows = {"strength": [0, 5000], "dark_days": [0, 21], "rootstock": ["K12", "K17"]}
    smaller = several().model(["strength", "dark_days", "rootstock"])
    dealt = ASKED["dealt_anew"]()
    counts = [
        9 + (3 if str(row["strength"]) == "5000" else 0) + at % 3 for at, row in enumerate(plan().table().to_dicts())
    ]
    table = {"tray": plan().table()["tray"].to_list(), "rooted": counts, "stuck": [20] * len(counts)}
    trial = rl.load_trial(table, plan=plan())
    compared = [one.compare("strength", 2500, 5000) for one in years(3).values()]
    pairs: list[tuple[Any, Any]] = [
        (model().predict(rows), model()),
        (model().predict(pl.DataFrame(rows)), model()),
        (model().against(smaller), [model(), smaller]),
        (dealt, [plan(), trial]),
        (ASKED["chance_at_end"](), under_way()),
        (ASKED["pooled"](), list(years(5).values())),
        (ASKED["best_over_seasons"](), list(strengths_of(5).values())),
        (rl.seasons.pool(compared), compared),
    ]
    for result, data in pairs:
        found = rl.verify(result.to_json(), data)
        assert (found.agrees, found.exact) == (True, True), (result.kind, found)
    with pytest.raises(
        ChoiceError,
        match=r"asked of a plan and a trial, and something else was given; write rl.verify\(record, \[plan, trial\]\)",
    ):
        rl.verify(dealt, [trial, plan()])
    # What is drawn by another seed is told from what is not, also where a count is the same by two seeds.
    assert rl.verify(dealt, (plan(), trial), seed=5).agrees


def test_forms_of_counts() -> None:
    for table in (
        [[12, 8], [6, 14]],
        np.array([[12, 8], [6, 14]]),
        pl.DataFrame({"rooted": [12, 6], "failed": [8, 14]}),
    ):
        result = rl.tables.chi_square(table)  # type: ignore[arg-type]
        assert rl.verify(result.to_json()).exact
    assert not rl.verify({**result.to_dict(), "expected": [[1.0, 2.0], [3.0, 4.0]]}).agrees


def test_trials_are_named_and_given_again() -> None:
    earlier = [several(), under_way()]
    options: dict[str, Any] = {"trays": 6, "draws": 100, "earlier": earlier}
    result = rl.plan.power((0.5, 0.7), **options)
    assert result.to_dict()["made_with"]["asked"]["arguments"]["earlier"] == [{"data": "trial"}] * 2
    assert rl.verify(result.to_json(), earlier).exact
    with pytest.raises(ChoiceError, match=r"write rl.verify\(record, \[trial, trial\]\)"):
        rl.verify(result, earlier[:1])


def test_a_question_that_is_not_known_is_not_asked() -> None:
    result = rl.tables.chi_square([[12, 8], [6, 14]])
    record = result.to_dict()
    record["made_with"]["asked"] = {"question": "os.remove", "arguments": {"path": "x"}}
    with pytest.raises(ChoiceError, match="does not hold the counts that were given"):
        rl.verify(record)
    record["made_with"]["asked"] = {"question": "tables.chi_square", "arguments": {"rows": [[1]]}}
    with pytest.raises(rl.RootlingError):
        rl.verify(record)


def test_every_question_that_is_kept_is_asked_here() -> None:
    made = {ASKED[name]().made_with["asked"]["question"] for name in ALONE}
    assert set(QUESTIONS) - made <= {"compare.likelihood_ratio_test"}
