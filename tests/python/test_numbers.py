"""The types of numbers are those of the core, and numbers are what their types say."""

from __future__ import annotations

import sys
import warnings
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import pytest
import rootling as rl
from rootling._results import KINDS, Numbers, Result, typed
from rootling.models import Model
from test_sentences import SETS

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import _numbers

TOLD = _numbers.read()
FILES = {room: getattr(typed, room) for room in typed.__all__}
# What hints name: the types of every file by their names, and the files themselves.
NAMES = {**FILES, **{name: made for file in FILES.values() for name, made in vars(file).items() if name[0].isupper()}}
PLAIN = (str, int, float, bool, NoneType)


def test_the_types_are_written_from_the_core() -> None:
    texts = _numbers.texts()
    assert {path.name for path in _numbers.PLACE.glob("*.py")} == {*texts, "__init__.py"}
    for name, text in texts.items():
        assert (_numbers.PLACE / name).read_text(encoding="utf-8") == text, f"{name}: run python tests/_numbers.py"


def test_every_kind_has_its_types() -> None:
    roots = {kind: getattr(typed, room) for room, kind, _ in TOLD["kinds"]}
    assert set(KINDS) <= set(roots)
    home = _numbers.homes(TOLD)
    for _, kind, root in TOLD["kinds"]:
        made = getattr(FILES[home[root]], root)
        fields = getattr(FILES[home[root]], f"{root}Fields")
        assert issubclass(made, (fields, Numbers))
        if kind in KINDS:
            assert issubclass(KINDS[kind], fields), kind
            result = next(base for base in KINDS[kind].__orig_bases__ if get_origin(base) is Result)  # type: ignore[attr-defined]
            assert get_args(result) == (made,), kind


def hints(made: type) -> dict[str, Any]:
    return get_type_hints(made, localns=NAMES)


def misfits(value: Any, hint: Any, place: str) -> Iterator[str]:
    """Where a value is not what its type says."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        if all(list(misfits(value, one, place)) for one in inner):
            yield f"{place}: {value!r} is no {hint}"
    elif origin is Literal:
        if value not in inner:
            yield f"{place}: {value!r} is none of {inner}"
    elif origin is tuple:
        yield from of_tuple(value, inner, place)
    elif origin is Mapping:
        assert isinstance(value, Numbers), place
        for name, part in value.items():
            yield from misfits(part, inner[1], f"{place}.{name}")
    elif hint in PLAIN:
        if type(value) is not hint:
            yield f"{place}: {value!r} is no {hint.__name__}"
    else:
        yield from of_numbers(value, hint, place)


def of_tuple(value: Any, inner: tuple[Any, ...], place: str) -> Iterator[str]:
    if not isinstance(value, tuple) or (inner[-1] is not ... and len(value) != len(inner)):
        yield f"{place}: {value!r} is no tuple of {inner}"
        return
    each = [inner[0]] * len(value) if inner[-1] is ... else inner
    for at, (part, hint) in enumerate(zip(value, each, strict=True)):
        yield from misfits(part, hint, f"{place}[{at}]")


def of_numbers(value: Any, made: type, place: str) -> Iterator[str]:
    """Every field that must be there is, no other is, and each is what its type says."""
    if not isinstance(value, Numbers):
        yield f"{place}: {value!r} are no numbers"
        return
    schema = TOLD["types"][made.__name__]
    # What was asked of plain counts and plans is the package's own, beside what the core made with.
    own = {"asked"} if made.__name__ == "MadeWith" else set()
    known, wanted = set(schema["properties"]) | own, set(schema.get("required", []))
    if not wanted <= set(value) <= known:
        yield f"{place}: {sorted(wanted - set(value))} are missing, {sorted(set(value) - known)} are not known"
    told = hints(made)
    for name, part in value.items():
        # What is called like a word of the language has no attribute.
        if name in told:
            yield from misfits(part, told[name], f"{place}.{name}")


@pytest.fixture(scope="module")
def made() -> list[Result]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return [one for ask in SETS.values() for one in ask() if isinstance(one, Result)]


def root(kind: str) -> type:
    home = _numbers.homes(TOLD)
    name = next(name for _, own, name in TOLD["kinds"] if own == kind)
    return getattr(FILES[home[name]], name)  # type: ignore[no-any-return]


def test_numbers_are_what_their_types_say(made: list[Result]) -> None:
    assert {one.kind for one in made} == set(KINDS)
    for one in made:
        assert list(misfits(one.numbers, root(one.kind), one.kind)) == []
        assert list(misfits(one.made_with, root("made_with"), one.kind)) == []


@pytest.mark.parametrize("trays", ["auto", "effective", "dispersion", "beta-binomial", "random", "robust", "ignore"])
def test_so_are_those_of_a_model(trays: Any) -> None:
    table = rl.demo.factorial(seed=1)
    trial = rl.load_trial(
        table,
        rooted="rooted",
        stuck="stuck",
        treatments=["strength", "dark_days", "rootstock"],
        tray="tray",
        block="bench",
    )
    model: Model = trial.model(["strength", "rootstock"], trays=trays)
    assert list(misfits(model.numbers, root("model"), trays)) == []
    assert list(misfits(model.how_fitted, typed.model.Convergence, trays)) == []
    assert list(misfits(trial.design, root("design"), "design")) == []
    for result in (model.what_matters(), model.checks(), model.adjusted_rates("strength")):
        assert list(misfits(result.numbers, root(result.kind), f"{trays}: {result.kind}")) == []


def test_what_does_not_fit_is_seen() -> None:
    good = {"rooted": 3, "stuck": 20}
    schema = {"type": "object", "properties": {"rooted": {}, "stuck": {}}, "required": ["rooted", "stuck"]}

    class Pair(Numbers):
        __slots__ = ()
        rooted: int
        stuck: int

    TOLD["types"]["Pair"] = schema
    try:
        told = [good, {**good, "stuck": 20.0}, {"rooted": 3}, {**good, "more": 1}]
        assert [len(list(misfits(Numbers(one), Pair, "pair"))) for one in told] == [0, 1, 1, 1]
    finally:
        del TOLD["types"]["Pair"]
