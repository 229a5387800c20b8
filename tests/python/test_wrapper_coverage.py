"""Everything compiled is reachable from the public package."""

from __future__ import annotations

import inspect
from pathlib import Path

import rootling as rl
from rootling import _core

DOMAINS = ("compare", "models", "rates", "tables", "trial", "units")


def test_the_compiled_domains_are_known() -> None:
    found = {name for name in dir(_core) if inspect.ismodule(getattr(_core, name))}
    assert found == set(DOMAINS)


def test_every_compiled_function_has_a_public_wrapper() -> None:
    text = "\n".join(path.read_text(encoding="utf-8") for path in Path(rl.__file__).parent.glob("*.py"))
    missing = []
    for domain in DOMAINS:
        for name, made in vars(getattr(_core, domain)).items():
            if inspect.isbuiltin(made) and not name.startswith("_") and f"_core.{domain}.{name}(" not in text:
                missing.append(f"{domain}.{name}")
    assert not missing


def test_every_member_of_a_compiled_class_is_used() -> None:
    text = "\n".join(path.read_text(encoding="utf-8") for path in Path(rl.__file__).parent.glob("*.py"))
    for made in (_core.trial.Trial, _core.models.Model):
        unused = [name for name in vars(made) if not name.startswith("_") and f"._core.{name}" not in text]
        assert not unused


def test_public_names_have_docstrings() -> None:
    for name in rl.__all__:
        assert inspect.getdoc(getattr(rl, name)), name
    for module in (rl.rates, rl.compare, rl.tables, rl.models, rl.trial, rl.units, rl.demo, rl.report):
        for name in module.__all__:
            assert inspect.getdoc(getattr(module, name)), f"{module.__name__}.{name}"
