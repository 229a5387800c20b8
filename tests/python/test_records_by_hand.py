"""Records edited by hand, odd names in figures, and faces that never fail."""

from __future__ import annotations

import copy
import json
import warnings
from collections.abc import Callable
from contextlib import suppress
from typing import Any

import pytest
import rootling as rl
from conftest import ROLES
from rootling.exceptions import ChoiceError


def _deep(record: dict[str, Any]) -> None:
    record["rates"] = nested = []
    for _ in range(200):
        nested.append([])
        nested = nested[0]


EDITS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "no table": lambda record: record.pop("table"),
    "no notes": lambda record: record.pop("notes"),
    "table without columns": lambda record: record["table"].pop("columns"),
    "table of text": lambda record: record.update(table="rates"),
    "column without values": lambda record: record["table"]["columns"][0].pop("values"),
    "column of another kind": lambda record: record["table"]["columns"][0].update(kind="number"),
    "shorter column": lambda record: record["table"]["columns"][0]["values"].pop(),
    "text in numbers": lambda record: record["table"]["columns"][-1].update(kind="number", values=["many", "few"]),
    "huge number": lambda record: record["table"]["columns"][-1].update(kind="whole", values=[10**400, 1]),
    "sentence of numbers": lambda record: record.update(sentence=5),
    "details of numbers": lambda record: record.update(details=[5]),
    "note without text": lambda record: record.update(notes=[{"code": "few_trays"}]),
    "references of objects": lambda record: record.update(references=[None]),
    "made_with of text": lambda record: record.update(made_with="here"),
    "deep": _deep,
}


@pytest.mark.parametrize("edit", EDITS)
def test_an_edited_record_is_refused_in_one_sentence(trial: rl.Trial, edit: str) -> None:
    record = trial.take_rates("strength").to_dict()
    EDITS[edit](record)
    with pytest.raises(ChoiceError, match=r"this is not the record of a result: .*; take it again") as found:
        rl.Result.from_dict(record)
    assert "\n" not in str(found.value)
    assert len(str(found.value)) < 300


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "5", "null", '{"non_finite": 5}', "[" * 100_000, '{"kind": ' + "9" * 9000 + "}"]
)
def test_text_that_is_no_record(text: str) -> None:
    for made in (rl.Result.from_json, rl.models.Model.from_json, rl.Estimate.from_json):
        with pytest.raises(ChoiceError, match="this is not the record of a"):
            made(text)


def test_figures_of_edited_records_fail_in_words(trial: rl.Trial) -> None:
    for result in (trial.take_rates("strength"), trial.compare("strength", 2500, 5000), trial.association("strength")):
        record = result.to_dict()
        for name in list(record):
            edited = copy.deepcopy(record)
            edited[name] = {"odd": [None]}
            try:
                made = rl.Result.from_dict(edited)
            except ChoiceError:
                continue
            repr(made), made._repr_html_(), made.table()
            with suppress(ChoiceError):
                made.plot()


MODEL_EDITS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "no counts": lambda record: record["units"].update(rooted=[]),
    "more rooted than stuck": lambda record: record["units"]["rooted"].__setitem__(0, 10**6),
    "fewer codes": lambda record: record["units"]["treatments"][0]["codes"].pop(),
    "a code beyond the levels": lambda record: record["units"]["treatments"][0]["codes"].__setitem__(0, 99),
    "counts of text": lambda record: record["units"].update(rooted="many"),
    "negative counts": lambda record: record["units"]["rooted"].__setitem__(0, -1),
    "huge counts": lambda record: record["units"]["stuck"].__setitem__(0, 10**400),
    "no units": lambda record: record.pop("units"),
    "no specification": lambda record: record.update(spec=None),
    "unknown effect": lambda record: record["spec"].update(effects=["light"]),
    "unknown link": lambda record: record["spec"].update(link="line"),
}


@pytest.mark.parametrize("edit", MODEL_EDITS)
def test_an_edited_model_is_refused_or_fitted_again(trial: rl.Trial, edit: str) -> None:
    record = trial.model("strength").to_dict()
    MODEL_EDITS[edit](record)
    with pytest.raises(rl.RootlingError) as found:
        rl.models.Model.from_dict(record)
    assert "\n" not in str(found.value)


def test_a_model_shows_itself_without_tests(trial: rl.Trial, monkeypatch: pytest.MonkeyPatch) -> None:
    model = trial.model("strength")

    def fails(self: Any, **options: Any) -> None:
        raise rl.exceptions.ModelError("the fit does not settle")

    monkeypatch.setattr(rl.models.Model, "what_matters", fails)
    assert repr(model).startswith("A fitted model without tests of its effects: the fit does not settle")
    assert "does not settle" in model._repr_html_()


def test_names_of_other_scripts_and_long_names_are_drawn_in_silence(frame: Any) -> None:
    names = {"2500": "\u80e1\u6843 " + "\u0627\u0644\u062c\u0648\u0632", "5000": "x" * 500}
    columns = frame.to_dict(as_series=False)
    columns["strength"] = [names[str(one)] for one in columns["strength"]]
    trial = rl.load_trial(columns, **ROLES)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for result in (trial.take_rates("strength"), trial.association("strength"), trial.compare_all("strength")):
            figure = result.plot()
            assert figure._repr_png_()[0][:4] == b"\x89PNG"
            longest = max(len(text.get_text()) for text in figure.findobj(lambda part: hasattr(part, "get_text")))
            assert longest < 250


def test_empty_lists_give_empty_answers() -> None:
    empty = rl.rates.interval([], [])
    assert empty.value.shape == (0,)
    assert empty.table().height == 0
    assert rl.compare.adjusted_p([]) == []
    assert rl.rates.against_target([], [], 0.5).p.shape == (0,)
    assert json.loads(empty.to_json())["value"] == []


CURVE_EDITS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "no input": lambda record: record.update(inputs=record.pop("input")),
    "a field nobody knows": lambda record: record["input"]["options"].update(shapes="auto"),
    "a block that is no number": lambda record: record["input"]["groups"][0]["trays"][0].update(block="Z"),
}


@pytest.mark.parametrize("edit", CURVE_EDITS)
def test_an_edited_curve_is_refused_where_it_is_fitted_again(edit: str) -> None:
    trial = rl.load_trial(
        rl.demo.strengths(seed=1),
        rooted="rooted",
        stuck="stuck",
        treatments=["strength", "rootstock"],
        tray="tray",
        block="bench",
    )
    record = json.loads(trial.strength_curve(at={"rootstock": "K12"}).to_json())
    CURVE_EDITS[edit](record)
    curve = rl.Result.from_dict(record)
    with pytest.raises(ChoiceError, match=r"this is not the record of a strength curve: .* take it again from"):
        curve.strength_for(0.4)


def _answers() -> dict[str, rl.Result]:
    """Results with a list of entries for the rows of their table, by that list."""
    trial = rl.load_trial(
        rl.demo.factorial(seed=1),
        rooted="rooted",
        stuck="stuck",
        treatments=["strength", "dark_days", "rootstock"],
        tray="tray",
        block="bench",
    )
    model = trial.model(["strength", "rootstock"])
    curve = rl.load_trial(
        rl.demo.strengths(seed=1), rooted="rooted", stuck="stuck", treatments=["strength"], tray="tray"
    ).strength_curve()
    found = [
        ("rates", trial.take_rates("strength")),
        ("pairs", trial.compare_all("strength")),
        ("tests", trial.association("strength")),
        ("estimates", trial.tray_correlation()),
        ("contrasts", model.contrasts("strength")),
        ("rates", model.letters("strength")),
        ("rates", model.adjusted_rates("strength")),
        ("ratios", model.odds_ratios()),
        ("coefficients", model.coefficients()),
        ("effects", model.what_matters()),
        ("trays", model.checks()),
        ("rows", model.predict({"strength": [0, 2500], "rootstock": ["K12", "K12"]})),
        ("curves", curve),
        ("rows", curve.strength_for(0.3)),
    ]
    return {f"{rows} of {result.kind}": result for rows, result in found}


@pytest.mark.filterwarnings("ignore::rootling.exceptions.FewTraysWarning")
def test_a_record_with_a_result_left_out_is_refused() -> None:
    for name, result in _answers().items():
        rows = name.split()[0]
        assert rl.Result.from_dict(result.to_dict()) == result
        record = result.to_dict()
        record[rows] = record[rows][:-1]
        left = len(record[rows])
        with pytest.raises(
            ChoiceError, match=f"{rows} holds {left} (entry|entries) and its table {left + 1}; take it again"
        ):
            rl.Result.from_dict(record)
        record = result.to_dict()
        for column in record["table"]["columns"]:
            column["values"].pop()
            if isinstance(column.get("scale"), list):
                column["scale"].pop()
        with pytest.raises(ChoiceError, match=f"{rows} holds {left + 1} (entry|entries) and its table {left}; take it"):
            rl.Result.from_dict(record)


def test_lists_of_unequal_length_are_refused() -> None:
    curve = _answers()["curves of strength_curve"]
    record = curve.to_dict()
    record["curves"][0]["line"]["low"].pop()
    with pytest.raises(
        ChoiceError, match="in curves the lists strength, value, low, high differ in length; take it again"
    ):
        rl.Result.from_dict(record)
