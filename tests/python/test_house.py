"""The house of the core: rooms know only those on floors below, files of a room import one another in no circle, and
the tree in DEVELOPERS.md names every room."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from house_walk import Walk, circles

HERE = Path(__file__).resolve().parents[2]
SOURCE = HERE / "src"

# From the ground up; rooms of one floor do not know each other.
FLOORS = [
    {"answer", "error"},
    {"choice"},
    {"control", "estimate", "report"},
    {"math", "units"},
    {"layers"},
    {"trial"},
    {"rates"},
    {"counts", "layout", "models", "simulate"},
    {"checks", "effects"},
    {"compare", "model_tests", "prediction"},
    {"curves", "responses", "seasons", "steps", "tables", "watch"},
    {"plan"},
    {"prelude"},
    {"bindings", "kinds"},
]

# The folders of a room, from the ground up; each knows those before it alone.
FOLDERS = {
    "math": ["special", "sparse", "dense", "search", "distributions", "design", "regression"],
    "models": ["enter", "design", "errors", "laws", "kept", "fit", "asked", "words"],
    "curves": ["shape", "input", "fit", "find", "told", "damage", "surface", "next"],
}


def rooms() -> dict[str, set[str]]:
    """Every room of the core with those that it names."""
    names = {path.stem if path.is_file() else path.name for path in SOURCE.iterdir()} - {"lib"}
    known: dict[str, set[str]] = {name: set() for name in names}
    for path in SOURCE.rglob("*.rs"):
        own = path.relative_to(SOURCE).parts[0].removesuffix(".rs")
        code = re.sub(r"//.*", "", path.read_text(encoding="utf-8"))
        for listed, single in re.findall(r"\bcrate::(?:\{([^;]*?)\}\s*;|(\w+))", code):
            for name in re.findall(r"(?:^|,)\s*(\w+)", listed) if listed else [single]:
                if own in known and name in names and name != own:
                    known[own].add(name)
    return known


def test_rooms_of_the_core_know_only_lower_floors() -> None:
    found = rooms()
    assert set(found) == set().union(*FLOORS)
    below: set[str] = set()
    for floor in FLOORS:
        for room in floor:
            assert found[room] <= below, f"{room} looks up to {sorted(found[room] - below)}"
        below |= floor


@pytest.mark.parametrize("room", FOLDERS)
def test_folders_of_a_room_know_only_those_before_them(room: str) -> None:
    folders = FOLDERS[room]
    assert {path.name for path in (SOURCE / room).iterdir() if path.is_dir()} == set(folders)
    for above, folder in enumerate(folders):
        for path in (SOURCE / room / folder).rglob("*.rs"):
            code = re.sub(r"//.*", "", path.read_text(encoding="utf-8"))
            named = set(re.findall(rf"\bcrate::{room}::(\w+)", code))
            assert named <= set(folders[: above + 1]), f"{path.relative_to(SOURCE)} looks up to {sorted(named)}"


def circles_of_files(source: Path) -> list[set[str]]:
    """The circles of files of a core, each file by its place below the source."""
    found = circles(Walk(source).imports())
    return [{"/".join(module) for module in circle} for circle in found]


def test_files_of_a_room_import_each_other_in_no_circle() -> None:
    assert circles_of_files(SOURCE) == []


@pytest.mark.parametrize(
    ("upper", "map_of_room"),
    [
        ("use super::words;\nuse crate::room::lower::{self, Thing as Other};", "mod words;"),
        ("use super::{Said, lower};", "pub use words::Said;"),
        ("fn told() -> f64 { super::words::said() }", "pub(crate) use lower::Number;\nuse words::Said;"),
        ("pub use crate::room::words::{\n    Said,\n    Told,\n};", "pub use lower::Number;"),
    ],
)
def test_the_walk_sees_a_circle_however_it_is_imported(tmp_path: Path, upper: str, map_of_room: str) -> None:
    room = tmp_path / "room"
    room.mkdir()
    (tmp_path / "lib.rs").write_text("pub mod room;\npub use room::Said;\n", encoding="utf-8")
    (room / "mod.rs").write_text(f"//! A map.\nmod lower;\nmod upper;\nmod words;\n{map_of_room}\n", encoding="utf-8")
    (room / "lower.rs").write_text("// use super::upper;\npub struct Number;\n", encoding="utf-8")
    (room / "upper.rs").write_text(upper, encoding="utf-8")
    (room / "words.rs").write_text("use super::lower::Number;\n", encoding="utf-8")
    assert circles_of_files(tmp_path) == []
    tests = "#[cfg(test)]\nmod tests {\n    use super::super::upper;\n}\n"
    (room / "words.rs").write_text(f"use super::lower::Number;\n{tests}", encoding="utf-8")
    assert circles_of_files(tmp_path) == []
    (room / "words.rs").write_text("fn back() { crate::room::upper::told(); }\n", encoding="utf-8")
    assert circles_of_files(tmp_path) == [{"room/upper", "room/words"}]


def test_the_walk_sees_a_map_that_holds_code(tmp_path: Path) -> None:
    (tmp_path / "room").mkdir()
    (tmp_path / "room" / "mod.rs").write_text("mod part;\nfn whole() { part::told(); }\n", encoding="utf-8")
    (tmp_path / "room" / "part.rs").write_text("use super::whole;\n", encoding="utf-8")
    assert circles_of_files(tmp_path) == [{"room", "room/part"}]


def test_no_map_hands_on_whatever_a_file_holds() -> None:
    for path in SOURCE.rglob("*.rs"):
        found = re.findall(r"^pub(?:\([^)]*\))? use .*\*;", path.read_text(encoding="utf-8"), re.MULTILINE)
        assert not found, f"{path.relative_to(HERE)}: {found}"


def test_the_tree_for_contributors_names_every_room() -> None:
    told = (HERE / "DEVELOPERS.md").read_text(encoding="utf-8")
    tree = told.split("## The tree", 1)[1].split("\n## ", 1)[0]
    for room in sorted(rooms()):
        assert re.search(rf"\b{room}(/|\.rs)", tree), f"{room} stands in no line of the tree"


# What a program asks, and what it asks with: each that can be called has an example, which the tests of docs run.
ASKED = ("Trial", "Model", "FittedCurves", "LoadOptions", "ModelSpec", "RateOptions", "Strength", "Outcome", "Control")
ANSWERED = ("Answer", "Note", "Sheet", "Count")


def verbs() -> Iterator[tuple[str, str]]:
    """Every public method of those types by its name, with what its docs say."""
    types = "|".join((*ASKED, *ANSWERED))
    blocks = re.compile(rf"^impl(?:<\w+>)? ({types})(?:<\w+>)? \{{$(.*?)^\}}$", re.MULTILINE | re.DOTALL)
    methods = re.compile(r"((?:^    (?:///|#\[).*\n)*)^    pub (?:const )?fn (\w+)", re.MULTILINE)
    for path in SOURCE.rglob("*.rs"):
        for block in blocks.finditer(path.read_text(encoding="utf-8")):
            yield from ((f"{block[1]}::{one[2]}", one[1]) for one in methods.finditer(block[2]))


def test_every_verb_has_an_example() -> None:
    told = dict(verbs())
    assert {name.split("::")[0] for name in told} == {*ASKED, *ANSWERED}
    assert len(told) > 90
    assert sorted(name for name, docs in told.items() if "```" not in docs) == []
