"""Trials and models leave the session and come back: pickles, dictionaries, JSON; figures drawn from a record."""

from __future__ import annotations

import copy
import json
import pickle
import warnings
from typing import Any

import polars as pl
import pytest
import rootling as rl
from conftest import ROLES
from rootling.exceptions import ChoiceError, ReportError, RootlingError


def _answers(trial: rl.Trial) -> list[dict[str, Any]]:
    return [trial.take_rates().to_dict(), trial.compare("strength", 2500, 5000).to_dict(), trial.design]


@pytest.mark.parametrize("form", ["frame", "csv", "semicolons"])
def test_a_trial_survives_pickling(frame: pl.DataFrame, tmp_path, form: str) -> None:
    bad = frame.with_columns(rooted=pl.when(pl.col("tray") == "T03").then(99).otherwise(pl.col("rooted")))
    data: Any = bad
    if form != "frame":
        data = tmp_path / "trial.csv"
        bad.write_csv(data, separator="," if form == "csv" else ";")
    strength = rl.Strength("IBA", unit="mg/L", method="quick dip")
    trial = rl.load_trial(data, **ROLES, strength=strength, bad_rows="set-aside")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        again = pickle.loads(pickle.dumps(trial))
    assert again.fingerprint == trial.fingerprint
    assert again.set_aside == trial.set_aside
    assert [issue.row for issue in trial.set_aside] == [3 if form == "frame" else 4]
    assert again.notes == trial.notes
    assert again.frame.equals(trial.frame)
    assert _answers(again) == _answers(trial)
    assert copy.deepcopy(trial).fingerprint == trial.fingerprint


def test_cuttings_survive_pickling() -> None:
    rows = {"strength": ["0", "0", "2500", "2500"], "rooted": ["yes", "no", "yes", "yes"]}
    trial = rl.load_trial(rows, rooted="rooted", treatments="strength")
    again = pickle.loads(pickle.dumps(trial))
    assert again.take_rates() == trial.take_rates()


def test_a_model_goes_to_json_and_back(trial: rl.Trial) -> None:
    model = trial.model(["strength"], confidence=0.9)
    for again in (
        rl.models.Model.from_json(model.to_json()),
        rl.models.Model.from_dict(model.to_dict()),
        pickle.loads(pickle.dumps(model)),
    ):
        assert again == model
        assert hash(again) == hash(model)
        assert again.to_json() == model.to_json()
        assert again.what_matters() == model.what_matters()
        assert again.odds_ratios() == model.odds_ratios()
        assert again.adjusted_rates("strength") == model.adjusted_rates("strength")
    assert model.to_dict()["data_fingerprint"] == trial.fingerprint
    assert json.loads(model.to_json())["kind"] == "model"


def test_a_model_has_the_faces_of_a_result(trial: rl.Trial, tmp_path) -> None:
    model = trial.model(["strength"])
    assert model.methods.startswith("Numbers rooted of 240 cuttings in 12 trays")
    assert any(line.startswith("McCullagh P, Nelder JA (1989).") for line in model.references)
    assert model.table().equals(model.what_matters().table())
    assert model.made_with.data_fingerprint == trial.fingerprint
    assert model.plot().axes
    page = rl.report.write(model, tmp_path / "model.html").read_text(encoding="utf-8")
    assert "Which treatments matter?" in page
    model.to_dict()["units"]["rooted"][0] = 999
    assert model.to_dict()["units"]["rooted"][0] != 999


@pytest.mark.parametrize(
    "text", ["{}", "[]", "no", '{"kind": "model"}', '{"kind": "model", "units": 1, "spec": 2, "data_fingerprint": "x"}']
)
def test_what_is_no_record_of_a_model(text: str) -> None:
    with pytest.raises(ChoiceError):
        rl.models.Model.from_json(text)


def test_an_edited_record_is_fitted_or_refused(trial: rl.Trial) -> None:
    record = trial.model(["strength"]).to_dict()
    record["units"]["treatments"][0]["codes"][0] = 77
    with pytest.raises(RootlingError):
        rl.models.Model.from_dict(record).what_matters()


@pytest.mark.parametrize("within", [None, "bench"])
def test_an_association_draws_from_its_record(trial: rl.Trial, within: str | None) -> None:
    found = trial.association("strength", within=within)
    again = rl.Result.from_json(found.to_json())

    def named(figure: object) -> list[str]:
        # Many rates stand one below the other.
        axes = figure.axes[0]
        return [label.get_text() for label in (axes.get_xticklabels() if within is None else axes.get_yticklabels())]

    labels = named(again.plot())
    assert labels == named(found.plot())
    assert len(labels) == (2 if within is None else 12)
    if within is None:
        # the two_strengths demo: 45 and 79 rooted of 120
        assert [rate.rooted for rate in again.rates] == [45, 79]


def test_reports_go_into_folders_that_exist(trial: rl.Trial, tmp_path) -> None:
    with pytest.raises(ReportError, match=r"there is no folder '.*nowhere'; create it first") as found:
        rl.report.write(trial, tmp_path / "nowhere" / "report.html")
    assert isinstance(found.value, (RootlingError, OSError))
    with pytest.raises(ReportError, match="is a folder; add the name of a file"):
        rl.report.write(trial, tmp_path)


@pytest.mark.parametrize("odd", ["K12\nfrom the slope", "K12\r\nlow", "K12\tlow", "K12\u2028low", "K12\x1b[31m"])
def test_a_label_that_loads_comes_back_with_its_record(frame: pl.DataFrame, odd: str) -> None:
    named = pl.when(pl.col("strength") == 2500).then(pl.lit(odd)).otherwise(pl.lit("K17"))
    trial = rl.load_trial(frame.with_columns(strength=named), **ROLES)
    model = trial.model("strength")
    found = [
        *(trial.take_rates("strength"), trial.compare("strength", "K17", odd), trial.compare_all("strength")),
        *(trial.association("strength"), model.contrasts("strength"), model.letters("strength"), model.odds_ratios()),
        *(model.adjusted_rates("strength"), model.what_matters()),
    ]
    for one in found:
        for again in (
            rl.Result.from_dict(one.to_dict()),
            rl.Result.from_json(one.to_json()),
            pickle.loads(pickle.dumps(one)),
        ):
            assert again == one
            assert type(again) is type(one)
            # What cannot be seen is a mark, in the record that came back too.
            assert again.sentence.isprintable()
            assert all(line.isprintable() for line in again.details)
