"""Diagnostics from Python: faces, panels, records."""

from __future__ import annotations

import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, CountError


@pytest.fixture
def checks(trial: rl.Trial) -> rl.models.Checks:
    return trial.model(["strength"]).checks()


def test_the_table_has_a_row_per_tray(checks: rl.models.Checks, trial: rl.Trial) -> None:
    frame = checks.table()
    assert frame["tray"].to_list() == [f"tray {name}" for name in trial.tray_counts()["tray"]]
    assert frame["rooted"].to_list() == trial.tray_counts()["rooted"].to_list()
    # the leverages of a design add up to its rank: 1 + 5 benches + 1 strength
    assert frame["leverage"].sum() == pytest.approx(7, rel=1e-9)
    assert {"quantile_residual", "one_step_change", "refit_change", "distance"} <= set(frame.columns)


def test_the_faces(checks: rl.models.Checks) -> None:
    assert rl.Result.from_json(checks.to_json()) == checks
    assert "Dunn and Smyth" in checks.methods
    assert any(line.startswith("Dunn PK, Smyth GK (1996)") for line in checks.references)
    assert checks.made_with.seed == 1
    assert checks.dispersion.df == 5
    assert repr(checks)
    assert "<table" in checks._repr_html_()


def test_panels(checks: rl.models.Checks) -> None:
    assert len(checks.plot().axes) == 4
    for panel in ("calibration", "change", "residuals", "order"):
        (axes,) = checks.plot(panel=panel).axes
        assert axes.get_xlabel()
    with pytest.raises(ChoiceError, match="there is no panel 'leverage'; choose one of calibration, change"):
        checks.plot(panel="leverage")  # type: ignore[arg-type]
    assert len(rl.Result.from_json(checks.to_json()).plot().axes) == 4


def test_seed_and_refit(trial: rl.Trial) -> None:
    model = trial.model(["strength"])
    assert model.checks(seed=3) == model.checks(seed=3)
    assert model.checks(seed=3) != model.checks(seed=4)
    plain = model.checks(refit=False)
    assert "refit_change" not in plain.table().columns
    assert [note for note in plain.notes if note.code == "one_step_only"]
    with pytest.raises(CountError, match="groups 2 is outside 3 to 100"):
        model.checks(groups=2)
