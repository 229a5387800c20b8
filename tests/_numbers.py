"""Writes the types of numbers anew: python tests/_numbers.py

A test of the core writes ``tests/kinds.json``, the schema of every kind of record, from the types that hold the
numbers; from that this file makes ``python/rootling/_results/typed``. Tests compare each with what it is made from.
"""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Iterator
from keyword import iskeyword
from typing import Any

from _setup import ROOT, environment

KINDS = ROOT / "tests" / "kinds.json"
PLACE = ROOT / "python" / "rootling" / "_results" / "typed"
WIDTH = 120
PLAIN = {"string": "str", "number": "float", "integer": "int", "boolean": "bool", "null": "None"}
HEAD = '"""{what}, written by tests/_numbers.py from the core."""\n\nfrom __future__ import annotations\n'
ABOUT = {
    "rates": "Take rates and tray correlations as numbers",
    "compare": "Comparisons as numbers",
    "tables": "Tests of tables as numbers",
    "model": "A fitted model as numbers",
    "asked": "What a model answers as numbers",
    "curves": "Strength curves as numbers",
    "beside": "Damage, surfaces and next trials as numbers",
    "plan": "What a planned trial comes to as numbers",
    "watch": "What a watched crop answers as numbers",
    "steps": "The chain of steps, readers, early signs and times as numbers",
    "responses": "Means of responses, and two of them compared, as numbers",
    "means": "What a model of means answers as numbers",
    "seasons": "One difference over seasons as numbers",
    "decide": "A choice in money as numbers",
    "layout": "A plan of what goes where as numbers",
    "trial": "The design of a trial as numbers",
    "shared": "Numbers that several of these files hold",
}
# What a record holds and the numbers do not: it is asked for by a name of its own.
APART = {"Model": ("units", "notes")}
Schema = dict[str, Any]


def read() -> dict[str, Any]:
    """The kinds by room, name and type, and the types by name."""
    found: dict[str, Any] = json.loads(KINDS.read_text(encoding="utf-8"))
    for name, gone in APART.items():
        parts = found["types"][name]
        parts["required"] = [one for one in parts["required"] if one not in gone]
        parts["properties"] = {one: part for one, part in parts["properties"].items() if one not in gone}
    return found


def words(schema: Schema) -> list[str] | None:
    """The values of a choice; none where a type holds fields."""
    one_of = [part.get("const") for part in schema.get("oneOf", [])]
    return schema.get("enum") or (one_of if one_of and None not in one_of else None)


def refers(schema: Any) -> Iterator[str]:
    """The names of the types that a type holds."""
    if isinstance(schema, dict):
        if "$ref" in schema:
            yield schema["$ref"].rsplit("/", 1)[1]
        for part in schema.values():
            yield from refers(part)
    elif isinstance(schema, list):
        for part in schema:
            yield from refers(part)


def homes(told: dict[str, Any]) -> dict[str, str]:
    """Where each type stands: in the room that alone holds it, or with what is shared; choices by themselves."""
    types = told["types"]
    held: dict[str, set[str]] = {name: set() for name in types}
    for room, _, root in told["kinds"]:
        left = [root]
        while left:
            name = left.pop()
            if room not in held[name]:
                held[name].add(room)
                left.extend(refers(types[name]))
    found = {}
    for name, rooms in held.items():
        if not rooms:
            continue
        found[name] = "choices" if words(types[name]) else rooms.pop() if len(rooms) == 1 else "shared"
    return found


def hint(schema: Any, room: str, home: dict[str, str]) -> str:
    """The Python type of a field, as it stands in the file of a room."""
    if not isinstance(schema, dict) or not schema:
        return "Any"
    if "$ref" in schema:
        name = schema["$ref"].rsplit("/", 1)[1]
        return name if home[name] == room else f"{home[name]}.{name}"
    if "anyOf" in schema:
        return " | ".join(hint(part, room, home) for part in schema["anyOf"])
    kinds = schema.get("type", [])
    kinds = [kinds] if isinstance(kinds, str) else kinds
    return " | ".join(single(kind, schema, room, home) for kind in kinds) or "Any"


def single(kind: str, schema: Schema, room: str, home: dict[str, str]) -> str:
    """The Python type of one kind of value."""
    if kind == "array":
        if "prefixItems" in schema:
            return f"tuple[{', '.join(hint(part, room, home) for part in schema['prefixItems'])}]"
        inner = hint(schema.get("items"), room, home)
        size = schema.get("maxItems")
        same = size is not None and size == schema.get("minItems")
        return f"tuple[{', '.join([inner] * size)}]" if same else f"tuple[{inner}, ...]"
    if kind == "object":
        return f"Mapping[str, {hint(schema.get('additionalProperties'), room, home)}]"
    return PLAIN[kind]


def summary(schema: Schema, name: str) -> str:
    """The first sentence of what the core says of a type."""
    text = re.sub(r"\[`([^`]*)`\](\([^)]*\))?", r"\1", schema.get("description", "")).replace("`", "``")
    text = " ".join(text.split("\n\n")[0].split())
    first = re.split(r"(?<=[.?!]) (?=[A-Z])", text)[0] or f"{name}."
    return first if len(first) <= WIDTH - 10 else first[: WIDTH - 14].rsplit(" ", 1)[0].rstrip(",;:") + " ..."


def fields(schema: Schema, room: str, home: dict[str, str]) -> str:
    """The fields of a type in the order of the core, those that can be left out last."""
    properties = schema.get("properties", {})
    named = [*schema.get("required", []), *(one for one in properties if one not in schema.get("required", []))]
    # What is called like a word of the language is read by its name alone.
    spelled = [f'# numbers["{one}"]' if iskeyword(one) else one for one in named]
    lines = zip(spelled, named, strict=True)
    return "".join(f"    {shown}: {hint(properties[one], room, home)}\n" for shown, one in lines)


def classes(told: dict[str, Any], room: str, home: dict[str, str]) -> str:
    """The classes of one room; a kind has its fields apart, since its result has them too."""
    roots = {root for own, _, root in told["kinds"]}
    made = []
    for name, schema in told["types"].items():
        if home.get(name) != room:
            continue
        body = f'    """{summary(schema, name)}"""\n\n    __slots__ = ()\n\n{fields(schema, room, home)}'
        if name not in roots:
            made.append(f"class {name}(Numbers):\n{body}")
            continue
        made.append(f"class {name}Fields:\n{body}")
        made.append(f'class {name}({name}Fields, Numbers):\n    """The same, as numbers."""\n\n    __slots__ = ()\n')
    return "\n\n".join(made)


def module(told: dict[str, Any], room: str, home: dict[str, str]) -> str:
    """The file of one room."""
    text = classes(told, room, home)
    others = [one for one in ("choices", "shared") if one != room and re.search(rf"\b{one}\.", text)]
    lines = ["from collections.abc import Mapping\n"] if "Mapping[" in text else []
    lines += ["from typing import Any\n"] if re.search(r"\bAny\b", text) else []
    near = "from rootling._results.numbers import Numbers\n"
    near += f"from rootling._results.typed import {', '.join(sorted(others))}\n" if others else ""
    return HEAD.format(what=ABOUT[room]) + "\n" + "".join(lines) + ("\n" if lines else "") + near + "\n\n" + text


def choices(told: dict[str, Any], home: dict[str, str]) -> str:
    """The file of choices: one type each, on one line where it fits."""
    made = []
    for name, schema in told["types"].items():
        if home.get(name) == "choices":
            quoted = [f'"{value}"' for value in words(schema) or []]
            line = f"{name}: TypeAlias = Literal[{', '.join(quoted)}]\n"
            inner = f"    {', '.join(quoted)}\n"
            if len(line) > WIDTH + 1:
                inner = inner if len(inner) <= WIDTH + 1 else "".join(f"    {one},\n" for one in quoted)
                line = f"{name}: TypeAlias = Literal[\n{inner}]\n"
            made.append(line)
    head = HEAD.format(what="The words that numbers hold") + "\nfrom typing import Literal, TypeAlias\n\n"
    return head + "".join(made)


def texts() -> dict[str, str]:
    """Every file by its name."""
    told = read()
    home = homes(told)
    found = {f"{room}.py": module(told, room, home) for room in ABOUT}
    return {**found, "choices.py": choices(told, home)}


def main() -> None:
    """Asks the core for its types and writes those of Python."""
    command = ["cargo", "test", "--release", "--locked", "--no-default-features", "--lib", "the_types_of_records"]
    subprocess.run(command, check=True, cwd=ROOT, env={**environment(), "ROOTLING_WRITE": "1"})
    for name, text in texts().items():
        (PLACE / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
