"""The short profile of every test run, and the long one, which is kept on disk and goes on where it was stopped."""

from __future__ import annotations

import json
import os
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict
from pathlib import Path

from fuzz import driver

PROCESSES = 2
SHORT = {
    "csv": 150,
    "frames": 150,
    "counts": 200,
    "verbs": 90,
    "options": 150,
    "records": 110,
    "files": 60,
    "names": 40,
}
# By what a case costs (verbs and files some 40 ms, csv and counts 4 ms), so that 10^6 cases end within three hours.
SHARES = {"csv": 40, "frames": 10, "counts": 22, "verbs": 3, "options": 18, "records": 5, "files": 1, "names": 1}
BATCH = 1000
THREADS_EVERY = 25  # batches


def short() -> driver.Tally:
    """The first cases of every field, two processes at a time; some of them with one thread too."""
    tally = driver.Tally()

    def job(name: str) -> None:
        known = driver.run(tally, name, 0, SHORT[name])
        if name in ("counts", "verbs"):
            driver.compare_threads(tally, name, 0, 30, known)

    with ThreadPoolExecutor(PROCESSES) as pool:
        list(pool.map(job, sorted(SHORT, key=lambda name: -SHORT[name])))
    return tally


class Book:
    """The state of a long run: what is done, what was found."""

    def __init__(self, path: Path) -> None:
        self.path, self.lock = path, threading.Lock()
        self.tally, self.done = driver.Tally(), set[str]()
        if path.exists():
            state = json.loads(path.read_text(encoding="utf-8"))
            self.done = set(state["done"])
            self.tally = driver.Tally(**state["tally"])
            self.tally.slowest = {name: (one[0], one[1]) for name, one in self.tally.slowest.items()}
            self.tally.found = {key: driver.Found(**one) for key, one in self.tally.found.items()}

    def add(self, batch: str, part: driver.Tally) -> None:
        """Takes in a finished batch and keeps the state."""
        with self.lock:
            self.done.add(batch)
            for name in part.cases:
                for mine, other in ((self.tally.cases, part.cases), (self.tally.seconds, part.seconds)):
                    mine[name] = mine.get(name, 0) + other[name]  # type: ignore[attr-defined, operator]
                self.tally.slowest[name] = max(self.tally.slowest.get(name, (0.0, 0)), part.slowest[name])
            for one in part.found.values():
                self.tally.add(one.field, one.number, one.signature, one.text)
                self.tally.found[f"{one.field} | {one.signature}"].times += one.times - 1
            self._keep()

    def _keep(self) -> None:
        beside = self.path.with_suffix(".part")
        state = {"done": sorted(self.done), "tally": asdict(self.tally)}
        beside.write_text(json.dumps(state), encoding="utf-8")
        os.replace(beside, self.path)
        self.path.with_suffix(".txt").write_text(
            "\n".join(self.tally.lines()), encoding="utf-8", errors="backslashreplace"
        )


def batches(cases: int, start: int = 0) -> Iterator[tuple[str, int, int]]:
    """Batches of all fields in turn from a number on, so that a run that is stopped has seen each in its share."""
    ends = {name: start + cases * share // sum(SHARES.values()) for name, share in SHARES.items()}
    at = dict.fromkeys(SHARES, start)
    while any(at[name] < ends[name] for name in SHARES):
        name = min((n for n in SHARES if at[n] < ends[n]), key=lambda n: (at[n] - start) / (ends[n] - start))
        last = min(ends[name], at[name] + BATCH)
        yield name, at[name], last
        at[name] = last


def long(cases: int, folder: Path | None = None) -> driver.Tally:
    """Runs as many cases over all fields; state and report are ``state.json`` and ``state.txt`` in the folder.

    ``ROOTLING_FUZZ_FROM`` is the number that each field begins with: beyond those of an earlier run all cases are new.
    """
    place = folder or Path(os.environ.get("ROOTLING_FUZZ_FOLDER", driver.HERE.parents[2] / ".fuzz"))
    place.mkdir(parents=True, exist_ok=True)
    start = int(os.environ.get("ROOTLING_FUZZ_FROM", "0"))
    book = Book(place / "state.json")

    def job(numbered: tuple[int, tuple[str, int, int]]) -> None:
        at, (name, first, last) = numbered
        part = driver.Tally()
        known = driver.run(part, name, first, last)
        if at % THREADS_EVERY == 0:
            driver.compare_threads(part, name, first, last, known)
        book.add(f"{name} {first}", part)

    wanted = [one for one in enumerate(batches(cases, start)) if f"{one[1][0]} {one[1][1]}" not in book.done]
    with ThreadPoolExecutor(PROCESSES) as pool:
        list(pool.map(job, wanted))
    print("\n".join(book.tally.lines()), flush=True)
    return book.tally
