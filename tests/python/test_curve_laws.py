"""Strength curves under laws of the trays and with blocks, through Python: all faces, what is refused."""

from __future__ import annotations

import pickle
import warnings
from pathlib import Path
from typing import Any

import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, CurveError, FewTraysWarning

LAWS = ("dispersion", "beta-binomial", "random")


def demo(**options: Any) -> rl.Trial:
    named = {"treatments": ["strength", "rootstock"], "tray": "tray", "block": "bench", **options}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", FewTraysWarning)
        return rl.load_trial(rl.demo.strengths(seed=1), rooted="rooted", stuck="stuck", **named)


def codes(result: Any) -> set[str]:
    return {note.code for note in result.notes}


@pytest.mark.parametrize("law", LAWS)
def test_all_faces(law: Any, tmp_path: Path) -> None:
    curve = demo().strength_curve(within="rootstock", trays=law, shape="hump")
    assert curve.table()["rootstock"].to_list() == ["K12", "K17"]
    assert "blocks_taken_out" in codes(curve)
    assert ("law_with_blocks" in codes(curve)) == (law != "dispersion")
    assert "What the levels of bench add was taken out" in curve.methods
    source = {"dispersion": "Wedderburn", "beta-binomial": "Skellam", "random": "Pinheiro"}[law]
    assert source in curve.methods
    assert source in " ".join(curve.references)
    again = rl.Result.from_json(curve.to_json())
    assert again == curve == pickle.loads(pickle.dumps(curve))
    assert again.strength_for(0.5) == curve.strength_for(0.5)
    assert again.differences() == curve.differences()
    assert curve.next_strengths(trays=6).table().height > 0
    for number, result in enumerate((curve, curve.strength_for(0.5), curve.differences())):
        result.plot().savefig(tmp_path / f"{number}.svg")
        assert rl.Result.from_json(result.to_json()) == result
    rl.report.write([curve, curve.strength_for(0.5), curve.differences()], tmp_path / "report.html")


def test_auto_shape_and_drawn_trials_under_a_law() -> None:
    found = demo().strength_curve(at={"rootstock": "K12"}, trays="beta-binomial", draws=40)
    best = found.best_strength
    assert best.bootstrap.draws == 40
    assert best.strength.low < best.strength.value < best.strength.high
    assert abs(sum(found.shapes()["weight"]) - 1) < 1e-9
    parameters = found.parameters()["parameter"].to_list()
    assert "correlation within trays" in parameters
    assert "bench B1" in parameters


def test_which_rate_a_random_curve_is() -> None:
    found = demo().strength_curve(at={"rootstock": "K12"}, trays="random", shape="hump")
    note = next(note for note in found.notes if note.code == "all_trays_rate")
    assert "those over all trays" in note.text
    assert "standard deviation between trays" in found.parameters()["parameter"].to_list()
    assert "all_trays_rate" in codes(found.strength_for(0.5))


def test_blocks() -> None:
    trial = demo()
    out = trial.strength_curve(at={"rootstock": "K12"})
    left = trial.strength_curve(at={"rootstock": "K12"}, blocks="spread")
    assert "blocks_taken_out" in codes(out)
    assert "judged_by" in codes(left)
    # Six strengths x five benches: 30 - 6 - 4 and 30 - 6 degrees of freedom.
    assert (out.curves[0].df, left.curves[0].df) == (20, 24)
    shifts = out.parameters().filter(out.parameters()["parameter"].str.starts_with("bench"))
    first = shifts.filter(shifts["shape"] == shifts["shape"][0])["value"].to_list()[:5]
    assert abs(sum(first)) < 1e-9


def test_strengths_in_one_block_stay_in_the_spread() -> None:
    rows = {"strength": [0, 500, 1000, 2000] * 4, "rooted": [2, 9, 13, 8] * 4, "stuck": [20] * 16, "tray": range(16)}
    one = {
        **rows,
        "bench": ["B1" if strength == 0 else f"B{1 + i // 4}" for i, strength in enumerate(rows["strength"])],
    }
    bays = {**rows, "bay": [f"{strength}-{i // 8}" for i, strength in enumerate(rows["strength"])]}
    options = {"rooted": "rooted", "stuck": "stuck", "treatments": "strength", "tray": "tray"}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", FewTraysWarning)
        found = rl.load_trial({**one, "tray": list(rows["tray"])}, block="bench", **options).strength_curve()
        whole = rl.load_trial({**bays, "tray": list(rows["tray"])}, whole_plot="bay", **options).strength_curve()
    note = next(note for note in found.notes if note.code == "judged_by")
    assert "strength 0 stands in one of them only" in note.text
    assert whole.input.unit_of == "bay"
    assert "blocks_taken_out" not in codes(whole)


def test_what_is_refused() -> None:
    with pytest.raises(ChoiceError, match='did you mean "random"'):
        demo().strength_curve(within="rootstock", trays="randon")  # type: ignore[arg-type]
    with pytest.raises(CurveError, match='response_surface does not offer trays="random"; use trays="auto"'):
        demo().response_surface("rootstock", trays="random")  # type: ignore[arg-type]
    pooled = rl.load_trial(
        {"strength": [0, 500, 1000], "rooted": [5, 20, 30], "stuck": [50] * 3},
        rooted="rooted",
        stuck="stuck",
        treatments="strength",
    )
    for law in LAWS:
        with pytest.raises(CurveError, match=f'trays="{law}" describes how trays differ and none are recorded'):
            pooled.strength_curve(trays=law)  # type: ignore[arg-type]


@pytest.mark.filterwarnings("ignore::rootling.exceptions.RootlingWarning")
def test_curves_of_levels_in_bays_are_not_judged_by_trays() -> None:
    rows = [(heat, bay, dose) for heat, bays in (("cool", "ab"), ("warm", "cd")) for bay in bays for dose in range(4)]
    with pytest.warns(FewTraysWarning, match="only 2 trays"):
        trial = rl.load_trial(
            {
                "heat": [row[0] for row in rows],
                "bay": [row[1] for row in rows],
                "strength": [2000 * row[2] for row in rows],
                "tray": list(range(len(rows))),
                "rooted": [
                    3 + 4 * min(row[2], 2) + (5 if row[0] == "warm" else 0) + i % 3 for i, row in enumerate(rows)
                ],
                "stuck": [25] * len(rows),
            },
            rooted="rooted",
            stuck="stuck",
            treatments=["strength", "heat"],
            tray="tray",
            whole_plot="bay",
        )
    curves = trial.strength_curve(within="heat")
    assert len(curves.curves) == 2
    found = curves.differences()
    tests = {test.method: test for test in found.tests}
    assert not {"same form", "same curve", "no difference"} & set(tests)
    # Two bays of each heat: one difference, two degrees of freedom between bays of one heat.
    assert (tests["same height"].df, tests["same height"].error_df) == (1, 2)
    assert any("given to whole levels of bay" in note.text for note in found.notes)
