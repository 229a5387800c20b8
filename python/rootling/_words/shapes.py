"""Which shapes a curve is the average of, with their weights."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

__all__ = ["shapes_told"]

# A share that rounds to nothing is not told.
LEAST = 0.005


def shapes_told(shapes: Iterable[Mapping[str, Any]]) -> str:
    """Shapes by their share in the average; one that is all of it without a share.

    >>> shapes_told([{"shape": "straight", "say": 0.9}, {"shape": "hump", "say": 0.06}, {"shape": "hump", "say": 0.04}])
    'straight 90 %, hump 10 %'
    >>> shapes_told([{"shape": "hump", "say": 1.0}])
    'hump'
    """
    shares: dict[str, float] = {}
    for one in shapes:
        name = str(one["shape"])
        shares[name] = shares.get(name, 0.0) + float(one["say"])
    kept = sorted(((share, name) for name, share in shares.items() if share >= LEAST), key=lambda one: -one[0])
    if len(kept) == 1:
        return kept[0][1]
    return ", ".join(f"{name} {100 * share:.0f} %" for share, name in kept)
