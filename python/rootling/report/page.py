"""A report as one web page: self-contained, for any width, on paper too."""

from __future__ import annotations

import base64
import io
from typing import Any, NamedTuple

from rootling._pages import MARK, STYLE, on_page
from rootling.report.document import SEEN, Answer, Document, Section, Shown
from rootling.report.files import Made

# Cells up to which a table becomes a card for each row where there is no room beside; longer ones scroll.
CARDS = 160
# Rows up to which a table of many columns is printed row by row.
FEW = 3
# Rows up to which a table is printed on one page.
WHOLE = 20
# Letters up to which an entry stays in one line.
SHORT = 12
# A page of so many bytes is as heavy as it may be.
HEAVIEST = 2_000_000


class Images(NamedTuple):
    """Figures for small screens too or not; letters as outlines, which any screen shows alike, or as text."""

    small: bool = True
    outlined: bool = True


def page(told: Document) -> Made:
    """The page as it is sent."""
    text = _filled(told, Images())
    for lighter in (Images(small=False), Images(small=False, outlined=False)):
        if len(text) > HEAVIEST:
            text = _filled(told, lighter)
    return Made(text.encode("utf-8", "backslashreplace"))


def _filled(told: Document, images: Images) -> str:
    return on_page(
        "report",
        title=told.title,
        key=told.key,
        style=STYLE,
        mark=MARK,
        parts=[_part(section, images) for section in told.sections],
        methods=told.methods,
        references=told.references,
        made=[answer.made for answer in told.answers],
        records=told.records,
    )


def _part(section: Section, images: Images) -> dict[str, Any]:
    return {
        "heading": section.heading,
        "answers": [_answer(answer, images) for answer in section.answers],
        "facts": section.facts,
        "cautions": section.cautions,
    }


def _answer(answer: Answer, images: Images) -> dict[str, Any]:
    return {
        "name": f"answer-{answer.number}",
        "question": answer.question,
        "sentence": answer.sentence,
        "below": answer.below,
        "details": answer.details,
        "tables": [_table(one) for one in answer.tables],
        "elsewhere": answer.elsewhere,
        "figure": _figure(answer, images),
    }


def _table(shown: Shown) -> dict[str, Any]:
    heads, rows, numeric = shown.cells()
    across = [[row[at] for row in rows] for at in range(len(heads))]
    looks = ["number" if number else _of_words(column) for number, column in zip(numeric, across, strict=True)]
    # Of several P values the last, which is adjusted, stays in sight.
    seen = max((at for at, head in enumerate(heads) if SEEN.search(head)), default=None)
    return {
        "number": shown.number,
        "caption": shown.caption,
        "heads": heads,
        "rows": rows,
        "looks": [f"{look} seen" if at == seen else look for at, look in enumerate(looks)],
        "shape": "cards" if len(heads) * len(rows) <= CARDS else "long",
        "width": f"{shown.width} few" if shown.width == "vast" and len(rows) <= FEW else shown.width,
        "footnotes": shown.footnotes,
        "short": len(rows) <= WHOLE,
    }


def _of_words(column: list[str]) -> str:
    """How a column of words looks: short ones, such as dates, stay in one line."""
    return "word short" if all(len(text) <= SHORT for text in column) else "word"


def _figure(answer: Answer, images: Images) -> dict[str, Any] | None:
    """The figure as images inside the page, for wide and small screens, with its words for those who cannot see it."""
    if answer.shown is None:
        return None
    return {
        "source": _image(answer.shown, images),
        "small": _image(answer.result.plot(width="85 mm"), images) if images.small else None,
        "words": answer.alternative,
        "caption": answer.caption,
        "broad": answer.broad,
    }


def _image(figure: Any, images: Images) -> str:
    held = io.BytesIO()
    if images.outlined:
        figure.outlined(held)
    else:
        figure.savefig(held, format="svg", metadata={"Date": None, "Creator": None})
    return f"data:image/svg+xml;base64,{base64.b64encode(held.getvalue()).decode('ascii')}"
