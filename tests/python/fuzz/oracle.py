"""What every case must show: our own errors only, sound results, inputs as they were."""

from __future__ import annotations

import hashlib
import pickle
import random
import re
import time
import traceback
import warnings
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import rootling as rl
from rootling._results import Numbers
from rootling.exceptions import ChoiceError, RootlingWarning
from rootling.models import Model

from fuzz import figures

ONE_SENTENCE = 600
ALL_PROBLEMS = 6000
# Words of the machinery, which no message and no page may hold.
LEAKS = re.compile(
    r"panicked|Traceback|unwrap\(|object at 0x|pyo3|PyErr|ComputeError|SchemaError|Some\(|\.rs:|"
    r"unexpected type|invalid type|missing field|unknown variant|unknown field|expected struct|expected a "
    r"(?:sequence|map|string)|did not match any variant|RUST_BACKTRACE|strict=True"
)
UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
CASE_SECONDS = 5.0


def snapshot(value: Any) -> Any:
    """What an argument is, to be compared with what it is after the call; None where it nests too deep for that."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # A library's own about copying what it holds.
            return _copied(value)
    except (RecursionError, OSError):
        return None


def _copied(value: Any) -> Any:
    if isinstance(value, (pl.DataFrame, pl.Series)):
        return value.clone()
    if isinstance(value, (pd.DataFrame, pd.Series)):
        return value.copy(deep=True)
    if isinstance(value, np.ndarray):
        return value.dtype.str, value.shape, value.tobytes() if value.dtype != object else repr(value.tolist())
    if isinstance(value, Path) and value.is_file() and value.suffix != ".html":
        return value.stat().st_mtime_ns, value.read_bytes()
    if isinstance(value, dict):
        return {name: _copied(part) for name, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [_copied(part) for part in value]
    return None if isinstance(value, (rl.Trial, Model)) else repr(value)


def unchanged(before: Any, after: Any) -> bool:
    """Whether two snapshots are alike; what nests too deep counts as alike."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _same(before, after)
    except RecursionError:
        return True


def _same(before: Any, after: Any) -> bool:
    if isinstance(before, (pl.DataFrame, pl.Series)):
        same_type = before.schema == after.schema if isinstance(before, pl.DataFrame) else before.dtype == after.dtype
        return same_type and _equal(before, after)
    if isinstance(before, (pd.DataFrame, pd.Series)):
        return bool(before.equals(after)) or repr(before) == repr(after)
    if isinstance(before, dict):
        same_names = list(map(repr, before)) == list(map(repr, after))
        return same_names and all(_same(a, b) for a, b in zip(before.values(), after.values(), strict=True))
    if isinstance(before, list):
        return len(before) == len(after) and all(_same(a, b) for a, b in zip(before, after, strict=True))
    return bool(before == after)


def _equal(before: Any, after: Any) -> bool:
    try:
        if before.equals(after):
            return True
    except Exception:
        pass
    # Columns of Python objects cannot be compared by polars.
    kinds = before.dtypes if isinstance(before, pl.DataFrame) else [before.dtype]
    return pl.Object in kinds and repr(before) == repr(after)


def shown(value: Any) -> str:
    """A value as it could be written in a call."""
    if isinstance(value, pl.DataFrame):
        text = f"pl.DataFrame({value.to_dict(as_series=False)!r}, {list(value.dtypes)})"
    elif isinstance(value, pl.Series):
        text = f"pl.Series({value.name!r}, {value.to_list()!r}, {value.dtype})"
    elif isinstance(value, pd.DataFrame):
        text = f"pd.DataFrame({value.to_dict('list')!r}, dtypes {[str(one) for one in value.dtypes]})"
    elif isinstance(value, pd.Series):
        text = f"pd.Series({value.tolist()!r}, dtype={value.dtype})"
    elif isinstance(value, dict):
        text = "{" + ", ".join(f"{name!r}: {shown(part)}" for name, part in value.items()) + "}"
    elif isinstance(value, (Model, rl.Trial, rl.Result)):
        text = type(value).__name__
    else:
        text = repr(value)
    return text if len(text) < 3000 else f"{text[:3000]}..."


class Oracle:
    """Judges the calls of one case; ``failures`` holds what it did not let pass."""

    def __init__(self, rng: random.Random, *, number: int = 0, plots: float = 0.02, tell: bool = False) -> None:
        self.rng, self.number, self.plots, self.tell = rng, number, plots, tell
        self.failures: list[tuple[str, str]] = []
        self.calls: list[str] = []
        self.digest = hashlib.sha256()
        self.others_panic = False

    def fail(self, kind: str, signature: str, text: str = "") -> None:
        last = self.calls[-1] if self.calls else ""
        told = (f"{kind}: {signature}"[:300], f"{text[:1500]}\n    {last}")
        if not any(told[0] == one for one, _ in self.failures):
            self.failures.append(told)

    def call(self, function: Callable[..., Any], *args: Any, numbers: bool = True, **options: Any) -> Any:
        """Calls, judges what comes back, and gives it; None where it was refused in our own words."""
        name = getattr(function, "__qualname__", str(function))
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                parts = [shown(one) for one in args] + [f"{key}={shown(one)}" for key, one in options.items()]
        except (RecursionError, UnicodeError):
            parts = ["..."]
        self.calls.append(f"{name}({', '.join(parts)})".replace("\n", "\\n"))
        if self.tell:
            print(self.calls[-1], flush=True)
        before = snapshot([list(args), options])
        began = time.process_time()
        result = self.guarded(lambda: function(*args, **options))
        if time.process_time() - began > CASE_SECONDS:
            self.fail("slow", f"{name} took {time.process_time() - began:.0f} s", "")
        if not unchanged(before, snapshot([list(args), options])):
            self.fail("input changed", name)
        if result is not None:
            self.inspect(name, result, numbers=numbers)
        return result

    def guarded(self, job: Callable[[], Any]) -> Any:
        """Runs something; only our own errors and warnings may come out."""
        with warnings.catch_warnings(record=True) as told:
            warnings.simplefilter("always")
            try:
                result = job()
            except rl.RootlingError as error:
                self.message(error)
                result = None
            except (KeyboardInterrupt, SystemExit):
                raise
            except BaseException as error:
                self.stray(error)
                result = None
        for one in told:
            if not issubclass(one.category, RootlingWarning):
                self.fail("warning", f"{one.category.__name__}: {blurred(str(one.message))}", str(one.message))
            else:
                self.text("warning", str(one.message))
        return result

    def stray(self, error: BaseException) -> None:
        frames = [f for f in traceback.extract_tb(error.__traceback__) if "fuzz" not in Path(f.filename).parts]
        place = next((f"{Path(f.filename).name} {f.name}" for f in reversed(frames) if "rootling" in f.filename), "?")
        self.fail("exception", f"{type(error).__name__} in {place}", str(error))

    def message(self, error: rl.RootlingError) -> None:
        text, kind = str(error), type(error).__name__
        if self.tell:
            print(f"  {kind}: {text!r}", flush=True)
        limit = ALL_PROBLEMS if isinstance(error, rl.TrialDataError) else ONE_SENTENCE
        if not text.strip():
            self.fail("message", f"{kind} says nothing")
        if len(text) > limit:
            self.fail("message too long", f"{kind}: {blurred(text)}", f"{len(text)} characters: {text[:200]}")
        if "\n" in text and not isinstance(error, rl.TrialDataError):
            self.fail("message of several lines", f"{kind}: {blurred(text)}", text)
        self.text(f"message of {kind}", text)
        if pickle.loads(pickle.dumps(error)).args != error.args:
            self.fail("message", f"{kind} is not pickled whole", text)

    def text(self, what: str, text: str) -> None:
        """Nothing unseen and no word of the machinery in what users read."""
        if found := LEAKS.search(text):
            self.fail("leak", f"{what}: {found.group()!r} in {blurred(text)[:90]}", text)
        if found := UNSEEN.search(text):
            self.fail("unseen sign", what, f"{found.group()!r} in {text[max(0, found.start() - 300) :][:800]!r}")

    def inspect(self, name: str, result: Any, *, numbers: bool) -> None:
        """All faces of a result."""
        if isinstance(result, (rl.Result, Model)):
            self.guarded(lambda: self._faces(result, numbers))
        elif isinstance(result, rl.Estimate):
            self.guarded(lambda: self._estimate(name, result, numbers))
        elif isinstance(result, Numbers):
            self._faults(figures.faults(dict_of(result)))
        elif isinstance(result, rl.Trial):
            self.guarded(lambda: self._trial(result))

    def _faults(self, found: Iterable[str]) -> None:
        for fault in dict.fromkeys(found):
            self.fail("impossible", blurred(fault), fault)

    def _faces(self, result: Any, numbers: bool) -> None:
        record, written = result.to_dict(), result.to_json()
        self.digest.update(written.encode("utf-8", "surrogatepass"))
        table = result.table()
        self.text(f"repr of {result.kind}", repr(result))
        self.text(f"sentence of {result.kind}", result.sentence)
        for line in getattr(result, "details", ()):
            self.text(f"details of {result.kind}", line)
        if "\n" in result.sentence or not result.sentence.strip():
            self.fail("sentence", f"{result.kind}: not one line", result.sentence)
        again = type(result).from_json(written)
        if numbers and again.to_dict() != record:
            self.fail("round trip", f"{result.kind} by JSON", figures.first_change(record, again.to_dict()))
        if numbers and self.rng.random() < 0.1 and pickle.loads(pickle.dumps(result)).to_dict() != record:
            self.fail("round trip", f"{result.kind} pickled")
        page = result._repr_html_()
        if "<script" in page:
            self.fail("injection", f"html of {result.kind}", page[:400])
        self.text(f"html of {result.kind}", re.sub("<[^>]*>", "", page))
        if numbers:
            self._faults(f"{result.kind}: {one}" for one in figures.faults(record))
            self._faults(f"{result.kind}: {one}" for one in figures.table_faults(result.kind, table))
        if self.rng.random() < self.plots:
            self._plot(result)

    def _plot(self, result: Any) -> None:
        import io

        self.calls.append(f"{type(result).__name__}.plot() after {self.calls[-1]}")
        try:
            figure = result.plot()
        except ChoiceError:
            return
        held = io.StringIO()
        figure.savefig(held, format="svg")
        if "<script" in held.getvalue():
            self.fail("injection", f"svg of {result.kind}")

    def _estimate(self, name: str, found: rl.Estimate, numbers: bool) -> None:
        self.digest.update(found.to_json().encode("utf-8", "surrogatepass"))
        if numbers and rl.Estimate.from_json(found.to_json()) != found:
            self.fail("round trip", f"Estimate of {name}")
        self.text(f"repr of Estimate of {name}", repr(found))
        self.text("sentence of Estimate", found.sentence or "")
        rows = found.table().select("value", "low", "high").to_dicts()
        if not numbers:
            return
        low, high = figures.BOUNDS.get(name, (-np.inf, np.inf))
        self._faults(f"{name}: {one}" for row in rows for one in figures.faults(row))
        self._faults(f"{name} {found.method}: {one}" for one in figures.outside(rows, low, high))

    def _trial(self, trial: rl.Trial) -> None:
        self.digest.update(trial.fingerprint.encode())
        self.text("repr of trial", repr(trial))
        self.text("html of trial", re.sub("<[^>]*>", "", trial._repr_html_()))
        for issue in (*trial.issues, *trial.set_aside):
            self.text("issue", str(issue))
        if "<script" in trial._repr_html_():
            self.fail("injection", "html of trial")
        trial.tray_counts()
        if self.rng.random() < 0.1 and pickle.loads(pickle.dumps(trial)).fingerprint != trial.fingerprint:
            self.fail("round trip", "trial pickled")


def dict_of(value: Any) -> Any:
    if isinstance(value, Numbers):
        return {name: dict_of(part) for name, part in value.items()}
    return [dict_of(part) for part in value] if isinstance(value, tuple) else value


def blurred(text: str) -> str:
    """A text without its numbers and quoted parts, so that like failures are counted together."""
    text = re.sub(r"'[^']*'|\"[^\"]*\"", "'…'", text[:600])
    text = re.sub(r"[-+]?\d[\d.,_]*(?:e[-+]?\d+)?", "9", text)
    return ascii(text)[1:-1][:220]
