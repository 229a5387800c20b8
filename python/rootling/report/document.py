"""What a report says, whatever file it becomes: decisions, a section for each question, and what stands behind."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from rootling._figures import counted
from rootling._results import Result, display
from rootling._words import interactions_told
from rootling.exceptions import ChoiceError
from rootling.report import words
from rootling.report.lacking import lacking_of
from rootling.report.parts import Part, cautions_of, sort_out
from rootling.report.readers import for_readers

# Columns of a table from which on it is wide, and from which on it needs paper that lies across.
WIDE, VAST = 7, 11
# The widest figure that goes into one column of a journal, in inches as it is shown on a screen.
COLUMN = 7.0
# Heads of columns that stay in sight where a table is too wide.
SEEN = re.compile(r"\bP\b")


@dataclass
class Answer:
    """One result and its question."""

    result: Result
    question: str
    number: int
    # Told the number of each answer whose figure is drawn next.
    tell: Callable[[int], object] | None = None

    @property
    def sentence(self) -> str:
        """The decision."""
        return self.result.sentence

    @property
    def details(self) -> tuple[str, ...]:
        """What else is worth saying to whoever reads a report."""
        return tuple(map(for_readers, self.result.details))

    @cached_property
    def table(self) -> dict[str, Any]:
        """Heads, rows and which columns are numbers, as they are read on a page."""
        heads, rows, numeric = display.rows(self.result)
        return {"heads": heads, "rows": rows, "numeric": numeric}

    def cells(self, where: str) -> tuple[list[str], list[list[str]], list[bool]]:
        """The same for Markdown or LaTeX, made safe for it."""
        return display.rows(self.result, where)

    @property
    def width(self) -> str:
        """How wide its table is: narrow, wide or vast."""
        count = len(self.table["heads"])
        return "vast" if count >= VAST else "wide" if count >= WIDE else "narrow"

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

    @property
    def table_caption(self) -> str:
        """What stands above the table: of which figure it holds the numbers, and how many units stand behind them."""
        of = f"Numbers of figure {self.number}" if self.shown is not None else "Numbers of the answer"
        confidence = self.result._record.get("confidence")
        limits = f", with {100 * confidence:g} % limits" if isinstance(confidence, float) else ""
        return f"{of}{limits}. {counted(self.result)}".strip()

    def drawn(self, form: str) -> bytes | None:
        """The figure for paper, at the width of one column or of two, as PDF or PNG."""
        if self.shown is None:
            return None
        held = io.BytesIO()
        bare: dict[str, Any] = {"CreationDate": None} if form == "pdf" else {}
        figure = self.result.plot(width="180 mm" if self.broad else "85 mm")
        figure.savefig(held, format=form, metadata=bare)
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
        about = () if self.part.trial is None else self.part.trial.about.lines
        found = [
            ("Design", self.design),
            ("About the trial", list(about)),
            ("Effects together", [line for one in self.answers for line in interactions_told(one.result)]),
            ("Data check", self.check),
            ("Still to be told in a write-up", [*map(for_readers, lacking_of(self.part))] if about else []),
        ]
        return [(heading, told) for heading, told in found if told]

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
    def made(self) -> str:
        """By what it was made."""
        return f"rootling {self.answers[0].result.made_with['version']}"


def document(what: Any, title: str | None) -> Document:
    """A report of trials, models or results."""
    parts = sort_out(what)
    results = [result for part in parts for result in part.results]
    sections: list[Section] = []
    number = 0
    for part in parts:
        answers = []
        for result, question in zip(part.results, words.questions(part.results), strict=True):
            number += 1
            answers.append(Answer(result, question, number))
        sections.append(Section(part, answers, cautions_of(part)))
    told = [[(answer.question, answer.result.methods) for answer in section.answers] for section in sections]
    trials = [part.trial for part in parts if part.trial is not None]
    return Document(
        title=words.title(results, trials) if title is None else title,
        sections=sections,
        methods=[line for lines in told for line in words.methods(lines)],
        references=list(dict.fromkeys(reference for result in results for reference in result.references)),
        records=[result.to_json(indent=1) for result in results],
    )
