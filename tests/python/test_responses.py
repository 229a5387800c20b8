"""Responses of a trial: how they are declared, what is refused, means, two levels compared, records."""

from __future__ import annotations

import json
import pickle
import warnings
from functools import cache
from typing import Any

import every_kind
import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, RootlingError, TrialDataError

ROLES: dict[str, Any] = {"rooted": "rooted", "treatments": "strength", "tray": "tray"}


def rows(trays: int = 8, cuttings: int = 10) -> dict[str, list[Any]]:
    """Every second tray has the stronger dip; roots and the longest of them on those that rooted."""
    table: dict[str, list[Any]] = {name: [] for name in ("strength", "tray", "rooted", "roots", "longest", "grade")}
    for tray in range(trays):
        for cutting in range(cuttings):
            strong = tray % 2
            rooted = (7 * cutting + 3 * tray) % 10 < (6 if strong else 3) + tray % 3
            roots = 1 + (cutting * cutting + tray) % (7 if strong else 3)
            values = (2500 * strong, f"t{tray}", int(rooted), roots, 0.5 * roots + strong, min(roots, 5))
            entries = [*values[:3], *(values[3:] if rooted else (0, None, 0))]
            for name, value in zip(table, entries, strict=True):
                table[name].append(value)
    return table


RESPONSES = {"roots": rl.responses.count(), "longest": rl.responses.length("cm"), "grade": rl.responses.grade(0, 5)}


@cache
def trial(primary: str | None = "roots") -> rl.Trial:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return rl.load_trial(rows(), **ROLES, responses=RESPONSES, primary=primary)


def test_a_trial_tells_of_its_responses() -> None:
    assert trial().responses == RESPONSES
    assert trial().primary == "roots"
    assert trial(None).primary == "take"
    assert any(line.startswith("roots: counts of ") for line in trial().design.lines)
    assert "roots: counts of" in repr(trial())
    assert trial().frame["longest"].to_list() == rows()["longest"]
    counts = trial().tray_counts()
    assert {"roots", "roots measured", "longest", "longest measured"} <= set(counts.columns)
    assert "grade" not in counts.columns
    assert pickle.loads(pickle.dumps(trial())).fingerprint == trial().fingerprint


def test_fingerprints_without_responses_stay() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        plain = rl.load_trial(rows(), **ROLES)
    assert plain.fingerprint != trial().fingerprint
    assert plain.responses == {}


def test_means_are_totals_over_totals() -> None:
    table = rows()
    found = trial().means("strength", response="roots")
    for mean, level in zip(found.means, (0, 2500), strict=True):
        own = [at for at, strength in enumerate(table["strength"]) if strength == level]
        total, rooted = sum(table["roots"][at] for at in own), sum(table["rooted"][at] for at in own)
        assert mean.value == pytest.approx(total / len(own))
        assert mean.of_rooted == pytest.approx(total / rooted)
        assert mean.take == pytest.approx(rooted / len(own))
        assert 0 <= mean.low < mean.value < mean.high
    assert found.sentence.startswith("Roots per cutting: from ")
    assert len(found.sentence.split()) <= 30
    of_rooted = trial().means("strength", response="roots", mean_of="rooted")
    assert [one.value for one in of_rooted.means] == [one.of_rooted for one in found.means]
    assert trial().means("strength", response="longest").mean_of == "rooted"


def test_two_levels_are_compared() -> None:
    found = trial().compare("strength", 0, 2500, response="roots")
    means = trial().means("strength", response="roots").means
    assert found.value == pytest.approx(means[1].value - means[0].value)
    assert found.low < found.value < found.high
    # Limits of the ratio hold 1 where those of the difference hold 0.
    assert (found.ratio.low > 1) == (found.low > 0)
    assert (found.p < 0.05) == (found.low > 0 or found.high < 0)
    assert found.randomisation.assignments == 70
    assert found.take.value == pytest.approx(means[1].take - means[0].take)
    assert found.sentence.startswith(("Use 2500", "Use strength 2500", "Leaning to strength 2500"))
    assert len(found.sentence.split()) <= 30
    turned = trial().compare("strength", 2500, 0, response="roots")
    assert (turned.value, turned.low, turned.high) == pytest.approx((-found.value, -found.high, -found.low))
    assert turned.p == pytest.approx(found.p)


def test_a_response_not_named_beforehand_is_secondary() -> None:
    found = trial(None).compare("strength", 0, 2500, response="roots")
    assert any(note.code == "secondary_response" for note in found.notes)
    assert not found.sentence.startswith("Use ")
    assert not any(note.code == "secondary_response" for note in trial().means(response="roots").notes)


def test_lengths_are_of_those_that_rooted() -> None:
    found = trial().compare("strength", 0, 2500, response="longest")
    assert found.mean_of == "rooted"
    assert " cm " in found.sentence
    assert any(note.code == "of_those_rooted" for note in found.notes)


def test_records_come_back_and_are_asked_again() -> None:
    for found in (
        trial().means("strength", response="roots"),
        trial().compare("strength", 0, 2500, response="roots"),
        trial().compare("strength", 0, 2500, response="longest", mean_of="stuck"),
    ):
        again = type(found).from_dict(json.loads(found.to_json()))
        assert again.to_dict() == found.to_dict()
        assert rl.verify(found, trial()).agrees
    for kind in ("response_means", "response_comparison"):
        assert rl.verify(every_kind.ASKED[kind](), every_kind.measured()).agrees


def test_blocks_are_strata() -> None:
    found = every_kind.measured().compare("strength", 0, 2500, response="roots")
    assert found.within == ("bench",)
    assert found.df < 10


def test_tray_means_say_what_is_lost() -> None:
    counts = {"strength": [0] * 4 + [2500] * 4, "tray": list("abcdefgh"), "stuck": [20] * 8}
    counts |= {"rooted": [6, 8, 5, 9, 13, 15, 12, 14], "roots": [2.0, 2.5, 2.2, 3.0, 4.0, 4.4, 3.5, 5.0]}
    loaded = rl.load_trial(counts, **ROLES, stuck="stuck", responses={"roots": rl.responses.count(means_of="rooted")})
    assert any(note.code == "spread_within_lost" for note in loaded.notes)
    found = loaded.compare("strength", 0, 2500, response="roots")
    assert found.value == pytest.approx(2.875 - 0.875)
    assert any(note.code == "spread_within_lost" for note in found.notes)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"responses": "roots"}, "does not say what its columns hold"),
        ({"responses": {"roots": "count"}}, "which is no response"),
        ({"responses": {3: rl.responses.count()}}, "which is no column"),
        ({"primary": 3}, "is no response"),
    ],
)
def test_what_is_declared_wrongly_is_refused(change: dict[str, Any], told: str) -> None:
    with pytest.raises(ChoiceError, match=told):
        rl.load_trial(rows(), **{**ROLES, "responses": RESPONSES, **change})


def test_declarations_that_cannot_be() -> None:
    with pytest.raises(ChoiceError, match="is no unit of a length"):
        rl.responses.length("g")
    with pytest.raises(ChoiceError, match="is no scale of grades"):
        rl.responses.grade(5, 0)
    with pytest.raises(ChoiceError, match="is no name of a column"):
        rl.responses.count(means_of=3)  # type: ignore[arg-type]


def test_all_entries_that_cannot_be_are_listed_together() -> None:
    table = rows()
    rooted = [at for at, one in enumerate(table["rooted"]) if one]
    table["roots"][rooted[0]], table["roots"][rooted[1]] = -1, 2.5
    table["longest"] = [None if one is None else str(one) for one in table["longest"]]
    table["longest"][rooted[2]] = "30 mm"
    table["grade"][rooted[3]] = 9
    with pytest.raises(TrialDataError) as caught:
        rl.load_trial(table, **ROLES, responses=RESPONSES)
    codes = {one.code for one in caught.value.issues}
    assert codes == {"negative_response", "fractional_response", "other_unit", "grade_off_scale"}
    assert all(one.row and one.column and one.hint for one in caught.value.issues)


def test_questions_that_have_no_answer_are_sentences() -> None:
    for asked in (
        lambda: trial().means(response="rots"),
        lambda: trial().means(response="grade"),
        lambda: trial().compare("strength", 0, 2500, response="roots", margin=0.1),  # type: ignore[call-overload]
        lambda: trial().compare("strength", 0, 2500, mean_of="rooted"),  # type: ignore[call-overload]
        lambda: trial().compare("strength", 0, 9000, response="roots"),
    ):
        with pytest.raises(RootlingError) as caught:
            asked()
        assert str(caught.value)


def test_figures_are_drawn() -> None:
    for found in (trial().means(response="roots"), trial().compare("strength", 0, 2500, response="roots")):
        assert found.plot() is not None
