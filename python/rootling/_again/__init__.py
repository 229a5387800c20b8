"""What was recorded, asked again: whether it comes out as it was.

``verify``
    a record and its data, from what callers give to the verdict
``given``
    a record as callers give it, and whether the data are those of it
``asked``
    which question a record answers, and of what it was asked
``of_trials``, ``of_fits``, ``of_records``
    the questions of a trial; of a model and of curves; of a crop under watch, of steps and of plans
``kept``
    questions of plain counts and of plans, which their records keep as they were asked
``options``
    options as records hold them
``beside``
    numbers recorded and found, side by side; what is the error of those that were drawn
``told``
    the verdict
"""

from rootling._again.told import Difference, Verified
from rootling._again.verify import verify

__all__ = ["Difference", "Verified", "verify"]
