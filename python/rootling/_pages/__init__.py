"""Everything that is shown as HTML, from one set of templates: results, trials and models in a notebook, and reports.

``filled``
    a template with its texts
``templates``
    the templates
``look``
    the look of a report, and by what one is known again
"""

from rootling._pages.filled import in_notebook, on_page
from rootling._pages.look import MARK, STYLE

__all__ = ["MARK", "STYLE", "in_notebook", "on_page"]
