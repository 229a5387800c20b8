"""What options accept in Python is what the core reads."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import get_args

import rootling as rl
from rootling import _core
from rootling._given import choices

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import _choices


def test_the_types_of_options_are_written_from_the_core() -> None:
    assert _choices.PLACE.read_text(encoding="utf-8") == _choices.text()


def test_every_choice_of_the_core_is_a_type() -> None:
    for name, values in _core.choices.all():
        assert list(get_args(getattr(choices, name))) == values, name


def test_a_choice_of_methods_works_as_it_is_written() -> None:
    for method in get_args(choices.IntervalMethod):
        assert rl.rates.interval(12, 40, method=method).method == method
