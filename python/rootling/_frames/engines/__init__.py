"""Tables that an engine holds and works on: asked for counts and columns, never copied row by row.

``engine``
    what is asked of any engine, and whether something is a table of one
``streamed``
    lazy frames of polars, on its streaming engine
``adapted``
    tables of other engines, through the adapter library narwhals; answers that are waited for on a cluster
``ended``
    what ends a query early, each in one sentence
``tally``
    rows that are alike but for yes and no
``which``
    rows by what stands in them, and what is asked of rows that are alike
"""

from rootling._frames.engines.adapted import Progress
from rootling._frames.engines.engine import Engine, engine_of
from rootling._frames.engines.tally import Tally
from rootling._frames.engines.which import Asked, Which

__all__ = ["Asked", "Engine", "Progress", "Tally", "Which", "engine_of"]
