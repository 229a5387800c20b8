"""Records asked again: what comes out as recorded, what changed, what was drawn, and what cannot be asked."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import rootling as rl
from rootling._again.asked import AGAIN, MISSING
from rootling._results import KINDS, Result
from rootling.exceptions import ChoiceError

PLAIN: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "tray": "tray", "block": "bench"}


@pytest.fixture(scope="module")
def several() -> rl.Trial:
    return rl.load_trial(rl.demo.factorial(seed=1), **PLAIN, treatments=["strength", "dark_days", "rootstock"])


@pytest.fixture(scope="module")
def model(several: rl.Trial) -> rl.models.Model:
    return several.model(["strength", "dark_days", "rootstock"], interactions=[("strength", "rootstock")])


@pytest.fixture(scope="module")
def curve() -> rl.curves.StrengthCurve:
    strength = rl.Strength("IBA", unit="mg/L", method="quick dip")
    treatments = ["strength", "rootstock"]
    trial = rl.load_trial(rl.demo.strengths(seed=1), **PLAIN, treatments=treatments, strength=strength)
    return trial.strength_curve(within="rootstock", shape="hump", confidence=0.9, nearly=0.1)


@pytest.fixture(scope="module")
def watch() -> rl.watch.Watch:
    columns: dict[str, Any] = {"set_date": "set", "reading_date": "read", "cultivars": "rootstock"}
    table = rl.demo.weekly_batches(seed=1)
    return rl.watch.load(
        table,
        batch="batch",
        started="started",
        alive="alive",
        places="room",
        season="season",
        grafter="grafter",
        **columns,
    )


@pytest.fixture(scope="module")
def deaths() -> rl.Trial:
    counts = {
        "strength": [0, 1000, 2000, 4000, 8000] * 4,
        "tray": list(range(20)),
        "stuck": [20] * 20,
        "rooted": [3, 8, 12, 10, 4, 2, 9, 11, 11, 5, 4, 7, 13, 9, 3, 3, 10, 12, 10, 4],
        "dead": [1, 1, 0, 3, 9, 0, 1, 2, 2, 8, 1, 0, 1, 4, 11, 0, 2, 1, 3, 10],
    }
    return rl.load_trial(counts, rooted="rooted", stuck="stuck", dead="dead", treatments="strength", tray="tray")


def again(result: Any, data: Any, **more: Any) -> rl.Verified:
    found = rl.verify(result.to_json(), data, **more)
    assert repr(found).startswith(found.sentence[:20])
    return found


# What comes out as it was

TRIALS: dict[str, Callable[[rl.Trial], Result]] = {
    "rates of combinations": lambda trial: trial.take_rates(["rootstock", "strength"], confidence=0.8),
    "rates of all": lambda trial: trial.take_rates(),
    "rates of cuttings": lambda trial: trial.take_rates("strength", trays="ignore", method="jeffreys"),
    "two levels": lambda trial: trial.compare("strength", 0, 5000, confidence=0.9, margin=0.1, seed=4),
    "two levels at others": lambda trial: trial.compare("strength", 5000, 0, at={"rootstock": "K12", "dark_days": 21}),
    "two levels of cuttings": lambda trial: trial.compare("strength", 0, 2500, trays="ignore", method="newcombe"),
    "two levels as they matter": lambda trial: trial.compare("strength", 0, 2500, nearly=0.02),
    "all levels": lambda trial: trial.compare_all("strength", together="hommel", at={"dark_days": 0}),
    "levels against one": lambda trial: trial.compare_all("strength", against=0, confidence=0.9, seed=7),
    "association": lambda trial: trial.association("strength", within="rootstock", method="donner", seed=3),
    "association of cuttings": lambda trial: trial.association("strength", trays="ignore"),
    "association by dealing anew": lambda trial: trial.association("rootstock", method="randomisation", seed=3),
    "trend": lambda trial: trial.trend("strength", scores={0: 0, 2500: 1, 5000: 3}, confidence=0.9),
    "trend of cuttings": lambda trial: trial.trend("strength", trays="ignore"),
    "correlation": lambda trial: trial.tray_correlation(method="beta-binomial", confidence=0.9),
    "surface": lambda trial: trial.response_surface("dark_days", at={"rootstock": "K12"}, confidence=0.9),
    "curve": lambda trial: trial.strength_curve("rootstock", at={"dark_days": 21}, enough=0.9, link="probit"),
    "curve with draws": lambda trial: trial.strength_curve(common=["rootstock", "dark_days"], draws=20, seed=9),
}


@pytest.mark.parametrize("name", TRIALS)
def test_what_a_trial_was_asked(name: str, several: rl.Trial) -> None:
    result = TRIALS[name](several)
    found = again(result, several)
    assert (found.agrees, found.exact, found.data_changed) == (True, True, False)
    assert found.kind == result.kind
    assert found.differences == ()
    assert found.table().height == 0
    assert "come out as they were recorded" in found.sentence
    assert found


@pytest.mark.parametrize("outcome", ["survival", "rooted-of-survivors"])
def test_outcomes(outcome: Any, deaths: rl.Trial) -> None:
    for result in (
        deaths.take_rates("strength", outcome=outcome),
        deaths.compare("strength", 0, 4000, outcome=outcome),
        deaths.compare_all("strength", outcome=outcome),
        deaths.association("strength", outcome=outcome),
        deaths.trend("strength", outcome=outcome),
        deaths.strength_curve(outcome=outcome, shape="flat"),
        deaths.damage_threshold(rise=0.1, confidence=0.9),
    ):
        assert again(result, deaths).exact, result.kind


def test_what_a_model_was_asked(model: rl.models.Model) -> None:
    for result in (
        model.what_matters(),
        model.odds_ratios(confidence=0.9),
        model.coefficients(confidence=0.8),
        model.adjusted_rates("strength", within="rootstock", average="as-stuck"),
        model.adjusted_rates("strength", at={"rootstock": "K17"}, confidence=0.9),
        model.contrasts("strength", against=0, together="dunnett", margin=0.2),
        model.contrasts("strength", within="rootstock", scale="odds", together="sidak"),
        model.contrasts("strength", changing_with="rootstock", average="as-stuck", seed=5),
        model.letters("strength", together="tukey-kramer", at={"rootstock": "K12"}),
        model.checks(seed=3, groups=5),
        model.bootstrap_test("dark_days", draws=99, seed=2),
    ):
        assert again(result, model).exact, result.kind


@pytest.mark.parametrize("trays", ["auto", "beta-binomial", "robust", "dispersion"])
def test_a_model_itself(trays: Any, several: rl.Trial) -> None:
    made = several.model(["strength", "rootstock"], trays=trays, reference={"rootstock": "K30"}, numeric="strength")
    found = again(made, several)
    assert (found.kind, found.exact) == ("model", True)
    record = made.to_dict()
    record["coefficients"][1]["value"] += 0.5
    edited = rl.verify(record, several)
    assert [one.what for one in edited.differences] == ["coefficients 2, value"]


def test_what_a_curve_was_asked(curve: rl.curves.StrengthCurve) -> None:
    for result in (curve.strength_for(0.55), curve.differences(), curve.next_strengths(trays=18, strengths=3)):
        assert again(result, curve).exact, result.kind
    assert again(curve, curve._context["trial"]).exact


def test_what_a_crop_was_asked(watch: rl.watch.Watch) -> None:
    baseline = watch.expected(since="2023-06-01", until="2024-12-31")
    assert again(baseline, watch).exact
    assert again(watch.mix("2025-01-31", confidence=0.9), watch).exact
    for result in (
        watch.signals(baseline, draws=49, seed=3, charts=["rootstock"], drop=0.06),
        watch.batch_chart(baseline, one_in=300, weight=0.2),
        watch.target(0.9, baseline),
        watch.target("last-season", baseline, since="2025-03-01"),
        watch.places(baseline, column="grafter", confidence=0.9),
    ):
        assert again(result, baseline).exact, result.kind
    with pytest.raises(ChoiceError, match="this baseline was read from a record; make it again from its crop"):
        rl.verify(watch.target(0.9, baseline), rl.Result.from_json(baseline.to_json()))


def test_options_left_open_are_named(watch: rl.watch.Watch) -> None:
    found = again(watch.expected(until="2024-12-31", without=[("2023-06-01", "2023-07-31")]), watch)
    assert not found.agrees
    assert "Stretches that were left out are not recorded, none was taken." in found.details
    assert "asked with an option that it does not hold" in found.sentence


def test_steps_and_plans() -> None:
    rows = {"batch": ["b1", "b2", "b3"], "grafted": [50, 60, 40], "taken": [45, 52, 33], "rooted": [30, 31, 25]}
    steps = rl.steps.load(rows, batch="batch", steps=["grafted", "taken", "rooted"])
    for result in (steps.yields("current-rates", draws=199, seed=4), steps.to_start(200), steps.sure_of(300)):
        assert again(result, steps).exact
    other = again(steps.yields(draws=199, seed=4), steps, seed=5)
    assert other.agrees
    plan = rl.plan.layout("latin-square", {"strength": [0, 1000, 3000, 9000]}, seed=3)
    assert again(plan, plan).exact
    assert again(plan, None).exact


# What does not


def test_changed_data_are_told_first(several: rl.Trial) -> None:
    result = several.compare("strength", 0, 5000)
    later = rl.load_trial(rl.demo.factorial(seed=2), **PLAIN, treatments=["strength", "dark_days", "rootstock"])
    found = again(result, later)
    assert (found.agrees, found.exact, found.data_changed) == (False, False, True)
    assert found.sentence.startswith("The data have changed: ")
    assert "numbers come out otherwise" in found.sentence
    assert found.details[0] == f"Fingerprint of the data: {several.fingerprint} recorded, {later.fingerprint} now; " + (
        "columns in other roles change it, too."
    )
    assert not found


def test_a_question_that_changed_data_do_not_have(several: rl.Trial, trial: rl.Trial) -> None:
    for result in (several.compare("rootstock", "K12", "K17"), several.compare("strength", 0, 2500)):
        found = again(result, trial)
        assert found.sentence == "The data have changed: the question of this comparison cannot be asked of them."
        assert found.data_changed
        assert not found.agrees


def edited(result: Result, **changes: Any) -> dict[str, Any]:
    record = result.to_dict()
    for name, value in changes.items():
        record[name] = value
    return record


def test_another_version_is_told_from_an_edited_record(several: rl.Trial) -> None:
    result = several.compare("strength", 0, 5000)
    record = edited(result, value=0.5, p=None)
    found = rl.verify(record, several)
    assert found.sentence.startswith("The same data give other numbers than were recorded: 2 of ")
    assert "the record was edited" in found.sentence
    assert [one.what for one in found.differences] == ["value", "p"]
    assert found.table()["recorded"].to_list() == ["0.5", "nothing"]
    record["made_with"] = {**record["made_with"], "version": "0.0.9"}
    found = rl.verify(record, several)
    assert found.sentence.startswith("The same data give other numbers with this version: 2 of ")
    assert found.details == (f"Version: 0.0.9 recorded, {rl.__version__} now.",)
    assert "value: 0.5 recorded, 0.388" in repr(found)


def test_rows_that_are_missing_are_told(several: rl.Trial) -> None:
    record = several.trend("strength").to_dict()
    del record["tests"][-1]
    found = rl.verify(record, several)
    assert found.differences
    assert all(one.what.startswith("tests ") and one.recorded is None for one in found.differences)
    assert not found.agrees


def test_last_digits_are_of_the_machine(several: rl.Trial) -> None:
    result = several.compare("strength", 0, 5000)
    found = rl.verify(edited(result, value=result.value * (1 + 1e-13)), several)
    assert (found.agrees, found.exact) == (True, False)
    assert found.sentence.endswith("come out as they were recorded, but for their last digits.")
    assert not rl.verify(edited(result, value=result.value * (1 + 1e-7)), several).agrees


def test_other_words_of_another_version_are_told(several: rl.Trial) -> None:
    record = edited(several.tray_correlation(), sentence="Trays differ.")
    record["made_with"] = {**record["made_with"], "version": "0.0.9"}
    found = rl.verify(record, several)
    assert found.agrees
    assert found.details[1].startswith("The sentence reads otherwise by now: ")


WORDS = [
    ("sentence", "Trays differ.", "its sentence reads otherwise."),
    ("details", ["Nothing."], "its details read otherwise."),
    ("notes", [{"code": "few", "text": "Few."}], "its notes read otherwise."),
    ("methods", "By eye.", "its methods read otherwise."),
    ("references", ["Moss A (1999). Roots. Hill Press, Leam."], "its references read otherwise."),
]


@pytest.mark.parametrize(("part", "words", "told"), WORDS)
def test_edited_words_of_this_version_are_no_agreement(part: str, words: Any, told: str, trial: rl.Trial) -> None:
    result = trial.compare("strength", 2500, 5000)
    found = rl.verify(edited(result, **{part: words}), trial)
    assert (found.agrees, found.exact, found.data_changed, found.differences) == (False, False, False, ())
    assert found.sentence == f"All 52 numbers come out, but the text of this comparison was edited: {told}"
    if part == "sentence":
        assert found.details[0] == f"The sentence is: {result.sentence}"


def test_an_edited_table_is_no_agreement(trial: rl.Trial) -> None:
    record = trial.compare("strength", 2500, 5000).to_dict()
    next(one for one in record["table"]["columns"] if one["kind"] == "number")["values"][0] = 0.5
    record["methods"] += " By eye."
    found = rl.verify(record, trial)
    assert not found.agrees
    assert found.sentence.endswith("was edited: its table and methods read otherwise.")


def test_an_edited_fingerprint_is_no_change_of_data(trial: rl.Trial) -> None:
    record = trial.compare("strength", 2500, 5000).to_dict()
    record["made_with"]["data_fingerprint"] = "0123456789abcdef"
    found = rl.verify(record, trial)
    assert (found.agrees, found.data_changed) == (False, False)
    assert found.sentence == (
        "The fingerprint of the data differs though all 52 numbers come out as recorded: columns in other roles, or "
        "an edited record."
    )
    assert found.details[0].startswith("Fingerprint of the data: 0123456789abcdef recorded, ")


@pytest.mark.parametrize("name", ["version", "options", "seed", "data_fingerprint"])
def test_a_record_that_does_not_say_how_it_was_made(name: str, trial: rl.Trial) -> None:
    record = trial.compare("strength", 2500, 5000).to_dict()
    del record["made_with"][name]
    with pytest.raises(ChoiceError, match=rf"this record lacks made_with\.{name}, so that it cannot be compared"):
        rl.verify(record, trial)
    record["made_with"][name] = "strength"
    if name == "options":
        with pytest.raises(ChoiceError, match="are no pairs of a name and a value"):
            rl.verify(record, trial)


def test_a_level_that_the_data_do_not_have(trial: rl.Trial) -> None:
    record = trial.compare("strength", 2500, 5000).to_dict()
    record["first"]["levels"] = ["9000"]
    with pytest.raises(ChoiceError, match=r'the record asks for a level that the data do not have: level of .* "9000"'):
        rl.verify(record, trial)


@pytest.mark.parametrize("text", ["<!doctype html>", "tray,rooted\n1,3\n"])
def test_a_file_that_is_no_record_says_where_records_come_from(text: str, trial: rl.Trial, tmp_path: Path) -> None:
    path = tmp_path / "report.html"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ChoiceError, match=r"holds no record; a record comes from to_json\(\), from --json on the"):
        rl.verify(path, trial)


def test_options_that_the_data_bring_along(several: rl.Trial) -> None:
    table = rl.demo.factorial(seed=2)
    treatments = ["strength", "dark_days", "rootstock"]
    with_earlier = rl.load_trial(table, **PLAIN, treatments=treatments, earlier=[several])
    found = again(with_earlier.compare("strength", 0, 5000), rl.load_trial(table, **PLAIN, treatments=treatments))
    assert not found.agrees
    assert any(
        line.startswith("Option earlier: ") and line.endswith(" recorded, nothing now.") for line in found.details
    )


# What was drawn


def test_another_seed_is_within_its_error(several: rl.Trial, model: rl.models.Model) -> None:
    for result, data in (
        (several.association("rootstock", within="strength", seed=3), several),
        (several.compare("strength", 0, 2500, at={"rootstock": "K12"}), several),
        (model.bootstrap_test("dark_days", draws=199, seed=2), model),
        (model.contrasts("strength", seed=2), model),
    ):
        found = again(result, data, seed=11)
        assert found.agrees, (result.kind, found)
        assert not found.data_changed


def test_draws_beyond_their_error_are_told(several: rl.Trial) -> None:
    result = several.association("rootstock", method="randomisation", seed=3)
    near = edited(result, p=result.p + 2 * result.se)
    near["tests"][0]["test"]["p"] = near["p"]
    # The same seed draws the same: another P value within its error is that of another way of drawing.
    found = rl.verify(near, several)
    assert found.agrees
    assert not found.exact
    assert "drawn anew" in found.sentence
    assert all(one.error is not None for one in found.differences)
    far = edited(result, p=0.02)
    assert [one.what for one in rl.verify(far, several).differences if not one.within] == ["p"]
    assert not rl.verify(far, several, seed=11).agrees


def test_what_follows_from_the_data_must_come_out_under_another_seed(several: rl.Trial) -> None:
    result = several.association("rootstock", method="randomisation", seed=3)
    record = result.to_dict()
    record["rates"][0]["low"] += 1e-4
    found = rl.verify(record, several, seed=11)
    assert [one.what for one in found.differences if not one.within] == ["rates 1, low"]


# What is given


def test_every_form_of_a_record(several: rl.Trial, tmp_path: Path) -> None:
    result = several.take_rates("strength")
    place = tmp_path / "the record.json"
    place.write_text(result.to_json(), encoding="utf-8-sig")
    for form in (result, result.to_dict(), result.to_json(), f"\n {result.to_json(indent=2)}", place, str(place)):
        assert rl.verify(form, several).exact


def test_infinite_numbers_come_out() -> None:
    rows = {"strength": [0] * 4 + [1] * 4, "tray": list(range(8)), "rooted": [0] * 4 + [20] * 4, "stuck": [20] * 8}
    trial = rl.load_trial(rows, rooted="rooted", stuck="stuck", treatments="strength", tray="tray")
    assert again(trial.compare("strength", 0, 1), trial).exact


@pytest.mark.parametrize(
    ("record", "told"),
    [
        (3, "'int' is no record; give a result"),
        ("nowhere.json", "the record 'nowhere.json' cannot be read (No such file or directory)"),
        ("{}", "this is not the record of a result: it lacks kind"),
        ("[1]", "this is not the record of a result: a JSON object is wanted"),
        ({"kind": "model"}, "this is not the record of a model: it has no spec"),
    ],
)
def test_what_is_no_record(record: Any, told: str, several: rl.Trial) -> None:
    with pytest.raises(ChoiceError) as found:
        rl.verify(record, several)
    assert told in str(found.value)


def test_wrong_calls(several: rl.Trial) -> None:
    with pytest.raises(ChoiceError, match="verify needs record; write verify"):
        rl.verify()  # type: ignore[call-arg]
    with pytest.raises(ChoiceError, match="verify has no option 'sed'; did you mean 'seed'"):
        rl.verify(several.take_rates(), several, sed=1)  # type: ignore[call-arg]
    with pytest.raises(rl.RootlingError, match="seed='x' is no whole number"):
        rl.verify(several.take_rates(), several, seed="x")  # type: ignore[arg-type]


def test_a_kind_that_is_not_known(several: rl.Trial) -> None:
    with pytest.raises(ChoiceError, match="records of kind 'harvest' are not known to this version; known are"):
        rl.verify(edited(several.take_rates(), kind="harvest"), several)


def test_other_data_than_were_asked(several: rl.Trial, model: rl.models.Model) -> None:
    wanted = "what_matters is asked of a model, and 'Trial' was given; write rl.verify(record, model)"
    with pytest.raises(ChoiceError) as found:
        rl.verify(model.what_matters(), several)
    assert str(found.value) == wanted
    with pytest.raises(ChoiceError, match="comparison is asked of a trial, and nothing was given"):
        rl.verify(several.compare("strength", 0, 5000))


def test_a_record_without_its_question(several: rl.Trial) -> None:
    record = several.compare("strength", 0, 5000).to_dict()
    del record["first"]
    with pytest.raises(ChoiceError, match="does not hold its question"):
        rl.verify(record, several)
    with pytest.raises(ChoiceError, match="does not hold the counts that were given; ask the question by hand"):
        rl.verify(edited(rl.tables.chi_square([[156, 84], [84, 156]]), made_with=record["made_with"]))


def test_every_kind_is_asked_again_or_says_what_it_lacks() -> None:
    assert set(AGAIN) | set(MISSING) == {*KINDS, "model"}
    assert not set(AGAIN) & set(MISSING)


def test_a_verdict_cannot_be_changed(several: rl.Trial) -> None:
    found = rl.verify(several.take_rates(), several)
    with pytest.raises(dataclasses.FrozenInstanceError):
        found.agrees = False  # type: ignore[misc]


def test_other_steps_are_no_other_data() -> None:
    """A chain loaded with fewer steps than the record has: the option is named, not the data."""
    rows = {"batch": ["b1", "b2", "b3"], "grafted": [50, 60, 40], "taken": [45, 52, 33], "rooted": [30, 31, 25]}
    kept = rl.steps.load(rows, batch="batch", steps=["grafted", "taken", "rooted"]).yields(draws=99, seed=1).to_json()
    found = rl.verify(kept, rl.steps.load(rows, batch="batch", steps=["grafted", "rooted"]))
    assert (found.agrees, found.data_changed) == (False, False)
    assert found.sentence == (
        "Asked with another option: the plants are followed along other steps. grafted, taken, rooted in the record, "
        "grafted, rooted now; name the same in steps=."
    )
