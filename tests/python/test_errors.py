"""Bad input: the exact message, all problems together, and an error class of our own."""

from __future__ import annotations

import pickle
import re
from pathlib import Path
from typing import Any

import pandas as pd
import polars as pl
import pytest
import rootling as rl
from conftest import ROLES
from rootling.exceptions import (
    ChoiceError,
    CountError,
    FewTraysWarning,
    Issue,
    ModelError,
    RootlingError,
    StrengthError,
    TrialDataError,
)


def _codes(error: TrialDataError) -> set[str]:
    return {issue.code for issue in error.issues}


def _with(frame: pl.DataFrame, row: int, **values: Any) -> dict[str, list[Any]]:
    columns = frame.to_dict(as_series=False)
    for name, value in values.items():
        columns[name][row] = value
    return columns


@pytest.mark.parametrize(
    ("values", "part"),
    [
        ({"rooted": 53}, 'row 3, column "rooted": 53 rooted of 20 stuck'),
        ({"rooted": -1}, 'row 3, column "rooted"'),
        ({"rooted": 2.5}, 'row 3, column "rooted"'),
        ({"rooted": None}, 'row 3, column "rooted"'),
        ({"rooted": "many"}, 'row 3, column "rooted"'),
        ({"rooted": "45 %"}, 'row 3, column "rooted"'),
        ({"stuck": 0}, 'row 3, column "stuck"'),
        ({"stuck": 2**53 + 2}, 'row 3, column "stuck"'),
        ({"tray": "T01", "bench": "B1"}, "T01"),
    ],
)
def test_each_problem_says_where(frame: pl.DataFrame, values: dict[str, Any], part: str) -> None:
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(_with(frame.with_columns(pl.col("strength").cast(pl.String)), 2, **values), **ROLES)
    assert part in str(found.value)
    assert all(isinstance(issue, Issue) and issue.reason and issue.hint for issue in found.value.issues)


def test_look_alike_levels_are_asked_about(frame: pl.DataFrame) -> None:
    roles = {**ROLES, "treatments": ["strength", "rootstock"]}
    alike = _with(frame, 2, rootstock="k12 ")
    with pytest.raises(TrialDataError, match="K12") as found:
        rl.load_trial(alike, **roles)
    assert {issue.severity for issue in found.value.issues} == {"question"}
    with pytest.warns(FewTraysWarning, match="only 1 tray"):
        assert rl.load_trial(alike, **roles, distinct_levels=True).design.n_units == 12


def test_all_problems_come_together(frame: pl.DataFrame) -> None:
    bad = _with(frame, 0, rooted=-1)
    bad["rooted"][4] = 99
    bad["stuck"][7] = 0
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(bad, **ROLES)
    assert {1, 5, 8} <= {issue.row for issue in found.value.issues}


def test_bad_rows_are_set_aside_and_listed(frame: pl.DataFrame) -> None:
    trial = rl.load_trial(_with(frame, 2, rooted=99), **ROLES, bad_rows="set-aside")
    assert [issue.row for issue in trial.set_aside] == [3]
    assert trial.design.n_units == 11


def test_file_rows_are_those_of_a_spreadsheet(frame: pl.DataFrame, tmp_path) -> None:
    pl.DataFrame(_with(frame, 0, rooted=99)).write_csv(tmp_path / "trial.csv")
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(tmp_path / "trial.csv", **ROLES)
    assert [issue.row for issue in found.value.issues] == [2]


def test_an_unknown_column_comes_with_the_nearest(frame: pl.DataFrame) -> None:
    with pytest.raises(TrialDataError, match='did you mean "strength"') as found:
        rl.load_trial(frame, **{**ROLES, "treatments": ["strenght"]})
    assert _codes(found.value) == {"unknown_column"}


@pytest.mark.parametrize("text", [b"", b"\n\n", b"strength,tray,bench,stuck,rooted\n"])
def test_files_without_rows(text: bytes, tmp_path) -> None:
    path = tmp_path / "trial.csv"
    path.write_bytes(text)
    with pytest.raises(TrialDataError):
        rl.load_trial(path, **ROLES)


def test_latin_1_is_reported(frame: pl.DataFrame, tmp_path) -> None:
    path = tmp_path / "trial.csv"
    path.write_bytes("strength,tray,bench,stuck,rooted\n2500,Tür,B1,20,3\n".encode("latin-1"))
    with pytest.raises(TrialDataError, match="UTF-8"):
        rl.load_trial(path, **ROLES)


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (42, "unknown_input"),
        ("nowhere.csv", "no_file"),
        (pd.DataFrame([[1, 2]], columns=["rooted", "rooted"]), "duplicate_header"),
        ({"rooted": [1, 2], "stuck": [3]}, "unequal_columns"),
        ({"rooted": 3}, "not_a_column"),
        ({"rooted": [1], "stuck": [[2]]}, "unreadable_column"),
        ({"rooted": [1], "stuck": ["a\ud800"]}, "unreadable_entry"),
        ({"rooted": [1], "st\0uck": [2]}, "unreadable_header"),
        ({"rooted": [1], "stuck\ud800": [2]}, "unreadable_header"),
        (Path(__file__), "unknown_file"),
    ],
)
def test_what_is_not_a_table(data: Any, code: str) -> None:
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(data, rooted="rooted", stuck="stuck", treatments=[])
    assert _codes(found.value) == {code}


def test_a_column_of_lists_is_refused(frame: pl.DataFrame) -> None:
    with pytest.raises(TrialDataError, match="cannot be read"):
        rl.load_trial(frame.with_columns(tray=pl.lit([1])), **ROLES)


def test_broken_files(tmp_path) -> None:
    for name in ("trial.parquet", "trial.xlsx"):
        (tmp_path / name).write_bytes(b"not what the name says")
        with pytest.raises(TrialDataError, match="cannot be read") as found:
            rl.load_trial(tmp_path / name, **ROLES)
        assert _codes(found.value) == {"unreadable"}
    (tmp_path / "trial.doc").write_bytes(b"")
    with pytest.raises(TrialDataError, match=r"\.csv, \.parquet or \.xlsx"):
        rl.load_trial(tmp_path / "trial.doc", **ROLES)


@pytest.mark.parametrize(
    ("call", "kind"),
    [
        (lambda: rl.rates.interval(5, 3), CountError),
        (lambda: rl.rates.interval(-1, 3), CountError),
        (lambda: rl.rates.interval(0, 0), CountError),
        (lambda: rl.rates.interval(1, 3, confidence=95), CountError),
        (lambda: rl.rates.interval(1.5, 3), CountError),
        (lambda: rl.rates.interval([1, -2], 3), CountError),
        (lambda: rl.rates.interval("a", 3), CountError),
        (lambda: rl.rates.interval(1, 3, method="wilsen"), ChoiceError),
        (lambda: rl.compare.difference(1, 2, 3, 2), CountError),
        (lambda: rl.compare.ratio(1, 2, 1, 2, method="x"), ChoiceError),
        (lambda: rl.tables.chi_square([[1, 2]]), CountError),
        (lambda: rl.tables.chi_square([[1, 2], [3]]), CountError),
        (lambda: rl.tables.chi_square([[1, 2.5], [3, 4]]), CountError),
        (lambda: rl.tables.fisher([[1, 2, 3], [4, 5, 6]]), RootlingError),
        (lambda: rl.Strength("IBA", unit="spoons"), StrengthError),
        (lambda: rl.Strength("IBA", unit="ppm"), StrengthError),
        (lambda: rl.units.convert(1, rl.Strength("IBA", unit="mg/L"), "mg/kg"), StrengthError),
        (lambda: rl.units.convert(-1, rl.Strength("IBA", unit="mg/L"), "g/L"), StrengthError),
        (lambda: rl.units.parse("plenty"), StrengthError),
        (lambda: rl.rates.interval(1, 3, confidence="95 %"), CountError),
        (lambda: rl.rates.interval([1], 3, confidence=None), CountError),
        (lambda: rl.rates.interval(1, 3, method=None), ChoiceError),
        (lambda: rl.rates.interval([1], 3, method=7), ChoiceError),
        (lambda: rl.compare.difference(1, 2, 1, 2, confidence="high"), CountError),
        (lambda: rl.compare.odds_ratio(1, 2, 1, 2, method=None), ChoiceError),
        (lambda: rl.tables.three_way([[1, 2], [3, 4]]), CountError),
        (lambda: rl.tables.three_way([[[1, 2], [3, 4]]]), CountError),
        (lambda: rl.tables.three_way(7), CountError),
        (lambda: rl.tables.three_way([[[0, 0], [0, 0]], [[0, 0], [0, 0]]]), CountError),
        (lambda: rl.Result.from_json("{}"), ChoiceError),
        (lambda: rl.Result.from_json("no"), ChoiceError),
    ],
)
def test_plain_numbers_are_checked(call: Any, kind: type[Exception]) -> None:
    with pytest.raises(kind) as found:
        call()
    assert isinstance(found.value, RootlingError)


@pytest.mark.parametrize(
    ("ask", "parts"),
    [
        (lambda trial: trial.take_rates("strenght"), ('"strenght"', 'did you mean "strength"')),
        (lambda trial: trial.take_rates("strength", method="wilsonn"), ('did you mean "wilson"', "clopper-pearson")),
        (lambda trial: trial.compare("strength", 2500, 5001), ('"5001"', 'did you mean "5000"')),
        (lambda trial: trial.compare("strength", 2500, 90), ('"90"', "2500, 5000")),
        (lambda trial: trial.compare("strength", 2500, 5000, at={"rootstock": "K12"}), ('"rootstock"',)),
        (lambda trial: trial.association("nothing"), ('"nothing"', "strength")),
        (lambda trial: trial.model(["strengths"]), ('"strengths"', 'did you mean "strength"')),
        (lambda trial: trial.take_rates("strength", trays="maybe"), ("maybe",)),
        (lambda trial: trial.compare("strength", 2500, 2500.0), ("'2500' is named twice", "name two that differ")),
        (lambda trial: trial.association("strength", within="strength"), ("named twice",)),
        (lambda trial: trial.model("strength").adjusted_rates("strength", within="strength"), ("named twice",)),
    ],
)
def test_names_in_questions_are_checked(trial: rl.Trial, ask: Any, parts: tuple[str, ...]) -> None:
    with pytest.raises(ChoiceError) as found:
        ask(trial)
    assert all(part in str(found.value) for part in parts), str(found.value)


def test_the_nearest_method_is_named() -> None:
    with pytest.raises(ChoiceError, match='interval method "wilsen" is not known; did you mean "wilson"'):
        rl.rates.interval(1, 3, method="wilsen")  # type: ignore[arg-type]


def test_levels_and_methods_of_another_kind_say_what_is_wanted(trial: rl.Trial) -> None:
    with pytest.raises(
        CountError, match=r"confidence 95 % is not a number; give it as a proportion, for example 0\.95"
    ):
        rl.rates.interval(1, 3, confidence="95 %")  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match='interval method "None" is not known; known: wald, wilson'):
        rl.rates.interval(1, 3, method=None)  # type: ignore[arg-type]
    with pytest.raises(CountError, match="confidence x is not a number"):
        trial.model("strength").odds_ratios(confidence="x")  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match="by names no column; leave it out"):
        trial.take_rates(by=[])


def test_an_empty_name_is_near_to_nothing(frame: pl.DataFrame) -> None:
    for option in ("tray", "treatments", "block"):
        with pytest.raises(ChoiceError) as found:
            rl.load_trial(frame, **{**ROLES, option: ""})
        assert str(found.value) == f"{option}='' is no name of a column; write {option}=\"name of the column\""


def test_every_issue_code_of_the_reading_is_tested_by_name() -> None:
    room = Path(rl.__file__).parent / "_frames"
    sources = [(room / name).read_text(encoding="utf-8") for name in ("frames.py", "workbook.py", "counting.py")]
    sources += [path.read_text(encoding="utf-8") for path in sorted((room / "engines").glob("*.py"))]
    given = re.findall(r'of_input\(\s*"(\w+)"', "".join(sources))
    assert len(given) >= 8
    own = "".join(
        Path(__file__).with_name(name).read_text(encoding="utf-8")
        for name in ("test_errors.py", "test_sheets.py", "test_engines.py", "test_engines_asked.py")
    )
    # What only a missing package can give is left to its own words.
    assert {code for code in given if f'"{code}"' not in own} <= {"no_reader"}


@pytest.mark.parametrize("data", [{}, pl.DataFrame()])
def test_a_table_without_columns_is_told_once(data: Any) -> None:
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(data, **ROLES)
    assert str(found.value).splitlines()[1].strip() == (
        "the table has no columns; give a column for each thing that was recorded, with one entry per row"
    )
    assert [issue.code for issue in found.value.issues] == ["no_columns"]


def test_a_model_without_effects_is_refused(trial: rl.Trial) -> None:
    with pytest.raises(ModelError, match="no effects were named"):
        trial.model([])


@pytest.mark.parametrize("level", [0.0, 1.0, 95.0, -0.5, float("nan"), float("inf")])
def test_levels_lie_between_0_and_1(trial: rl.Trial, level: float) -> None:
    for ask in (
        lambda: rl.rates.interval(1, 3, confidence=level),
        lambda: rl.rates.interval([1], 3, confidence=level),
        lambda: trial.take_rates("strength", confidence=level),
        lambda: trial.compare("strength", 2500, 5000, confidence=level),
    ):
        with pytest.raises(CountError, match="not between 0 and 1"):
            ask()


@pytest.mark.parametrize("margin", [-0.1, 1.5, float("nan")])
def test_margins_are_proportions(trial: rl.Trial, margin: float) -> None:
    with pytest.raises(CountError, match="margin"):
        trial.compare("strength", 2500, 5000, margin=margin)


def test_issues_hold_what_the_message_says(frame: pl.DataFrame) -> None:
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(_with(frame, 2, rooted=53), **ROLES)
    (issue,) = found.value.issues
    assert (issue.code, issue.severity, issue.row, issue.column) == ("rooted_above_stuck", "problem", 3, "rooted")
    assert str(issue) in str(found.value)
    assert str(found.value).startswith("1 problem in the trial data:")


def test_errors_survive_pickling() -> None:
    error = TrialDataError("1 problem", [Issue("none_stuck", row=3)])
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.issues) == (str(error), error.issues)
    assert isinstance(error, ValueError)


def test_unusual_strengths_warn_and_never_block(frame: pl.DataFrame) -> None:
    strong = frame.with_columns(pl.col("strength") * 100)
    with pytest.warns(rl.exceptions.StrengthWarning, match="unusual"):
        rl.load_trial(strong, **ROLES, strength=rl.Strength("IBA", unit="mg/L", method="quick dip"))


def test_lists_of_counts_belong_together() -> None:
    with pytest.raises(CountError, match="do not belong together"):
        rl.rates.interval([1, 2], [3, 4, 5])


def test_a_name_of_hundreds_of_letters_is_cut_in_an_error() -> None:
    long = "x" * 500
    strength = ["0", "0", long, long]
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"]}
    trial = rl.load_trial({"strength": strength, "rooted": [1, 2, 3, 4], "stuck": [9] * 4}, **roles)
    with pytest.raises(ModelError, match="since its level") as raised:
        trial.model(["strength"], numeric="strength")
    assert len(str(raised.value)) < 300
    assert f'"{"x" * 117}..."' in str(raised.value)
