"""Every kind of result has all faces: a figure, a question in the report, a class."""

from __future__ import annotations

from rootling import _count_plots, _plots, _report_words
from rootling._results import Result

# Drawn by a module of its own.
BY_ITSELF = {"checks"}


def test_every_kind_has_a_figure_and_a_question() -> None:
    kinds = set(Result._kinds)
    assert len(kinds) >= 35
    assert kinds - set(_plots.KINDS) - set(_count_plots.KINDS) - BY_ITSELF == set()
    assert kinds - set(_report_words.QUESTIONS) == set()
    assert set(_report_words.QUESTIONS) - kinds == set()
