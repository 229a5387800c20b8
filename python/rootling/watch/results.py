"""The results of watching a crop."""

from __future__ import annotations

from rootling import _figures
from rootling._results import Faces, Result, typed


class Baseline(
    Result[typed.watch.BaselineNumbers],
    typed.watch.BaselineNumbersFields,
    faces=Faces(
        figure=_figures.watch.baseline,
        question="How many are usually alive?",
    ),
):
    """What a crop is expected to do: frozen until another one is made; keep its record with ``to_json``."""

    kind = "baseline"


class Signals(
    Result[typed.watch.SignalNumbers],
    typed.watch.SignalNumbersFields,
    faces=Faces(
        figure=_figures.watch.signals,
        question="Do fewer survive than expected, since when, and where?",
        rows="charts",
    ),
):
    """Charts of a crop, and what follows from them: a drop with its weeks and place, or quiet."""

    kind = "signals"


class BatchChart(
    Result[typed.watch.BatchNumbers],
    typed.watch.BatchNumbersFields,
    faces=Faces(
        figure=_figures.watch.batches,
        question="Which batches lie below what chance makes likely?",
    ),
):
    """Batches one by one, with an exponentially weighted average of their residuals and trees lost so far."""

    kind = "batch_chart"


class MixChange(
    Result[typed.watch.MixChange],
    typed.watch.MixChangeFields,
    faces=Faces(
        figure=_figures.watch.mix,
        question="How much of the difference is what was set?",
    ),
):
    """A raw difference taken apart into rates of the same kinds, mix, and kinds of one stretch only."""

    kind = "mix_change"


class WatchedTarget(
    Result[typed.watch.AgainstTarget],
    typed.watch.AgainstTargetFields,
    faces=Faces(
        figure=_figures.watch.target,
        question="Is the target missed by more than batches, weeks and seasons make?",
    ),
):
    """A rate against a target, heeding how batches, weeks and seasons differ."""

    kind = "target_watched"


class WatchedPlaces(
    Result[typed.watch.PlaceNumbers],
    typed.watch.PlaceNumbersFields,
    faces=Faces(
        figure=_figures.watch_places.places,
        question="Does one room or grafter stand out from the others?",
        rows="places",
    ),
):
    """Rooms, grafters or cultivars side by side, each against what is expected of it and how the others differ."""

    kind = "places_watched"
