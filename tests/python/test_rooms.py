"""The house of the package: rooms know only those on floors below, no modules import one another in a circle, each
folder has a map, and nothing but what is heavy is loaded late."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parents[2]
PACKAGE = HERE / "python" / "rootling"

# From the ground up; rooms of one floor do not know each other, folders and single files alike.
FLOORS = [
    {"_core"},
    {"_words"},
    {"_pages", "exceptions"},
    {"_figures", "_given"},
    {"_frames", "_results"},
    {"compare", "demo", "rates", "responses", "steps", "tables", "units", "watch"},
    {"curves", "models"},
    {"trial"},
    {"_loading"},
    {"plan", "seasons"},
    {"_again", "_guards", "report"},
    {"__init__"},
    {"command"},
    {"__main__"},
]
# Loaded within a function since they load a library that is heavy; nothing else is loaded late.
LATE = {
    "rootling._figures.paper": "matplotlib",
    "rootling._figures.ticks": "matplotlib",
}
LONGEST = 500


def modules() -> dict[str, Path]:
    """Every module of the package by its full name; a folder by that of its map."""
    found = {}
    for path in PACKAGE.rglob("*.py"):
        parts = ("rootling", *path.relative_to(PACKAGE).with_suffix("").parts)
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def room_of(module: str) -> str:
    return module.split(".")[1] if "." in module else "__init__"


def _nodes(tree: ast.AST, *, late: bool = False) -> Iterator[tuple[ast.stmt, bool]]:
    """Every import, and whether it waits in a function; what only type checkers read is left out."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            continue
        if isinstance(node, (ast.Import, ast.ImportFrom)):
            yield node, late
        yield from _nodes(node, late=late or isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda)))


def imports() -> Iterator[tuple[str, str, str, bool]]:
    """Module, what it imports of the package, by which name from there, and whether that waits in a function."""
    known = modules()
    for module, path in known.items():
        for node, late in _nodes(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                for one in node.names:
                    assert one.name.split(".")[0] != "rootling", f"{module} names the package by itself"
                continue
            assert isinstance(node, ast.ImportFrom)
            assert node.level == 0, f"{module} imports by dots"
            source = node.module or ""
            if source.split(".")[0] != "rootling":
                continue
            for one in node.names:
                part = f"{source}.{one.name}"
                yield module, part if part in known or part == "rootling._core" else source, one.name, late


def test_rooms_of_the_package_know_only_lower_floors() -> None:
    assert {room_of(module) for module in modules()} | {"_core"} == set().union(*FLOORS)
    height = {room: at for at, floor in enumerate(FLOORS) for room in floor}
    for module, known, _, _ in imports():
        own, other = room_of(module), room_of(known)
        assert own == other or height[other] < height[own], f"{module} looks up to {known}"


def test_modules_of_the_package_import_each_other_in_no_circle() -> None:
    left: dict[str, set[str]] = {module: set() for module in modules()}
    for module, known, _, _ in imports():
        if known in left and known != module:
            left[module].add(known)
    while left:
        free = {module for module, known in left.items() if not known & set(left)}
        assert free, f"a circle among {sorted(left)}"
        left = {module: known for module, known in left.items() if module not in free}


def test_only_what_is_heavy_is_loaded_late() -> None:
    late = {(module, known) for module, known, _, waits in imports() if waits}
    assert {known for _, known in late} == set(LATE)
    for heavy, library in LATE.items():
        nodes = _nodes(ast.parse(modules()[heavy].read_text(encoding="utf-8")))
        loaded = {
            (node.module or "").split(".")[0] for node, waits in nodes if isinstance(node, ast.ImportFrom) and not waits
        }
        assert library in loaded, f"{heavy} may be loaded at once"


def exported(path: Path) -> list[str]:
    """The names in ``__all__``."""
    found: list[str] = []
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, (ast.Assign, ast.AugAssign)):
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            if isinstance(target, ast.Name) and target.id == "__all__":
                found += [str(one.value) for one in ast.walk(node.value) if isinstance(one, ast.Constant)]
    return found


def maps() -> dict[str, Path]:
    return {module: path for module, path in modules().items() if path.name == "__init__.py" and path.parent != PACKAGE}


@pytest.mark.parametrize("room", maps())
def test_a_folder_has_a_map(room: str) -> None:
    path = maps()[room]
    names = exported(path)
    assert names
    assert len(names) == len(set(names))
    text = path.read_text(encoding="utf-8")
    first, *rest = ast.parse(text).body
    assert isinstance(first, ast.Expr), "a map begins with what the room is for"
    assert all(isinstance(node, (ast.ImportFrom, ast.Assign, ast.AugAssign)) for node in rest), "a map holds no code"
    files = {one.stem for one in path.parent.glob("*.py")} - {"__init__"}
    assert {one for one in files if f"``{one}``" not in text} == set(), "files that stand in no line of the map"


def test_a_room_is_entered_by_its_map() -> None:
    names = {module: set(exported(path)) for module, path in maps().items()}
    for module, known, name, _ in imports():
        if room_of(module) == room_of(known) or room_of(known) == "_core":
            continue
        parts = known.split(".")
        room = ".".join(parts[:2])
        if (room in names and name != parts[-1]) or len(parts) > 2:
            shown = parts[2] if len(parts) > 2 else name
            assert shown in names[room], f"{module} takes {shown} from {room}, whose map does not show it"


def test_files_of_the_package_are_short() -> None:
    long = {module: len(path.read_text(encoding="utf-8").splitlines()) for module, path in modules().items()}
    assert {module: lines for module, lines in long.items() if lines > LONGEST} == {}


def test_the_tree_for_contributors_names_every_room() -> None:
    told = (HERE / "DEVELOPERS.md").read_text(encoding="utf-8")
    tree = told.split("## The tree", 1)[1].split("\n## ", 1)[0].split("python/rootling/", 1)[1]
    for room in sorted({room_of(module) for module in modules()} - {"__init__"}):
        assert re.search(rf"\b{room}(/|\.py)", tree), f"{room} stands in no line of the tree"


def test_no_public_name_is_exported_twice() -> None:
    homes: dict[str, list[str]] = {}
    for module, path in sorted(modules().items()):
        # What stands deeper is shown by the map of its room.
        if module.count(".") == 1 and not room_of(module).startswith("_"):
            for name in exported(path):
                homes.setdefault(name, []).append(module)
    # A record of batches and one of steps are each loaded in their own room.
    twice = {name: of for name, of in homes.items() if len(of) > 1 and name != "load"}
    assert homes["load"] == ["rootling.steps", "rootling.watch"]
    assert not twice
