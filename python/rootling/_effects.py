"""What a fitted model says: effect tests, odds ratios, adjusted rates, contrasts and letters."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rootling import _figures
from rootling._given import shortened, spelled
from rootling._given.choices import AverageOver, ContrastPattern
from rootling._results import Faces, Result, heads, scales
from rootling.exceptions import ChoiceError

__all__ = ["AdjustedRates", "Coefficients", "Contrasts", "Letters", "OddsRatios", "WhatMatters"]


class WhatMatters(
    Result,
    faces=Faces(
        figure=_figures.effects.what_matters,
        question="Which treatments matter?",
        scale=scales.of_effects,
    ),
):
    """Which treatments matter: one test per effect, with its size and what is not ruled out."""

    kind = "what_matters"


class OddsRatios(
    Result,
    faces=Faces(
        figure=_figures.effects.odds_ratios,
        question="How strongly does each level act, as odds ratios?",
        scale=scales.plain,
    ),
):
    """Odds ratios with intervals by the score (or the likelihood profile)."""

    kind = "odds_ratios"


class Coefficients(
    Result,
    faces=Faces(
        figure=_figures.effects.coefficients,
        question="How strongly does each level act, as coefficients?",
        scale=scales.plain,
    ),
):
    """Coefficients on the scale of the link, for any link, with intervals."""

    kind = "coefficients"


class AdjustedRates(
    Result,
    faces=Faces(
        figure=_figures.adjusted.adjusted_rates,
        question="What {rate} is to be expected of each {by}, other things alike?",
        scale=scales.of_rates,
        heads=heads.of_units,
    ),
):
    """Take rates from a model, averaged over the other effects."""

    kind = "adjusted_rates"


class Contrasts(
    Result,
    faces=Faces(
        figure=_figures.contrasts.contrasts,
        question="Which levels of {by} differ, other things alike?",
        scale=scales.of_contrasts,
    ),
):
    """Differences (or ratios) of adjusted rates with intervals that hold together and adjusted P values."""

    kind = "contrasts"


class Letters(
    Result,
    faces=Faces(
        figure=_figures.adjusted.adjusted_rates,
        question="Which levels of {by} are told apart?",
        scale=scales.of_rates,
        heads=heads.of_units,
    ),
):
    """Adjusted rates with letters: levels that share one are not shown to differ."""

    kind = "letters"


def _numbers(what: str, shares: Any) -> dict[str, float]:
    """Levels with a number each."""
    if not isinstance(shares, Mapping):
        raise ChoiceError(
            f"{what} needs a number per level, for example {{'K12': 0.5, 'K17': 0.5}}; got {shortened(shares)}"
        )
    made: dict[str, float] = {}
    for level, share in shares.items():
        if isinstance(share, bool) or not hasattr(share, "__float__"):
            raise ChoiceError(f"{what}: {shortened(share)} for {level!r} is not a number")
        made[spelled(level)] = float(share)
    return made


def averaged(average: AverageOver) -> Any:
    """The averaging as the core reads it: a name, or shares per factor and level."""
    if isinstance(average, Mapping):
        return {"mix": {str(name): _numbers(f"average= of {name}", shares) for name, shares in average.items()}}
    if average not in ("alike", "as-stuck"):
        raise ChoiceError(
            f"average {shortened(average)} is not known; use 'alike', 'as-stuck' or a mix such as "
            "{'rootstock': {'K12': 0.6, 'K17': 0.4}}"
        )
    return average


def held(at: Mapping[str, Any] | None) -> dict[str, str]:
    """Values at which factors and covariates are held."""
    if at is not None and not isinstance(at, Mapping):
        raise ChoiceError(f"at= needs a value per column, for example {{'rootstock': 'K12'}}; got {shortened(at)}")
    return {str(name): spelled(value) for name, value in (at or {}).items()}


_PATTERNS = ("all-pairs", "control", "steps", "trend")


def weighted(pattern: ContrastPattern) -> Any:
    """The pattern of contrasts as the core reads it: a name, or weights per level, several under names of their own."""
    if isinstance(pattern, Mapping):
        several = pattern and all(isinstance(weights, Mapping) for weights in pattern.values())
        named = pattern if several else {"": pattern}
        return {"weights": [[str(name), _numbers("pattern=", weights)] for name, weights in named.items()]}
    if pattern not in _PATTERNS:
        raise ChoiceError(
            f"pattern {shortened(pattern)} is not known; use one of {', '.join(map(repr, _PATTERNS))} or weights per "
            "level such as {0: -1, 2500: 0.5, 5000: 0.5}"
        )
    return pattern
