"""The questions that a fitted model or a strength curve was asked, asked again as their records say."""

from __future__ import annotations

from typing import Any

from rootling._again.options import Asked, averaged_as, number, options_of, pattern_of, seed_of, within_of
from rootling._results import Result
from rootling.curves import StrengthCurve
from rootling.exceptions import ChoiceError
from rootling.models import Model

__all__ = ["OF_CURVES", "OF_MODELS"]


def _within(model: Model, record: Result) -> dict[str, str]:
    """Levels that a question of a model stayed within."""
    units = model._core.record["units"]
    factors = [*units["treatments"], *(units[role] for role in ("block", "whole_plot", "season", "stock_plant"))]
    text = options_of(record).get("at", "")
    found = within_of(text, {one["name"]: one["levels"] for one in factors if one is not None})
    if found is None:
        raise ChoiceError(f"the record stayed within {text}, which cannot be read back from it")
    return found


def _what_matters(model: Model, record: Result, seed: int | None) -> Asked:
    return Asked(model.what_matters(test=options_of(record).get("test", "auto")))  # type: ignore[arg-type]


def _odds_ratios(model: Model, record: Result, seed: int | None) -> Asked:
    return Asked(model.odds_ratios(confidence=record.confidence))


def _coefficients(model: Model, record: Result, seed: int | None) -> Asked:
    return Asked(model.coefficients(confidence=record.confidence))


def _adjusted_rates(model: Model, record: Result, seed: int | None) -> Asked:
    def ask(average: Any) -> Result:
        return model.adjusted_rates(
            record.by,
            within=record.within,
            at=_within(model, record),
            average=average,
            rate_of=record.rate_of,
            confidence=record.confidence,
        )

    return Asked(averaged_as(record, ask))


def _contrasts(model: Model, record: Result, seed: int | None) -> Asked:
    pattern = pattern_of(record)

    def ask(average: Any) -> Result:
        return model.contrasts(
            record.by,
            against=record.against,
            pattern=pattern,
            within=record.within,
            changing_with=record.changing_with,
            scale=record.scale,
            together=record.together,
            margin=record.margin,
            at=_within(model, record),
            average=average,
            confidence=record.confidence,
            seed=seed_of(record, seed),
        )

    return Asked(averaged_as(record, ask), ("rate_of is not recorded, all-trays was taken",))


def _letters(model: Model, record: Result, seed: int | None) -> Asked:
    found = model.letters(
        record.by,
        within=record.within,
        together=record.together,
        at=_within(model, record),
        confidence=record.confidence,
        seed=seed_of(record, seed),
    )
    assumed = ("order is not recorded, descending was taken", "average is not recorded, alike was taken")
    return Asked(found, (*assumed, "rate_of is not recorded, all-trays was taken"))


def _checks(model: Model, record: Result, seed: int | None) -> Asked:
    options = options_of(record)
    groups, refit = int(options["groups"]), options["refit"] == "yes"
    return Asked(model.checks(seed=seed_of(record, seed), groups=groups, refit=refit))


def _bootstrap_test(model: Model, record: Result, seed: int | None) -> Asked:
    return Asked(model.bootstrap_test(record.effect, draws=record.draws, seed=seed_of(record, seed)))


def _strengths_for(curve: StrengthCurve, record: Result, seed: int | None) -> Asked:
    return Asked(curve.strength_for(record.take))


def _curve_differences(curve: StrengthCurve, record: Result, seed: int | None) -> Asked:
    return Asked(curve.differences())


def _next_strengths(curve: StrengthCurve, record: Result, seed: int | None) -> Asked:
    options = options_of(record)
    given = {name: options[name] for name in ("trays", "cuttings", "strengths")}
    counts = {name: int(number(one) or 0) for name, one in given.items() if one.isdigit()}
    return Asked(curve.next_strengths(**counts))


OF_MODELS = {
    "what_matters": _what_matters,
    "odds_ratios": _odds_ratios,
    "coefficients": _coefficients,
    "adjusted_rates": _adjusted_rates,
    "contrasts": _contrasts,
    "letters": _letters,
    "checks": _checks,
    "bootstrap_test": _bootstrap_test,
}
OF_CURVES = {
    "strengths_for": _strengths_for,
    "curve_differences": _curve_differences,
    "next_strengths": _next_strengths,
}
