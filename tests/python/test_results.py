"""The faces that all results have, on real results."""

from __future__ import annotations

import pickle
import re

import polars as pl
import pytest
import rootling as rl
from conftest import ROLES
from matplotlib.figure import Figure
from rootling._results import PARTS, display


@pytest.fixture(params=["take_rates", "comparison", "association", "what_matters", "odds_ratios", "adjusted_rates"])
def result(request: pytest.FixtureRequest, trial: rl.Trial) -> rl.Result:
    model = trial.model(["strength"])
    makers = {
        "take_rates": lambda: trial.take_rates("strength"),
        "comparison": lambda: trial.compare("strength", 2500, 5000),
        "association": lambda: trial.association("strength"),
        "what_matters": model.what_matters,
        "odds_ratios": model.odds_ratios,
        "adjusted_rates": lambda: model.adjusted_rates("strength"),
    }
    return makers[request.param]()


def test_every_face_is_there(result: rl.Result) -> None:
    assert result.kind in repr(type(result)).lower() or type(result) is not rl.Result
    assert result.sentence.endswith((".", "tests."))
    assert isinstance(result.table(), pl.DataFrame)
    assert result.table().height > 0
    assert result.methods
    assert all(note.code and note.text for note in result.notes)
    assert result.made_with.version
    assert result.made_with.data_fingerprint
    assert set(PARTS) <= set(result.to_dict())


def test_there_and_back(result: rl.Result) -> None:
    again = rl.Result.from_json(result.to_json())
    assert type(again) is type(result)
    assert again == result
    assert hash(again) == hash(result)
    assert pickle.loads(pickle.dumps(result)) == result


def test_results_are_frozen(result: rl.Result) -> None:
    with pytest.raises(AttributeError):
        result.sentence = "better"  # type: ignore[misc]
    result.to_dict()["sentence"] = "better"
    assert result.sentence != "better"


def test_displays(result: rl.Result) -> None:
    text = repr(result)
    assert "".join(text.split()).startswith("".join(result.sentence.split()))
    assert "***" not in text
    assert "<table" in result._repr_html_()


def test_figures_are_drawn_and_saved(result: rl.Result, tmp_path) -> None:
    figure = result.plot()
    axes = figure.axes[0]
    assert isinstance(figure, Figure)
    assert axes.get_xlabel()
    assert axes.get_lines() or axes.containers
    for name, start in (("figure.png", b"\x89PNG"), ("figure.svg", b"<?xml")):
        figure.savefig(tmp_path / name)
        written = (tmp_path / name).read_bytes()
        assert written.startswith(start)
        assert len(written) > 2000


def test_proportions_show_as_percent(trial: rl.Trial) -> None:
    assert "37.5 %" in repr(trial.take_rates("strength"))


def _shown(result: rl.Result) -> dict[str, str]:
    """The entry under "value" of each line of the table."""
    header, body, _ = display.rows(result)
    return {line[0]: line[header.index("value")] for line in body}


def test_a_comparison_shows_rates_differences_and_ratios_each_their_way(trial: rl.Trial) -> None:
    shown = _shown(trial.compare("strength", 2500, 5000))
    # the two_strengths demo: 45 and 79 rooted of 120
    assert shown["take rate at 2500"] == "37.5 %"
    assert shown["take rate at 5000"] == "65.8 %"
    assert shown["difference, 5000 minus 2500"] == "+28.3 points"
    # Equal trays in every bench, so the ratio is 79 / 120 over 45 / 120
    assert shown["ratio of take rates"] == "1.756"
    shown = _shown(trial.compare("strength", 5000, 2500, trays="ignore"))
    assert shown["difference, 2500 minus 5000"] == "-28.3 points"
    # 45 / 120 over 79 / 120
    assert shown["ratio of take rates"] == "0.5696"
    # 45 x 41 over 75 x 79
    assert shown["odds ratio"] == "0.3114"


@pytest.mark.parametrize("odd", ["difference", "ratio", "odds"])
def test_names_of_levels_do_not_change_how_numbers_show(frame: pl.DataFrame, odd: str) -> None:
    named = frame.with_columns(
        strength=pl.when(pl.col("strength") == 2500).then(pl.lit(odd)).otherwise(pl.lit("other"))
    )
    trial = rl.load_trial(named, **ROLES)
    assert _shown(trial.take_rates("strength"))[odd] == "37.5 %"
    shown = _shown(trial.compare("strength", odd, "other"))
    assert shown[f"take rate at {odd}"] == "37.5 %"
    assert shown[f"difference, other minus {odd}"] == "+28.3 points"


@pytest.mark.parametrize("name", ["level", "value", "rooted", "stuck", "n_units", "low", "what", "test", "tray_t"])
def test_columns_may_be_called_what_results_call_theirs(frame: pl.DataFrame, name: str) -> None:
    odd = frame.rename({"rooted": "r", "stuck": "s"}).rename({"strength": name})
    trial = rl.load_trial(odd, rooted="r", stuck="s", treatments=[name], tray="tray", block="bench")
    model = trial.model(name)
    for result in (
        trial.take_rates(name),
        trial.compare(name, 2500, 5000),
        trial.association(name),
        model.odds_ratios(),
        model.adjusted_rates(name),
    ):
        assert repr(result)
        assert result.plot().axes
    assert trial.take_rates(name).table()["value"].to_list() == pytest.approx([45 / 120, 79 / 120], rel=1e-12)
    assert sorted(trial.tray_counts()["rooted"].to_list()) == sorted(frame["rooted"].to_list())


def test_infinite_numbers_keep_their_place() -> None:
    record = rl.load_trial(rl.demo.two_strengths(), **ROLES).take_rates().to_dict()
    record["rates"][0]["high"] = float("inf")
    record["rates"][0]["levels"] = ["inf"]
    result = rl.Result.from_dict(record)
    assert '"inf"' in result.to_json()
    again = rl.Result.from_json(result.to_json())
    assert again.rates[0].high == float("inf")
    assert again.rates[0].levels == ("inf",)


def test_html_is_escaped(frame: pl.DataFrame, tmp_path) -> None:
    nasty = "<script>alert(1)</script>"
    odd = frame.with_columns(
        strength=pl.when(pl.col("strength") == 2500).then(pl.lit(nasty)).otherwise(pl.lit("$x$ & <b>"))
    )
    trial = rl.load_trial(odd, **ROLES)
    rates = trial.take_rates("strength")
    assert nasty not in rates._repr_html_()
    assert "&lt;script&gt;" in rates._repr_html_()
    assert nasty not in trial._repr_html_()
    page = rl.report.write([trial, rates], tmp_path / "report.html").read_text(encoding="utf-8")
    assert nasty not in page
    assert "&lt;script&gt;" in page


def test_control_characters_do_not_reach_the_terminal(frame: pl.DataFrame) -> None:
    odd = frame.with_columns(strength=pl.col("strength").cast(pl.String) + "\x1b[31m")
    assert "\x1b" not in repr(rl.load_trial(odd, **ROLES).take_rates("strength"))


def test_the_report_is_self_contained(trial: rl.Trial, tmp_path) -> None:
    path = rl.report.write([trial, trial.compare("strength", 2500, 5000), trial.take_rates()], tmp_path / "report.html")
    page = path.read_text(encoding="utf-8")
    for heading in (
        "Design",
        "Data check",
        "Cautions",
        "Methods",
        "Record",
    ):
        assert f"<h2>{heading}</h2>" in page
    assert not re.findall(r"(?:src|href|srcset)=[\"'](?!data:|#)", page)
    assert not re.search(r"https?://", page)
    assert "@import" not in page
    assert "<script" not in page
    assert "data:image/svg+xml;base64," in page
    assert [path.name for path in tmp_path.iterdir()] == ["report.html"]
    assert "label and the local register" in page


def test_a_report_of_something_else_is_refused(tmp_path) -> None:
    with pytest.raises(rl.exceptions.ChoiceError, match="made of a trial"):
        rl.report.write([1], tmp_path / "report.html")
