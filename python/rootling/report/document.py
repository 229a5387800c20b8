"""What a report says, whatever file it becomes: decisions, a section for each question, and what stands behind."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from rootling import _core
from rootling._figures import counted
from rootling._results import Result, display
from rootling._words import interactions_told
from rootling.exceptions import ChoiceError
from rootling.report import words
from rootling.report.beside_layout import apart_of
from rootling.report.footnotes import interval_word
from rootling.report.lacking import lacking_of
from rootling.report.next_steps import NEXT, next_of
from rootling.report.parts import Part, cautions_of, sort_out
from rootling.report.readers import for_readers
from rootling.report.tables import Table, alike, more_of, table_of
from rootling.report.titles import title as titled
from rootling.trial import About

# Columns of a table from which on it is wide, and from which on it needs paper that lies across.
WIDE, VAST = 7, 11
# The widest figure that goes into one column of a journal, in inches as it is shown on a screen.
COLUMN = 7.0
# A range in the brackets of a decision.
RANGE = re.compile(r"\([^()]* to [^()]*\)")
# Heads of columns that stay in sight where a table is too wide.
SEEN = re.compile(r"\bP\b")


@dataclass(frozen=True)
class Shown:
    """A table of a report: its number, what stands above and below it."""

    table: Table
    number: str
    caption: str

    def cells(self, where: str = "terminal") -> tuple[list[str], list[list[str]], list[bool]]:
        """Heads, rows and which columns are numbers, safe where they stand."""
        return self.table.cells(where)

    @property
    def footnotes(self) -> tuple[str, ...]:
        """What stands below it."""
        return self.table.footnotes

    @property
    def width(self) -> str:
        """How wide it is: narrow, wide or vast."""
        # An interval takes the room of its two limits.
        count = sum(2 if "interval" in head else 1 for head in self.cells()[0])
        return "vast" if count >= VAST else "wide" if count >= WIDE else "narrow"


@dataclass
class Answer:
    """One result and its question."""

    result: Result
    question: str
    number: int
    # Told the number of each answer whose figure is drawn next.
    tell: Callable[[int], object] | None = None
    # Letters of the same rates, which its table holds too; or the number of the table that holds its own.
    beside: Result | None = None
    held_by: int | None = None
    # How high its figure was drawn on paper, in inches.
    high: float = 0.0
    # All answers of the same counts.
    others: Sequence[Result] = ()

    @property
    def sentence(self) -> str:
        """The decision."""
        return self.result.sentence

    @property
    def below(self) -> tuple[str, ...]:
        """What stands below the decision: how sure it is, of which trays where a layout has others, what to do next."""
        sure, apart = display.how_sure(self.result), apart_of(self.result, self.others)
        next_step = for_readers(next_of(self.result, {one.kind for one in self.others}))
        return tuple(line for line in (sure, apart, next_step) if line)

    @property
    def details(self) -> tuple[str, ...]:
        """What else is worth saying to whoever reads a report, beside what stands by the answer itself."""
        apart = (NEXT, display.HOW_SURE)
        return tuple(for_readers(one) for one in self.result.details if not one.startswith(apart))

    @property
    def alternative(self) -> str:
        """The figure in words, for those who cannot see it: the finding, and how many units stand behind it."""
        return f"Figure: {self.sentence} {counted(self.result)}".strip()

    @cached_property
    def tables(self) -> list[Shown]:
        """Its tables; none where another answer's table holds the same numbers."""
        if self.held_by is not None:
            return []
        made = [table_of(self.result, self.beside), *more_of(self.result)]
        names = [f"{self.number}{'' if len(made) == 1 else letter}" for letter, _ in zip("abc", made, strict=False)]
        kept = [(name, one) for name, one in zip(names, made, strict=False) if one.cells("terminal")[1]]
        return [Shown(one, name, self._caption_of(one)) for name, one in kept]

    @property
    def elsewhere(self) -> str:
        """Where its numbers stand, if they stand in the table of another answer."""
        return (
            "" if self.held_by is None else f"Its numbers stand in table {self.held_by}, which holds rates and letters."
        )

    @cached_property
    def shown(self) -> Any:
        """The figure as it is shown on a screen; none where the record does not hold what it shows."""
        if self.tell is not None:
            self.tell(self.number - 1)
        try:
            figure: Any = self.result.plot()
        except ChoiceError:
            return None
        figure.bare()
        return figure

    @property
    def broad(self) -> bool:
        """True where the figure needs the width of two columns."""
        return self.shown is not None and bool(self.shown.get_size_inches()[0] > COLUMN)

    @property
    def caption(self) -> str:
        """What stands below the figure."""
        return self.result.caption

    def _caption_of(self, table: Table) -> str:
        """What stands above a table: what it holds, of which figure, and how many units stand behind it."""
        of = f"Numbers of figure {self.number}" if self.shown is not None else "Numbers of the answer"
        return f"{table.title or of}. {counted(self.result)}".strip()

    def drawn(self, form: str) -> bytes | None:
        """The figure for paper, at the width of one column or of two, as PDF or PNG."""
        if self.shown is None:
            return None
        held = io.BytesIO()
        bare: dict[str, Any] = {"CreationDate": None} if form == "pdf" else {}
        figure = self.result.plot(width="180 mm" if self.broad else "85 mm")
        figure.savefig(held, format=form, metadata=bare)
        self.high = float(figure.get_size_inches()[1])
        return held.getvalue()

    @property
    def file(self) -> str:
        """The name of the figure's file, without its ending."""
        return f"figure_{self.number}_{self.result.kind}"

    @property
    def record_file(self) -> str:
        """The name of the record's file, without its ending."""
        return f"record_{self.number}_{self.result.kind}"

    @property
    def made(self) -> str:
        """In one line, what is needed to ask it again."""
        found: dict[str, Any] = self.result.to_dict()["made_with"]
        options = ", ".join(f"{name} {value}" for name, value in found.get("options") or () if f"{value}".strip())
        seal, seed = found.get("data_fingerprint"), found.get("seed")
        told = [f"{self.question} rootling {found['version']}", *([options] if options else [])]
        told += [f"seed {seed}"] if seed is not None else []
        told += [f"data fingerprint {seal}"] if seal else []
        return "; ".join(told) + "."


@dataclass
class Section:
    """Answers of one trial, and what they rest on."""

    part: Part
    answers: list[Answer]
    cautions: list[dict[str, Any]]

    @property
    def heading(self) -> str:
        """What the answers rest on."""
        return self.part.heading

    @property
    def design(self) -> list[str]:
        """The design, a fact a line; of counts without a trial nothing is known."""
        if self.part.trial is not None:
            return [str(self.part.trial.design["sentence"]), *map(str, self.part.trial.design["lines"])]
        return [] if self.part.crop is None else [self.part.crop.sentence]

    @property
    def facts(self) -> list[tuple[str, list[str]]]:
        """What stands behind the answers, each under its heading."""
        about = self.about
        found = [
            ("Design", self.design),
            ("About the trial", list(about)),
            ("Effects together", [line for one in self.answers for line in interactions_told(one.result)]),
            ("Data check", self.check),
            ("Still to be told in a write-up", [*map(for_readers, lacking_of(self.part))] if about else []),
        ]
        return [(heading, told) for heading, told in found if told]

    @property
    def about(self) -> tuple[str, ...]:
        """What was told of the trial; of one that is known by its records alone, what these hold of it."""
        if self.part.trial is not None:
            return self.part.trial.about.lines
        told = (one.result._record["made_with"].get("about") for one in self.answers)
        return About(next((one for one in told if isinstance(one, dict)), {})).lines

    @property
    def check(self) -> list[str]:
        """What was found in the data: rows set aside, and by what the data are known again."""
        if self.part.trial is not None:
            aside = [str(one) for one in self.part.trial.set_aside]
        elif self.part.crop is not None:
            aside = words.aside(self.part.crop)
        else:
            return []
        told = aside or ["No row was set aside."]
        return told if self.part.seal is None else [*told, f"Fingerprint of the data: {self.part.seal}."]


@dataclass
class Document:
    """All that a report says."""

    title: str
    sections: list[Section]
    methods: list[tuple[str, str]]
    references: list[str]
    records: list[str]

    @property
    def answers(self) -> list[Answer]:
        """The answers of all sections."""
        return [answer for section in self.sections for answer in section.answers]

    @property
    def key(self) -> str:
        """What ranges in brackets are, where decisions have some and all are of one level."""
        words = {interval_word(one.result) for one in self.answers if RANGE.search(one.sentence)}
        level = next(iter(words)) if len(words) == 1 else ""
        return f"Ranges in brackets are {level}s." if "%" in level else ""

    @property
    def made(self) -> str:
        """By what it was made."""
        return f"rootling {self.answers[0].result.made_with['version']}"


def _put_together(answers: list[Answer]) -> None:
    """Letters and adjusted rates of the same effect: the table of the first holds both."""
    for at, first in enumerate(answers):
        if first.beside is None and first.held_by is None:
            same = next(
                (one for one in answers[at + 1 :] if one.held_by is None and alike(first.result, one.result)), None
            )
            if same is not None:
                first.beside, same.held_by = same.result, first.number


def _cited(results: Sequence[Result]) -> list[str]:
    return sorted({one for result in results for one in result.references}, key=str.casefold)


def _with_doi(reference: str) -> str:
    """A reference with its identifier as text, where it is known."""
    doi = _core.report.doi_of(reference)
    return reference if doi is None else f"{reference} doi:{doi}"


def document(what: Any, title: str | None) -> Document:
    """A report of trials, models or results."""
    parts = sort_out(what)
    results = [result for part in parts for result in part.results]
    sections: list[Section] = []
    number = 0
    for part in parts:
        answers: list[Answer] = []
        for result, question in zip(part.results, words.questions(part.results), strict=True):
            number += 1
            answers.append(Answer(result, question, number, others=part.results))
        _put_together(answers)
        sections.append(Section(part, answers, cautions_of(part)))
    told = [[(answer.question, answer.result.methods) for answer in section.answers] for section in sections]
    trials = [part.trial for part in parts if part.trial is not None]
    return Document(
        title=titled(results, trials) if title is None else title,
        sections=sections,
        methods=[line for lines in told for line in words.methods(lines)],
        references=[_with_doi(one) for one in _cited(results)],
        records=[result.to_json(indent=1) for result in results],
    )
