"""Reports of all demo sets, of published ones and of hostile names, made as users make them."""

from __future__ import annotations

import shutil
import warnings
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import every_kind
import polars as pl
import rootling as rl

# Programs that show a page or a document, under the names that systems give them.
BROWSERS, OFFICES = ("chromium", "chromium-browser", "google-chrome"), ("soffice", "libreoffice")
DATA = Path(__file__).resolve().parents[1] / "data"
# Names that are markup, commands or templates somewhere, of any length and direction.
HOSTILE = [
    "<script>alert('K12')</script>",
    "{{ 7 * 7 }} {% raw %} ${x} %s",
    "K12 \"quoted\" 'single' & <b>bold</b>",
    "\u05e9\u05ea\u05d9\u05dc 12 \u0634\u062a\u0644\u0629",
    "=cmd|' /C calc'!A0",
    "a very long name of a stock that somebody wrote down with all that was known of it, " * 3 + "and of its mother",
]


def two_strengths() -> list[Any]:
    """The manager's trial."""
    trial = rl.load_trial(
        rl.demo.two_strengths(seed=1), **every_kind.PLAIN, treatments=["strength"], strength=every_kind.IBA
    )
    return [trial, trial.compare("strength", 2500, 5000), trial.take_rates("strength")]


def factorial() -> list[Any]:
    """The researcher's trial."""
    names = ["what_matters", "adjusted_rates, within", "contrasts, within", "letters", "checks", "odds_ratios", "trend"]
    return [every_kind.several(), *map(every_kind.made, names)]


def strengths() -> list[Any]:
    """Curves of two rootstocks, and what is asked of them."""
    curve = every_kind.curves()
    return [curve, curve.strength_for(0.5), curve.differences(), curve.next_strengths(trays=24)]


def deaths() -> list[Any]:
    """Strengths that kill, with survival beside the take."""
    trial = every_kind.deaths()
    return [
        trial,
        trial.compare("strength", 0, 8000),
        every_kind.made("comparison, deaths"),
        every_kind.made("damage_threshold"),
    ]


def weekly_batches() -> list[Any]:
    """The agronomist's crop."""
    names = ["signals", "baseline", "batch_chart", "mix_change", "target_watched", "places_watched"]
    return list(map(every_kind.made, names))


def graft_to_tree() -> list[Any]:
    """Two seasons from the first graft to the sale."""
    steps = rl.steps.load(
        rl.demo.graft_to_tree(seed=1),
        batch="batch",
        steps=["grafted", "taken", "out_of_dark", "rooted", "second_graft", "saleable"],
        season="season",
        rootstock="rootstock",
        dates={"grafted": "graft_date", "saleable": "sale_date"},
    )
    asked = [steps.yields(draws=199, seed=4), steps.to_start(200), steps.compare("season", 2024, 2025)]
    return [*asked, *map(every_kind.made, ["early_sign", "agreement", "time_course", "times_compared"])]


def planned() -> list[Any]:
    """A trial that is planned."""
    return list(map(every_kind.made, ["layout", "trays_needed", "power", "looks", "best_strength_plan"]))


def plain_counts() -> list[Any]:
    """Counts that are part of no trial."""
    return list(map(every_kind.made, ["equality_test", "chi_square", "stratified", "three_way", "plain_trend"]))


def plum_cuttings() -> list[Any]:
    """Hoblyn and Palmer 1934, by Bartlett 1935: no trays were recorded."""
    cells = (
        pl.read_csv(DATA / "plum_cuttings.csv")
        .group_by("planting", "length", maintain_order=True)
        .agg(alive=pl.col("count").filter(pl.col("outcome") == "alive").sum(), total=pl.col("count").sum())
    )
    trial = rl.load_trial(cells, rooted="alive", stuck="total", treatments=["planting", "length"])
    model = trial.model(["planting", "length"], interactions=[("planting", "length")])
    return [trial, trial.association("planting", within="length"), model, model.adjusted_rates("planting")]


def seed_plates() -> list[Any]:
    """Crowder 1978: plates of seeds."""
    roles: dict[str, Any] = {"rooted": "germinated", "stuck": "n", "treatments": ["seed", "extract"], "tray": "plate"}
    trial = rl.load_trial(DATA / "crowder_seeds.csv", **roles)
    model = trial.model(["seed", "extract"], interactions=[("seed", "extract")])
    return [trial, trial.compare_all("extract"), model, model.contrasts("extract", within="seed")]


def apple_shoots() -> list[Any]:
    """Marin and others 1993: strengths of a growth regulator under two photoperiods, cells at 100 %."""
    shoots = pl.read_csv(DATA / "marin_1993.csv").with_columns(rooted=(pl.col("roots") > 0) * pl.col("shoots"))
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "shoots", "treatments": ["bap_um", "photoperiod_h"]}
    trial = rl.load_trial(shoots, **roles)
    model = trial.model(["bap_um", "photoperiod_h"])
    return [trial, trial.take_rates(["bap_um", "photoperiod_h"]), model, model.odds_ratios()]


def hostile() -> list[Any]:
    """Levels and a column whose names are markup."""
    column = "stock <i>{{x}}</i> $y_1$"
    frame = {
        column: [name for name in HOSTILE for _ in range(4)],
        "tray": list(range(24)),
        "rooted": [3, 4, 5, 6, 8, 9, 7, 10, 12, 13, 11, 12] * 2,
        "stuck": [20] * 24,
    }
    trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments=column, tray="tray")
    return [trial, trial.take_rates(column), trial.compare(column, *HOSTILE[:2]), trial.model(column).letters(column)]


SETS: dict[str, Callable[[], list[Any]]] = {
    one.__name__: one
    for one in (
        two_strengths,
        factorial,
        strengths,
        deaths,
        weekly_batches,
        graft_to_tree,
        planned,
        plain_counts,
        plum_cuttings,
        seed_plates,
        apple_shoots,
        hostile,
    )
}


@cache
def asked(name: str) -> list[Any]:
    """What is reported of a set."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return SETS[name]()


@cache
def written(name: str, ending: str, place: Path) -> Path:
    """The report of a set, in a folder of its own."""
    folder = place / f"{name}{ending}"
    folder.mkdir()
    return rl.report.write(asked(name), folder / f"{name}{ending}")


def program(*names: str) -> str | None:
    """The first of these programs that the machine has."""
    return next((found for name in names if (found := shutil.which(name))), None)
