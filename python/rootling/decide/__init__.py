"""From a trial to a choice in money: what each level brings, how sure that is, what one more trial is worth.

Examples
--------
>>> import rootling as rl
>>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
...                       treatments=["strength"], tray="tray", block="bench")
>>> found = rl.decide.choose(trial, "strength", price=3.0, per_cutting=0.4, cuttings_a_season=20_000)
>>> found.best, found.chance_best > 0.5
('5000', True)
"""

# The room, in reading order:
# ``choose``: levels weighed by costs and prices
# ``money``, ``given``: prices and costs; days, seasons and trials, as callers give them
# ``results``: what is answered

from rootling.decide.choose import choose
from rootling.decide.results import LevelChoice

__all__ = ["LevelChoice", "choose"]
