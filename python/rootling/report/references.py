"""Works cited, for programs that keep references: BibTeX and CSL-JSON, from the same lines that a report lists."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._results import Result
from rootling._words import people_of
from rootling.exceptions import ChoiceError
from rootling.models import Model

if TYPE_CHECKING:
    from rootling._given.choices import ReferenceForm

FORMS = ("bibtex", "csl-json")

# Authors, year, and the rest: "Wilson EB (1927). Probable inference. Journal 22: 209-212."
WORK = re.compile(r"(?P<authors>[^()]+) \((?P<year>\d{4})\)\. (?P<rest>.+?)\.?")
# What ends with a volume and pages stands in a journal.
ARTICLE = re.compile(
    r"(?P<title>.+[.?!]\"?) (?P<journal>[^.?!]+) (?P<volume>\d+)(?:\((?P<issue>[^)]+)\))?: (?P<pages>[^:]+)"
)
ARTICLE_NUMBER = re.compile(r"[Aa]rticle (\w+)")
# A part of a book: its editors, the book, pages.
PART = re.compile(
    r"(?P<title>.+[.?!]) In: (?P<editors>.+?) \(eds?\), (?P<book>.+?), (?P<pages>\d+-\d+)\. (?P<publisher>.+)"
)
# A report of an office stands in a series.
SERIES = re.compile(r"(?P<title>.+?)\. (?P<series>[^.]+ \S*\d\S*)\. (?P<publisher>.+)")
BOOK = re.compile(r"(?P<title>.+?)(?:[,.] (?P<edition>\d+)[a-z]{2} ed(?:ition)?)?\. (?P<publisher>[^.]+)")


@dataclass(frozen=True)
class Work:
    """A work cited, in its parts."""

    kind: str
    authors: tuple[tuple[str, str], ...]
    year: int
    title: str
    more: dict[str, str]

    @property
    def key(self) -> str:
        """By what it is cited: the first author and the year, without marks on letters."""
        plain = unicodedata.normalize("NFKD", self.authors[0][0]).encode("ascii", "ignore").decode("ascii")
        return f"{re.sub('[^A-Za-z]', '', plain).lower() or 'work'}{self.year}"


def read(line: str) -> Work:
    """The parts of a reference as reports write it.

    Examples
    --------
    >>> work = read("Wilson EB (1927). Probable inference. Journal of the Association 22: 209-212.")
    >>> work.authors, work.year, work.title, work.more["journal"]
    ((('Wilson', 'EB'),), 1927, 'Probable inference', 'Journal of the Association')
    """
    found = WORK.fullmatch(line)
    if found is None:
        raise ChoiceError(f"{line[:80]!r} is no reference: authors, the year in brackets, title and where it stands")
    rest = found["rest"]
    for kind, form in (("part", PART), ("article", ARTICLE), ("series", SERIES), ("book", BOOK)):
        parts = form.fullmatch(rest)
        if parts is not None:
            more = {name: text for name, text in parts.groupdict().items() if text is not None}
            title = more.pop("title").removesuffix(".")
            return Work(kind, people_of(found["authors"]), int(found["year"]), title, more)
    return Work("book", people_of(found["authors"]), int(found["year"]), rest, {})


def references(what: Model | Result | Iterable[Any], form: ReferenceForm = "bibtex") -> str:
    """The works that results cite, for a program that keeps references.

    Parameters
    ----------
    what : Model, Result, or a list of them
        Each work is told once.
    form : {"bibtex", "csl-json"}
        The form of the text.

    Returns
    -------
    str
        Entries whose names keep the marks on their letters, as UTF-8 has them.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> told = rl.report.references(trial.compare("strength", 2500, 5000))
    >>> told[:8], rl.report.references([trial.compare("strength", 2500, 5000)], "csl-json")[:1]
    ('@article', '[')
    """
    if form not in FORMS:
        raise ChoiceError(f'form={str(form)[:40]!r} is no form of references; write form="bibtex" or "csl-json"')
    given = [what] if isinstance(what, (Model, Result)) or not isinstance(what, Iterable) else list(what)
    wrong = [one for one in given if not isinstance(one, (Model, Result))]
    if wrong or not given:
        found = f", and {type(wrong[0]).__name__!r} is none of these" if wrong else ""
        raise ChoiceError(f"references are those of results or models{found}")
    works = [_identified(line) for line in dict.fromkeys(line for one in given for line in one.references)]
    keyed = _keyed(works)
    if form == "bibtex":
        return "\n".join(_bibtex(key, work) for key, work in keyed)
    return json.dumps([_csl(key, work) for key, work in keyed], ensure_ascii=False, indent=1)


def _identified(line: str) -> Work:
    """A work with its identifier, where it is known."""
    work, doi = read(line), _core.report.doi_of(line)
    return work if doi is None else replace(work, more={**work.more, "doi": doi})


def _keyed(works: list[Work]) -> list[tuple[str, Work]]:
    """Works by a key of their own: a second one of the same author and year has a letter."""
    seen: dict[str, int] = {}
    keyed = []
    for work in works:
        count = seen[work.key] = seen.get(work.key, 0) + 1
        keyed.append((work.key + ("" if count == 1 else chr(ord("a") + count - 1)), work))
    return keyed


# Names of the parts in either form.
BIBTEX = {
    "journal": "journal", "volume": "volume", "issue": "number", "pages": "pages", "book": "booktitle",
    "publisher": "publisher", "edition": "edition", "series": "series", "doi": "doi",
}  # fmt: skip
CSL = {
    "journal": "container-title", "volume": "volume", "issue": "issue", "pages": "page", "book": "container-title",
    "publisher": "publisher", "edition": "edition", "series": "collection-title", "doi": "DOI",
}  # fmt: skip
KINDS = {
    "article": ("article", "article-journal"),
    "part": ("incollection", "chapter"),
    "series": ("techreport", "report"),
}


def _bibtex(key: str, work: Work) -> str:
    people = {"author": work.authors, "editor": people_of(work.more["editors"]) if "editors" in work.more else ()}
    fields = {role: " and ".join(map(_bibtex_name, names)) for role, names in people.items() if names}
    # Braces keep capital letters that a style would make small.
    fields |= {"title": f"{{{_plain(work.title)}}}", "year": str(work.year)}
    told = {BIBTEX[name]: _plain(text) for name, text in work.more.items() if name in BIBTEX}
    if work.kind == "series":
        told["institution"] = told.pop("publisher", "")
        told["number"] = told.pop("series")
    # A number in place of pages is one of a journal that has no pages.
    article = ARTICLE_NUMBER.fullmatch(told.get("pages", ""))
    if article is not None:
        del told["pages"]
        told["articleno"] = article[1]
    elif "pages" in told:
        told["pages"] = told["pages"].replace("-", "--")
    lines = ",\n".join(f"  {name} = {{{text}}}" for name, text in {**fields, **told}.items())
    return f"@{KINDS.get(work.kind, ('book', 'book'))[0]}{{{key},\n{lines}\n}}\n"


def _bibtex_name(person: tuple[str, str]) -> str:
    family, initials = person
    return (
        f"{_plain(family)}, {' '.join(f'{one}.' for one in initials if one != '-')}"
        if initials
        else f"{{{_plain(family)}}}"
    )


def _plain(text: str) -> str:
    """A text in which BibTeX takes nothing for a command."""
    return re.sub(r"([&%$#_])", r"\\\1", text)


def _csl(key: str, work: Work) -> dict[str, Any]:
    told = {CSL[name]: text for name, text in work.more.items() if name in CSL}
    article = ARTICLE_NUMBER.fullmatch(told.get("page", ""))
    if article is not None:
        del told["page"]
        told["number"] = article[1]
    editors = {"editor": _csl_names(people_of(work.more["editors"]))} if "editors" in work.more else {}
    return {
        "id": key,
        "type": KINDS.get(work.kind, ("book", "book"))[1],
        "author": _csl_names(work.authors),
        **editors,
        "issued": {"date-parts": [[work.year]]},
        "title": work.title,
        **told,
    }


def _csl_names(people: tuple[tuple[str, str], ...]) -> list[dict[str, str]]:
    return [
        {"family": family, "given": " ".join(f"{one}." for one in initials if one != "-")}
        if initials
        else {"literal": family}
        for family, initials in people
    ]
