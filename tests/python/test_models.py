"""What enters a model, its record, and trials at the edge of what a model can say, through Python."""

from __future__ import annotations

import json
import math
import pathlib
from typing import Any

import polars as pl
import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, ModelError

# The trials here are small on purpose.
pytestmark = pytest.mark.filterwarnings("ignore::rootling.exceptions.FewTraysWarning")
LINKS = {"logit": "logit", "probit": "probit", "complementary-log-log": "cloglog"}
BIRTHS = ["age", "lwt", "smoke", "ptl", "ht", "ui", "ftv"]


def _trays(rooted: list[int], stuck: list[int], **columns: Any) -> dict[str, Any]:
    return {"tray": list(range(len(rooted))), "rooted": rooted, "stuck": stuck, **columns}


def _load(frame: Any, treatments: Any = "strength", **roles: Any) -> rl.Trial:
    return rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments=treatments, tray="tray", **roles)


def _values(model: rl.models.Model) -> list[float]:
    return [c.value for c in model.numbers.coefficients]


def _errors(model: rl.models.Model) -> list[float]:
    return [c.se for c in model.numbers.coefficients]


def _check(expected: Any, name: str, model: rl.models.Model, *keys: str) -> None:
    values, fit = expected.values(name), model.numbers
    expected.check(name, _values(model), values["estimate"])
    expected.check(name, _errors(model), values["se"])
    if keys:
        expected.check(name, [fit[{"pearson_x2": "pearson"}.get(key, key)] for key in keys], [values[k] for k in keys])


@pytest.mark.parametrize("link", LINKS)
def test_beetles(expected: Any, data: Any, link: Any) -> None:
    trial = rl.load_trial(
        data / "bliss_beetles.csv", rooted="killed", stuck="n", treatments=[], covariates=["log10_dose"]
    )
    # expected.json bliss_*: R 4.2.2 glm
    _check(expected, f"bliss_{LINKS[link]}", trial.model("log10_dose", link=link), "loglik", "deviance")


@pytest.mark.parametrize(
    ("name", "effects"),
    [
        ("birthwt_full", ["age", "lwt", "race", "smoke", "ptl", "ht", "ui", "ftv"]),
        ("birthwt_hl5", ["age", "lwt", "race", "ftv"]),
        ("birthwt_hl3", ["lwt", "race"]),
    ],
)
def test_birth_weights(expected: Any, data: Any, name: str, effects: list[str]) -> None:
    trial = rl.load_trial(data / "hosmer_lemeshow_1989.csv", rooted="low", treatments=["race"], covariates=BIRTHS)
    model = trial.model(effects)
    # expected.json birthwt_*: R 4.2.2 glm
    _check(expected, name, model, "loglik", "deviance")
    if "aic" in expected.values(name):
        # expected.json birthwt_*: R 4.2.2 AIC
        expected.check(name, model.numbers.criteria.aic, expected.values(name)["aic"])


def test_plates(expected: Any, data: Any) -> None:
    trial = rl.load_trial(
        data / "crowder_seeds.csv", rooted="germinated", stuck="n", treatments=["seed", "extract"], tray="plate"
    )
    asked = {"interactions": [("seed", "extract")], "reference": {"seed": "O_aegyptiaca_75"}, "trays": "dispersion"}
    # expected.json crowder_glm: R 4.2.2 glm
    _check(expected, "crowder_glm", trial.model(["seed", "extract"], **asked), "loglik", "deviance", "pearson_x2")
    dilution = rl.load_trial(
        data / "crowder_dilution.csv", rooted="germinated", stuck="n", treatments=["dilution"], tray="plate"
    )
    # expected.json crowder_dilution_glm: R 4.2.2 glm
    _check(expected, "crowder_dilution_glm", dilution.model("dilution", trays="dispersion"), "deviance", "pearson_x2")


def test_penalised_sets(expected: Any, data: Any) -> None:
    trial = rl.load_trial(data / "heinze_schemper_2002.csv", rooted="HG", treatments=["NV"], covariates=["PI", "EH"])
    # expected.json endometrial_firth: penalised score iteration in R 4.2.2, brglm2 0.9
    _check(expected, "endometrial_firth", trial.model(["NV", "PI", "EH"]), "loglik", "penalised_loglik")
    frame = pl.read_csv(data / "toy_full_arm.csv")
    trial = rl.load_trial(frame, rooted="rooted", stuck="n", treatments=["strength"], tray="tray")
    # expected.json toy_full_arm_firth: penalised score iteration in R 4.2.2, brglm2 0.9
    _check(expected, "toy_full_arm_firth", trial.model("strength", trays="ignore"))
    trial = rl.load_trial(data / "toy_complete_separation.csv", rooted="y", treatments=[], covariates="x")
    # expected.json toy_complete_separation_firth: penalised score iteration in R 4.2.2, brglm2 0.9
    _check(expected, "toy_complete_separation_firth", trial.model("x"), "penalised_loglik")
    model = trial.model("x")
    assert model.verdict.startswith("fitted with caution: some cells are all rooted")
    assert model.how_fitted.rank == 2
    assert model.how_fitted.converged
    # The dictionary of starts is plain: two zeros on the fitted scale.
    assert list(model.how_fitted.start) == [0, 0]


def test_twenty_of_twenty() -> None:
    frame = {"strength": [2500, 5000], "rooted": [14, 20], "stuck": [20, 20]}
    trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments="strength")
    odds = trial.model("strength").odds_ratios().table().row(0, named=True)
    # domain.md 4.4: 0.008 from the penalised likelihood ratio; mpmath 1.4.1: 0.0075582301031605435
    assert math.isclose(odds["p"], 0.0075582301031605435, rel_tol=1e-7)


@pytest.mark.parametrize("rooted", [0, 20], ids=["none rooted", "all rooted"])
@pytest.mark.parametrize("link", [*LINKS, "log-log"])
def test_one_outcome_alone(rooted: int, link: Any) -> None:
    model = _load(_trays([rooted] * 8, [20] * 8, strength=[0] * 4 + [2500] * 4)).model("strength", link=link)
    assert model.numbers.penalised
    assert "separation" in [note.code for note in model.notes]
    assert abs(_values(model)[1]) < 1e-8
    assert model.what_matters().table()["p"][0] > 0.99


def test_one_tray_per_treatment() -> None:
    model = _load(_trays([4, 9, 12], [20] * 3, strength=[0, 2500, 5000])).model("strength")
    assert model.numbers.error_df == 0
    assert any("leave no degrees of freedom" in note.text for note in model.notes)


def test_more_coefficients_than_trays_and_an_empty_combination() -> None:
    frame = _trays(
        [4, 9, 12, 6, 11],
        [20] * 5,
        strength=[0, 2500, 5000, 0, 2500],
        rootstock=["K12", "K12", "K12", "K17", "K17"],
        length=[12.0, 15.0, 11.0, 14.0, 9.0],
    )
    trial = _load(frame, ["strength", "rootstock"], covariates="length")
    pair = [("strength", "rootstock")]
    model = trial.model(["strength", "rootstock", "length"], interactions=pair, polynomials={"length": 2})
    notes = {note.code: note.text for note in model.notes}
    assert "length squared cannot be told apart from" in notes["inseparable"]
    assert "strength 5000 with rootstock K17" in notes["empty_combinations"]
    assert model.verdict.startswith("fitted with caution")


def test_covariates_of_all_scales() -> None:
    x = [1.0, 2.0, 4.0, 7.0, 3.0, 9.0]
    frame = _trays([3, 5, 4, 12, 11, 15], [20] * 6, strength=[0, 0, 0, 1, 1, 1], cm=x, same=[2.0] * 6)
    frame |= {"mm": [10 * v for v in x], "huge": [1e9 * v for v in x]}
    trial = _load(frame, covariates=["cm", "mm", "huge", "same"])
    plain, huge = trial.model(["strength", "cm"]), trial.model(["strength", "huge"])
    assert math.isclose(_values(huge)[2] * 1e9, _values(plain)[2], rel_tol=1e-8)
    assert math.isclose(plain.numbers.loglik, huge.numbers.loglik, rel_tol=1e-10)
    both = trial.model(["cm", "mm"])
    assert (both.numbers.inseparable[0].name, list(both.numbers.inseparable[0]["with"])) == ("mm", ["cm"])
    with pytest.raises(rl.exceptions.RootlingError, match="single level"):
        trial.model(["same"])


@pytest.mark.parametrize("bad", [math.nan, math.inf, None])
def test_covariates_that_are_no_numbers_are_refused_with_their_row(bad: float | None) -> None:
    frame = _trays([3, 5, 12, 11], [20] * 4, strength=[0, 0, 1, 1], length=[9.0, 12.0, bad, 10.0])
    with pytest.raises(rl.exceptions.TrialDataError, match='row 3, column "length"'):
        _load(frame, covariates="length")


def test_weights() -> None:
    frame = _trays([3, 5, 12, 11], [20] * 4, strength=[0, 0, 2500, 2500], care=[1.0, 0.0, 2.0, 1.0])
    model = _load(frame, covariates="care").model("strength", weights="care")
    notes = {note.code: note.text for note in model.notes}
    assert notes["zero_weight"] == "Weight 0, so no part in the model: tray 1, strength 0."
    assert (model.numbers.n_units, model.numbers.n_cuttings) == (3, 60)
    # by hand: logit 3/20, and 2 x 12 + 11 of 60
    assert math.isclose(_values(model)[0] + _values(model)[1], math.log(35 / 25), rel_tol=1e-9)
    assert rl.models.Model.from_json(model.to_json()) == model
    bad = _load(frame | {"care": [1.0, 0.0, -2.0, 1.0]}, covariates="care")
    message = r'weight -2 of column "care" in row 3 is not 0 or more'
    with pytest.raises(rl.exceptions.RootlingError, match=message):
        bad.model("strength", weights="care")
    with pytest.raises(rl.exceptions.RootlingError, match="dispersion"):
        bad.model("strength", weights="care", trays="random")
    with pytest.raises(rl.exceptions.RootlingError, match='did you mean "care"'):
        bad.model("strength", weights="car")


def test_trays_of_one_cutting() -> None:
    rooted = [1, 0, 0, 1, 0, 0, 1, 1, 0, 1, 1, 1]
    model = _load(_trays(rooted, [1] * 12, strength=[0] * 6 + [2500] * 6)).model("strength")
    assert "one_cutting_per_tray" in [note.code for note in model.notes]


def test_numbers_polynomials_and_offset() -> None:
    frame = _trays([2, 5, 9, 14, 3, 6, 8, 15], [20] * 8, dark_days=[0, 10, 20, 40] * 2, known=[0.1, 0.2, 0.3, 0.4] * 2)
    trial = _load(frame, "dark_days", covariates="known")
    line, curve = trial.model("dark_days", numeric="dark_days"), trial.model("dark_days", polynomials={"dark_days": 2})
    assert [c.name for c in curve.numbers.coefficients] == ["intercept", "dark_days", "dark_days squared"]
    assert curve.numbers.loglik > line.numbers.loglik
    assert curve.what_matters().table()["df"][0] == 2
    assert "dark_days squared per 1 more" in curve.odds_ratios().table()["comparison"].to_list()
    shifted = trial.model("dark_days", numeric="dark_days", offset="known")
    assert "with known as offset" in shifted.methods
    assert not math.isclose(_values(shifted)[1], _values(line)[1], rel_tol=1e-3)
    with pytest.raises(rl.exceptions.RootlingError, match="degree 4"):
        trial.model("dark_days", polynomials={"dark_days": 4})


def test_controls_and_declared_orders() -> None:
    frame = _trays([12, 14, 5, 4, 9, 7], [20] * 6, light=["bright", "bright", "dark", "dark", "dim", "dim"])
    trial = _load(frame, "light", control={"light": "dark"}, level_order={"light": ["dim", "dark", "bright"]})
    assert [c.name for c in trial.model("light").numbers.coefficients] == ["intercept", "light dim", "light bright"]
    assert trial.design.controls.light == "dark"
    assert "light: the control is dark" in repr(trial.design)
    against = trial.model("light", reference={"light": "bright"})
    assert [c.name for c in against.numbers.coefficients] == ["intercept", "light dim", "light dark"]
    assert trial.take_rates(by="light").table()["light"].to_list() == ["dim", "dark", "bright"]
    with pytest.raises(rl.exceptions.TrialDataError, match='did you mean "dark"'):
        _load(frame, "light", control={"light": "drak"})
    strengths = _trays([3, 5, 12, 11], [20] * 4, strength=[0, 0, 2500, 2500])
    declared = _load(strengths, strength=rl.Strength("IBA", unit="mg/L"))
    assert declared.design.controls.strength == "0"
    assert not _load(strengths).design.controls


def test_criteria_where_there_is_a_likelihood() -> None:
    frame = _trays([2, 5, 9, 14, 3, 6, 8, 15], [20] * 8, strength=[0, 0, 1, 1, 2, 2, 3, 3])
    trial = _load(frame)
    assert trial.model("strength").numbers.criteria is None
    plain = trial.model("strength", trays="ignore").numbers
    # by hand: 2 x 4 - 2 loglik; 4 ln 160 - 2 loglik, as 160 cuttings count as independent
    assert math.isclose(plain.criteria.aic, 8 - 2 * plain.loglik)
    assert math.isclose(plain.criteria.bic, 4 * math.log(160) - 2 * plain.loglik)
    law = trial.model("strength", trays="beta-binomial").numbers
    assert (law.criteria.n, law.criteria.parameters) == (8, 5)


@pytest.mark.parametrize("link", ["logit", "probit", "complementary-log-log"])
def test_coefficients_of_each_link(link: Any) -> None:
    # tests/reference/make/link_profiles.py (mpmath 1.4.1, direct profiles of Bliss 1935)
    path = pathlib.Path(__file__).parents[1] / "reference" / "values" / "link_profiles.json"
    values = json.loads(path.read_text())["bliss"][LINKS[link]]
    frame = pl.read_csv(path.parents[2] / "data" / "bliss_beetles.csv")
    trial = rl.load_trial(frame, rooted="killed", stuck="n", treatments=[], covariates="log10_dose")
    found = trial.model("log10_dose", link=link, trays="ignore").coefficients()
    row = found.table().row(1, named=True)
    for name, key in {"value": "slope", "low": "low", "high": "high"}.items():
        assert math.isclose(row[name], values[key], rel_tol=1e-7)
    assert found.numbers.coefficients[0].p is None
    assert "scale: " in " ".join((found.sentence, *found.details))
    assert found.plot().axes[0].get_xlabel().startswith("coefficient on the ")


def test_coefficients_are_logs_of_odds_ratios() -> None:
    trial = rl.load_trial(
        rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck", treatments="strength", tray="tray", block="bench"
    )
    model = trial.model("strength")
    logs, ratios = model.coefficients().table().tail(6), model.odds_ratios().table()
    for name in ("value", "low", "high"):
        other = ratios["odds_ratio" if name == "value" else name]
        assert all(math.isclose(math.exp(a), b, rel_tol=1e-9) for a, b in zip(logs[name], other, strict=True))
    assert logs["p"].to_list() == ratios["p"].to_list()


def test_effect_tests_by_a_statistic_of_choice() -> None:
    # 12 of 40 against 26 of 40. By hand: Pearson's chi-square is the score statistic, G the likelihood ratio, and the
    # squared log odds ratio over its variance Wald's.
    frame = {"strength": [0, 2500], "rooted": [12, 26], "stuck": [40, 40]}
    model = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments="strength").model("strength")
    pearson = 80 * (12 * 14 - 26 * 28) ** 2 / (40 * 40 * 38 * 42)
    observed, margins = [12, 28, 26, 14], [19, 21, 19, 21]
    ratio = 2 * sum(o * math.log(o / e) for o, e in zip(observed, margins, strict=True))
    wald = math.log(26 * 28 / (14 * 12)) ** 2 / (1 / 12 + 1 / 28 + 1 / 26 + 1 / 14)
    wanted = {"score": (pearson, "score"), "likelihood-ratio": (ratio, "likelihood ratio"), "wald": (wald, "Wald")}
    for test, (value, name) in wanted.items():
        found = model.what_matters(test=test)  # type: ignore[arg-type]
        row = found.table().row(0, named=True)
        assert row["test"] == name
        assert math.isclose(row["statistic"], value, rel_tol=1e-8)
        assert "chosen_statistic" in [note.code for note in found.notes]
    with pytest.raises(ChoiceError, match='statistic "scores" is not known; did you mean "score"'):
        model.what_matters(test="scores")  # type: ignore[arg-type]


def test_statistics_that_a_model_does_not_have() -> None:
    trial = _load(_trays([5, 7, 6, 12, 14, 11], [20] * 6, strength=[0] * 3 + [2500] * 3))
    with pytest.raises(ModelError, match='trays="robust" have no likelihood'):
        trial.model("strength", trays="robust").what_matters(test="score")
    with pytest.raises(ModelError, match="likelihood ratios only"):
        trial.model("strength", trays="random").what_matters(test="wald")
