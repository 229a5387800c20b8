"""Stored records of versions, and the schema that all records keep to."""

from __future__ import annotations

import copy
import json
import sys
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import rootling as rl
from every_kind import several
from rootling._results import KINDS, Result
from test_sentences import SETS

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import _records

STORED = sorted(path for path in (Path(__file__).parent / "records").glob("*/*.json"))


@pytest.mark.parametrize("path", STORED, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_a_stored_record_is_read(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    kind = rl.models.Model if json.loads(text)["kind"] == "model" else rl.Result
    read: Any = kind.from_json(text)
    assert read.sentence
    assert read.table().height
    assert read.plot().axes
    if kind is rl.Result:
        assert json.loads(read.to_json()) == json.loads(text)
    jsonschema.Draft202012Validator(rl.record_schema()).validate(json.loads(text))


def test_stored_records_come_out_again() -> None:
    newest = max((path.parent for path in STORED), key=lambda folder: [int(one) for one in folder.name.split(".")])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name, _, data in _records.asked():
            found = rl.verify(newest / f"{name}.json", data)
            assert found.agrees, (name, found)


def test_the_schema_is_written_from_the_core() -> None:
    text = _records.SCHEMA.read_text(encoding="utf-8")
    assert text == _records.schema_text(), "run python tests/_records.py"
    schema = rl.record_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    assert set(schema["properties"]["kind"]["enum"]) == {*KINDS, "model"}
    assert schema["$id"].endswith(f":{schema['version']}")


def records() -> Iterator[dict[str, Any]]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for ask in SETS.values():
            for one in ask():
                if isinstance(one, Result):
                    text = one.to_json()
                    assert Result.from_json(text).to_json() == text
                    yield json.loads(text)


def test_records_of_every_kind_are_as_the_schema_says() -> None:
    schema = rl.record_schema()
    seen = set()
    # Each kind by its own part: all kinds at once would be tried one after the other.
    judges = {
        kind: jsonschema.Draft202012Validator({"$ref": f"#/$defs/record {kind}", "$defs": schema["$defs"]})
        for kind in KINDS
    }
    for record in records():
        judges[record["kind"]].validate(record)
        seen.add(record["kind"])
    assert seen == set(KINDS)


def test_the_schema_refuses_what_is_no_record() -> None:
    judge = jsonschema.Draft202012Validator(rl.record_schema())
    record = json.loads(several().compare("strength", 0, 5000).to_json())
    assert judge.is_valid(record)
    for change in ({"kind": "harvest"}, {"value": "much"}, {"first": {}}, {"sentence": None}, {"made_with": {}}):
        assert not judge.is_valid({**copy.deepcopy(record), **change}), change
    assert not judge.is_valid({name: one for name, one in record.items() if name != "p"})


def test_a_record_without_what_was_added_later_is_read(tmp_path: Path) -> None:
    """Standard errors, what methods rest on and what treatments were given to: earlier records have none of it."""
    trial = several()
    for asked in (trial.compare("strength", 0, 5000), trial.take_rates("strength"), trial.compare_all("strength")):
        record = asked.to_dict()
        for part in (record, record.get("first"), record.get("second"), *(record.get("rates") or ())):
            if isinstance(part, dict):
                part.pop("se", None)
        for name in ("rests_on", "given_to", "about"):
            record["made_with"].pop(name, None)
        read = Result.from_dict(record)
        assert read.sentence == asked.sentence
        assert read.caption.startswith(asked.sentence)
        for ending in (".html", ".docx", ".md", ".tex"):
            assert rl.report.write(read, tmp_path / f"r{ending}", overwrite=True).exists()
        found = rl.verify(read, trial)
        assert (found.agrees, found.differences) == (True, ())
