"""A report of a trial or of results: one self-contained HTML file, to print or to send."""

from __future__ import annotations

import base64
import io
import os
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rootling import _display, _report_page, _writing
from rootling._results import Result
from rootling.exceptions import ChoiceError, ReportError

if TYPE_CHECKING:
    from rootling.models import Model
    from rootling.trial import Trial

__all__ = ["write"]

QUESTIONS = {
    "take_rates": "What share of the cuttings rooted?",
    "tray_correlation": "How alike are cuttings of one tray?",
    "comparison": "Do the two differ, and by how much?",
    "all_comparisons": "Which of all levels differ?",
    "association": "Does rooting go with the treatment?",
    "trend": "Does the take rise or fall along the levels?",
    "randomisation": "Do the two differ when trays are dealt out again?",
    "equivalence": "Are the two alike within the margin?",
    "effect_tests": "Which treatments matter?",
    "odds_ratios": "How strongly does each level act?",
    "coefficients": "How strongly does each level act?",
    "adjusted_rates": "What take is to be expected, other things alike?",
    "contrasts": "Which levels differ, other things alike?",
    "letters": "Which levels are told apart?",
    "predictions": "What take is to be expected?",
    "diagnostics": "Does the model hold?",
    "model_comparison": "Does the larger model say more?",
    "bootstrap_test": "Does the effect stand against trials drawn without it?",
    "strength_curve": "Which strength is best, and which is enough?",
    "strengths_for": "Which strength gives the wanted take?",
    "curve_comparison": "Do the curves differ?",
    "next_trial": "Which strengths should be tried next?",
    "damage_threshold": "Where do deaths begin to rise?",
    "response_surface": "How does the best strength shift?",
    "target_test": "Does the take reach the target?",
    "equality_test": "Do the two rates differ?",
    "chi_square": "Do rows and columns go together?",
    "fisher": "Do the two groups differ?",
    "freeman_halton": "Do rows and columns go together?",
    "three_way": "Does one effect depend on the other?",
    "stratified": "Do the two differ within strata?",
    "paired": "Do the two differ within pairs?",
    "unconditional_test": "Do the two groups differ?",
    "plain_trend": "Does the rate rise or fall along the groups?",
    "linear_by_linear": "Do the two orders go together?",
}
CHEMICAL = (
    "Growth regulators are regulated plant protection or pesticide products in many places: the product label and the "
    "local register decide lawful use and strength. Not professional safety advice."
)
TESTED_RANGE = (
    "What is shown holds within the tested range, for this cultivar, etiolation, method and season only; try a small "
    "batch first."
)


def write(
    what: Trial | Model | Result | Iterable[Any], path: str | Path, *, title: str = "Rooting trial: report"
) -> Path:
    """Writes a report.

    Parameters
    ----------
    what : Trial, Model, Result, or a list of them
        A trial alone is reported with its take rates, a model with its effect tests. In a list the results come in the
        order given.
    path : path
        The HTML file to write; figures are inside it, nothing is loaded from elsewhere.
    title : str
        Heading of the page.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    ReportError
        When the folder does not exist or the file cannot be written.

    Examples
    --------
    >>> import tempfile, pathlib, rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = rl.report.write(trial, pathlib.Path(folder) / "report.html")
    ...     path.read_text(encoding="utf-8")[:15]
    '<!doctype html>'
    """
    from jinja2 import Environment, StrictUndefined

    target = _target(path)
    trial, results = _sort_out(what)
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, finalize=_display.clean_lines
    )
    page = environment.from_string(_report_page.PAGE).render(
        title=title,
        style=_report_page.STYLE,
        trial=trial,
        answers=[_answer(result) for result in results],
        references=list(dict.fromkeys(reference for result in results for reference in result.references)),
        cautions=_cautions(trial, results),
        records=[result.to_json(indent=1) for result in results],
    )
    _writing.whole(target, page)
    return target


def _target(path: str | Path) -> Path:
    """The file to write, looked at before any work is done."""
    target = Path(path)
    try:
        named = b"\0" not in os.fsencode(target)
    except UnicodeEncodeError:
        named = False
    if not named:
        raise ReportError(f"{str(target)!r} cannot be the name of a file; name another")
    if os.path.isdir(target):
        raise ReportError(f"{str(target)!r} is a folder; add the name of a file to it, for example report.html")
    if not os.path.isdir(target.parent):
        raise ReportError(f"there is no folder {str(target.parent)!r}; create it first, or name another")
    return target


def _sort_out(what: Any) -> tuple[Trial | None, list[Result]]:
    from rootling.models import Model
    from rootling.trial import Trial

    single = isinstance(what, (Trial, Model, Result)) or not isinstance(what, Iterable)
    parts = [what] if single else list(what)
    parts = [part.effect_tests() if isinstance(part, Model) else part for part in parts]
    trials = [part for part in parts if isinstance(part, Trial)]
    results = [part for part in parts if isinstance(part, Result)]
    if len(trials) + len(results) < len(parts) or not parts:
        raise ChoiceError("a report is made of a trial, a model, results, or a list of them")
    known = next((result._context["trial"] for result in results if result._context.get("trial") is not None), None)
    trial = trials[0] if trials else known
    if not results and trial is not None:
        results = [trial.take_rates()]
    return trial, results


def _answer(result: Result) -> dict[str, Any]:
    header, body, numeric = _display.rows(result)
    return {
        "question": QUESTIONS.get(result.kind, result.kind.replace("_", " ").capitalize()),
        "sentence": result.sentence,
        "details": result.details,
        "header": header,
        "body": body,
        "side": ["number" if right else "word" for right in numeric],
        "figure": _figure(result),
        "methods": result.methods,
    }


def _figure(result: Result) -> dict[str, str] | None:
    """The figure as an image inside the page, with its words for those who cannot see it."""
    try:
        figure = result.plot()
    except ChoiceError:
        return None
    from matplotlib import rc_context

    held = io.BytesIO()
    with rc_context({"svg.hashsalt": "rootling"}):
        figure.savefig(held, format="svg", metadata={"Date": None, "Creator": None})
    data = base64.b64encode(held.getvalue()).decode("ascii")
    return {"source": f"data:image/svg+xml;base64,{data}", "words": result.sentence}


WORK = ("best_strength", "tested_range", "chemical")


def _cautions(trial: Trial | None, results: list[Result]) -> list[tuple[str, str]]:
    """Each caution once: those about the numbers first, those about the work last."""
    notes = {(note.code, note.text): None for part in [trial, *results] if part is not None for note in part.notes}
    codes = {code for code, _ in notes}
    if _about_strength(trial, results):
        if "best_strength" not in codes:
            notes["tested_range", TESTED_RANGE] = None
        if "chemical" not in codes:
            notes["chemical", CHEMICAL] = None
    ordered = sorted(notes, key=lambda note: WORK.index(note[0]) + 1 if note[0] in WORK else 0)
    return [(code.replace("_", " "), text) for code, text in ordered]


def _about_strength(trial: Trial | None, results: list[Result]) -> bool:
    columns = [] if trial is None else trial.tray_counts().columns
    return any(
        "strength" in name.lower() for name in [*columns, *(name for one in results for name in one.table().columns)]
    )
