"""Names, entries and files to trip over: each is one sentence or a sound answer, never an abort."""

from __future__ import annotations

import ast
import math
import pickle
import zipfile
from pathlib import Path
from typing import Any

import pandas as pd
import polars as pl
import pytest
import rootling as rl

ROLES = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray"}
COUNTS: dict[str, list[Any]] = {
    "strength": [0, 0, 1, 1],
    "tray": list("abcd"),
    "rooted": [3, 4, 9, 10],
    "stuck": [20] * 4,
}
HALF = "\ud800"
pytestmark = pytest.mark.filterwarnings("ignore::rootling.exceptions.RootlingWarning")


def told(**given: Any) -> str:
    data = given.pop("data", COUNTS)
    with pytest.raises(rl.RootlingError) as error:
        rl.load_trial(data, **(ROLES | given))
    return str(error.value)


def trial(**given: Any) -> rl.Trial:
    return rl.load_trial(COUNTS | given.pop("data", {}), **(ROLES | given))


@pytest.mark.parametrize("kind", [dict, pl.DataFrame, pd.DataFrame], ids=["dict", "polars", "pandas"])
def test_a_nul_in_a_column_name_is_refused(kind: Any) -> None:
    data = kind({**COUNTS, "a\0b": [1, 2, 3, 4]})
    assert r"the column name 'a\x00b' has a NUL in it; rename the column" in told(data=data, covariates=["a\0b"])
    assert r"a\x00b" in told(data=data, tray="Tray")
    assert r"a\x00b" not in str(trial(data=COUNTS))


def test_a_nul_in_rows_to_predict_for_is_refused() -> None:
    model = trial().model("strength")
    for rows in ({"a\0b": [0]}, pl.DataFrame({"a\0b": [0]})):
        with pytest.raises(rl.TrialDataError, match="has a NUL in it"):
            model.predict(rows)


def test_half_letters_are_refused_in_a_sentence(tmp_path: Path) -> None:
    assert "has half a letter in it" in told(data={**COUNTS, HALF: [1] * 4})
    assert "has half a letter in it" in told(data={**COUNTS, "strength": [0, 0, HALF, HALF]})
    for name, given in {
        "rooted": HALF,
        "covariates": [HALF],
        "wide": {HALF: ["a"]},
        "control": {"strength": HALF},
        "level_order": {"strength": [HALF]},
        "sheet": HALF,
        "lost": HALF,
    }.items():
        assert "\n" not in told(**{name: given}).split("\nOnce")[0].replace("data:\n", ""), name
    model = trial().model("strength")
    asks = [
        lambda: model.adjusted_rates(HALF),
        lambda: model.adjusted_rates("strength", at={"strength": HALF}),
        lambda: model.predict({"strength": [HALF]}),
        lambda: trial().take_rates(HALF),
        lambda: trial().compare("strength", HALF, 0),
        lambda: rl.Strength(HALF, unit="mg/L"),
    ]
    for ask in asks:
        with pytest.raises(rl.RootlingError) as error:
            ask()
        assert str(error.value).encode()
    # a report shows it as a mark
    path = rl.report.write([trial()], tmp_path / "report.html", title=HALF)
    assert "&lt;U+D800&gt;" in path.read_text(encoding="utf-8")


def test_the_line_to_paste_is_python_whatever_the_names_hold() -> None:
    names = ["a\x07b", "\x7f", "\u202eK", "q\"'\\", "\u2028", "n\nn", "\\0", "\U000e0001"]
    for name in names:
        data = {("strength" if key == "strength" else key): values for key, values in COUNTS.items()}
        data = {**data, name: ["x", None, None, "y"]}
        with pytest.raises(rl.TrialDataError) as error:
            rl.load_trial(data, **{**ROLES, "treatments": ["strength", name]})
        assert error.value.issues[0].paste is not None
        option = ast.parse(f"f({error.value.issues[0].paste})", mode="eval").body
        assert isinstance(option, ast.Call)
        assert option.keywords[0].arg == "fill_down"
        assert ast.literal_eval(option.keywords[0].value) == [name]
        # What the sentence tells to write is what can be pasted.
        assert str(error.value.issues[0].paste) in error.value.issues[0].hint
        if error.value.paste is not None:
            ast.parse(error.value.paste)
        assert all(letter.isprintable() or letter == "\n" for letter in str(error.value))


def test_what_is_no_python_is_no_option_to_paste() -> None:
    for paste in ('fill_down=["\\u{7f}"]', "a b", "sheet=", "1", "x" * 5000):
        assert rl.exceptions.Issue("code", paste=paste).paste is None
    assert rl.exceptions.Issue("code", paste="stuck=20").paste == "stuck=20"


def test_messages_are_short_whatever_a_header_holds() -> None:
    assert len(told(data={**COUNTS, "x" * 100_000: [1] * 4}, tray="Tray_")) < 2000
    assert len(told(data={**COUNTS, **{f"{at} long" * 100: [1] * 4 for at in range(300)}}, tray="Tray_")) < 4000
    levels = {"strength": [f"{at}{'two words ' * 90}" for at in range(4)]}
    with pytest.raises(rl.RootlingError) as error:
        trial(data=levels, distinct_levels=True, checked=["total_row"]).compare("strength", "none", "at all")
    assert len(str(error.value)) < 1000


def test_signs_that_hide_or_turn_text_are_shown_as_marks() -> None:
    levels = {"strength": ["\u202eKcilab", "\u202eKcilab", "a\x07b\x1b[31m", "a\x07b\x1b[31m"]}
    one = trial(data=levels)
    model = one.model("strength")
    unseen = set("\u202e\x07\x1b")
    answers = [one.association("strength"), one.take_rates("strength"), model.predict(levels), model.what_matters()]
    for answer in [*answers, one.compare("strength", *dict.fromkeys(levels["strength"]))]:
        shown = [repr(answer), answer._repr_html_(), answer.sentence, *answer.details, *(n.text for n in answer.notes)]
        assert not unseen & set("".join(shown))
        assert rl.Result.from_json(answer.to_json()) == answer
    assert not unseen & set(repr(one) + one._repr_html_() + repr(one.design) + repr(model) + model._repr_html_())
    assert "<U+202E>Kcilab" in answers[0]._repr_html_().replace("&lt;", "<").replace("&gt;", ">")
    with pytest.raises(rl.RootlingError) as error:
        one.compare("strength", "none", "a\x07b\x1b[31m")
    assert not unseen & set(str(error.value))
    assert pickle.loads(pickle.dumps(error.value)).args == error.value.args


def test_scores_of_any_size_and_unit_give_the_same_trend() -> None:
    plain = rl.tables.trend([1, 5, 9], [11, 10, 10], scores=[2, 0, 1])
    for scores, unit in ([2e200, 0, 1e200], 1e200), ([1e300, -1e300, 0], 1e300):
        found = rl.tables.trend([1, 5, 9], [11, 10, 10], scores=scores)
        assert math.isclose(found.z, plain.z, rel_tol=1e-12)
        assert math.isclose(found.exact.p, plain.exact.p, rel_tol=1e-12)
        assert math.isclose(found.slope * unit, plain.slope, rel_tol=1e-12)
    six = rl.tables.trend([1, 2, 3, 5, 7, 9], [10] * 6, scores=[1e300, 2e300, 3e300, 4e300, 5e300, 6e300])
    assert math.isfinite(six.z)
    assert six.z > 4
    with pytest.raises(rl.exceptions.CountError, match="too large or too near"):
        rl.tables.trend([1, 5, 9], [11, 10, 10], scores=[1.7e308, -1.7e308, 0])


def test_limits_of_a_difference_are_differences() -> None:
    for method in ("agresti-caffo", "wald"):
        found = rl.compare.difference(0, 4, 57, 57, method=method)
        assert (found.value, found.high) == (1.0, 1.0)
    assert rl.compare.difference(57, 57, 0, 4, method="agresti-caffo").low == -1.0


def test_a_table_without_an_odds_ratio_says_why_and_keeps_its_record() -> None:
    for table in ([[0, 3], [0, 1]], [[3, 1], [0, 0]]):
        try:
            found = rl.tables.fisher(table)
        except rl.RootlingError:
            continue
        assert found.odds_ratio is None
        assert "as probable under every odds ratio" in found.odds_ratio_left_out
        assert "no_odds_ratio" in [note.code for note in found.notes]
        assert rl.Result.from_json(found.to_json()) == found
    assert 0 < rl.tables.fisher([[3, 1], [1, 3]]).odds_ratio.value < 1


def test_notes_on_deaths_come_back_with_a_model() -> None:
    model = trial(data={"dead": [1, 1, 2, 3]}, dead="dead").model("strength")
    codes = [note.code for note in model.notes]
    assert {"deaths_recorded", "survival", "rooted_of_survivors"} <= set(codes)
    for again in (rl.models.Model.from_json(model.to_json()), pickle.loads(pickle.dumps(model))):
        assert again.notes == model.notes
        assert again == model


def test_a_damaged_workbook_is_refused(tmp_path: Path) -> None:
    import xlsxwriter

    path = tmp_path / "trays.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet()
        for at in range(2000):
            sheet.write_row(at, 0, [at, "tray", 3.5])
    with zipfile.ZipFile(path) as archive:
        start = archive.getinfo("xl/worksheets/sheet1.xml").header_offset + 200
    whole = path.read_bytes()
    path.write_bytes(whole[:start] + bytes(reversed(whole[start : start + 300])) + whole[start + 300 :])
    assert "the table cannot be read" in told(data=path)


def test_a_file_name_that_cannot_be_is_refused() -> None:
    for name in ("x" * 5000 + ".csv", "a\0b.csv"):
        assert "cannot be the name of a file" in told(data=name)
        with pytest.raises(rl.RootlingError):
            trial().model("strength").predict(name)


def test_a_tray_that_no_bench_holds_is_refused() -> None:
    with pytest.raises(rl.RootlingError) as error:
        trial().model("strength").predict({"strength": [0]}, new_tray=2_000_000_000)
    assert "\n" not in str(error.value)


def test_of_very_many_wrong_rows_the_first_are_listed_and_the_rest_counted() -> None:
    rows = 25_000
    data = {"strength": [0, 1] * (rows // 2), "tray": list(range(rows)), "rooted": [21] * rows, "stuck": [20] * rows}
    data["rooted"][:4], data["tray"] = [1, 2, 3, 4], [f"t{at}" for at in range(rows)]
    with pytest.raises(rl.TrialDataError) as error:
        rl.load_trial(data, **ROLES)
    above = [one for one in error.value.issues if one.code == "rooted_above_stuck"]
    beyond = [one for one in error.value.issues if one.code == "more_rows"]
    assert (len(above), [one.value for one in beyond]) == (10_000, [str(rows - 4 - 10_000)])
    # nearly all would be set aside: no line offers that
    assert error.value.paste is None
    left = rl.load_trial(data, **ROLES, bad_rows="set-aside")
    assert left.design.n_units == 4
    assert f"{rows - 4} rows set aside" in repr(left)
