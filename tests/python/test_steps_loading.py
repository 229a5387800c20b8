"""Loading a chain of steps: what would count twice, in the wrong place or not at all is told with its rows."""

from __future__ import annotations

import pickle
from typing import Any

import polars as pl
import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, CountError, TrialDataError

CHAIN = ["grafted", "taken", "rooted"]
SPLIT: dict[str, Any] = {
    "batch": ["b1", "b1a", "b1b", "b2", "b3", "b4"],
    "parent": [None, "b1", "b1", None, None, None],
    "grafted": [60, None, None, 50, 40, 55],
    "taken": [50, 30, 20, 40, 30, 50],
    "rooted": [None, 18, 9, 30, 20, 30],
}
PLAIN: dict[str, Any] = {"batch": list("abcd"), "grafted": [50, 40, 60, 50], "rooted": [20, 22, 30, 20]}


def load(rows: dict[str, Any], **options: Any) -> rl.steps.Steps:
    return rl.steps.load(rows, **{"batch": "batch", "steps": CHAIN, "parent": "parent", **options})


def plain(rows: dict[str, Any], **options: Any) -> rl.steps.Steps:
    return rl.steps.load({**PLAIN, **rows}, **{"batch": "batch", "steps": ["grafted", "rooted"], **options})


def issues(call: Any) -> list[tuple[int | None, str | None, str]]:
    with pytest.raises(TrialDataError) as told:
        call()
    return [(one.row, one.column, one.code) for one in told.value.issues if one.severity != "information"]


def test_parts_count_where_they_stood() -> None:
    steps = load({**SPLIT, "room": ["A", "A", "B", "A", "B", "B"]}, room="room")
    found = steps.compare("room", "A", "B")
    assert [(one.take_first, one.take_second) for one in found.steps] == [
        (pytest.approx(90 / 110), pytest.approx(80 / 95)),
        (pytest.approx(48 / 70), pytest.approx(59 / 100)),
    ]
    assert "levels_within_batches" in [note.code for note in found.notes]
    own = steps.batches().filter(pl.col("batch") == "b1").sort("step", "room", descending=[True, False])
    assert own.rows() == [("b1", "taken", 60, 50, "A"), ("b1", "rooted", 30, 18, "A"), ("b1", "rooted", 20, 9, "B")]
    assert pickle.loads(pickle.dumps(steps)).fingerprint == steps.fingerprint
    assert rl.verify(found.to_json(), steps).agrees


def test_a_treatment_of_parts_alone() -> None:
    rows = {**SPLIT, "strength": [None, 2, 4, 2, 4, 4]}
    found = load(rows, treatments={"strength": "rooted"}).compare("strength", 2, 4)
    assert (found.start, found.n_batches_first, found.n_batches_second) == ("taken", 2, 3)
    assert found.value == pytest.approx(59 / 100 - 48 / 70)


def test_what_counts_twice_or_lies_before_its_origin() -> None:
    assert issues(lambda: load({**SPLIT, "rooted": [27, 18, 9, 30, 20, 30]})) == [
        (1, "rooted", "counted_with_its_parts")
    ]
    dated = {**SPLIT, "on": ["2025-03-10", None, None, *["2025-03-01"] * 3]}
    dated["up"] = [None, "2025-03-01", "2025-06-01", *["2025-06-01"] * 3]
    wrong = issues(lambda: load(dated, dates={"grafted": "on", "rooted": "up"}))
    assert wrong == [(2, "up", "part_before_its_origin")]


def test_rows_that_are_no_batches() -> None:
    assert issues(lambda: plain({"batch": ["a", "b", "c", "Sum"]})) == [(4, "batch", "total_row")]
    assert issues(lambda: plain({"batch": ["a", None, "c", None]})) == [
        (2, "batch", "missing_batch"),
        (4, "batch", "missing_batch"),
    ]
    with pytest.raises(TrialDataError, match=r"the row has no batch"):
        plain({"batch": ["a", "b", "c", ""]})


def test_rows_set_aside_are_told_by_every_answer() -> None:
    steps = plain({"rooted": [20, 41, 30, 20], "room": ["A", "A", "B", "B"]}, room="room", bad_rows="set-aside")
    for found in (steps.yields(), steps.to_start(20), steps.sure_of(100)):
        note = next(note for note in found.notes if note.code == "rows_set_aside")
        assert "row 2 (41 at" in note.text
        assert "set aside" in str(found)
        assert ["set_aside", "1 row: rises_along_chain 1"] in [list(one) for one in found.made_with["options"]]
    assert "set_aside" not in str(plain({}).yields().made_with)


def test_the_nearest_name_and_a_line_that_works() -> None:
    with pytest.raises(TrialDataError, match='did you mean "rooted"') as told:
        plain({}, steps=["grafted", "roted"])
    assert told.value.paste is not None
    assert "steps=['grafted', 'rooted']" in told.value.paste
    with pytest.raises(TrialDataError, match='did you mean "rooted"') as told:
        plain({}, dates={"grafted": "roted"})
    with pytest.raises(TrialDataError, match='did you mean "roted"'):
        rl.steps.load({"batch": ["a"], "last": ["rooted"]}, batch="batch", steps=["grafted", "roted"], last_step="last")


def test_years_that_are_slips() -> None:
    days = ["2025-03-01", "1925-03-01", "2025-03-01", "2142-03-01"]
    assert issues(lambda: plain({"on": days}, dates={"grafted": "on"})) == [
        (2, "on", "odd_year"),
        (4, "on", "future_date"),
    ]
    seasons = {"season": [2024, 2025, 2142, 2025]}
    with pytest.raises(TrialDataError, match="season 2142 is still to come") as told:
        plain(seasons, season="season")
    assert told.value.paste is not None
    assert "checked=['odd_year']" in told.value.paste
    assert plain(seasons, season="season", checked="odd_year").levels == ("season",)


def test_marks_for_nothing_and_plants_that_left_at_the_end() -> None:
    steps = plain({"rooted": ["20", "-", "n/a", "20"]})
    assert [(one.row, one.code) for one in steps.issues] == [(2, "too_young"), (3, "too_young")]
    rows = {"batch": list("aabb"), "last": ["s", "s", "g", "s"], "left": ["young", "sold", "-", "n/a"]}
    steps = rl.steps.load(rows, batch="batch", steps=["g", "s"], last_step="last", left="left")
    assert steps.batches()["passed"].to_list() == [2, 1]


def test_plants_of_a_batch_with_several_treatments() -> None:
    counts = {(2, "g"): 12, (2, "s"): 8, (4, "g"): 6, (4, "s"): 14}
    plants = [(batch, *key) for batch in "abc" for key, count in counts.items() for _ in range(count)]
    frame = pl.DataFrame(plants, schema=["batch", "strength", "last"], orient="row")
    names: dict[str, Any] = {"batch": "batch", "steps": ["g", "s"], "last_step": "last"}
    steps = rl.steps.load(frame, **names, treatments={"strength": "s"})
    found = steps.compare("strength", 2, 4)
    assert (found.value, found.n_batches_first) == (pytest.approx(0.3), 3)
    assert steps.yields(draws=0).n_batches == 3
    with pytest.raises(TrialDataError, match='is "2" in row 1 and "4" here'):
        rl.steps.load(frame, **names, levels="strength")


def test_questions_that_cannot_be_answered_say_what_to_do() -> None:
    with pytest.raises(CountError, match='no batch was counted at "rooted" yet; leave it out of steps='):
        plain({"rooted": [None] * 4}).yields()
    with pytest.raises(CountError, match='"A" is named twice; name two levels'):
        plain({"room": ["A", "A", "B", "B"]}, room="room").compare("room", "A", "A")
    with pytest.raises(CountError, match=r"wanted=100\.5 is no whole number of 0 or more; write wanted=101"):
        plain({}).to_start(100.5)  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match="is not known"):
        plain({}, checked="sum_rows")


def test_counts_and_plants_of_one_record(tmp_path: Any) -> None:
    counts = {"batch": ["b1", "b2", "b3"], "grafted": [6, 5, 9], "taken": [4, 4, 8]}
    last = ["taken", "rooted", "rooted", "rooted", "taken", "rooted", "rooted", "rooted"]
    plants = {"batch": ["b1"] * 4 + ["b2"] * 4, "last": last, "strength": [2, 2, 4, 4] * 2}
    names: dict[str, Any] = {
        "batch": "batch",
        "steps": CHAIN,
        "last_step": "last",
        "treatments": {"strength": "rooted"},
    }
    steps = rl.steps.load(counts, plants=plants, **names)
    assert steps.batches().filter(step="rooted").rows() == [
        *[("b1", "rooted", 2, 1, "2"), ("b1", "rooted", 2, 2, "4")],
        *[("b2", "rooted", 2, 1, "2"), ("b2", "rooted", 2, 2, "4")],
    ]
    assert [(one.row, one.code) for one in steps.issues] == [(3, "too_young")]
    assert pickle.loads(pickle.dumps(steps)).fingerprint == steps.fingerprint
    # The same from files, and in another order.
    pl.DataFrame(counts).write_csv(tmp_path / "counts.csv")
    pl.DataFrame(plants).reverse().write_csv(tmp_path / "plants.csv")
    files = rl.steps.load(tmp_path / "counts.csv", plants=tmp_path / "plants.csv", **names)
    assert files.fingerprint == steps.fingerprint
    with pytest.raises(TrialDataError, match="has 5 here and 4 plants in plants=") as told:
        rl.steps.load({**counts, "taken": [5, 4, 8]}, plants=plants, **names)
    assert "plants=..." in str(told.value)
    many = pl.DataFrame({"batch": ["b1", "b2"] * 10_000, "last": ["taken", "rooted", "rooted", "rooted"] * 5_000})
    of_many = {"batch": ["b1", "b2"], "grafted": [12_000, 12_000], "taken": [10_000, 10_000]}
    found = rl.steps.load(of_many, plants=many, batch="batch", steps=CHAIN, last_step="last")
    assert found.batches().filter(step="rooted")["passed"].to_list() == [5_000, 10_000]
    row_by_row = rl.steps.load(
        of_many, plants=many.to_dict(as_series=False), batch="batch", steps=CHAIN, last_step="last"
    )
    assert row_by_row.fingerprint == found.fingerprint
    with pytest.raises(CountError, match="batch= names its batch"):
        rl.steps.load(counts, plants=plants, batch="batch", steps=CHAIN)
