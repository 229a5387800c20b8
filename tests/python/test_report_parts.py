"""What a report says of whom: a part for each trial, its own facts in it, nothing twice."""

from __future__ import annotations

from pathlib import Path

import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, ReportError
from rootling.report import words
from rootling.report.document import document
from rootling.report.readers import for_readers

ROLES = {"rooted": "rooted", "stuck": "stuck", "treatments": "strength", "tray": "tray"}


@pytest.fixture
def first() -> rl.Trial:
    return rl.load_trial(rl.demo.two_strengths(seed=1), **ROLES, block="bench")


@pytest.fixture
def second() -> rl.Trial:
    roles = {**ROLES, "treatments": ["strength", "dark_days", "rootstock"]}
    return rl.load_trial(rl.demo.factorial(seed=1), **roles, block="bench")


def _page(what: object, folder: Path) -> str:
    return rl.report.write(what, folder / "report.html").read_text(encoding="utf-8")  # type: ignore[arg-type]


def test_two_trials_have_a_part_each(first: rl.Trial, second: rl.Trial, tmp_path: Path) -> None:
    rates = second.take_rates("rootstock")
    page = _page([first, second, rates], tmp_path)
    one, two = page.index("Part 1 of 2"), page.index("Part 2 of 2")
    assert one < page.index(first.design.sentence) < two < page.index(second.design.sentence)
    # A trial without results of its own is reported with its take rates.
    assert one < page.index(first.take_rates().sentence) < two < page.index(rates.sentence)
    assert page.count("<h2>Design</h2>") == 2


def test_one_trial_has_no_parts(first: rl.Trial, tmp_path: Path) -> None:
    page = _page([first, first.take_rates(), first.compare("strength", 2500, 5000)], tmp_path)
    assert "Part 1" not in page
    assert page.count("<h2>Design</h2>") == 1


def test_records_of_another_trial_stand_apart(first: rl.Trial, second: rl.Trial, tmp_path: Path) -> None:
    record = rl.Result.from_json(second.take_rates().to_json())
    page = _page([first, record], tmp_path)
    assert "Part 2 of 2" in page
    assert second.fingerprint in page
    own = rl.Result.from_json(first.take_rates().to_json())
    assert "Part 1" not in _page([first, own], tmp_path)


def test_questions_name_what_they_are_about(first: rl.Trial, tmp_path: Path) -> None:
    asked = [first.compare("strength", 2500, 5000), first.association("strength"), first.model("strength").letters]
    page = _page([asked[0], asked[1], asked[2]("strength")], tmp_path)
    assert "Do strength 2500 and 5000 differ, and by how much?" in page
    assert "Does rooting go with strength?" in page
    assert "Which levels of strength are told apart?" in page


def test_the_same_question_asked_twice_is_told_apart(second: rl.Trial) -> None:
    alone = second.compare("strength", 2500, 5000)
    held = second.compare("strength", 2500, 5000, at={"rootstock": "K12"}, margin=0.05)
    narrow = second.compare("strength", 2500, 5000, confidence=0.9)
    asked = [one.question for one in document([alone, held, narrow], None).answers]
    start = "Do strength 2500 and 5000 differ, and by how much"
    assert asked == [
        f"{start} (95 % limits)?",
        f"{start} (rootstock K12, margin 5 per 100)?",
        f"{start} (90 % limits)?",
    ]
    model = second.model(["strength", "rootstock"])
    within = document(model.adjusted_rates("strength", within="rootstock"), None).answers[0]
    assert within.question.endswith("other things alike (within each rootstock)?")


def test_methods_are_said_above_only_right_above(first: rl.Trial) -> None:
    model = first.model("strength")
    told = document([model.adjusted_rates("strength"), model.coefficients(), model.adjusted_rates("strength")], None)
    assert len(told.methods) == 2
    same, other = "A fit was made.", "Trays were dealt out anew."
    said = words.methods([("a", same), ("b", same), ("c", other), ("d", same)])
    assert [paragraph for _, paragraph in said] == [same, "As said above.", other, same]


def test_the_main_answer_leads(first: rl.Trial) -> None:
    model = first.model("strength")
    told = document([model.coefficients(), model, first.compare("strength", 2500, 5000)], None)
    assert [one.result.kind for one in told.answers] == ["comparison", "coefficients", "what_matters"]


def test_a_title_names_what_was_tried_and_on_what(first: rl.Trial, second: rl.Trial) -> None:
    assert document(second, None).title == "Rooting trial: strength, dark days and rootstock"
    frame = {**rl.demo.two_strengths(seed=1).to_dict(as_series=False), "species": ["walnut"] * 12}
    trial = rl.load_trial(frame, **ROLES, strength=rl.Strength("IBA", unit="mg/L"))
    assert document(trial, None).title == "Rooting trial: strength of IBA, rootstock K12, species walnut"
    record = rl.Result.from_json(first.take_rates().to_json())
    assert document(record, None).title == "Rooting trial: report"


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("Rates hold over benches. For one alone, hold it with at=.", "Rates hold over benches."),
        ('A P value near 0.05; use trays="ignore" for less.', "A P value near 0.05."),
        ('substance and unit of the strengths: strength=rl.Strength("IBA")', "substance and unit of the strengths"),
        ("Ask for their common curve: trial.strength_curve(common=1). Two.", "Ask for their common curve. Two."),
        ('See whether trays="random" helps.', 'See whether trays="random" helps.'),
        ("Nothing to type; a column a=b.", "Nothing to type; a column a=b."),
    ],
)
def test_what_is_typed_is_left_out_for_readers(text: str, left: str) -> None:
    assert for_readers(text) == left


def test_methods_and_cautions_stand_once_and_without_codes(first: rl.Trial, tmp_path: Path) -> None:
    model = first.model("strength")
    page = _page([model, model.adjusted_rates("strength"), model.contrasts("strength")], tmp_path)
    methods = page[page.index("<h2>Methods</h2>") : page.index("<h2>Record</h2>")]
    start = model.what_matters().methods.split(". ")[0]
    assert methods.count(start) == 1
    assert "block kept" not in page[: page.index("<h2>Record</h2>")]
    assert "block_kept" not in repr(model)


@pytest.mark.parametrize("name", ["r.pdf", "x.doc", "R.PDF", "t.xlsx", "notes.txt", "r.htmlx"])
def test_a_name_of_another_kind_of_file_is_refused(first: rl.Trial, tmp_path: Path, name: str) -> None:
    with pytest.raises(ReportError, match=r"a report is no \.\w+ file; name it '\w\w*\.html' or '\w+\.docx'"):
        rl.report.write(first, tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_the_order_of_file_and_results_is_said(first: rl.Trial) -> None:
    with pytest.raises(ReportError, match="the results come first, the file second"):
        rl.report.write("r.html", [first])  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match="'int' is none of these"):
        rl.report.write([first, 3], "r.html")


def test_wide_tables_are_made_to_fit_the_paper(second: rl.Trial, tmp_path: Path) -> None:
    model = second.model(["strength", "rootstock"])
    page = _page([model.checks(), model.contrasts("strength"), second.take_rates("strength")], tmp_path)
    assert 'class="vast"' in page
    assert "@page across { size: A4 landscape" in page
    assert ".scroll { overflow: visible; background: none; }" in page


def test_outcomes_have_a_heading_each(tmp_path: Path) -> None:
    frame = {
        "strength": [0] * 4 + [4000] * 4,
        "tray": list(range(8)),
        "rooted": [3, 4, 2, 5, 10, 9, 12, 11],
        "dead": [1, 0, 2, 1, 4, 5, 3, 4],
        "stuck": [20] * 8,
    }
    trial = rl.load_trial(frame, **ROLES, dead="dead")
    take = trial.compare("strength", 0, 4000)
    survival = trial.compare("strength", 0, 4000, outcome="survival")
    models = [trial.model("strength", outcome=one) for one in ("take", "survival")]
    page = _page([take, survival, *models], tmp_path)
    asked = "o strength 0 and 4000 differ, and by how much?"
    # below the decision, above the figure, and as the name of the table
    before = page[: page.index("<h2>Cautions</h2>")]
    for title in ("Take", "Survival"):
        assert before.count(f"{title}: D{asked}") == 3
        assert before.count(f"{title}: Which treatments matter?") == 3
    # Decisions first, each below its question.
    heading, told = page.index(f">Survival: D{asked}</a>"), page.index(survival.sentence)
    assert page.index(take.sentence) < heading < told < page.index("<figure>")
    # The take alone needs no name; survival alone has it.
    assert "Take: " not in _page([take], tmp_path)
    assert f"Survival: D{asked}" in _page([survival], tmp_path)
