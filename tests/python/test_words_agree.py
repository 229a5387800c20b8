"""Small texts: sentence, row, note and figure of one answer say the same, in the words of the trial."""

from __future__ import annotations

import re
import warnings
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pytest
import rootling as rl

mpl.use("Agg")
NAMED: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck"}
TAKES = {0: 0.2, 1000: 0.45, 2500: 0.6, 5000: 0.45}


def _load(rows: list[dict[str, Any]], **roles: Any) -> rl.Trial:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rl.exceptions.RootlingWarning)
        sheet = {name: [row[name] for row in rows] for name in rows[0]}
        return rl.load_trial(sheet, **{**NAMED, **roles})


def _all_text(found: Any) -> str:
    return " ".join([found.sentence, *found.details, found.methods, *(note.text for note in found.notes)])


def _note(found: Any, code: str) -> str:
    return next(note.text for note in found.notes if note.code == code)


@pytest.fixture(scope="module")
def bays() -> rl.Trial:
    """Six bays in three seasons: darkness swaps bays from season to season, light stays in its bays."""
    rng = np.random.default_rng(3)
    rows = []
    for season in range(3):
        for bay in range(6):
            luck, dark = rng.normal(0, 0.08), 28 * ((bay + season) % 2)
            for strength, take in TAKES.items():
                chance = min(0.95, max(0.05, take + luck + 0.1 * (dark > 0)))
                row = {"season": 2021 + season, "bay": f"B{bay + 1}", "dark_days": dark, "strength": strength}
                light = "bright" if bay < 3 else "dim"
                rows.append({**row, "light": light, "stuck": 20, "rooted": int(rng.binomial(20, chance))})
    roles = {"treatments": ["strength", "dark_days", "light"], "whole_plot": "bay", "season": "season"}
    return _load(rows, tray="each-row", **roles)


@pytest.fixture(scope="module")
def plants() -> rl.Trial:
    """Mother plants, five of each strength and season, no trays."""
    rng = np.random.default_rng(4)
    rows = [
        {"season": season, "strength": strength, "mother": f"M{season}{strength}{at}", "stuck": 20}
        for season in (2022, 2023)
        for strength in TAKES
        for at in range(5)
    ]
    rooted = [int(rng.binomial(20, min(0.9, TAKES[row["strength"]] + rng.uniform(-0.1, 0.1)))) for row in rows]
    rows = [{**row, "rooted": one, "dead": (20 - one) // 4} for row, one in zip(rows, rooted, strict=True)]
    return _load(rows, treatments=["strength"], stock_plant="mother", season="season", dead="dead")


@pytest.fixture(scope="module")
def unlike() -> Any:
    """Curves of other shapes: one still rises where the other has fallen."""
    takes = {"K12": (2, 6, 12, 15, 16), "K17": (6, 14, 12, 6, 1)}
    rows = [
        {"rootstock": stock, "strength": strength, "stuck": 20, "rooted": take + at % 3 - (at % 3) * (take > 14)}
        for stock, counts in takes.items()
        for strength, take in zip((0, 1000, 2500, 5000, 10000), counts, strict=True)
        for at in range(6)
    ]
    trial = _load(rows, treatments=["strength", "rootstock"], tray="each-row")
    return trial.strength_curve(within="rootstock").differences()


def test_a_row_of_bays_with_every_strength_asks_for_no_restart(tmp_path: Path) -> None:
    path = tmp_path / "wide.csv"
    lines = [f"{season},{bay},{4 + at},{7 + at},{11 - at}" for season in (1, 2) for bay in "AB" for at in range(3)]
    path.write_text("\n".join(["season,bay,0,1000,2500", *lines]), encoding="utf-8")
    roles = {"tray": "each-row", "whole_plot": "bay", "season": "season"}
    trial = rl.load_trial(path, wide={"strength": ["0", "1000", "2500"]}, stuck=20, **roles)
    assert any("bay within season: 4 levels" in line for line in trial.design.lines), trial.design.lines
    # The same cells one below the other prove nothing: then it is asked.
    long = ["season,bay,strength,rooted,stuck"]
    for line in lines:
        season, bay, *counts = line.split(",")
        long += [f"{season},{bay},{level},{count},20" for level, count in zip((0, 1000, 2500), counts, strict=True)]
    path.write_text("\n".join(long), encoding="utf-8")
    with pytest.raises(rl.exceptions.TrialDataError, match=r"whole_plot=\[.strength., .bay.\]"):
        rl.load_trial(path, **NAMED, treatments=["strength"], **roles)


def test_what_the_interval_leaves_open_is_told_apart_nowhere() -> None:
    rooted = {"a": [5, 6, 7, 8, 3], "b": [6, 10, 11, 6, 7], "c": [14, 11, 10, 14, 10]}
    rows = [{"mix": mix, "stuck": 20, "rooted": one} for mix, counts in rooted.items() for one in counts]
    found = _load(rows, treatments=["mix"], tray="each-row").compare_all("mix")
    shown = found.table()["shown"].to_list()
    row = next(at for at, one in enumerate(shown) if one.startswith("no: "))
    low, high, p = (found.table()[name][row] for name in ("low", "high", "p_adjusted"))
    assert low < 0 < high
    assert p < 0.05
    assert re.fullmatch(r"no: adjusted P = 0\.0\d+, but the interval crosses 0", shown[row])
    line = next(line for line in found.details if "crosses 0" in line)
    assert line.endswith("but the interval crosses 0: not told apart.")
    assert "show a difference" not in _all_text(found)


def test_notes_say_whose_degrees_of_freedom_they_name(bays: rl.Trial) -> None:
    found = bays.model(["dark_days", "season", "strength", "light"]).what_matters()
    texts = [note.text for note in found.notes if note.code == "tested_against_whole_plots"]
    both = next(text for text in texts if text.startswith("dark_days and season"))
    assert "are constant within bay within season, so they are tested against bay within season" in both
    assert re.search(
        r"\(\d+ degrees of freedom between its levels; where other units add to the error, a test has its own\)", both
    )
    light = next(text for text in texts if text.startswith("light"))
    assert "light is constant within bay, so it is tested against bay (4 degrees" in light


def test_unlike_curves_show_their_takes(unlike: Any) -> None:
    table = unlike.table().filter(unlike.table()["measure"].str.starts_with("take rate at "))
    assert table["curve"].to_list() == ["K12"] * 5 + ["K17"] * 5
    assert table["measure"][0] == "take rate at 0"
    # By hand: six trays of 2, 3, 4, 2, 3, 4 of 20.
    assert table["value"][0] == pytest.approx(18 / 120, rel=1e-12)
    assert (table["low"] < table["value"]).all()
    assert "15.0 %" in str(unlike)
    (axes,) = unlike.plot().axes
    assert axes.get_ylabel() == "rooted of stuck, %"
    assert "odds ratio" not in axes.get_xlabel()
    assert [text.get_text() for text in axes.get_legend().get_texts()] == ["K12", "K17"]


def test_like_curves_keep_their_distance() -> None:
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "tray": "tray", "block": "bench"}
    trial = rl.load_trial(rl.demo.factorial(seed=1), treatments=["strength", "dark_days", "rootstock"], **roles)
    found = trial.strength_curve(within="rootstock", common="dark_days", shape="hump").differences()
    assert found.takes == ()
    assert not any(measure.startswith("take rate") for measure in found.table()["measure"])


def test_seasons_that_are_taken_out_are_no_spread_between_trays(bays: rl.Trial) -> None:
    curve = bays.strength_curve(within="dark_days", common="light")
    assert not any("count as spread between trays" in note.text for note in curve.notes)
    left = bays.strength_curve(within="dark_days", common="light", blocks="spread")
    assert "count as spread between trays" in _note(left, "judged_by")


def test_darkness_names_its_curves(bays: rl.Trial) -> None:
    curve = bays.strength_curve(within="dark_days", common="light")
    assert [one.name for one in curve.curves] == ["dark days 0", "dark days 28"]
    assert any(line.startswith("Dark days 28: ") for line in curve.details)
    assert set(curve.best_strength) == {"0", "28"}
    assert "light being uneven over dark days" in curve.differences().sentence
    assert [axes.get_title() for axes in curve.plot().axes] == ["dark days 0", "dark days 28"]


def test_plants_are_the_units_of_curves_and_checks(plants: rl.Trial) -> None:
    curve = plants.strength_curve()
    answers = [curve, curve.next_strengths(), curve.strength_for(0.4), plants.damage_threshold()]
    answers += [plants.model("strength").checks(), plants.compare("strength", 0, 1000)]
    answers += [plants.compare_all("strength"), plants.association("strength")]
    for found in answers:
        told = re.sub(r"tray-rates|portray|stray", "", str(found).lower() + found.methods)
        assert "tray" not in told, found.kind
    assert "mothers" in str(curve).split("\n\n")[2]
    checks = plants.model("strength").checks()
    assert checks.trays[0].tray == "mother M202200"
    assert str(checks).split("\n\n")[2].startswith("mother ")


def test_bays_of_seasons_are_counted_as_such(bays: rl.Trial) -> None:
    found = bays.compare("dark_days", 0, 28)
    assert "9 bays of a season)" in found.details[1]
    assert "9 bays of a season)" in found.details[2]


def test_places_side_by_side_send_to_their_rates(bays: rl.Trial) -> None:
    found = bays.compare("bay", "B1", "B2")
    assert found.sentence.endswith('one bay each allows no test, and take_rates("bay") shows all with intervals.')
    assert _note(found, "confounded_with_whole_plot").startswith(
        "No test: each level of bay is one bay, and nothing shows"
    )
    assert "few_trays" not in {note.code for note in found.notes}
    assert 'take_rates("bay")' in bays.association("bay").sentence
    assert "between places" not in _all_text(found) + _all_text(bays.association("bay"))


def test_a_level_that_names_its_treatment_is_named_once() -> None:
    rows = [
        {"bench": f"bench {at % 3}", "strength": 1000 * (at // 3 % 2), "stuck": 20, "rooted": 5 + at % 7}
        for at in range(18)
    ]
    found = _load(rows, treatments=["strength"], tray="each-row", block="bench").compare("bench", "bench 0", "bench 1")
    assert "bench bench" not in _all_text(found)


def test_a_report_says_of_which_answer_methods_and_cautions_are(bays: rl.Trial, tmp_path: Path) -> None:
    results = [bays.compare("dark_days", 0, 28), bays.compare("light", "dim", "bright"), bays.trend("strength")]
    page = rl.report.write(results, tmp_path / "report.html").read_text(encoding="utf-8")
    methods = page[page.index("<h2>Methods</h2>") : page.index("<h2>References</h2>")]
    for asked in ("Do dark days 0 and 28 differ, and by how much?", "Do light dim and bright differ, and by how much?"):
        assert f'<span class="of">{asked}</span>' in methods
    cautions = page[page.index("<h2>Cautions</h2>") : page.index("<h2>Methods</h2>")]
    straight = cautions.index("A trend is sought along a straight line")
    assert '<p class="of">Does the take rise or fall' in cautions[:straight]
    alone = rl.report.write(results[0], tmp_path / "one.html").read_text(encoding="utf-8")
    assert 'class="of"' not in alone.split("</style>")[1]


def test_heads_say_of_what(bays: rl.Trial) -> None:
    head = str(bays.tray_correlation()).split("\n\n")[2].splitlines()[0]
    assert "correlation from" in head
    assert "design effect to" in head


def test_contrasts_that_share_degrees_of_freedom_show_them() -> None:
    rows = [{"mix": "ab"[at % 2], "stuck": 20, "rooted": 6 + at % 2 * 5 + at % 3} for at in range(16)]
    found = _load(rows, treatments=["mix"], tray="each-row").model("mix").contrasts("mix")
    # Sixteen trays less two means.
    assert found.table()["df"].to_list() == [14.0]


def test_numbers_beside_marks_stay_within_the_axes(bays: rl.Trial) -> None:
    figure = bays.compare("dark_days", 0, 28).plot()
    figure.canvas.draw()
    (axes,) = figure.axes
    inside = axes.get_window_extent()
    for text in axes.texts:
        box = text.get_window_extent()
        assert box.x0 >= inside.x0
        assert box.x1 <= inside.x1
