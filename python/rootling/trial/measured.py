"""What a trial is asked of responses: means of roots, lengths and masses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import TYPE_CHECKING

from rootling import _core
from rootling._given import listed
from rootling._given.choices import Confidence, MeanOf
from rootling.exceptions import ChoiceError
from rootling.responses import Response, ResponseMeans

if TYPE_CHECKING:
    from rootling.trial.trial import Trial


def responses(self: Trial) -> dict[str, Response]:
    """The responses as they were declared, by column."""
    names = [one.name for one in fields(Response)]
    found = self._core.options.get("responses") or []
    return {one["column"]: Response(**{name: one.get(name) for name in names}) for one in found}


def means(
    self: Trial,
    by: str | Sequence[str] | None = None,
    *,
    response: str,
    mean_of: MeanOf | None = None,
    confidence: Confidence = 0.95,
) -> ResponseMeans:
    """Means of a response with limits, and the two parts behind them: how many rooted, and what those have.

    Parameters
    ----------
    by : str or list of str, optional
        Columns whose levels get a mean each; all treatments when left out.
    response : str
        The response, as it was declared with ``responses=`` when the trial was loaded: a count, a length or a mass.
    mean_of : {"stuck", "rooted"}, optional
        What the means are over. ``"stuck"``, usual for counts: all cuttings, of which one that did not root has none.
        ``"rooted"``, usual for lengths and masses: those that rooted, which a treatment itself changes.
    confidence : float
        Confidence level, a proportion.

    Returns
    -------
    ResponseMeans
        ``means``, one for each combination, each with ``take`` and ``of_rooted``, its two parts.

    Notes
    -----
    Trays are the units. A mean is a total over a total, so how rooting and roots vary together is in it. Where every
    combination has three or more levels of a recorded place (blocks, seasons), its trays count by place, so that the
    mean holds over further places. ``tests/calibration/responses.md`` shows what the limits hold.

    Not for grades, which have an order and no mean.

    Examples
    --------
    >>> import rootling as rl
    >>> rows = {"strength": [0] * 4 + [2500] * 4, "tray": list("abcdefgh"), "stuck": [20] * 8,
    ...         "rooted": [6, 8, 5, 9, 13, 15, 12, 14], "roots": [2.0, 2.5, 2.2, 3.0, 4.0, 4.4, 3.5, 5.0]}
    >>> trial = rl.load_trial(rows, rooted="rooted", stuck="stuck", treatments="strength", tray="tray",
    ...                       responses={"roots": rl.responses.count(means_of="rooted")}, primary="roots")
    >>> found = trial.means("strength", response="roots")
    >>> [round(one.value, 3) for one in found.means]
    [0.875, 2.875]
    """
    if by is not None and not listed(by):
        raise ChoiceError("by names no column; leave it out for every combination of treatments")
    options = {"response": response, "mean_of": mean_of, "confidence": confidence}
    return ResponseMeans(_core.responses.means(self._core, list(dict.fromkeys(listed(by))), options), {"trial": self})
