"""Watching a crop: whether fewer survive than the same mix and time of year lets expect, since when, and where.

Examples
--------
>>> import rootling as rl
>>> watch = rl.watch.load(rl.demo.weekly_batches(seed=1), batch="batch", started="started", alive="alive",
...                       set_date="set", reading_date="read", cultivars="rootstock", places="room")
>>> watch.signals(until="2024-12-31").kind
'signals'
"""

# The room, in reading order:
# ``load``: a record of batches, checked
# ``watch``: a crop under watch and its questions
# ``results``: what it answers

from rootling.watch.load import load
from rootling.watch.results import Baseline, BatchChart, MixChange, Signals, WatchedPlaces, WatchedTarget
from rootling.watch.watch import Watch

__all__ = ["Baseline", "BatchChart", "MixChange", "Signals", "Watch", "WatchedPlaces", "WatchedTarget", "load"]
