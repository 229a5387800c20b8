"""The responses that a caller declares, as the core takes them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from rootling._given import is_name, plain, shortened
from rootling.exceptions import ChoiceError
from rootling.responses import Response

__all__ = ["columns_of", "responses_of"]

EXAMPLE = 'responses={"roots": rl.responses.count()}'


def responses_of(value: Any, primary: Any) -> dict[str, Any]:
    """``responses=`` and ``primary=``, checked."""
    found = {} if value is None else value
    if not isinstance(found, Mapping):
        raise ChoiceError(f"responses={shortened(value)} does not say what its columns hold; write {EXAMPLE}")
    for name, one in found.items():
        if not is_name(name):
            raise ChoiceError(f"responses= has the name {shortened(name)}, which is no column; write {EXAMPLE}")
        if not isinstance(one, Response):
            example = f"responses={{{str(name)[:60]!r}: rl.responses.count()}}"
            raise ChoiceError(f"responses= says {shortened(one)} of {shortened(name)}, which is no response; write {example}")
    primary = plain(primary)
    if primary is not None and not is_name(primary):
        raise ChoiceError(f'primary={shortened(primary)} is no response; write primary="take" or the name of one')
    return {"responses": [{"column": str(name)} | asdict(one) for name, one in found.items()], "primary": primary}


def columns_of(options: Mapping[str, Any]) -> list[str | None]:
    """The columns of the sheet that responses need."""
    return [one[name] for one in options["responses"] for name in ("column", "means_of")]
