"""A loaded trial, and the questions that can be asked of it."""

# The room, in reading order:
# ``trial``: a trial: what it knows of itself, and its questions
# ``rates``: asked of rates, and of how alike trays are
# ``comparing``: asked of two levels, or of all
# ``measured``: responses as declared, and asked of their means
# ``tables``: asked of a treatment as a whole
# ``modelling``: asked of several effects at once
# ``strengths``: asked of strengths
# ``grading``: asked of grades, and the share that reaches one
# ``given``: treatments, levels and effects, looked at
# ``design``: what the recorded columns say
# ``about``: what was told of it beside the counts
# ``set_aside``: rows that do not enter
# ``counted``: issues of lines that an engine counted, told of their rows
# ``faces``: how it is shown
# ``missing``: names that it does not have
# ``earlier``: what earlier trials hand on
# ``callers``: whose line a warning points to

from rootling.trial.about import TOLD, About
from rootling.trial.callers import callers_level
from rootling.trial.counted import labels_of
from rootling.trial.design import Design
from rootling.trial.earlier import earlier_records
from rootling.trial.given import apart, levels_within, strengths_of
from rootling.trial.trial import Trial

__all__ = [
    "TOLD",
    "About",
    "Design",
    "Trial",
    "apart",
    "callers_level",
    "earlier_records",
    "labels_of",
    "levels_within",
    "strengths_of",
]
