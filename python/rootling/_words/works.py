"""Works cited, as they are listed: whose they are and of which year, and where a text that rests on them cites them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from rootling._words.supports import SUPPORTS

__all__ = ["cited_as", "people_of", "with_works"]

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


class Place(NamedTuple):
    """Where a text cites a work: behind this letter; ``named`` where its authors are called by name there."""

    at: int
    named: bool


def with_works(text: str, references: Iterable[str]) -> str:
    """A paragraph with each listed work cited, by author and year, behind the words that it supports.

    Works whose authors the paragraph names have the year there; those that support nothing in it stand at its end.

    >>> with_works("Limits are Wilson's on plants (log-rank). Trays decide.", [
    ...     "Wilson EB (1927). Probable inference. Journal 22: 209-212.",
    ...     "Peto R, Peto J (1972). Rank invariant tests. Journal 135: 185-207.",
    ...     "Author A (2000). A book. Arnold, London."])
    "Limits are Wilson's (1927) on plants (log-rank; Peto and Peto 1972). Trays decide. (Author 2000.)"
    """
    if not text:
        return text
    found = [begin for begin in map(BEGINS.match, references) if begin is not None]
    works = list(dict.fromkeys((people_of(begin["authors"]), begin["year"]) for begin in found))
    left = [(who, year) for who, year in works if not _cited(text, who, year)]
    places: dict[Place, list[str]] = {}
    last = []
    for who, year in left:
        place = _place(text, who, year)
        if place is None:
            last.append(cited_as(who, year))
        else:
            places.setdefault(place, []).append(year if place.named else cited_as(who, year))
    told = _written(text, places)
    return f"{told} ({'; '.join(last)}.)" if last else told


def cited_as(who: tuple[tuple[str, str], ...], year: str) -> str:
    """A work as a text cites it: ``"Zou and Donner 2008"``, ``"Gramm et al. 2008"``."""
    names = [family for family, _ in who]
    return f"{' and '.join(names) if len(names) <= NAMED else f'{names[0]} et al.'} {year}"


def _cited(text: str, who: tuple[tuple[str, str], ...], year: str) -> bool:
    """True where the text has the authors and the year right behind them."""
    others = r"(?:(?:, | and )[^\W\d_][\w'-]+| et al\.)*"
    return re.search(rf"\b{re.escape(who[0][0])}{others}(?:'s)?,? \(?{year}\b", text) is not None


def _place(text: str, who: tuple[tuple[str, str], ...], year: str) -> Place | None:
    """Behind the words that the work supports, or behind its authors where they are named."""
    families = [family for family, _ in who]
    for pattern in SUPPORTS.get(f"{families[0]} {year}", ()):
        hit = re.search(pattern, text)
        if hit is not None:
            return Place(hit.end(), named=_names(hit[0], families))
    listed = " and ".join([", ".join(families[:-1]), families[-1]]) if len(families) > 1 else families[0]
    hit = re.search(rf"(?<![\w-]){re.escape(listed)}(?:'s?)?(?![\w-])", text)
    return None if hit is None else Place(hit.end(), named=True)


def _names(words: str, families: list[str]) -> bool:
    """True where the words are the authors' names and nothing else."""
    return re.sub(r"'s$", "", words) in (" and ".join(families), "-".join(families))


def _written(text: str, places: dict[Place, list[str]]) -> str:
    """The text with its citations: in brackets, or as part of those that are open."""
    for at in sorted({place.at for place in places}, reverse=True):
        named, full = (places.get(Place(at, side), []) for side in (True, False))
        inside = text.count("(", 0, at) > text.count(")", 0, at)
        if inside:
            told = "".join([*(f" {year}" for year in named), *(f"; {one}" for one in full)])
            close = at + _closing(text[at:]) if full else at
            text = f"{text[:close]}{told}{text[close:]}"
        else:
            text = f"{text[:at]} ({'; '.join([*named, *full])}){text[at:]}"
    return text


def _closing(rest: str) -> int:
    """How far it is to the bracket that closes what is open."""
    depth = 0
    for at, sign in enumerate(rest):
        depth += (sign == "(") - (sign == ")")
        if depth < 0:
            return at
    return len(rest)
