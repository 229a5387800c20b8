"""What a write-up still lacks: what a reader must know (Kramer, Paparozzi and Stroup 2016) and nobody has told yet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling._figures import carried_by
from rootling._words import outcomes
from rootling.report.parts import Part, sort_out

if TYPE_CHECKING:
    from rootling.trial import Trial

__all__ = ["lacking", "lacking_of"]

# What a trial is to be told, by its name in ``about=``.
TO_TELL = {
    "rooted": 'what counts as rooted: about={"rooted": "one root of 1 mm or more"}',
    "set_date": 'the day of setting: about={"set_date": "2026-03-02"}, or the column that holds the days',
    "reading_date": 'the day of reading: about={"reading_date": "2026-04-13"}, or the column that holds the days',
    "randomisation": 'how treatments were dealt to trays, with the seed: about={"randomisation": "..."}, or plan=',
    "losses": 'which trays or cuttings were lost, and why: about={"losses": "none"} where none was',
    "planned_units": 'how many trays were planned: about={"planned_units": 12}; any other deviation from the plan',
}
# Answers that hold a difference with its interval; levels from which on a curve says more than pairs.
DIFFERENCES = ("comparison", "all_comparisons", "contrasts", "odds_ratios", "curve_differences", "association")
CURVES, LEVELS = ("strength_curve", "response_surface"), 4


def lacking(what: Any) -> tuple[str, ...]:
    """Names what a write-up of these answers still lacks, with the option or the question that brings it.

    What results say of themselves (unit, model, degrees of freedom, spread of trays, version) is in their ``methods``
    and not asked for here. When not to use: as a proof that a write-up is complete; nobody reads the texts.

    Parameters
    ----------
    what : Trial, Model, Result, or a list of them
        What would be reported with :func:`rootling.report.write`.

    Returns
    -------
    tuple of str
        One for each thing that is missing; the counts of each tray, which go beside every write-up, last.

    References
    ----------
    Kramer MH, Paparozzi ET, Stroup WW (2016). HortTechnology 26: 114-119.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> rl.report.lacking([trial, trial.compare("strength", 2500, 5000)])[0]
    'what counts as rooted: about={"rooted": "one root of 1 mm or more"}'
    """
    return tuple(dict.fromkeys(line for part in sort_out(what) for line in lacking_of(part)))


def lacking_of(part: Part) -> list[str]:
    """The same for the answers of one trial; of a crop, a chain or a plan other things are told."""
    trial = part.trial
    if trial is None:
        return []
    told = trial.about.told
    units = _units(part)
    lacks = [(name, line) for name, line in TO_TELL.items() if name not in told and not _known(name, trial)]
    found = [
        line.replace("how many trays", f"how many {units}") if name == "planned_units" else line for name, line in lacks
    ]
    found += _of_design(trial)
    kinds = {one.kind for one in part.results}
    treatments = {one["name"]: one["levels"] for one in trial._core.units["treatments"]}
    if treatments and not kinds & set(DIFFERENCES):
        found.append(f"a difference with its interval: trial.compare_all({next(iter(treatments))!r})")
    column = trial._core.options["strength_column"] or "strength"
    if len(treatments.get(column, ())) >= LEVELS and not kinds & set(CURVES):
        found.append("a curve along the strengths: trial.strength_curve()")
    return [*found, "the counts of each tray, to be put beside the text: trial.tray_counts()"]


def _units(part: Part) -> str:
    """What has to be planned: trays, and the bays or plants that a treatment was given to."""
    given = [one for result in part.results for one in carried_by(result)]
    named = dict.fromkeys(str(one["unit"]).replace("_", " ").partition(" within ")[0] for one in given)
    return " and ".join([*map(outcomes.plural, named), "trays"])


def _known(name: str, trial: Trial) -> bool:
    """True where the trial tells it by itself: trays set aside have their reasons, rows left out by hand have none."""
    return name == "losses" and bool(trial._lost)


def _of_design(trial: Trial) -> list[str]:
    units, options = trial._core.units, trial._core.options
    found = []
    if units["tray"] is None and "cutting" in trial.design["unit"]:
        found.append("which cuttings stood together: load the trial with tray=")
    column = options["strength_column"] or "strength"
    if options["strength"] is None and any(one["name"] == column for one in units["treatments"]):
        found.append('substance and unit of the strengths: strength=rl.Strength("IBA", unit="mg/L", method="...")')
    return found
