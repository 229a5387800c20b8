"""Nested models and bootstrap tests from Python."""

from __future__ import annotations

import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, CountError, ModelError


def test_a_model_against_a_smaller_one(trial: rl.Trial) -> None:
    larger, smaller = trial.model(["strength", "bench"], trays="ignore"), trial.model("strength", trays="ignore")
    with pytest.raises(ModelError, match="these models cannot be set against each other: they have the same effects"):
        larger.against(smaller)
    with pytest.raises(ChoiceError, match="smaller='strength' is no model"):
        larger.against("strength")  # type: ignore[arg-type]


def test_the_faces_of_a_comparison() -> None:
    trial = rl.load_trial(
        rl.demo.factorial(seed=1),
        rooted="rooted",
        stuck="stuck",
        treatments=["strength", "dark_days", "rootstock"],
        tray="tray",
        block="bench",
    )
    found = trial.model(["strength", "rootstock"]).against(trial.model("strength"))
    frame = found.table()
    assert frame["model"].to_list() == ["smaller", "larger"]
    assert frame["p"].to_list()[0] is None
    assert found.added == ("rootstock",)
    assert rl.Result.from_json(found.to_json()) == found
    assert "adds to the model of strength" in " ".join((found.sentence, *found.details))
    assert len(found.plot().axes) == 1


def test_progress_and_seed(trial: rl.Trial) -> None:
    model = trial.model("strength")
    seen: list[tuple[int, int]] = []
    found = model.bootstrap_test("strength", draws=199, seed=3, progress=lambda done, of: seen.append((done, of)))
    assert seen[-1] == (199, 199)
    assert all(0 <= done <= 199 for done, _ in seen)
    assert found == model.bootstrap_test("strength", draws=199, seed=3)
    assert found.p == (1 + found.exceeded) / 200
    with pytest.raises(CountError, match="draws 5 is outside 99 to 1000000"):
        model.bootstrap_test("strength", draws=5)
    with pytest.raises(ChoiceError, match='did you mean "strength"'):
        model.bootstrap_test("strenght")


def test_what_progress_raises_stops_the_draws(trial: rl.Trial) -> None:
    def refuse(done: int, of: int) -> None:
        raise RuntimeError("enough")

    with pytest.raises(RuntimeError, match="enough"):
        trial.model("strength", trays="random").bootstrap_test("strength", draws=1_000_000, progress=refuse)


def test_robust_models(trial: rl.Trial) -> None:
    model = trial.model("strength", trays="robust")
    test = model.what_matters().effects[0]
    assert test.test == "robust F"
    assert test.error_df < 5.5
    assert [note.code for note in model.notes if note.code == "robust_errors"]
    assert rl.models.Model.from_json(model.to_json()) == model
    assert model.checks().trays
    with pytest.raises(ModelError, match="a robust covariance is no law"):
        model.bootstrap_test("strength")
