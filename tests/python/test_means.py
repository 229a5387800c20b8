"""Models of means: numbers written out anew from their formulas, published means of a split plot, and what is said."""

from __future__ import annotations

import json
import math
import warnings
from functools import cache
from typing import Any

import numpy as np
import pytest
import rootling as rl
from numpy.typing import NDArray
from rootling.exceptions import ChoiceError, RootlingError
from scipy import stats

Vector = NDArray[np.float64]
RESPONSES = {"roots": rl.responses.count(), "longest": rl.responses.length("cm")}


@cache
def trial(block: str | None = "bench") -> rl.Trial:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return rl.load_trial(
            rl.demo.roots(seed=1),
            rooted="rooted",
            treatments=["strength", "rootstock"],
            tray="tray",
            block=block,
            responses=RESPONSES,
            primary="roots",
        )


def both(block: str | None = "bench", **options: Any) -> rl.models.MeanModel:
    interactions = [("strength", "rootstock")]
    return trial(block).model(["strength", "rootstock"], interactions=interactions, response="roots", **options)


class ByHand:
    """Least squares of tray means with the variances of a model of means, by matrices (Bell and McCaffrey 2002)."""

    def __init__(self, *, block: bool) -> None:
        frame = rl.demo.roots(seed=1)
        trays = frame["tray"].unique().sort().to_list()
        rows = [frame.filter(frame["tray"] == tray) for tray in trays]
        self.size = np.array([float(len(one)) for one in rows])
        counts = [one["roots"].to_numpy().astype(float) for one in rows]
        self.mean = np.array([one.mean() for one in counts])
        self.inside = np.array([((one - one.mean()) ** 2).sum() for one in counts])
        cells = [(str(one["strength"][0]), str(one["rootstock"][0])) for one in rows]
        self.cells = [(strength, stock) for strength in ("0", "2500", "5000") for stock in ("K12", "K17")]
        self.level = np.array([self.cells.index(one) for one in cells])
        x = np.eye(6)[self.level]
        if block:
            benches = np.array([one["bench"][0] for one in rows])
            dummies = np.stack([(benches == name).astype(float) for name in ("B1", "B2", "B3", "B4")], 1)
            x = np.hstack([x, dummies - (self.size @ dummies) / self.size.sum()])
        self.to_coef = np.linalg.pinv(np.sqrt(self.size)[:, None] * x) * np.sqrt(self.size)
        self.coef = self.to_coef @ self.mean
        self.left = np.eye(len(trays)) - x @ self.to_coef
        self.residual = self.left @ self.mean
        self.lever = 1 - np.diag(self.left)
        self.block = block

    def _own(self, level: int, squares: Vector) -> tuple[float, float, float]:
        """A level's own variance, that of values of variance 1, and its degrees of freedom."""
        mine = (self.level == level) & (squares > 1e-24)
        spread = float((squares / self.size)[mine].sum())
        weight = np.where(mine, squares / (1 - self.lever), 0)
        own = float((weight * self.residual**2).sum())
        cov = self.left @ np.diag(1 / self.size) @ self.left.T
        both_ways = float(weight @ (cov * cov) @ weight)
        df = float((weight * np.diag(cov)).sum()) ** 2 / both_ways if both_ways > 0 else 0.0
        held = self.level == level
        of_values = self.inside[held].sum() / (self.size[held].sum() - held.sum())
        return max(own, float(of_values) * spread), spread, df

    def variance(self, squares: Vector) -> tuple[float, float, Vector]:
        """The variance, its degrees of freedom, and the variance of one value of each tray."""
        means = [np.average(self.mean[self.level == at], weights=self.size[self.level == at]) for at in range(6)]
        parts = [self._own(at, self.size**2) for at in range(6)]
        df = sum(part[2] for part in parts)
        common = sum(part[2] * part[0] / part[1] / mean**1.5 for part, mean in zip(parts, means, strict=True)) / df
        found = [self._own(at, squares) for at in range(6)]
        expected = [common * mean**1.5 * part[1] for part, mean in zip(found, means, strict=True)]
        each = [(p[2] * p[0] + 2 * e) / (p[2] + 2) if p[1] > 0 else 0.0 for p, e in zip(found, expected, strict=True)]
        relative = np.array([each[at] / found[at][1] if found[at][1] > 0 else 0.0 for at in self.level])
        weight = squares / (1 - self.lever)
        cov = self.left @ np.diag(relative / self.size) @ self.left.T
        error = (weight @ np.diag(cov)) ** 2 / (weight @ (cov * cov) @ weight)
        if not self.block:
            error = sum(each) ** 2 / sum(v**2 / p[2] for v, p in zip(each, found, strict=True) if p[1] > 0)
        return sum(each), float(error), relative

    def contrast(self, weights: Vector) -> tuple[float, float, float]:
        share = weights @ self.to_coef[:6]
        variance, df, _ = self.variance(share**2)
        return float(weights @ self.coef[:6]), math.sqrt(variance), df

    def effect(self, projection: Vector) -> tuple[float, float, float]:
        values, vectors = np.linalg.eigh(projection)
        rows = vectors[:, values > 0.5].T
        shares = rows @ self.to_coef[:6]
        _, error, relative = self.variance((shares**2).sum(0))
        cov = shares @ np.diag(relative / self.size) @ shares.T
        statistic = ((rows @ self.coef[:6]) ** 2).sum() / np.trace(cov)
        return float(statistic), float(np.trace(cov) ** 2 / (cov * cov).sum()), error


def projections() -> dict[str, Vector]:
    """What an effect says of the six combinations, strength before rootstock."""
    three, two = np.full((3, 3), 1 / 3), np.full((2, 2), 1 / 2)
    return {
        "strength": np.kron(np.eye(3) - three, two),
        "rootstock": np.kron(three, np.eye(2) - two),
        "strength x rootstock": np.kron(np.eye(3) - three, np.eye(2) - two),
    }


@pytest.mark.parametrize("block", ["bench", None])
def test_effects_are_what_their_formula_makes_them(block: str | None) -> None:
    # Brunner, Dette and Munk (1997), by matrices and scipy's F.
    hand = ByHand(block=block is not None)
    for row in both(block).what_matters().effects:
        statistic, df, error = hand.effect(projections()[row.effect])
        assert row.statistic == pytest.approx(statistic, rel=1e-9)
        assert row.df == pytest.approx(df, rel=1e-9)
        assert row.error_df == pytest.approx(error, rel=1e-9)
        assert row.p == pytest.approx(stats.f.sf(statistic, df, error), rel=1e-8, abs=0)


@pytest.mark.parametrize("block", ["bench", None])
def test_contrasts_are_what_their_formula_makes_them(block: str | None) -> None:
    hand = ByHand(block=block is not None)
    found = both(block).contrasts("strength", against=0, together="none")
    for row, level in zip(found.contrasts, (1, 2), strict=True):
        weights = np.kron(np.eye(3)[level] - np.eye(3)[0], np.full(2, 0.5))
        value, se, df = hand.contrast(weights)
        assert (row.value, row.se, row.df) == pytest.approx((value, se, df), rel=1e-9)
        assert row.p == pytest.approx(2 * stats.t.sf(abs(value / se), df), rel=1e-8, abs=0)
        reach = stats.t.ppf(0.975, df) * se
        assert (row.low, row.high) == pytest.approx((value - reach, value + reach), rel=1e-9)
        assert row.p_adjusted == row.p


def test_a_single_treatment_is_what_a_comparison_makes_of_it() -> None:
    two = rl.demo.roots(seed=3).filter(rl.demo.roots(seed=3)["strength"] < 5000)
    roles: dict[str, Any] = {"rooted": "rooted", "treatments": "strength", "tray": "tray"}
    own = rl.load_trial(two, **roles, responses={"roots": rl.responses.count()})
    compared = own.compare("strength", 0, 2500, response="roots")
    effect = own.model("strength", response="roots").what_matters().effects[0]
    row = own.model("strength", response="roots").contrasts("strength").contrasts[0]
    assert effect.p == pytest.approx(compared.p, rel=1e-9, abs=0)
    assert (row.value, row.low, row.high) == pytest.approx((compared.value, compared.low, compared.high), rel=1e-9)


@cache
def oats() -> rl.Trial:
    """The split plot of Yates (1935): three kinds of oats in six blocks, four amounts of manure in each plot."""
    rows = [
        line.split(",")
        for line in (rl_data() / "yates_1935.csv").read_text(encoding="utf-8").splitlines()
        if line and not line.startswith("#")
    ]
    head, body = rows[0], rows[1:]
    table: dict[str, list[Any]] = {name: [row[at] for row in body] for at, name in enumerate(head)}
    table["plot"] = [f"{a}-{b}" for a, b in zip(table["block"], table["variety"], strict=True)]
    table["unit"] = [str(at) for at in range(len(body))]
    table["grown"], table["set"] = [10] * len(body), [10] * len(body)
    table["crop"] = [float(x) for x in table["yield"]]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return rl.load_trial(
            table,
            rooted="grown",
            stuck="set",
            treatments=["variety", "nitrogen"],
            tray="unit",
            block="block",
            whole_plot="plot",
            responses={"crop": rl.responses.mass("g", means_of="grown")},
            primary="crop",
        )


def rl_data() -> Any:
    from pathlib import Path

    return Path(__file__).parent.parent / "data"


def test_means_of_a_published_split_plot() -> None:
    # Balanced, so every fit has the plain means of the data of Yates (1935), which are sums by hand.
    model = oats().model(["variety", "nitrogen"], interactions=[("variety", "nitrogen")], response="crop")
    manure = model.adjusted_means("nitrogen").means
    assert [round(one.value, 2) for one in manure] == [79.39, 98.89, 114.22, 123.39]
    kinds = sorted(one.value for one in model.adjusted_means("variety").means)
    assert kinds == pytest.approx([97.63, 104.5, 109.79], abs=0.006)


def test_effects_of_a_split_plot_are_judged_where_they_lie() -> None:
    model = oats().model(["variety", "nitrogen"], interactions=[("variety", "nitrogen")], response="crop")
    found = {one.effect: one for one in model.what_matters().effects}
    assert found["variety"].test == "F on plot"
    assert found["nitrogen"].test == found["variety x nitrogen"].test == "F"
    # Ten degrees of freedom of plots and forty-five within them at most, where variances are one and the same.
    assert found["variety"].error_df < 10.5
    assert 20 < found["nitrogen"].error_df <= 45.5
    # Analysis of variance of Yates (1935) by R 4.2.2, aov: F 1.48534037943633 on 2 and 10 degrees of freedom of plots
    # (P 0.272386856735208), within them 37.6856470588235 on 3 and 45 (P 2.46e-12) and 0.302823529411766 on 6 and 45
    # (P 0.932198758999224). It takes variances as one and the same, so each F is about as large, and no more is asked.
    assert found["variety"].statistic == pytest.approx(1.48534037943633, rel=0.1)
    assert found["nitrogen"].statistic == pytest.approx(37.6856470588235, rel=0.1)
    assert found["variety x nitrogen"].statistic == pytest.approx(0.302823529411766, rel=0.1)
    assert [one.p < 0.05 for one in found.values()] == [False, True, False]


def test_few_plots_are_told_though_trays_are_many() -> None:
    bench = rl.demo.roots(seed=1)["bench"]
    frame = rl.demo.roots(seed=1).with_columns(dark=bench.replace({"B2": "B1", "B3": "B4"}), room=bench)
    roles: dict[str, Any] = {"rooted": "rooted", "treatments": ["strength", "dark"], "tray": "tray"}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        own = rl.load_trial(frame, **roles, whole_plot="room", responses={"roots": rl.responses.count()})
    found = own.model(["strength", "dark"], response="roots").adjusted_means("dark")
    assert [one.n_units for one in found.means] == [12, 12]
    told = next(note.text for note in found.notes if note.code == "few_trays")
    assert "rooms" in told
    assert "Dark was given to rooms as a whole, 2 of them at the least for a level." in found.details


def test_both_parts_stand_beside_each_effect() -> None:
    rows = both().what_matters().effects
    rooted = {one.effect: one.p for one in both(mean_of="rooted").what_matters().effects}
    takes = trial().model(["strength", "rootstock"], interactions=[("strength", "rootstock")]).what_matters().effects
    for row, take in zip(rows, takes, strict=True):
        assert row.of_rooted_p == pytest.approx(rooted[row.effect], rel=1e-12, abs=0)
        assert row.take_p == pytest.approx(take.p, rel=1e-12, abs=0)


def test_joint_p_values_lie_between_single_ones_and_bonferroni() -> None:
    alone = both().contrasts("strength", together="none").contrasts
    joint = both().contrasts("strength").contrasts
    for one, all_ in zip(alone, joint, strict=True):
        assert one.p <= all_.p_adjusted <= min(1.0, 3 * one.p) * (1 + 1e-6)
        assert all_.low <= one.low <= one.high <= all_.high
        assert (all_.p_adjusted < 0.05) == (all_.low > 0 or all_.high < 0)


def test_letters_share_one_exactly_where_no_difference_is_shown() -> None:
    found = both().letters("strength")
    pairs = both().contrasts("strength").contrasts
    letters = [set(one.letters) for one in found.means]
    places = [(0, 1), (0, 2), (1, 2)]
    for (i, j), row in zip(places, pairs, strict=True):
        assert bool(letters[i] & letters[j]) == (row.p_adjusted >= 0.05)


def test_averages_and_held_levels() -> None:
    model = both()
    cells = {(one.by, one.within): one.value for one in model.adjusted_means("strength", within="rootstock").means}
    alike = model.adjusted_means("strength").means
    mixed = model.adjusted_means("strength", average={"rootstock": {"K12": 3, "K17": 1}}).means
    held = model.adjusted_means("strength", at={"rootstock": "K17"}).means
    for one, other, third in zip(alike, mixed, held, strict=True):
        k12, k17 = cells[one.by, "K12"], cells[one.by, "K17"]
        assert one.value == pytest.approx((k12 + k17) / 2, rel=1e-12)
        assert other.value == pytest.approx(0.75 * k12 + 0.25 * k17, rel=1e-12)
        assert third.value == pytest.approx(k17, rel=1e-12)


def test_expected_means_of_rows_are_those_of_levels() -> None:
    cells = both().adjusted_means("strength", within="rootstock").means
    rows = both().predict({"strength": [one.by for one in cells], "rootstock": [one.within for one in cells]}).rows
    assert [(a.value, a.low, a.high) for a in rows] == [(b.value, b.low, b.high) for b in cells]


def test_order_of_rows_changes_nothing() -> None:
    frame = rl.demo.roots(seed=1)
    turned = frame.reverse()
    roles: dict[str, Any] = {"rooted": "rooted", "treatments": ["strength", "rootstock"], "tray": "tray"}
    found = []
    for one in (frame, turned):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            own = rl.load_trial(one, **roles, block="bench", responses={"roots": rl.responses.count()})
        found.append(own.model(["strength", "rootstock"], response="roots").what_matters().effects)
    for one, other in zip(*found, strict=True):
        assert one.p == pytest.approx(other.p, rel=1e-9, abs=0)


def test_one_bay_for_each_level_is_not_tested() -> None:
    bench = rl.demo.roots(seed=1)["bench"].replace({"B3": "B1", "B4": "B2"})
    frame = rl.demo.roots(seed=1).with_columns(dark=bench, room=bench)
    roles: dict[str, Any] = {"rooted": "rooted", "treatments": ["strength", "dark"], "tray": "tray"}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        own = rl.load_trial(frame, **roles, whole_plot="room", responses={"roots": rl.responses.count()})
    found = {one.effect: one for one in own.model(["strength", "dark"], response="roots").what_matters().effects}
    assert found["dark"].test == "not tested"
    assert "rooms" in str(found["dark"].why)
    assert found["strength"].p < 0.05


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda: trial().model(["strenght"], response="roots"), "strength"),
        (lambda: trial().model(["strength"], response="leaves"), "no response is called"),
        (lambda: trial().model(["strength"], response="roots", link="probit"), "link= is about takes"),
        (lambda: trial().model(["strength"], response="roots", grades_of="stuck"), "grades_of= is about grades"),
        (lambda: trial().model(["strength"], mean_of="rooted"), "response="),
        (lambda: both().adjusted_means("strength", within="strength"), "named twice"),
        (lambda: both().adjusted_means("strength", at={"rootstock": "K99"}), "K99"),
        (lambda: both().contrasts("strength", together="tukey-kramer"), "variances are not one and the same"),
        (lambda: both().contrasts("strength", margin=-1.0), "margin"),
        (lambda: both().predict({"strength": [0]}), "rootstock"),
        (lambda: both().predict("strength"), "predict wants rows"),
        (lambda: both().predict({"strength": [0, 1], "rootstock": ["K12", "K12"]}), "level of strength"),
    ],
)
def test_mistakes_are_answered_in_words(ask: Any, said: str) -> None:
    with pytest.raises(RootlingError, match=said):
        ask()


def test_a_model_cannot_be_changed() -> None:
    with pytest.raises(AttributeError):
        both().effects = ("rootstock",)  # type: ignore[misc]


def test_records_hold_what_was_asked() -> None:
    found = both().contrasts("strength", against=0)
    record = json.loads(found.to_json())
    assert record["model"]["effects"] == ["strength", "rootstock"]
    assert type(found).from_json(found.to_json()) == found
    assert rl.verify(found, trial()).agrees


def test_roots_are_not_judged_where_trays_are_not_known() -> None:
    roles: dict[str, Any] = {"rooted": "rooted", "treatments": ["strength"]}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        own = rl.load_trial(rl.demo.roots(seed=1), **roles, responses={"roots": rl.responses.count()})
    with pytest.raises(ChoiceError, match="no trays were recorded"):
        own.model("strength", response="roots")
