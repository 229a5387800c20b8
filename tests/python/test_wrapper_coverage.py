"""Everything compiled is reachable from the public package."""

from __future__ import annotations

import inspect
from pathlib import Path
from typing import Any

import pytest
import rootling as rl
from rootling import _core

DOMAINS = (
    "compare",
    "curves",
    "decide",
    "grades",
    "layout",
    "models",
    "plan",
    "rates",
    "report",
    "responses",
    "seasons",
    "steps",
    "tables",
    "trial",
    "units",
    "watch",
)


def test_the_compiled_domains_are_known() -> None:
    found = {name for name in dir(_core) if inspect.ismodule(getattr(_core, name))}
    # What options accept is for the tests, and for whoever writes the types of options.
    assert found == {*DOMAINS, "choices"}


def _sources() -> str:
    return "\n".join(path.read_text(encoding="utf-8") for path in Path(rl.__file__).parent.rglob("*.py"))


def _public(domain: str) -> dict[str, Any]:
    return {name: made for name, made in vars(getattr(_core, domain)).items() if not name.startswith("_")}


@pytest.mark.parametrize("domain", DOMAINS)
def test_every_compiled_function_has_a_public_wrapper(domain: str) -> None:
    functions = [name for name, made in _public(domain).items() if inspect.isbuiltin(made)]
    assert functions
    assert [name for name in functions if f"_core.{domain}.{name}(" not in _sources()] == []


@pytest.mark.parametrize("domain", DOMAINS)
def test_only_functions_and_classes_are_compiled(domain: str) -> None:
    assert all(inspect.isbuiltin(made) or inspect.isclass(made) for made in _public(domain).values())


def test_every_member_of_a_compiled_class_is_used() -> None:
    classes = [made for domain in DOMAINS for made in _public(domain).values() if inspect.isclass(made)]
    assert {made.__name__ for made in classes} == {"Curves", "Steps", "StepsTable", "Trial", "Model", "Visits", "Watch"}
    sources = _sources()
    for made in classes:
        names = [name for name in vars(made) if not name.startswith("_")]
        # A trial and a model keep theirs as `_core`; a curve that was read back is fitted when it is asked.
        assert [one for one in names if f"._core.{one}" not in sources and f"._fitted().{one}(" not in sources] == []


def test_public_names_have_docstrings() -> None:
    for name in rl.__all__:
        assert inspect.getdoc(getattr(rl, name)), name
    for module in (
        rl.rates,
        rl.compare,
        rl.curves,
        rl.tables,
        rl.models,
        rl.plan,
        rl.trial,
        rl.units,
        rl.demo,
        rl.plan,
        rl.report,
        rl.watch,
    ):
        for name in module.__all__:
            assert inspect.getdoc(getattr(module, name)), f"{module.__name__}.{name}"
