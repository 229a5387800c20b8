"""What is behind curves, as frames: shapes, parameters, and the tested strengths."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import polars as pl

    from rootling.curves.results import DamageThreshold, StrengthCurve

SHAPE_NUMBERS = ("weight", "say", "aicc", "loglik", "deviance", "lack_df", "lack_p")
SHAPE_FIGURES = ("shape", *SHAPE_NUMBERS, "verdict", "reason")


def deaths(found: DamageThreshold) -> pl.DataFrame:
    """One row per curve and strength: the three outcomes."""
    import polars as pl

    rows: list[dict[str, Any]] = []
    for curve in found.curves:
        for one, rooted in zip(curve.strengths, curve.rooted, strict=True):
            alive = one.stuck - one.rooted
            rows.append(
                {
                    "curve": curve.name,
                    "strength": one.strength,
                    "n_units": one.n_units,
                    "stuck": one.stuck,
                    "rooted": rooted,
                    "alive_unrooted": alive - rooted,
                    "dead": one.rooted,
                    "deaths": one.value,
                    "low": one.low,
                    "high": one.high,
                    "fitted": one.fitted,
                    "rooted_of_survivors": rooted / alive if alive else None,
                }
            )
    return pl.DataFrame(rows)


def shapes(found: StrengthCurve) -> pl.DataFrame:
    """One row per curve and shape, those left out included."""
    import polars as pl

    rows: list[dict[str, Any]] = []
    for curve in found.curves:
        for fit in curve.shapes:
            rows.append({"curve": curve.name, **{name: fit[name] for name in SHAPE_FIGURES}})
        for out in curve.out:
            rows.append({"curve": curve.name, "shape": out.shape, "verdict": "left out", "reason": out.why})
    names = ("curve", *SHAPE_FIGURES)
    kinds: dict[str, Any] = {name: pl.Float64 if name in SHAPE_NUMBERS else pl.String for name in names}
    return pl.DataFrame(rows, schema=kinds)


def parameters(found: StrengthCurve) -> pl.DataFrame:
    """One row per curve, shape and parameter."""
    import polars as pl

    rows = [
        (curve.name, fit.shape, one.name, one.value, one.unit)
        for curve in found.curves
        for fit in curve.shapes
        for one in fit.parameters
    ]
    kinds: dict[str, Any] = {
        "curve": pl.String,
        "shape": pl.String,
        "parameter": pl.String,
        "value": pl.Float64,
        "unit": pl.String,
    }
    return pl.DataFrame(rows, schema=kinds, orient="row")


def levels(found: StrengthCurve) -> pl.DataFrame:
    """One row per curve and strength."""
    import polars as pl

    rows = [{"curve": curve.name, **dict(one)} for curve in found.curves for one in curve.strengths]
    return pl.DataFrame(rows)
