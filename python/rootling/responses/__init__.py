"""What else is measured on a cutting than that it rooted: roots, lengths, masses, grades.

Examples
--------
>>> import rootling as rl
>>> rows = {"strength": [0] * 8 + [2500] * 8, "tray": list("aabbccddeeffgghh"), "rooted": [1, 0] * 4 + [1] * 8,
...         "roots": [2, 0, 3, 0, 1, 0, 4, 0, 7, 5, 4, 6, 5, 5, 3, 8]}
>>> trial = rl.load_trial(rows, rooted="rooted", treatments="strength", tray="tray",
...                       responses={"roots": rl.responses.count()})
>>> trial.responses
{'roots': rl.responses.count()}
"""

# The room, in reading order:
# ``declared``: what a column of a response holds, as ``load_trial`` takes it
# ``counted``: laws of plain counts, without a trial
# ``results``, ``graded``: what a trial answers of them; what questions about grades are answered with

from rootling.responses.counted import CountLaw, count_law
from rootling.responses.declared import Response, count, grade, length, mass
from rootling.responses.graded import Grades
from rootling.responses.results import ResponseComparison, ResponseMeans

__all__ = ["CountLaw", "Grades", "Response", "ResponseComparison", "ResponseMeans"]
__all__ += ["count", "count_law", "grade", "length", "mass"]
