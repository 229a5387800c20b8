"""What only helps whoever types the next line of a program, left out of what is read in a report."""

from __future__ import annotations

import re

__all__ = ["for_readers"]

# Options, calls and classes as a program has them.
TYPED = re.compile(
    r"(?<![\w.])(?:at|within|common|against|changing_with|together|tray|trays|block|whole_plot|season|stock_plant|dead|"
    r"random|correlation_by|robust_by|penalised|interactions|method|strength|shape|outcome|earlier|about|plan|margin|"
    r"average|rate_of|scale|nearly|seed|draws|costs|plants|batch|places|until|since)=(?!=)"
    r"|\b(?:trial|model|curve|steps|visits|watch|plan|rl)\.\w+[\w.]*\("
    r"|\b(?:Strength|strength_curve|load_trial)\("
)
OPEN, CLOSED = "([{", ")]}"


def for_readers(text: str) -> str:
    """A text without the parts that name options or calls; the whole text where nothing else would be left.

    Examples
    --------
    >>> for_readers("Rates hold over benches. For one level alone, hold it with at=.")
    'Rates hold over benches.'
    >>> for_readers('what counts as rooted: about={"rooted": "one root; 1 mm"}')
    'what counts as rooted'
    >>> for_readers("an average: compare within each with at=. Trays differ.")
    'an average. Trays differ.'
    """
    if TYPED.search(text) is None:
        return text
    told = [_kept(sentence) for sentence in _cut(text, (". ",))]
    return " ".join(one for one in told if one) or text


def _kept(sentence: str) -> str:
    """A sentence without such clauses; what follows on one that leads goes with it."""
    if TYPED.search(sentence) is None:
        return sentence
    clauses = [_cut(clause, (": ",)) for clause in _cut(sentence, ("; ",))]
    # Of a clause what stands before a colon may stay, what explains it may not stay alone.
    left = [
        [part for part in clause if not TYPED.search(part)] if not TYPED.search(clause[0]) else [] for clause in clauses
    ]
    if not left[0]:
        return ""
    said = "; ".join(": ".join(part.rstrip(".") for part in clause) for clause in left if clause)
    return f"{said}." if sentence.rstrip().endswith(".") else said


def _cut(text: str, ends: tuple[str, ...]) -> list[str]:
    """The parts of a text that such signs end; brackets are not cut, and a full stop stays with its sentence."""
    found, depth, begin = [], 0, 0
    for at, sign in enumerate(text):
        depth += (sign in OPEN) - (sign in CLOSED)
        end = text[at : at + 2]
        if depth <= 0 and end in ends and (end != ". " or text[at + 2 : at + 3].isupper()):
            found.append(text[begin : at + (end == ". ")])
            begin = at + 2
    return [*found, text[begin:]]
