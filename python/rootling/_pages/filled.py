"""Templates filled with texts, every one of them escaped; the library that fills them is loaded when a page is made."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from rootling._pages.templates import ALL
from rootling._words import clean_lines, marked

if TYPE_CHECKING:
    from jinja2 import Environment


def in_notebook(template: str, **texts: Any) -> str:
    """A template for a notebook; signs that break a line or hide become marks."""
    return _environment(lines=False).get_template(template).render(texts)


def on_page(template: str, **texts: Any) -> str:
    """A template for a page of its own; texts keep their lines."""
    return _environment(lines=True).get_template(template).render(texts)


@cache
def _environment(*, lines: bool) -> Environment:
    from jinja2 import DictLoader, Environment, StrictUndefined
    from markupsafe import Markup

    def marked_up(value: Any) -> Any:
        return Markup(marked(value)) if type(value) is str else value

    return Environment(
        loader=DictLoader(ALL),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=clean_lines if lines else marked_up,
    )
