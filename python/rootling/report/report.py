"""The report itself: parts, figures and words on one page."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from rootling._pages import MARK, STYLE, on_page
from rootling._results import Result, display
from rootling.exceptions import ChoiceError
from rootling.models import Model
from rootling.report import files, words
from rootling.report.parts import cautions_of, sort_out
from rootling.trial import Trial

# Width of a figure on a telephone and its smallest letters there, in pixels; points of an inch.
NARROW, SMALLEST, POINTS = 340, 8.5, 72


def write(
    what: Trial | Model | Result | Iterable[Any],
    path: str | Path,
    *,
    title: str | None = None,
    overwrite: bool = False,
) -> Path:
    """Writes a report.

    Parameters
    ----------
    what : Trial, Model, Result, or a list of them
        A trial alone is reported with its take rates, a model with its effect tests. In a list the results come in the
        order given; results of several trials stand in a section for each trial, with its own data and design. A crop
        under watch is reported by its answers, ``[watch.expected(until=...), watch.signals(...)]``, whose signals come
        first.
    path : path
        The HTML file to write, for example ``"report.html"``; figures are inside it, nothing is loaded from elsewhere.
        A report of that name is replaced by the new one, any other file is not. A browser prints it, also into a PDF
        file.
    title : str, optional
        Heading of the page; what the results are about when left out.
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
    target = files.target_of(what, path)
    if not overwrite:
        files.keep(target)
    parts = sort_out(what)
    results = [result for part in parts for result in part.results]
    made = on_page(
        "report",
        title=words.title(results) if title is None else title,
        style=STYLE,
        mark=MARK,
        parts=[
            {
                "trial": part.trial,
                "watched": part.watched,
                "crop": part.crop,
                "aside": words.aside(part.crop),
                "heading": part.heading,
                "answers": [_answer(result, part.results) for result in part.results],
                "cautions": cautions_of(part),
            }
            for part in parts
        ],
        methods=words.methods(
            [(words.question(one, part.results), one.methods) for part in parts for one in part.results]
        ),
        references=list(dict.fromkeys(reference for result in results for reference in result.references)),
        records=[result.to_json(indent=1) for result in results],
    )
    files.whole(target, made)
    return target


def _answer(result: Result, beside: list[Result]) -> dict[str, Any]:
    header, body, numeric = display.rows(result)
    return {
        "question": words.question(result, beside),
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
    look = "scroll figure fits" if _can_be_small(figure) else "scroll figure"
    return {"source": f"data:image/svg+xml;base64,{data}", "words": result.sentence, "look": look}


def _can_be_small(figure: Any) -> bool:
    """True where its smallest letters can still be read over the width of a telephone."""
    from matplotlib.text import Text

    texts: list[Any] = figure.findobj(Text)
    sizes = [text.get_fontsize() for text in texts if text.get_text() and text.get_visible()]
    return bool(min(sizes, default=0) * NARROW >= SMALLEST * POINTS * figure.get_size_inches()[0])
