"""Adjusted rates, contrasts and letters from Python: options, words, faces and pictures."""

from __future__ import annotations

import pickle
import re
from typing import Any

import pytest
import rootling as rl
from matplotlib.figure import Figure

ROLES: dict[str, Any] = {
    "rooted": "rooted",
    "stuck": "stuck",
    "treatments": ["strength", "dark_days", "rootstock"],
    "tray": "tray",
    "block": "bench",
}
EFFECTS = ["strength", "dark_days", "rootstock"]


@pytest.fixture(scope="module")
def model() -> rl.models.Model:
    trial = rl.load_trial(rl.demo.factorial(seed=1), **ROLES)
    return trial.model(EFFECTS, interactions=[("strength", "rootstock")])


def test_differences_come_first_and_in_trees_per_100(model: rl.models.Model) -> None:
    found = model.contrasts("strength")
    assert "in trees per 100" in " ".join((found.sentence, *found.details))
    assert "adjusted P" in " ".join((found.sentence, *found.details))
    assert "points" in repr(found)
    rates = {row["strength"]: row["value"] for row in model.adjusted_rates("strength").table().iter_rows(named=True)}
    rows = found.table().iter_rows(named=True)
    want = [rates["2500"] - rates["0"], rates["5000"] - rates["0"], rates["5000"] - rates["2500"]]
    assert [row["value"] for row in rows] == pytest.approx(want, rel=1e-9)


@pytest.mark.parametrize("adjust", ["joint", "tukey-kramer", "scheffe", "bonferroni", "sidak", "none"])
@pytest.mark.parametrize(("scale", "neutral"), [("points", 0.0), ("ratio", 1.0), ("odds", 1.0)])
def test_intervals_and_p_values_agree(model: rl.models.Model, adjust: Any, scale: Any, neutral: float) -> None:
    for row in model.contrasts("rootstock", together=adjust, scale=scale).table().iter_rows(named=True):
        excluded = row["low"] > neutral or row["high"] < neutral
        assert excluded == (row["p_adjusted"] < 0.05)


def test_levels_may_be_numbers(model: rl.models.Model) -> None:
    named = model.contrasts("strength", against="control")
    assert model.contrasts("strength", against=0).table().equals(named.table())
    assert model.contrasts("strength", against=0.0, pattern="control").table().equals(named.table())
    weights = {0: -1, 2500: 0.5, 5000: 0.5}
    found = model.contrasts("strength", pattern=weights)
    assert found.contrasts[0].comparison == "strength 2500 and 5000 against 0"
    both = model.contrasts("strength", pattern={"any hormone": weights, "more": {2500: -1, 5000: 1}})
    assert [row.comparison for row in both.contrasts] == ["any hormone", "more"]


def test_averages(model: rl.models.Model) -> None:
    def value(**options: Any) -> float:
        return float(model.adjusted_rates("strength", **options).table()["value"][0])

    each = {stock: value(at={"rootstock": stock}) for stock in ("K12", "K17", "K30")}
    mix = {"rootstock": {"K12": 0.5, "K17": 0.3, "K30": 0.2}}
    assert value(average=mix) == pytest.approx(0.5 * each["K12"] + 0.3 * each["K17"] + 0.2 * each["K30"], rel=1e-12)
    assert value(average="as-stuck") == pytest.approx(sum(each.values()) / 3, rel=1e-12)
    told = model.adjusted_rates("strength", average={"rootstock": {"K12": 2, "K17": 1, "K30": 1}})
    assert "K12 50 %, K17 25 % and K30 25 %" in told.methods
    assert "mix_scaled" in {note.code for note in told.notes}


def test_population_and_typical_tray() -> None:
    trial = rl.load_trial(rl.demo.factorial(seed=1), **ROLES)
    found = trial.model(["strength"], trays="random").adjusted_rates("strength")
    typical = trial.model(["strength"], trays="random").adjusted_rates("strength", rate_of="typical-tray")
    for one, other in zip(found.rates, typical.rates, strict=True):
        # With the logit link the rate over all trays lies nearer to 1/2.
        assert abs(one.value - 0.5) < abs(other.value - 0.5)
        assert one.typical_tray == other.value
    assert "all_trays_and_typical_tray" in {note.code for note in found.notes}
    assert "in a typical tray" in typical.details[0]


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda m: m.contrasts("strenght"), 'factor of the model "strenght" is not known; did you mean "strength"?'),
        (
            lambda m: m.contrasts("strength", against=2400),
            'level of strength "2400" is not known; did you mean "2500"?',
        ),
        (lambda m: m.contrasts("strength", pattern="pairs"), "pattern 'pairs' is not known; use one of 'all-pairs'"),
        (lambda m: m.contrasts("strength", pattern={0: -1, 2500: 2}), "sum to 1, not to 0"),
        (lambda m: m.contrasts("strength", pattern={0: "x", 2500: 2}), "pattern=: 'x' for 0 is not a number"),
        (lambda m: m.contrasts("strength", together="tuckey-kramer"), 'did you mean "tukey-kramer"?'),
        (lambda m: m.contrasts("strength", margin=10), "margin 10 is not a proportion above 0 and below 1"),
        (
            lambda m: m.contrasts("strength", within="strength"),
            '"strength" is named twice, in treatment and in within=',
        ),
        (
            lambda m: m.adjusted_rates("strength", average="mean"),
            "average 'mean' is not known; use 'alike', 'as-stuck'",
        ),
        (
            lambda m: m.adjusted_rates("strength", average={"rootstock": {"K12": 1}}),
            "the mix of rootstock leaves out K17 and K30; give every level a share, 0 for one that is not grown",
        ),
        (
            lambda m: m.adjusted_rates("strength", average={"rootstock": 1}),
            "average= of rootstock needs a number per level",
        ),
        (lambda m: m.adjusted_rates("strength", at=["K12"]), "at= needs a value per column"),
        (lambda m: m.adjusted_rates("strength", at={"rootstok": "K12"}), 'did you mean "rootstock"?'),
        (lambda m: m.letters("rootstock", at={"rootstock": "K12"}), '"rootstock" is named twice, in at= and in'),
    ],
)
def test_what_cannot_be_asked_is_said(model: rl.models.Model, ask: Any, words: str) -> None:
    with pytest.raises(rl.exceptions.ChoiceError) as found:
        ask(model)
    assert words in str(found.value)


def test_letters_stand_beside_rates_and_counts(model: rl.models.Model) -> None:
    found = model.letters("rootstock")
    assert found.table().columns == [
        "rootstock",
        "value",
        "low",
        "high",
        "letters",
        "rooted",
        "stuck",
        "n_units",
    ]
    assert "no proof of equality" in " ".join((found.sentence, *found.details))
    assert "main_effect_under_interaction" in {note.code for note in found.notes}
    assert "curve_first" in {note.code for note in model.letters("strength").notes}


RESULTS = {
    "contrasts": lambda m: m.contrasts("strength", within="rootstock", margin=0.2),
    "odds": lambda m: m.contrasts("strength", scale="odds", changing_with="rootstock"),
    "ratio": lambda m: m.contrasts("rootstock", scale="ratio", margin=1.5),
    "letters": lambda m: m.letters("strength", within="rootstock"),
    "rates": lambda m: m.adjusted_rates("rootstock"),
}


@pytest.fixture(params=RESULTS)
def result(request: pytest.FixtureRequest, model: rl.models.Model) -> rl.Result:
    made: rl.Result = RESULTS[request.param](model)
    return made


def test_there_and_back(result: rl.Result) -> None:
    again = rl.Result.from_json(result.to_json())
    assert type(again) is type(result)
    assert again == result
    assert pickle.loads(pickle.dumps(result)) == result
    assert result.methods
    assert result.made_with.data_fingerprint
    assert "***" not in repr(result)


@pytest.mark.parametrize(("name", "start"), [("f.png", b"\x89PNG"), ("f.svg", b"<?xml"), ("f.pdf", b"%PDF")])
def test_pictures_are_saved(result: rl.Result, tmp_path: Any, name: str, start: bytes) -> None:
    figure = result.plot()
    assert isinstance(figure, Figure)
    figure.savefig(tmp_path / name)
    assert (tmp_path / name).read_bytes().startswith(start)


def test_labels_can_be_read_at_the_width_of_a_column(result: rl.Result) -> None:
    figure = result.plot()
    figure.canvas.draw()
    reduced = min(1.0, 85 / 25.4 / figure.get_size_inches()[0])
    axes = figure.axes[0]
    texts = [*axes.get_xticklabels(), *axes.get_yticklabels(), axes.xaxis.label, axes.yaxis.label]
    shown = [text for text in texts if text.get_text()]
    assert shown
    # 6 points is what journals ask for at the least; the widest figures are set across the page (174 mm).
    wide = figure.get_size_inches()[0] > 7
    scale = min(1.0, 174 / 25.4 / figure.get_size_inches()[0]) if wide else reduced
    assert all(text.get_fontsize() * scale >= 6 for text in shown)


def trays_shown(axes: Any) -> int:
    """Trays that marks stand for; equal ones without room are one mark with their count."""
    marks = sum(
        len(one.get_offsets()) for one in axes.collections if hasattr(one, "get_sizes") and len(one.get_sizes())
    )
    counts = [int(text.get_text()[2:]) for text in axes.texts if re.fullmatch(r"x \d+", text.get_text())]
    return marks - len(counts) + sum(counts)


def test_trays_are_visible_behind_estimates(model: rl.models.Model) -> None:
    for found in (model.adjusted_rates("rootstock"), model.letters("strength", within="rootstock")):
        assert trays_shown(found.plot().axes[0]) == 72
    # A model read back from its record draws them too.
    again = rl.models.Model.from_json(model.to_json()).adjusted_rates("rootstock")
    assert trays_shown(again.plot().axes[0]) == 72


def test_the_forest_shows_no_difference_and_the_margin(model: rl.models.Model) -> None:
    axes = model.contrasts("rootstock", margin=0.2).plot().axes[0]
    upright = {round(float(line.get_xdata()[0]), 6) for line in axes.get_lines() if len(set(line.get_xdata())) == 1}
    assert {0.0, -20.0, 20.0} <= upright


def test_answers_about_strengths_carry_the_chemical_caution() -> None:
    roles: dict[str, Any] = {
        "rooted": "rooted", "stuck": "stuck", "treatments": ["strength", "rootstock"], "tray": "tray", "block": "bench",
    }  # fmt: skip
    declared = rl.Strength("IBA", unit="mg/L", method="quick dip")
    frame = rl.demo.factorial(seed=1)
    for strength, wanted in [(declared, {"strength": True, "rootstock": False}), (None, {"strength": False})]:
        model = rl.load_trial(frame, **roles, strength=strength).model(["strength", "rootstock"])
        for by, carried in wanted.items():
            for answer in (model.contrasts(by), model.letters(by), model.adjusted_rates(by)):
                assert ("read_the_label" in {note.code for note in answer.notes}) == carried


@pytest.mark.parametrize("rooted", [[0] * 8, [0, 3, 0, 5, 0, 2, 0, 6], [8, 12, 7, 15, 9, 11, 5, 13]])
def test_two_levels_have_one_answer_whoever_is_asked(rooted: list[int]) -> None:
    frame = {
        "strength": ["0", "2500"] * 4,
        "tray": [f"T{tray}" for tray in range(8)],
        "rooted": rooted,
        "stuck": [20] * 8,
    }
    trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments=["strength"], tray="tray")
    model = trial.model(["strength"])
    compared = trial.compare("strength", "0", "2500")
    row = model.contrasts("strength").contrasts[0]
    test = model.what_matters().effects[0]
    assert row.p == pytest.approx(compared.p, rel=1e-6)
    assert (row.low, row.high) == pytest.approx((compared.low, compared.high), abs=1e-6)
    assert test.not_ruled_out == pytest.approx(row.not_ruled_out, abs=1e-6)
    assert test.p == pytest.approx(row.p, rel=1e-6 if sum(rooted) else 1e-4)


def test_contrasts_are_differences_of_the_rates_shown_after_separation() -> None:
    frame = {
        "strength": ["0", "2500", "5000"] * 4,
        "tray": [f"T{tray}" for tray in range(12)],
        "rooted": [0, 9, 13, 0, 12, 15, 0, 10, 14, 0, 11, 12],
        "stuck": [20] * 12,
    }
    trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments=["strength"], tray="tray")
    for trays, link in (("auto", "logit"), ("dispersion", "logit"), ("auto", "probit")):
        model = trial.model(["strength"], trays=trays, link=link)
        rates = [rate.value for rate in model.adjusted_rates("strength").rates]
        found = [row.value for row in model.contrasts("strength").contrasts]
        assert found == pytest.approx([rates[1] - rates[0], rates[2] - rates[0], rates[2] - rates[1]], rel=1e-8)


def test_robust_contrasts_have_their_own_degrees_of_freedom() -> None:
    trial = rl.load_trial(rl.demo.factorial(seed=1), **ROLES)
    rows = trial.model(["strength", "rootstock"], trays="robust").contrasts("strength").contrasts
    assert len({round(row.df, 6) for row in rows}) > 1
    assert all((row.low > 0 or row.high < 0) == (row.p_adjusted < 0.05) for row in rows)


def test_levels_that_tied_exactly_are_not_different() -> None:
    # By hand: 30 of 80 cuttings at either level, in the same benches, so nothing speaks for a difference and P is 1.
    given = {
        "bench": [1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4],
        "strength": [0, 1000, 3000] * 4,
        "rooted": [6, 10, 6, 7, 11, 7, 8, 12, 8, 9, 13, 9],
        "stuck": [20] * 12,
    }
    trial = rl.load_trial(given, rooted="rooted", stuck="stuck", tray="each-row", treatments="strength", block="bench")
    model = trial.model(["strength"])
    table = model.contrasts("strength").table()
    tied = table.filter(table["comparison"] == "strength 3000 against 0").row(0, named=True)
    assert tied["p"] == pytest.approx(1.0)
    assert tied["p_adjusted"] == pytest.approx(1.0)
    assert (table["p_adjusted"] >= table["p"]).all()
    letters = model.letters("strength").table()
    assert letters["letters"][0] == letters["letters"][2]
