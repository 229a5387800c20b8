"""rootling: statistics for rooting trials, from tray counts to an answer.

Examples
--------
>>> import rootling as rl
>>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
...                       treatments=["strength"], tray="tray", block="bench")
>>> answer = trial.compare("strength", 2500, 5000)
>>> isinstance(answer.sentence, str)
True
"""

# Modules
from rootling import (
    _again,
    _guards,
    _loading,
    compare,
    curves,
    demo,
    exceptions,
    models,
    plan,
    rates,
    report,
    responses,
    seasons,
    steps,
    tables,
    trial,
    units,
    watch,
)

# Results
from rootling._results import Estimate, Note, Result, record_schema

# Errors
from rootling.exceptions import RootlingError, TrialDataError

# Trials
from rootling.trial import Trial
from rootling.units import Strength

# Wrong values and wrong calls are answered in words.
_guards.guard(_again, compare, demo, plan, rates, responses, seasons, steps, tables, units, watch, Trial, watch.Watch)
_guards.guard(models.Model, curves.StrengthCurve, models.Checks, plan.Layout, steps.Steps, steps.Visits)
_guards.show_bar(report, "write")
_guards.watch(
    (_again, _loading, compare, curves, demo, models, plan, rates, report, responses, seasons, steps, tables, trial, units, watch)
)

# Records keep what was asked.
_again.kept.keep_all(_guards.homes.put)

# Loading
load_trial = _loading.load_trial

# Records, asked again
Verified = _again.Verified
verify = _again.verify

__version__ = "0.1.0"

__all__ = [
    "Estimate",
    "Note",
    "Result",
    "RootlingError",
    "Strength",
    "Trial",
    "TrialDataError",
    "Verified",
    "compare",
    "curves",
    "demo",
    "exceptions",
    "load_trial",
    "models",
    "plan",
    "rates",
    "record_schema",
    "report",
    "responses",
    "seasons",
    "steps",
    "tables",
    "trial",
    "units",
    "verify",
    "watch",
]
