"""How results are shown in a terminal and in a notebook: the sentence, the table, the cautions."""

from __future__ import annotations

import html
import math
import textwrap
import unicodedata
from collections.abc import Callable
from functools import cache
from typing import TYPE_CHECKING, Any

from rootling import _outcome

if TYPE_CHECKING:
    from rootling._results import Note, Result

WIDTH = 100
NOISE = 1e-12
SPREAD = ("value", "se", "low", "high")
RATES = (
    "rate",
    "take_rate",
    "margin",
    "typical_tray",
    "take",
    "take_low",
    "take_high",
    "rise",
    "deaths_at_lowest",
    "deaths_at_highest",
)
SIZES = ("largest_difference", "not_ruled_out")
CHANGES = ("one_step_change", "refit_change")
RATE_KINDS = ("take_rates", "adjusted_rates", "letters", "predictions")
DIFFERENCE_KINDS = ("comparison", "equivalence", "paired", "stratified", "unconditional_test", "curve_differences")
ALL_DIFFERENCES = ("all_comparisons", "randomisation")
# Answers whose values are strengths; which of their other columns are shares of cuttings.
STRENGTH_KINDS = ("strength_curve", "strengths_for", "damage_threshold", "next_strengths", "response_surface")
SHARES = ("take", "take_low", "take_high", "deaths_at_lowest", "deaths_at_highest", "rise", "width_ratio")
DIFFERENCE_ROW = "difference"


def percent(value: float) -> str:
    """A proportion as a percentage with one decimal.

    >>> percent(0.4375), percent(0.0002), percent(0.99999)
    ('43.8 %', '< 0.1 %', '> 99.9 %')
    """
    if not math.isfinite(value):
        return plain(value)
    if 0 < value < 1 and not 0.0005 <= value < 0.9995:
        return "< 0.1 %" if value < 0.5 else "> 99.9 %"
    return f"{100 * value:.1f} %"


def confidence(value: float) -> str:
    """A confidence level without needless decimals.

    >>> confidence(0.95), confidence(0.975)
    ('95 %', '97.5 %')
    """
    return f"{100 * value:.6g} %"


def points(value: float) -> str:
    """A difference of two proportions in percentage points (trees per 100)."""
    if not math.isfinite(value):
        return plain(value)
    # A rounded zero has no sign.
    return "0.0 points" if abs(100 * value) < 0.05 else f"{100 * value:+.1f} points"


def size(value: float) -> str:
    """How large a difference of two proportions is, either way, in percentage points."""
    return points(value).removeprefix("+")


def plain(value: float) -> str:
    """A number with four meaningful digits, infinities in words."""
    if math.isinf(value):
        return "no upper limit" if value > 0 else "no lower limit"
    # What is left where equal numbers were subtracted: a picture of rounding, not of the trial.
    return "0" if abs(value) < NOISE else f"{value:.4g}"


def degrees(value: float) -> str:
    """Degrees of freedom: whole where rounding alone parts them from a whole number, else with one decimal.

    >>> degrees(7.999), degrees(5.32), degrees(48.0)
    ('8', '5.3', '48')
    """
    if not math.isfinite(value):
        return plain(value)
    return f"{value:.0f}" if abs(value - round(value)) < 0.02 else f"{value:.1f}"


def strength(value: float) -> str:
    """A strength: whole from 1000 on, never as a power of ten; infinities in words.

    >>> strength(12500.0), strength(3366.4), strength(0.25)
    ('12500', '3366', '0.25')
    """
    return f"{value:.0f}" if 1000 <= abs(value) < 1e9 else plain(value)


def p_value(value: float) -> str:
    """A P value with two digits that count, as sentences have it.

    >>> p_value(0.17), p_value(0.0837), p_value(0.0047), p_value(3e-9), p_value(0.999)
    ('0.17', '0.084', '0.0047', '< 0.001', '> 0.99')
    """
    if not math.isfinite(value):
        return "not available"
    if value < 0.001:
        return "< 0.001"
    if value > 0.995:
        return "1" if value >= 1 else "> 0.99"
    return f"{value:.{1 - math.floor(math.log10(float(f'{value:.1e}')))}f}"


def scale(kind: str, column: str, row: dict[str, Any]) -> Callable[[float], str]:
    """How a number of the table is written: a rate in percent, a difference of rates in points, all else as it is."""
    if column == "confidence":
        return confidence
    if column in ("df", "error_df"):
        return degrees
    if column in RATES:
        return percent
    if column in CHANGES:
        return points
    if column in SIZES and (kind == "what_matters" or (kind == "contrasts" and "se" in row)):
        return size
    if kind in STRENGTH_KINDS:
        return percent if column in SHARES else strength
    if column not in SPREAD:
        return plain
    if kind in RATE_KINDS:
        return percent
    if kind in ALL_DIFFERENCES or (kind == "contrasts" and "se" in row):
        return size if column in ("se", "not_ruled_out") else points
    what = str(row.get("what", row.get("measure", ""))) if kind in DIFFERENCE_KINDS else ""
    return percent if what.startswith(_rate_rows()) else points if what.startswith(DIFFERENCE_ROW) else plain


@cache
def _rate_rows() -> tuple[str, ...]:
    """How rows of rates begin, whatever was counted."""
    return tuple(f"{_outcome.words(outcome)['rate']} at " for outcome in _outcome.ALL)


def clean(value: str) -> str:
    """Line breaks, control and invisible characters would break a table or a figure, or hide: they become marks.

    >>> clean("K12" + chr(7) + chr(0x200B))
    'K12<U+0007><U+200B>'
    """
    return value if value.isprintable() else "".join(map(_visible, value))


def _visible(letter: str) -> str:
    kind = unicodedata.category(letter)
    return f"<U+{ord(letter):04X}>" if kind in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp") else letter


def clean_lines(value: Any) -> Any:
    """The same for text of several lines; anything else, and what is markup already, stays as it is."""
    return "\n".join(map(clean, value.split("\n"))) if type(value) is str else value


def marked(value: str) -> str:
    """A text for a page, its control signs as marks."""
    return html.escape(clean(value))


def cell(kind: str, column: str, row: dict[str, Any]) -> str:
    """One table entry as text."""
    value = row[column]
    if value is None:
        return ""
    if not isinstance(value, float):
        return clean(str(value))
    if kind == "strengths_for" and column == "high" and value == math.inf and "never reached" in str(row["says"]):
        return "or never reached"
    if column in ("p", "p_adjusted") or column.endswith("_p"):
        return p_value(value)
    return scale(kind, column, row)(value)


def rows(result: Result) -> tuple[list[str], list[list[str]], list[bool]]:
    """Header, entries as text, and which columns hold numbers."""
    frame = result.table()
    names = frame.columns
    body = [[cell(result.kind, name, row) for name in names] for row in frame.iter_rows(named=True)]
    heads = _outcome.heads(result) | own_heads(result)
    return (
        [clean(heads.get(name) or heading(name)) for name in names],
        body,
        [dtype.is_numeric() for dtype in frame.dtypes],
    )


def heading(name: str) -> str:
    """A column name for reading."""
    return {
        "p": "P value",
        "low": "from",
        "high": "to",
        "n_units": "trays",
        "n_cuttings": "cuttings",
        "p_adjusted": "adjusted P",
        "take_low": "take from",
        "take_high": "take to",
        "adequate": "enough",
        "adequate_low": "enough from",
        "adequate_high": "enough to",
        "why": "why not",
        "error_df": "error df",
    }.get(name, name.replace("_", " "))


def own_heads(result: Result) -> dict[str, str]:
    """Heads of columns that mean something else in this kind of result, or depend on what was asked."""
    if result.kind == "next_strengths":
        return {"why": "why", "width_ratio": "width, of today's"}
    if result.kind == "tray_correlation":
        of = {"low": "from", "high": "to"}
        return {
            "value": "correlation",
            **{end: f"correlation {word}" for end, word in of.items()},
            **{f"design_effect_{end}": f"design effect {word}" for end, word in of.items()},
        }
    if result.kind != "strength_curve":
        return {}
    name = _outcome.words_of(result)["name"]
    # A record that was edited may not say.
    margin = getattr(getattr(getattr(result, "input", None), "options", None), "nearly", None)
    within = (
        f"not shown to be more than {100 * margin:g} fewer" if isinstance(margin, float) else "not shown to be worse"
    )
    return {
        "take": name,
        "take_low": f"{name} from",
        "take_high": f"{name} to",
        "range_low": f"{within}, from",
        "range_high": f"{within}, to",
    }


def text(result: Result) -> str:
    """The result for a terminal."""
    header, body, numeric = rows(result)
    parts = [textwrap.fill(clean(result.sentence), WIDTH)]
    if result.details:
        told = [
            textwrap.fill(clean(line), WIDTH, initial_indent="- ", subsequent_indent="  ") for line in result.details
        ]
        parts.append("\n".join(told))
    if body and header:
        widths = [max(len(line[at]) for line in [header, *body]) for at in range(len(header))]
        lines = [
            "  ".join(
                (entry.rjust if right else entry.ljust)(width)
                for entry, width, right in zip(line, widths, numeric, strict=True)
            ).rstrip()
            for line in [header, *body]
        ]
        parts.append("\n".join(lines))
    parts += [
        textwrap.fill(clean(note.text), WIDTH, initial_indent="! ", subsequent_indent="  ") for note in result.notes
    ]
    return "\n\n".join(parts)


def html_table(result: Result) -> str:
    """The table as HTML, every entry escaped."""
    header, body, numeric = rows(result)
    side = ["right" if right else "left" for right in numeric]
    head = "".join(f'<th style="text-align:{s}">{html.escape(n)}</th>' for n, s in zip(header, side, strict=True))
    lines = "".join(
        "<tr>"
        + "".join(f'<td style="text-align:{s}">{html.escape(e)}</td>' for e, s in zip(line, side, strict=True))
        + "</tr>"
        for line in body
    )
    return f'<table class="rootling-table"><thead><tr>{head}</tr></thead><tbody>{lines}</tbody></table>'


def _note_item(note: Note) -> str:
    """A caution as an entry of a list; that on chemicals, which many results carry, is folded behind its start."""
    text = clean(note.text)
    if note.code != "read_the_label":
        return f"<li>{html.escape(text)}</li>"
    first, _, rest = text.partition(". ")
    return f"<li><details><summary>{html.escape(first)}.</summary>{html.escape(rest)}</details></li>"


def html_fragment(result: Result) -> str:
    """The result for a notebook, every text escaped."""
    notes = "".join(map(_note_item, result.notes))
    said = "".join(f"<li>{html.escape(clean(line))}</li>" for line in result.details)
    details = f'<ul class="rootling-details">{said}</ul>' if said else ""
    cautions = f'<ul class="rootling-notes">{notes}</ul>' if notes else ""
    return (
        '<div class="rootling-result" style="font-family:system-ui,sans-serif;max-width:60em">'
        '<p style="border-left:4px solid #4f7942;padding-left:.7em">'
        f"<strong>{html.escape(clean(result.sentence))}</strong></p>{details}"
        f"{html_table(result)}{cautions}</div>"
    )
