"""The strength curve: how the take follows hormone strength, where it is best, and how sure that is.

Shapes, by the name that ``shape=`` accepts; ``x = log(1 + d/d0)``, ``F`` rises from 0 to 1 along ``log d``:

``flat``
    one take at all strengths.
``straight``
    log odds straight in ``x``.
``rising``
    ``floor + (ceiling - floor) F``, 4 parameters. ``natural-response`` has the ceiling at 1 (Abbott, Finney),
    ``rising-from-none`` the floor at 0, ``rising-from-none-to-all`` both.
``falling``
    ``floor (1 - F)``: the take without hormone, burnt away.
``hump``
    log odds quadratic in ``x``, opening downward.
``rise-and-fall``
    a rising times a falling logistic curve in ``x``.
``brain-cousens``
    ``(c + f d) / (1 + (d/e)^b)``.
``cedergreen``
    ``(c + f exp(-(d0/d)^alpha)) / (1 + (d/e)^b)`` with ``alpha`` 0.25, 0.5 and 1, weighed against each other; ``c``
    is the take at strength 0. ``d0`` (``zero_scale=``, else the lowest strength above 0) makes ``d0/d`` a plain number,
    so the fit is the same in mg/L and in mM.

``"auto"`` weighs flat, straight, rising, falling, hump, rise-and-fall and brain-cousens; hump and rise-and-fall with
several ``d0``. Cedergreen's curve is fitted when asked for: in simulated trials it left the coverage of the best
strength as it was and took twice the time. Shapes with more parameters than there are strengths stay out and are named.

When not to use: a curve with its best beyond the highest strength, or on a top that is flat over several strengths,
has no best strength to tell; the range not shown to be worse and the lowest adequate strength are the answers then.
"""

# The room, in reading order:
# ``results``: the answers, and what a curve is asked
# ``tables``: what is behind curves, as frames

from rootling.curves.results import (
    CurveDifferences,
    DamageThreshold,
    NextStrengths,
    ResponseSurface,
    StrengthCurve,
    StrengthsFor,
)

__all__ = ["CurveDifferences", "DamageThreshold", "NextStrengths", "ResponseSurface", "StrengthCurve", "StrengthsFor"]
