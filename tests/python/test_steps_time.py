"""Time to roots: what visits are answered, general libraries beside, and what is refused in words."""

from __future__ import annotations

import pickle
import time
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
import rootling as rl
from rootling._results import Result
from rootling.exceptions import ChoiceError, CountError, TrialDataError
from scipy import stats

DATA = Path(__file__).resolve().parents[1] / "data"
COLUMNS = {"tray": "tray", "day": "day", "started": "started", "rooted": "rooted", "dead": "dead"}
# Rooted and dead so far on days 14, 21, 28, 42, by tray; plants of 0, 2500 and 5000.
TRAYS: dict[str, list[tuple[str, list[int], list[int]]]] = {
    "0": [
        ("a", [1, 3, 5, 7], [0, 1, 2, 3]),
        ("b", [0, 2, 6, 8], [1, 1, 2, 2]),
        ("c", [2, 4, 5, 6], [0, 0, 1, 2]),
        ("d", [1, 2, 4, 9], [0, 1, 1, 1]),
    ],
    "2500": [
        ("e", [3, 6, 9, 12], [0, 1, 1, 2]),
        ("f", [2, 6, 8, 10], [1, 2, 2, 3]),
        ("g", [4, 7, 11, 13], [0, 0, 1, 1]),
        ("h", [2, 5, 9, 11], [0, 0, 0, 2]),
    ],
    "5000": [
        ("i", [5, 10, 14, 16], [0, 0, 1, 1]),
        ("j", [6, 9, 12, 15], [1, 1, 2, 2]),
        ("k", [4, 9, 13, 14], [0, 1, 1, 3]),
        ("l", [7, 12, 15, 17], [0, 0, 0, 1]),
    ],
}


def rows(**more: list[Any]) -> dict[str, Any]:
    found: dict[str, Any] = {name: [] for name in ("tray", "strength", "day", "started", "rooted", "dead")}
    for level, trays in TRAYS.items():
        for name, rooted, dead in trays:
            for day, root, die in zip((14, 21, 28, 42), rooted, dead, strict=True):
                line = (name, int(level), day, 20, root, die)
                for column, value in zip(found, line, strict=True):
                    found[column].append(value)
    return found | more


def seen(**options: Any) -> rl.steps.Visits:
    return rl.steps.visits(rows(), **COLUMNS, treatments=["strength"], **options)


def answers() -> list[Any]:
    visits = seen()
    alone = rl.steps.visits(
        {"last": [0, 7, 14, 14] * 9, "day": [7, 14, 21, 14] * 9, "became": ["rooted", "rooted", "dead", ""] * 9},
        day="day",
        last_without="last",
        became="became",
    )
    return [
        visits.over_time(),
        visits.over_time("strength"),
        visits.over_time("strength", "dead", confidence=0.9),
        visits.compare_times("strength", 0, 5000),
        visits.compare_times("strength", 0, 2500, day=28),
        visits.compare_times("strength", against=2500),
        visits.compare_times("strength", 0, 5000, event="dead"),
        alone.over_time(),
    ]


def test_answers_have_all_faces() -> None:
    for found in answers():
        assert len(found.sentence.split()) <= 30, found.sentence
        assert found.sentence.endswith(".")
        assert all(line.endswith(".") for line in found.details), found.details
        assert found.table().height
        assert Result.from_json(found.to_json()) == found
        assert found.plot().axes
        assert found.methods
        assert found.references
        assert all(len(sentence.split()) <= 35 for sentence in found.methods.split(". ")), found.methods


def test_answers_make_a_page(tmp_path: Path) -> None:
    page = rl.report.write(answers()[:4], tmp_path / "times.html", title="Time to roots")
    text = page.read_text(encoding="utf-8")
    assert "When do plants root" in text
    assert "Which level roots sooner" in text


def test_what_is_said() -> None:
    visits = seen()
    found = visits.compare_times("strength", 0, 5000)
    assert found.sentence.startswith("Use strength 5000: 40 more of 100 rooted by day 42 than 0 ("), found.sentence
    # 8 trays in two fours: 2 of 70 ways.
    assert found.pairs[0].p == pytest.approx(2 / 70, rel=1e-12, abs=0)
    course = visits.over_time("strength")
    assert [level.half.by for level in course.levels] == [None, 42, 21]
    assert course.sentence.startswith("Strength 5000: half rooted between day 14 and day 21 (limits"), course.sentence
    three = visits.compare_times("strength")
    assert [(pair.first, pair.second) for pair in three.pairs] == [("0", "2500"), ("0", "5000")]
    assert all(pair.p_adjusted >= pair.p for pair in three.pairs)


def test_remissions_by_general_libraries() -> None:
    # Freireich et al. 1963: the log-rank test and the product-limit estimate by scipy 1.17.1; chi-square 16.79.
    frame = pl.read_csv(DATA / "gehan_1965.csv")
    frame = frame.with_columns(
        last=pl.col("time_weeks") - 1,
        became=pl.when(pl.col("event") == 1).then(pl.lit("rooted")).otherwise(pl.lit("")),
    )
    columns = {"day": "time_weeks", "last_without": "last", "became": "became"}
    visits = rl.steps.visits(frame, **columns, treatments=["treat"])
    arms = {
        name: stats.CensoredData.right_censored(arm["time_weeks"].to_numpy(), arm["event"].to_numpy() == 0)
        for (name,), arm in frame.group_by("treat")
    }
    wanted = stats.logrank(arms["6-MP"], arms["control"])
    assert round(wanted.statistic**2, 2) == 16.79
    found = visits.compare_times("treat", "6-MP", "control")
    assert found.pairs[0].pace.p == pytest.approx(wanted.pvalue, rel=1e-9, abs=0)
    course = visits.over_time("treat")
    assert [level.half.by for level in course.levels] == [23, 8]
    for level in course.levels:
        surviving = stats.ecdf(arms[level.level]).sf
        for visit in level.visits:
            assert 1 - visit.value == pytest.approx(float(surviving.evaluate(visit.day)), abs=1e-12)


def test_deaths_compete() -> None:
    # By hand: 20 of 100 root and 30 die, then 25 of the 50 that wait root: 45 of 100, not 60.
    data = {"tray": ["a", "a"], "day": [14, 28], "started": [100, 100], "rooted": [20, 45], "dead": [30, 30]}
    level = rl.steps.visits(data, **COLUMNS).over_time().levels[0]
    assert (round(level.visits[-1].value, 12), round(level.if_others_waited, 12)) == (0.45, 0.6)


def test_visits_are_loaded_and_pickled(tmp_path: Path) -> None:
    visits = seen()
    assert visits.days == (14, 21, 28, 42)
    assert visits.treatments == ("strength",)
    assert visits.trays().columns == ["tray", "strength", "day", "at_risk", "rooted", "dead"]
    assert visits.trays().height == 48
    again = pickle.loads(pickle.dumps(visits))
    assert again.fingerprint == visits.fingerprint
    assert again.over_time("strength") == visits.over_time("strength")
    path = tmp_path / "visits.csv"
    pl.DataFrame(rows()).write_csv(path)
    assert rl.steps.visits(path, **COLUMNS, treatments=["strength"]).fingerprint == visits.fingerprint
    assert visits.issues == visits.set_aside == visits.notes == ()
    with pytest.raises(AttributeError, match="load them again"):
        visits.days = (1, 2)  # type: ignore[misc]


def test_all_problems_are_told_at_once() -> None:
    data = rows()
    data["rooted"][1] = 0
    data["strength"][6] = 9
    data["day"][9] = 14
    with pytest.raises(TrialDataError) as told:
        rl.steps.visits(data, **COLUMNS, treatments=["strength"])
    codes = [(issue.row, issue.column, issue.code) for issue in told.value.issues]
    assert codes == [
        (2, "rooted", "falls_over_time"),
        (7, "strength", "tray_of_two_kinds"),
        (10, "day", "visited_twice"),
    ]
    assert "leave_out=[2]" in str(told.value)
    kept = rl.steps.visits(data, **COLUMNS, treatments=["strength"], bad_rows="set-aside")
    assert len(kept.set_aside) == 3


@pytest.mark.parametrize(
    ("ask", "told"),
    [
        (lambda: rl.steps.visits(rows(), day="day", tray="tray"), "name the columns of one of the two"),
        (lambda: seen().compare_times("strength", 0), "one level of a pair"),
        (lambda: seen().compare_times("strength", 0, 0), "is named twice"),
        (lambda: seen().compare_times("strength", 0, 5000, day=30), "these are 14, 21, 28, 42"),
        (lambda: seen().over_time(confidence=95), "confidence"),
    ],
)
def test_what_cannot_be_asked_is_refused_in_words(ask: Any, told: str) -> None:
    with pytest.raises(CountError, match=told):
        ask()


def test_options_name_what_they_accept() -> None:
    with pytest.raises(ChoiceError, match="rooted, dead"):
        seen().over_time(event="alive")  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match="strength"):
        seen().over_time("strenght")
    with pytest.raises(ChoiceError, match="level of strength"):
        seen().compare_times("strength", 0, 500)
    with pytest.raises(ChoiceError, match="same_visit=2"):
        seen(same_visit=-1)


def test_a_dip_that_kills_is_one_sentence() -> None:
    data: dict[str, list[Any]] = {name: [] for name in ("tray", "dip", "day", "started", "rooted", "dead")}
    for dip, rooted, dead in (("no", (3, 6, 9, 11), (0, 0, 1, 1)), ("yes", (3, 5, 6, 7), (5, 9, 11, 12))):
        for at in range(4):
            for day, root, die in zip((14, 21, 28, 42), rooted, dead, strict=True):
                line = (f"{dip} {at}", dip, day, 20, root + at % 2, die)
                for column, value in zip(data, line, strict=True):
                    data[column].append(value)
    visits = rl.steps.visits(data, **COLUMNS, treatments=["dip"])
    found = visits.compare_times("dip", "no", "yes")
    assert found.sentence.startswith("Do not use dip = yes: 20 fewer of 100 rooted by day 42 than no ("), found.sentence
    assert "since more die" in found.sentence
    deaths = visits.compare_times("dip", "no", "yes", event="dead")
    assert deaths.sentence.startswith("Fewer die with dip = no: 55 fewer of 100 by day 42 than with yes ("), (
        deaths.sentence
    )
    assert rl.verify(found.to_json(), visits).agrees


def test_over_time_tells_how_far_it_is() -> None:
    told: list[tuple[int, int]] = []
    seen().over_time("strength", progress=lambda done, of: told.append((done, of)))
    assert told[-1] == (12, 12)


def test_plants_with_days_of_their_own_take_no_time() -> None:
    draw = np.random.default_rng(2)
    plants, trays = 2_000, 40
    tray = np.arange(plants) % trays
    root = draw.exponential(1, plants) ** 0.5 * 35
    last, day, became = [], [], []
    for at in range(plants):
        own = np.sort(draw.choice(np.arange(5, 80), 5, replace=False))
        by = int(np.searchsorted(own, root[at]))
        last.append(int(own[by - 1]) if by else 0)
        day.append(int(own[min(by, 4)]))
        became.append("rooted" if by < 5 else "")
    data = {"tray": [str(one) for one in tray], "dip": (tray % 2).tolist(), "last": last, "day": day, "became": became}
    visits = rl.steps.visits(data, tray="tray", day="day", last_without="last", became="became", treatments=["dip"])
    begun = time.perf_counter()
    visits.over_time("dip")
    assert time.perf_counter() - begun < 2
    visits.compare_times("dip", draws=2_000)
    assert time.perf_counter() - begun < 10


def test_thousands_of_trays_take_no_time() -> None:
    draw = np.random.default_rng(7)
    trays, visits = 2_000, 20
    new = draw.binomial(2, 0.12, size=(trays, visits))
    data = {
        "tray": np.repeat(np.arange(trays), visits).astype(str),
        "dip": np.repeat(np.where(np.arange(trays) % 2, "yes", "no"), visits),
        "day": np.tile(np.arange(1, visits + 1) * 3, trays),
        "started": np.full(trays * visits, 60),
        "rooted": np.cumsum(new, axis=1).ravel(),
    }
    loaded = rl.steps.visits(
        pl.DataFrame(data), tray="tray", day="day", started="started", rooted="rooted", treatments=["dip"]
    )
    begun = time.perf_counter()
    loaded.over_time("dip")
    loaded.compare_times("dip", "no", "yes", draws=999)
    # On two cores with nothing else at work it takes a third of a second.
    assert time.perf_counter() - begun < 5
