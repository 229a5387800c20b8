"""A record as callers give it, and whether the data are those that it was made of."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from rootling._given import shortened
from rootling._results import Result, read_record
from rootling.exceptions import ChoiceError
from rootling.models import Model

__all__ = ["ModelRecord", "fingerprint_of", "record_of"]


# What every record says of how it was made.
MADE = ("version", "options", "seed", "data_fingerprint")


class ModelRecord:
    """The record of a model, which holds what was fitted and found, and no version."""

    kind = "model"
    sentence: str | None = None

    def __init__(self, record: Mapping[str, Any]) -> None:
        self._record = record
        fingerprint = record.get("data_fingerprint")
        self.made_with = {"version": None, "options": (), "seed": None, "data_fingerprint": fingerprint}

    def to_dict(self) -> dict[str, Any]:
        """All of it."""
        return dict(self._record)


def record_of(given: Any) -> Any:
    """The result of a record: a result itself, a dictionary, JSON, or a file of it."""
    if isinstance(given, Result):
        return given
    if isinstance(given, Model):
        given = given.to_dict()
    if isinstance(given, (str, os.PathLike)):
        given = _read(given)
    if not isinstance(given, Mapping):
        raise ChoiceError(
            f"{shortened(type(given).__name__)} is no record; give a result, its to_dict(), its to_json() or the name "
            "of a file that holds it"
        )
    if given.get("kind") != "model":
        result = Result.from_dict(given)
        _check_made(result._record["made_with"])
        return result
    if not isinstance(given.get("spec"), Mapping):
        raise ChoiceError(
            "this is not the record of a model: it has no spec; take it again from to_dict() or to_json()"
        )
    return ModelRecord(given)


def _check_made(made_with: Mapping[str, Any]) -> None:
    """Refuses a record that does not say by which version, from which data and with which options it was made."""
    missing = [f"made_with.{name}" for name in MADE if name not in made_with]
    if missing:
        raise ChoiceError(
            f"this record lacks {' and '.join(missing)}, so that it cannot be compared; take it again from to_json(), "
            "unedited"
        )
    options = made_with["options"]
    pairs = isinstance(options, (list, tuple)) and all(
        isinstance(one, (list, tuple)) and len(one) == len(("name", "value")) for one in options
    )
    if not pairs:
        raise ChoiceError(
            "made_with.options of this record are no pairs of a name and a value; take it again from to_json(), "
            "unedited"
        )


def _read(given: str | os.PathLike[str]) -> Any:
    """The record in a text or a file."""
    text = _text(given)
    if text.lstrip("\ufeff \t\r\n")[:1] not in ("{", "["):
        raise ChoiceError(
            f"the file {shortened(str(given))} holds no record; a record comes from to_json(), from --json on the "
            "command line, or is one of the record files in the folder beside a report (.md, .tex)"
        )
    return read_record(text)


def _text(given: str | os.PathLike[str]) -> str:
    """JSON itself, or that of a file."""
    if isinstance(given, str) and given.lstrip()[:1] in ("{", "["):
        return given
    try:
        return Path(given).read_text(encoding="utf-8-sig")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it is no text"
        raise ChoiceError(
            f"the record {shortened(str(given))} cannot be read ({reason}); name the file again"
        ) from None


def fingerprint_of(data: Any) -> str | None:
    """The fingerprint of what a question is asked of; none where it has none."""
    found = getattr(data, "fingerprint", None)
    if found is None and data is not None:
        made_with: Any = getattr(data, "made_with", {})
        found = made_with.get("data_fingerprint")
    return None if found is None else str(found)
