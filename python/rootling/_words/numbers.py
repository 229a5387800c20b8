"""Numbers as they are read: rates in percent, differences in points, P values, strengths."""

from __future__ import annotations

import math

NOISE = 1e-12


def percent(value: float) -> str:
    """A proportion as a percentage with one decimal.

    >>> percent(0.4375), percent(0.0002), percent(0.99999)
    ('43.8 %', '< 0.1 %', '> 99.9 %')
    """
    if not math.isfinite(value):
        return plain(value)
    if 0 < value < 1 and not 0.0005 <= value < 0.9995:
        return "< 0.1 %" if value < 0.5 else "> 99.9 %"
    return f"{100 * value:.1f} %"


def confidence(value: float) -> str:
    """A confidence level without needless decimals.

    >>> confidence(0.95), confidence(0.975)
    ('95 %', '97.5 %')
    """
    return f"{100 * value:.6g} %"


def points(value: float) -> str:
    """A difference of two proportions in percentage points (trees per 100)."""
    if not math.isfinite(value):
        return plain(value)
    # A rounded zero has no sign.
    return "0.0 points" if abs(100 * value) < 0.05 else f"{100 * value:+.1f} points"


def size(value: float) -> str:
    """How large a difference of two proportions is, either way, in percentage points."""
    return points(value).removeprefix("+")


def plain(value: float) -> str:
    """A number with four meaningful digits, infinities in words."""
    if math.isinf(value):
        return "no upper limit" if value > 0 else "no lower limit"
    # What is left where equal numbers were subtracted: a picture of rounding, not of the trial.
    return "0" if abs(value) < NOISE else f"{value:.4g}"


def degrees(value: float) -> str:
    """Degrees of freedom: whole where rounding alone parts them from a whole number, else with one decimal.

    >>> degrees(7.999), degrees(5.32), degrees(48.0)
    ('8', '5.3', '48')
    """
    if not math.isfinite(value):
        return plain(value)
    return f"{value:.0f}" if abs(value - round(value)) < 0.02 else f"{value:.1f}"


def strength(value: float) -> str:
    """A strength: whole from 1000 on, never as a power of ten; infinities in words.

    >>> strength(12500.0), strength(3366.4), strength(0.25)
    ('12500', '3366', '0.25')
    """
    return f"{value:.0f}" if 1000 <= abs(value) < 1e9 else plain(value)


def p_value(value: float) -> str:
    """A P value with two digits that count, as sentences have it.

    >>> p_value(0.17), p_value(0.0837), p_value(0.0047), p_value(3e-9), p_value(0.999)
    ('0.17', '0.084', '0.0047', '< 0.001', '> 0.99')
    """
    if not math.isfinite(value):
        return "not available"
    if value < 0.001:
        return "< 0.001"
    if value > 0.995:
        return "1" if value >= 1 else "> 0.99"
    return f"{value:.{1 - math.floor(math.log10(float(f'{value:.1e}')))}f}"
