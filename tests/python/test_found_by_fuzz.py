"""What hostile cases found, each kept as a case of its own."""

from __future__ import annotations

import copy
import json
import time
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, CountError, TrialDataError

ROLES: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": "strength", "tray": "tray"}


@pytest.fixture(autouse=True)
def _cautions_are_no_matter_here() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rl.exceptions.RootlingWarning)
        yield


def sheet(strength: list[Any], rooted: list[int], stuck: list[int], **more: list[Any]) -> dict[str, list[Any]]:
    trays = [f"T{at}" for at in range(len(strength))]
    return {"strength": strength, "tray": trays, "rooted": rooted, "stuck": stuck, **more}


@pytest.mark.parametrize("bad_rows", ["stop", "set-aside"])
@pytest.mark.parametrize("height", [1, 3])
def test_a_table_without_a_single_entry_is_no_trial(bad_rows: Any, height: int) -> None:
    empty = {name: [None] * height for name in ("strength", "tray", "rooted", "stuck")}
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(empty, **ROLES, bad_rows=bad_rows)
    assert "no_usable_rows" in {issue.code for issue in found.value.issues}
    assert "give one row per tray or per cutting" in str(found.value)


def test_a_trial_whose_rows_are_all_set_aside_is_none() -> None:
    wrong = {**sheet([0, 1], [3, 4], [20, 20]), "tray": [None, None]}
    with pytest.raises(TrialDataError, match="no row can be used; correct the problems listed"):
        rl.load_trial(wrong, **ROLES, bad_rows="set-aside")
    with pytest.raises(TrialDataError, match="every row is blank, lost or left out"):
        rl.load_trial(sheet([0, 1], [3, 4], [20, 20]), **ROLES, leave_out=[1, 2])


@pytest.mark.parametrize("each", [1, 20])
def test_trays_that_fit_exactly_in_blocks_are_answered(each: int) -> None:
    """All rooted or none, blocks that do not hold every strength: nothing is left over but rounding."""
    counts = sheet([1, 1, 2, 2, 2], [each, each, 0, 0, 0], [each] * 5, bench=["B1", "B2", "B1", "B2", "B3"])
    trial = rl.load_trial(counts, **ROLES, block="bench")
    rates = trial.take_rates("strength").table()
    for row in rates.to_dicts():
        assert 0.0 <= row["low"] <= row["value"] <= row["high"] <= 1.0
    for answer in (trial.association("strength"), trial.compare("strength", 1, 2)):
        assert "NaN" not in repr(answer)
        assert rl.Result.from_json(answer.to_json()) == answer
    turned = {name: values[::-1] for name, values in counts.items()}
    again = rl.load_trial(turned, **ROLES, block="bench").take_rates("strength").table()
    assert again.equals(rates)


def test_trays_of_one_cutting_are_compared_at_once() -> None:
    counts = sheet([500, 500, 1000, 1000, 2000, 2000, 8000, 8000], [1, 1, 0, 0, 1, 0, 1, 0], [1] * 8)
    trial = rl.load_trial(counts, **ROLES)
    began = time.process_time()
    told = trial.compare_all("strength")
    assert time.process_time() - began < 2
    assert "NaN" not in repr(told)


@pytest.mark.parametrize(("rooted", "stuck", "level"), [(16, 17, 0.847), (0, 8, 0.5), (1, 2, 0.999999), (5, 5, 0.95)])
@pytest.mark.parametrize("method", ["wald", "agresti-coull"])
def test_limits_of_a_take_are_takes(rooted: int, stuck: int, level: float, method: Any) -> None:
    found = rl.rates.interval(rooted, stuck, method=method, confidence=level)
    many = rl.rates.interval([rooted], [stuck], method=method, confidence=level)
    assert 0.0 <= found.low <= found.value <= found.high <= 1.0
    assert (many.low[0], many.high[0]) == (found.low, found.high)


def test_a_correlation_stands_within_its_limits_where_trays_are_alike() -> None:
    rooted, stuck, given = [18, 18, 0, 3, 1, 14, 19], [18, 18, 25, 23, 1, 14, 19], [1, "b", "a", None, 1, 1, "b"]
    found = rl.rates.tray_correlation(rooted, stuck, treatment=given, method="anova")
    for row in found.table().to_dicts():
        if row["low"] is not None:
            assert row["low"] <= row["value"] <= row["high"]


@pytest.mark.parametrize("value", [pl.Series("s", [1, 2]), pd.Series([1, 2]), pl.DataFrame({"a": [1]})], ids=type)
def test_a_table_for_an_option_is_refused_in_one_line(value: Any) -> None:
    trial = rl.load_trial(sheet([0, 0, 1, 1], [3, 4, 9, 8], [20] * 4), **ROLES)
    asks: list[Any] = [
        lambda: rl.tables.trend([1, 2, 3], [9, 9, 9], draws=value),
        lambda: rl.rates.interval(1, 3, confidence=value),
        lambda: trial.model("strength", penalised=value),
        lambda: trial.model("strength").against(value),
        lambda: rl.load_trial(sheet([0, 1], [3, 4], [20, 20]), **ROLES, lost=value),
        lambda: rl.load_trial(sheet([0, 1], [3, 4], [20, 20]), **ROLES, decimal=value),
    ]
    for ask in asks:
        with pytest.raises((ChoiceError, CountError)) as found:
            ask()
        assert "\n" not in str(found.value)
        assert type(value).__name__ in str(found.value)


def test_a_lazy_frame_with_a_fault_is_refused_without_noise() -> None:
    frame = pl.DataFrame(sheet([0, 1], [3, 40], [20, 20])).lazy()
    with pytest.raises(TrialDataError, match="row 2"):
        rl.load_trial(frame, **ROLES)


def test_records_changed_by_hand_say_what_they_are_not() -> None:
    trial = rl.load_trial(sheet([0, 0, 1, 1], [3, 4, 9, 8], [20] * 4), **ROLES)
    record = trial.model("strength").to_dict()
    for name, value in (("rooted", "x"), ("treatments", [{}]), ("stuck", None)):
        changed = copy.deepcopy(record)
        changed["units"][name] = value
        with pytest.raises(ChoiceError, match="this is not the record of a model"):
            rl.models.Model.from_dict(changed)
    estimate = rl.rates.interval(3, 9).to_dict()
    for name, value in (("sentence", [None]), ("se", {"value": 1}), ("details", [3]), ("methods", 7)):
        with pytest.raises(ChoiceError, match=f"this is not the record of a result: {name} is no"):
            rl.Estimate.from_json(rl._results.write_record({**estimate, name: value}, None))


def test_a_changed_record_of_an_earlier_trial_is_refused() -> None:
    counts = sheet([0, 0, 1, 1], [3, 4, 9, 8], [20] * 4)
    record = rl.load_trial(counts, **ROLES).for_later()
    now = sheet([0, 0, 1, 1], [5, 4, 9, 8], [20] * 4)
    assert rl.load_trial(now, **ROLES, earlier=record).design.n_units == 4
    changes: list[Any] = [True, [{}], [{**record["known"][0], "2500": 1}], [{**record["known"][0], "df": "5"}], [True]]
    for known in changes:
        with pytest.raises(TrialDataError, match="neither a trial nor the record of one") as found:
            rl.load_trial(now, **ROLES, earlier={**record, "known": known})
        assert {issue.code for issue in found.value.issues} == {"not_an_earlier_trial"}


def test_ten_thousand_answers_are_read_in_a_moment() -> None:
    """Each row's answer joins those before it at once, not by copying them."""
    rows = 20_000
    twins = {"strength": [at % 2 for at in range(rows)], "tray": ["a", "b"] * (rows // 2)}
    began = time.process_time()
    with pytest.raises(TrialDataError) as found:
        rl.load_trial({**twins, "rooted": [3] * rows, "stuck": [20] * rows}, **ROLES)
    assert time.process_time() - began < 3
    assert len(str(found.value)) < 2000


@pytest.mark.parametrize(
    "more",
    [
        {"distinct_levels": np.True_},
        {"leave_out": np.array([1])},
        {"checked": pl.Series(["percent_as_counts"])},
        {"fill_down": np.array(["strength", "tray"])},
        {"treatments": pd.Series(["strength", "bay"])},
    ],
    ids=str,
)
def test_options_in_arrays_are_told_in_the_line(more: dict[str, Any]) -> None:
    """A fault of the sheet is answered whatever the options are held in."""
    wrong = sheet([0, 0, 1, 1], [3, 4, 99, 8], [20] * 4, bay=["a", "b", "a", "b"])
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(wrong, **{**ROLES, **more})
    last = str(found.value).splitlines()[-1].strip()
    assert last.startswith("trial = rl.load_trial(")
    compile(last, "line", "exec")
    assert "array" not in last
    assert "Series" not in last


def test_numbers_of_two_parts_are_no_counts() -> None:
    column = pd.Series(np.array([3 + 1j, 4, 9, 8], dtype=np.complex64))
    for rooted in (column, column.astype(object), column.tolist(), list(column.to_numpy())):
        with pytest.raises(TrialDataError, match="row 1"):
            rl.load_trial({**sheet([0, 0, 1, 1], [0] * 4, [20] * 4), "rooted": rooted}, **ROLES)


@pytest.mark.parametrize("said", ["", " ", "\n"])
def test_a_record_says_something(said: str) -> None:
    trial = rl.load_trial(sheet([0, 0, 1, 1], [3, 4, 9, 8], [20] * 4), **ROLES)
    with pytest.raises(ChoiceError, match="sentence has no words"):
        rl.Result.from_dict({**trial.take_rates("strength").to_dict(), "sentence": said})


def test_an_array_without_dimensions_is_no_result(tmp_path: Path) -> None:
    with pytest.raises(ChoiceError, match="'ndarray' is none of these"):
        rl.report.write(np.array(3), tmp_path / "report.html")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "edit", [{"se": []}, {"se": [0.1, 0.2]}, {"value": [0.3, 0.4], "low": [0.1]}, {"value": 0.3, "low": [0.1]}]
)
def test_an_estimate_whose_numbers_are_not_of_one_length_is_refused(edit: dict[str, Any]) -> None:
    record = {**rl.rates.interval(3, 9).to_dict(), **edit}
    with pytest.raises(ChoiceError, match="value, low, high and se are not of one length"):
        rl.rates.Estimate.from_json(json.dumps(record))


def test_counts_beyond_what_a_column_of_numbers_can_hold_are_refused_in_a_sentence() -> None:
    wide = pl.Series("n", [17, 10**30, 4], dtype=pl.Int128)
    with pytest.raises(CountError, match="counts must be whole numbers of cuttings"):
        rl.rates.interval(pl.Series([1, 2, 3]), wide)


def test_names_in_messages_stay_on_one_line_and_short() -> None:
    given = sheet([0, 0, 1, 1], [3, 4, 9, 8], [20] * 4)
    with pytest.raises(ChoiceError, match=r"does not say what the numbers are") as told:
        rl.load_trial(given, **ROLES, strength="two\nlines")
    assert "\n" not in str(told.value)
    with pytest.raises(ChoiceError, match="has no option") as told:
        rl.load_trial(given, **ROLES, **{"two words " * 60: 1})
    assert len(str(told.value)) < 800
    assert "two words two words" in str(told.value)


def test_names_of_two_lines_stay_on_one_line_wherever_they_are_named() -> None:
    name = "two\r\nlines"
    given = {**sheet([0, 0, 1, 1], [3, 4, 9, 8], [20] * 4), name: [0, 0, 1, 1]}
    trial = rl.load_trial(given, **{**ROLES, "treatments": [name]})
    calls = [
        lambda: trial.compare(name, 0, 0),
        lambda: trial.response_surface(),
        lambda: trial.take_rates(by=[], trays=name),
        lambda: rl.compare.adjusted_p([0.1], method=name),  # type: ignore[arg-type]
    ]
    for call in calls:
        with pytest.raises(rl.RootlingError) as told:
            call()
        assert "\n" not in str(told.value)
        assert "\r" not in str(told.value)


@pytest.mark.parametrize("values", [[1, 10**400], np.array([1j])])
def test_p_values_that_are_no_real_numbers_are_refused(values: Any) -> None:
    with pytest.raises(CountError, match="must be a list of numbers"):
        rl.compare.adjusted_p(values)


def test_a_report_at_an_endless_path_is_refused_in_a_short_sentence(tmp_path: Path) -> None:
    given = sheet([0, 0, 1, 1], [3, 4, 9, 8], [20] * 4)
    found = rl.load_trial(given, **ROLES).compare("strength", 0, 1)
    with pytest.raises(rl.exceptions.ReportError) as told:
        rl.report.write(tmp_path / ("n" * 3000 + ".html"), [found])
    assert len(str(told.value)) < 500


def test_a_report_of_nothing_at_all_is_refused(tmp_path: Path) -> None:
    with pytest.raises(rl.RootlingError, match="'NoneType' is none of these"):
        rl.report.write(None, tmp_path / "page.html")  # type: ignore[arg-type]


def test_long_names_of_treatments_do_not_make_endless_messages() -> None:
    long = "x" * 900
    held = sheet([0, 0, 1, 1], [3, 4, 9, 8], [20] * 4)
    frame = {long if name == "strength" else name: values for name, values in held.items()}
    trial = rl.load_trial(frame, **{**ROLES, "treatments": [long]})
    with pytest.raises(ChoiceError) as told:
        trial.strength_curve()
    assert len(str(told.value)) < 400
    with pytest.raises(ChoiceError) as told:
        trial.model([long], reference=long)  # type: ignore[arg-type]
    assert len(str(told.value)) < 400


def test_figures_of_diagnostics_edited_by_hand_end_in_a_sentence() -> None:
    given = sheet([0, 0, 0, 1, 1, 1], [3, 4, 7, 9, 8, 12], [20] * 6)
    record = rl.load_trial(given, **ROLES).model(["strength"]).checks().to_dict()
    record["quantile_plot"][0]["low"] = None
    with pytest.raises(ChoiceError, match="does not hold what its figure shows"):
        rl.Result.from_dict(record).plot()
