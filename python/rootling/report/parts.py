"""The parts of a report: results by their trial, and the cautions of each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from rootling import _core
from rootling._results import Result
from rootling.exceptions import ChoiceError
from rootling.models import Model
from rootling.report.readers import for_readers
from rootling.report.words import WATCHED, in_order, questions, room_of
from rootling.trial import Trial
from rootling.watch import Watch

# In place of a fingerprint, what answers about a planned trial have in common.
PLANNED = "planned"
# Answers about visits.
VISITED = ("time_course", "times_compared")
# Cautions about the work, which stand last.
WORK = ("tested_range_only", "read_the_label")


@dataclass
class Part:
    """Results of one trial, which is known by its fingerprint alone where they were read from records."""

    trial: Trial | None
    seal: str | None
    results: list[Result] = field(default_factory=list)

    @property
    def watched(self) -> bool:
        """True where all of it is of a crop under watch."""
        return bool(self.results) and all(one.kind in WATCHED for one in self.results)

    @property
    def crop(self) -> Watch | None:
        """The crop under watch that the results are about, where it is known."""
        return next((one._context["watch"] for one in self.results if "watch" in one._context), None)

    @property
    def heading(self) -> str:
        """What the results of this part rest on."""
        if self.trial is not None:
            return str(self.trial.design["sentence"])
        if self.crop is not None:
            return self.crop.sentence
        if self.seal is None:
            return "Counts that are part of no trial."
        if self.seal == PLANNED:
            return "A trial that is planned."
        if all(room_of(one) == "seasons" for one in self.results):
            names = list(dict.fromkeys(one.season for result in self.results for one in result.seasons))
            return f"{len(names)} seasons pooled: {', '.join(names)}; the fingerprint of their counts is {self.seal}."
        chain = next((one for one in map(_chain, self.results) if one), "")
        return f"{chain or 'Read from records'}; the fingerprint of the counts is {self.seal}."

    def holds(self, result: Result) -> bool:
        """True where the result is of this part's trial."""
        own = result._context.get("trial")
        if own is not None and self.trial is not None:
            return _same(own, self.trial)
        return _seal(result) == self.seal


def _chain(result: Result) -> str:
    """From which step to which a chain goes, and of how many batches; empty of what is about no chain."""
    record = result._record
    if result.kind in VISITED:
        return "Plants followed by visits"
    start, steps, batches = record.get("start"), record.get("steps"), record.get("n_batches")
    if not isinstance(start, str) or not isinstance(steps, (list, tuple)) or not steps:
        return ""
    of = f", {batches} batches" if isinstance(batches, int) else ""
    return f"The chain from {start} to {steps[-1]['step']}{of}".replace("_", " ")


def _seal(result: Result) -> str | None:
    trial = result._context.get("trial")
    if trial is None and room_of(result) == "plan":
        return PLANNED
    found = result._record["made_with"].get("data_fingerprint") if trial is None else trial.fingerprint
    return None if found is None else str(found)


def _same(one: Trial, other: Trial) -> bool:
    return one is other or (one.fingerprint == other.fingerprint and one.design == other.design)


def _given(what: Any) -> list[Trial | Result]:
    """Trials and results one by one, in their order."""
    single = isinstance(what, (Trial, Model, Result)) or not isinstance(what, Iterable)
    try:
        given = [what] if single else list(what)
    except TypeError:
        # An array without dimensions says that it can be gone through.
        given = [what]
    if any(isinstance(one, Watch) for one in given):
        line = 'rl.report.write([watch.expected(until="2025-12-31"), watch.signals(until="2025-12-31")], path)'
        raise ChoiceError(f"a crop under watch is reported by what it answers; write {line}")
    given = [one.what_matters() if isinstance(one, Model) else one for one in given]
    wrong = [one for one in given if not isinstance(one, (Trial, Result))]
    if wrong or not given:
        found = f", and {type(wrong[0]).__name__!r} is none of these" if wrong else ""
        raise ChoiceError(f"a report is made of a trial, a model, results, or a list of them{found}")
    return given


def sort_out(what: Any) -> list[Part]:
    """The results by trial, in the order in which trials are met; those of unknown trials by themselves."""
    given = _given(what)
    parts: list[Part] = []
    for trial in (one if isinstance(one, Trial) else one._context.get("trial") for one in given):
        if trial is not None and not any(part.trial is not None and _same(part.trial, trial) for part in parts):
            parts.append(Part(trial, trial.fingerprint))
    for result in (one for one in given if isinstance(one, Result)):
        part = next((part for part in parts if part.holds(result)), None)
        if part is None:
            part = Part(None, _seal(result))
            parts.append(part)
        # A model is reported by its tests of effects, which may have been given beside it.
        if not any(one.kind == result.kind and one == result for one in part.results):
            part.results.append(result)
    for part in parts:
        if not part.results and part.trial is not None:
            part.results.append(part.trial.take_rates())
        if part.watched:
            part.results.sort(key=lambda one: WATCHED.index(one.kind))
        else:
            part.results = in_order(part.results)
    return parts


def cautions_of(part: Part) -> list[dict[str, Any]]:
    """Each caution once, under the questions it belongs to; those of all come first, those about the work last."""
    asked = questions(part.results)
    everywhere = tuple(dict.fromkeys(asked))
    notes: dict[tuple[str, str], Any] = {}
    if part.trial is not None:
        notes = {(note.code, note.text): None for note in part.trial.notes}
    for question, result in zip(asked, part.results, strict=True):
        for note in result.notes:
            own = notes.setdefault((note.code, note.text), {})
            if own is not None:
                own[question] = None
    codes = {code for code, _ in notes}
    if _about_strength(part):
        due = ((note["code"], note["text"]) for note in _core.report.working_cautions())
        notes |= {note: None for note in due if note[0] not in codes}
    ordered = sorted(notes, key=lambda note: WORK.index(note[0]) + 1 if note[0] in WORK else 0)
    groups: dict[tuple[str, ...], dict[str, None]] = {(): {}}
    for code, text in (note for note in ordered if note[0] not in WORK):
        of = tuple(notes[code, text] or ())
        groups.setdefault(() if of == everywhere else of, {})[for_readers(text)] = None
    told = [{"of": " ".join(of), "texts": list(texts)} for of, texts in groups.items() if texts]
    work = list(dict.fromkeys(text for code, text in ordered if code in WORK))
    return [*told, {"of": "", "texts": work}] if work else told


def _about_strength(part: Part) -> bool:
    columns = [] if part.trial is None else part.trial.tray_counts().columns
    tables = (name for one in part.results for name in one.table().columns)
    return any("strength" in name.lower() for name in [*columns, *tables])
