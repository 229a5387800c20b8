"""The chain from graft to saleable tree: takes and yield, where a change comes from, readers, a sign, time to roots.

Examples
--------
>>> import rootling as rl
>>> earlier = {"graft": 0.8, "dark": 0.6, "rooted": 0.9}
>>> found = rl.steps.yield_change(earlier, {"graft": 0.8, "dark": 0.5, "rooted": 0.88})
>>> found.sentence
'8.0 fewer of 100 started reach the end: dark accounts for 7.1 fewer, rooted for 0.9 fewer.'
"""

# The room, in reading order:
# ``load``: counts of a chain, checked
# ``chain``: a chain and its questions
# ``going_on``: the line that goes on after an error
# ``given``: tables of one tray or of several
# ``change``: where a change of the yield comes from
# ``readers``: what two readers agree on
# ``sign``: what an early sign tells
# ``load_visits``: visits to trays or plants, checked
# ``times``: visits, and what they are asked: shares over time, levels compared
# ``results``: what is answered

from rootling.steps.chain import Steps
from rootling.steps.change import yield_change
from rootling.steps.load import load
from rootling.steps.load_visits import visits
from rootling.steps.readers import agreement
from rootling.steps.results import (
    Agreement,
    EarlySign,
    StartNumbers,
    StepYields,
    TimeCourse,
    TimesCompared,
    YieldChange,
    YieldComparison,
    YieldsByLevel,
)
from rootling.steps.sign import early_sign
from rootling.steps.times import Visits

__all__ = ["Agreement", "EarlySign", "StartNumbers", "StepYields", "Steps", "TimeCourse", "TimesCompared", "Visits"]
__all__ += ["YieldChange", "YieldComparison", "YieldsByLevel", "agreement", "early_sign", "load", "visits"]
__all__ += ["yield_change"]
