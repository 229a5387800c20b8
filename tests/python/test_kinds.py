"""Every kind of result has all faces: one entry of the registry with its class, figure and question."""

from __future__ import annotations

import inspect
import re

import pytest
import rootling as rl
from rootling import _figures
from rootling._results import KINDS, Faces, Result
from rootling._words import outcomes

# Names that a question can hold, beside the words of what was counted.
NAMES = {"unit", "first", "second", "factor", "by"}


def classes(parent: type[Result]) -> set[type[Result]]:
    """All classes of results that the package makes."""
    own = {one for one in parent.__subclasses__() if one.__module__.startswith("rootling.")}
    return own | {deeper for one in own for deeper in classes(one)}


def test_every_class_of_results_is_entered_once() -> None:
    assert len(KINDS) >= 35
    assert set(KINDS.values()) == classes(Result)
    assert all(made.kind == kind for kind, made in KINDS.items())


@pytest.mark.parametrize("kind", KINDS)
def test_a_kind_has_every_face(kind: str) -> None:
    faces = vars(KINDS[kind]).get("_faces")
    assert faces is not None, "the class has no faces of its own"
    assert inspect.isfunction(faces.figure)
    assert faces.figure.__module__.startswith(_figures.__name__)
    assert next(iter(inspect.signature(faces.figure).parameters)) == "result"
    assert faces.question.endswith("?")
    known = NAMES | set(outcomes.words("take"))
    assert set(re.findall(r"\{(\w+)\}", faces.question)) <= known


@pytest.mark.parametrize("kind", KINDS)
def test_a_kind_is_public(kind: str) -> None:
    made = KINDS[kind]
    homes = [module for module in map(rl.__dict__.get, rl.__all__) if inspect.ismodule(module)]
    assert any(getattr(home, made.__name__, None) is made and made.__name__ in home.__all__ for home in homes)


def test_a_face_cannot_be_left_out() -> None:
    with pytest.raises(TypeError, match="question"):
        Faces(figure=_figures.counts.p_values)  # type: ignore[call-arg]


def test_a_class_of_a_users_own_keeps_the_faces_of_its_kind() -> None:
    entry = KINDS["comparison"]
    try:

        class Mine(rl.compare.Comparison):
            """With something added."""

        assert KINDS["comparison"] is Mine
        assert Mine._faces is entry._faces
    finally:
        KINDS["comparison"] = entry
