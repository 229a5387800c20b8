"""Runs every check of the project: python3 tests/run.py

Needs Rust and Python, and the network the first time. Stops at the first step that fails.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

import _setup
from _setup import ROOT, Steps, venv_tool

RUST_COUNTS = re.compile(r"test result: \w+\. (\d+) passed; (\d+) failed")
PYTHON_COUNTS = re.compile(r"(\d+) (passed|failed|error|errors)\b")


def features(steps: Steps, *options: str) -> dict[str, set[str]]:
    """The feature sets in which each crate is compiled."""
    tree = ["cargo", "tree", "--locked", "--prefix", "none", "--no-dedupe", "--format", "{p}\t{f}"]
    found: dict[str, set[str]] = {}
    for line in steps.run([*tree, *options]).splitlines():
        package, tab, named = line.partition("\t")
        if tab and not package.startswith("rootling "):
            found.setdefault(package, set()).add(named)
    return found


def one_feature_set(steps: Steps) -> None:
    """Bindings and tests must not change a feature of a crate that the plain library uses: it would be compiled twice."""
    steps.begin("One feature set")
    plain = features(steps, "--edges", "normal,build")
    others = {
        "the bindings": features(steps, "--edges", "normal,build", "--features", "python"),
        "the tests": features(steps, "--edges", "normal,build,dev"),
    }
    changed = [
        "{}: {} want {}".format(package, who, " and ".join(sorted(other[package] - named)) or "fewer features")
        for who, other in others.items()
        for package, named in plain.items()
        if other.get(package, set()) != named
    ]
    if changed:
        steps.fail("\n".join(changed), 'these crates would be compiled twice; see DEVELOPERS.md, "Compile polars once"')
    steps.done("{} crates".format(len(plain)))


def rust_tests(steps: Steps, name: str, options: list[str]) -> int:
    """Runs cargo test and counts what passed."""
    steps.begin(name)
    text = steps.run(["cargo", "test", "--release", "--locked", *options], check=False)
    counts = RUST_COUNTS.findall(text)
    passed, failed = (sum(int(count[side]) for count in counts) for side in (0, 1))
    if failed or not counts or re.search(r"(?m)^error(\[|:)", text):
        steps.fail(text, "{} passed, {} failed".format(passed, failed) if counts else "it does not compile")
    steps.done("{} passed".format(passed))
    return passed


def python_tests(steps: Steps) -> int:
    """Runs pytest and counts what passed."""
    steps.begin("Python tests")
    command = [venv_tool("python"), "-m", "pytest", "tests/python", "-p", "no:cacheprovider"]
    text = steps.run(command, check=False)
    last = text.strip().splitlines()[-1] if text.strip() else ""
    counts = {word.rstrip("s"): int(number) for number, word in PYTHON_COUNTS.findall(last)}
    failed = counts.get("failed", 0) + counts.get("error", 0)
    passed = counts.get("passed", 0)
    if failed or not passed:
        steps.fail(text, "{} passed, {} failed".format(passed, failed))
    steps.done("{} passed".format(passed))
    return passed


def plain_step(steps: Steps, name: str, *commands: list[str], hint: str = "") -> None:
    """A step that only has to succeed."""
    steps.begin(name)
    for command in commands:
        steps.run(command, hint=hint)
    steps.done()


def main() -> None:
    """All steps in order: what is quick first, then what needs polars."""
    _setup.check_python()
    rust = _setup.check_rust()
    print("Rust {}, Python {}.{}; compiled code goes to {}".format(rust, *sys.version_info[:2], _setup.target_folder()))
    steps = Steps(total=11)
    python = venv_tool("python")
    _setup.prepare_venv(steps, ROOT / "tests" / "requirements.txt")
    one_feature_set(steps)
    plain_step(
        steps,
        "Rust layout",
        ["cargo", "fmt", "--check"],
        hint="run `cargo fmt` (if it is missing: `rustup component add rustfmt`)",
    )
    ruff = [python, "-m", "ruff"]
    plain_step(
        steps,
        "Python layout and notebooks",
        [*ruff, "check", "."],
        [*ruff, "format", "--check", "."],
        [python, "tests/_notebooks.py"],
    )
    passed = rust_tests(steps, "Rust tests", ["--lib", "--test", "rust"])
    passed += rust_tests(steps, "Rust examples", ["--doc"])
    plain_step(
        steps,
        "Rust lints",
        ["cargo", "clippy", "--release", "--locked", "--all-targets", "--features", "python", "--", "-D", "warnings"],
        hint="clippy has something to say (if it is missing: `rustup component add clippy`)",
    )
    _setup.build_wheel(steps)
    plain_step(steps, "Python types", [python, "-m", "mypy"])
    passed += python_tests(steps)
    plain_step(steps, "Demo notebooks and report", [python, "notebooks-demo/make.py"])
    print("{} passed, 0 failed".format(passed))


if __name__ == "__main__":
    sys.exit(_setup.guarded(main))
