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


SEASONS: dict[str, Any] = {
    "batch": list("abcdefghij"),
    "season": ["2024"] * 4 + ["2025"] * 6,
    "rootstock": ["K12", "K12", "K17", "K17", "K12", "K12", "K17", "K17", "K17", "K17"],
    "grafted": [50, 50, 50, 60, 50, 50, 90, 90, 80, 80],
    "taken": [46, 45, 40, 50, 44, 47, 75, 70, 66, 64],
    "rooted": [40, 41, 22, 30, 30, 33, 36, 30, 33, 28],
    "saleable": [36, 35, 20, 24, 27, 30, 30, 28, 29, 25],
}


def two_seasons() -> rl.steps.Steps:
    return rl.steps.load(SEASONS, batch="batch", steps=CHAIN, season="season", rootstock="rootstock")


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
        chain().yields(costs=1.9),
        two_seasons().to_start(200, costs={"grafted": 1.9, "rooted": 0.4}),
        two_seasons().compare("season", 2024, 2025),
        two_seasons().compare("rootstock", "K12", "K17"),
        two_seasons().compare_all("season"),
        rl.steps.early_sign([[231, 32], [27, 54]], cost=2.0, worth=9.0),
        rl.steps.early_sign([[96, 24], [2, 18]], unread=(0, 60), sign="tint", cost=1, worth=4),
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
    with pytest.raises(ChoiceError, match="season"):
        two_seasons().compare("seasn", 2024, 2025)
    with pytest.raises(ChoiceError, match="2025"):
        two_seasons().compare("season", 2024, 2026)
    with pytest.raises(ChoiceError, match="is no level"):
        two_seasons().compare("season", 2024, None)
    with pytest.raises(ChoiceError, match="is no name of a column"):
        two_seasons().compare_all(3)  # type: ignore[arg-type]
    with pytest.raises(CountError, match="no column of levels was named"):
        chain().compare_all("season")
    with pytest.raises(CountError, match="costs holds"):
        chain().yields(costs={"grafted": "much"})  # type: ignore[dict-item]
    with pytest.raises(ChoiceError, match="graftd"):
        chain().yields(costs={"graftd": 1.0})
    with pytest.raises(ChoiceError, match="no dictionary of steps"):
        rl.steps.load(ROWS, batch="batch", steps=CHAIN, taken_away=["sold"])  # type: ignore[arg-type]


def test_a_chain_is_loaded_and_asked() -> None:
    steps = chain()
    assert steps.columns == tuple(CHAIN)
    assert [issue.code for issue in steps.issues] == ["too_young"]
    assert steps.batches().height == 14
    assert steps.levels == ()
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


def test_two_seasons_by_other_means() -> None:
    found = two_seasons().compare("season", 2024, 2025)
    counts = np.array([SEASONS[name] for name in CHAIN], dtype=float)
    later = np.array(SEASONS["season"]) == "2025"
    sums = [counts[:, ~later].sum(axis=1), counts[:, later].sum(axis=1)]
    takes = [one[1:] / one[:-1] for one in sums]
    assert [round(step.value, 12) for step in found.steps] == [round(one, 12) for one in takes[1] - takes[0]]
    value = sums[1][-1] / sums[1][0] - sums[0][-1] / sums[0][0]
    assert found.value == pytest.approx(value, rel=1e-12)
    # Logarithmic means by their definition.
    mean = value / np.log((sums[1][-1] / sums[1][0]) / (sums[0][-1] / sums[0][0]))
    assert [step.part for step in found.steps] == pytest.approx(list(mean * np.log(takes[1] / takes[0])), rel=1e-12)
    assert found.rates + found.mix[0].value == pytest.approx(value, rel=1e-12)
    # Each season's limits are those of its own yield; the difference's lie as far out as both together.
    sides = two_seasons().compare_all("season").levels
    assert [one.value for one in sides] == pytest.approx([found.yield_first, found.yield_second])
    assert found.low < found.value < found.high
    changed = rl.steps.yield_change(
        dict(zip(CHAIN[1:], takes[0], strict=True)), dict(zip(CHAIN[1:], takes[1], strict=True))
    )
    assert [one.value for one in changed.steps] == pytest.approx([one.part for one in found.steps])


def test_limits_of_a_yield_by_scipy() -> None:
    # Equal batches: the variance of ratios, Wilson's limits and t, written out.
    from scipy import stats

    ends = np.array([20.0, 31, 25, 12, 28, 22])
    rows = {"batch": list("abcdef"), "grafted": [50] * 6, "saleable": [int(one) for one in ends]}
    found = rl.steps.load(rows, batch="batch", steps=["grafted", "saleable"]).yields(draws=0)
    value = ends.sum() / 300
    variance = ((ends - 50 * value) ** 2).sum() / 300**2 / (1 - 1 / 6)
    assert found.se == pytest.approx(np.sqrt(variance), rel=1e-12)
    plants, critical = value * (1 - value) / variance, stats.t.ppf(0.975, found.df)
    middle = (value * plants + critical**2 / 2) / (plants + critical**2)
    reach = critical / (plants + critical**2) * np.sqrt(plants * value * (1 - value) + critical**2 / 4)
    assert (found.low, found.high) == pytest.approx((middle - reach, middle + reach), rel=1e-10)
    # Batches differ more than chance makes them: a mean square of five degrees of freedom, little more or less.
    assert 4.5 < found.df < 7.5


def test_batches_split_merged_and_dated() -> None:
    from datetime import date

    rows = {
        "batch": ["b1", "b1a", "b1b", "b2"],
        "parent": [None, "b1", "b1", None],
        "grafted": [50, None, None, 60],
        "taken": [45, 25, 20, 52],
        "rooted": [None, 20, 15, 40],
        "on": [date(2026, 2, 3), None, None, date(2026, 2, 10)],
        "up": [None, date(2026, 4, 5), date(2026, 4, 7), date(2026, 4, 9)],
    }
    dates = {"grafted": "on", "rooted": "up"}
    steps = rl.steps.load(rows, batch="batch", parent="parent", steps=CHAIN[:3], dates=dates)
    frame = steps.batches()
    assert frame.filter(pl.col("batch") == "b1")["passed"].to_list() == [45, 35]
    assert frame["date"].to_list() == [None, date(2026, 4, 5), None, date(2026, 4, 9)]
    assert pickle.loads(pickle.dumps(steps)).fingerprint == steps.fingerprint
    with pytest.raises(TrialDataError, match="its parts have 44"):
        rl.steps.load({**rows, "taken": [45, 25, 19, 52]}, batch="batch", parent="parent", steps=CHAIN[:3])


BAD: list[tuple[str, dict[str, Any], str]] = [
    ("rising", {"rooted": [46, 26, 30, 18, 24]}, "counts never rise"),
    ("a step missing", {"rooted": [22, 26, None, 18, 24]}, "though a later step was counted"),
    (
        "zero started",
        {"grafted": [50, 50, 60, 40, 0], "taken": [45, 46, 54, 37, 0], "rooted": [22, 26, 30, 18, 0]},
        "no plant",
    ),
    ("a batch twice", {"batch": ["b1", "b2", "b3", "b4", "b4"]}, "stands in row 4 too"),
]


@pytest.mark.parametrize(("changed", "told"), [case[1:] for case in BAD], ids=[case[0] for case in BAD])
def test_bad_counts_get_a_sentence_and_a_line(changed: dict[str, Any], told: str) -> None:
    with pytest.raises(TrialDataError, match=told) as error:
        rl.steps.load({**ROWS, **changed}, batch="batch", steps=CHAIN)
    paste = f"steps = rl.steps.load(..., steps={CHAIN}, batch='batch', bad_rows='set-aside')"
    assert error.value.paste == paste
    assert str(error.value).endswith(paste)
    again = rl.steps.load({**ROWS, **changed}, batch="batch", steps=CHAIN, bad_rows="set-aside")
    assert len(again.set_aside) >= 1


def test_bad_dates_and_plants_get_a_line() -> None:
    dated = {**ROWS, "on": ["2026-03-01"] * 5, "up": ["2026-02-01", *["2026-05-01"] * 4]}
    with pytest.raises(TrialDataError, match="is before 2026-03-01") as error:
        rl.steps.load(dated, batch="batch", steps=CHAIN, dates={"grafted": "on", "rooted": "up"})
    assert error.value.paste is not None
    open_order = {**ROWS, "on": ["3/4/2026"] * 5}
    with pytest.raises(TrialDataError, match="day or the month first") as error:
        rl.steps.load(open_order, batch="batch", steps=CHAIN, dates={"grafted": "on"})
    assert error.value.paste is not None
    assert error.value.paste.endswith("day_first=True)")
    plants = {"plant": ["p1", "p2", "p1"], "batch": ["b1", "b1", "b2"], "last": ["rooted", "taken", "rooted"]}
    with pytest.raises(TrialDataError, match='plant "p1" stands in row 1 too') as error:
        rl.steps.load(plants, batch="batch", steps=CHAIN, last_step="last", plant="plant")
    assert "Once that is put right, this line loads it" in str(error.value)


def test_too_few_batches_name_the_rows_set_aside() -> None:
    rising = {**ROWS, "taken": [ROWS["taken"][0], *[999] * 4]}
    left = rl.steps.load(rising, batch="batch", steps=CHAIN, bad_rows="set-aside")
    with pytest.raises(CountError, match="4 rows were set aside; at least 2 are needed"):
        left.yields()


def test_a_batch_without_plants_is_told() -> None:
    counts = {"batch": ["b1", "b2", "b3"], "grafted": [4, 4, 4], "taken": [3, 3, 3]}
    plants = {"batch": ["b1"] * 3 + ["b2"] * 3, "last": ["rooted", "rooted", "taken"] * 2}
    found = rl.steps.load(
        {**counts, "rooted": [None] * 3},
        plants=plants,
        batch="batch",
        steps=["grafted", "taken", "rooted"],
        last_step="last",
    )
    told = [note.text for note in found.notes if note.code == "batches_without_plants"]
    assert told == [
        '"b3" has no plant in plants= and is taken to be too young for the steps behind their last count; list their '
        "plants if they are not."
    ]
    assert "batches_without_plants" in [note.code for note in found.yields().notes]


def test_where_keeping_any_plant_loses_money_it_is_said() -> None:
    found = rl.steps.early_sign([[40, 60], [5, 95]], sign="tint", cost=1.0, worth=1.2)
    assert found.sentence.startswith("At these costs no plant pays: 100 with the tint lose")
    assert any(line.endswith("so keeping these loses money too.") for line in found.details)
    found = rl.steps.early_sign([[40, 60], [5, 95]], sign="tint", cost=0.4, worth=3.0)
    assert found.kept_gain == pytest.approx(3.0 * 0.4 - 0.4)
    assert any(line.endswith("so keeping these pays.") for line in found.details)


def test_records_that_cannot_answer_say_what_to_do() -> None:
    one = rl.steps.load({name: column[:1] for name, column in ROWS.items()}, batch="batch", steps=CHAIN)
    with pytest.raises(CountError, match='ask whose="current-rates"'):
        one.yields()
    none = rl.steps.load({**ROWS, "rooted": [0] * 5, "saleable": [0] * 5}, batch="batch", steps=CHAIN)
    assert none.yields().sentence.startswith("Rooted costs most: all that come to it are lost")
    with pytest.raises(CountError, match="no number of starts can be given"):
        none.to_start(200)
    end = rl.steps.load({**ROWS, "saleable": [0] * 5}, batch="batch", steps=CHAIN)
    assert end.yields().value == 0.0
    with pytest.raises(CountError, match="no number of starts can be given"):
        end.to_start(200)
    all_of_them = rl.steps.load(
        {name: ROWS["grafted"] if name != "batch" else ROWS["batch"] for name in ROWS}, batch="batch", steps=CHAIN
    )
    assert all_of_them.yields().high == 1.0
    assert all_of_them.to_start(200).started > 200


def test_a_treatment_is_followed_to_the_end() -> None:
    rows = {**{name: column[:4] for name, column in ROWS.items()}, "strength": [2500, 2500, 5000, 5000]}
    steps = rl.steps.load(rows, batch="batch", steps=CHAIN, treatments={"strength": "rooted"})
    found = steps.compare("strength", 2500, 5000)
    assert (found.start, [step.step for step in found.steps]) == ("taken", ["rooted", "saleable"])
    assert found.value == pytest.approx(44 / 91 - 45 / 91)


def test_the_invented_chain_is_as_it_says() -> None:
    frame = rl.demo.graft_to_tree(seed=1)
    assert frame.equals(rl.demo.graft_to_tree(seed=1))
    counts = ["grafted", "taken", "out_of_dark", "rooted", "second_graft", "saleable"]
    steps = rl.steps.load(frame, batch="batch", steps=counts, season="season", rootstock="rootstock")
    assert [issue.code for issue in steps.issues] == ["too_young"] * 3
    assert steps.yields().sentence.startswith("Second graft costs most")


def test_many_plants_and_batches_take_no_long_time() -> None:
    # Far above what it takes (40 ms), and far below what a slip in the order of growth would make it.
    import time

    rng = np.random.default_rng(1)
    names = ["s0", "s1", "s2", "s3", "s4", "s5", "s6", "s7"]
    last = rng.integers(0, 8, 40_000)
    frame = pl.DataFrame({"batch": np.repeat(np.arange(400), 100), "last": np.array(names)[last]})
    started = time.perf_counter()
    steps = rl.steps.load(frame, batch="batch", steps=names, last_step="last")
    assert steps.yields(draws=0).n_started == 40_000
    assert time.perf_counter() - started < 2.0
    # Plant by plant, row by row: the same chain.
    columns = {name: frame[name].to_list() for name in frame.columns}
    assert rl.steps.load(columns, batch="batch", steps=names, last_step="last").fingerprint == steps.fingerprint
    wrong = frame.with_columns(pl.when(pl.int_range(pl.len()) == 30_000).then(None).otherwise("last").alias("last"))
    with pytest.raises(TrialDataError, match="row 30001"):
        rl.steps.load(wrong, batch="batch", steps=names, last_step="last")
    counts = {"batch": list(range(2000)), "s0": [50] * 2000, "s1": rng.integers(20, 50, 2000).tolist()}
    started = time.perf_counter()
    rl.steps.load(counts, batch="batch", steps=["s0", "s1"]).yields()
    assert time.perf_counter() - started < 3.0
