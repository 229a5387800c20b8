"""The stubs say what the compiled modules are."""

from __future__ import annotations

import subprocess
import sys

# Reason: no constructor is given to Python, so the compiled classes inherit one from `object` that stubs leave out.
ALLOWED = """rootling\\._core(\\.[a-z]+\\.(Trial|Model)\\.__new__)?(\\.__all__)?
rootling\\._core\\.(choices|compare|curves|models|rates|report|tables|trial|units)
"""


def test_stubs_match(tmp_path) -> None:
    allowed = tmp_path / "allowed.txt"
    allowed.write_text(ALLOWED, encoding="utf-8")
    command = [
        sys.executable,
        "-m",
        "mypy.stubtest",
        "rootling._core",
        "--allowlist",
        str(allowed),
        "--ignore-unused-allowlist",
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
