"""Planning a trial before the first cutting is stuck: what goes where, and the sheets to carry.

Examples
--------
>>> import rootling as rl
>>> plan = rl.plan.layout("blocks", {"strength": [2500, 5000]}, blocks=6, stuck=20, seed=1)
>>> print(plan.sentence)
12 trays in 6 blocks: every level of strength once in each; seed 1.
"""

# The room, in reading order:
# ``layout``: which tray gets what, and where it stands
# ``laid_out``: a plan, and the files made of it
# ``given``: treatments, plants and readers as callers give them
# ``sheets``: record sheet, key and labels as files

from rootling.plan.laid_out import DealtAnew, Layout
from rootling.plan.layout import layout

__all__ = ["DealtAnew", "Layout", "layout"]
