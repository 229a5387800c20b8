"""One vocabulary: names that were replaced stand in no field, column, option, stub, example or page any more."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

HERE = Path(__file__).resolve().parents[2]

REPLACED = {
    "p_value": "p",
    "conf_low": "low",
    "conf_high": "high",
    "std_error": "se",
    "std_error_p": "p_error",
    "dof": "df",
    "dof_denominator": "error_df",
    "residual_dof": "error_df",
    "lack_dof": "lack_df",
    "lack_p_value": "lack_p",
    "null_deviance": "deviance_without_effects",
}
# As a column or field; the function that adjusts P values keeps its name.
FIELDS = {**REPLACED, "adjusted_p": "p_adjusted"}


def _any(names: dict[str, str]) -> str:
    return "|".join(sorted(names, key=len, reverse=True))


def _found(path: Path, pattern: str, text: str) -> Iterator[str]:
    for line, content in enumerate(text.splitlines(), start=1):
        for old in re.findall(pattern, content):
            yield f"{path.relative_to(HERE)}:{line}: {old}, now {FIELDS[old]}"


def test_no_public_field_or_column_of_the_core_has_an_old_name() -> None:
    field, column = rf"^\s*pub(?:\([a-z]+\))? ({_any(FIELDS)}):", rf'"({_any(FIELDS)})"'
    found = []
    for path in sorted((HERE / "src").rglob("*.rs")):
        text = path.read_text(encoding="utf-8")
        found += [*_found(path, field, text), *_found(path, column, text)]
    assert not found, "\n".join(found)


def test_python_speaks_the_new_words_alone() -> None:
    found = []
    pages = [HERE / "README.md", HERE / "DEVELOPERS.md"]
    package = sorted((HERE / "python").rglob("*.py*"))
    for path in [*pages, *(one for one in package if one.suffix in (".py", ".pyi"))]:
        found += _found(path, rf"(?<![\w-])({_any(REPLACED)})(?![\w(])", path.read_text(encoding="utf-8"))
    for path in sorted((HERE / "notebooks-demo").glob("*.ipynb")):
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        text = "\n".join("".join(cell["source"]) for cell in cells)
        found += _found(path, rf"(?<![\w-])({_any(REPLACED)})(?![\w(])", text)
    assert not found, "\n".join(found)
