"""Methods paragraphs read back: each number in one stands in the record, and works that it names are cited."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import every_kind
import pytest
from rootling._words import clean_lines, people_of

# What is part of a method whatever the data are: formulas, names, and constants of the program with their reason.
FIXED = (
    r"n1 n2 / \(n1 \+ n2\)",
    r"n / \(1 \+ \(m - 1\) icc\) with m the sum of m\^2",
    r"1 \+ \(m - 1\) x",
    r"N / \(N - 1\)|\(N - 1\) r\^2",
    r"log\(1 \+ d/d0\)",
    r"2 / \(2 \+ events\)",
    # The tray correlation of a plan (domain: usual value), which fades where hardly any cutting rooted.
    r"planning value of 0\.05",
    r"not below 0 and",
    r"2 x 2 tables",
    r"the mean to the power 1\.5",
    r"0 or 100 %",
    # A dispersion or a lack of fit widens where it exceeds 1; shifts add up to 0.
    r"where it exceeds 1|add up to 0|leaves out 0|contrast differs from 0",
    r"shows strength 0|needs strength 0|above 0 unless",
    r"one batch in 500",
    r"ChaCha with 8 rounds",
    r"relative slack 1e-7",
    r"mean over 400 equally likely yields",
    r"weight of 0\.1 in it",
    r"at least 4 degrees of freedom",
    r"\(1 degree of freedom\)|with 1 degree of freedom",
    r"P below 0\.01",
    r"penalty of 1 for each parameter",
    # Of a look before the end: all together alarm as often as one test would.
    r"all looks together alarm in 5 %",
    r"trees per 100",
    r"rootling \d+\.\d+\.\d+",
)
YEAR = re.compile(r"\b(?:1[89]|20)\d\d\b(?=[);,]| \(|\))")
NUMBER = re.compile(r"(?<![\w.^])-?\d+(?:,\d{3})*(?:\.\d+)?(?:e-?\d+)?(?![\w^])")


def _numbers(value: Any) -> Iterator[float]:
    """Every number of a record, in texts too, and how many entries its lists have."""
    if isinstance(value, bool) or value is None:
        return
    if isinstance(value, (int, float)):
        yield float(value)
    elif isinstance(value, str):
        yield from (float(one.replace(",", "")) for one in NUMBER.findall(value))
    elif isinstance(value, dict):
        for key, one in value.items():
            if key not in ("methods", "references", "sentence", "details", "notes", "made_with"):
                yield from _numbers(str(key))
                yield from _numbers(one)
    else:
        yield float(len(value))
        for one in value:
            yield from _numbers(one)


@cache
def _known(name: str) -> tuple[float, ...]:
    """What the record holds: its numbers, its options and seed, and the numbers of others that it says it rests on."""
    record = every_kind.made(name).to_dict()
    made = record["made_with"]
    asked = [list(one) for one in made.get("options") or ()]
    found = [*_numbers(record), *_numbers(asked), *_numbers(made.get("seed")), *_numbers(made.get("rests_on") or [])]
    return tuple(one for one in found if math.isfinite(one))


def _holds(known: tuple[float, ...], text: str) -> bool:
    """True where a number of the record, as it is or as a share of 100, is written so when it is rounded so."""
    plain = text.replace(",", "")
    told, digits = float(plain), len(plain.partition(".")[2].partition("e")[0])
    half = 0.5 * 10.0**-digits * (1 + 1e-6)
    return any(abs(scale * one - told) <= half for one in known for scale in (1, 100))


def _told(methods: str) -> list[str]:
    for fixed in FIXED:
        methods = re.sub(fixed, " ", methods, flags=re.IGNORECASE)
    return NUMBER.findall(YEAR.sub(" ", methods))


def _as_recorded(result: Any) -> str:
    """The paragraph as the core wrote it; what is read of it has years of works at its end."""
    return str(result._record["methods"])


@pytest.mark.parametrize("name", every_kind.ASKED)
def test_each_number_stands_in_the_record(name: str) -> None:
    result = every_kind.made(name)
    assert [one for one in _told(_as_recorded(result)) if not _holds(_known(name), one)] == []


def test_a_number_that_is_wrong_would_be_found() -> None:
    """Numbers of three digits and more, a little changed, stand in no record."""
    tried = [
        (name, f"{float(one.replace(',', '')) * 1.07:.{len(one.partition('.')[2])}f}")
        for name in every_kind.ASKED
        for one in _told(_as_recorded(every_kind.made(name)))
        if len(re.sub("^[-0.]+|[.,]", "", one)) >= 3
    ]
    found = [(name, one) for name, one in tried if not _holds(_known(name), one)]
    assert len(tried) > 40
    assert len(found) >= 0.9 * len(tried), set(tried) - set(found)


# What a paragraph claims, and where the record holds it.
CLAIMS: list[tuple[str, str, Callable[[Any], Any]]] = [
    ("comparison", r"t on (\d+) degrees of freedom", lambda r: f"{r.df:g}"),
    ("comparison", r"correlation \(([-\d.]+)\)", lambda r: f"{r.spread.icc:.4f}"),
    ("comparison", r"two levels of (\w+)", lambda r: r.factor),
    ("comparison", r"The (\d+) % interval", lambda r: f"{100 * r.confidence:g}"),
    ("comparison, deaths", r"The (\w+) rates of two", lambda r: "survival"),
    ("all_comparisons", r"levels \((\d+) tests\)", lambda r: str(len(r.table()))),
    ("all_comparisons", r"\((\w+) \d{4}\); each interval", lambda r: r.together.capitalize()),
    ("what_matters", r"of (\d+) cuttings", lambda r: str(every_kind.several().design.n_cuttings)),
    ("what_matters", r"cuttings in (\d+) trays", lambda r: str(every_kind.several().design.n_units)),
    ("what_matters", r"\(effects: ([^)]+)\)", lambda r: ", ".join(r.table()["effect"])),
    ("contrasts", r"The (\d+) contrasts", lambda r: str(len(r.table()))),
    ("contrasts", r"against t with (\d+) degrees", lambda r: f"{r.table()['df'][0]:g}"),
    ("trend", r"\(scores ([^)]+)\)", lambda r: ", ".join(f"{one.score:g}" for one in r.levels)),
    ("strength_curve", r"t and F on (\d+) degrees", lambda r: f"{r.df:g}"),
    ("strengths_for", r"with a take of ([\d.]+) %", lambda r: f"{100 * r.take:.1f}"),
    ("strengths_for", r"fitted curve \((\w+)\)", lambda r: r.table()["shape"][0]),
    ("power", r"every design (\d+) trials", lambda r: str(every_kind.DRAWS["draws"])),
    ("dealt_anew", r"those of (\d+) other layouts", lambda r: str(r.draws)),
    ("layout", r"^(\d+) trays of", lambda r: str(len(r.table()))),
    ("layout", r"seed (\d+)", lambda r: str(r.made_with["seed"])),
    ("baseline", r"fitted to (\d+) batches", lambda r: str(r.baseline.n_batches)),
    ("signals", r"over all (\d+) charts", lambda r: str(len(r.table()))),
    ("randomisation", r"over all (\d+) assignments", lambda r: f"{r.assignments:g}"),
]


@pytest.mark.parametrize(("name", "pattern", "held"), CLAIMS, ids=[f"{one[0]}-{one[1]}" for one in CLAIMS])
def test_a_claim_is_what_the_record_holds(name: str, pattern: str, held: Any) -> None:
    result = every_kind.made(name)
    found = re.search(pattern, result.methods)
    assert found is not None, result.methods
    assert found[1] == held(result)


# Tests and criteria that are called after people; no work is cited by these names.
CALLED = {"Akaike", "ChaCha", "Fisher", "Pearson", "Poisson", "Brain-Cousens"}


@pytest.mark.parametrize("name", every_kind.ASKED)
def test_every_work_of_the_list_is_named(name: str) -> None:
    """By all its authors and the year, behind the words that it supports and not in a heap at the end."""
    result = every_kind.made(name)
    left = iter(result.methods)
    assert all(letter in left for letter in clean_lines(_as_recorded(result))), "words of the core were changed"
    for line in result.references:
        authors, year = re.fullmatch(r"([^()]+) \((\d{4})\).*", line, re.DOTALL).groups()  # type: ignore[union-attr]
        families = [family for family, _ in people_of(authors)]
        whole = " and ".join([", ".join(families[:-1]), families[-1]]) if len(families) > 1 else families[0]
        called = "|".join(map(re.escape, {whole, "-".join(families), f"{families[0]} et al."}))
        assert re.search(rf"(?<!\w)(?:{called})(?:'s?)?,? \(?{year}(?!\d)", result.methods), line
    assert not re.search(r"\. \([^()]*\d{4}\.\)$", result.methods), result.methods[-300:]


def _authors(result: Any) -> str:
    return " ".join(one.partition(" (")[0] for one in result.references)


@pytest.mark.parametrize("name", every_kind.ASKED)
def test_works_named_in_a_paragraph_are_in_its_list(name: str) -> None:
    result = every_kind.made(name)
    dated = re.findall(r"([A-Z][\w']+)(?:(?:, | and )[A-Z][\w']+)*,? \(?((?:18|19|20)\d\d)\)?", result.methods)
    for author, year in dated:
        listed = [one for one in result.references if author.removesuffix("'s") in one.partition(" (")[0]]
        assert any(f"({year})" in one for one in listed), (author, year)
    named = {
        re.sub(r"'s?$", "", word)
        for part in re.split(r"(?<=[.:;])\s+", re.sub(r"plan [A-Z]+,", "", result.methods))
        for word in re.findall(r"(?<!^)(?<![\w'])([A-Z][a-z][\w'-]+)", part)
    }
    known = _authors(result)
    alien = {word for word in named - CALLED if not all(one in known for one in word.split("-"))}
    assert alien == set()
    assert len(set(result.references)) == len(result.references)
