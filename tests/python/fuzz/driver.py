"""Starts workers, reads what they say, and lays an abort or a hang at the door of the case that was running."""

from __future__ import annotations

import json
import os
import select
import signal
import subprocess
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
TICK = 5.0
BUSY = 30.0  # seconds of work in one case, after which it is ended
IDLE = 60.0  # seconds asleep without a word or any work; a process that waits for a processor is not asleep


@dataclass
class Found:
    """One distinct failure."""

    field: str
    signature: str
    text: str
    number: int
    times: int = 1


@dataclass
class Tally:
    """Cases run per field, and every distinct failure with its smallest case."""

    cases: dict[str, int] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)
    slowest: dict[str, tuple[float, int]] = field(default_factory=dict)
    found: dict[str, Found] = field(default_factory=dict)

    def add(self, name: str, number: int, signature: str, text: str) -> None:
        key = f"{name} | {signature}"
        if key not in self.found:
            self.found[key] = Found(name, signature, text, number)
            return
        known = self.found[key]
        known.times += 1
        if number < known.number:
            known.number, known.text = number, text

    def ended(self, name: str, number: int, told: dict[str, Any]) -> None:
        self.cases[name] = self.cases.get(name, 0) + 1
        self.seconds[name] = self.seconds.get(name, 0.0) + told["seconds"]
        self.slowest[name] = max(self.slowest.get(name, (0.0, 0)), (told["seconds"], number))
        for signature, text in told["failures"]:
            self.add(name, number, signature, text)

    def lines(self) -> list[str]:
        """The report."""
        total = sum(self.cases.values())
        lines = [f"{total} cases, {len(self.found)} distinct failures"]
        for name, count in self.cases.items():
            seconds, number = self.slowest[name]
            spent = 1000 * self.seconds[name] / count
            lines.append(f"  {name}: {count} cases, {spent:.1f} ms each, slowest {seconds:.2f} s ({name} {number})")
        for one in sorted(self.found.values(), key=lambda f: (f.signature.split(":")[0], -f.times)):
            lines.append(f"- [{one.field} {one.number}] {one.times} times, {one.signature}\n    {one.text}")
        return lines


class Worker:
    """One process at a range of cases."""

    def __init__(self, name: str, first: int, last: int, threads: int, errors: Path) -> None:
        self.name, self.last, self.errors = name, last, errors
        self.at, self.running = first, False
        environment = {
            **os.environ,
            "RAYON_NUM_THREADS": str(threads),
            "POLARS_MAX_THREADS": str(threads),
            "PYTHONHASHSEED": "0",
            "OPENBLAS_NUM_THREADS": "1",
            "MPLBACKEND": "Agg",
            "FUZZ_STDERR": str(errors),
        }
        self.process = subprocess.Popen(
            [sys.executable, "-m", "fuzz.worker", name, str(first), str(last)],
            cwd=HERE.parent,
            env=environment,
            stdout=subprocess.PIPE,
            stdin=subprocess.DEVNULL,
            start_new_session=True,
        )

    def lines(self) -> Any:
        """What it says, line by line; ends when it is silent for too long or has ended."""
        pipe = self.process.stdout
        assert pipe is not None
        held, idle, begun, before = b"", 0.0, 0.0, 0.0
        while True:
            ready, _, _ = select.select([pipe], [], [], TICK)
            worked, asleep = self.worked()
            if not ready:
                idle = idle + TICK if asleep and worked == before else 0.0
                before = worked
                if worked - begun < BUSY and idle < IDLE:
                    continue
                self.end()
                yield None
                return
            begun, before, idle = worked, worked, 0.0
            data = os.read(pipe.fileno(), 1 << 16)
            if not data:
                return
            held += data
            *whole, held = held.split(b"\n")
            yield from whole

    def worked(self) -> tuple[float, bool]:
        """Seconds of work of the process so far, and whether it is asleep."""
        try:
            parts = Path(f"/proc/{self.process.pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
        except OSError:  # No such place on this system: time alone decides.
            return 0.0, True
        return (int(parts[11]) + int(parts[12])) / os.sysconf("SC_CLK_TCK"), parts[0] == "S"

    def end(self) -> None:
        """Ends the process and what it started."""
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        if self.process.stdout is not None:
            self.process.stdout.close()


def run(tally: Tally, name: str, first: int, last: int, threads: int = 2) -> dict[int, str]:
    """Runs the cases from ``first`` up to ``last``; gives the digest of each that came to its end."""
    digests: dict[int, str] = {}
    while first < last:
        with tempfile.TemporaryDirectory() as folder:
            worker = Worker(name, first, last, threads, Path(folder) / "stderr")
            hung, running = False, first
            try:
                for line in worker.lines():
                    if line is None:
                        hung = True
                    elif line.startswith(b"{"):
                        told = json.loads(line)
                        digests[running] = told["digest"]
                        tally.ended(name, running, told)
                        first = running + 1
                    else:
                        running = int(line)
            finally:
                worker.end()
            if first < last:
                first = _broken(tally, worker, running, hung) + 1
    return digests


def _broken(tally: Tally, worker: Worker, number: int, hung: bool) -> int:
    """Tells of a process that ended in the middle of a case."""
    text = worker.errors.read_text(encoding="utf-8", errors="replace") if worker.errors.exists() else ""
    code = worker.process.returncode
    kind = (
        f"hang: no end after {BUSY:.0f} s of work, or asleep for {IDLE:.0f} s"
        if hung
        else f"abort: the process ended with {code}"
    )
    told = {"seconds": BUSY if hung else 0.0, "failures": [(kind, text[-1500:])], "digest": ""}
    tally.ended(worker.name, number, told)
    return number


def compare_threads(tally: Tally, name: str, first: int, last: int, known: dict[int, str]) -> None:
    """The same cases with one thread give the same digits."""
    again = run(Tally(), name, first, last, threads=1)
    for number, digest in again.items():
        if known.get(number, digest) != digest:
            tally.add(name, number, "threads: one thread says otherwise than two", "")
