"""Attributes that are not there, answered with the nearest that is."""

from __future__ import annotations

from typing import Any

from rootling._given import nearest

__all__ = ["missing"]


def missing(owner: Any, name: str) -> AttributeError:
    """The error for a name that a trial does not have.

    >>> class Trial:
    ...     def take_rates(self): ...
    >>> str(missing(Trial(), "take_rate"))
    "Trial has no 'take_rate'; did you mean 'take_rates'? It can be asked: take_rates"
    """
    kind = type(owner).__name__
    known = [one for one in dir(type(owner)) if not one.startswith("_")]
    if name.startswith("_"):
        return AttributeError(f"{kind!r} object has no attribute {name!r}", name=name, obj=owner)
    if name == "plot":
        text = "a trial has no figure of its own; plot what it was asked, for example trial.take_rates().plot()"
        return AttributeError(text, name=name)
    near = nearest(name, known)
    ask = f"; did you mean {near!r}? It" if near else "; it"
    return AttributeError(f"{kind} has no {name!r}{ask} can be asked: {', '.join(known)}", name=name)
