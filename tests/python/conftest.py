"""What the tests share: the reference values, a small trial, and the profiles of the property tests."""

from __future__ import annotations

import json
import math
import os
from pathlib import Path
from typing import Any

import polars as pl
import pytest
import rootling as rl
from engines_held import cluster, held, spark  # noqa: F401
from hypothesis import HealthCheck, settings

TESTS = Path(__file__).resolve().parents[1]
COMMON = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow, HealthCheck.filter_too_much]}
settings.register_profile("fast", max_examples=60, derandomize=True, **COMMON)
settings.register_profile("thorough", max_examples=2000, **COMMON)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "fast"))


class Expected:
    """The entries of the reference file, each with its own tolerance."""

    def __init__(self) -> None:
        text = (TESTS / "reference" / "expected.json").read_text(encoding="utf-8")
        self.entries = {entry["id"]: entry for entry in json.loads(text)["entries"]}

    def values(self, name: str) -> dict[str, Any]:
        return self.entries[name]["values"]

    def check(self, name: str, got: Any, want: Any) -> None:
        """Fails unless ``|got - want| <= abs + rel |want|`` with the entry's tolerance; lists entry by entry."""
        self._compare(name, got, want, self.entries[name]["tolerance"]["abs"])

    def check_p(self, name: str, got: Any, want: Any) -> None:
        """P values are held relatively only, so that a very small one is held to its digits."""
        self._compare(name, got, want, 0.0)

    def _compare(self, name: str, got: Any, want: Any, floor: float) -> None:
        if isinstance(want, list):
            assert len(got) == len(want), (name, got, want)
            for one, other in zip(got, want, strict=True):
                self._compare(name, one, other, floor)
            return
        wanted, rel = float(want), self.entries[name]["tolerance"]["rel"]
        if math.isnan(wanted):
            assert got is None, (name, got, want)
        elif math.isinf(wanted):
            assert got == wanted, (name, got, want)
        else:
            assert abs(got - wanted) <= floor + rel * abs(wanted), (name, got, want)


@pytest.fixture(scope="session")
def expected() -> Expected:
    return Expected()


@pytest.fixture
def data() -> Path:
    return TESTS / "data"


ROLES: dict[str, Any] = {
    "rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray", "block": "bench",
}  # fmt: skip


@pytest.fixture
def frame() -> pl.DataFrame:
    return rl.demo.two_strengths(seed=1)


@pytest.fixture
def trial(frame: pl.DataFrame) -> rl.Trial:
    return rl.load_trial(frame, **ROLES)
