"""Which question a record answers, and of what it was asked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from rootling._again import of_fits, of_records, of_trials
from rootling._again.kept import ask_kept, kept
from rootling._again.options import Asked
from rootling._given import shortened
from rootling._results import KINDS
from rootling.curves import StrengthCurve
from rootling.exceptions import ChoiceError
from rootling.models import Model
from rootling.plan import Layout
from rootling.steps import Steps, Visits
from rootling.trial import Trial
from rootling.watch import Baseline, Watch

__all__ = ["AGAIN", "MISSING", "ask"]

Ask = Callable[[Any, Any, int | None], Asked]


class Home(NamedTuple):
    """What a kind of record was asked of, and how it is asked again."""

    asks: Ask
    data: type
    called: str
    shown: str


def _homes(asks: dict[str, Any], data: type, called: str, shown: str) -> dict[str, Home]:
    return {kind: Home(one, data, called, shown) for kind, one in asks.items()}


AGAIN = {
    **_homes(of_trials.ASKED, Trial, "a trial", "trial"),
    **_homes(of_fits.OF_MODELS, Model, "a model", "model"),
    **_homes(of_fits.OF_CURVES, StrengthCurve, "a strength curve", "curve"),
    **_homes(of_records.OF_WATCHES, Watch, "a crop under watch", "watch"),
    **_homes(of_records.OF_BASELINES, Baseline, "a baseline of the crop", "watch.expected(until=...)"),
    **_homes(of_records.OF_STEPS, Steps, "a chain of steps", "steps"),
    **_homes(of_records.OF_VISITS, Visits, "a record of visits", "visits"),
    **_homes(of_records.OF_PLANS, Layout, "a plan", "plan"),
}
COUNTS = "the counts that were given"
PLANNED = (
    "all that was expected of the trial (correlations, levels and their scores, margin, spreads of blocks and bays)"
)
# What records of the other kinds lack where they keep no question, as those of earlier versions do.
MISSING = {
    **dict.fromkeys(
        (
            *("target_test", "equivalence", "equality_test", "randomisation", "chi_square", "fisher", "three_way"),
            *("freeman_halton", "stratified", "paired", "unconditional_test", "plain_trend", "linear_by_linear"),
            *("yield_change", "agreement", "early_sign", "count_law"),
        ),
        COUNTS,
    ),
    **dict.fromkeys(("power", "precision", "trays_needed", "smallest_difference"), PLANNED),
    "looks": PLANNED,
    "best_strength_plan": "the blocks, the shape of the curve and how trays were laid out",
    "chance_at_end": "the trial with the trays that were still to be read",
    "predictions": "the rows to predict as they were given",
    "pooled": "the trials or comparisons of its seasons",
    "best_over_seasons": "the trials or strength curves of its seasons",
    "level_choice": "the costs and prices that were given",
    "model_comparison": "the smaller of the two models",
    "dealt_anew": "the plan that the trays were dealt by",
}


def ask(record: Any, data: Any, seed: int | None) -> Asked:
    """The question of a record, asked of the data again.

    Raises
    ------
    ChoiceError
        Where the record does not hold its question, or the data are not what it was asked of.
    """
    home = AGAIN.get(record.kind)
    if home is None and record.kind in MISSING and (found := kept(record)) is not None:
        return _asked(record, lambda: ask_kept(found, data, seed))
    if home is None:
        if record.kind in MISSING:
            raise ChoiceError(
                f"a record of kind {shortened(record.kind)} cannot be asked again from itself: it does not hold "
                f"{MISSING[record.kind]}; ask the question by hand and compare"
            )
        raise ChoiceError(
            f"records of kind {shortened(record.kind)} are not known to this version; known are {', '.join(KINDS)}"
        )
    if not isinstance(data, home.data) and not (data is None and home.data is Layout):
        given = "nothing" if data is None else shortened(type(data).__name__)
        raise ChoiceError(
            f"{record.kind} is asked of {home.called}, and {given} was given; write rl.verify(record, {home.shown})"
        )
    return _asked(record, lambda: home.asks(data, record, seed))


def _asked(record: Any, question: Callable[[], Asked]) -> Asked:
    try:
        return question()
    except (AttributeError, KeyError, IndexError, TypeError) as error:
        raise ChoiceError(
            f"this record of kind {record.kind} does not hold its question ({error}); take it again from to_json()"
        ) from None
