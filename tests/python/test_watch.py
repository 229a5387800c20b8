"""Watching a crop from Python: records read, questions asked, stories told as they are."""

from __future__ import annotations

import datetime as dt
import pickle
from pathlib import Path
from typing import Any

import polars as pl
import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, TrialDataError

COLUMNS: dict[str, Any] = {
    "batch": "batch",
    "started": "started",
    "alive": "alive",
    "set_date": "set",
    "reading_date": "read",
    "cultivars": "rootstock",
    "grafter": "grafter",
    "places": "room",
    "season": "season",
}
END = "2025-01-31"


def crop(story: str = "room", seed: int = 1) -> rl.watch.Watch:
    return rl.watch.load(rl.demo.weekly_batches(seed=seed, story=story), **COLUMNS)


def test_a_drop_in_one_room_is_found_there() -> None:
    watch = crop("room")
    baseline = watch.expected(until=END)
    found = watch.signals(baseline, draws=199)
    assert found.sentence.startswith("Room 2 ")
    assert found.change.place == ("room", "room 2")
    assert found.change.p <= 0.01
    # Set from week 14 of 2025 on: 31 March.
    monday = (dt.date(2025, 3, 31) - dt.date(1970, 1, 1)).days
    assert found.change.weeks[0] <= monday <= found.change.weeks[1]
    assert found.quiet is None
    assert {note.code for note in found.notes} >= {"signal_not_cause", "seasons_unknown"}


@pytest.mark.parametrize("story", ["mix", "batches"])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_changed_mix_and_strong_batches_stay_quiet(story: str, seed: int) -> None:
    watch = crop(story, seed)
    found = watch.signals(watch.expected(until=END), draws=199)
    assert found.change is None or found.change.p > 0.01
    if found.change is None:
        assert found.sentence.startswith("Quiet: a drop of ")
        assert found.quiet.drop < 0.1


def test_a_changed_mix_is_told_as_the_mix() -> None:
    found = crop("mix").mix(END)
    assert found.value < -0.02
    assert sum(part.value for part in found.mix) < -0.02
    assert "what was set accounts for" in found.sentence
    assert "not shown to differ" in found.sentence
    parts = found.rates + sum(part.value for part in found.mix) + found.without_partner
    assert parts == pytest.approx(found.value, rel=1e-9)


@pytest.mark.parametrize("story", rl.demo.STORIES)
def test_every_answer_has_its_faces_and_comes_back_from_its_record(story: str) -> None:
    watch = crop(story)
    baseline = watch.expected(until=END)
    answers = [
        baseline,
        watch.signals(baseline, draws=99),
        watch.batch_chart(baseline),
        watch.mix(END),
        watch.target(0.88, baseline),
        watch.target("last-season", baseline),
        watch.places(baseline),
    ]
    for answer in answers:
        assert len(answer.sentence.split()) <= 30
        assert answer.table().height > 0
        assert answer.methods
        assert answer.plot() is not None
        assert rl.Result.from_json(answer.to_json()) == answer
        assert " None" not in repr(answer)
        assert answer._repr_html_().startswith("<")


def test_a_kept_baseline_gives_the_same_answer(tmp_path: Path) -> None:
    watch = crop()
    baseline = watch.expected(until=END)
    kept = rl.watch.Baseline.from_json(baseline.to_json())
    assert isinstance(kept, rl.watch.Baseline)
    assert watch.signals(kept, draws=99) == watch.signals(baseline, draws=99)
    page = rl.report.write([baseline, watch.signals(baseline, draws=99)], tmp_path / "week.html", title="Week")
    assert "Do fewer survive" in page.read_text(encoding="utf-8")


def test_csv_frame_and_dictionary_are_the_same_record(tmp_path: Path) -> None:
    frame = rl.demo.weekly_batches(seed=2)
    frame.write_csv(tmp_path / "batches.csv")
    frame.write_excel(tmp_path / "batches.xlsx")
    prints = {
        rl.watch.load(data, **COLUMNS).batches().write_csv()
        for data in (frame, frame.to_dict(as_series=False), tmp_path / "batches.csv", tmp_path / "batches.xlsx")
    }
    assert len(prints) == 1


def test_every_problem_is_told_with_row_and_column() -> None:
    rows = {
        "batch": ["b1", "b2", "b3"],
        "room": ["A", "A", "B"],
        "set": ["2026-01-05"] * 3,
        "read": ["2026-03-02", "2025-03-02", "2026-03-02"],
        "started": [15, 15, 15],
        "alive": [16, 12, 12.5],
    }
    named = {"batch": "batch", "places": "room", "set_date": "set", "reading_date": "read"}
    with pytest.raises(TrialDataError) as caught:
        rl.watch.load(rows, **named, started="started", alive="alive", today="2026-11-30")
    assert [issue.code for issue in caught.value.issues] == ["alive_above_started", "read_before_set", "not_whole"]
    assert "row 1" in str(caught.value)
    assert "record of batches" in str(caught.value)
    lenient = {**rows, "alive": [13, 12, 12]}
    watch = rl.watch.load(lenient, **named, started="started", alive="alive", today="2026-11-30", bad_rows="set-aside")
    assert [issue.row for issue in watch.set_aside] == [2]


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"alive": "living"}, "living"),
        ({"started": None}, "started="),
        ({"places": 3}, "places="),
        ({"reading_age": -3}, "reading_age=-3"),
        ({"season_begins": 13}, "13"),
        ({"steps": {"graft take": "taken"}}, "steps="),
        ({"today": "soon"}, "soon"),
    ],
)
def test_wrong_columns_and_options_are_told(wrong: dict[str, Any], told: str) -> None:
    with pytest.raises((ChoiceError, TrialDataError), match=told):
        rl.watch.load(rl.demo.weekly_batches(seed=1), **{**COLUMNS, **wrong})


def test_wrong_questions_are_told() -> None:
    watch = crop()
    baseline = watch.expected(until=END)
    with pytest.raises(ChoiceError, match=r"0\.05"):
        watch.signals(baseline, drop=5)
    with pytest.raises(ChoiceError, match="no day"):
        watch.signals(until="31.1.2025")
    with pytest.raises(ChoiceError, match="leave one of them out"):
        watch.signals(baseline, until=END)
    with pytest.raises(ChoiceError, match="baseline="):
        watch.signals({"baseline": 1})  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match="stretches"):
        watch.expected(until=END, without=["2024-01-01"])  # type: ignore[list-item]
    with pytest.raises(ChoiceError, match="at least 20 batches"):
        watch.expected(until="2023-03-10")
    with pytest.raises(ChoiceError, match="room"):
        watch.signals(baseline, charts=["rom"])
    with pytest.raises(rl.RootlingError, match="between 0 and 1"):
        watch.target(88, baseline)
    with pytest.raises(ChoiceError, match="last-season"):
        watch.target("last season", baseline)  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match="room"):
        watch.places(baseline, column="rom")


def test_steps_of_the_chain_are_named_after_a_signal() -> None:
    frame = rl.demo.weekly_batches(seed=1).with_columns(
        taken=(pl.col("started") - (pl.col("started") - pl.col("alive")) // 2)
    )
    steps = {"graft take": ("started", "taken"), "out of the dark": ("taken", "alive")}
    watch = rl.watch.load(frame, **COLUMNS, steps=steps)
    found = watch.signals(watch.expected(until=END), draws=99)
    assert [step.step for step in found.change.steps] == list(steps)
    assert any("step" in line for line in found.details)


def test_nothing_read_since_the_baseline_is_said() -> None:
    watch = crop()
    found = watch.signals(watch.expected(until="2026-01-31"), draws=99)
    assert "nothing to watch yet" in found.sentence


def test_a_crop_can_be_pickled_and_its_prints_do_not_depend_on_rows() -> None:
    watch = crop()
    again = pickle.loads(pickle.dumps(watch))
    assert again.fingerprint == watch.fingerprint
    assert again.expected(until=END) == watch.expected(until=END)
    frame = rl.demo.weekly_batches(seed=1).sample(fraction=1.0, shuffle=True, seed=3)
    assert rl.watch.load(frame, **COLUMNS).fingerprint == watch.fingerprint


def test_baselines_of_other_crops_are_refused() -> None:
    watch = crop()
    fewer = {name: column for name, column in COLUMNS.items() if name != "grafter"}
    other = rl.watch.load(rl.demo.weekly_batches(seed=1), **fewer)
    with pytest.raises(ChoiceError, match="knows the columns"):
        other.signals(watch.expected(until=END))
    older = rl.watch.load(rl.demo.weekly_batches(seed=1).with_columns(pl.col("read") + pl.duration(days=40)), **COLUMNS)
    with pytest.raises(ChoiceError, match="reading_age"):
        older.signals(watch.expected(until=END))
    record = watch.expected(until=END).to_dict()
    record["baseline"]["spreads"]["batch"] = -1
    with pytest.raises(ChoiceError, match="spreads"):
        watch.signals(rl.watch.Baseline.from_dict(record))


@pytest.mark.parametrize("alive", ["none", "all"])
def test_none_dead_and_none_alive_are_ordinary(alive: str) -> None:
    frame = rl.demo.weekly_batches(seed=1)
    counts = pl.col("started") if alive == "all" else pl.col("started") * 0
    watch = rl.watch.load(frame.with_columns(alive=counts), **COLUMNS)
    baseline = watch.expected(until=END)
    assert "layers_unknown" in {note.code for note in baseline.notes}
    if alive == "all":
        assert watch.signals(baseline, draws=99).change is None


def test_crops_that_are_hardly_watched_are_not_called_quiet() -> None:
    frame = rl.demo.weekly_batches(seed=1, story="batches")
    new = pl.when(pl.col("season") == 2025).then(pl.lit("K77")).otherwise(pl.col("rootstock"))
    watch = rl.watch.load(frame.with_columns(rootstock=new), **COLUMNS)
    found = watch.signals(watch.expected(until="2024-12-31"), draws=99)
    assert "Quiet" not in found.sentence
    assert "make a new" in found.sentence
