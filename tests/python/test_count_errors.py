"""Bad counts, tables, levels and names: each case with its exact sentence, whoever is asked."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, CountError

NAN = math.nan
T = [[8, 2], [1, 5]]
LARGE = 2**54

LISTS = "counts must be whole numbers of cuttings, for example 81 or [81, 56]"
TABLE = "a table holds whole numbers of 0 or more, row by row, for example [[156, 84], [84, 156]]"
PAIR = "rooted and stuck are lists of whole numbers of 0 or more, one entry for each group"
NONE_STUCK = "0 cuttings were stuck, so there is no rate; leave this group out or correct the count"
NOT_TWO = (
    "this exact test is not defined: the table is not 2 x 2; use the chi-square tests or compare two rows and two "
    "columns at a time"
)


def count(value: object) -> str:
    """What is said of a single count."""
    return f"count {value} is not a whole number of cuttings, 0 or more; correct it"


def size(rows: int, columns: int) -> str:
    """What is said of a table that is too small."""
    return f"a table of {rows} x {columns} has no association to test; give at least 2 rows and 2 columns"


def level(value: str) -> str:
    """What is said of a level."""
    return f"confidence {value} is not between 0 and 1; give it as a proportion, for example 0.95"


def too_many(plants: int, most: int) -> str:
    """What is said of a table beyond exact work."""
    return (
        f"{plants} plants are too many for this exact method (at most {most}); use the score test or interval, which "
        "is rougher when few rooted or few failed"
    )


COUNTS: list[tuple[Callable[[], Any], str]] = [
    # not whole, not numbers, not there
    (lambda: rl.rates.interval(1.5, 3), LISTS),
    (lambda: rl.rates.interval([1.5], 3), LISTS),
    (lambda: rl.rates.interval(NAN, 3), LISTS),
    (lambda: rl.rates.interval([NAN], 3), LISTS),
    (lambda: rl.rates.interval(None, 3), LISTS),
    (lambda: rl.rates.interval(True, 3), count(True)),
    (lambda: rl.rates.against_target(1.5, 3, 0.5), LISTS),
    (lambda: rl.rates.tray_correlation([1.5], [3]), LISTS),  # type: ignore[list-item]
    (lambda: rl.compare.difference(1.5, 3, 1, 3), count(1.5)),  # type: ignore[arg-type]
    (lambda: rl.compare.difference(NAN, 3, 1, 3), count("nan")),  # type: ignore[arg-type]
    (lambda: rl.compare.ratio(1, 3, 1, 2.5), count(2.5)),  # type: ignore[arg-type]
    (lambda: rl.compare.odds_ratio("a", 3, 1, 3), count("a")),  # type: ignore[arg-type]
    (lambda: rl.compare.equivalence(1, 3, 1, None, margin=0.1), count(None)),  # type: ignore[arg-type]
    (lambda: rl.compare.score_test(1, 3, 1, 2.5), count(2.5)),  # type: ignore[arg-type]
    (lambda: rl.compare.likelihood_ratio_test(1, 3, 1, 2.5), count(2.5)),  # type: ignore[arg-type]
    (lambda: rl.tables.chi_square([[1, 2.5], [3, 4]]), TABLE),  # type: ignore[list-item]
    (lambda: rl.tables.chi_square(7), TABLE),  # type: ignore[arg-type]
    (lambda: rl.tables.fisher([[1, 2], [3, "x"]]), TABLE),  # type: ignore[list-item]
    (lambda: rl.tables.freeman_halton([[1, 2], [3, NAN]]), TABLE),  # type: ignore[list-item]
    (lambda: rl.tables.linear_by_linear([[1, 2.5], [3, 4]]), TABLE),  # type: ignore[list-item]
    (lambda: rl.tables.stratified([[[1, 2.5], [3, 4]]]), TABLE),  # type: ignore[list-item]
    (
        lambda: rl.tables.stratified(7),  # type: ignore[arg-type]
        "strata is a list of tables, one for each stratum, all with the same rows and columns",
    ),
    (lambda: rl.tables.unconditional([[1, 2.5], [3, 4]]), TABLE),  # type: ignore[list-item]
    (lambda: rl.tables.paired([[1, 2.5], [3, 4]]), TABLE),  # type: ignore[list-item]
    (lambda: rl.tables.three_way([[[1, 2.5], [3, 4]], [[1, 2], [3, 4]]]), TABLE),  # type: ignore[list-item]
    (lambda: rl.tables.trend([1.5, 2], [3, 4]), PAIR),  # type: ignore[list-item]
    (lambda: rl.tables.trend(7, 8), PAIR),  # type: ignore[arg-type]
    # negative
    (lambda: rl.rates.interval(-1, 3), count(-1)),
    (lambda: rl.rates.interval([1, -1], 3), "entry 2: count -1 is negative; a count is 0 or more"),
    (lambda: rl.rates.against_target([-1], 3, 0.5), "entry 1: count -1 is negative; a count is 0 or more"),
    (lambda: rl.rates.tray_correlation([-1, 2], [3, 4]), "entry 1: count -1 is negative; a count is 0 or more"),
    (lambda: rl.compare.difference(1, 3, -1, 3), count(-1)),
    (lambda: rl.tables.fisher([[1, -2], [3, 4]]), TABLE),
    (lambda: rl.tables.trend([-1, 2], [3, 4]), PAIR),
    (lambda: rl.tables.stratified([[[1, -2], [3, 4]]]), TABLE),
    (lambda: rl.compare.randomisation([-0.1], [0.3]), "entry 1: tray rate -0.1 is outside 0 to 1"),
    (lambda: rl.compare.randomisation([NAN, 0.2], [0.3]), "entry 1: tray rate NaN is outside 0 to 1"),
    (lambda: rl.compare.adjusted_p([-0.1]), "entry 1: P value -0.1 is outside 0 to 1"),
    (lambda: rl.compare.adjusted_p([0.1, NAN]), "entry 2: P value NaN is outside 0 to 1"),
    (lambda: rl.compare.adjusted_p("x"), "P values must be a list of numbers, for example [0.2, 0.35]"),
    # none stuck, more rooted than stuck, too large
    (lambda: rl.rates.interval(0, 0), NONE_STUCK),
    (lambda: rl.rates.interval([1, 0], [2, 0]), f"entry 2: {NONE_STUCK}"),
    (lambda: rl.rates.against_target(0, 0, 0.5), NONE_STUCK),
    (lambda: rl.rates.tray_correlation([0, 1], [0, 4]), f"entry 1: {NONE_STUCK}"),
    (lambda: rl.compare.difference(0, 0, 1, 3), NONE_STUCK),
    (lambda: rl.tables.trend([0, 1], [0, 4]), f"entry 1: {NONE_STUCK}"),
    (
        lambda: rl.tables.paired([[0, 0], [0, 0]]),
        "a paired comparison is not defined: there is no pair; enter the pairs",
    ),
    (lambda: rl.rates.interval(5, 3), "5 rooted of 3 stuck; the number rooted cannot exceed the number stuck"),
    (
        lambda: rl.compare.ratio(1, 3, 1, 0),
        NONE_STUCK,
    ),
    (
        lambda: rl.rates.interval(1, LARGE),
        f"count {LARGE} is above 9007199254740992, the largest that is held exactly; check the entry",
    ),
    (
        lambda: rl.tables.fisher([[LARGE, 1], [1, 1]]),
        f"count {LARGE} is above 9007199254740992, the largest that is held exactly; check the entry",
    ),
    # shape
    (lambda: rl.tables.chi_square([[1, 2]]), size(1, 2)),
    (lambda: rl.tables.chi_square([[1], [2]]), size(2, 1)),
    (lambda: rl.tables.chi_square([]), size(0, 0)),
    (lambda: rl.tables.freeman_halton([[1, 2]]), size(1, 2)),
    (lambda: rl.tables.linear_by_linear([[1], [2]]), size(2, 1)),
    (lambda: rl.tables.stratified([]), size(0, 0)),
    (lambda: rl.tables.stratified([[[1, 2]]]), size(1, 2)),
    (lambda: rl.tables.trend([1], [2]), size(1, 2)),
    (lambda: rl.tables.fisher([[1, 2, 3], [4, 5, 6]]), NOT_TWO),
    (lambda: rl.tables.unconditional([[1, 2, 3], [4, 5, 6]]), NOT_TWO),
    (
        lambda: rl.tables.paired([[1, 2, 3], [4, 5, 6]]),
        "a paired comparison is not defined: the table is not 2 x 2; give [[both rooted, first only], [second only, "
        "neither]]",
    ),
    (
        lambda: rl.tables.chi_square([[1, 2], [3]]),
        "row 2 of the table is 1 long where the first is 2 long; give all rows the same length",
    ),
    (
        lambda: rl.compare.randomisation([], [0.1]),
        "the first arm has 0 trays; at least 1 are needed to see how trays differ",
    ),
    # all-zero margins
    (lambda: rl.tables.chi_square([[0, 0], [1, 2]]), "row 1 of the table is all zero; leave it out"),
    (lambda: rl.tables.freeman_halton([[1, 2], [0, 0]]), "row 2 of the table is all zero; leave it out"),
    (lambda: rl.tables.linear_by_linear([[0, 1, 2], [0, 2, 1]]), "column 1 of the table is all zero; leave it out"),
    (
        lambda: rl.tables.stratified([[[0, 0], [1, 2]]]),
        "an association within strata is not defined: in every stratum all plants are in one row or in one column; "
        "compare groups that share a stratum",
    ),
    (
        lambda: rl.compare.ratio(0, 3, 0, 4, method="log"),
        "the log interval of the ratio is not defined: a group without a rooted cutting, or all rooted in both groups, "
        "has no log standard error; use koopman",
    ),
    (
        lambda: rl.compare.odds_ratio(0, 3, 2, 4, method="woolf"),
        "the woolf interval is not defined: one of the four counts is 0; use conditional-exact, mid-p or score",
    ),
    # levels, targets, margins
    (lambda: rl.rates.interval(1, 3, confidence=0), level("0")),
    (lambda: rl.rates.interval(1, 3, confidence=1), level("1")),
    (lambda: rl.rates.interval([1], 3, confidence=NAN), level("NaN")),
    (lambda: rl.compare.difference(1, 3, 1, 3, confidence=95), level("95")),
    (lambda: rl.compare.ratio(1, 3, 1, 3, confidence=-1), level("-1")),
    (lambda: rl.compare.odds_ratio(1, 3, 1, 3, confidence=NAN), level("NaN")),
    (lambda: rl.compare.equivalence(1, 3, 1, 3, margin=0.1, confidence=1), level("1")),
    (lambda: rl.tables.unconditional(T, confidence=2), level("2")),
    (lambda: rl.tables.paired(T, confidence=0), level("0")),
    (lambda: rl.tables.stratified([T], confidence=95), level("95")),
    (lambda: rl.compare.randomisation([0.1, 0.2], [0.3, 0.4], confidence=95), level("95")),
    (lambda: rl.rates.tray_correlation([1, 2], [9, 9], confidence=95), level("95")),
    (
        lambda: rl.tables.stratified([T], confidence="x"),  # type: ignore[arg-type]
        "confidence x is not a number; give it as a proportion, for example 0.95",
    ),
    (
        lambda: rl.compare.randomisation([0.1, 0.2], [0.3, 0.4], confidence="x"),  # type: ignore[arg-type]
        "confidence x is not a number; give it as a proportion, for example 0.95",
    ),
    (
        lambda: rl.compare.equivalence(1, 3, 1, 3, margin=0.1, confidence=0.4),
        "confidence of a one-sided test 0.4 is outside 0.5 to 1",
    ),
    (
        lambda: rl.rates.interval(1, 3, confidence=0.4, sides="upper"),
        "confidence of a one-sided bound 0.4 is outside 0.5 to 1",
    ),
    (
        lambda: rl.rates.interval(1, 3, sides="upper", method="blaker"),
        "a one-sided blaker bound is not defined: the method joins both tails; use clopper-pearson",
    ),
    (
        lambda: rl.rates.against_target(1, 3, 60),
        "target 60 is not between 0 and 1; give the rate to test against as a proportion, for example 0.6",
    ),
    (
        lambda: rl.rates.against_target(1, 3, NAN),
        "target NaN is not between 0 and 1; give the rate to test against as a proportion, for example 0.6",
    ),
    (lambda: rl.rates.against_target(1, 3, "x"), "a target is a rate between 0 and 1, for example 0.6 or [0.6, 0.7]"),
    (
        lambda: rl.compare.equivalence(1, 3, 1, 3, margin=10),
        "margin 10 is not above 0 and at most 1; give it as a proportion, for example 0.1 for 10 trees per 100",
    ),
    (
        lambda: rl.compare.equivalence(1, 3, 1, 3, margin="x"),  # type: ignore[arg-type]
        "margin x is not a number; give it as a proportion, for example 0.1 for 10 trees per 100",
    ),
    # lists that do not belong together, scores
    (lambda: rl.rates.interval([1, 2], [3, 4, 5]), "counts of shape (2,) and (3,) do not belong together"),
    (
        lambda: rl.rates.against_target([1, 2], [3, 4], [0.1, 0.2, 0.3]),
        "counts of shape (2,) and (2,) and (3,) do not belong together",
    ),
    (
        lambda: rl.rates.tray_correlation([1], [3, 4]),
        "the lists differ in length: 1 rooted, 2 stuck; give both for every entry",
    ),
    (
        lambda: rl.rates.tray_correlation([1, 2], [3, 4], treatment=[1]),
        "treatments: 1 for 2 trays; give one for each",
    ),
    (
        lambda: rl.tables.trend([1, 2], [3, 4, 5]),
        "the lists differ in length: 2 rooted, 3 stuck; give both for every entry",
    ),
    (lambda: rl.tables.trend([1, 2], [3, 4], scores=[1]), "scores: 1 for 2 groups; give one for each"),
    (
        lambda: rl.tables.trend([1, 2], [3, 4], scores=[1, NAN]),
        "score 2 is NaN; give each group or level a number, for example its strength",
    ),
    (
        lambda: rl.tables.trend([1, 2], [3, 4], scores="ab"),  # type: ignore[arg-type]
        "scores are numbers, one for each group, for example [0, 2500, 5000]",
    ),
    (lambda: rl.tables.linear_by_linear(T, row_scores=[1]), "scores: 1 for 2 rows; give one for each"),
    (lambda: rl.tables.linear_by_linear(T, column_scores=[1, 2, 3]), "scores: 3 for 2 columns; give one for each"),
    (
        lambda: rl.tables.linear_by_linear(T, row_scores=[math.inf, 1]),
        "score 1 is inf; give each group or level a number, for example its strength",
    ),
    (
        lambda: rl.tables.stratified([T, [[1, 2, 3], [4, 5, 6]]]),
        "stratum 2 is 2 x 3 where the first is 2 x 2; all must have the same shape",
    ),
    (lambda: rl.tables.stratified([T], row_scores=[1]), "scores: 1 for 2 rows; give one for each"),
    (
        lambda: rl.compare.randomisation([0.1, 0.2], [0.3], strata=([1], [1])),
        "strata: 1 for 2 trays of the first arm; give one for each",
    ),
    (
        lambda: rl.compare.randomisation([0.1, 0.2], [0.3], strata=([1, 1], [2])),
        "a randomisation test is not defined: no stratum holds trays of both arms; leave the strata out or correct "
        "them",
    ),
    # too large for exact work
    (lambda: rl.compare.difference(4000, 20_000, 5000, 20_000, method="exact"), too_many(40_000, 20_000)),
    (
        lambda: rl.compare.equivalence(4000, 20_000, 5000, 20_000, margin=0.1, method="exact"),
        too_many(40_000, 20_000),
    ),
    (lambda: rl.tables.unconditional([[9000, 9000], [9000, 9000]]), too_many(36_000, 20_000)),
    (lambda: rl.tables.fisher([[10**9, 1], [1, 1]]), too_many(10**9 + 3, 10**9)),
    (lambda: rl.compare.odds_ratio(10**9, 2 * 10**9, 5, 9, method="mid-p"), too_many(2 * 10**9 + 9, 10**9)),
    # draws, work and seeds
    (lambda: rl.compare.randomisation([0.1], [0.2], draws=0), "draws 0 is outside 1 to 1000000000"),
    (lambda: rl.tables.freeman_halton(T, draws=98), "number of draws 98 is outside 99 to 1000000000"),
    (
        lambda: rl.tables.freeman_halton(T, draws=1.5),  # type: ignore[arg-type]
        "draws 1.5 is not a whole number of 0 or more; correct it",
    ),
    (lambda: rl.tables.trend([1, 2], [3, 4], work=-1), "work -1 is not a whole number of 0 or more; correct it"),
    (lambda: rl.tables.freeman_halton(T, seed=-1), "seed -1 is not a whole number of 0 or more; correct it"),
]


@pytest.mark.parametrize(("ask", "words"), COUNTS)
def test_what_cannot_be_is_said(ask: Callable[[], Any], words: str) -> None:
    with pytest.raises(CountError) as found:
        ask()
    assert str(found.value) == words


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (
            lambda: rl.rates.interval(1, 3, method="wilsen"),  # type: ignore[arg-type]
            'interval method "wilsen" is not known; did you mean "wilson"? Known: wald, wilson, wilson-corrected, '
            "clopper-pearson, mid-p, jeffreys, agresti-coull, likelihood, blaker",
        ),
        (
            lambda: rl.rates.interval([1], 3, method="clopper"),  # type: ignore[arg-type]
            'interval method "clopper" is not known; did you mean "clopper-pearson"? Known: wald, wilson, '
            "wilson-corrected, clopper-pearson, mid-p, jeffreys, agresti-coull, likelihood, blaker",
        ),
        (
            lambda: rl.rates.interval(1, 3, sides="uper"),  # type: ignore[arg-type]
            'choice of sides "uper" is not known; did you mean "upper"? Known: both, lower, upper',
        ),
        (
            lambda: rl.rates.against_target(1, 3, 0.5, method="exat"),  # type: ignore[arg-type]
            'test against a target "exat" is not known; did you mean "exact"? Known: exact, doubled, blaker, mid-p, '
            "score",
        ),
        (
            lambda: rl.rates.tray_correlation([1, 2], [9, 9], method="anov"),  # type: ignore[arg-type]
            'correlation method "anov" is not known; did you mean "anova"? Known: anova, beta-binomial',
        ),
        (
            lambda: rl.compare.difference(1, 3, 1, 3, method="miettinen"),  # type: ignore[arg-type]
            'difference method "miettinen" is not known; did you mean "miettinen-nurminen"? Known: miettinen-nurminen, '
            "mee, newcombe, newcombe-corrected, agresti-caffo, wald, exact",
        ),
        (
            lambda: rl.compare.ratio(1, 3, 1, 3, method="koopmann"),  # type: ignore[arg-type]
            'ratio method "koopmann" is not known; did you mean "koopman"? Known: koopman, log, miettinen-nurminen',
        ),
        (
            lambda: rl.compare.odds_ratio(1, 3, 1, 3, method="wolf"),  # type: ignore[arg-type]
            'odds ratio method "wolf" is not known; did you mean "woolf"? Known: conditional-exact, mid-p, woolf, '
            "score, miettinen-nurminen",
        ),
        (
            lambda: rl.compare.equivalence(1, 3, 1, 3, margin=0.1, claim="worse"),  # type: ignore[arg-type]
            'claim "worse" is not known; known: equivalent, not-worse, not-better',
        ),
        (
            lambda: rl.compare.equivalence(1, 3, 1, 3, margin=0.1, method="scor"),  # type: ignore[arg-type]
            'test against a margin "scor" is not known; did you mean "score"? Known: score, exact',
        ),
        (
            lambda: rl.compare.adjusted_p([0.1], method="holms"),  # type: ignore[arg-type]
            'adjustment "holms" is not known; did you mean "holm"? Known: bonferroni, holm, hochberg, hommel, sidak, '
            "sidak-step-down, benjamini-hochberg, benjamini-yekutieli, none",
        ),
        (
            lambda: rl.tables.unconditional(T, method="boshloo"),  # type: ignore[arg-type]
            'unconditional test "boshloo" is not known; did you mean "boschloo"? Known: boschloo, barnard, '
            "barnard-unpooled",
        ),
        (
            lambda: rl.tables.paired(T, method="tanga"),  # type: ignore[arg-type]
            'paired interval "tanga" is not known; did you mean "tango"? Known: tango, newcombe',
        ),
    ],
)
def test_unknown_names_come_with_the_nearest(ask: Callable[[], Any], words: str) -> None:
    with pytest.raises(ChoiceError) as found:
        ask()
    assert str(found.value) == words


def test_what_is_too_large_for_exact_work_falls_back_and_says_so() -> None:
    table = rl.tables.freeman_halton([[10**6] * 3] * 3, draws=99)
    assert (table.method, table.draws, table.seed) == ("drawn", 99, 1)
    assert table.se >= 0
    assert rl.tables.trend([10**6] * 3, [10**7] * 3, draws=99).exact.method == "drawn"
    strata = rl.tables.stratified([[[10**7, 10**7], [10**7, 10**7 + 5]]])
    assert strata.exact is None
    assert strata.exact_left_out == (
        "the strata hold too many plants for exact work; the Mantel-Haenszel odds ratio and its limits stand in"
    )
    dealt = rl.compare.randomisation([0.1, 0.3] * 15, [0.2, 0.4] * 15, draws=99)
    assert dealt.drawn == 99
    assert "drawn_assignments" in [note.code for note in dealt.notes]


def test_nothing_rooted_has_a_difference_and_ratios_of_anything() -> None:
    gap = rl.compare.difference(0, 10, 0, 20)
    assert gap.low < 0 < gap.high
    assert gap.sentence.startswith("No difference is shown: no cutting rooted in either group; ")
    times = rl.compare.ratio(0, 10, 0, 20)
    assert (times.value, times.low, times.high) == (None, 0, math.inf)
    assert times.sentence == (
        "No cutting rooted in either group, so the ratio of the rates can be anything (95 % interval 0 to infinite)."
    )
    odds = rl.compare.odds_ratio(0, 10, 0, 20)
    assert (odds.value, odds.low, odds.high) == (None, 0, math.inf)


TESTS_OF_NOTHING: list[Callable[[], Any]] = [
    lambda: rl.tables.fisher([[0, 10], [0, 20]]),
    lambda: rl.tables.freeman_halton([[0, 10], [0, 20], [0, 5]]),
    lambda: rl.tables.unconditional([[0, 10], [0, 20]]),
    lambda: rl.tables.linear_by_linear([[10, 0], [20, 0]]),
    lambda: rl.tables.chi_square([[0, 10], [0, 20]]).pearson,
    lambda: rl.tables.trend([0, 0, 0], [10, 20, 20]).exact,
    lambda: rl.compare.score_test(0, 10, 0, 20),
    lambda: rl.compare.likelihood_ratio_test(10, 10, 20, 20),
]


@pytest.mark.parametrize("ask", TESTS_OF_NOTHING)
def test_nothing_rooted_anywhere_has_a_p_value_of_one(ask: Callable[[], Any]) -> None:
    # by hand: one table only has these margins
    assert ask().p == 1


@pytest.mark.filterwarnings("ignore::rootling.exceptions.FewTraysWarning")
def test_a_comparison_of_nothing_rooted_says_what_is_left() -> None:
    frame = {"strength": [0, 0, 0, 0, 9, 9, 9, 9], "tray": list("abcdefgh"), "rooted": [0] * 8, "stuck": [20] * 8}
    trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments="strength", tray="tray")
    found = trial.compare("strength", 0, 9)
    assert found.low < 0 < found.high
    assert list(found.ratio) == [None, 0, math.inf]
    assert found.odds_ratio is None
    (note,) = [note for note in found.notes if note.code == "extreme_rates"]
    assert note.text.endswith("the ratio of the rates can be anything, and there is no odds ratio.")
