"""The questions that a crop under watch, a chain of steps or a plan was asked, asked again as their records say."""

from __future__ import annotations

from typing import Any

from rootling._again.options import Asked, options_of, seed_of
from rootling._results import Result
from rootling.exceptions import ChoiceError
from rootling.plan import Layout
from rootling.steps import Steps, Visits
from rootling.watch import Baseline, Watch

__all__ = ["OF_BASELINES", "OF_PLANS", "OF_STEPS", "OF_VISITS", "OF_WATCHES"]

UNTIL = "until is not recorded, all readings were taken"


def _baseline(watch: Watch, record: Result, seed: int | None) -> Asked:
    options = options_of(record)
    found = watch.expected(since=options["since"], until=options["until"])
    return Asked(found, ("stretches that were left out are not recorded, none was taken",))


def _mix_change(watch: Watch, record: Result, seed: int | None) -> Asked:
    found = watch.mix(options_of(record)["from"], confidence=record.confidence)
    return Asked(found, ("since and until are not recorded, all readings were taken",))


def _crop_of(baseline: Baseline) -> Watch:
    """The crop that a baseline was made of."""
    crop = baseline._context.get("watch")
    if not isinstance(crop, Watch):
        raise ChoiceError("this baseline was read from a record; make it again from its crop, with watch.expected(...)")
    return crop


def _signals(baseline: Baseline, record: Result, seed: int | None) -> Asked:
    charts = list(dict.fromkeys(one.grouping for one in record.charts if one.grouping is not None))
    found = _crop_of(baseline).signals(
        baseline,
        drop=record.drop,
        weeks_between=record.weeks_between,
        charts=charts or None,
        draws=int(options_of(record)["draws"]),
        seed=seed_of(record, seed),
        confidence=float(options_of(record)["confidence"]),
    )
    return Asked(found)


def _batch_chart(baseline: Baseline, record: Result, seed: int | None) -> Asked:
    found = _crop_of(baseline).batch_chart(baseline, one_in=record.one_in, weight=record.weight)
    return Asked(found, (UNTIL,))


def _target_watched(baseline: Baseline, record: Result, seed: int | None) -> Asked:
    options = options_of(record)
    aim: Any = record.target if record.last_season is None else "last-season"
    return Asked(_crop_of(baseline).target(aim, baseline, since=options["since"]), (UNTIL,))


def _places_watched(baseline: Baseline, record: Result, seed: int | None) -> Asked:
    since = options_of(record)["since"]
    found = _crop_of(baseline).places(baseline, column=record.column, since=since, confidence=record.confidence)
    return Asked(found, (UNTIL,))


def _step_yields(steps: Steps, record: Result, seed: int | None) -> Asked:
    options: dict[str, Any] = {"confidence": record.confidence, "draws": record.draws, "costs": _costs(record)}
    return Asked(steps.yields(record.whose, seed=seed_of(record, seed), **options))


def _costs(record: Result) -> dict[str, float]:
    """What was given to be spent, by column."""
    costs: Any = record.numbers.get("costs", ())
    return {one["step"]: one["cost"] for one in costs}


def _start_numbers(steps: Steps, record: Result, seed: int | None) -> Asked:
    given = {name: record.numbers[name] for name in ("assurance", "batch_size")}
    # A spread of seasons that was found in the record of batches is found again.
    given["costs"] = _costs(record)
    given["season_sd"] = record.season_sd if record.seasons == "given" else None
    if record.question == "to-start":
        return Asked(steps.to_start(record.wanted, **given))
    return Asked(steps.sure_of(record.started, **given))


def _yield_comparison(steps: Steps, record: Result, seed: int | None) -> Asked:
    pair = (record.column, record.first, record.second)
    return Asked(steps.compare(*pair, whose=record.whose, confidence=record.confidence))


def _yields_by_level(steps: Steps, record: Result, seed: int | None) -> Asked:
    return Asked(steps.compare_all(record.column, whose=record.whose, confidence=record.confidence))


def _time_course(visits: Visits, record: Result, seed: int | None) -> Asked:
    return Asked(visits.over_time(record.treatment, record.event, confidence=record.confidence))


def _times_compared(visits: Visits, record: Result, seed: int | None) -> Asked:
    pairs = record.pairs
    options: dict[str, Any] = {
        "event": record.event,
        "confidence": record.confidence,
        "draws": int(options_of(record)["draws"]),
        "seed": seed_of(record, seed),
    }
    if len(pairs) == 1:
        (pair,) = pairs
        return Asked(visits.compare_times(record.treatment, pair.first, pair.second, day=pair.day, **options))
    found = visits.compare_times(record.treatment, against=pairs[0].first, **options)
    return Asked(found, ("a day that was named is not recorded, the last one of each pair was taken",))


def _layout(plan: Layout | None, record: Result, seed: int | None) -> Asked:
    assert isinstance(record, Layout)
    return Asked(record.again(record.options.seed if seed is None else seed))


OF_WATCHES = {"baseline": _baseline, "mix_change": _mix_change}
OF_BASELINES = {
    "signals": _signals,
    "batch_chart": _batch_chart,
    "target_watched": _target_watched,
    "places_watched": _places_watched,
}
OF_STEPS = {
    "step_yields": _step_yields,
    "start_numbers": _start_numbers,
    "yield_comparison": _yield_comparison,
    "yields_by_level": _yields_by_level,
}
OF_VISITS = {"time_course": _time_course, "times_compared": _times_compared}
OF_PLANS = {"layout": _layout}
