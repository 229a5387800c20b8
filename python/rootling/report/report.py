"""The report itself: what is written, and into which kind of file."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from typing import Any

from rootling._given.choices import Progress
from rootling._results import Result
from rootling.models import Model
from rootling.report import files
from rootling.report.document import Document, document
from rootling.report.latex import latex
from rootling.report.markdown import markdown
from rootling.report.page import page
from rootling.report.word import word
from rootling.trial import Trial

# What makes the file of each ending; a name without one is a page, since a pipe has none.
FORMS: dict[str, Callable[[Document, Path], files.Made]] = {
    "": lambda told, _: page(told),
    ".html": lambda told, _: page(told),
    ".htm": lambda told, _: page(told),
    ".docx": lambda told, _: word(told),
    ".md": markdown,
    ".tex": latex,
}


def write(
    what: Trial | Model | Result | Iterable[Any],
    path: str | Path,
    *,
    title: str | None = None,
    overwrite: bool = False,
    progress: Progress | None = None,
) -> Path:
    """Writes a report: the decisions first, then for each question figure, table and details, then what stands behind.

    Parameters
    ----------
    what : Trial, Model, Result, or a list of them
        A trial alone is reported with its take rates, a model with its effect tests. In a list the first answer to
        what has to be decided (levels compared, a curve, a plan) leads, the others come in the order given;
        results of several trials stand in a section for each trial, with its own data and design. A crop under watch
        is reported by its answers, ``[watch.expected(until=...), watch.signals(...)]``, whose signals come first.
    path : path
        The file to write; its ending says what it becomes. ``"report.html"``: one page, figures inside it, nothing
        loaded from elsewhere, which a browser prints, also into a PDF file. ``"report.docx"``: a document with tables
        and figures to copy into a manuscript. ``"report.md"`` and ``"report.tex"``: text, with figures and records in
        the folder ``report_figures`` beside it (PNG, and PDF for TeX). Both texts of one name share that folder, each
        with figures and records of its own (those of TeX end in ``_tex.json``); files of others in it stay. A report
        of that name is replaced by the new one, unless somebody edited the document or text; any other file is not.
    title : str, optional
        Heading of the report; what the results are about when left out.
    overwrite : bool
        True to replace a file that is no report of this package, or one that was edited.
    progress : callable, optional
        Called with the answers written and those to be written. In a notebook and at a terminal a bar is shown where
        none is given and the work takes more than a second.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    ReportError
        When the folder does not exist, the file cannot be written, its ending is none of these, or a file of that name
        is there that is no report. Nothing is written then, and what was there is as it was.

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
    target = files.target_of(what, path, tuple(FORMS))
    if not overwrite:
        files.keep(target)
    told = document(what, title)
    if progress is not None:
        for answer in told.answers:
            answer.tell = partial(_tell, progress, len(told.answers))
    files.put(target, FORMS[target.suffix.lower()](told, target))
    if progress is not None:
        progress(len(told.answers), len(told.answers))
    return target


def _tell(progress: Progress, whole: int, done: int) -> None:
    progress(done, whole)
