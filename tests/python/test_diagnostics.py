"""Diagnostics from Python: faces, panels, records."""

from __future__ import annotations

import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, CountError


@pytest.fixture
def checks(trial: rl.Trial) -> rl.diagnostics.Diagnostics:
    return trial.model(["strength"]).diagnostics()


def test_the_table_has_a_row_per_tray(checks: rl.diagnostics.Diagnostics, trial: rl.Trial) -> None:
    frame = checks.table()
    assert frame["tray"].to_list() == [f"tray {name}" for name in trial.tray_counts()["tray"]]
    assert frame["rooted"].to_list() == trial.tray_counts()["rooted"].to_list()
    # the leverages of a design add up to its rank: 1 + 5 benches + 1 strength
    assert frame["leverage"].sum() == pytest.approx(7, rel=1e-9)
    assert {"quantile_residual", "one_step_change", "refit_change", "distance"} <= set(frame.columns)


def test_the_faces(checks: rl.diagnostics.Diagnostics) -> None:
    assert rl.Result.from_json(checks.to_json()) == checks
    assert "Dunn and Smyth" in checks.methods
    assert any(line.startswith("Dunn PK, Smyth GK (1996)") for line in checks.references)
    assert checks.provenance.seed == 1
    assert checks.dispersion.df == 5
    assert repr(checks)
    assert "<table" in checks._repr_html_()


def test_panels(checks: rl.diagnostics.Diagnostics) -> None:
    assert len(checks.plot().axes) == 4
    for which in ("residuals", "quantiles", "influence", "calibration"):
        (axes,) = checks.plot(which=which).axes
        assert axes.get_xlabel()
    with pytest.raises(ChoiceError, match='which= option "leverage" is not known; known: residuals, quantiles'):
        checks.plot(which="leverage")  # type: ignore[arg-type]
    assert len(rl.Result.from_json(checks.to_json()).plot().axes) == 4


def test_seed_and_refit(trial: rl.Trial) -> None:
    model = trial.model(["strength"])
    assert model.diagnostics(seed=3) == model.diagnostics(seed=3)
    assert model.diagnostics(seed=3) != model.diagnostics(seed=4)
    plain = model.diagnostics(refit=False)
    assert "refit_change" not in plain.table().columns
    assert [note for note in plain.notes if note.code == "one_step_only"]
    with pytest.raises(CountError, match="groups 2 is outside 3 to 100"):
        model.diagnostics(groups=2)
