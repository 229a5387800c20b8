"""What is said of second opinions among several pairs, of levels and units by name, and of uneven mixes."""

from __future__ import annotations

import re
import warnings
from typing import Any

import pytest
import rootling as rl

QUIET = pytest.mark.filterwarnings("ignore::rootling.exceptions.FewTraysWarning")


def load(data: dict[str, list[Any]], treatments: list[str], **roles: Any) -> rl.Trial:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return rl.load_trial(data, rooted="rooted", stuck="stuck", treatments=treatments, tray="tray", **roles)


def arms(name: str, levels: dict[Any, list[int]]) -> dict[str, list[Any]]:
    rows = [(level, rooted) for level, trays in levels.items() for rooted in trays]
    return {
        name: [level for level, _ in rows],
        "rooted": [rooted for _, rooted in rows],
        "stuck": [20] * len(rows),
        "tray": list(range(len(rows))),
    }


def uneven(*, even: bool = False) -> dict[str, list[Any]]:
    """Two rootstocks over two strengths: 1 and 5 trays against 5 and 1, or 3 of each; only the strength acts."""
    rows = []
    for stock, counts in (("K12", (3, 3) if even else (5, 1)), ("K17", (3, 3) if even else (1, 5))):
        for strength, trays in zip((0, 3000), counts, strict=True):
            rows += [(stock, strength, (4 if strength == 0 else 13) + tray % 3) for tray in range(trays)]
    return {
        "rootstock": [stock for stock, _, _ in rows],
        "strength": [strength for _, strength, _ in rows],
        "rooted": [rooted for _, _, rooted in rows],
        "stuck": [20] * len(rows),
        "tray": list(range(len(rows))),
    }


@QUIET
def test_a_second_opinion_out_of_reach_of_several_pairs_hinders_nothing() -> None:
    # Four trays each: 70 ways to deal, two as far out, 2 / 70 = 0.029; of three pairs one needs 0.05 / 3 = 0.0167.
    found = load(arms("strength", {0: [2, 3, 2, 1], 2000: [8, 9, 7, 8], 4000: [14, 15, 13, 14]}), ["strength"])
    told = found.compare_all("strength")
    assert all(pair.smallest_p == pytest.approx(2 / 70, rel=1e-12) and pair.confirmed for pair in told.pairs)
    assert told.sentence.startswith("Use strength 4000: it beats all other levels")
    assert not any("does not confirm" in line for line in told.details)
    [note] = [note.text for note in told.notes if note.code == "p_out_of_reach"]
    assert "below 0.0286 for any pair" in note
    assert "needs 0.0167 where 3 are judged together" in note
    [line] = [line for line in told.details if "cannot confirm" in line]
    start = "A second opinion, dealing the trays out again at random, cannot confirm"
    assert line.startswith(f"{start} strength 2000 against 0")
    said = "P = 0.029 is the smallest value that so few trays allow"
    assert line.endswith(f": {said}, and a pair needs 0.0167 where 3 are judged together.")
    # Alone the same pair is judged at 0.05, which 0.029 reaches.
    alone = found.compare("strength", 0, 4000)
    assert "agrees" in " ".join(alone.details)
    assert not any(note.code == "p_out_of_reach" for note in alone.notes)


@QUIET
def test_decision_detail_and_note_of_a_second_opinion_never_contradict() -> None:
    for trays in (3, 4, 5, 6):
        for gap in range(1, 9):
            levels = {
                level: [min(20, gap * at + (3 * tray + at) % 5) for tray in range(trays)]
                for at, level in enumerate("abc")
            }
            told = load(arms("mix", levels), ["mix"]).compare_all("mix")
            wanted = 1 - told.interval_level
            noted = any(note.code == "p_out_of_reach" for note in told.notes)
            denied = any("does not confirm" in line for line in told.details)
            assert noted == any(pair.smallest_p > wanted for pair in told.pairs)
            for pair in told.pairs:
                assert pair.confirmed == (pair.smallest_p > wanted or pair.second_opinion <= wanted)
            assert not (denied and noted and all(pair.smallest_p > wanted for pair in told.pairs))


@QUIET
@pytest.mark.parametrize(
    ("name", "levels", "wanted"),
    [
        ("method", ("soak", "dip"), "Use soak (method): "),
        ("wounded", ("yes", "no"), "Use wounded = yes: "),
        ("rootstock", ("K12", "K17"), "Use rootstock K12: "),
    ],
)
def test_levels_that_are_words(name: str, levels: tuple[str, str], wanted: str) -> None:
    better, worse = levels
    trial = load(arms(name, {worse: [3, 4, 3, 2, 4], better: [13, 14, 12, 13, 14]}), [name])
    assert trial.compare(name, worse, better).sentence.startswith(wanted)


@QUIET
def test_plurals_of_names_that_have_none() -> None:
    trial = load(arms("dark_days", {0: [9, 10, 11, 9], 14: [10, 9, 10, 11], 28: [9, 11, 10, 10]}), ["dark_days"])
    assert "no two levels of dark days are shown to differ" in trial.compare_all("dark_days").sentence


@QUIET
def test_units_above_trays_head_their_columns() -> None:
    data = arms("rootstock", {"K12": [5, 6, 7, 6, 5, 8], "K17": [11, 12, 10, 12, 13, 11], "K30": [9, 8, 9, 10, 8, 9]})
    data["plant"] = [f"p{at // 2}" for at in range(18)]
    found = load(data, ["rootstock"], stock_plant="plant").compare_all("rootstock")
    assert "plants of second" in repr(found)
    assert "trays of second" not in repr(found)


@QUIET
def test_rates_of_an_uneven_mix_say_so_and_which_to_print() -> None:
    trial = load(uneven(), ["rootstock", "strength"])
    [note] = [note.text for note in trial.take_rates("rootstock").notes if note.code == "uneven_mix"]
    assert "hold strength in different shares" in note
    assert "adjusted rates" in note
    both = load(uneven(), ["rootstock", "strength"]).take_rates(["rootstock", "strength"])
    even = load(uneven(even=True), ["rootstock", "strength"]).take_rates("rootstock")
    for found in (both, even):
        assert not any(note.code == "uneven_mix" for note in found.notes)


@QUIET
def test_lines_that_know_no_other_treatments_are_named_where_the_mix_is_uneven() -> None:
    trial = load(uneven(), ["rootstock", "strength"])
    for found in (trial.association("rootstock"), trial.trend("rootstock", scores={"K12": 0, "K17": 1})):
        [note] = [note.text for note in found.notes if note.code == "lines_without_mix"]
        assert "do not report them here" in note
        named = note.split("The lines ")[1].split(" know no")[0]
        methods = set(found.table()["test"].to_list())
        assert named
        assert all(line in methods for line in re.split(", | and ", named))
    codes = {note.code for note in trial.association("rootstock").notes}
    assert {"uneven_mix", "uneven_mix_taken_out"} & codes
    even = load(uneven(even=True), ["rootstock", "strength"]).association("rootstock")
    assert not any(note.code == "lines_without_mix" for note in even.notes)


@QUIET
def test_tests_within_a_treatment_have_no_mix_of_it() -> None:
    found = load(uneven(), ["rootstock", "strength"]).association("rootstock", within="strength")
    assert not {"uneven_mix", "lines_without_mix"} & {note.code for note in found.notes}


@QUIET
def test_rates_by_season_are_of_levels_not_of_treatments() -> None:
    data = {**uneven(even=True), "season": [2024, 2025] * 6}
    trial = load(data, ["rootstock", "strength"], season="season")
    assert "2 levels of season run from" in " ".join(trial.take_rates("season").details)
    assert "4 treatments run from" in " ".join(trial.take_rates().details)


@QUIET
def test_predict_says_what_it_wants_of_a_name() -> None:
    model = load(uneven(even=True), ["rootstock", "strength"]).model(["rootstock", "strength"])
    with pytest.raises(rl.exceptions.ChoiceError, match="predict wants rows, one for each rate") as found:
        model.predict("strength")
    assert "adjusted_rates('strength')" in str(found.value)


@QUIET
def test_one_place_that_allows_the_test_is_named_in_the_decision() -> None:
    # Both periods meet in 2025 only.
    season = [2023] * 4 + [2024] * 4 + [2025] * 8
    period = ["early"] * 4 + ["late"] * 4 + ["early"] * 4 + ["late"] * 4
    rooted = [8, 9, 7, 8, 12, 11, 13, 12, 8, 7, 9, 8, 12, 13, 11, 12]
    data = {"period": period, "season": season, "rooted": rooted, "stuck": [20] * 16, "tray": list(range(16))}
    found = load(data, ["period"], season="season").compare("period", "early", "late")
    assert found.p is None
    assert found.sentence.endswith('; at={"season": "2025"} would.')
    assert not any("Repeat the trial in other places" in note.text for note in found.notes)
    trial = load(data, ["period"], season="season")
    assert trial.compare("period", "early", "late", at={"season": 2025}).p is not None


@QUIET
def test_none_of_several_levels_is_said_as_none_and_once() -> None:
    rows = [
        (room, period, 9 + (at + len(room)) % 3) for room in ("a", "bb", "ccc") for period in (1, 2) for at in range(4)
    ]
    data = {
        "room": [room for room, _, _ in rows],
        "period": [period for _, period, _ in rows],
        "rooted": [rooted for _, _, rooted in rows],
        "stuck": [20] * len(rows),
        "tray": list(range(len(rows))),
    }
    found = load(data, ["room", "period"]).association("period", within="room")
    assert "is not shown to matter at any of 3 levels of room" in found.sentence
    assert [note.code for note in found.notes].count("several_tests") == 1


@QUIET
def test_places_that_stay_in_a_model_are_one_note() -> None:
    data = arms("strength", {0: [4, 5, 3, 6], 3000: [12, 11, 13, 12], 6000: [10, 9, 11, 9]})
    data["year"] = [1, 1, 2, 2] * 3
    data["bench"] = [1, 2, 3, 4] * 3
    model = load(data, ["strength"], season="year", block="bench").model(["strength"])
    assert [note.code for note in model.notes].count("block_kept") <= 1


@QUIET
def test_of_two_levels_both_are_averaged_over_what_met_both() -> None:
    data = uneven(even=True)
    keep = [at for at in range(12) if not (data["rootstock"][at] == "K17" and data["strength"][at] == 3000)]
    data = {name: [values[at] for at in keep] for name, values in data.items()}
    model = load(data, ["rootstock", "strength"]).model(
        ["rootstock", "strength"], interactions=[("rootstock", "strength")]
    )
    both = model.adjusted_rates("rootstock")
    assert all(rate.value is not None for rate in both.rates)
    told = next(note.text for note in both.notes if note.code == "averaged_where_told")
    assert "levels of strength of which this trial tells" in told
