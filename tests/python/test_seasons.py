"""Seasons pooled: names, records, what stays out, what is refused."""

from __future__ import annotations

import re
import warnings
from collections.abc import Sequence
from functools import cache
from typing import Any

import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, RootlingError
from test_decisions import YEARS as COUNTS

PLAIN: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray"}
ASKED: tuple[Any, ...] = ("strength", 2500, 5000)


def load(first: Sequence[int], second: Sequence[int], **options: Any) -> rl.Trial:
    trays = len(first) + len(second)
    rows = {
        "strength": [2500] * len(first) + [5000] * len(second),
        "tray": list(range(trays)),
        "rooted": [*first, *second],
        "stuck": [20] * trays,
    }
    season = options.pop("season", None)
    if season is not None:
        rows["season"] = [season] * trays
        options["season"] = "season"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return rl.load_trial(rows, **{**PLAIN, **options})


@cache
def years(count: int) -> tuple[rl.Trial, ...]:
    return tuple(load(*counts) for counts in COUNTS[:count])


@cache
def six() -> rl.seasons.Pooled:
    return rl.seasons.pool(years(6), *ASKED)


def test_five_and_more_seasons() -> None:
    found = six()
    assert (found.n_seasons, found.provisional, found.these_alone) == (6, False, False)
    assert re.match(r"Use strength 5000: over 6 seasons 2\d more trees per 100 than 2500 ", found.sentence)
    assert len(found.sentence.split()) <= 30
    assert found.new_low is not None
    assert found.new_high is not None
    assert found.new_low <= found.low < found.value < found.high <= found.new_high
    assert found.table()["season"].to_list() == [*"123456", "average", "a new season"]
    assert sum(one.weight for one in found.seasons) == pytest.approx(1.0)
    assert all(one.without is not None and one.p_adjusted is not None for one in found.seasons)


@pytest.mark.parametrize(("count", "provisional", "note"), [(2, False, "two_seasons"), (4, True, "few_seasons")])
def test_few_seasons_say_so(count: int, provisional: bool, note: str) -> None:
    found = rl.seasons.pool(years(count), *ASKED)
    assert found.provisional is provisional
    assert note in [one.code for one in found.notes]
    assert (found.new_low is None) is (count == 2)
    assert found.sentence.startswith("Provisionally" if provisional else "Over these 2 seasons")


def test_names() -> None:
    trials = years(3)
    named = rl.seasons.pool(trials, *ASKED, seasons=[2022, "2023 late", 2024])
    assert [one.season for one in named.seasons] == ["2022", "2023 late", "2024"]
    by_name = rl.seasons.pool({2022: trials[0], "2023 late": trials[1], 2024: trials[2]}, *ASKED)
    assert by_name == named
    own = [load(*counts, season=2020 + at) for at, counts in enumerate(COUNTS[:3])]
    assert [one.season for one in rl.seasons.pool(own, *ASKED).seasons] == ["2020", "2021", "2022"]


def test_records_pool_as_trials_do() -> None:
    texts = [trial.compare(*ASKED).to_json() for trial in years(6)]
    found = rl.seasons.pool([rl.Result.from_json(text) for text in texts])
    assert found.numbers == six().numbers
    mixed = rl.seasons.pool([years(6)[0].compare(*ASKED), *years(6)[1:]], *ASKED)
    assert mixed.numbers == six().numbers
    assert rl.seasons.pool([one.compare(*ASKED).to_dict() for one in years(6)]).numbers == six().numbers


def test_a_record_comes_back() -> None:
    assert rl.Result.from_json(six().to_json()) == six()
    assert isinstance(rl.Result.from_dict(six().to_dict()), rl.seasons.Pooled)
    assert rl.verify(six().to_json(), years(6)).exact
    named = dict(zip("abcdef", years(6), strict=True))
    assert rl.verify(rl.seasons.pool(named, *ASKED).to_json(), named).exact
    assert rl.verify(six().to_json(), [*years(6)[1:], years(6)[0]]).data_changed
    with pytest.raises(ChoiceError, match=r"seasons\.pool is asked of a trial and a trial"):
        rl.verify(six(), years(6)[0])


def test_the_seed_decides_draws_alone() -> None:
    other = rl.seasons.pool(years(6), *ASKED, seed=2)
    assert (other.value, other.low, other.high) == (six().value, six().low, six().high)
    assert other.new_low != six().new_low
    assert other.new_low == pytest.approx(six().new_low, abs=0.01)
    assert rl.seasons.pool(years(6), *ASKED) == six()


def test_a_season_without_limits_is_listed() -> None:
    found = rl.seasons.pool([*years(3), load([9], [13]), load([9, 8], [13, 12], tray=None)], *ASKED)
    assert [one.season for one in found.left_out] == ["4", "5"]
    assert found.n_seasons == 3
    assert "season_left_out" in [one.code for one in found.notes]
    assert found.table()["season"].to_list()[3:5] == ["4, left out", "5, left out"]


def test_a_strength_is_said_with_its_unit() -> None:
    strength = rl.Strength("IBA", unit="mg/L", method="quick dip")
    trials = [load(*counts, strength=strength) for counts in COUNTS]
    found = rl.seasons.pool(trials, *ASKED)
    assert found.sentence.startswith("Use 5000 mg/L IBA: over 6 seasons")
    assert "read_the_label" in [one.code for one in found.notes]


def test_faces() -> None:
    found = six()
    assert "Paule and Mandel" in found.methods
    assert any("Iyer HK" in line for line in found.references)
    assert found.made_with.seed == 1
    assert ["draws", "10000"] in [list(one) for one in found.made_with.options]
    assert len(found.plot().axes) == 1
    assert "n = 48 trays, 960 cuttings." in found.caption


@pytest.mark.parametrize(
    ("ask", "told"),
    [
        (lambda: rl.seasons.pool(years(1)[0], *ASKED), "a single Trial is no list of seasons"),
        (lambda: rl.seasons.pool("2024", *ASKED), "is no list of seasons"),
        (lambda: rl.seasons.pool([1, 2], *ASKED), "entry 1 of trials is 1, neither a trial nor a comparison"),
        (lambda: rl.seasons.pool([six(), six()]), "entry 1 of trials is a single Pooled"),
        (lambda: rl.seasons.pool(years(2)), "trials do not say what is compared"),
        (lambda: rl.seasons.pool([], *ASKED), "no season can enter; seasons are pooled from two on"),
        (lambda: rl.seasons.pool(years(1), *ASKED), "only one season can enter"),
        (lambda: rl.seasons.pool([*years(2), years(1)[0]], *ASKED), 'seasons "1" and "3" hold the very same counts'),
        (lambda: rl.seasons.pool(years(2), *ASKED, seasons=["a", "a"]), 'two seasons are called "a"'),
        (lambda: rl.seasons.pool(years(2), *ASKED, seasons=["a"]), "does not name 2 seasons"),
        (lambda: rl.seasons.pool(years(2), *ASKED, seasons=[True, "b"]), "True is no name of a season"),
        (lambda: rl.seasons.pool({"a": years(1)[0]}, *ASKED, seasons=["a"]), "these have names; leave it out"),
        (lambda: rl.seasons.pool(years(2), "strength", 2500, 2500), "is named twice"),
        (lambda: rl.seasons.pool(years(2), "strength", 2500, 8000), 'season "1": '),
        (lambda: rl.seasons.pool(years(2), *ASKED, draws=10), "draws=10 is not between 1000 and 200000"),
        (lambda: rl.seasons.pool(years(2), *ASKED, confidence=95), "confidence 95 is not between 0 and 1"),
        (
            lambda: rl.seasons.pool([years(2)[0].compare(*ASKED), years(2)[1].compare("strength", 5000, 2500)]),
            'season "2" has levels "5000 and 2500", where "2500 and 5000" is wanted as in the others',
        ),
        (
            lambda: rl.seasons.pool([one.compare(*ASKED) for one in years(2)], at={"rootstock": "K12"}),
            "comparisons were asked before",
        ),
    ],
)
def test_what_is_refused(ask: Any, told: str) -> None:
    with pytest.raises(RootlingError, match=re.escape(told)):
        ask()


def test_comparisons_bring_the_unit_of_their_strengths() -> None:
    iba = rl.Strength("IBA", unit="mg/L", method="quick dip")
    trials = [
        rl.load_trial(
            rl.demo.two_strengths(seed=seed),
            rooted="rooted",
            stuck="stuck",
            treatments=["strength"],
            tray="tray",
            strength=iba,
        )
        for seed in (1, 2, 3)
    ]
    records = [rl.Result.from_json(one.compare("strength", 2500, 5000).to_json()) for one in trials]
    assert rl.seasons.pool(records).sentence == rl.seasons.pool(trials, "strength", 2500, 5000).sentence
    assert "5000 mg/L IBA" in rl.seasons.pool(records).sentence
    naa = rl.Strength("NAA", unit="mg/L", method="quick dip")
    other = rl.load_trial(
        rl.demo.two_strengths(seed=4),
        rooted="rooted",
        stuck="stuck",
        treatments=["strength"],
        tray="tray",
        strength=naa,
    )
    with pytest.raises(ChoiceError, match='has strengths in "mg/L NAA", where "mg/L IBA" is wanted'):
        rl.seasons.pool([*records, other.compare("strength", 2500, 5000)])
