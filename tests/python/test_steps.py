"""The chain of steps: what its answers say, and what is refused in words."""

from __future__ import annotations

import pickle
from typing import Any

import numpy as np
import polars as pl
import pytest
import rootling as rl
from rootling._results import Result
from rootling.exceptions import ChoiceError, CountError, TrialDataError

BEFORE = {"graft": 0.8, "dark": 0.6, "rooted": 0.9}
AFTER = {"graft": 0.8, "dark": 0.5, "rooted": 0.88}
CHAIN = ["grafted", "taken", "rooted", "saleable"]
ROWS: dict[str, Any] = {
    "batch": ["b1", "b2", "b3", "b4", "b5"],
    "grafted": [50, 50, 60, 40, 50],
    "taken": [45, 46, 54, 37, 44],
    "rooted": [22, 26, 30, 18, 24],
    "saleable": [20, 25, 27, 17, None],
}


def chain() -> rl.steps.Steps:
    return rl.steps.load(ROWS, batch="batch", steps=CHAIN)


def answers() -> list[Any]:
    trays = [[[9, 1], [0, 10]], [[7, 3], [2, 8]], [[10, 0], [1, 9]], [[6, 2], [3, 9]]]
    return [
        rl.steps.yield_change(BEFORE, AFTER),
        rl.steps.yield_change({"graft": 0.0, "rooted": 0.9}, {"graft": 0.5, "rooted": 0.8}),
        rl.steps.agreement([[80, 10], [5, 5]]),
        rl.steps.agreement(trays, answers=["rooted", "not rooted"]),
        rl.steps.agreement([[106, 10, 4], [22, 28, 10], [2, 12, 6]], weights="squared"),
        rl.steps.early_sign([[231, 32], [27, 54]]),
        rl.steps.early_sign([[96, 24], [2, 18]], unread=(0, 60), kept="irrespective", sign="tint"),
        rl.steps.early_sign([[96, 24], [2, 18]], unread=(0, 60), sign="tint"),
        rl.steps.early_sign(trays, unread=[(0, 3)] * 4, kept="irrespective"),
        chain().yields(),
        chain().yields("current-rates", draws=99),
        chain().to_start(200),
        chain().sure_of(500, season_sd=0.25),
    ]


def test_answers_have_all_faces() -> None:
    for found in answers():
        assert len(found.sentence.split()) <= 30, found.sentence
        assert found.sentence.endswith(".")
        assert all(line.endswith(".") for line in found.details)
        assert found.table().height
        assert Result.from_json(found.to_json()) == found
        assert found.plot().axes
        assert found.methods
        assert found.references or found.kind == "start_numbers"
        assert found.sentence in found._repr_html_().replace("&#x27;", "'").replace("&quot;", '"')


def test_answers_make_a_page(tmp_path: Any) -> None:
    page = rl.report.write(answers()[:4], tmp_path / "steps.html", title="Steps")
    assert "dark accounts for 7.1 fewer" in page.read_text(encoding="utf-8")


def test_numbers_of_the_literature() -> None:
    # Fleiss, Cohen and Everitt 1969; Altman and Bland 1994; Begg and Greenes 1983.
    found = rl.steps.agreement([[106, 10, 4], [22, 28, 10], [2, 12, 6]])
    assert (round(found.kappa, 4), round(found.kappa_se, 4)) == (0.4286, 0.0537)
    liver = rl.steps.early_sign([[231, 32], [27, 54]]).measures
    assert [round(one.value, 3) for one in liver[:2]] == [0.895, 0.628]
    culled = rl.steps.early_sign([[96, 24], [2, 18]], unread=(0, 60), kept="irrespective").measures
    assert [(round(one.value, 3), round(one.as_read, 2)) for one in culled[:2]] == [(0.923, 0.98), (0.75, 0.43)]


def test_tables_come_in_whatever_a_notebook_holds() -> None:
    wanted = rl.steps.agreement([[40, 9], [6, 45]])
    for table in (np.array([[40, 9], [6, 45]]), pl.DataFrame({"yes": [40, 6], "no": [9, 45]}), ((40, 9), (6, 45))):
        assert rl.steps.agreement(table) == wanted
    trays = np.array([[[9, 1], [0, 10]], [[7, 3], [2, 8]]])
    assert rl.steps.agreement(trays) == rl.steps.agreement(trays.tolist())
    assert rl.steps.agreement(trays).n_units == 2


@pytest.mark.parametrize(
    ("ask", "told"),
    [
        (lambda: rl.steps.yield_change([0.8], AFTER), "is no dictionary"),  # type: ignore[arg-type]
        (lambda: rl.steps.yield_change(BEFORE, {"graft": 0.8}), "different steps"),
        (lambda: rl.steps.yield_change(BEFORE, {**AFTER, "dark": 50}), "give it as a proportion"),
        (lambda: rl.steps.yield_change(BEFORE, {**AFTER, "dark": "half"}), "no step with its take"),  # type: ignore[dict-item]
        (lambda: rl.steps.agreement([[1, 2, 3], [4, 5, 6]]), "is not 2 x 2"),
        (lambda: rl.steps.agreement([[1, 2], [4, 0.5]]), "whole numbers"),
        (lambda: rl.steps.agreement([[1, 2], [4, 5]], answers=["yes"]), "1 names are given for 2"),
        (lambda: rl.steps.agreement([[1, 2], [4, 5]], answers=[1, 2]), "no list of names"),  # type: ignore[list-item]
        (lambda: rl.steps.early_sign([[1, 2, 3], [4, 5, 6]]), "two rows"),
        (lambda: rl.steps.early_sign([[1, 2], [4, 5]], unread=60), "write unread=(0, 60)"),
        (lambda: rl.steps.early_sign([[1, 2], [0, 0]], unread=(0, 60), kept="irrespective"), "without the sign"),
        (lambda: rl.steps.early_sign([[1, 2], [4, 5]], sign=""), 'write sign="tint"'),
    ],
)
def test_what_cannot_be_asked_is_refused_in_words(ask: Any, told: str) -> None:
    with pytest.raises(CountError, match=told.replace("(", r"\(").replace(")", r"\)")):
        ask()


def test_options_name_what_they_accept() -> None:
    with pytest.raises(ChoiceError, match="linear"):
        rl.steps.agreement([[1, 2], [4, 5]], weights="lineal")  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match="irrespective"):
        rl.steps.early_sign([[1, 2], [4, 5]], kept="irespective")  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match="current-rates"):
        chain().yields("current")  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match="no dictionary of steps"):
        rl.steps.load(ROWS, batch="batch", steps=CHAIN, taken_away=["sold"])  # type: ignore[arg-type]


def test_a_chain_is_loaded_and_asked() -> None:
    steps = chain()
    assert steps.columns == tuple(CHAIN)
    assert [issue.code for issue in steps.issues] == ["too_young"]
    assert steps.batches().height == 14
    found = steps.yields()
    assert (found.n_batches, found.n_young, round(found.value, 4)) == (4, 1, 0.445)
    assert found.sentence == "Rooted costs most: 43 of 100 started; five points there bring 4 more to saleable."
    again = pickle.loads(pickle.dumps(steps))
    assert again.fingerprint == steps.fingerprint
    assert again.yields() == found
    frame = pl.DataFrame(ROWS)
    assert rl.steps.load(frame, batch="batch", steps=CHAIN).fingerprint == steps.fingerprint


def test_all_problems_of_a_chain_are_told_at_once() -> None:
    rows = {**ROWS, "rooted": [46, 26, None, 18, 24], "taken": [45, "46 %", 54, 37, 44]}
    with pytest.raises(TrialDataError) as told:
        rl.steps.load(
            {name: list(map(str, column)) if name == "taken" else column for name, column in rows.items()},
            batch="batch",
            steps=CHAIN,
        )
    codes = [(issue.row, issue.column, issue.code) for issue in told.value.issues if issue.code != "too_young"]
    assert codes == [
        (1, "rooted", "rises_along_chain"),
        (2, "taken", "percent_for_count"),
        (3, "rooted", "step_missing"),
    ]


def test_starts_and_what_they_bring_agree() -> None:
    steps = chain()
    found = steps.to_start(200)
    assert found.sentence.startswith(f"Start {found.started} for 200 saleable with 95 % assurance")
    assert found.chance >= 0.95 > found.alone_chance
    assert steps.sure_of(found.started).wanted == 200
    assert steps.to_start(200, season_sd=0.25).started > found.started
    with pytest.raises(CountError, match="assurance"):
        steps.to_start(200, assurance=95)
    with pytest.raises(CountError, match="wanted"):
        steps.to_start(0)


def test_plants_one_by_one_come_to_the_same() -> None:
    last = [("b1", "grafted", 5), ("b1", "taken", 23), ("b1", "rooted", 2), ("b1", "saleable", 20)]
    last += [("b2", "grafted", 4), ("b2", "taken", 20), ("b2", "rooted", 1), ("b2", "saleable", 25)]
    plants = [(batch, step) for batch, step, count in last for _ in range(count)]
    rows = {"batch": [one[0] for one in plants], "last": [one[1] for one in plants]}
    found = rl.steps.load(rows, batch="batch", steps=CHAIN, last_step="last").yields(draws=0)
    counts = {name: column[:2] for name, column in ROWS.items()}
    assert found.steps == rl.steps.load(counts, batch="batch", steps=CHAIN).yields(draws=0).steps
    with pytest.raises(CountError, match="batch= names its batch"):
        rl.steps.load(rows, steps=CHAIN, last_step="last")
