"""A report of trials or of results: one self-contained HTML file, to print or to send."""

from __future__ import annotations

import base64
import io
import os
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rootling import _report_page, _report_words, _writing
from rootling._results import Result, display
from rootling._words import clean_lines
from rootling.exceptions import ChoiceError, ReportError

if TYPE_CHECKING:
    from rootling.models import Model
    from rootling.trial import Trial

__all__ = ["write"]

CHEMICAL = (
    "Growth regulators are regulated plant protection or pesticide products in many places: the product label and the "
    "local register decide lawful use and strength. Not professional safety advice."
)
TESTED_RANGE = (
    "What is shown holds within the tested range, for this cultivar, etiolation, method and season only; try a small "
    "batch first."
)


def write(
    what: Trial | Model | Result | Iterable[Any],
    path: str | Path,
    *,
    title: str = "Rooting trial: report",
    overwrite: bool = False,
) -> Path:
    """Writes a report.

    Parameters
    ----------
    what : Trial, Model, Result, or a list of them
        A trial alone is reported with its take rates, a model with its effect tests. In a list the results come in the
        order given; results of several trials stand in a section for each trial, with its own data and design.
    path : path
        The HTML file to write, for example ``"report.html"``; figures are inside it, nothing is loaded from elsewhere.
        A report of that name is replaced by the new one, any other file is not. A browser prints it, also into a PDF
        file.
    title : str
        Heading of the page.
    overwrite : bool
        True to replace a file that is no report of this package.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    ReportError
        When the folder does not exist, the file cannot be written, its name says that it is no web page, or a file of
        that name is there that is no report.

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

    target = _target(what, path)
    if not overwrite:
        _keep(target)
    parts = _sort_out(what)
    results = [result for part in parts for result in part.results]
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, finalize=clean_lines
    )
    page = environment.from_string(_report_page.PAGE).render(
        title=title,
        style=_report_page.STYLE,
        mark=_report_page.MARK,
        parts=[
            {
                "trial": part.trial,
                "heading": part.heading,
                "answers": [_answer(result, part.results) for result in part.results],
                "cautions": _cautions(part),
            }
            for part in parts
        ],
        methods=_report_words.methods(
            [(_report_words.question(one, part.results), one.methods) for part in parts for one in part.results]
        ),
        references=list(dict.fromkeys(reference for result in results for reference in result.references)),
        records=[result.to_json(indent=1) for result in results],
    )
    _writing.whole(target, page)
    return target


@dataclass
class _Part:
    """Results of one trial, which is known by its fingerprint alone where they were read from records."""

    trial: Trial | None
    seal: str | None
    results: list[Result] = field(default_factory=list)

    @property
    def heading(self) -> str:
        """What the results of this part rest on."""
        if self.trial is not None:
            return str(self.trial.design["sentence"])
        if self.seal is None:
            return "Counts that are part of no trial."
        return f"Read from records; the fingerprint of the trial's counts is {self.seal}."

    def holds(self, result: Result) -> bool:
        """True where the result is of this part's trial."""
        own = result._context.get("trial")
        if own is not None and self.trial is not None:
            return _same(own, self.trial)
        return _seal(result) == self.seal


def _seal(result: Result) -> str | None:
    trial = result._context.get("trial")
    found = result._record["made_with"].get("data_fingerprint") if trial is None else trial.fingerprint
    return None if found is None else str(found)


def _same(one: Trial, other: Trial) -> bool:
    return one is other or (one.fingerprint == other.fingerprint and one.design == other.design)


# Endings of files that hold something else than a web page.
OTHER_FILES = (
    ".pdf",
    ".doc",
    ".docx",
    ".odt",
    ".rtf",
    ".txt",
    ".md",
    ".xls",
    ".xlsx",
    ".csv",
    ".json",
    ".pptx",
    ".png",
)


def _target(what: Any, path: Any) -> Path:
    """The file to write, looked at before any work is done."""
    if not isinstance(path, (str, os.PathLike)):
        order = "; the results come first, the file second" if isinstance(what, (str, os.PathLike)) else ""
        raise ReportError(
            f'{type(path).__name__!r} is no name of a file; write rl.report.write(what, "report.html"){order}'
        )
    target = Path(path)
    try:
        named = b"\0" not in os.fsencode(target)
    except UnicodeEncodeError:
        named = False
    if not named:
        raise ReportError(f"{str(target)!r} cannot be the name of a file; name another")
    if target.suffix.lower() in OTHER_FILES:
        page = str(target.with_suffix(".html"))
        raise ReportError(
            f"a report is a web page and no {target.suffix} file; name it {page!r}, open it in a browser and print it "
            "from there, also into a PDF file"
        )
    if os.path.isdir(target):
        raise ReportError(f"{str(target)!r} is a folder; add the name of a file to it, for example report.html")
    if not os.path.isdir(target.parent):
        raise ReportError(f"there is no folder {str(target.parent)!r}; create it first, or name another")
    return target


# Letters of a page within which a report says that it is one.
HEAD = 4096


def _keep(target: Path) -> None:
    """Refuses to take the place of a file that somebody else made."""
    if not os.path.isfile(target):
        return
    try:
        with target.open("rb") as file:
            head = file.read(HEAD)
    except OSError:
        head = b"?"
    if head and _report_page.MARK.encode() not in head:
        raise ReportError(
            f"there is a file {str(target)!r} that is no report of rootling, so it is left as it is; name another, or "
            "replace it with overwrite=True"
        )


def _sort_out(what: Any) -> list[_Part]:
    """The results by trial, in the order in which trials are met; those of unknown trials by themselves."""
    from rootling.models import Model
    from rootling.trial import Trial

    single = isinstance(what, (Trial, Model, Result)) or not isinstance(what, Iterable)
    try:
        given = [what] if single else list(what)
    except TypeError:
        # An array without dimensions says that it can be gone through.
        given = [what]
    given = [one.what_matters() if isinstance(one, Model) else one for one in given]
    wrong = [one for one in given if not isinstance(one, (Trial, Result))]
    if wrong or not given:
        found = f", and {type(wrong[0]).__name__!r} is none of these" if wrong else ""
        raise ChoiceError(f"a report is made of a trial, a model, results, or a list of them{found}")
    parts: list[_Part] = []
    for trial in (one if isinstance(one, Trial) else one._context.get("trial") for one in given):
        if trial is not None and not any(part.trial is not None and _same(part.trial, trial) for part in parts):
            parts.append(_Part(trial, trial.fingerprint))
    for result in (one for one in given if isinstance(one, Result)):
        part = next((part for part in parts if part.holds(result)), None)
        if part is None:
            part = _Part(None, _seal(result))
            parts.append(part)
        part.results.append(result)
    for part in parts:
        if not part.results and part.trial is not None:
            part.results.append(part.trial.take_rates())
    return parts


def _answer(result: Result, beside: list[Result]) -> dict[str, Any]:
    header, body, numeric = display.rows(result)
    return {
        "question": _report_words.question(result, beside),
        "sentence": result.sentence,
        "details": result.details,
        "header": header,
        "body": body,
        "side": ["number" if right else "word" for right in numeric],
        "figure": _figure(result),
        "width": "vast" if len(header) > 10 else "wide" if len(header) > 6 else "narrow",
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


WORK = ("tested_range_only", "tested_range", "read_the_label")


def _cautions(part: _Part) -> list[dict[str, Any]]:
    """Each caution once, under the questions it belongs to; those of all come first, those about the work last."""
    asked = [_report_words.question(one, part.results) for one in part.results]
    everywhere = tuple(dict.fromkeys(asked))
    notes: dict[tuple[str, str], Any] = {}
    if part.trial is not None:
        notes = {(note.code, note.text): None for note in part.trial.notes}
    for question, result in zip(asked, part.results, strict=True):
        for note in result.notes:
            own = notes.setdefault((note.code, note.text), {})
            if own is not None:
                own[question] = None
    codes = {code for code, _ in notes}
    if _about_strength(part):
        if "tested_range_only" not in codes:
            notes["tested_range", TESTED_RANGE] = None
        if "read_the_label" not in codes:
            notes["read_the_label", CHEMICAL] = None
    ordered = sorted(notes, key=lambda note: WORK.index(note[0]) + 1 if note[0] in WORK else 0)
    groups: dict[tuple[str, ...], dict[str, None]] = {(): {}}
    for code, text in (note for note in ordered if note[0] not in WORK):
        of = tuple(notes[code, text] or ())
        groups.setdefault(() if of == everywhere else of, {})[text] = None
    told = [{"of": " ".join(of), "texts": list(texts)} for of, texts in groups.items() if texts]
    work = list(dict.fromkeys(text for code, text in ordered if code in WORK))
    return [*told, {"of": "", "texts": work}] if work else told


def _about_strength(part: _Part) -> bool:
    columns = [] if part.trial is None else part.trial.tray_counts().columns
    tables = (name for one in part.results for name in one.table().columns)
    return any("strength" in name.lower() for name in [*columns, *tables])
