"""What is told of a trial beside its counts: kept, shown, compared with the counts; and what a write-up still lacks."""

from __future__ import annotations

import pickle
from datetime import date
from pathlib import Path
from typing import Any

import docx
import polars as pl
import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, RootlingWarning

ROLES: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": "strength", "tray": "tray"}
ROLES |= {"block": "bench", "strength": rl.Strength("IBA", unit="mg/L", method="quick dip")}
TOLD: dict[str, Any] = {
    "rooted": "one root of 1 mm or more",
    "set_date": date(2026, 3, 2),
    "reading_date": "2026-04-13",
    "randomisation": "by lot within each bench, seed 7",
    "losses": "none",
    "planned_units": 12,
}


def load(about: Any, **more: Any) -> rl.Trial:
    return rl.load_trial(more.pop("data", rl.demo.two_strengths(seed=1)), **{**ROLES, **more}, about=about)


def dated(**columns: list[str]) -> pl.DataFrame:
    frame = rl.demo.two_strengths(seed=1)
    return frame.with_columns(*[pl.Series(name, values) for name, values in columns.items()])


def test_it_is_kept_and_changes_no_answer() -> None:
    trial, plain = load(TOLD), load(None)
    assert dict(trial.about.told)["set_date"] == "2026-03-02"
    assert trial.about.lines[-1] == "Planned: 12 units."
    assert trial.fingerprint == plain.fingerprint
    assert trial.compare("strength", 2500, 5000) == plain.compare("strength", 2500, 5000)
    again = pickle.loads(pickle.dumps(trial))
    assert again.about == trial.about
    assert not plain.about
    assert plain.about.lines == ()
    with pytest.raises(AttributeError, match="a trial cannot be changed"):
        trial.about = plain.about  # type: ignore[misc]
    with pytest.raises(TypeError):
        trial.about.told["rooted"] = "another"  # type: ignore[index]


def test_records_hold_it(tmp_path: Path) -> None:
    """Of a trial, its models and its curves; JSON and back; asked again with or without it the same comes out."""
    trial, plain = load(TOLD), load(None)
    asked: list[tuple[Any, Any]] = [
        (lambda one: one.compare("strength", 2500, 5000), lambda one: one),
        (lambda one: one.take_rates(), lambda one: one),
        (lambda one: one.model("strength").what_matters(), lambda one: one.model("strength")),
    ]
    for ask, home in asked:
        answer = ask(trial)
        text = answer.to_json()
        again = rl.Result.from_json(text)
        assert again.to_dict()["made_with"]["about"] == dict(trial.about.told)
        assert again.to_json() == text
        assert again == answer == ask(plain)
        assert "about" not in ask(plain).to_dict()["made_with"]
        assert rl.verify(text, home(trial)).agrees
        assert rl.verify(text, home(plain)).agrees
        assert rl.verify(ask(plain).to_json(), home(trial)).agrees
        path = rl.report.write(again, tmp_path / "again.md", overwrite=True)
        assert "Rooted means: one root of 1 mm or more." in path.read_text()


@pytest.mark.parametrize(
    ("about", "said"),
    [
        ("one root", "about='one root' does not say what of the trial is told"),
        ({"root": "one"}, "about has no option 'root'"),
        ({"rooted": ""}, "rooted='' is no text"),
        ({"rooted": 3}, "rooted=3 is no text"),
        ({"rooted": "x" * 3000}, "has 3000 letters"),
        ({"planned_units": "many"}, "planned_units='many' is no number of trays"),
        ({"planned_units": 0}, "planned_units=0 is no number of trays"),
        ({"set_date": "in March"}, "set_date='in March' is neither a day nor a column"),
        ({"set_date": "2026-04-13", "reading_date": "2026-03-02"}, "reading_date lies before set_date"),
        ({"set_date": "rootstock", "reading_date": "2026-03-02"}, "whose entry 'K12' is no day"),
    ],
)
def test_what_cannot_be_is_answered(about: Any, said: str) -> None:
    with pytest.raises(ChoiceError) as error:
        load(about)
    assert said in str(error.value)


def test_levels_read_at_different_ages_are_warned_of() -> None:
    # Weeks between the readings of both strengths: a difference may be one of time.
    levels = rl.demo.two_strengths(seed=1)["strength"].to_list()
    read = ["2026-04-13" if level == 2500 else "2026-04-27" for level in levels]
    with pytest.warns(RootlingWarning, match="Levels of strength were read at different ages"):
        trial = load({"set_date": "2026-03-02", "reading_date": "read"}, data=dated(read=read))
    said = trial.notes[-1]
    assert said.code == "read_at_different_ages"
    assert "2500 after 42 days, 5000 after 56 days" in said.text
    assert trial.about.lines[-1] == "Read after: 42 to 56 days."
    alike = load({"set_date": "2026-03-02", "reading_date": "read"}, data=dated(read=["2026-04-13"] * 12))
    assert [note for note in alike.notes if note.code == "read_at_different_ages"] == []
    # Benches read on different days, each with all levels, are no reason for it.
    benches = [f"2026-04-{13 + at // 2:02d}" for at in range(12)]
    load({"set_date": "2026-03-02", "reading_date": "read"}, data=dated(read=benches).sort("bench"))
    with pytest.raises(ChoiceError, match="was read before it was set"):
        load({"set_date": "2026-05-02", "reading_date": "read"}, data=dated(read=read))


def test_fewer_units_than_planned_are_warned_of() -> None:
    with pytest.warns(RootlingWarning, match="20 units were planned and 12 enter"):
        load({"planned_units": 20})


def test_more_units_than_planned_are_warned_of() -> None:
    with pytest.warns(RootlingWarning, match="8 units were planned and 12 enter: where units were added after a look"):
        trial = load({"planned_units": 8})
    assert [one.code for one in trial.notes if "planned" in one.code] == ["more_units_than_planned"]
    assert not [one for one in load({"planned_units": 12}).notes if "planned" in one.code]


def test_a_sum_that_is_left_out_is_no_lost_tray() -> None:
    rows = rl.demo.two_strengths(seed=1).to_dicts()
    rows.append({**rows[-1], "tray": "Total", "rooted": sum(one["rooted"] for one in rows), "stuck": 240})
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": "strength", "tray": "tray"}
    frame = {name: [one[name] for one in rows] for name in rows[0]}
    with pytest.warns(RootlingWarning, match="13 units were planned and 12 enter"):
        trial = rl.load_trial(frame, **roles, leave_out=[13], about={"planned_units": 13})
    assert "which trays or cuttings were lost, and why" in " ".join(rl.report.lacking(trial))


def test_a_plan_tells_what_it_knows() -> None:
    plan = rl.plan.layout("blocks", {"strength": [2500, 5000]}, blocks=6, stuck=20, seed=1)
    rows = plan.table().to_dicts()
    sheet = {"tray": [row["tray"] for row in rows], "rooted": [9 + at % 3 for at in range(12)], "stuck": [20] * 12}
    trial = rl.load_trial(sheet, plan=plan, about={"rooted": "one root"})
    assert trial.about.told["planned_units"] == "12"
    assert trial.about.told["randomisation"] == "by lot in the layout blocks, seed 1"
    assert not rl.load_trial(sheet, plan=plan).about


def test_what_is_lacking_goes_as_it_is_told() -> None:
    plain = load(None)
    lacks = rl.report.lacking(plain)
    assert [line for line in lacks if "about=" in line] == list(lacks[:6])
    assert "a difference with its interval: trial.compare_all('strength')" in lacks
    trial = load(TOLD)
    assert rl.report.lacking([trial, trial.compare("strength", 2500, 5000)]) == (
        "the counts of each tray, to be put beside the text: trial.tray_counts()",
    )
    bare = rl.load_trial(
        {"strength": [0, 1], "rooted": [3, 9], "stuck": [20, 20]},
        **{name: name for name in ("rooted", "stuck")},
        treatments="strength",
    )
    assert any(line.startswith("which cuttings stood together") for line in rl.report.lacking(bare))
    assert any(line.startswith("substance and unit") for line in rl.report.lacking(bare))
    curve = rl.load_trial(rl.demo.strengths(seed=1), **{**ROLES, "treatments": ["strength", "rootstock"]})
    assert any("trial.strength_curve()" in line for line in rl.report.lacking(curve))
    assert not any(
        "strength_curve" in line
        for line in rl.report.lacking([curve, curve.strength_curve(within="rootstock", shape="hump")])
    )
    assert rl.report.lacking(rl.compare.score_test(156, 240, 84, 240)) == ()


@pytest.mark.parametrize("ending", [".html", ".docx", ".md", ".tex"])
def test_a_report_tells_it_and_what_is_lacking(ending: str, tmp_path: Path) -> None:
    trial = load({"rooted": "one root <of> 1 mm", "set_date": "2026-03-02"})
    path = rl.report.write([trial, trial.take_rates()], tmp_path / f"r{ending}")
    if ending == ".docx":
        said = "\n".join(line.text for line in docx.Document(str(path)).paragraphs)
    else:
        said = path.read_text(encoding="utf-8")
    assert "About the trial" in said
    assert "Rooted means: one root" in said
    assert "Still to be told in a write-up" in said
    assert "the day of reading" in said
    plain = rl.report.write(load(None), tmp_path / f"plain{ending}")
    if ending != ".docx":
        assert "About the trial" not in plain.read_text(encoding="utf-8")
