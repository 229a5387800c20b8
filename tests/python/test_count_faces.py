"""Every answer on plain counts has the faces of all results, and long work on them tells how far it is."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import rootling as rl
from rootling._results import Estimate, Result

PAIR = [[20, 0], [14, 6]]
TESTS: list[tuple[Callable[[], Any], str]] = [
    (lambda: rl.tables.chi_square([[156, 84], [84, 156]]), "without correction"),
    (lambda: rl.tables.fisher(PAIR), "not more probable"),
    (lambda: rl.tables.freeman_halton([[3, 0, 1], [4, 2, 6]]), "Freeman and Halton"),
    (lambda: rl.tables.trend([1, 2, 4, 7], [10] * 4), "Cochran and Armitage"),
    (lambda: rl.tables.linear_by_linear([[9, 1], [8, 2], [3, 7]]), "(N - 1) r^2"),
    (lambda: rl.tables.stratified([[[156, 84], [84, 156]], [[107, 133], [31, 209]]]), "Tarone"),
    (lambda: rl.tables.three_way([[[156, 84], [107, 133]], [[84, 156], [31, 209]]]), "Bartlett"),
    (lambda: rl.tables.unconditional(PAIR), "Fisher's"),
    (lambda: rl.tables.paired([[4, 9], [3, 16]]), "mid-P"),
    (lambda: rl.compare.score_test(156, 240, 84, 240), "without correction"),
    (lambda: rl.compare.likelihood_ratio_test(156, 240, 84, 240), "likelihood-ratio"),
    (lambda: rl.rates.against_target(14, 20, 0.5), "not more probable"),
]
ESTIMATES: list[tuple[Callable[[], Any], str]] = [
    (lambda: rl.compare.difference(56, 70, 48, 80), "N / (N - 1)"),
    (lambda: rl.compare.difference(56, 70, 48, 80, method="mee"), "without the factor"),
    (lambda: rl.compare.ratio(0, 10, 0, 12), "Koopman"),
    (lambda: rl.compare.odds_ratio(56, 70, 48, 80, method="mid-p"), "mid-P"),
    (lambda: rl.rates.interval(81, 263), "Wilson"),
    (lambda: rl.rates.interval([1, 2], [3, 4], method="jeffreys"), "Beta(1/2, 1/2)"),
]


@pytest.mark.parametrize(("make", "named"), TESTS)
def test_tests_of_counts_have_all_faces(make: Callable[[], Any], named: str) -> None:
    found = make()
    assert isinstance(found, Result)
    assert named in found.methods
    assert found.sentence.endswith(".")
    assert found.table().height
    assert Result.from_json(found.to_json()) == found
    assert found.plot().axes
    assert found.sentence in found._repr_html_().replace("&#x27;", "'").replace("&lt;", "<")


@pytest.mark.parametrize(("make", "named"), ESTIMATES)
def test_estimates_of_counts_have_all_faces(make: Callable[[], Any], named: str) -> None:
    found = make()
    assert named in found.methods
    assert [note.code for note in found.notes] == ["independent_cuttings"]
    assert found.references
    assert found.plot().axes
    assert Estimate.from_json(found.to_json()) == Estimate.from_record(found.to_dict())


def test_long_work_tells_how_far_it_is() -> None:
    told: list[tuple[int, int]] = []

    def progress(done: int, of: int) -> None:
        told.append((done, of))

    rl.tables.freeman_halton([[3, 0, 1], [4, 2, 6]], work=0, draws=2_000, progress=progress)
    assert told[-1] == (2_000, 2_000)
    told.clear()
    rl.tables.freeman_halton([[3, 0, 1], [4, 2, 6]], progress=progress)
    assert told[-1][0] == told[-1][1] > 0
    told.clear()
    rates = [at / 40 for at in range(20)]
    rl.compare.randomisation(rates, rates[::-1], draws=20_000, progress=progress)
    assert told[-1][0] == told[-1][1] >= 20_000


def test_what_progress_raises_stops_the_work() -> None:
    def stop(done: int, of: int) -> None:
        raise RuntimeError(f"{done} of {of}")

    with pytest.raises(RuntimeError, match="of"):
        rl.tables.freeman_halton([[3, 0, 1], [4, 2, 6]], work=0, draws=10**8, progress=stop)
