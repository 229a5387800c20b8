"""What a reader sees first: the answer, how sure it is, of which units and trays, what to do next."""

from __future__ import annotations

import re
import warnings
from functools import cache
from pathlib import Path
from typing import Any

import docx
import every_kind
import pytest
import reports_made
import rootling as rl
from rootling._figures import counted
from rootling.report.document import Answer, document

HARD = re.compile(
    r"re-?dealing|dealt|\bscore\b|\bstrat(?:a|um)\b|effective|likelihood|tray correlation|dispersion|two-sided|variance"
)


@cache
def bays() -> rl.Trial:
    """Darkness given to whole bays, three of each, in three blocks; strengths in trays within them."""
    rows: dict[str, list[Any]] = {name: [] for name in ("dark_days", "strength", "bay", "block", "tray", "rooted")}
    for block in range(3):
        for place, days in enumerate((0, 14, 28)):
            for at, strength in enumerate((0, 2500, 5000)):
                for tray in range(3):
                    rooted = 5 + 3 * place + 2 * at + (tray + block) % 3 + (block * place) % 2
                    values = (days, strength, f"b{block}d{days}", f"k{block}", len(rows["tray"]), rooted)
                    for name, value in zip(rows, values, strict=True):
                        rows[name].append(value)
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": 20, "tray": "tray", "block": "block", "whole_plot": "bay"}
    return rl.load_trial(rows, **roles, treatments=["dark_days", "strength"], strength=every_kind.IBA)


def answered(ask: Any) -> Answer:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return document([ask()], None).answers[0]


@cache
def five_pairs(ties: bool = False) -> rl.Trial:
    """Five benches with a tray of each strength: dealing them anew gives no P below 0.0625."""
    low, high = [4, 5, 6, 5, 4], [12, 14, 13, 15, 12]
    rows = {
        "strength": [0] * 5 + [2500] * 5,
        "bench": list("abcde") * 2,
        "tray": list(range(10)),
        "rooted": low + high,
        "stuck": [20] * 10,
    }
    return rl.load_trial(rows, **every_kind.PLAIN, treatments="strength", strength=every_kind.IBA)


def test_a_second_check_that_cannot_object_is_told_in_the_first_lines(tmp_path: Path) -> None:
    answer = five_pairs().compare("strength", 0, 2500)
    assert answer.sentence.startswith("Use 2500 mg/L IBA")
    line = (
        "How sure: with 95 % confidence, between 30 and 53 more trees per 100; with 5 pairs of trays the second check "
        "cannot object: its smallest possible P is 0.062."
    )
    assert re.sub(r"between \d+ and \d+", "between 30 and 53", answer.details[0]) == line
    assert answer.randomisation.smallest_p == 0.0625
    for ending in (".html", ".md", ".tex", ".docx"):
        path = rl.report.write(answer, tmp_path / f"r{ending}")
        text = path.read_text() if ending != ".docx" else ""
        if ending == ".docx":
            text = "\n".join(one.text for one in docx.Document(str(path)).paragraphs)
        figure = {".html": "<section", ".tex": "includegraphics"}.get(ending, "Figure 1")
        decision, told = text.index("Use 2500 mg/L IBA"), text.index("with 5 pairs of trays the second check cannot")
        assert decision < told < text.index(figure)
        # It is said once beside the record.
        assert text.partition("Record")[0].count("the second check cannot object") == 1
    page = answer._repr_html_()
    below = page.index("How sure: with 95 % confidence")
    assert page.index("<strong>") < below < page.index("rootling-details")
    assert page.count("cannot object") == 1


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("comparison", "a second check that assumes less agrees (P"),
        ("all_comparisons", "hold together with 95 % confidence; a second check that assumes less agrees."),
        ("response_comparison", "with 95 % confidence the difference is 1.35 to 3.31; a second check"),
        ("association", "a second check that assumes less agrees (P"),
    ],
)
def test_how_sure_is_told_with_its_confidence(name: str, told: str) -> None:
    assert told in answered(lambda: every_kind.made(name)).below[0]


def test_rates_that_are_tied_leave_the_second_check_without_a_say() -> None:
    _, compared, _ = reports_made.asked("two_strengths")
    dealt = compared.randomisation
    assert dealt.smallest_p < 0.05 < dealt.smallest_p_given_rates
    assert "cannot confirm it: with these counts its smallest possible P is" in compared.details[0]


def test_without_trays_it_is_less_sure_than_it_looks() -> None:
    rows = {"strength": [0, 2500], "rooted": [20, 40], "stuck": [80, 80]}
    trial = rl.load_trial(rows, rooted="rooted", stuck="stuck", treatments="strength")
    assert answered(lambda: trial.compare("strength", 0, 2500)).below[0].startswith("How sure: less than it looks.")


@pytest.mark.parametrize("name", every_kind.ASKED)
def test_first_lines_are_plain(name: str) -> None:
    """Nothing there has to be looked up, and no interval stands without its level."""
    answer = answered(lambda: every_kind.made(name))
    for line in (answer.sentence, *answer.below):
        assert not HARD.search(line), line
        assert not re.search(r"(?<!% )(?<!%)\binterval\b(?! of)", line), line


def test_ranges_in_brackets_are_explained_once() -> None:
    told = document(reports_made.asked("two_strengths"), None)
    assert told.key == "Ranges in brackets are 95 % intervals."
    other = [every_kind.several().take_rates("strength", confidence=0.9), every_kind.made("comparison")]
    assert document(other, None).key == ""
    assert document([every_kind.made("layout")], None).key == ""


def test_questions_name_strengths() -> None:
    assert answered(lambda: five_pairs().compare("strength", 0, 2500)).question == (
        "Do 0 and 2500 mg/L IBA differ, and by how much?"
    )
    assert answered(lambda: bays().compare("dark_days", 0, 28)).question == (
        "Do dark days 0 and 28 differ, and by how much?"
    )


MODEL = ("dark_days", "strength")
CARRIED = {
    "take_rates": (lambda: bays().take_rates("dark_days"), "n = 9 bays with 81 trays, 1,620 cuttings."),
    "comparison": (lambda: bays().compare("dark_days", 0, 28), "n = 6 bays, 1,080 cuttings."),
    "all_comparisons": (lambda: bays().compare_all("dark_days"), "n = 9 bays."),
    "association": (lambda: bays().association("dark_days"), "n = 9 bays with 81 trays, 1,620 cuttings."),
    "trend": (lambda: bays().trend("dark_days"), "n = 9 bays, 1,620 cuttings."),
    "adjusted_rates": (
        lambda: bays().model(MODEL).adjusted_rates("dark_days"),
        "n = 9 bays with 81 trays, 1,620 cuttings.",
    ),
    "contrasts": (lambda: bays().model(MODEL).contrasts("dark_days"), "n = 9 bays with 81 trays, 1,620 cuttings."),
    "letters": (lambda: bays().model(MODEL).letters("dark_days"), "n = 9 bays with 81 trays, 1,620 cuttings."),
    "what_matters": (
        lambda: bays().model(MODEL).what_matters(),
        "n = 81 trays in 9 bays, 1,620 cuttings; bays carry what is said of dark days.",
    ),
    "strength_curve": (
        lambda: bays().strength_curve(within="dark_days"),
        "n = 81 trays in 9 bays, 1,620 cuttings; bays carry what is said of dark days.",
    ),
}


@pytest.mark.parametrize("name", CARRIED)
def test_units_that_carry_the_answer_are_named(name: str) -> None:
    """In captions, above tables, below them and in the words of figures; from the record alone too."""
    ask, told = CARRIED[name]
    answer = answered(ask)
    assert counted(answer.result) == told
    assert answer.result.caption.endswith(told)
    assert answer.alternative.endswith(told)
    assert all(one.caption.endswith(told) for one in answer.tables)
    again = rl.Result.from_json(answer.result.to_json())
    assert counted(again) == told
    if "bays with" in told or "carry" in told:
        head, rows, _ = answer.tables[0].cells()
        notes = " ".join([*answer.tables[0].footnotes, *head, *(cell for row in rows for cell in row)])
        assert "bays" in notes


def test_what_is_given_to_trays_counts_trays() -> None:
    for ask in (lambda: bays().compare("strength", 0, 5000), lambda: bays().take_rates("strength")):
        told = counted(answered(ask).result)
        assert "bays" not in told
        assert "trays" in told


def test_a_table_has_the_bays_of_each_level() -> None:
    table = answered(lambda: bays().take_rates("dark_days")).tables[0]
    heads, rows, _ = table.cells()
    assert heads[-4:] == ["bays, n", "trays, n", "cuttings, n", "rooted, n"]
    assert [row[heads.index("bays, n")] for row in rows] == ["3", "3", "3"]


def test_a_layout_leads_and_other_trays_are_told() -> None:
    asked = [every_kind.made(name) for name in ("trays_needed", "power", "looks", "best_strength_plan", "layout")]
    answers = document(asked, None).answers
    assert [one.result.kind for one in answers] == ["layout", "trays_needed", "power", "looks", "best_strength_plan"]
    below = {one.result.kind: " ".join(one.below) for one in answers}
    assert "The layout has 6 trays of each level, 2 more than that." in below["trays_needed"]
    assert "This is of 8 trays of each level; the layout has 6." in below["power"]
    assert "This is of 8 trays of each level; the layout has 6." in below["looks"]
    assert "This is of 36 trays at 6 strengths; the layout has 12 at 2 levels." in below["best_strength_plan"]
    assert "the layout has" not in " ".join(document(asked[:2], None).answers[0].below)


def test_two_levels_compared_have_standard_errors() -> None:
    answer = answered(lambda: every_kind.made("comparison"))
    heads, rows, _ = answer.tables[0].cells()
    found = answer.result
    assert heads[:4] == ["what", "value", "SE", "95 % interval"]
    assert [row[2] for row in rows[:3]] == [
        f"{100 * one:.1f} points" for one in (found.first.se, found.second.se, found.se)
    ]
    assert "SE: standard error, in trees per 100." in answer.tables[0].footnotes
    none = {"strength": [0] * 4 + [5000] * 4, "tray": list(range(8)), "rooted": [0] * 4 + [20] * 4, "stuck": [20] * 8}
    at_ends = rl.load_trial(none, rooted="rooted", stuck="stuck", tray="tray", treatments="strength")
    compared = at_ends.compare("strength", 0, 5000)
    assert (compared.first.se, compared.second.se, compared.se) == (None, None, None)
    assert "SE" not in answered(lambda: compared).tables[0].cells()[0]


def test_standard_errors_are_those_behind_the_limits() -> None:
    """Of a rate by the cuttings behind its Wilson limits; of the difference by both, times N / (N - 1)."""
    rows = {
        "strength": [0] * 6 + [2500] * 6,
        "tray": list(range(12)),
        "rooted": [4, 7, 5, 9, 3, 6, 12, 9, 14, 11, 8, 13],
        "stuck": [20] * 12,
    }
    trial = rl.load_trial(rows, rooted="rooted", stuck="stuck", tray="tray", treatments="strength")
    found, rates = trial.compare("strength", 0, 2500), trial.take_rates("strength")
    effective = []
    for rate, same in zip(rates.rates, (found.first, found.second), strict=True):
        assert rate.se == pytest.approx(same.se, rel=1e-12)
        cuttings = rate.value * (1 - rate.value) / rate.se**2
        # Wilson 1927 with t on the trays' degrees of freedom: 2.2281 is the upper 2.5 % point of t on 10 (tables).
        t = 2.2281388519649385
        middle = (rate.value + t**2 / (2 * cuttings)) / (1 + t**2 / cuttings)
        half = t / (1 + t**2 / cuttings) * (rate.se**2 + t**2 / (4 * cuttings**2)) ** 0.5
        assert (rate.low, rate.high) == pytest.approx((middle - half, middle + half), rel=1e-9)
        effective.append(cuttings)
    both = (found.first.se**2 + found.second.se**2) * sum(effective) / (sum(effective) - 1)
    assert found.se == pytest.approx(both**0.5, rel=1e-12)
    bare = {name: values for name, values in rows.items() if name != "tray"}
    pooled = rl.load_trial(bare, rooted="rooted", stuck="stuck", treatments="strength")
    plain = pooled.compare("strength", 0, 2500)
    assert plain.se == pytest.approx((34 / 120 * 86 / 120 / 120 + 67 / 120 * 53 / 120 / 120) ** 0.5, rel=1e-12)


def test_best_strengths_and_signals_say_how_sure_they_are() -> None:
    several = answered(lambda: every_kind.made("strength_curve, several"))
    best = next(one.best.strength for one in several.result.curves if one.best.withheld is None)
    assert re.fullmatch(
        r"How sure: with 95 % confidence the best strength lies between \d+ and \d+ mg/L for K12\.", several.below[0]
    )
    low, high = map(float, re.findall(r"between (\d+) and (\d+)", several.below[0])[0])
    assert (low, high) == pytest.approx((best.low, best.high), rel=0.01)
    none = answered(lambda: every_kind.made("strength_curve"))
    assert not [one for one in none.below if one.startswith("How sure")]
    assert answered(lambda: every_kind.made("signals")).below[0].startswith("How sure: were nothing wrong, a look")


def test_differences_in_opposite_directions_have_no_common_range() -> None:
    rows: dict[str, list[Any]] = {"strength": [], "rootstock": [], "tray": [], "rooted": []}
    for strength, stock, counts in (
        *((2000, "K17", [14, 16, 15, 17]), (8000, "K17", [6, 7, 5, 8])),
        *((2000, "K30", [5, 6, 7, 5]), (8000, "K30", [13, 12, 14, 11])),
    ):
        for rooted in counts:
            for name, value in zip(rows, (strength, stock, len(rows["tray"]), rooted), strict=True):
                rows[name].append(value)
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": 20, "tray": "tray"}
    trial = rl.load_trial(rows, **roles, treatments=["strength", "rootstock"])
    for found in (trial.compare("strength", 2000, 8000), trial.compare_all("strength")):
        assert found.sentence.startswith("No single answer")
        assert not [line for line in found.details if line.startswith("How sure")]
