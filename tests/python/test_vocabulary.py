"""One vocabulary: names that were replaced stand in no field, column, option, stub, example or page any more."""

from __future__ import annotations

import ast
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
NUMBERS = {**REPLACED, "adjusted_p": "p_adjusted"}
FIELDS = {
    **NUMBERS,
    "provenance": "made_with",
    "aliased": "inseparable",
    "icc_by": "correlation_by",
    "link_test": "link_check",
    "adjust": "together",
    "less": "p_lower",
    "greater": "p_higher",
    "figure": "what",
}
CLASSES = {
    "EffectTests": "WhatMatters",
    "Diagnostics": "Checks",
    "NextTrial": "NextStrengths",
    "DoseError": "CurveError",
    "SmallSampleWarning": "FewTraysWarning",
    "ApproximationWarning": "(none)",
    "Provenance": "MadeWith",
    "Aliased": "Inseparable",
    "LinkTest": "LinkCheck",
}
QUESTIONS = {
    "effect_tests": "what_matters",
    "diagnostics": "checks",
    "next_trial": "next_strengths",
    "provenance": "made_with",
    "fit_record": "how_fitted",
    "figures": "numbers",
}
OPTIONS = {
    "level": "confidence",
    "adjust": "together",
    "icc_by": "correlation_by",
    "of": "rate_of",
    "shift": "zero_scale",
    "share": "enough",
    "bootstrap": "draws",
    "factor": "treatment",
}
VALUES = {
    "quasi": "dispersion",
    "cloglog": "complementary-log-log",
    "loglog": "log-log",
    "population": "all-trays",
    "equal": "alike",
    "observed": "as-stuck",
    "pairwise": "all-pairs",
    "consecutive": "steps",
    "set_aside": "set-aside",
}
CODES = {
    "chemical": "read_the_label",
    "best_strength": "tested_range_only",
    "two_levels": "ask_compare",
    "precision": "wide_interval",
    "aliased": "inseparable",
}


NOW = FIELDS | CLASSES | QUESTIONS | OPTIONS | VALUES | CODES


def _any(names: dict[str, str]) -> str:
    return "|".join(sorted(names, key=len, reverse=True))


def _found(path: Path, pattern: str, text: str) -> Iterator[str]:
    for line, content in enumerate(text.splitlines(), start=1):
        for old in re.findall(pattern, content):
            yield f"{path.relative_to(HERE)}:{line}: {old}, now {NOW[old]}"


def test_no_public_field_or_column_of_the_core_has_an_old_name() -> None:
    inner, field = rf"^\s*pub(?:\([a-z]+\))? ({_any(NUMBERS)}):", rf"^\s*pub ({_any(FIELDS)}):"
    name, column = rf'"({_any(NUMBERS)})"', rf'\.(?:text|number|maybe|whole)\("({_any(FIELDS)})"'
    code = rf'Note::new\(\s*"({_any(CODES)})"'
    kind = rf"\b(?:struct|enum) ({_any(CLASSES)})\b"
    found = []
    for path in sorted((HERE / "src").rglob("*.rs")):
        text = path.read_text(encoding="utf-8")
        found += [one for pattern in (inner, field, name, column, code, kind) for one in _found(path, pattern, text)]
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


def _python_names(tree: ast.Module) -> Iterator[tuple[int, str, dict[str, str]]]:
    """Names of public functions, their options, and classes, each with the words that were replaced in its place."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ClassDef):
            yield node.lineno, node.name, CLASSES
        elif isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node.lineno, node.name, QUESTIONS
            for argument in [*node.args.args, *node.args.kwonlyargs]:
                yield argument.lineno, argument.arg, OPTIONS


def test_classes_questions_and_options_have_new_names() -> None:
    found = []
    public = sorted((HERE / "python" / "rootling").rglob("*.py"))
    for path in public:
        for line, name, replaced in _python_names(ast.parse(path.read_text(encoding="utf-8"))):
            drawing = name == "effect_tests" or path.parent.name == "_figures"
            if name in replaced and not drawing:
                found.append(f"{path.name}:{line}: {name}, now {replaced[name]}")
    assert not found, "\n".join(found)


def test_no_option_takes_an_old_value() -> None:
    text = (HERE / "python" / "rootling" / "_given" / "choices.py").read_text(encoding="utf-8")
    given = {node.value for node in ast.walk(ast.parse(text)) if isinstance(node, ast.Constant)}
    assert not given & set(VALUES)
