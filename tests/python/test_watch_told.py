"""Watching a crop as it is told and shown: figures, pages, errors in words; trends over dates."""

from __future__ import annotations

import datetime as dt
import re
import warnings
from pathlib import Path
from typing import Any

import polars as pl
import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, CountError, RootlingError, TrialDataError

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


@pytest.fixture(scope="module")
def watch() -> rl.watch.Watch:
    return rl.watch.load(rl.demo.weekly_batches(seed=1), **COLUMNS)


@pytest.fixture(scope="module")
def answers(watch: rl.watch.Watch) -> dict[str, Any]:
    baseline = watch.expected(until=END)
    return {
        "baseline": baseline,
        "signals": watch.signals(baseline, draws=99),
        "batches": watch.batch_chart(baseline),
        "mix": watch.mix(END),
        "target": watch.target(0.88, baseline),
    }


def _texts(figure: Any) -> list[str]:
    from matplotlib.text import Text

    figure.canvas.draw()
    return [text.get_text() for text in figure.findobj(Text) if text.get_text() and text.get_visible()]


def test_the_figure_of_signals_says_what_its_marks_are(answers: dict[str, Any]) -> None:
    figure = answers["signals"].plot()
    said = _texts(figure)
    assert {"all batches", "room 2", "limit", "signal; sum begins anew", "may have begun here"} <= set(said)
    above, below = figure.axes
    assert below.get_ylabel() == "trees lost\nso far"
    # A sum ends with its signal and begins at 0.
    room = next(line for line in above.lines if line.get_label() == "room 2")
    shares = list(room.get_ydata())
    gaps = [at for at, share in enumerate(shares) if share != share]
    signals = sum(week.signal for chart in answers["signals"].charts if chart.level == "room 2" for week in chart.weeks)
    assert len(gaps) == signals > 0
    assert all(shares[at - 1] > 1 and shares[at + 1] == 0 for at in gaps)
    assert above.get_ylim()[1] > max(share for share in shares if share == share)
    lost = [line for line in below.lines if len(line.get_ydata()) > 2]
    assert lost[0].get_ydata()[-1] == pytest.approx(answers["signals"].table()["lost"][0], rel=1e-9)


def test_the_figure_of_batches_shows_the_weighted_average(answers: dict[str, Any]) -> None:
    figure = answers["batches"].plot()
    assert [axes.get_ylabel().replace("\n", " ") for axes in figure.axes] == [
        "alive less expected, points",
        "weighted average",
        "trees lost so far",
    ]
    assert "limit of the average" in _texts(figure)


def test_the_figure_of_a_target_has_a_row_for_seasons(answers: dict[str, Any]) -> None:
    assert answers["target"].z_of_seasons is None
    said = _texts(answers["target"].plot())
    assert "seasons do too" in said
    assert "not known: three seasons would tell" in said


@pytest.mark.parametrize("name", ["baseline", "signals", "batches", "mix", "target"])
def test_figures_can_be_read_at_half_a_page(answers: dict[str, Any], name: str) -> None:
    """At 85 mm no letter is below 6 points, and nothing lies outside the figure."""
    from matplotlib.text import Text

    figure = answers[name].plot()
    figure.canvas.draw()
    share = 85 / 25.4 / figure.get_size_inches()[0]
    for text in figure.findobj(Text):
        if text.get_text() and text.get_visible():
            assert share * text.get_fontsize() >= 6, text.get_text()
    drawn, (width, height) = figure.get_tightbbox(), figure.get_size_inches()
    assert drawn.x0 >= -0.01
    assert drawn.y0 >= -0.01
    assert drawn.x1 <= width + 0.01
    assert drawn.y1 <= height + 0.01


def test_many_charts_and_long_names_stay_in_the_figure() -> None:
    frame = rl.demo.weekly_batches(seed=1)
    number = pl.int_range(pl.len()) % 12
    rooms = pl.concat_str(pl.lit("a glasshouse far beyond the second hill, bay "), number.cast(pl.String))
    crop = rl.watch.load(frame.with_columns(room=rooms), **COLUMNS)
    figure = crop.signals(until=END, draws=99).plot()
    figure.canvas.draw()
    legend = figure.legends[0].get_window_extent()
    assert legend.x0 >= 0
    assert legend.x1 <= figure.bbox.width
    assert "other charts" in _texts(figure)
    names = [text.get_text() for text in figure.legends[0].get_texts()]
    assert len(set(names)) == len(names)
    for answer in (crop.expected(until=END), crop.mix(END)):
        drawn = answer.plot()
        drawn.canvas.draw()
        assert drawn.get_tightbbox().x1 <= drawn.get_size_inches()[0] + 0.01


def test_figures_of_one_day_and_of_none_are_drawn_without_a_warning(watch: rl.watch.Watch) -> None:
    last = watch.expected(until="2025-12-03")
    none = watch.signals(watch.expected(until="2026-01-31"), draws=99)
    for answer in (watch.batch_chart(last), watch.signals(last, draws=99), none):
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            figure = answer.plot()
            figure.canvas.draw()
        drawn = figure.get_tightbbox()
        assert drawn.x1 - drawn.x0 > 2
    assert "nothing to watch yet" in _texts(none.plot())


def test_a_page_of_a_watched_crop_says_what_it_is(answers: dict[str, Any], tmp_path: Path) -> None:
    path = rl.report.write(list(answers.values()), tmp_path / "week.html")
    page = path.read_text(encoding="utf-8")
    shown = page.split("<h2>Record</h2>")[0]
    assert "<h1>Crop under watch: " in page
    assert "Rooting trial" not in page
    assert shown.count("nothing is known of how seasons differ") == 1
    assert shown.count("A signal is not a cause") == 1
    assert "960 batches set from" in shown
    # What to do stands before what is usual.
    assert shown.index(answers["signals"].sentence) < shown.index(answers["baseline"].sentence)
    titled = rl.report.write(answers["signals"], tmp_path / "titled.html", title="Week 14")
    assert "<h1>Week 14</h1>" in titled.read_text(encoding="utf-8")


def test_a_watched_crop_itself_is_no_report(watch: rl.watch.Watch, tmp_path: Path) -> None:
    for given in (watch, [watch]):
        with pytest.raises(
            ChoiceError, match=r"reported by what it answers; write rl\.report\.write\(\[watch\.expected"
        ):
            rl.report.write(given, tmp_path / "week.html")


def test_rows_set_aside_are_told_on_the_page_and_not_each_of_hundreds(tmp_path: Path) -> None:
    frame = rl.demo.weekly_batches(seed=1).with_row_index()
    gaps = pl.when(pl.col("index") % 10 == 0).then(None).otherwise(pl.col("alive"))
    crop = rl.watch.load(frame.with_columns(alive=gaps), **COLUMNS)
    page = rl.report.write(crop.batch_chart(until=END), tmp_path / "week.html").read_text(encoding="utf-8")
    part = page.split("<h2>Data check</h2>")[1].split("<h2>")[0]
    assert part.count("<li>") == 2
    assert f"Fingerprint of the data: {crop.fingerprint}." in part
    assert "(95 more rows likewise)" in part
    assert "96 rows set aside" in repr(crop)


def test_a_crop_says_what_it_holds(watch: rl.watch.Watch) -> None:
    assert watch.sentence == (
        "960 batches set from 2023-01-03 on, read until 2025-12-04, by rootstock, grafter and room; "
        f"judged {watch.reading_age} days after setting."
    )
    assert repr(watch) == f"Watch: {watch.sentence}"


@pytest.mark.parametrize("record", [{}, None, {"kind": "baseline"}, 3])
def test_what_is_no_record_makes_no_baseline(watch: rl.watch.Watch, record: Any) -> None:
    with pytest.raises(RootlingError, match=r"record|baseline"):
        watch.signals(rl.watch.Baseline(record))


def _leaves(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    if isinstance(value, dict):
        return [path, *(one for name, part in value.items() for one in _leaves(part, (*path, name)))]
    if isinstance(value, list):
        # The first and the last of a list stand for all.
        ends = {0, len(value) - 1} if value else set()
        return [path, *(one for at in sorted(ends) for one in _leaves(value[at], (*path, at)))]
    return [path]


def test_edited_baselines_are_refused_in_words_or_answered(watch: rl.watch.Watch, answers: dict[str, Any]) -> None:
    record = answers["baseline"].to_dict()
    told: list[str] = []
    for path in _leaves(record["baseline"])[1:]:
        for value in (None, -1, "x", [], {}, 1e300):
            edited = answers["baseline"].to_dict()
            place = edited["baseline"]
            for step in path[:-1]:
                place = place[step]
            if type(place[path[-1]]) is type(value) and place[path[-1]] == value:
                continue
            place[path[-1]] = value
            try:
                made = rl.watch.Baseline.from_dict(edited)
                watch.target(0.88, made)
                watch.batch_chart(made)
            except RootlingError as error:
                told.append(str(error))
    assert len(told) > 100
    assert not [one for one in told if "fault inside" in one]


@pytest.mark.parametrize("name", ["gone.csv", "folder", "odd.dat", "empty.csv", "torn.xlsx", "torn.parquet"])
def test_files_that_cannot_be_read_are_records_of_batches(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    if name == "folder":
        path.mkdir()
    elif name != "gone.csv":
        path.write_bytes(b"" if name == "empty.csv" else b"PK\x03\x04 torn")
    with pytest.raises(TrialDataError) as caught:
        rl.watch.load(path, **COLUMNS)
    told = str(caught.value)
    assert "the record of batches" in told
    assert not re.search(r"\btrial|\bcutting|\brooted\b|\btray", told), told
    assert caught.value.issues


@pytest.mark.parametrize("given", [3, None, {}, "nothing here"])
def test_what_is_no_table_is_no_record_of_batches(given: Any) -> None:
    with pytest.raises((TrialDataError, ChoiceError)) as caught:
        rl.watch.load(given, **COLUMNS)
    assert "trial" not in str(caught.value)


def _dated(levels: list[Any], **more: Any) -> rl.Trial:
    rooted = [4, 6, 5, 7, 5, 8, 9, 8, 10, 9, 13, 12, 14, 12, 13][: 5 * len(levels)]
    frame = pl.DataFrame(
        {
            "planted": [level for level in levels for _ in range(5)],
            "rooted": rooted,
            "stuck": [20] * len(rooted),
            "tray": list(range(len(rooted))),
        }
    )
    named: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "tray": "tray", "treatments": ["planted"]}
    return rl.load_trial(frame, **named, checked=["dates_as_levels"], **more)


@pytest.mark.parametrize(
    "levels",
    [
        ["2024-03-01", "2024-04-01", "2024-06-01"],
        [dt.date(2024, 3, 1), dt.date(2024, 4, 1), dt.date(2024, 6, 1)],
        ["01.03.2024", "01.04.2024", "01.06.2024"],
        ["2024-03", "2024-04", "2024-06"],
    ],
)
def test_a_trend_takes_dates_as_they_lie_in_the_calendar(levels: list[Any]) -> None:
    trial = _dated(levels)
    if levels[0] == "01.03.2024":
        with pytest.raises(CountError, match="day and month of the dates could be either"):
            trial.trend("planted")
        return
    found = trial.trend("planted")
    # From 1 March: 31 days to 1 April, 92 to 1 June.
    assert [level.score for level in found.levels] == [0, 31, 92]
    assert "days from the first" in found.methods
    assert "levels_follow_time" in {note.code for note in found.notes}
    assert "watch.load" in next(note.text for note in found.notes if note.code == "levels_follow_time")
    apart = trial.trend("planted", scores={level: days for level, days in zip(levels, [0, 31, 92], strict=True)})
    assert apart.p == pytest.approx(found.p, rel=1e-12, abs=0)
    assert found.plot() is not None


def test_days_that_one_of_them_shows_are_read_so() -> None:
    found = _dated(["01.03.2024", "13.04.2024", "01.06.2024"]).trend("planted")
    assert [level.score for level in found.levels] == [0, 43, 92]


def test_scores_may_be_days() -> None:
    trial = _dated(["early", "middle", "late"])
    days = {"early": "2024-03-01", "middle": dt.date(2024, 4, 1), "late": dt.datetime(2024, 6, 1)}
    found = trial.trend("planted", scores=days)
    assert [level.score for level in found.levels] == [0, 31, 92]
    with pytest.raises(CountError, match="not numbers, nor dates"):
        trial.trend("planted")
    with pytest.raises(ChoiceError, match="is no day"):
        trial.trend("planted", scores={"early": "soon", "middle": "later", "late": "last"})
    with pytest.raises(CountError, match="is not a number"):
        trial.trend("planted", scores={"early": "2024-03-01", "middle": 2, "late": 3})


@pytest.mark.parametrize(
    ("name", "levels", "timed"),
    [
        ("planted", ["2024-W10", "2024-W14", "2024-W20"], True),
        ("lot", ["week 10", "week 14", "week 20"], True),
        ("lot", ["KW 10", "KW 14", "KW 20"], True),
        ("dark_period", ["week 2", "week 4", "week 6"], False),
        ("lot", ["W1", "W2", "W3"], False),
    ],
)
def test_weeks_are_times(name: str, levels: list[str], timed: bool) -> None:
    frame = pl.DataFrame(
        {
            name: [level for level in levels for _ in range(4)],
            "rooted": [4, 6, 5, 7, 8, 9, 8, 10, 13, 12, 14, 12],
            "stuck": [20] * 12,
            "tray": list(range(12)),
        }
    )
    trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", tray="tray", treatments=[name])
    for found in (
        trial.compare(name, levels[0], levels[1]),
        trial.association(name),
        trial.trend(name, scores={level: at for at, level in enumerate(levels)}),
    ):
        assert ("levels_follow_time" in {note.code for note in found.notes}) == timed


def test_leave_out_and_checked_name_what_is_there() -> None:
    frame = rl.demo.weekly_batches(seed=1)
    with pytest.raises(
        TrialDataError, match=r"leave_out= names row 5000, which is not in the table; its rows are 1 to 960"
    ):
        rl.watch.load(frame, **COLUMNS, leave_out=5000)
    with pytest.raises(ChoiceError, match='did you mean "similar_levels"'):
        rl.watch.load(frame, **COLUMNS, checked="similar_level")
    assert len(rl.watch.load(frame, **COLUMNS, leave_out=[1, 960]).batches()) == 958
