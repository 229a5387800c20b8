"""Runs every check of the project: python3 tests/run.py

Needs Rust and Python, and the network the first time. Stops at the first step that fails.
"""

from __future__ import annotations

import re
import shutil
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

import _setup
from _setup import ROOT, Steps, venv_tool

WHEEL = ["--release", "--locked", "--no-default-features", "--features", "python"]
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
    """Tests must not change a feature of a crate the plain library uses: polars would be compiled twice."""
    steps.begin("One feature set")
    plain = features(steps, "--edges", "normal,build")
    tests = features(steps, "--edges", "normal,build,dev")
    changed = [
        "{}: the tests want {}".format(package, " and ".join(sorted(tests[package] - named)) or "fewer features")
        for package, named in plain.items()
        if tests.get(package, set()) != named
    ]
    if changed:
        steps.fail("\n".join(changed), 'these crates would be compiled twice; see DEVELOPERS.md, "Compile polars once"')
    steps.done(f"{len(plain)} crates")


class Tally:
    """Tests that passed and failed, over all steps."""

    def __init__(self) -> None:
        self.passed = 0
        self.failed = 0

    def add(self, steps: Steps, passed: int, failed: int, code: int, text: str) -> None:
        """Counts one step and closes it; a failed test or a bad end stops."""
        self.passed += passed
        self.failed += failed
        if code != 0 or failed or not passed:
            steps.fail(text, f"{passed} passed, {failed} failed (code {code})")
        steps.done(f"{passed} passed")


def rust_tests(steps: Steps, tally: Tally, name: str, options: list[str]) -> None:
    """Runs cargo test and counts."""
    steps.begin(name)
    code, text = steps.attempt(["cargo", "test", "--release", "--locked", "--no-fail-fast", *options])
    passed, failed = (sum(int(count[side]) for count in RUST_COUNTS.findall(text)) for side in (0, 1))
    tally.add(steps, passed, failed, code, text)


def python_tests(steps: Steps, tally: Tally) -> None:
    """Runs pytest and counts."""
    steps.begin("Python tests")
    command = [venv_tool("python"), "-m", "pytest", "tests/python", "-p", "no:cacheprovider"]
    code, text = steps.attempt(command)
    last = text.strip().splitlines()[-1] if text.strip() else ""
    counts = {word.rstrip("s"): int(number) for number, word in PYTHON_COUNTS.findall(last)}
    tally.add(steps, counts.get("passed", 0), counts.get("failed", 0) + counts.get("error", 0), code, text)


def readme_examples(steps: Steps, tally: Tally) -> None:
    """Runs what the README shows and counts."""
    steps.begin("README examples")
    code, text = steps.attempt([venv_tool("python"), "tests/_readme.py"])
    counts = {word: int(number) for number, word in PYTHON_COUNTS.findall(text)}
    tally.add(steps, counts.get("passed", 0), counts.get("failed", 0), code, text)


def plain_step(steps: Steps, name: str, *commands: list[str], hint: str = "") -> None:
    """A step that only has to succeed."""
    steps.begin(name)
    for command in commands:
        steps.run(command, hint=hint)
    steps.done()


def checks(steps: Steps, tally: Tally) -> None:
    """All steps in order: what is quick first, then what needs polars."""
    python = venv_tool("python")
    ruff = [python, "-m", "ruff"]
    # Spark is large, and runs where there is Java.
    wanted = "requirements-java.txt" if shutil.which("java") else "requirements.txt"
    _setup.prepare_venv(steps, ROOT / "tests" / wanted)
    _setup.prepare_programs(steps)
    one_feature_set(steps)
    plain_step(
        steps,
        "Rust layout",
        ["cargo", "fmt", "--check"],
        hint="run `cargo fmt` (if it is missing: `rustup component add rustfmt`)",
    )
    plain_step(
        steps,
        "Python layout and notebooks",
        [*ruff, "check", "."],
        [*ruff, "format", "--check", "."],
        [python, "tests/_notebooks.py"],
    )
    plain_step(
        steps,
        "Spelling",
        [venv_tool("typos")],
        hint="a word that is right after all belongs in pyproject.toml, [tool.typos]",
    )
    rust_tests(steps, tally, "Rust tests (the first time polars is compiled: several minutes)", ["--lib", "--tests"])
    rust_tests(steps, tally, "Rust examples", ["--doc"])
    plain_step(
        steps,
        "Rust lints",
        # As the wheel is built: bindings, no polars. So it is seen too that all tests compile without polars.
        ["cargo", "clippy", *WHEEL, "--all-targets", "--", "-D", "warnings"],
        hint="clippy has something to say (if it is missing: `rustup component add clippy`)",
    )
    _setup.build_wheel(steps)
    plain_step(steps, "One wheel for all Pythons", [venv_tool("abi3audit"), "--strict", *_setup.built_wheels()])
    plain_step(steps, "Python types", [python, "-m", "mypy"])
    workflows = sorted(map(str, (ROOT / ".github" / "workflows").glob("*.yml")))
    schema = [venv_tool("check-jsonschema"), "--builtin-schema", "vendor.github-workflows"]
    plain_step(
        steps,
        "Workflows",
        [*schema, *workflows],
        [venv_tool("zizmor"), "--offline", "--quiet", str(ROOT / ".github")],
    )
    with tempfile.TemporaryDirectory() as folder:
        plain_step(steps, "Documentation", [python, "tests/_docs.py", folder])
    python_tests(steps, tally)
    readme_examples(steps, tally)
    _setup.run_demo(steps)


def main() -> None:
    """Checks, then one line with the counts."""
    _setup.check_python()
    rust = _setup.check_rust()
    print("Rust {}, Python {}.{}; compiled code goes to {}".format(rust, *sys.version_info[:2], _setup.target_folder()))
    steps, tally = Steps(total=17), Tally()
    try:
        checks(steps, tally)
        print(f"All steps passed in {steps.elapsed()}.")
    finally:
        print(f"{tally.passed} passed, {tally.failed} failed", flush=True)


if __name__ == "__main__":
    sys.exit(_setup.guarded(main))
