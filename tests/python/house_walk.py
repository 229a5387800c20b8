"""Which file of the core imports which, read from the `use` lines and paths of its source."""

from __future__ import annotations

import re
from functools import cached_property
from pathlib import Path

Module = tuple[str, ...]

USE = re.compile(r"\b(pub(?:\([^)]*\))?\s+)?use\s+([^;]+);")
TESTS = re.compile(r"#\[cfg\(test\)\]\s*mod \w+ \{.*", re.DOTALL)
DEEPEST = 6


def expanded(tree: str) -> list[tuple[Module, str]]:
    """Every path of a `use` tree with the name it brings."""
    head, brace, inside = tree.strip().partition("{")
    start = tuple(part for part in head.strip().split("::") if part)
    if brace:
        parts = split(inside.rstrip().removesuffix("}"))
        return [(start + path, name) for part in parts for path, name in expanded(part)]
    path, _, name = head.partition(" as ")
    found = tuple(part.strip() for part in path.split("::"))
    return [(found, name.strip() or found[-1])]


def split(inside: str) -> list[str]:
    """The parts between commas that stand in no braces of their own."""
    parts, depth = [""], 0
    for sign in inside:
        depth += {"{": 1, "}": -1}.get(sign, 0)
        if sign == "," and depth == 0:
            parts.append("")
        else:
            parts[-1] += sign
    return [part for part in parts if part.strip()]


class Walk:
    """The files below a folder of source as modules, and what each imports."""

    def __init__(self, source: Path) -> None:
        self.files = {self.module(path.relative_to(source)): path for path in source.rglob("*.rs")}
        self.code = {module: self.without_tests(path) for module, path in self.files.items()}

    @staticmethod
    def module(path: Path) -> Module:
        """A file as its module; `mod.rs` is the folder, `lib.rs` the whole."""
        parts = path.with_suffix("").parts
        return parts[:-1] if parts[-1] in {"mod", "lib"} else parts

    @staticmethod
    def without_tests(path: Path) -> str:
        """The code of a file: no comments, no unit tests."""
        return TESTS.sub("", re.sub(r"//.*", "", path.read_text(encoding="utf-8")))

    @cached_property
    def handed_on(self) -> dict[tuple[Module, str], Module]:
        """Names that a module hands on from elsewhere, each with its path."""
        found: dict[tuple[Module, str], Module] = {}
        for module, code in self.code.items():
            for public, tree in USE.findall(code):
                if public:
                    found |= {(module, name): path for path, name in expanded(tree)}
        return found

    def resolved(self, module: Module, path: Module, depth: int = 0) -> Module | None:
        """The file in which a path ends that stands in a module; none outside the core."""
        at = module
        if path[0] not in {"crate", "super", "self"} and (*module, path[0]) not in self.files:
            return None
        for part in path:
            if part == "crate":
                at = ()
            elif part == "super":
                at = at[:-1]
            elif (*at, part) in self.files:
                at = (*at, part)
            elif (at, part) in self.handed_on and depth < DEEPEST:
                at = self.resolved(at, self.handed_on[at, part], depth + 1) or at
            elif part != "self":
                break
        return at

    def paths(self, module: Module) -> set[Module]:
        """Every path that a file names; what the map of a folder hands on is no import of its own."""
        is_map = self.files[module].name in {"mod.rs", "lib.rs"}
        code = self.code[module]
        found: set[Module] = set()
        for public, tree in USE.findall(code):
            if not (public and is_map):
                found.update(path for path, _ in expanded(tree))
        body = USE.sub("", code)
        found.update(tuple(path.split("::")) for path in re.findall(r"(?<![\w:])[a-z_]\w*(?:::\w+)+", body))
        return found

    def imports(self) -> dict[Module, set[Module]]:
        """Every file with the others that it imports."""
        known: dict[Module, set[Module]] = {}
        for module in self.files:
            ends = {self.resolved(module, path) for path in self.paths(module)}
            known[module] = {end for end in ends if end is not None and end != module and end in self.files}
        return known


def reached(known: dict[Module, set[Module]], start: Module) -> set[Module]:
    """All that is imported from a file on, directly or by others."""
    found: set[Module] = set()
    waiting = [start]
    while waiting:
        new = known[waiting.pop()] - found
        found |= new
        waiting.extend(new)
    return found


def circles(known: dict[Module, set[Module]]) -> list[set[Module]]:
    """The sets of files that import one another in a circle."""
    beyond = {module: reached(known, module) for module in known}
    found: list[set[Module]] = []
    for module in sorted(known):
        own = {other for other in beyond[module] if module in beyond[other]}
        if own and own not in found:
            found.append(own)
    return found
