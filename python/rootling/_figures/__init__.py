"""Figures for paper and screen. Matplotlib is imported only when something is drawn, and no window is opened.

A figure is drawn from a result by its table, its numbers and its context; nothing is computed here.

``style``, ``rows``, ``paper``, ``ticks``
    what all share: look, rows of a table, the figure that shows itself, marks that fit
``room``, ``beside``, ``sized``, ``letters``, ``captions``
    the width of a column or of a page, trays side by side, letters that cover nothing, and what stands below a figure
``rates``, ``differences``, ``counts``, ``trend``
    what a trial or plain counts are asked
``effects``, ``adjusted``, ``contrasts``, ``checks``
    what a model is asked
``strengths``, ``curves``, ``wanted``, ``surface``
    the axis of strengths, curves along it, and what is asked of them
``grades``
    a bar of each level, cut into grades
``layout``
    the map of the benches
``watch``, ``watch_places``
    a crop followed week by week
``responses``, ``means``, ``laws``
    means of roots, lengths and masses, two of them compared; what a model of means says; how often counts were met
    and expected
``seasons``, ``decide``
    one difference over seasons; levels weighed in money
``steps``, ``steps_time``
    a change of the yield, readers, an early sign; shares over time
``plan``
    trials that are to be
"""

from rootling._figures import (
    adjusted,
    checks,
    contrasts,
    counts,
    curves,
    decide,
    differences,
    effects,
    grades,
    laws,
    layout,
    means,
    plan,
    rates,
    responses,
    seasons,
    steps,
    steps_time,
    surface,
    trend,
    wanted,
    watch,
    watch_places,
)
from rootling._figures.captions import MARKS, carried_by, counted, judged_by, marks_of, unit_of
from rootling._figures.sized import sized

__all__ = ["adjusted", "checks", "contrasts", "counts", "curves", "differences", "effects", "rates", "surface", "trend"]
__all__ += ["MARKS", "carried_by", "counted", "judged_by", "marks_of", "sized", "unit_of"]
__all__ += ["decide", "grades", "laws", "layout", "means", "plan", "responses", "seasons", "steps", "steps_time"]
__all__ += ["wanted"]
__all__ += ["watch", "watch_places"]
