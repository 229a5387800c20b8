"""Works cited, as they are listed: whose they are and of which year, and which of them a text does not name."""

from __future__ import annotations

import re
from collections.abc import Iterable

__all__ = ["people_of", "with_works"]

# Authors and year at the beginning of a reference: "Wilson EB (1927). Probable inference ...".
BEGINS = re.compile(r"(?P<authors>[^()]+) \((?P<year>\d{4}[a-z]?)\)")
INITIALS = re.compile(r"[^\W\d_a-z][^\W\d_]{0,3}(?:-[^\W\d_]{1,2})?")
# So many authors are named all; of more the first.
NAMED = 2


def people_of(text: str) -> tuple[tuple[str, str], ...]:
    """Family names and initials; an office has a name alone.

    >>> people_of("Miettinen O, Nurminen M"), people_of("Plant Office")
    ((('Miettinen', 'O'), ('Nurminen', 'M')), (('Plant Office', ''),))
    """
    people = []
    for one in text.split(", "):
        family, _, initials = one.rpartition(" ")
        people.append((family, initials) if family and INITIALS.fullmatch(initials) else (one, ""))
    return tuple(people)


def with_works(text: str, references: Iterable[str]) -> str:
    """A paragraph with the listed works that it does not name, by author and year, at its end.

    >>> with_works("Limits are Wilson's (1927).", ["Wilson EB (1927). Probable inference. Journal 22: 209-212.",
    ...            "Donner A, Klar N (2000). Cluster Randomization. Arnold, London."])
    "Limits are Wilson's (1927). (Donner and Klar 2000.)"
    """
    found = [(BEGINS.match(line), line) for line in references]
    works = [(people_of(begin["authors"]), begin["year"]) for begin, _ in found if begin is not None]
    left = [(who, year) for who, year in works if not (who[0][0] in text and year in text)]
    if not text or not left:
        return text
    return f"{text} ({'; '.join(dict.fromkeys(f'{_called(who)} {year}' for who, year in left))}.)"


def _called(who: tuple[tuple[str, str], ...]) -> str:
    names = [family for family, _ in who]
    return " and ".join(names) if len(names) <= NAMED else f"{names[0]} et al."
