"""What every question gives back, and how it is shown, kept and read again.

``result``, ``estimate``
    the one shape of all results, and a number with its interval
``note``, ``numbers``, ``typed/``
    their parts: named cautions, frozen numbers, and what the numbers of each kind are
``kinds``
    the registry: one entry per kind, a class with its figure and question
``display``
    a result for terminal and notebook
``records``, ``checked``
    records as JSON with their published schema, and what is looked at in one that comes back
"""

from rootling._results import display, typed
from rootling._results.checked import check_depth
from rootling._results.estimate import Estimate
from rootling._results.kinds import KINDS, Faces, faces_of
from rootling._results.note import Note
from rootling._results.numbers import Numbers
from rootling._results.records import copy_record, read_record, record_schema, write_record
from rootling._results.result import PARTS, Result

__all__ = ["KINDS", "PARTS", "Estimate", "Faces", "Note", "Numbers", "Result", "check_depth", "copy_record", "display"]
__all__ += ["faces_of", "read_record", "record_schema", "typed", "write_record"]
