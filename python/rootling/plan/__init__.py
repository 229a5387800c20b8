"""Planning a trial before the first cutting is stuck: how many trays, what they can show, and when to look.

Examples
--------
>>> import rootling as rl
>>> found = rl.plan.trays_needed((0.50, 0.80), cuttings=20, correlation=0.05, draws=1000)
>>> 4 <= found.rows[0].trays <= 7
True
"""

# The room, in reading order:
# ``trays``: how many trays, what they show, how near they come
# ``curve``: a trial that is to find the best strength
# ``looks``: a trial that may end early, and one under way
# ``asked``: what is expected, as callers give it
# ``results``: what a plan answers

from rootling.plan.curve import best_strength
from rootling.plan.looks import chance_at_end, looks
from rootling.plan.results import (
    BestStrengthPlan,
    ChanceAtEnd,
    Looks,
    Power,
    Precision,
    SmallestDifference,
    TraysNeeded,
)
from rootling.plan.trays import draw_trial, p_values, power, precision, smallest_difference, trays_needed

__all__ = [
    "BestStrengthPlan",
    "ChanceAtEnd",
    "Looks",
    "Power",
    "Precision",
    "SmallestDifference",
    "TraysNeeded",
    "best_strength",
    "chance_at_end",
    "draw_trial",
    "looks",
    "p_values",
    "power",
    "precision",
    "smallest_difference",
    "trays_needed",
]
