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
from rootling.exceptions import ChoiceError, CountError, CurveError, FewTraysWarning, StrengthError, TrialDataError

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
        assert close(table[method]["low"], want[limits][0])
        assert close(table[method]["high"], want[limits][1])
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
    assert curve.sentence.startswith("Without trays only a hint: ")
    assert curve.details[0] == "No trays were recorded, so the intervals are too narrow."


def test_all_faces(tmp_path: Path) -> None:
    curve = demo(strength=rl.Strength("IBA", unit="mg/L", method="quick dip")).strength_curve(within="rootstock")
    assert curve.table()["rootstock"].to_list() == ["K12", "K17"]
    assert "mg/L" in curve.sentence
    assert "within the tested range, for this cultivar" in curve.details[-1]
    codes = {note.code for note in curve.notes}
    assert {"tested_range_only", "read_the_label", "blocks_taken_out"} <= codes
    assert "Dauncey" in " ".join(curve.references)
    assert "degrees of freedom" in curve.methods
    assert "K12" in repr(curve)
    assert "rootling-result" in curve._repr_html_()
    assert curve.levels().height == 12
    assert set(curve.shapes()["curve"]) == {"K12", "K17"}
    assert curve.best_strength["K12"].located == "located"
    again = rl.Result.from_json(curve.to_json())
    assert again == curve == pickle.loads(pickle.dumps(curve))
    assert again.strength_for(0.5) == curve.strength_for(0.5)
    assert again.differences() == curve.differences()
    asked = (curve, again, curve.strength_for(0.5), curve.strength_for(0.99), curve.differences())
    for number, result in enumerate(asked):
        result.plot().savefig(tmp_path / f"{number}.svg")
        assert rl.Result.from_json(result.to_json()) == result
    report = tmp_path / "report.html"
    rl.report.write([curve, curve.strength_for(0.5), curve.differences()], report)
    assert "best strength" in report.read_text("utf-8")


def test_bootstrap() -> None:
    trial = demo()
    drawn = trial.strength_curve(at={"rootstock": "K12"}, draws=200, seed=3)
    found = drawn.best_strength.bootstrap
    assert found.draws == 200
    assert found.low <= drawn.best_strength.strength.value <= found.high
    assert drawn.made_with["seed"] == 3
    assert trial.strength_curve(at={"rootstock": "K12"}, draws=200, seed=3) == drawn
    assert trial.strength_curve(at={"rootstock": "K12"}, draws=200, seed=4) != drawn


def test_cedergreen_has_all_faces(tmp_path: Path) -> None:
    trial = demo(strength=rl.Strength("IBA", unit="mg/L", method="quick dip"))
    curve = trial.strength_curve(within="rootstock", shape="cedergreen", draws=20)
    assert curve.table()["shape"].to_list() == ["cedergreen", "cedergreen"]
    named = curve.parameters().filter(pl.col("curve") == "K12")
    assert sorted(named.filter(pl.col("parameter") == "power of the stimulation")["value"]) == [0.25, 0.5, 1.0]
    assert named.filter(pl.col("parameter") == "d0 of the stimulation")["unit"].to_list() == ["mg/L"] * 3
    assert "Cedergreen, Ritz and Streibig" in curve.methods
    assert any(one.startswith("Cedergreen N") for one in curve.references)
    assert any("not shown to be worse" in line for line in curve.details)
    assert rl.curves.StrengthCurve.from_json(curve.to_json()).sentence == curve.sentence
    curve.plot().savefig(tmp_path / "curve.png")
    assert curve.strength_for(0.4).table()["shape"].to_list()[0] == "cedergreen"
    assert curve.next_strengths(trays=6).sentence
    compared = curve.differences()
    # No distance, so the rates of the strengths stand there: six of each rootstock.
    assert compared.table()["measure"].str.starts_with("take rate at ").sum() == compared.table().height == 12
    assert "no_distance" in [note.code for note in compared.notes]
    assert "at different places" not in compared.methods


def test_figures_name_what_a_reader_looks_for(tmp_path: Path) -> None:
    curve = demo(strength=rl.Strength("IBA", unit="mg/L", method="quick dip")).strength_curve(within="rootstock")
    drawn = curve.strength_for(0.4).plot()
    names = [label.get_text() for label in drawn.axes[0].get_yticklabels()]
    assert names[0] == "K12"
    assert not any(word in name for name in names for word in ("profile", "delta"))
    compared = curve.differences().plot().axes[0].get_xlabel()
    assert "relative potency" not in compared
    # Captions can be read where a figure is shown at 80 dots an inch.
    assert min(text.get_fontsize() for text in curve.plot().texts) >= 9
    dead = deaths().damage_threshold().plot()
    assert [text.get_text() for text in dead.legends[0].get_texts()] == ["dead of stuck", "rooted of survivors"]


def test_out_of_reach_is_said_in_words() -> None:
    found = demo().strength_curve(at={"rootstock": "K12"}).strength_for(0.97)
    assert found.rows[0].value is None
    assert found.rows[0].high == math.inf
    assert any("may never be reached" in line for line in found.details)
    # The curve falls behind its top: no strength farther out will do.
    assert found.table()["says"][0].endswith("or never reached")
    assert "no upper limit" not in repr(found)


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
        warnings.simplefilter("ignore", FewTraysWarning)
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
        CurveError,
        "K17 holds the single strength 500; a curve needs at least two strengths",
        within="rootstock",
    )
    refused(
        loaded(counts(["low", "high"] * 3, [2, 9, 3, 8, 4, 10])),
        CurveError,
        'level "high" of "strength" is not a number; a strength curve needs strengths as numbers in one unit',
    )
    refused(
        loaded(counts([-5, 500] * 3, [2, 9, 3, 8, 4, 10])),
        CurveError,
        'column "strength" holds strength -5, which is below 0; correct it '
        "(a trial loaded with strength= names the row)",
    )
    refused(
        demo(),
        CurveError,
        '"rootstock" differs between trays too; name it in within= for a curve each, in common= for one curve of all, '
        'or keep one level with at={"rootstock": "K12"}',
    )
    refused(
        hump,
        CurveError,
        "zero_scale -1 is not a strength above 0; give d0 of log(1 + d/d0) in the unit of the strengths",
        zero_scale=-1,
    )
    refused(
        hump,
        CountError,
        "nearly 5 is outside 0 to 1; give it as a proportion, 0.05 for 5 trees per 100",
        nearly=5,
    )
    refused(hump, CountError, "enough 2 is outside 0 to 1", enough=2)
    with pytest.raises(ChoiceError, match='shape "humpy" is not known; did you mean "hump"'):
        hump.strength_curve(shape="humpy")  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match='column "dose" is not known'):
        hump.strength_curve(strength="dose")
    with pytest.raises(CurveError, match="there is one curve only"):
        hump.strength_curve().differences()
    with pytest.raises(CountError, match="take 60 is not between 0 and 1"):
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
        ).strength_curve(within="substance").differences()
    units = loaded({**HUMP, "unit": ["mg/L", "mM"] * 12}, ["strength", "unit"])
    refused(
        units,
        CurveError,
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
    trial.strength_curve(within="rootstock", draws=200_000_000)
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


def deaths(**changes: Any) -> rl.Trial:
    counts: dict[str, Any] = {
        "strength": [strength for strength in (0, 1000, 2000, 4000, 8000) for _ in range(4)],
        "tray": list(range(20)),
        "stuck": [20] * 20,
        "rooted": [3, 2, 4, 3, 9, 8, 10, 7, 12, 13, 11, 12, 10, 9, 11, 9, 3, 4, 2, 3],
        "dead": [1, 0, 1, 0, 1, 2, 0, 1, 1, 2, 1, 1, 4, 3, 5, 3, 12, 11, 13, 12],
        **changes,
    }
    declared = rl.Strength("IBA", unit="mg/L", method="quick dip")
    return rl.load_trial(
        counts, rooted="rooted", stuck="stuck", dead="dead", treatments="strength", tray="tray", strength=declared
    )


def test_three_outcomes(tmp_path: Path) -> None:
    found = deaths().damage_threshold()
    levels = found.levels()
    assert levels.select(pl.sum_horizontal("rooted", "alive_unrooted", "dead") == pl.col("stuck")).to_series().all()
    assert found.table()["located"].to_list() == ["located"]
    assert 1000 < found.table()["value"][0] < 8000
    assert {"read_the_label", "tested_range_only"} <= {note.code for note in found.notes}
    assert "rooted among survivors" in found.methods
    assert "Crump" in " ".join(found.references)
    assert rl.Result.from_json(found.to_json()) == found
    found.plot().savefig(tmp_path / "damage.svg")
    rl.report.write([found], tmp_path / "report.html")
    with pytest.raises(CurveError, match="no column of deaths was named; load the trial with dead="):
        demo().damage_threshold()
    with pytest.raises(TrialDataError) as caught:
        deaths(dead=[18, *[0] * 19])
    assert [(issue.code, issue.row) for issue in caught.value.issues] == [("rooted_and_dead_above_stuck", 1)]


def test_a_curve_stays_below_deaths(tmp_path: Path) -> None:
    curve, damage = deaths().strength_curve(), deaths().damage_threshold()
    below = damage.table()["low"][0]
    assert curve.table()["stay_below"].to_list() == [below]
    assert any("stay below" in line for line in curve.details)
    assert len(curve.sentence.split()) <= 30
    assert rl.Result.from_json(curve.to_json()) == curve
    # The record knows it too.
    wanted = rl.Result.from_json(curve.to_json()).strength_for(0.5)
    assert any("stay below" in line for line in wanted.details)
    curve.plot().savefig(tmp_path / "curve.svg")
    assert "stay_below" not in demo().strength_curve(at={"rootstock": "K12"}).table().columns


def test_nothing_is_said_where_all_died(tmp_path: Path) -> None:
    found = deaths(rooted=[0] * 20, dead=[20] * 20).damage_threshold()
    assert found.sentence.startswith("All cuttings died at every strength: nothing can be said about damage")
    assert found.table().select("value", "low", "high", "p").row(0) == (None, None, None, None)
    assert rl.Result.from_json(found.to_json()) == found
    found.plot().savefig(tmp_path / "damage.svg")


def test_next_trial(tmp_path: Path) -> None:
    curve = demo(strength=rl.Strength("IBA", unit="mg/L", method="quick dip")).strength_curve(within="rootstock")
    planned = curve.next_strengths(trays=10, cuttings=20)
    table = planned.table()
    assert set(table["rootstock"]) == {"K12", "K17"}
    sums = table.group_by("rootstock", "narrows").agg(pl.col("n_units").sum())
    assert sums["n_units"].to_list() == [10] * sums.height
    zero = table.group_by("rootstock", "narrows").agg(pl.col("strength").min())["strength"]
    beside = [", beside strength 0 as the control" in line for line in planned.details]
    assert sum(beside) == sum(zero > 0)
    assert all(table["why"])
    assert table.filter(pl.col("narrows") == "best strength").group_by("rootstock").len()["len"].min() >= 4
    assert {"read_the_label", "local_design"} <= {note.code for note in planned.notes}
    assert rl.Result.from_json(planned.to_json()) == planned
    planned.plot().savefig(tmp_path / "next.svg")
    with pytest.raises(CountError, match="trays 0 is outside 1 to 400"):
        curve.next_strengths(trays=0)
    with pytest.raises(CountError, match="strengths 1 is outside 2 to 20"):
        curve.next_strengths(strengths=1)
    rising = rl.load_trial(
        {
            "strength": [d for d in STRENGTHS for _ in range(4)],
            "tray": list(range(24)),
            "stuck": [20] * 24,
            "rooted": [2, 3, 1, 2, 4, 5, 3, 4, 6, 8, 7, 5, 9, 10, 8, 11, 12, 13, 11, 14, 16, 17, 15, 16],
        },
        rooted="rooted",
        stuck="stuck",
        treatments="strength",
        tray="tray",
    )
    beyond = rising.strength_curve().next_strengths()
    assert "outside_tested_range" in {note.code for note in beyond.notes}


def darkness(rooms: int, **changes: Any) -> rl.Trial:
    """Three darknesses, each in ``rooms`` rooms; the best strength falls with darkness."""
    takes = {14: [3, 6, 9, 12, 14, 11], 28: [4, 8, 12, 14, 12, 6], 42: [4, 10, 13, 12, 8, 3]}
    rows: dict[str, list[Any]] = {name: [] for name in ("dark_days", "room", "strength", "tray", "rooted", "stuck")}
    for day, rooted in takes.items():
        for room in range(rooms):
            for at, (strength, count) in enumerate(zip(STRENGTHS * 2, rooted * 2, strict=True)):
                values = (day, f"{day}-{room}", strength, len(rows["tray"]), count + (at + room) % 3 - 1, 20)
                for name, value in zip(rows, values, strict=True):
                    rows[name].append(value)
    return loaded(rows, ["strength", "dark_days"], **{"whole_plot": "room", **changes})


def test_strength_and_darkness(tmp_path: Path) -> None:
    found = darkness(3).response_surface()
    table = found.table()
    assert table["dark_days"].to_list() == [14, 28, 42]
    assert table["value"].to_list() == sorted(table["value"].to_list(), reverse=True)
    assert {"read_the_label", "tested_range_only"} <= {note.code for note in found.notes}
    assert "The best strength shifts with darkness" in found.sentence
    assert "Box" in " ".join(found.references)
    assert found.top.region
    assert rl.Result.from_json(found.to_json()) == found
    found.plot().savefig(tmp_path / "surface.svg")
    rl.report.write([found], tmp_path / "report.html")
    single = darkness(1).response_surface()
    assert single.withheld is not None
    assert "darkness_confounded" in {note.code for note in single.notes}
    assert {test.method for test in single.tests} == {"one best strength at every darkness", "lack of fit"}
    single.plot().savefig(tmp_path / "withheld.svg")
    assert "darkness_by_tray" in {note.code for note in darkness(2, whole_plot=None).response_surface().notes}
    with pytest.raises(ChoiceError, match='did you mean "dark_days"'):
        darkness(2).response_surface("dark_day")


def test_apple_shoots() -> None:
    # Ridout, Demétrio and Hinde 1998 (data of Marin et al. 1993): 138 of 140 shoots rooted at 8 h, 68 of 130 at 16 h;
    # three of the eight cells at 100 %, four strengths of BAP and no zero, no containers recorded.
    frame = pl.read_csv(HERE / "data" / "marin_1993.csv")
    hours, bap = frame.columns[:2]
    cells = (
        frame.with_columns(rooted=pl.when(pl.col("roots") > 0).then("shoots").otherwise(0))
        .group_by(hours, bap, maintain_order=True)
        .agg(pl.col("rooted", "shoots").sum())
        .rename({bap: "strength", hours: "photoperiod"})
    )
    trial = rl.load_trial(cells, rooted="rooted", stuck="shoots", treatments=["strength", "photoperiod"])
    curve = trial.strength_curve(within="photoperiod")
    sums = curve.levels().group_by("curve").agg(pl.col("rooted", "stuck").sum()).sort("stuck")
    assert sums.select("rooted", "stuck").rows() == [(68, 130), (138, 140)]
    assert (curve.levels()["value"] == 1).sum() == 3
    assert {"no_zero_strength", "no_tray_information"} <= {note.code for note in curve.notes}
    assert all(best.located != "located" for best in curve.best_strength.values())
    assert all(0 <= take <= 1 for one in curve.curves for take in one.line.high)
