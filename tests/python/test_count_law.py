"""Laws of plain counts: published counts, groups at an end, columns, what is refused, and what is said."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
import rootling as rl
from rootling._results import Result
from rootling.exceptions import CountError, RootlingError

DATA = Path(__file__).parents[1] / "data"
LAWS = ("poisson", "negative-binomial", "hurdle-poisson", "hurdle-negative-binomial")


@cache
def shoots() -> pl.DataFrame:
    """Shoots of Marin et al. 1993, as printed by Ridout et al. 1998, one row each."""
    frame = pl.read_csv(DATA / "marin_1993.csv", comment_prefix="#")
    return frame.select(
        pl.col("photoperiod_h").repeat_by("shoots").explode(), pl.col("roots").repeat_by("shoots").explode()
    )


@cache
def by_photoperiod(law: Any = "hurdle-negative-binomial") -> rl.responses.CountLaw:
    return rl.responses.count_law(shoots()["roots"], shoots()["photoperiod_h"], law=law, zero_inflated=True)


def test_apple_shoots_by_photoperiod() -> None:
    found = by_photoperiod()
    # tests/reference/expected.json: 138 of 140 and 68 of 130 rooted; likelihoods of ridout_zi_negbin_ph,
    # ridout_hurdle_poisson, ridout_nb_ph and ridout_poisson_ph, made with R 4.2.2 (MASS 7.3.58.2, pscl 1.5.5).
    assert [(one.group, one.n_any, one.n_cuttings) for one in found.groups] == [("8", 138, 140), ("16", 68, 130)]
    assert found.by == "photoperiod_h"
    heights = {one.law: one.loglik for one in found.beside}
    assert heights["hurdle-poisson"] == pytest.approx(-630.649547255352, rel=1e-9)
    assert heights["zero-inflated-negative-binomial"] == pytest.approx(-621.959988129325, rel=1e-9)
    assert heights["hurdle-negative-binomial"] == pytest.approx(heights["zero-inflated-negative-binomial"], rel=1e-9)
    assert heights["negative-binomial"] == pytest.approx(-701.933529080886, rel=1e-9)
    assert heights["poisson"] == pytest.approx(-785.957880221111, rel=1e-9)
    assert found.spread == pytest.approx(1 / 12.376655371137, rel=1e-5)
    limits = rl.rates.interval(68, 130)
    assert (found.groups[1].any_low, found.groups[1].any_high) == pytest.approx((limits.low, limits.high), rel=1e-12)
    for one in found.groups:
        assert one.value == pytest.approx(one.any * one.of_any, rel=1e-12)
        assert sum(one.expected) == pytest.approx(one.n_cuttings, rel=1e-9)
        assert sum(one.observed) == one.n_cuttings


@pytest.mark.parametrize("law", LAWS)
def test_every_law_keeps_its_means_within_their_limits(law: str) -> None:
    found = by_photoperiod(law)
    for one in found.groups:
        assert one.low < one.value < one.high
        assert one.any_low < one.any < one.any_high
        assert one.of_any_low < one.of_any < one.of_any_high
    if not law.startswith("hurdle"):
        # A law whose mean has a logarithm of its own keeps the mean of each group.
        assert [one.value for one in found.groups] == pytest.approx(
            [one.total / one.n_cuttings for one in found.groups]
        )


def test_the_law_that_fits_is_told() -> None:
    found = by_photoperiod("poisson")
    assert "another_law_fits" in [note.code for note in found.notes]
    assert found.laws()["law"][0].endswith("negative-binomial")
    assert found.laws()["behind"][0] == 0
    assert "another_law_fits" not in [note.code for note in by_photoperiod().notes]
    assert found.counted().filter(group="8")["observed"].sum() == 140


def test_articles_by_columns() -> None:
    frame = pl.read_csv(DATA / "long_1990.csv", comment_prefix="#")
    names = ["married", "young_children", "prestige", "mentor_articles"]
    found = rl.responses.count_law(
        frame["articles"], frame["women"], columns={name: frame[name] for name in names}, name="articles"
    )
    # tests/reference/values/count_laws.json: the coefficient of mentor_articles, and the likelihood.
    assert found.loglik == pytest.approx(-1552.5965912142253, rel=1e-9)
    effects = {(one.column, one.on): one.value for one in found.effects}
    assert effects["mentor_articles", "count"] == pytest.approx(np.exp(0.02373821571086081), rel=1e-8)
    assert effects["mentor_articles", "any"] == pytest.approx(np.exp(0.08012135463450348), rel=1e-8)
    # Over all rows, not over those of a group.
    assert found.over_all_rows
    words = frame.with_columns(pl.col("married").replace_strict({0: "single", 1: "married"}))
    told = rl.responses.count_law(frame["articles"], frame["women"], columns={"married": words["married"]})
    assert [(one.level, one.against) for one in told.effects] == [("single", "married")] * 2


def test_calls_of_owls_are_in_proportion_to_the_brood() -> None:
    frame = pl.read_csv(DATA / "roulin_bersier_2007.csv", comment_prefix="#")
    cell = frame["food"] + " " + frame["parent"]
    found = rl.responses.count_law(
        frame["calls"], cell, law="negative-binomial", offset=frame["brood"].log(), name="calls"
    )
    # tests/reference/values/count_laws.json, owls: the same four means by another coding; nests are not in it.
    assert found.loglik == pytest.approx(-1748.1524159756016, rel=1e-9)
    assert found.spread == pytest.approx(1.3061687105994322, rel=1e-6)


def test_groups_at_an_end() -> None:
    counts = [0] * 6 + [1, 1, 1, 1] + [2, 3, 1, 4, 0, 5]
    groups = ["none"] * 6 + ["ones"] * 4 + ["some"] * 6
    found = rl.responses.count_law(counts, groups)
    none, ones, _ = found.groups
    assert (none.value, none.low, none.high, none.of_any) == (0, 0, None, None)
    assert none.any_high == pytest.approx(rl.rates.interval(0, 6).high)
    assert (ones.of_any, ones.of_any_low) == (1, 1)
    assert 1 < ones.of_any_high < 4
    assert "nothing tells how many more" in found.details[0]
    plain = rl.responses.count_law(counts, groups, law="poisson")
    # -ln(0.025) / 6.
    assert plain.groups[0].high == pytest.approx(0.6148132423523227, rel=1e-12)
    alone = rl.responses.count_law([1, 1, 1, 0])
    assert alone.groups[0].value == pytest.approx(0.75)
    assert alone.spread == 0


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (([],), "there are no counts"),
        (([0, 0, 0],), "no count of 3 is above 0"),
        (([1.5, 2],), "counts must be whole numbers"),
        (([-1, 2],), "count -1 is negative"),
        (([1, None, 2],), "counts must be whole numbers"),
        (([1, 2], ["a"]), "groups: 1 for 2 counts"),
        (([1, 2], ["a", None]), "groups: entry 2 is missing"),
        (([1, 2], "ab"), "groups='ab' is no list"),
        (([[1, 2], [3, 4]],), "counts are a list with one entry per cutting"),
        (([1, 2_000_000],), "entry 2: 2000000 is above 1000000"),
    ],
)
def test_what_cannot_be_is_refused_in_words(given: tuple[Any, ...], words: str) -> None:
    with pytest.raises(RootlingError) as caught:
        rl.responses.count_law(*given)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"law": "gaussian"}, 'law of counts "gaussian" is not known'),
        ({"law": "truncated-poisson"}, "2 of 6 counts are 0, and a truncated law has none"),
        ({"columns": {"length": [1, 2]}}, 'column "length": 2 entries for 6 counts'),
        ({"columns": {"length": [1, 2, 3, 4, 5, None]}}, "length entry 6 is no number"),
        ({"columns": {"length": [3] * 6}}, "is the same for all cuttings"),
        ({"columns": [1, 2]}, "columns="),
        ({"offset": [0, 0, 0, 0, 0, float("inf")]}, "offset entry 6 is no number"),
        ({"name": 5}, "name=5"),
        ({"confidence": 95}, "confidence 95 is not between 0 and 1"),
    ],
)
def test_options_that_cannot_be(options: dict[str, Any], words: str) -> None:
    with pytest.raises(RootlingError) as caught:
        rl.responses.count_law([0, 2, 1, 3, 0, 4], **options)
    assert words in str(caught.value)


def test_a_law_that_cannot_be_fitted_says_why() -> None:
    counts, lengths = [2, 3, 1, 4, 0, 5, 0, 2], [8.0, 9.0, 7.5, 9.5, 8.5, 9.0, 7.0, 8.0]
    with pytest.raises(CountError, match='every cutting of group "a" has any; leave the columns out'):
        rl.responses.count_law(counts, list("aaaabbbb"), columns={"length": lengths})
    # Beside the others such a law is listed with its reason.
    found = rl.responses.count_law(counts, list("aaaabbbb"), zero_inflated=True)
    left = [one for one in found.beside if one.why is not None]
    assert {one.law for one in left} <= {"zero-inflated-poisson", "zero-inflated-negative-binomial"}


def test_forms_of_counts_answer_alike() -> None:
    counts, groups = [0, 2, 0, 3, 1, 5], [0, 0, 0, 2500, 2500, 2500]
    plain = rl.responses.count_law(counts, groups)
    for form in (np.array, pl.Series, tuple):
        again = rl.responses.count_law(form(counts), form(groups))  # type: ignore[operator]
        assert again.numbers == plain.numbers
    assert rl.verify(plain.to_json()).exact
    assert Result.from_json(plain.to_json()) == plain
    named = rl.responses.count_law(counts, pl.Series("strength", groups))
    assert named.table().columns[0] == "strength"
    assert rl.responses.count_law(counts, groups, by="value").table().columns[0] == "group"


def test_long_lists_are_not_kept() -> None:
    counts = np.arange(30_000) % 7
    found = rl.responses.count_law(counts)
    assert "asked" not in found.to_dict()["made_with"]
    with pytest.raises(RootlingError, match="does not hold the counts that were given"):
        rl.verify(found.to_json())
