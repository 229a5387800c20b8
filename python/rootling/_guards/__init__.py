"""Wrong values and wrong calls are answered in words.

``options``
    what an option of each type can be
``guard``
    those checks before every public question
``calls``
    keywords that are not known, values too many or too few
``homes``
    where both are put
"""

from rootling._guards.calls import watch
from rootling._guards.guard import guard

__all__ = ["guard", "watch"]
