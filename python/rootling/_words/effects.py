"""What tests of several effects say of effects together."""

from __future__ import annotations

from typing import Any

__all__ = ["interactions_told"]


def interactions_told(result: Any) -> list[str]:
    """Of tests of several effects, whether any was asked to depend on another: an additive model says nothing of it.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck", tray="tray", block="bench",
    ...                       treatments=["strength", "dark_days", "rootstock"])
    >>> interactions_told(trial.model(["strength", "rootstock"]).what_matters())[0][:36]
    'No interaction of treatments was fit'
    """
    if result.kind != "what_matters":
        return []
    effects = [str(one) for one in result.table()["effect"]]
    together = [one for one in effects if " x " in one]
    if together:
        return [f"Fitted with interactions, whether one effect depends on another: {', '.join(together)}."]
    if len(effects) < len(("one", "another")):
        return []
    return [
        "No interaction of treatments was fitted: each effect is taken to be the same, in log odds, at all levels of "
        "the others."
    ]
