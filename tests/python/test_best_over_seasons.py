"""Best strengths pooled over seasons: against the mathematics of differences, what stays out, what is refused."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import polars as pl
import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, StrengthWarning

IBA = rl.Strength("IBA", unit="mg/L", method="quick dip")
ROLES: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "tray": "tray"}
TAKES = (
    (0.15, 0.38, 0.55, 0.72, 0.62, 0.22),
    (0.12, 0.33, 0.50, 0.68, 0.66, 0.30),
    (0.18, 0.40, 0.60, 0.70, 0.50, 0.15),
)


def season(at: int, strengths: tuple[int, ...] = (0, 500, 1000, 2000, 4000, 8000), **options: Any) -> rl.Trial:
    """A season of five trays of 20 at each of these strengths; counts wander about their takes without a draw."""
    takes = TAKES[at % len(TAKES)]
    rows = [
        {
            "strength": strength,
            "tray": f"{strength}-{tray}",
            "rooted": round(20 * take) + (tray + at) % 3 - 1,
            "stuck": 20,
        }
        for strength, take in zip(strengths, takes, strict=False)
        for tray in range(5)
    ]
    given = {**ROLES, "treatments": "strength", "strength": IBA, **options}
    return rl.load_trial(pl.DataFrame(rows), **given)


@cache
def several(count: int) -> dict[str, rl.Trial]:
    # Seasons need not have tested the same strengths.
    tested = [(0, 500, 1000, 2000, 4000, 8000), (0, 600, 1200, 2400, 4800, 9600), (0, 400, 800, 1600, 3200, 6400)]
    return {str(2020 + at): season(at, tested[(at // 3 + at) % 3]) for at in range(count)}


def test_five_seasons_and_more() -> None:
    found = rl.seasons.pool_curves(several(6))
    assert (found.n_seasons, found.provisional, found.these_alone) == (6, False, False)
    assert found.sentence.startswith(("Use about ", "Leaning to about "))
    assert "mg/L IBA, the best strength over 6 seasons (" in found.sentence
    assert len(found.sentence.split()) <= 30
    assert found.new_low is not None
    assert found.new_high is not None
    assert found.new_low <= found.low < found.value < found.high <= found.new_high
    assert sum(one.weight for one in found.seasons) == pytest.approx(1.0)
    assert found.table()["season"].to_list() == [*several(6), "average", "a new season"]
    assert any(note.code == "read_the_label" for note in found.notes)
    assert rl.Result.from_json(found.to_json()) == found
    assert rl.verify(found.to_json(), list(several(6).values())).agrees


def test_the_average_is_that_of_paule_and_mandel() -> None:
    """Written out anew: the spread at which the scatter is seasons less one; limits of Hartung and Knapp."""
    from scipy import stats

    found = rl.seasons.pool_curves(several(6))
    x = [math.log1p(one.value / found.zero_scale) for one in found.seasons]
    v = [one.se**2 for one in found.seasons]

    def about(spread: float) -> tuple[float, float, float]:
        weights = [1 / (one + spread) for one in v]
        total = sum(weights)
        mean = sum(w * one for w, one in zip(weights, x, strict=True)) / total
        return mean, sum(w * (one - mean) ** 2 for w, one in zip(weights, x, strict=True)), total

    low, high = 0.0, 10.0
    if about(0.0)[1] > 5:
        for _ in range(200):
            middle = (low + high) / 2
            low, high = (middle, high) if about(middle)[1] > 5 else (low, middle)
    mean, scatter, total = about(low)
    assert found.value == pytest.approx(found.zero_scale * math.expm1(mean), rel=1e-8)
    assert found.spread == pytest.approx(math.sqrt(low), rel=1e-6, abs=1e-9)
    reach = stats.t.ppf(0.975, 5) * math.sqrt(scatter / 5 / total)
    # Never narrower than that.
    assert found.low <= found.zero_scale * math.expm1(mean - reach) * (1 + 1e-9)
    assert found.high >= found.zero_scale * math.expm1(mean + reach) * (1 - 1e-9)
    # Errors of seasons follow from their limits.
    for one in found.seasons:
        ends = math.log1p(one.high / found.zero_scale) - math.log1p(one.low / found.zero_scale)
        critical = stats.norm.ppf(0.975) if one.df is None else stats.t.ppf(0.975, one.df)
        assert one.se == pytest.approx(ends / 2 / critical, rel=1e-9)


def test_records_of_curves_say_the_same() -> None:
    trials = several(4)
    curves = {name: rl.Result.from_json(trial.strength_curve().to_json()) for name, trial in trials.items()}
    of_trials, of_curves = rl.seasons.pool_curves(trials), rl.seasons.pool_curves(curves)
    assert of_curves.sentence == of_trials.sentence
    assert (of_curves.value, of_curves.new_high) == (of_trials.value, of_trials.new_high)
    assert of_trials.provisional
    assert of_trials.sentence.startswith("Provisionally about ")


def test_two_seasons_speak_of_themselves() -> None:
    found = rl.seasons.pool_curves(several(2))
    assert found.these_alone
    assert found.new_low is None
    assert found.sentence.startswith("Over these 2 seasons ")
    assert "two_seasons" in [note.code for note in found.notes]
    assert found.plot() is not None


def test_a_best_strength_that_is_not_located_stays_out() -> None:
    rising = season(0, (0, 100, 200, 400))
    found = rl.seasons.pool_curves({**several(3), "2030": rising})
    (out,) = found.left_out
    assert out.season == "2030"
    assert "may lie at or above the highest tested" in out.why
    assert any(line.startswith("Season 2030 does not enter") for line in found.details)
    with pytest.raises(ChoiceError, match="only one season can enter"):
        rl.seasons.pool_curves({"a": season(0), "b": rising})


def test_what_cannot_be_pooled_is_said() -> None:
    with pytest.warns(StrengthWarning):
        molar = season(1, strength=rl.Strength("IBA", unit="mM", method="quick dip"))
    with pytest.raises(ChoiceError, match='season "b" has unit "mM", where "mg/L" is wanted'):
        rl.seasons.pool_curves({"a": season(0), "b": molar})
    with pytest.warns(StrengthWarning):
        other = season(1, strength=rl.Strength("NAA", unit="mg/L", method="quick dip"))
    with pytest.raises(ChoiceError, match='has substance "NAA", where "IBA" is wanted'):
        rl.seasons.pool_curves({"a": season(0), "b": other})
    with pytest.raises(ChoiceError, match="hold the very same counts"):
        rl.seasons.pool_curves({"a": season(0), "b": season(0)})
    with pytest.raises(ChoiceError, match="neither a trial nor a strength curve"):
        rl.seasons.pool_curves([season(0), 3])
    with pytest.raises(ChoiceError, match=r"draws=10 is not between"):
        rl.seasons.pool_curves(several(3), draws=10)
    several_curves = rl.load_trial(
        rl.demo.strengths(seed=1), **ROLES, treatments=["strength", "rootstock"], strength=IBA
    ).strength_curve(within="rootstock")
    with pytest.raises(ChoiceError, match="it has several curves; stay within one with at="):
        rl.seasons.pool_curves([several_curves, season(0)])
