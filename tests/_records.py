"""Writes the schema of records, and samples of this version's: .venv/bin/python tests/_records.py

The schema is made from ``tests/kinds.json``, which a test of the core writes, so it cannot drift from what they hold.
Samples of a version stay as they are once the next version is out: a test reads them all.
"""

from __future__ import annotations

import json
import sys
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
KINDS = ROOT / "tests" / "kinds.json"
SCHEMA = ROOT / "python" / "rootling" / "_results" / "records.schema.json"
SAMPLES = ROOT / "tests" / "python" / "records"
# A field more leaves it; a field less, or one that means something else, is the next one.
VERSION = 1
# Kinds of the core that are no records.
PARTS = ("design", "made_with")
NUMBER = {
    "description": "A number; infinite ones are spelled, and one that is none is null. non_finite lists where.",
    "anyOf": [{"type": "number"}, {"enum": ["inf", "-inf"]}, {"type": "null"}],
}
TEXTS = {"type": "array", "items": {"type": "string"}}
COLUMN = {
    "description": "A column of the table; a scale says what its entries are, one for all or one for each row.",
    "type": "object",
    "properties": {
        "name": {"type": "string"},
        "kind": {"enum": ["text", "whole", "number"]},
        "values": {
            "type": "array",
            "items": {"anyOf": [{"type": "string"}, {"$ref": "#/$defs/number"}]},
        },
        "scale": {"anyOf": [{"type": "string"}, TEXTS]},
        "unit": {"type": "string"},
        "head": {"type": "string"},
    },
    "required": ["name", "kind", "values"],
}
FACES: dict[str, Any] = {
    "table": {"type": "object", "properties": {"columns": {"type": "array", "items": {"$ref": "#/$defs/Column"}}}},
    "sentence": {"type": "string"},
    "details": TEXTS,
    "notes": {"type": "array", "items": {"$ref": "#/$defs/Note"}},
    "methods": {"type": "string"},
    "references": TEXTS,
    "made_with": {"$ref": "#/$defs/MadeWith"},
}
# The package's own, of questions without data: the core does not know it.
ASKED = {
    "description": "What was asked where no data say it: the question and its arguments, as rl.verify asks it again.",
    "type": "object",
    "properties": {"question": {"type": "string"}, "arguments": {"type": "object"}},
    "required": ["question", "arguments"],
}
# The package's own, too: what was told of the trial with about=.
TOLD = {
    "description": "What was told of the trial and no column holds, by its name in about=.",
    "type": "object",
    "additionalProperties": {"type": "string"},
}
PLACES = {
    "description": "The places of numbers that JSON cannot hold, each by the names and positions that lead there.",
    "type": "array",
    "items": {"type": "array", "items": {"type": ["string", "integer"]}},
}


def spelled(schema: Any) -> Any:
    """A schema whose numbers may be spelled."""
    if isinstance(schema, list):
        return [spelled(one) for one in schema]
    if not isinstance(schema, dict):
        return schema
    kinds = schema.get("type")
    if kinds == "number" or (isinstance(kinds, list) and "number" in kinds):
        told = {"description": schema["description"]} if "description" in schema else {}
        return {**told, "$ref": "#/$defs/number"}
    return {name: spelled(one) for name, one in schema.items()}


def record_of(kind: str, root: dict[str, Any]) -> dict[str, Any]:
    """What a record of a kind holds: its numbers, and beside them the faces of every result."""
    beside = {"data_fingerprint": {"type": ["string", "null"]}} if kind == "model" else FACES
    return {
        "description": root.get("description", kind),
        "type": "object",
        "properties": {"kind": {"const": kind}, **root["properties"], **beside, "non_finite": PLACES},
        "required": ["kind", *root["required"], *beside],
    }


def schema() -> dict[str, Any]:
    """The schema of every kind of record."""
    told = json.loads(KINDS.read_text(encoding="utf-8"))
    types = spelled(told["types"])
    types["MadeWith"]["properties"] |= {"asked": ASKED, "about": TOLD}
    records = {kind: record_of(kind, types[root]) for _, kind, root in told["kinds"] if kind not in PARTS}
    chosen = [
        {"if": {"properties": {"kind": {"const": kind}}}, "then": {"$ref": f"#/$defs/record {kind}"}}
        for kind in records
    ]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:rootling:records:{VERSION}",
        "title": "Records of rootling",
        "description": "What to_json() of a result, of a model and of a plan writes.",
        "version": VERSION,
        "type": "object",
        "properties": {"kind": {"enum": list(records)}},
        "required": ["kind"],
        "allOf": chosen,
        "$defs": {
            "number": NUMBER,
            "Column": COLUMN,
            **types,
            **{f"record {kind}": one for kind, one in records.items()},
        },
    }


def schema_text() -> str:
    """The schema as it is published: one part a line."""
    whole = schema()
    parts = whole.pop("$defs")
    head = json.dumps(whole, ensure_ascii=False)[:-1]
    lines = ",\n".join(f"{json.dumps(name)}: {json.dumps(one, ensure_ascii=False)}" for name, one in parts.items())
    return f'{head}, "$defs": {{\n{lines}\n}}}}\n'


def asked() -> Iterator[tuple[str, Any, Any]]:
    """Samples by name, with what each was asked of."""
    import rootling as rl

    plain = {"rooted": "rooted", "stuck": "stuck", "tray": "tray", "block": "bench"}
    several = rl.load_trial(rl.demo.factorial(seed=1), **plain, treatments=["strength", "dark_days", "rootstock"])
    strengths = rl.load_trial(
        rl.demo.strengths(seed=1),
        **plain,
        treatments=["strength", "rootstock"],
        strength=rl.Strength("IBA", unit="mg/L", method="quick dip"),
    )
    model = several.model(["strength", "rootstock"])
    curve = strengths.strength_curve(at={"rootstock": "K12"}, shape="hump")
    yield "comparison", several.compare("strength", 0, 5000, at={"rootstock": "K12"}, margin=0.1), several
    yield "take_rates", several.take_rates(["strength", "rootstock"], confidence=0.9), several
    yield "association", several.association("rootstock", method="randomisation", seed=3), several
    yield "all_comparisons", several.compare_all("strength", against=0, together="hochberg"), several
    yield "model", model, several
    yield "contrasts", model.contrasts("strength", within="rootstock", average="as-stuck", seed=2), model
    yield "bootstrap_test", model.bootstrap_test("rootstock", draws=99, seed=5), model
    yield "strength_curve", curve, strengths
    yield "strengths_for", curve.strength_for(0.6), curve
    watch = rl.watch.load(
        rl.demo.weekly_batches(seed=1),
        batch="batch",
        started="started",
        alive="alive",
        set_date="set",
        reading_date="read",
        cultivars="rootstock",
        places="room",
    )
    baseline = watch.expected(until="2024-12-31")
    yield "baseline", baseline, watch
    yield "target_watched", watch.target(0.88, baseline), baseline
    rows = {"batch": ["b1", "b2", "b3"], "grafted": [50, 60, 40], "taken": [45, 52, 33], "rooted": [30, 31, 25]}
    steps = rl.steps.load(rows, batch="batch", steps=["grafted", "taken", "rooted"])
    yield "step_yields", steps.yields(draws=199, seed=4), steps
    yield "start_numbers", steps.to_start(200, assurance=0.9), steps
    yield "layout", rl.plan.layout("blocks", {"strength": [2500, 5000]}, blocks=6, stuck=20, seed=1), None


def main() -> None:
    """Writes both."""
    import rootling as rl

    SCHEMA.write_text(schema_text(), encoding="utf-8")
    folder = SAMPLES / rl.__version__
    folder.mkdir(parents=True, exist_ok=True)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name, result, _ in asked():
            (folder / f"{name}.json").write_text(result.to_json(indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
