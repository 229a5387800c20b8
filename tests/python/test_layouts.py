"""Layouts are what their names say, drawn alike from whole sets, the same by the same seed; else they are refused."""

from __future__ import annotations

import itertools
import math
import pickle
from collections import Counter
from typing import Any

import pytest
import rootling as rl
from rootling.exceptions import ChoiceError
from scipy.stats import chi2

STRENGTH = {"strength": [2500, 5000]}
FOUR = {"strength": [0, 1000, 3000, 9000]}
TWO_BY_TWO = {"dark_days": [0, 21], "strength": [2500, 5000]}


def uniform(seen: Counter[Any], cells: int) -> None:
    """Fails where counts differ by more than chance makes likely (P below 0.001)."""
    draws = sum(seen.values())
    expected = draws / cells
    statistic = sum((seen[cell] - expected) ** 2 / expected for cell in seen) + (cells - len(seen)) * expected
    assert chi2.sf(statistic, cells - 1) > 0.001, (statistic, cells)


def levels(plan: rl.plan.Layout) -> list[str]:
    return ["".join(tray.levels) for tray in plan.trays]


def test_every_treatment_stands_at_every_position_alike() -> None:
    seen: Counter[tuple[int, str]] = Counter()
    for seed in range(1500):
        plan = rl.plan.layout("completely-randomised", FOUR, trays=3, seed=seed)
        seen.update(enumerate(levels(plan)))
    # Each position holds one treatment per plan: of 12 x 4 cells (12 - 1) x (4 - 1) are free.
    expected = 1500 / 4
    statistic = sum((count - expected) ** 2 / expected for count in seen.values())
    # Counts of one plan belong together: by the variance of a permutation the statistic is n / (n - 1) of chi-square.
    assert chi2.sf(statistic * 11 / 12, 11 * 3) > 0.001


def test_every_layout_in_blocks_is_as_likely() -> None:
    seen: Counter[tuple[str, ...]] = Counter()
    for seed in range(3600):
        seen[tuple(levels(rl.plan.layout("blocks", {"strength": [0, 1, 2]}, blocks=2, seed=seed)))] += 1
    uniform(seen, 36)


def test_latin_squares_of_order_4_are_all_reached_alike() -> None:
    seen = Counter(
        tuple(levels(rl.plan.layout("latin-square", {"k": list("ABCD")}, seed=seed))) for seed in range(8 * 576)
    )
    assert len(seen) > 570
    uniform(seen, 576)


@pytest.mark.parametrize(("order", "squares"), [(2, 2), (3, 12), (4, 576), (5, 161280), (7, 61479419904000)])
def test_a_latin_square_says_from_how_many_it_was_drawn(order: int, squares: int) -> None:
    plan = rl.plan.layout("latin-square", {"k": list(range(order))}, seed=3)
    assert plan.set.layouts == squares
    rows = [[tray.levels[0] for tray in plan.trays if tray.row == row + 1] for row in range(order)]
    every = sorted(map(str, range(order)))
    assert all(sorted(row) == every for row in rows)
    assert all(sorted(column) == every for column in zip(*rows, strict=True))
    assert ("moves" in plan.set.within) == (order > 6)
    assert "Jacobson" in " ".join(plan.references) or order <= 6


def met(order: tuple[str, ...], run: int, *, ends: bool) -> bool:
    longest = max(len(list(group)) for _, group in itertools.groupby(order))
    return longest <= run and (not ends or order[0] != order[-1])


def orders(each: int) -> set[tuple[str, ...]]:
    """Every order of so many trays of two treatments."""
    places = itertools.combinations(range(2 * each), each)
    return {tuple("A" if at in own else "B" for at in range(2 * each)) for own in places}


@pytest.mark.parametrize(("run", "ends"), [(2, False), (3, False), (3, True), (5, True)])
def test_restricted_sets_are_those_of_listing(run: int, ends: bool) -> None:
    every = orders(5)
    left = {order for order in every if met(order, run, ends=ends)}
    options: dict[str, Any] = {"longest_run": run, "different_ends": ends}
    plans = [
        rl.plan.layout("completely-randomised", {"k": ["A", "B"]}, trays=5, seed=seed, **options)
        for seed in range(2000)
    ]
    assert plans[0].set.layouts == len(left)
    assert plans[0].set.without_restrictions == len(every) == 252
    seen = Counter(tuple(levels(plan)) for plan in plans)
    assert set(seen) <= left
    uniform(seen, len(left))
    # Chances of neighbours, by listing.
    alike = [sum(order[at] == order[at + 1] for order in left) / len(left) for at in range(9)]
    assert plans[0].set.neighbours_alike == pytest.approx((min(alike), max(alike)), rel=1e-12)
    assert plans[0].set.any_two_alike == pytest.approx(4 / 9, rel=1e-12)
    assert any(note.code == "unequal_neighbours" for note in plans[0].notes)
    assert "Grundy" in " ".join(plans[0].references)


def test_a_set_too_small_for_a_test_is_refused_with_what_is_possible() -> None:
    with pytest.raises(
        ChoiceError, match=r"leaves 2 layouts of 924, too few for a test: the smallest P would be 1"
    ) as told:
        rl.plan.layout("completely-randomised", STRENGTH, trays=6, longest_run=1)
    # What the message offers is what listing gives, and it is taken.
    left = sum(met(order, 2, ends=False) for order in orders(6))
    assert f"longest_run=2 leaves {left}" in str(told.value)
    offered = rl.plan.layout("completely-randomised", STRENGTH, trays=6, longest_run=2, seed=1)
    assert offered.set.layouts == left
    assert offered.set.smallest_p == pytest.approx(2 / left, rel=1e-12, abs=0)
    # Where the layouts are too few without a restriction too, a note says so.
    few = rl.plan.layout("completely-randomised", STRENGTH, trays=3, longest_run=2, seed=1)
    assert [note.code for note in few.notes] == ["few_layouts", "unequal_neighbours"]
    # Rows of five that change at every tray end as they begin.
    with pytest.raises(ChoiceError, match="is met by none of the 252 layouts"):
        rl.plan.layout("completely-randomised", STRENGTH, trays=5, positions=(2, 5), longest_run=1, different_ends=True)


def test_split_plots_and_strips_are_nested() -> None:
    plan = rl.plan.layout("split-plot", TWO_BY_TWO, whole_plot="dark_days", blocks=4, trays=8, seed=2)
    by_plot: dict[str, set[str]] = {}
    for tray in plan.trays:
        by_plot.setdefault(tray.whole_plot, set()).add(tray.levels[0])
    assert len(by_plot) == 8
    assert all(len(own) == 1 for own in by_plot.values())
    assert Counter(tuple(tray.levels) for tray in plan.trays) == dict.fromkeys(
        itertools.product(("0", "21"), ("2500", "5000")), 8
    )
    strip = rl.plan.layout("strip-plot", TWO_BY_TWO, whole_plot="dark_days", blocks=3, seed=2)
    for tray in strip.trays:
        same_row = {other.levels[0] for other in strip.trays if other.whole_plot == tray.whole_plot}
        same_column = {other.levels[1] for other in strip.trays if other.strip == tray.strip}
        assert len(same_row) == len(same_column) == 1


def test_whole_plots_are_dealt_alike() -> None:
    seen = Counter(
        tuple(tray.levels[0] for tray in plan.trays[::2])
        for plan in (
            rl.plan.layout("split-plot", TWO_BY_TWO, whole_plot="dark_days", whole_plots=2, seed=seed)
            for seed in range(1200)
        )
    )
    uniform(seen, 6)


@pytest.mark.parametrize(("k", "replicates"), [(3, 2), (3, 3), (3, 4), (4, 2), (4, 3), (5, 2), (5, 3)])
def test_square_lattices_reach_their_published_factors(k: int, replicates: int) -> None:
    # Yates 1936; Cochran and Cox 1957, chapter 10 (from memory): (k+1)(r-1) / ((k+1)(r-1) + r), which is (k+1)/(k+3) of
    # a simple and (2k+2)/(2k+5) of a triple lattice, and k/(k+1) of a balanced one.
    wanted = (k + 1) * (replicates - 1) / ((k + 1) * (replicates - 1) + replicates)
    plan = rl.plan.layout("incomplete-blocks", {"cultivar": list(range(k * k))}, per_block=k, trays=replicates, seed=1)
    assert plan.efficiency.value == pytest.approx(wanted, rel=1e-9)
    assert plan.efficiency.bound == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("n", [6, 11, 17, 24, 30])
@pytest.mark.parametrize("room", [4, 7, 12])
def test_cultivars_on_small_benches(n: int, room: int) -> None:
    plan = rl.plan.layout(
        "incomplete-blocks", {"cultivar": [f"c{at}" for at in range(n)]}, per_block=room, trays=3, seed=4
    )
    blocks: dict[str, list[str]] = {}
    replicates: dict[str, list[str]] = {}
    for tray in plan.trays:
        blocks.setdefault(tray.block, []).append(tray.levels[0])
        replicates.setdefault(tray.replicate, []).append(tray.levels[0])
    assert max(map(len, blocks.values())) <= room
    assert all(len(set(own)) == len(own) for own in blocks.values())
    assert all(sorted(own) == sorted(f"c{at}" for at in range(n)) for own in replicates.values())
    assert 0.9 * plan.efficiency.bound <= plan.efficiency.value <= plan.efficiency.bound + 1e-9


def test_new_entries_stand_once_and_controls_in_every_block() -> None:
    entries = [f"n{at}" for at in range(22)]
    plan = rl.plan.layout("augmented", {"cultivar": entries}, controls=["K12", "K17"], blocks=4, seed=5)
    found = Counter(tray.levels[0] for tray in plan.trays)
    assert [found[entry] for entry in entries] == [1] * 22
    for block in "1234":
        own = [tray.levels[0] for tray in plan.trays if tray.block == block]
        assert own.count("K12") == own.count("K17") == 1
        assert len(own) in (7, 8)


def test_blocks_with_an_entry_more_are_the_same_in_all_layouts_of_a_plan() -> None:
    options: dict[str, Any] = {"controls": ["K12"], "blocks": 4}
    plan = rl.plan.layout("augmented", {"cultivar": list("abcde")}, seed=1, **options)
    for seed in range(20):
        assert Counter(tray.block for tray in plan.again(seed=seed).trays) == {"1": 3, "2": 2, "3": 2, "4": 2}
    assert "plan.dealt_anew" in plan.notes[-1].text
    assert "trial.compare_all" in plan.notes[-1].text
    rows = {"tray": [tray.tray for tray in plan.trays], "rooted": [5] * 9, "stuck": [20] * 9}
    with pytest.warns(rl.exceptions.FewTraysWarning):
        trial = rl.load_trial(rows, plan=plan)
    assert plan.dealt_anew(trial, "cultivar", "K12", "a", draws=19).n_units == 9


@pytest.mark.parametrize(
    ("kind", "treatments", "options"),
    [
        ("completely-randomised", STRENGTH, {"trays": 1}),
        ("blocks", STRENGTH, {"blocks": 1}),
        ("latin-square", STRENGTH, {}),
        ("augmented", {"k": list("abcd")}, {"blocks": 2, "controls": ["K12"]}),
    ],
)
def test_what_cannot_be_tested_is_said_in_the_sentence(kind: Any, treatments: Any, options: dict[str, Any]) -> None:
    assert "; it cannot be tested" in rl.plan.layout(kind, treatments, seed=1, **options).sentence
    assert "cannot be tested" not in rl.plan.layout("blocks", STRENGTH, blocks=6, seed=1).sentence


def test_long_names_of_levels_stand_in_a_key_below_the_map() -> None:
    names = {"rootstock": ["from the old orchard", "from the new orchard"], "hormone": ["talcum powder", "water"]}
    figure = rl.plan.layout("blocks", names, blocks=2, seed=1).plot()
    (key,) = figure.legends
    told = {text.get_text().split("  ", 1)[1] for text in key.get_texts()}
    assert told == {" x ".join(pair) for pair in itertools.product(*names.values())}
    shown = {text.get_text() for axes in figure.axes for text in axes.texts}
    assert {"1", "2", "3", "4"} <= shown
    assert not [text for text in shown if ".." in text]
    assert rl.plan.layout("blocks", STRENGTH, blocks=2, seed=1).plot().legends == []


def test_plants_are_spread_over_every_combination() -> None:
    plan = rl.plan.layout("blocks", FOUR, blocks=6, stock_plants=4, readers=["left", "right"], seed=6)
    for name, n in (("stock_plant", 4), ("reader", 2)):
        by_level = Counter((tray.levels[0], tray[name]) for tray in plan.trays)
        assert len(by_level) == 4 * n
        assert max(by_level.values()) - min(by_level.values()) <= 1
    assert plan.confounded == ()


@pytest.mark.parametrize(
    ("options", "with_what", "inseparable"),
    [
        ({"layout": "split-plot", "whole_plot": "dark_days", "whole_plots": 1, "trays": 4}, "whole plot", True),
        ({"layout": "blocks", "blocks": 4, "stock_plants": {"strength": {2500: 3, 5000: 3}}}, "stock plant", False),
        ({"layout": "blocks", "blocks": 4, "readers": {"strength": {2500: "one", 5000: "two"}}}, "reader", True),
        ({"layout": "blocks", "blocks": 4, "stock_plants": {"strength": {2500: 1, 5000: 1}}, "genotype": "strength"},
         "stock plant", True),
    ],
)  # fmt: skip
def test_what_cannot_be_told_apart_is_named_before_the_start(
    options: dict[str, Any], with_what: str, inseparable: bool
) -> None:
    plan = rl.plan.layout(options.pop("layout"), TWO_BY_TWO, seed=1, **options)
    (found,) = plan.confounded
    assert (found["with"], found.inseparable) == (with_what, inseparable)
    assert plan.sentence.startswith("Not ready to start") == inseparable
    assert found.reason.capitalize()[:20].lower() in " ".join(note.text for note in plan.notes).lower()


def test_plants_of_a_genotype_are_its_units() -> None:
    plants = {"rootstock": {"K12": 4, "K17": 4}}
    plan = rl.plan.layout("blocks", {"rootstock": ["K12", "K17"]}, blocks=4, stock_plants=plants,
                          genotype="rootstock", seed=1)  # fmt: skip
    assert plan.confounded == ()
    assert {tray.stock_plant.split("-")[0] for tray in plan.trays if tray.levels[0] == "K12"} == {"K12"}


@pytest.mark.parametrize(
    ("kind", "treatments", "options", "message"),
    [
        ("blocks", {"k": list(range(13))}, {"blocks": 2, "positions": (3, 4)},
         r"13 trays have no room on 3 x 4 = 12 positions; write positions=\(3, 5\)"),
        ("latin-square", {"k": list(range(5))}, {"positions": (4, 5)},
         "a Latin square of 5 combinations has 5 rows and 5 columns"),
        ("latin-square", {"k": list(range(5))}, {"trays": 6},
         "6 trays per combination cannot be shared evenly by 5 rows of a square; write trays=10"),
        ("blocks", STRENGTH, {}, 'layout="blocks" needs blocks=; write blocks=4'),
        ("completely-randomised", STRENGTH, {}, "needs trays=; write trays=4"),
        ("split-plot", TWO_BY_TWO, {"whole_plot": "dark", "blocks": 2},
         "is none of the treatments dark_days, strength"),
        ("split-plot", {"dark_days": [0, 21]}, {"whole_plot": "dark_days", "blocks": 2},
         "leave a treatment to the trays"),
        ("blocks", {"tray": [1, 2]}, {"blocks": 2}, "is a column of the sheets themselves"),
        ("blocks", {"k": [1, 1]}, {"blocks": 2}, "stands twice; name each level once"),
        ("blocks", {}, {"blocks": 2}, "treatments names nothing to compare"),
        ("blocks", {"k": ["a"]}, {"blocks": 2}, "treatments names nothing to compare"),
        ("blocks", STRENGTH, {"blocks": 2, "stuck": 0}, "stuck=0 is not a number from 1"),
        ("blocks", ["strength"], {"blocks": 2}, "is no dictionary; write treatments="),
        ("blocks", STRENGTH, {"blocks": 2, "stuck": "twenty"}, "stuck='twenty' is no whole number; write stuck=20"),
        ("blocks", STRENGTH, {"blocks": 2, "positions": "3x6"}, r"write positions=\(3, 6\)"),
        ("blocks", {"k": ["K12", "k12 "]}, {"blocks": 2}, "differ only by case, spaces or how a number is written"),
        ("blocks", {"k": ["007", 7]}, {"blocks": 2}, "'007' and '7' differ only by case, spaces or how a number"),
        ("augmented", {"k": ["a", "b"]}, {"blocks": 2, "controls": ["A"]}, "'a' and 'A' differ only by case"),
        ("blocks", STRENGTH, {"blocks": ["north", " north"]}, "differ only by case"),
        ("blocks", {"s": [0]}, {"blocks": 2}, "with two levels or more"),
        ("blocks", STRENGTH, {"blocks": 2, "per_block": 3}, "has no per_block=; leave it out"),
        ("augmented", {"k": ["a", "b"]}, {"blocks": 2, "controls": ["a"]}, "is a control and a new entry"),
        ("blocks", STRENGTH, {"blocks": 2, "positions": 12},
         r"is no pair of rows and columns; write positions=\(2, 6\)"),
        ("blocks", STRENGTH, {"blocks": 2, "stock_plants": {"K12": 4}}, "does not say which treatment's levels"),
        ("blocks", STRENGTH, {"blocks": 2, "readers": {"strength": {2500: "one"}}}, "give each level its own"),
        ("blokcs", STRENGTH, {"blocks": 2}, 'layout "blokcs" is not known; did you mean "blocks"'),
        ("incomplete-blocks", {"k": list(range(9))}, {"per_block": 3, "trays": 1}, "trays=1 is not a number from 2"),
        ("completely-randomised", {"k": list(range(6))}, {"trays": 1000}, "trays=6000 is not a number from 2 to 5000"),
    ],
)  # fmt: skip
def test_what_cannot_be_laid_out_is_said(kind: Any, treatments: Any, options: dict[str, Any], message: str) -> None:
    with pytest.raises(ChoiceError, match=message):
        rl.plan.layout(kind, treatments, seed=1, **options)


def test_the_same_seed_gives_the_same_plan() -> None:
    one, same, other = (rl.plan.layout("blocks", FOUR, blocks=5, seed=seed) for seed in (7, 7, 8))
    assert one == same
    assert one.fingerprint == same.fingerprint != other.fingerprint
    assert levels(one) != levels(other)
    # Kept: a plan of this seed has to come out alike wherever and whenever it is made.
    assert "".join(levels(one)) == KEPT
    assert one.again(8) == other
    drawn = rl.plan.layout("blocks", FOUR, blocks=5)
    assert drawn == rl.plan.layout("blocks", FOUR, blocks=5, seed=drawn.made_with.seed)


KEPT = "01000300090000100090003000090003000100030009000010000100030009000"


def test_a_plan_is_kept_and_read_again() -> None:
    plan = rl.plan.layout("split-plot", TWO_BY_TWO, whole_plot="dark_days", blocks=4, stuck=20, seed=2)
    again = rl.plan.Layout.from_json(plan.to_json())
    assert again == plan == pickle.loads(pickle.dumps(plan))
    assert isinstance(again, rl.plan.Layout)
    assert len(plan.fingerprint) == 12
    assert plan.plot() is not None
    assert plan.plot(blind=True) is not None
    assert math.isfinite(plan.set.layouts)


def test_restricted_sets_hold_their_false_alarms() -> None:
    """Trays that drift along the bench: dealt anew within the set no more than 5 in 100 plans raise an alarm."""
    alarms = 0
    for seed in range(200):
        plan = rl.plan.layout("completely-randomised", STRENGTH, trays=8, longest_run=2, seed=seed)
        rows: dict[str, list[Any]] = {"tray": [], "rooted": [], "stuck": []}
        for at, tray in enumerate(plan.trays):
            rows["tray"].append(tray.tray)
            rows["rooted"].append(4 + at + (5 * seed + 3 * at) % 4)
            rows["stuck"].append(30)
        found = plan.dealt_anew(rl.load_trial(rows, plan=plan), "strength", 2500, 5000, draws=99, seed=seed)
        alarms += found.p <= 0.05
    # 200 x 0.05 = 10, standard deviation 3.1.
    assert 2 <= alarms <= 20


def test_what_cannot_be_dealt_anew_is_said() -> None:
    plan = rl.plan.layout("blocks", STRENGTH, blocks=6, seed=1)
    other = rl.plan.layout("blocks", STRENGTH, blocks=6, seed=2)
    rows = {"tray": [tray.tray for tray in plan.trays], "rooted": [5] * 12, "stuck": [20] * 12}
    trial = rl.load_trial(rows, plan=plan)
    with pytest.raises(ChoiceError, match=r"the trial holds trays that it does not have .*; ask the plan that the"):
        other.dealt_anew(trial, "strength", 2500, 5000)
    with pytest.raises(ChoiceError, match='level of strength "2600" is not known'):
        plan.dealt_anew(trial, "strength", 2500, 2600)
    with pytest.raises(ChoiceError, match="5000 is named twice and a level does not differ from itself"):
        plan.dealt_anew(trial, "strength", 5000, 5000.0)
    with pytest.raises(ChoiceError, match="draws=5 is not a number from 19"):
        plan.dealt_anew(trial, "strength", 2500, 5000, draws=5)
    with pytest.raises(ChoiceError, match=r"is no trial; give what rl\.load_trial"):
        plan.dealt_anew(plan, "strength", 2500, 5000)


def test_very_many_trays_with_restrictions() -> None:
    plan = rl.plan.layout("completely-randomised", {"k": list(range(400))}, trays=2, longest_run=1, seed=1)
    assert plan.n_units == 800
    assert plan.set.counted in ("by-draws", "not-known")
    one = rl.plan.layout("completely-randomised", {"k": list(range(5000))}, trays=1, longest_run=1, seed=1)
    assert one.n_units == 5000
