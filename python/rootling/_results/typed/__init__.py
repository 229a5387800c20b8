"""What the numbers of every kind of result are, for type checkers; ``tests/_numbers.py`` writes these files.

A kind has its fields, which its result has as attributes, and its numbers; at run time all of these are ``Numbers``.

``rates``, ``compare``, ``tables``, ``trial``
    what counts and a trial answer, and its design
``model``, ``asked``
    a fitted model, and what it answers
``curves``, ``beside``
    strength curves; damage, surfaces and next trials
``watch``
    what a watched crop answers
``means``
    what a model of means answers
``responses``
    means of roots, lengths and masses, two of them compared; grades
``seasons``, ``decide``
    one difference over seasons; a choice in money
``steps``
    a change of the yield, readers, an early sign
``plan``, ``layout``
    what a planned trial answers, and what goes where
``shared``
    what several of these hold
``choices``
    the words that numbers hold
"""

from rootling._results.typed import (
    asked,
    beside,
    choices,
    compare,
    curves,
    decide,
    layout,
    means,
    model,
    plan,
    rates,
    responses,
    seasons,
    shared,
    steps,
    tables,
    trial,
    watch,
)

__all__ = ["asked", "beside", "choices", "compare", "curves", "decide", "layout", "model", "plan", "rates"]
__all__ += ["means", "responses", "seasons", "shared", "steps", "tables", "trial", "watch"]
