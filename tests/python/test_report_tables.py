"""Tables of reports: heads that a person writes, limits in one column, footnotes, letters and rates in one table."""

from __future__ import annotations

from pathlib import Path

import docx
import every_kind
import pytest
import reports_made
import rootling as rl
from rootling.report.document import Answer, document
from rootling.report.next_steps import next_of
from rootling.report.tables import alike, table_of


def _cells(name: str) -> tuple[list[str], list[list[str]]]:
    heads, rows, _ = table_of(every_kind.made(name)).cells("terminal")
    return heads, rows


def test_letters_stand_beside_rate_error_interval_and_counts() -> None:
    heads, rows = _cells("letters")
    take = [
        "IBA, mg/L",
        "take rate, adjusted",
        "SE",
        "95 % interval",
        "letters",
        "trays, n",
        "cuttings, n",
        "rooted, n",
    ]
    assert heads == take
    assert rows[0] == ["0", "28.7 %", "3.1 points", "22.7 to 35.6 %", "c", "24", "432", "124"]
    told = " ".join(table_of(every_kind.made("letters")).footnotes)
    assert "not shown to differ at 5 % (all pairs, their joint distribution)" in told
    assert "Unit of the experiment: tray." in told


def test_two_levels_have_their_counts() -> None:
    heads, rows = _cells("comparison")
    assert heads[-3:] == ["trays, n", "cuttings, n", "rooted, n"]
    assert [row[-3:] for row in rows[:3]] == [["24", "432", "124"], ["24", "432", "292"], ["", "", ""]]
    told = " ".join(table_of(every_kind.made("comparison")).footnotes)
    assert (
        "P values: difference, 5000 mg/L minus 0 mg/L, score on effective cuttings, t on 51 degrees of freedom;" in told
    )


@pytest.mark.parametrize("name", every_kind.ASKED)
def test_nothing_of_the_answers_own_table_is_lost(name: str) -> None:
    result = every_kind.made(name)
    table = table_of(result)
    heads, rows, numeric = table.cells("terminal")
    assert len(set(heads)) == len(heads) == len(numeric)
    assert len(rows) == result.table().height
    assert all(len(row) == len(heads) for row in rows)
    assert not [head for head in heads if "_" in head]
    # Columns left out are told below, in a head, or joined.
    known = {one["name"] for one in table.columns}
    left = set(result.table().columns) - known
    assert left <= {"confidence", "statistic_is", "test", "counts", "df", "error_df", "other_effects"}
    said = " ".join((*table.footnotes, *heads))
    for column in left - {"test", "statistic_is"}:
        shown = str(result.table()[column].drop_nulls().to_list()[0])
        assert shown in said or _as_number(shown, column) in said, (column, said)


def _as_number(shown: str, column: str) -> str:
    """A number as it is written below a table: a share in percent, degrees of freedom with one decimal."""
    return f"{100 * float(shown):g} %" if column == "confidence" else f"{float(shown):.1f}".removesuffix(".0")


def test_letters_and_rates_of_one_effect_share_a_table(tmp_path: Path) -> None:
    model = every_kind.model()
    rates, letters = model.adjusted_rates("strength"), model.letters("strength")
    assert alike(rates, letters)
    assert not alike(rates, model.letters("strength", within="rootstock"))
    first, second = document([rates, letters], None).answers
    assert [len(first.tables), len(second.tables)] == [1, 0]
    assert "letters" in first.tables[0].cells()[0]
    assert second.elsewhere == "Its numbers stand in table 1, which holds rates and letters."
    for ending in ("html", "md", "tex"):
        text = rl.report.write([rates, letters], tmp_path / f"r.{ending}").read_text(encoding="utf-8")
        assert text.count(second.elsewhere) == 1
    paper = docx.Document(str(rl.report.write([letters, rates], tmp_path / "r.docx")))
    assert len(paper.tables) == 1


def test_a_curve_has_its_strengths_counted_and_fitted() -> None:
    of = Answer(every_kind.made("strength_curve, several"), "?", 1)
    whole, along = of.tables
    assert (whole.number, along.number) == ("1a", "1b")
    heads, rows, _ = along.cells()
    assert heads[:5] == ["rootstock", "IBA, mg/L", "take rate counted", "95 % interval", "by the curve"]
    assert rows[0][:5] == ["K12", "0", "12.0 %", "5.0 to 26.2 %", "8.3 %"]
    averaged = table_of(every_kind.made("strength_curve"))
    heads, rows, _ = averaged.cells("terminal")
    assert rows[0][heads.index("shapes, weight in the average")] == "straight 90 %, hump 10 %"


def test_counts_without_trays_are_called_cuttings() -> None:
    for name in ("plum_cuttings", "apple_shoots"):
        captions = [one.caption for answer in document(reports_made.asked(name), None).answers for one in answer.tables]
        assert not [one for one in captions if "tray" in one]


def test_what_to_do_next_stands_by_the_answer() -> None:
    asked = [every_kind.made(name) for name in ("comparison", "take_rates", "strength_curve")]
    told = {one.result.kind: one for one in document(asked, None).answers}
    assert told["comparison"].below[-1] == "Next: try 5000 mg/L IBA on a small batch before all of it."
    assert told["comparison"].below[0].startswith("How sure: ")
    assert not [one for one in told["comparison"].details if one.startswith("Next:")]
    # The differences are in the report.
    assert told["take_rates"].below == ()
    assert next_of(every_kind.made("take_rates")).startswith("Next: ask for the differences")
    assert told["strength_curve"].below[-1] == "Next: test strengths above 5000 mg/L."


def test_titles_say_what_is_planned_and_what_the_chain_is() -> None:
    titles = {name: document(reports_made.asked(name), None).title for name in reports_made.SETS}
    assert titles["planned"] == "Planned trial: 12 trays, strength at 2 levels"
    assert titles["weekly_batches"] == "Crop under watch: by room and rootstock, until 2025-12-01"
    assert titles["graft_to_tree"] == "From grafted to saleable: a chain of 5 steps"
    assert document(every_kind.made("trays_needed"), None).title == "Planned trial: how many trays"
    assert document(every_kind.made("agreement"), None).title == "Two readers: report"
