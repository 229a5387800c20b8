"""A report that cannot be written leaves the old one whole, and says so in a sentence."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import threading
import warnings

import pytest
import rootling as rl
from rootling.exceptions import ReportError

STRANGE = "K12\x07\x1b[31m\u202eKK\u200b"


@pytest.fixture
def rates() -> rl.rates.TakeRates:
    trial = rl.load_trial(
        rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck", treatments=["strength"], tray="tray"
    )
    return trial.take_rates()


def test_a_full_disk_leaves_the_old_report(tmp_path) -> None:
    """The size of a file is limited, as a full disk limits it; the process is one of its own."""
    code = """
import resource, signal, sys
import rootling as rl
from rootling.exceptions import ReportError
trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck", treatments=["strength"],
                      tray="tray")
path = rl.report.write(trial, sys.argv[1])
before = path.read_bytes()
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))
try:
    rl.report.write(trial, path, title="another")
except ReportError as error:
    assert "as it was" in str(error), error
else:
    raise SystemExit("written all the same")
assert path.read_bytes() == before
assert [one.name for one in path.parent.iterdir()] == [path.name]
"""
    command = [sys.executable, "-c", code, str(tmp_path / "report.html")]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr


def test_a_pipe_is_not_replaced(rates, tmp_path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    read: list[bytes] = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_bytes()))
    reader.start()
    rl.report.write(rates, pipe)
    reader.join(timeout=30)
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert read[0].startswith(b"<!doctype html>")


def test_half_a_character_is_a_mark(rates, tmp_path) -> None:
    path = rl.report.write(rates, tmp_path / "report.html", title="Spring\ud800")
    assert "<h1>Spring&lt;U+D800&gt;</h1>" in path.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["x" * 400 + ".html", "a\0b.html", "report\ud800.html"])
def test_names_no_file_can_have(rates, tmp_path, name: str) -> None:
    with pytest.raises(ReportError, match=r"cannot be the name of a file|could not be written|no folder"):
        rl.report.write(rates, tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_a_link_and_its_rights_stay(rates, tmp_path) -> None:
    real = tmp_path / "real.html"
    rl.report.write(rates, real, title="old")
    real.chmod(0o640)
    link = tmp_path / "link.html"
    link.symlink_to(real)
    rl.report.write(rates, link)
    assert link.is_symlink()
    assert real.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert real.stat().st_mode & 0o777 == 0o640


def test_control_characters_are_marks(tmp_path) -> None:
    """In the terminal, the notebook, the report and the figure; nothing warns."""
    frame = {"strength": [STRANGE, "b"] * 4, "rooted": [3, 9] * 4, "stuck": [20] * 8, "tray": list(range(8))}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments=["strength"], tray="tray")
    rates = trial.take_rates()
    svg = tmp_path / "figure.svg"
    rates.plot().savefig(svg)
    page = rl.report.write([trial, rates], tmp_path / "report.html").read_text(encoding="utf-8")
    for shown in (repr(rates), rates._repr_html_(), page, svg.read_text(encoding="utf-8")):
        assert not {"\x07", "\x1b", "\u202e", "\u200b"} & set(shown)
    assert "K12<U+0007><U+001B>[31m<U+202E>KK<U+200B>" in repr(rates)


def test_a_file_of_another_origin_is_left_as_it_is(rates, tmp_path) -> None:
    path = tmp_path / "report.html"
    path.write_text("<p>minutes of a meeting</p>", encoding="utf-8")
    with pytest.raises(ReportError, match="no report of rootling, so it is left as it is"):
        rl.report.write(rates, path)
    assert path.read_text(encoding="utf-8") == "<p>minutes of a meeting</p>"
    rl.report.write(rates, path, overwrite=True)
    rl.report.write(rates, path, title="another")
    assert "another" in path.read_text(encoding="utf-8")
    (tmp_path / "empty").touch()
    rl.report.write(rates, tmp_path / "empty")
