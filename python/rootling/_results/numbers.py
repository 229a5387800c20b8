"""Named numbers that cannot be changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any


class Numbers(Mapping[str, Any]):
    """A frozen group of named numbers; read them as attributes or by name.

    Groups within are frozen when they are asked for: a result may hold one for each of many rows.

    Examples
    --------
    >>> from rootling._results import Numbers
    >>> Numbers({"value": 0.5, "confidence": 0.95}).value
    0.5
    """

    __slots__ = ("_items",)

    def __init__(self, items: Mapping[str, Any]) -> None:
        object.__setattr__(self, "_items", dict(items))

    def __getitem__(self, name: str) -> Any:
        value = self._items[name]
        if isinstance(value, (dict, list)):
            value = self._items[name] = freeze(value)
        return value

    def __iter__(self) -> Iterator[str]:
        return iter(self._items)

    def __len__(self) -> int:
        return len(self._items)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__") or name == "_items":
            raise AttributeError(name)
        try:
            return self[name]
        except KeyError:
            raise AttributeError(f"there is no figure {name!r}; known: {', '.join(self._items)}") from None

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("results cannot be changed")

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *self._items]

    def __hash__(self) -> int:
        return hash(tuple(self.items()))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Numbers) and dict(self.items()) == dict(other.items())

    def __repr__(self) -> str:
        return "Numbers(" + ", ".join(f"{name}={value!r}" for name, value in self.items()) + ")"

    def __reduce__(self) -> tuple[type[Numbers], tuple[dict[str, Any]]]:
        return Numbers, (dict(self.items()),)


def freeze(value: Any) -> Any:
    """Lists become tuples and dictionaries become :class:`Numbers`, all the way down."""
    if isinstance(value, Mapping):
        return value if isinstance(value, Numbers) else Numbers(value)
    if isinstance(value, (list, tuple)):
        return tuple(freeze(part) for part in value)
    return value
