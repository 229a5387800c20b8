"""Where a change of the overall yield comes from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rootling import _core
from rootling._given import is_name, plain, shortened
from rootling.exceptions import CountError
from rootling.steps.results import YieldChange


def yield_change(before: Mapping[str, float], after: Mapping[str, float]) -> YieldChange:
    """Splits the change of an overall yield over the steps of the chain, so that the parts add up to it.

    The overall yield is the product of the takes of all steps. With logarithmic means each step gets its part whatever
    the order; where a take is 0 the parts are means over all orders in which the takes can change.

    Parameters
    ----------
    before, after : dict
        The take of each step, a proportion: of those that reached the step, the share that passed it. Both have the
        same steps; their order is that of ``before``.

    Returns
    -------
    YieldChange
        ``before``, ``after`` and ``value`` (later minus earlier) of the overall yield, ``steps`` with the ``value`` of
        each, ``method``.

    Raises
    ------
    CountError
        When the two have different steps, or a take is no proportion.

    Notes
    -----
    Takes count as they stand: how much batches differ by chance is not asked. Not for a change of the mix of cultivars;
    see ``watch.mix`` for that.

    References
    ----------
    Ang 2004, Energy Policy 32:1131-1139; Shapley 1953.

    Examples
    --------
    >>> import rootling as rl
    >>> earlier = {"graft": 0.8, "dark": 0.6, "rooted": 0.9}
    >>> found = rl.steps.yield_change(earlier, {"graft": 0.8, "dark": 0.5, "rooted": 0.88})
    >>> [round(100 * step.value, 2) for step in found.steps]
    [0.0, -7.12, -0.88]
    """
    return YieldChange(_core.steps.yield_change(_takes("before", before), _takes("after", after)))


def _takes(name: str, given: Any) -> list[tuple[str, float]]:
    line = f'{name}={{"graft": 0.8, "rooted": 0.6}}'
    if not isinstance(given, Mapping):
        raise CountError(f"{name}={shortened(given)} is no dictionary of steps and their takes; write {line}")
    found = []
    for step, take in given.items():
        number = plain(take)
        if not is_name(step) or isinstance(number, bool) or not isinstance(number, (int, float)):
            raise CountError(
                f"{name} holds {shortened(step)}: {shortened(take)}, which is no step with its take; write {line}"
            )
        found.append((step, float(number)))
    return found
