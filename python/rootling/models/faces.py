"""A model shown in terminal and notebook, the table of its spread, and a model made from its record."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._given import UNREAD
from rootling._pages import in_notebook
from rootling._results import check_depth
from rootling.exceptions import ChoiceError, RootlingError

if TYPE_CHECKING:
    import polars as pl

    from rootling.models.model import Model


def text(model: Model) -> str:
    """The sentence and the cautions."""
    return "\n".join([_said(model), *(f"! {note.text}" for note in model.notes)])


def html(model: Model) -> str:
    """The same for a notebook."""
    return in_notebook("said", said=_said(model), lines=[note.text for note in model.notes])


def _said(model: Model) -> str:
    """The sentence; why there is none where effects cannot be tested."""
    try:
        return model.sentence
    except RootlingError as error:
        return f"A fitted model without tests of its effects: {error}"


def spread(core: Any) -> pl.DataFrame:
    """One row per number that says how trays or groupings differ."""
    import polars as pl

    types = {"of": pl.String, "level": pl.String, "measure": pl.String, "n_levels": pl.UInt64}
    names = ("value", "se", "low", "high", "latent_icc", "score", "df")
    schema = {**types, **dict.fromkeys(names, pl.Float64)}
    return pl.DataFrame(core.summary["spread"], schema=schema)


def restored(record: Mapping[str, Any], kind: str) -> Any:
    """The fit of a record, made once more from its specification and counts."""
    known = isinstance(record, Mapping) and {"units", "spec", "data_fingerprint"} <= record.keys()
    if not known or record.get("kind") != kind:
        raise ChoiceError("this is not the record of a model; Model.to_dict makes one")
    check_depth(record)
    try:
        return _core.models.restore(dict(record), str(record["data_fingerprint"]))
    except ChoiceError as error:
        if UNREAD not in str(error):
            raise
        what = "its counts or what was asked of them are not as to_dict() writes them; take it again from there"
        raise ChoiceError(f"this is not the record of a model: {what}") from None
