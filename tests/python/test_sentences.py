"""Every kind of result decides in at most thirty plain words with one P value at most, with and without trays."""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import every_kind
import pytest
import rootling as rl
from rootling._results import KINDS, Estimate, Result
from test_decisions import ALIKE, HUMP, MOST_WORDS, THREE, frame, load
from test_steps import answers as chained
from test_steps_time import answers as timed

JARGON = ("dealing", "effective", "score", "degrees of freedom", "conf_", "None", "nan", "Monte Carlo", "likelihood")
DEAD = [0, 1, 0, 1, 1, 0, 1, 1, 2, 1, 2, 1, 9, 10, 8, 11]


def stocks(names: tuple[str, ...], **options: Any) -> rl.Trial:
    """The hump with several rootstocks, each a little lower than the one before."""
    one = frame(HUMP)
    rows = len(one["strength"])
    data: dict[str, list[Any]] = {column: values * len(names) for column, values in one.items()}
    data["rootstock"] = [name for name in names for _ in range(rows)]
    data["tray"] = list(range(rows * len(names)))
    data["rooted"] = [max(0, rooted - at % 5) for at, name in enumerate(names) for rooted in one["rooted"]]
    return load(data, treatments=["strength", "rootstock"], **options)


def darkened(**options: Any) -> rl.Trial:
    one = frame(HUMP)
    rows = len(one["strength"])
    data: dict[str, list[Any]] = {column: values * 3 for column, values in one.items()}
    data["dark_days"] = [days for days in (0, 10, 20) for _ in range(rows)]
    data["tray"] = list(range(3 * rows))
    return load(data, treatments=["strength", "dark_days"], **options)


def dying(**options: Any) -> rl.Trial:
    return load(frame(HUMP, dead=DEAD), dead="dead", **options)


def answers(**how: Any) -> list[Result]:
    """One of each kind that a trial is asked for; ``how`` loads it."""
    hump, three, two = load(frame(HUMP), **how), load(frame(THREE), **how), stocks(("K12", "K17"), **how)
    curve, several = hump.strength_curve(), two.strength_curve(within="rootstock")
    many = stocks(tuple(f"K{number}" for number in (12, 17, 30, 41, 52, 63)), **how).strength_curve(within="rootstock")
    model = two.model(["strength", "rootstock"])
    made: list[Result] = [
        three.take_rates("strength"),
        two.take_rates(),
        three.compare("strength", 0, 5000),
        two.compare("strength", 1000, 3000, at={"rootstock": "K12"}),
        three.compare_all("strength"),
        three.compare_all("strength", against=0),
        load(frame(ALIKE, name="rootstock"), **{k: v for k, v in how.items() if k != "strength"}).compare_all(
            "rootstock"
        ),
        three.association("strength"),
        two.association("strength", within="rootstock"),
        three.trend("strength"),
        hump.trend("strength"),
        curve,
        several,
        many,
        three.strength_curve(),
        curve.strength_for(0.5),
        curve.strength_for(0.9),
        several.strength_for(0.5),
        many.strength_for(0.5),
        several.differences(),
        many.differences(),
        curve.next_strengths(trays=24),
        several.next_strengths(trays=24),
        dying(**how).damage_threshold(),
        darkened(**how).response_surface("dark_days"),
        model.what_matters(),
        model.odds_ratios(),
        model.coefficients(),
        model.adjusted_rates("strength"),
        model.adjusted_rates("strength", within="rootstock"),
        model.contrasts("strength", against=0),
        model.letters("strength"),
        model.predict({"strength": [0, 3000], "rootstock": ["K12", "K17"]}),
        model.checks(),
        model.against(two.model(["strength"])),
        model.bootstrap_test("rootstock", draws=99),
    ]
    return made


def plain() -> list[Any]:
    """One of each kind that plain counts give."""
    tables, compare = rl.tables, rl.compare
    pair, wide = [[8, 2], [1, 5]], [[8, 8, 4], [4, 4, 12], [8, 8, 4]]
    strata = [[[156, 84], [84, 156]], [[107, 133], [31, 209]]]
    return [
        load(frame(THREE)).tray_correlation(),
        rl.rates.against_target(14, 20, 0.5),
        rl.rates.interval(0, 60),
        rl.rates.interval(60, 60),
        rl.rates.interval(14, 20),
        compare.difference(48, 80, 56, 70),
        compare.difference(0, 10, 0, 20),
        compare.ratio(48, 80, 56, 70),
        compare.odds_ratio(48, 80, 56, 70),
        compare.odds_ratio(5, 10, 10, 10),
        compare.equivalence(308, 400, 312, 400, margin=0.1),
        compare.equivalence(308, 400, 212, 400, margin=0.1, claim="not-worse"),
        compare.score_test(156, 240, 84, 240),
        compare.randomisation([0.2, 0.3, 0.25, 0.15], [0.6, 0.7, 0.55, 0.75]),
        compare.randomisation([0.2, 0.3], [0.6, 0.7]),
        tables.chi_square(pair),
        tables.chi_square(wide),
        tables.fisher(pair),
        tables.freeman_halton(wide),
        tables.three_way(strata),
        tables.stratified(strata),
        tables.paired([[10, 5], [15, 20]]),
        tables.unconditional(pair),
        tables.trend([1, 2, 4, 7], [10] * 4),
        tables.linear_by_linear([[9, 1], [8, 2], [3, 7]]),
    ]


def deadly() -> list[Result]:
    """Every verb of a trial that records deaths, led by each outcome."""
    made: list[Result] = []
    for outcome in ("take", "survival", "rooted-of-survivors"):
        trial, asked = dying(), {"outcome": outcome}
        made += [
            trial.take_rates("strength", **asked),
            trial.compare("strength", 3000, 8000, **asked),
            trial.compare_all("strength", **asked),
            trial.association("strength", **asked),
            trial.trend("strength", **asked),
            trial.strength_curve(**asked),
            trial.model(["strength"], **asked).adjusted_rates("strength"),
        ]
    return made


def watched() -> list[Any]:
    """What a watched crop answers: a drop, quiet, and parts of a difference."""
    columns: dict[str, Any] = {"batch": "batch", "started": "started", "alive": "alive", "set_date": "set"}
    columns |= {"reading_date": "read", "cultivars": "rootstock", "grafter": "grafter", "places": "room"}
    made: list[Any] = []
    for story in rl.demo.STORIES:
        watch = rl.watch.load(rl.demo.weekly_batches(seed=1, story=story), **columns)
        baseline = watch.expected(until="2025-01-31")
        made += [baseline, watch.signals(baseline, draws=99), watch.batch_chart(baseline)]
        made += [watch.mix("2025-01-31"), watch.target(0.88, baseline)]
        made += [watch.target("last-season", baseline), watch.places(baseline)]
    return made


def planned() -> list[Any]:
    """What is said of trials that are to be."""
    plan = rl.plan
    curve = {0: 0.1, 500: 0.4, 1000: 0.6, 2000: 0.7, 4000: 0.5, 8000: 0.2}
    drawn = plan.draw_trial({2500: 0.5, 5000: 0.7}, trays=4)
    trial = rl.load_trial(drawn, rooted="rooted", stuck="stuck", treatments=["level"], tray="tray")
    return [
        plan.power((0.60, 0.75), trays=[4, 8], draws=400),
        plan.power((0.3, 0.5, 0.6), trays=6, question="all-pairs", draws=400),
        plan.precision((0.60, 0.75), trays=8, draws=400),
        plan.trays_needed((0.60, 0.80), draws=400),
        plan.trays_needed((0.60, 0.62), most_trays=10, draws=400),
        plan.smallest_difference(0.6, trays=8, draws=400),
        plan.looks((0.5, 0.8), trays=12, looks=3, draws=400),
        plan.chance_at_end(trial, "level", 2500, 5000, trays=8, draws=400),
        plan.best_strength(curve, trays=24, draws=10),
    ]


def judged(effect: int) -> Result:
    """A trial on a plan, dealt out anew."""
    plan = rl.plan.layout("latin-square", {"strength": [0, 1000, 3000, 9000]}, seed=1)
    rooted = [5 + at % 3 + effect * (tray.levels == ("9000",)) for at, tray in enumerate(plan.trays)]
    rows = {"tray": [tray.tray for tray in plan.trays], "rooted": rooted, "stuck": [20] * 16}
    return plan.dealt_anew(rl.load_trial(rows, plan=plan), "strength", 0, 9000, draws=199)


def laid_out() -> list[Any]:
    """Plans of every kind of layout, one that restricts and one that cannot be tested."""
    layout, two = rl.plan.layout, {"strength": [2500, 5000]}
    both = {"dark_days": [0, 21], **two}
    return [
        layout("completely-randomised", two, trays=6, longest_run=2, seed=1),
        layout("blocks", both, blocks=4, stuck=20, stock_plants=4, readers=2, seed=1),
        layout("latin-square", {"strength": list(range(7))}, seed=1),
        layout("split-plot", both, whole_plot="dark_days", blocks=3, seed=1),
        layout("split-plot", both, whole_plot="dark_days", whole_plots=1, trays=4, seed=1),
        layout("strip-plot", both, whole_plot="dark_days", blocks=3, seed=1),
        layout("incomplete-blocks", {"cultivar": list(range(12))}, per_block=4, trays=3, seed=1),
        layout("augmented", {"cultivar": list(range(12))}, controls=["K12"], blocks=3, seed=1),
        *(judged(effect) for effect in (0, 9)),
    ]


SETS: dict[str, Callable[[], list[Any]]] = {
    "trays": answers,
    "no trays": lambda: answers(tray=None),
    "no substance": lambda: answers(strength=rl.Strength("IBA", unit="mg/L")),
    "plain counts": plain,
    "deaths": deadly,
    "watched": watched,
    "planned": planned,
    "laid out": laid_out,
    "chains": chained,
    "times": timed,
    "seasons": lambda: [every_kind.ASKED[name]() for name in ("pooled", "pooled, two", "best_over_seasons")],
    "decided": lambda: [every_kind.ASKED["level_choice"]()],
    "counted": lambda: [every_kind.ASKED[name]() for name in ("count_law", "count_law, columns")],
    "responses": lambda: [every_kind.ASKED[name]() for name in ("response_means", "response_comparison", "grades")],
    "means": lambda: [every_kind.ASKED[name]() for name in every_kind.MEANS],
}


# Together these ask every kind.
ASKED = (
    *("trays", "plain counts", "watched", "planned", "laid out", "chains", "times", "seasons", "decided"),
    *("counted", "responses", "means"),
)


@pytest.fixture(scope="module")
def made() -> dict[str, list[Any]]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return {name: ask() for name, ask in SETS.items()}


def test_every_kind_is_asked(made: dict[str, list[Any]]) -> None:
    kinds = {one.kind for name in ASKED for one in made[name] if isinstance(one, Result)}
    assert set(KINDS) - kinds == set()


@pytest.mark.parametrize("name", SETS)
def test_each_decides_in_thirty_plain_words(made: dict[str, list[Any]], name: str) -> None:
    for one in made[name]:
        said = one.sentence
        kind = one.method if isinstance(one, Estimate) else one.kind
        assert len(said.split()) <= MOST_WORDS, (kind, len(said.split()), said)
        assert len(re.findall(r"\bP [=<>]", said)) <= 1, (kind, said)
        assert said[0].isupper() or said[0].isdigit(), (kind, said)
        assert said.endswith("."), (kind, said)
        for word in JARGON:
            assert word not in said, (kind, word, said)
        for line in one.details:
            assert line.strip() == line, (kind, line)
            assert line.endswith((".", "?")), (kind, line)


def test_strengths_are_said_with_unit_and_substance(made: dict[str, list[Any]]) -> None:
    told = {"comparison", "all_comparisons", "strength_curve", "strengths_for", "damage_threshold", "contrasts"}
    for one in made["trays"]:
        if one.kind in told and "rootstock" not in one.sentence and "curves" not in one.sentence:
            assert "IBA" in one.sentence or "No tested" in one.sentence, (one.kind, one.sentence)


def test_deaths_stand_beside_every_answer(made: dict[str, list[Any]]) -> None:
    for one in made["deaths"]:
        text = " ".join([one.sentence, *one.details, *(note.text for note in one.notes)])
        for word in ("urvival", "survivors"):
            assert word in text, (one.kind, word, text)


def test_cautions_about_the_work_come_last(made: dict[str, list[Any]]) -> None:
    work = ("tested_range_only", "read_the_label")
    for one in [*made["trays"], *made["deaths"]]:
        codes = [note.code for note in one.notes]
        first = next((at for at, code in enumerate(codes) if code in work), len(codes))
        assert all(code in work for code in codes[first:]), (one.kind, codes)


def names_of(value: Any) -> set[str]:
    """Every name in a record."""
    if isinstance(value, dict):
        return set(value).union(*(names_of(part) for part in value.values()), set())
    return set().union(*(names_of(part) for part in value)) if isinstance(value, list) else set()


SHARES = {"value", "low", "high", "not_ruled_out", "largest_difference", "take", "rise", "margin"}
OF_SHARES = {
    "take_rates",
    "comparison",
    "all_comparisons",
    "trend",
    "what_matters",
    "adjusted_rates",
    "contrasts",
    "letters",
    "predictions",
    "equivalence",
    "randomisation",
    "paired",
    "unconditional_test",
}


def test_frames_hold_proportions(made: dict[str, list[Any]]) -> None:
    for one in (one for name in ASKED for one in made[name]):
        record = one.to_dict()
        assert not [name for name in names_of(record) if name.endswith(("_points", "_percent"))], one
        if not isinstance(one, Result) or one.kind not in OF_SHARES:
            continue
        for row in one.table().iter_rows(named=True):
            what = str(row.get("what", ""))
            if "ratio" in what:
                continue
            for name in SHARES & set(row):
                assert row[name] is None or -1 <= row[name] <= 1, (one.kind, name, row)


def test_differences_are_second_minus_first() -> None:
    # by hand: 9 of 20 against 14 of 20, and 3 + 3 against 3 + 7 of 20 pairs
    first, second = 0.45, 0.7
    trial = load(frame({2500: [9] * 4, 5000: [14] * 4}))
    gap = pytest.approx(second - first, abs=1e-9)
    assert trial.compare("strength", 2500, 5000).value == gap
    assert trial.compare("strength", 5000, 2500).value == pytest.approx(first - second, abs=1e-9)
    assert trial.compare_all("strength").pairs[0].value == gap
    assert trial.compare_all("strength", against=2500).pairs[0].value == gap
    assert trial.trend("strength").value == gap
    model = trial.model(["strength"])
    assert model.contrasts("strength", against=2500).contrasts[0].value == gap
    assert model.contrasts("strength").contrasts[0].value == gap
    assert rl.compare.difference(9, 20, 14, 20).value == gap
    assert rl.compare.equivalence(9, 20, 14, 20, margin=0.1).value == gap
    assert rl.compare.randomisation([0.45, 0.45], [0.7, 0.7]).value == gap
    assert rl.tables.unconditional([[9, 11], [14, 6]]).value == gap
    assert rl.tables.paired([[3, 3], [7, 7]]).value == pytest.approx(0.2, abs=1e-9)
    assert rl.compare.ratio(9, 20, 14, 20).value == pytest.approx(second / first, rel=1e-9)


def test_units_are_named_in_the_plural() -> None:
    benches = {"bench": [f"b{at // 2}" for at in range(16)]}
    data = frame({"K12": [6, 7, 5, 6, 8, 7, 5, 6], "K17": [8, 9, 7, 9, 8, 9, 7, 8]}, name="rootstock", **benches)
    found = load(data, whole_plot="bench").compare("rootstock", "K12", "K17")
    text = " ".join([found.sentence, *found.details, *(note.text for note in found.notes), found.methods])
    assert found.unit == "bench"
    assert "benchs" not in text
    assert "benches" in text


def test_every_kind_draws_itself_and_is_a_question_of_the_report(made: dict[str, list[Any]], tmp_path: Any) -> None:
    first: dict[str, Result] = {}
    for one in (one for name in ASKED for one in made[name]):
        if isinstance(one, Result):
            first.setdefault(one.kind, one)
    assert set(first) == set(KINDS)
    page = rl.report.write(list(first.values()), tmp_path / "all.html").read_text(encoding="utf-8")
    for kind in first:
        # A question names what was asked of, at its end what it stayed within and the margin.
        parts = re.split(r"\{\w+\}", KINDS[kind]._faces.question.removesuffix("?"))
        assert all(part in page for part in parts), kind
    assert page.count("<img ") == len(first)


def crossings(labels: list[Any]) -> int:
    """Pairs of neighbouring labels of an axis that run into each other."""
    boxes = [label.get_window_extent() for label in labels if label.get_text()]
    return sum(one.overlaps(other) for one, other in pairwise(boxes))


@pytest.mark.parametrize("rows", [1, 2, 9, 80])
def test_labels_of_predictions_do_not_run_into_each_other(rows: int) -> None:
    trial = stocks(("a rootstock with a long name", "another rootstock with a long name"))
    names = ["a rootstock with a long name", "another rootstock with a long name"]
    asked = {"strength": [1000] * rows, "rootstock": [names[at % 2] for at in range(rows)]}
    for result in (trial.model(["strength", "rootstock"]).predict(asked), trial.take_rates()):
        figure = result.plot()
        figure.canvas.draw()
        (axes,) = figure.axes
        assert crossings(axes.get_xticklabels()) + crossings(axes.get_yticklabels()) == 0
        assert "IBA (quick dip)" in axes.get_xlabel() + axes.get_ylabel()


def test_what_carries_a_comparison_is_said_in_its_decision() -> None:
    # Two benches hold both strengths, four hold one: 8 of 24 trays carry the comparison.
    bench = ["b1"] * 2 + ["b2"] * 2 + ["b3"] * 4 + ["b4"] * 4 + ["b1"] * 2 + ["b2"] * 2 + ["b5"] * 4 + ["b6"] * 4
    data = frame({2500: [5, 6] * 6, 5000: [13, 14] * 6}, bench=bench)
    trial = load(data, block="bench")
    found = trial.compare("strength", 2500, 5000)
    assert "only 8 of 24 trays carry it" in found.sentence
    assert found.details[0].startswith("How sure: ")
    assert found.details[1].startswith("This rests on 4 of 12 at 2500 and 4 of 12 at 5000 (trays)")
    pairs = trial.compare_all("strength")
    assert pairs.details[1].startswith("5000 mg/L IBA against 2500 mg/L rests on 4 of 12 and 4 of 12 trays")
    assert "some pairs rest on a part of the trays" in pairs.sentence
    for other in (trial.association("strength"), trial.trend("strength")):
        told = [one for one in other.details if not one.startswith("How sure: ")]
        assert told[0].startswith("This rests on 4 of 12")


def test_the_chemical_caution_stands_once_on_a_page(tmp_path: Any) -> None:
    trial = load(frame(HUMP))
    curve = trial.strength_curve()
    results = [curve, curve.strength_for(0.5), trial.compare("strength", 0, 3000)]
    page = rl.report.write([trial, *results], tmp_path / "page.html").read_text(encoding="utf-8").split("<h2>Record")[0]
    assert page.count("Growth regulators are regulated plant protection") == 1
    listed = page.split('<ul class="cautions">')[-1].split("</ul>")[0]
    assert listed.split("<li>")[-1].startswith("Growth regulators are regulated plant protection")
    for result in results:
        shown = result._repr_html_()
        assert shown.count("Growth regulators are regulated") == 1
        assert "<details>" in shown
