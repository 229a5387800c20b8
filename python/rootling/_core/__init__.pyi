"""The compiled core; one submodule per domain. Public functions live in `rootling` itself."""

from . import choices as choices
from . import compare as compare
from . import curves as curves
from . import decide as decide
from . import grades as grades
from . import layout as layout
from . import models as models
from . import plan as plan
from . import rates as rates
from . import report as report
from . import responses as responses
from . import seasons as seasons
from . import steps as steps
from . import tables as tables
from . import trial as trial
from . import units as units
from . import watch as watch
