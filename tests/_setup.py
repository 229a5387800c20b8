"""What tests/run.py and notebooks-demo/run.py share: look for Rust and Python, make .venv, build and install the wheel.

Standard library only. The syntax stays within what Python 3.7 reads, so that an old Python can say what is wrong.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
VENV = ROOT / ".venv"
OLDEST_RUST = (1, 89)
OLDEST_PYTHON = (3, 10)
# Programs that tests look at reports with, by the package that brings them.
PROGRAMS = {
    "chromium": ("chromium", "chromium-browser", "google-chrome"),
    "libreoffice-writer-nogui": ("soffice",),
    # Sets LaTeX reports: 39 MB to fetch, 124 MB on disk, without fonts that are not needed.
    "texlive-latex-base": ("pdflatex",),
}
# Waits for no network and for no other installation longer than this.
APT = ["apt-get", "-y", "-o", "Acquire::Retries=1", "-o", "Acquire::http::Timeout=30", "-o", "DPkg::Lock::Timeout=60"]


class StepError(Exception):
    """A step that failed; the message is the one line shown last."""


def target_folder() -> Path:
    """Where compiled code goes: outside the checkout, so that a fresh clone reuses it."""
    chosen = os.environ.get("ROOTLING_TARGET")
    folder = Path(chosen).expanduser() if chosen else Path.home() / ".cache" / "rootling" / "target"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def venv_tool(name: str) -> str:
    """Path of a program of .venv."""
    return str(VENV / ("Scripts/{}.exe" if os.name == "nt" else "bin/{}").format(name))


def environment() -> dict[str, str]:
    """The environment all steps run in."""
    env = dict(os.environ)
    cargo_home = Path(env.get("CARGO_HOME", Path.home() / ".cargo"))
    env["PATH"] = os.pathsep.join([env.get("PATH", ""), str(cargo_home / "bin")])
    env["CARGO_TARGET_DIR"] = str(target_folder())
    env["PYO3_PYTHON"] = venv_tool("python")
    env["MPLBACKEND"] = "agg"
    env["PYTHONUTF8"] = "1"
    env["CARGO_TERM_COLOR"] = "never"
    env["DEBIAN_FRONTEND"] = "noninteractive"
    for name in ("PYTHONPATH", "PYTHONHOME", "VIRTUAL_ENV"):
        env.pop(name, None)
    return env


def spoken(seconds: float) -> str:
    """A time as people say it: ``41 s`` or ``6 min 5 s``."""
    whole = round(seconds)
    return f"{whole} s" if whole < 60 else "{} min {} s".format(*divmod(whole, 60))


class Steps:
    """Runs commands one after another, each as a named and timed step; the first failure stops."""

    def __init__(self, total: int) -> None:
        self.total = total
        self.number = 0
        self.name = ""
        self.started = 0.0
        self.begun = time.monotonic()

    def begin(self, name: str) -> None:
        """Opens a step."""
        self.number += 1
        self.name, self.started = name, time.monotonic()
        print(f"[{self.number}/{self.total}] {name} ... ", end="", flush=True)

    def done(self, remark: str = "") -> None:
        """Closes a step with its time."""
        print("{}{}".format(spoken(time.monotonic() - self.started), ", " + remark if remark else ""), flush=True)

    def elapsed(self) -> str:
        """Time since the first step."""
        return spoken(time.monotonic() - self.begun)

    def run(self, command: list[str], *, hint: str = "") -> str:
        """Runs a command within the step and returns what it printed; a failure shows it and stops."""
        code, text = self.attempt(command)
        if code != 0:
            self.fail(text, hint or "`{}` ended with code {}".format(" ".join(map(_short, command)), code))
        return text

    def fail(self, text: str, reason: str) -> None:
        """Shows what a failed step printed and stops."""
        print(f"failed after {spoken(time.monotonic() - self.started)}")
        print("\n".join(text.splitlines()[-200:]))
        raise StepError("Stopped at step {}, {}: {}.".format(self.number, self.name, reason.rstrip(".")))

    def attempt(self, command: list[str]) -> tuple[int, str]:
        """Runs a command within the step; its exit code and what it printed."""
        with tempfile.TemporaryFile("w+b") as log:
            try:
                process = subprocess.Popen(command, cwd=ROOT, env=environment(), stdout=log, stderr=subprocess.STDOUT)
            except OSError as error:
                return 127, str(error)
            try:
                code = self._wait(process)
            except BaseException:
                process.terminate()
                process.wait()
                raise
            log.seek(0)
            return code, log.read().decode("utf-8", "replace")

    def _wait(self, process: subprocess.Popen[bytes]) -> int:
        while True:
            try:
                return process.wait(timeout=60)
            except subprocess.TimeoutExpired:
                print(f"{(time.monotonic() - self.started) / 60:.0f} min ... ", end="", flush=True)


def _short(word: str) -> str:
    """A part of a command without the way to it."""
    return Path(word).name if os.path.isabs(word) else word


def check_python() -> None:
    """Stops when this Python is too old."""
    if sys.version_info[:2] < OLDEST_PYTHON:
        wanted, found = "{}.{}".format(*OLDEST_PYTHON), "{}.{}".format(*sys.version_info[:2])
        raise StepError(f"Python {wanted} or newer is needed; this is Python {found}.")


def check_rust() -> str:
    """Stops when Rust is missing or too old; returns its version."""
    wanted = "{}.{}".format(*OLDEST_RUST)
    if shutil.which("cargo", path=environment()["PATH"]) is None:
        raise StepError(f"Rust {wanted} or newer is needed and was not found; https://rustup.rs installs it.")
    shown = subprocess.run(
        ["cargo", "--version"],
        cwd=ROOT,
        env=environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        check=False,
    ).stdout.decode("utf-8", "replace")
    found = re.search(r"cargo (\d+)\.(\d+)\.\d+", shown)
    if found is None:
        raise StepError(f"Rust {wanted} or newer is needed; `cargo --version` answered: {shown.strip()}")
    if (int(found.group(1)), int(found.group(2))) < OLDEST_RUST:
        raise StepError(
            f"Rust {wanted} or newer is needed; this is Rust {found.group(0)[6:]}; `rustup update` renews it."
        )
    return found.group(0)[6:]


def _texts(requirements: Path) -> list[bytes]:
    """The text of a requirements file and of those it includes."""
    text = requirements.read_bytes()
    included = re.findall(r"(?m)^-r\s+(\S+)", text.decode("utf-8"))
    return [text] + [part for name in included for part in _texts((requirements.parent / name).resolve())]


def prepare_venv(steps: Steps, requirements: Path) -> None:
    """Makes .venv, or reuses it, and installs the requirements unless exactly these were installed before."""
    steps.begin("Python packages")
    version = "{}.{}".format(*sys.version_info[:2])
    digest = hashlib.sha256(b"\0".join([version.encode(), *_texts(requirements)])).hexdigest()
    marker = VENV / (requirements.parent.name + "-requirements.sha256")
    ask = [venv_tool("python"), "-c", "import sys; print('%d.%d' % sys.version_info[:2])"]
    if steps.attempt(ask)[1].strip() != version:
        no_venv = "a virtual environment could not be made (on Debian and Ubuntu: install python3-venv)"
        steps.run([sys.executable, "-m", "venv", "--clear", str(VENV)], hint=no_venv)
    if marker.exists() and marker.read_text(encoding="ascii") == digest:
        steps.done("as before")
        return
    offline = "the Python packages could not be installed; is the network there?"
    pip = [venv_tool("python"), "-m", "pip", "install", "--disable-pip-version-check", "--quiet"]
    steps.run([*pip, "--requirement", str(requirements)], hint=offline)
    marker.write_text(digest, encoding="ascii")
    steps.done()


def _absent_programs() -> list[str]:
    """Packages of programs that are not on the machine."""
    return [package for package, names in PROGRAMS.items() if not any(map(shutil.which, names))]


def prepare_programs(steps: Steps) -> None:
    """Installs the programs that show reports, where this may be done; else their tests are skipped and say so."""
    steps.begin("Programs that show reports")
    absent = _absent_programs()
    may = bool(absent) and shutil.which("apt-get") is not None and getattr(os, "geteuid", lambda: 1)() == 0
    install = [*APT, "install", "--no-install-recommends", *absent]
    if may and steps.attempt(install)[0] != 0:
        # The list of packages may be old, or not there.
        steps.attempt([*APT, "update"])
        steps.attempt(install)
    left = _absent_programs() if may else absent
    steps.done("not here, so what needs them is skipped: " + ", ".join(left) if left else "")


def built_wheels() -> list[str]:
    """Paths of the wheels that :func:`build_wheel` made."""
    return sorted(map(str, (target_folder() / "wheels").glob("rootling-*.whl")))


def build_wheel(steps: Steps) -> None:
    """Builds the wheel and installs it into .venv, as release, the profile of all else."""
    steps.begin("Wheel (a few minutes the first time)")
    wheels = target_folder() / "wheels"
    shutil.rmtree(wheels, ignore_errors=True)
    python = venv_tool("python")
    build = [venv_tool("maturin"), "build", "--release", "--locked", "--interpreter", python, "--out", str(wheels)]
    steps.run(build)
    made = list(wheels.glob("rootling-*.whl"))
    if len(made) != 1:
        steps.fail("", f"one wheel was expected, {len(made)} were made")
    install = [
        python,
        "-m",
        "pip",
        "install",
        "--disable-pip-version-check",
        "--quiet",
        "--no-deps",
        "--force-reinstall",
    ]
    steps.run([*install, str(made[0])])
    steps.done(f"{made[0].stat().st_size / 1e6:.0f} MB")


def run_demo(steps: Steps) -> str:
    """Executes the notebooks and writes report and figures; returns the lines that say where they are."""
    steps.begin("Notebooks, report and figures")
    made = steps.run([venv_tool("python"), str(ROOT / "notebooks-demo" / "make.py")])
    start = made.find("The report is")
    if start < 0:
        steps.fail(made, "the demo did not say where its report is")
    steps.done()
    return made[start:].rstrip()


def guarded(main: object) -> int:
    """Runs a script; a stop becomes one plain line and exit code 1."""
    try:
        main()  # type: ignore[operator]
    except StepError as stop:
        print(stop, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped from the keyboard.", file=sys.stderr)
        return 130
    return 0
