"""Before the first cutting is stuck: how many trays, what goes where, the sheets to carry, when to look.

Examples
--------
>>> import rootling as rl
>>> found = rl.plan.trays_needed((0.50, 0.80), cuttings=20, correlation=0.05, draws=1000)
>>> 4 <= found.rows[0].trays <= 7
True
>>> plan = rl.plan.layout("blocks", {"strength": [2500, 5000]}, blocks=6, stuck=20, seed=1)
>>> print(plan.sentence)
12 trays in 6 blocks: every level of strength once in each; seed 1.
"""

# The room, in reading order:
# ``trays``: how many trays, what they show, how near they come
# ``curve``: a trial that is to find the best strength
# ``layout``: which tray gets what, and where it stands
# ``laid_out``: a plan, and the files made of it
# ``dry``: invented counts on a plan
# ``looks``: a trial that may end early, and one under way
# ``asked``, ``given``: what is expected; treatments, plants and readers, as callers give them
# ``sheets``: record sheet, key and labels as files
# ``results``: what a plan answers

from rootling.plan.curve import best_strength
from rootling.plan.dry import DryRun, dry_run
from rootling.plan.laid_out import DealtAnew, Layout
from rootling.plan.layout import layout
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
    "DealtAnew",
    "DryRun",
    "Layout",
    "Looks",
    "Power",
    "Precision",
    "SmallestDifference",
    "TraysNeeded",
    "best_strength",
    "chance_at_end",
    "draw_trial",
    "dry_run",
    "layout",
    "looks",
    "p_values",
    "power",
    "precision",
    "smallest_difference",
    "trays_needed",
]
