"""Cells of tables: every column of every kind of result knows what it holds, and is written as that."""

from __future__ import annotations

import copy
import math
import re
import warnings
from collections.abc import Iterator
from typing import Any

import pytest
import rootling as rl
from rootling._core.report import written
from rootling._results import KINDS, Result, display
from rootling.exceptions import ChoiceError
from test_sentences import SETS

# Columns whose numbers are of no scale of their own: correlations, coefficients, likelihoods, residuals, errors of P.
PLAIN = {
    "tray_correlation": {"value", "low", "high"},
    "coefficients": {"value", "se", "low", "high"},
    "model_comparison": {"loglik", "aic", "aicc", "bic"},
    "checks": {
        "quantile_residual",
        "pearson_residual",
        "standardised_residual",
        "deviance_residual",
        "leverage",
        "distance",
    },
    "bootstrap_test": {"monte_carlo_error"},
    "randomisation": {"p_error"},
    "freeman_halton": {"se"},
    **{key: {"correlation", "cost"} for key in ("power", "precision", "trays_needed")},
    "smallest_difference": {"correlation"},
    # A P value that decides is told to its last digit.
    "looks": {"p_level"},
    # The distance of two curves on a logarithm beside one.
    "curve_differences": {"value", "low", "high"},
    # Sums of money.
    "level_choice": {"cost", "value", "low", "high", "behind", "behind_low", "behind_high", "loss"},
    # In the unit of the response.
    "response_means": {"value", "low", "high", "of_rooted", "of_rooted_low", "of_rooted_high"},
    "response_comparison": {"value", "low", "high", "of_rooted"},
    "mean_effects": {"largest_difference", "not_ruled_out"},
    "adjusted_means": {"value", "se", "low", "high"},
    "mean_letters": {"value", "se", "low", "high"},
    "mean_predictions": {"value", "se", "low", "high"},
    "mean_contrasts": {"value", "se", "low", "high", "not_ruled_out"},
    "mean_checks": {"mean", "expected", "residual"},
    "count_law": {"value", "low", "high", "of_any", "of_any_low", "of_any_high"},
    # Kappa.
    "agreement": {"value", "low", "high"},
}
NUMBERS = {"rate", "difference", "size", "ratio", "odds-ratio", "strength", "strength-or-never", "p", "statistic"}
NUMBERS |= {"degrees", "confidence", "level", "count", "plain"}
WITHOUT_POWERS = {
    "rate",
    "difference",
    "size",
    "strength",
    "strength-or-never",
    "p",
    "degrees",
    "confidence",
    "level",
    "count",
}
HOSTILE = [
    0.0,
    -0.0,
    1.0,
    0.0002,
    0.99996,
    1e-13,
    1e-5,
    12345.678,
    2.5e10,
    1e-300,
    math.inf,
    -math.inf,
    -0.00001,
    7.999,
]


@pytest.fixture(scope="module")
def made() -> list[Result]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return [one for ask in SETS.values() for one in ask() if isinstance(one, Result)]


def columns(result: Result) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = result.to_dict()["table"]["columns"]
    return found


def scales(column: dict[str, Any]) -> list[str]:
    """The scale of each row."""
    rows = len(column["values"])
    scale = column["scale"]
    return [scale] * rows if isinstance(scale, str) else list(scale)


def first_of_each(made: list[Result]) -> dict[str, Result]:
    found: dict[str, Result] = {}
    for one in made:
        found.setdefault(one.kind, one)
    assert set(found) == set(KINDS)
    return found


def cells(result: Result) -> Iterator[tuple[str, float | int | str | None, str]]:
    """Scale, value and cell of every entry."""
    _, body, _ = display.rows(result)
    for at, column in enumerate(columns(result)):
        for row, (scale, value) in enumerate(zip(scales(column), column["values"], strict=True)):
            yield scale, value, body[row][at]


def test_every_column_knows_what_it_holds(made: list[Result]) -> None:
    for result in made:
        for column in columns(result):
            known = (
                {"text", "level"} if column["kind"] == "text" else {"count"} if column["kind"] == "whole" else NUMBERS
            )
            found = set(scales(column))
            assert found <= known, (result.kind, column["name"], found)
            if "plain" in found:
                assert column["name"] in PLAIN.get(result.kind, set()), (result.kind, column["name"])


def test_lines_of_several_things_say_each(made: list[Result]) -> None:
    for result in made:
        for column in columns(result) if result.kind == "comparison" else ():
            if column["name"] == "value":
                assert scales(column)[:3] == ["rate", "rate", "difference"]
                assert set(scales(column)[3:]) <= {"ratio", "odds-ratio", "difference"}
    assert scales(columns(rl.tables.stratified([[[12, 8], [6, 14]], [[15, 5], [9, 11]]]))[1])[2] == "difference"


def test_strengths_carry_their_unit(made: list[Result]) -> None:
    for kind in ("strength_curve", "strengths_for", "damage_threshold", "next_strengths", "response_surface"):
        result = first_of_each(made)[kind]
        held = [column for column in columns(result) if {"strength", "strength-or-never"} & set(scales(column))]
        assert held
        assert {column.get("unit") for column in held} == {"mg/L"}


def judged(result: Result) -> None:
    for scale, value, cell in cells(result):
        if not isinstance(value, float):
            continue
        assert cell == written(value, scale)
        told = (result.kind, scale, value, cell)
        assert not re.search(r"\de[+-]?\d|\binf\b|\bnan\b|^-0(\.0)?( |$)", cell), told
        if scale in WITHOUT_POWERS:
            assert "10^" not in cell, told
        if scale == "rate" and 0 < value < 1:
            assert cell not in ("0.0 %", "100.0 %"), told
        if scale == "p":
            assert cell not in ("0", "0.0", "0.00", "0.000"), told


def test_no_cell_breaks_the_promise(made: list[Result]) -> None:
    for result in made:
        judged(result)


def test_nor_does_one_of_hostile_numbers(made: list[Result]) -> None:
    for result in first_of_each(made).values():
        for value in HOSTILE:
            record = result.to_dict()
            for column in record["table"]["columns"]:
                if column["kind"] == "number":
                    column["values"] = [value] * len(column["values"])
            judged(Result.from_dict(record))


def test_a_record_that_does_not_say_its_scales_is_shown(made: list[Result]) -> None:
    for result in first_of_each(made).values():
        record = result.to_dict()
        for column in record["table"]["columns"]:
            for name in ("scale", "unit", "head"):
                column.pop(name, None)
        shown = repr(Result.from_dict(record))
        assert result.sentence.split()[0] in shown
        assert len(shown.splitlines()) >= len(repr(result).splitlines()) - 3
        assert not re.search(r"\de[+-]\d", shown)


@pytest.mark.parametrize(
    "wrong",
    [{"scale": 5}, {"scale": 0}, {"scale": ["rate"]}, {"scale": [1, 2]}, {"unit": 5}, {"head": ["a"]}, {"head": 1.5}],
)
def test_scales_edited_by_hand_are_refused(trial: rl.Trial, wrong: dict[str, Any]) -> None:
    record = copy.deepcopy(trial.take_rates("strength").to_dict())
    record["table"]["columns"][1].update(wrong)
    with pytest.raises(ChoiceError, match="of the column 'value' of its table is no"):
        Result.from_dict(record)


def test_an_unknown_scale_is_a_plain_number(trial: rl.Trial) -> None:
    record = trial.take_rates("strength").to_dict()
    record["table"]["columns"][1]["scale"] = "of a later version"
    assert "0.375" in repr(Result.from_dict(record))


def test_other_places_have_the_same_cells(trial: rl.Trial) -> None:
    result = trial.take_rates("strength")
    header, body, numeric = display.rows(result)
    markdown = display.laid_out(result, "markdown").splitlines()
    assert markdown[0] == f"| {' | '.join(header)} |"
    assert markdown[2] == f"| {' | '.join(body[0])} |"
    assert [side == "--:" for side in markdown[1].strip("| ").split(" | ")] == numeric
    latex = display.laid_out(result, "latex")
    assert r"37.5 \%" in latex
    assert latex.startswith("\\begin{tabular}{l")
    page = display.laid_out(result, "html")
    shown = result._repr_html_()
    assert all(f">{entry}</td>" in page and f">{entry}</td>" in shown for row in body for entry in row)
