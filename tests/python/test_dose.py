"""Strength curves through Python: published values, all faces, what is refused."""

from __future__ import annotations

import json
import math
import pickle
import signal
import subprocess
import sys
import time
import warnings
from pathlib import Path
from typing import Any

import polars as pl
import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, CountError, DoseError, SmallSampleWarning, StrengthError, TrialDataError

HERE = Path(__file__).parent.parent
EXPECTED = {
    entry["id"]: entry for entry in json.loads((HERE / "reference" / "expected.json").read_text("utf-8"))["entries"]
}
STRENGTHS = [0, 500, 1000, 2000, 4000, 8000]


def pooled(name: str, strength: str, rooted: str, stuck: str) -> rl.Trial:
    frame = pl.read_csv(HERE / "data" / name).rename({strength: "strength"})
    return rl.load_trial(frame, rooted=rooted, stuck=stuck, treatments=["strength"])


def demo(**options: Any) -> rl.Trial:
    named = {"treatments": ["strength", "rootstock"], "tray": "tray", "block": "bench", **options}
    return rl.load_trial(rl.demo.strengths(seed=1), rooted="rooted", stuck="stuck", **named)


def close(got: float, want: Any, rel: float = 1e-5) -> bool:
    return math.isclose(got, float(want), rel_tol=rel, abs_tol=1e-6)


@pytest.mark.parametrize(("entry", "link"), [("rotenone_probit", "probit"), ("rotenone_logit", "logit")])
def test_rotenone(entry: str, link: Any) -> None:
    # Martin 1942, Annals of Applied Biology 29:69-81; R 4.2.2 glm (expected.json).
    want = EXPECTED[entry]["values"]
    trial = pooled("martin_rotenone.csv", "dose_mg_per_l", "affected", "n")
    curve = trial.strength_curve(shape="rising-from-none-to-all", link=link)
    table = {row["method"]: row for row in curve.strength_for(0.5).table().iter_rows(named=True)}
    assert close(table["profile"]["value"], want["ld50"])
    for method, limits in (("fieller", "ld50_fieller"), ("delta", "ld50_delta_on_log"), ("profile", "ld50_profile")):
        assert close(table[method]["conf_low"], want[limits][0])
        assert close(table[method]["conf_high"], want[limits][1])
    fit = curve.shapes().row(0, named=True)
    assert close(fit["deviance"], want["deviance"])
    assert fit["verdict"] == "fitted"


def test_natural_response() -> None:
    # Finney 1944, Annals of Applied Biology 31:68-74; R 4.2.2 optim (expected.json), tolerance of the entry.
    want = EXPECTED["finney_ephestia_natural"]["values"]
    trial = pooled("finney_ephestia_control_mortality.csv", "dose_percent", "dead", "n")
    curve = trial.strength_curve(shape="natural-response", link="probit")
    values = dict(curve.parameters().select("parameter", "value").iter_rows())
    assert close(values["take without hormone"], want["C"], 1e-4)
    assert close(values["strength halfway"], want["ld50"], 1e-4)


def test_quadratic_hump() -> None:
    # R 4.2.2 glm on log(1 + strength/500) (expected.json).
    want = EXPECTED["hump_quadratic"]["values"]
    curve = pooled("hump_invented.csv", "strength_mg_l", "rooted", "n").strength_curve(shape="hump")
    best = curve.best_strength
    assert close(best.strength.value, want["optimum_strength"])
    assert close(best.take, want["p_at_optimum"])
    assert curve.sentence.startswith("No trays were recorded, so the intervals are too narrow.")


def test_all_faces(tmp_path: Path) -> None:
    curve = demo(strength=rl.Strength("IBA", unit="mg/L", method="quick dip")).strength_curve(within="rootstock")
    assert curve.table()["rootstock"].to_list() == ["K12", "K17"]
    assert "mg/L" in curve.sentence
    assert "within the tested range, for this cultivar" in curve.sentence
    codes = {note.code for note in curve.notes}
    assert {"best_strength", "chemical", "places_in_spread"} <= codes
    assert "Fletcher" in " ".join(curve.references)
    assert "degrees of freedom" in curve.methods
    assert "K12" in repr(curve)
    assert "rootling-result" in curve._repr_html_()
    assert curve.levels().height == 12
    assert set(curve.shapes()["curve"]) == {"K12", "K17"}
    assert curve.best_strength["K12"].located == "located"
    again = rl.Result.from_json(curve.to_json())
    assert again == curve == pickle.loads(pickle.dumps(curve))
    assert again.strength_for(0.5) == curve.strength_for(0.5)
    assert again.compare() == curve.compare()
    for number, result in enumerate((curve, again, curve.strength_for(0.5), curve.strength_for(0.99), curve.compare())):
        result.plot().savefig(tmp_path / f"{number}.svg")
        assert rl.Result.from_json(result.to_json()) == result
    report = tmp_path / "report.html"
    rl.report.write([curve, curve.strength_for(0.5), curve.compare()], report)
    assert "best strength" in report.read_text("utf-8")


def test_bootstrap() -> None:
    trial = demo()
    drawn = trial.strength_curve(at={"rootstock": "K12"}, bootstrap=200, seed=3)
    found = drawn.best_strength.bootstrap
    assert found.draws == 200
    assert found.conf_low <= drawn.best_strength.strength.value <= found.conf_high
    assert drawn.provenance["seed"] == 3
    assert trial.strength_curve(at={"rootstock": "K12"}, bootstrap=200, seed=3) == drawn
    assert trial.strength_curve(at={"rootstock": "K12"}, bootstrap=200, seed=4) != drawn


def test_out_of_reach_is_said_in_words() -> None:
    found = demo().strength_curve(at={"rootstock": "K12"}).strength_for(0.97)
    assert found.rows[0].value is None
    assert found.rows[0].conf_high == math.inf
    assert "may never be reached" in found.sentence
    assert "no upper limit" in found.table()["says"][0]


def counts(strengths: list[Any], rooted: list[int], **more: Any) -> dict[str, Any]:
    return {
        "strength": strengths,
        "rooted": rooted,
        "stuck": [20] * len(rooted),
        "tray": list(range(len(rooted))),
        **more,
    }


def loaded(frame: dict[str, Any], treatments: list[str] | None = None, **options: Any) -> rl.Trial:
    named = {"treatments": treatments or ["strength"], "tray": "tray", **options}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", SmallSampleWarning)
        return rl.load_trial(frame, rooted="rooted", stuck="stuck", **named)


HUMP = counts(STRENGTHS * 4, [2, 7, 11, 14, 12, 4, 3, 9, 12, 16, 13, 5, 1, 8, 10, 15, 14, 3, 4, 6, 13, 13, 11, 6])


def refused(trial: rl.Trial, kind: type[Exception], words: str, **options: Any) -> None:
    with pytest.raises(kind) as caught:
        trial.strength_curve(**options)
    assert str(caught.value) == words


def test_what_is_refused() -> None:
    hump = loaded(HUMP)
    one = counts([0, 500, 1000, 500] * 3, [2, 9, 8, 7] * 3, rootstock=["K12", "K12", "K12", "K17"] * 3)
    refused(
        loaded(one, ["strength", "rootstock"]),
        DoseError,
        "K17 holds the single strength 500; a curve needs at least two strengths",
        within="rootstock",
    )
    refused(
        loaded(counts(["low", "high"] * 3, [2, 9, 3, 8, 4, 10])),
        DoseError,
        'level "high" of "strength" is not a number; a strength curve needs strengths as numbers in one unit',
    )
    refused(
        loaded(counts([-5, 500] * 3, [2, 9, 3, 8, 4, 10])),
        DoseError,
        'column "strength" holds strength -5, which is below 0; correct it '
        "(a trial loaded with strength= names the row)",
    )
    refused(
        demo(),
        DoseError,
        '"rootstock" differs between trays too; name it in within= for a curve each, or keep one level with '
        'at={"rootstock": "K12"}',
    )
    refused(
        hump,
        DoseError,
        "shift -1 is not a strength above 0; give d0 of log(1 + d/d0) in the unit of the strengths",
        shift=-1,
    )
    refused(
        hump,
        CountError,
        "margin 5 is not above 0 and at most 1; give it as a proportion, for example 0.1 for 10 trees per 100",
        margin=5,
    )
    refused(hump, CountError, "share 2 is outside 0 to 1", share=2)
    with pytest.raises(ChoiceError, match='shape "humpy" is not known; did you mean "hump"'):
        hump.strength_curve(shape="humpy")  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match='column "dose" is not known'):
        hump.strength_curve(strength="dose")
    with pytest.raises(DoseError, match="there is one curve only"):
        hump.strength_curve().compare()
    with pytest.raises(CountError, match="target 60 is not between 0 and 1"):
        hump.strength_curve().strength_for(60)


def test_negative_strength_names_its_row() -> None:
    with pytest.raises(TrialDataError, match='row 2, column "strength": strength -500 is negative'):
        loaded(
            counts([0, -500, 1000, 0, 500, 1000], [2, 9, 3, 8, 4, 10]),
            strength=rl.Strength("IBA", unit="mg/L", method="quick dip"),
        )


def test_mixed_substances_and_units() -> None:
    mixed = loaded({**HUMP, "substance": ["IBA", "NAA"] * 12}, ["strength", "substance"])
    refused(
        mixed,
        StrengthError,
        "IBA and NAA are different substances and cannot share one axis; "
        "convert to one with `equivalent` or keep them apart",
    )
    with pytest.raises(StrengthError, match="IBA and NAA are different substances"):
        loaded(
            counts([*STRENGTHS, *STRENGTHS] * 2, [2, 7, 11, 14, 12, 4] * 4, substance=(["IBA"] * 6 + ["NAA"] * 6) * 2),
            ["strength", "substance"],
        ).strength_curve(within="substance").compare()
    units = loaded({**HUMP, "unit": ["mg/L", "mM"] * 12}, ["strength", "unit"])
    refused(
        units,
        DoseError,
        'column "unit" says that strengths are in mM and in mg/L; convert them to one unit, they cannot share one axis',
    )


def test_solvent_of_the_control() -> None:
    solvent = ["water" if strength == 0 else "ethanol" for strength in HUMP["strength"]]
    curve = loaded({**HUMP, "solvent": solvent}, ["strength", "solvent"]).strength_curve()
    note = next(note for note in curve.notes if note.code == "solvent_differs")
    assert note.text == (
        'Strength 0 had solvent "water" and the other strengths "ethanol": '
        "what the curve does between 0 and the lowest strength is not the hormone's alone."
    )
    dip = rl.Strength("IBA", unit="mg/L", method="quick dip", carrier="ethanol 50 %")
    codes = [note.code for note in loaded(HUMP, strength=dip).strength_curve().notes]
    assert "control_solvent" in codes


@pytest.mark.parametrize(
    ("frame", "code"),
    [
        (counts([500, 1000, 2000, 4000] * 4, [7, 11, 14, 9] * 4), "no_zero_strength"),
        (counts(STRENGTHS * 4, [0] * 24), "all_alike"),
        (counts(STRENGTHS * 4, [20] * 24), "all_alike"),
        (counts([0, 1, 1000, 1_000_000] * 4, [2, 7, 14, 5] * 4), "wide_strengths"),
        (counts([0, 500, 1000] * 4, [2, 7, 14] * 4), "shapes_left_out"),
        (counts(STRENGTHS, [2, 7, 14, 15, 9, 3]), "spread_assumed"),
    ],
)
def test_hard_data_are_answered(frame: dict[str, Any], code: str) -> None:
    curve = loaded(frame).strength_curve()
    assert code in [note.code for note in curve.notes]
    assert curve.plot() is not None
    assert curve.table().height == 1


# Without a stop these draws would take hours.
CODE = """
import rootling as rl
trial = rl.load_trial(rl.demo.strengths(seed=1), rooted="rooted", stuck="stuck", treatments=["strength", "rootstock"],
                      tray="tray")
print("ready", flush=True)
try:
    trial.strength_curve(within="rootstock", bootstrap=200_000_000)
except KeyboardInterrupt:
    print("stopped", flush=True)
print(trial.strength_curve(within="rootstock").kind, flush=True)
"""


def test_interrupt() -> None:
    with subprocess.Popen([sys.executable, "-c", CODE], stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline().strip() == "ready"
            time.sleep(1.5)
            began = time.monotonic()
            process.send_signal(signal.SIGINT)
            assert process.stdout.readline().strip() == "stopped"
            assert time.monotonic() - began < 1
            assert process.stdout.readline().strip() == "strength_curve"
            assert process.wait(30) == 0
        finally:
            process.kill()
