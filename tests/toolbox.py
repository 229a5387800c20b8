"""What both commands need: checks of Rust and Python, the virtual environment, the one build. Standard library only."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
import sys
import time
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
OLDEST_PYTHON = (3, 10)
OLDEST_RUST = (1, 89)


def stop(sentence: str) -> None:
    """Ends the command with one clear sentence."""
    print(f"\nStopped: {sentence}", flush=True)
    sys.exit(1)


def environment() -> dict[str, str]:
    """The environment for every step: cargo on the path, the build outside the checkout, the project's own Python."""
    env = dict(os.environ)
    cargo_home = Path(env.get("CARGO_HOME", Path.home() / ".cargo"))
    bin_dir = "Scripts" if os.name == "nt" else "bin"
    env["PATH"] = os.pathsep.join([str(VENV / bin_dir), env.get("PATH", ""), str(cargo_home / "bin")])
    env["VIRTUAL_ENV"] = str(VENV)
    env["CARGO_TARGET_DIR"] = env.get("ROOTLING_TARGET", str(Path.home() / ".cache" / "rootling" / "target"))
    env.pop("PYTHONHOME", None)
    env["MPLBACKEND"] = "agg"
    return env


def check_tools() -> None:
    """Stops when Python or Rust is missing or too old."""
    if sys.version_info < OLDEST_PYTHON:
        stop(f"Python {OLDEST_PYTHON[0]}.{OLDEST_PYTHON[1]} or newer is needed, this is {sys.version.split()[0]}; run the command with a newer python3.")
    cargo = shutil.which("cargo", path=environment()["PATH"])
    if cargo is None:
        stop("Rust was not found (no cargo on the path); install stable Rust with rustup, then run this command again.")
    shown = subprocess.run(["rustc", "--version"], env=environment(), capture_output=True, text=True, check=False).stdout
    found = re.search(r"(\d+)\.(\d+)", shown)
    if found is None or (int(found[1]), int(found[2])) < OLDEST_RUST:
        stop(f"Rust {OLDEST_RUST[0]}.{OLDEST_RUST[1]} or newer is needed, found {shown.strip() or 'none'}; run rustup update stable.")


class Steps:
    """Runs numbered steps, each with its time; the first that fails ends the command."""

    def __init__(self, total: int) -> None:
        self.total = total
        self.done = 0

    def run(self, title: str, command: list[str], *, quiet: bool = True) -> str:
        """Runs one command and gives back what it printed."""
        self.done += 1
        print(f"[{self.done}/{self.total}] {title} ...", flush=True)
        start = time.monotonic()
        lines: list[str] = []
        process = subprocess.Popen(command, cwd=ROOT, env=environment(), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace")
        assert process.stdout is not None
        for line in process.stdout:
            lines.append(line)
            if not quiet or line.lstrip().startswith("Compiling polars"):
                print("    " + line.rstrip(), flush=True)
        if process.wait() != 0:
            print("".join(lines[-150:]))
            stop(f"step {self.done}, {title}, failed; its output stands above.")
        print(f"    done in {time.monotonic() - start:.0f} s", flush=True)
        return "".join(lines)


def python() -> str:
    """The project's own Python."""
    return str(VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python"))


def install(steps: Steps, requirements: Path) -> None:
    """Makes the virtual environment and installs what the list names; a second run with the same list does nothing."""
    print("    virtual environment: .venv", flush=True)
    if not Path(python()).exists():
        venv.create(VENV, with_pip=True, clear=VENV.exists())
    stamp = VENV / f"{requirements.parent.name}.installed"
    wanted = hashlib.sha256(requirements.read_bytes()).hexdigest()
    if stamp.exists() and stamp.read_text() == wanted:
        steps.run("Python packages (already there)", [python(), "--version"])
        return
    steps.run("Python packages", [python(), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-r", str(requirements)])
    stamp.write_text(wanted)


def build(steps: Steps) -> None:
    """Builds the package with its bindings and installs it into the virtual environment."""
    steps.run("build and install rootling (the first time some minutes, mostly polars)", [python(), "-m", "maturin", "develop", "--release"])
