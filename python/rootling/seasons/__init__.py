"""One difference, or the best strength, over several seasons or sites: the average, a new season, how seasons differ.

Examples
--------
>>> import rootling as rl
>>> trials = {
...     2020 + seed: rl.load_trial(rl.demo.two_strengths(seed=seed), rooted="rooted", stuck="stuck",
...                                treatments=["strength"], tray="tray", block="bench")
...     for seed in range(1, 6)
... }
>>> found = rl.seasons.pool(trials, "strength", 2500, 5000)
>>> found.n_seasons, found.low < found.value < found.high
(5, True)
"""

# The room, in reading order:
# ``pool``, ``best``: a difference pooled, and the best strength
# ``given``: trials and comparisons as callers give them, with their names
# ``results``: what is answered

from rootling.seasons.best import pool_curves
from rootling.seasons.pool import pool
from rootling.seasons.results import BestOverSeasons, Pooled

__all__ = ["BestOverSeasons", "Pooled", "pool", "pool_curves"]
