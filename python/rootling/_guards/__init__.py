"""Wrong values and wrong calls are answered in words.

``options``
    what an option of each type can be
``guard``
    those checks before every public question
``calls``
    keywords that are not known, values too many or too few
``bars``
    bars for work that takes long, where somebody waits for it
``homes``
    where both are put
"""

from rootling._guards.bars import quiet, show_bar
from rootling._guards.calls import watch
from rootling._guards.guard import guard

__all__ = ["guard", "quiet", "show_bar", "watch"]
