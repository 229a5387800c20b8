"""Counts and scores as tables take them, each looked at."""

from __future__ import annotations

from typing import Any

from rootling._given import list_of, whole_table
from rootling.exceptions import CountError

WORK = 3_000_000_000
DRAWS = 99_999


def whole_counts(rooted: Any, stuck: Any) -> tuple[list[int], list[int]]:
    """Rooted and stuck of each group."""
    try:
        first, second = whole_table([list_of(rooted), list_of(stuck)])
    except (TypeError, CountError) as error:
        if isinstance(error, CountError) and ("above" in str(error) or "frame" in str(error)):
            raise
        raise CountError("rooted and stuck are lists of whole numbers of 0 or more, one entry for each group") from None
    return first, second


def scores_of(numbers: Any, what: str) -> list[float]:
    """One number for each group."""
    try:
        return [float(number) for number in list_of(numbers)]
    except CountError:
        raise
    except (TypeError, ValueError):
        raise CountError(f"{what} are numbers, one for each group, for example [0, 2500, 5000]") from None


def exact_options(work: int, draws: int, seed: int) -> dict[str, Any]:
    """How far an exact test goes before it draws."""
    return {"work": work, "draws": draws, "seed": seed}
