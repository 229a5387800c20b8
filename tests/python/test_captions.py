"""Captions say what a figure has, and no more: its marks, its margin, and how many units stand behind it."""

from __future__ import annotations

import every_kind
import pytest
import rootling as rl


@pytest.mark.parametrize("name", every_kind.ASKED)
def test_no_caption_says_what_may_be(name: str) -> None:
    caption = every_kind.made(name).caption
    assert "if one was given" not in caption
    assert "where there are letters" not in caption
    assert " ;" not in caption
    assert "at ;" not in caption


def test_a_margin_is_told_where_there_is_one(trial: rl.Trial) -> None:
    assert "margin" not in trial.compare("strength", 2500, 5000).caption
    assert "; dotted: the margin." in trial.compare("strength", 2500, 5000, margin=0.1).caption
    model = trial.model("strength")
    assert "share a letter" in model.letters("strength").caption
    assert "share a letter" not in model.adjusted_rates("strength").caption
    assert "margin" not in model.contrasts("strength").caption


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("all_comparisons", "n = 72 trays."),
        ("step_yields", "n = 3 batches, 150 started."),
        ("yield_comparison", "n = 8 batches."),
        ("yields_by_level", "n = 8 batches, 400 started."),
    ],
)
def test_captions_tell_how_many_stand_behind(name: str, told: str) -> None:
    assert every_kind.made(name).caption.endswith(told)


def test_long_names_of_rows_are_whole_words() -> None:
    result = every_kind.made("odds_ratios")
    for width in (None, "85 mm"):
        figure = result.plot(width=width)  # type: ignore[arg-type]
        shown = [label.get_text() for label in figure.axes[0].get_yticklabels()]
        assert not [one for one in shown if "..." in one]
        assert "strength 2500 against 0, times more with rootstock K17 against K12" in [
            " ".join(one.split()) for one in shown
        ]
