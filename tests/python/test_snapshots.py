"""What is read in terminal, Markdown, LaTeX and on a page, from fixed records: a change of it is seen.

``ROOTLING_SNAPSHOTS=write python -m pytest tests/python/test_snapshots.py`` writes them anew, to be read before they
are kept.
"""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
import rootling as rl
from rootling._results import Result

HERE = Path(__file__).resolve().parent
RECORDS, SHOTS = HERE / "records" / "0.1.0", HERE / "snapshots"
KINDS = ("comparison", "take_rates", "contrasts", "step_yields")
FORMS = ("txt", "md", "tex", "html")


def _record(kind: str) -> Result:
    return Result.from_json((RECORDS / f"{kind}.json").read_text(encoding="utf-8"))


def _shown(kind: str, form: str, folder: Path) -> str:
    """What is read, without what is drawn, the look of the page, and the digest of the text."""
    if form == "txt":
        return repr(_record(kind)) + "\n"
    text = rl.report.write(_record(kind), folder / f"r.{form}").read_text(encoding="utf-8")
    if form == "html":
        text = re.sub(r"<style>.*?</style>", "<style>...</style>", text, flags=re.DOTALL)
        text = re.sub(r"data:image/svg\+xml;base64,[A-Za-z0-9+/=]+", "...", text)
        return re.sub(r"<pre.*?</pre>", "<pre>...</pre>", text, flags=re.DOTALL)
    return re.sub(r"until it is edited: [0-9a-f]+", "until it is edited: ...", text)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("kind", KINDS)
def test_it_reads_as_before(kind: str, form: str, tmp_path: Path) -> None:
    shown, kept = _shown(kind, form, tmp_path), SHOTS / f"{kind}.{form}"
    if os.environ.get("ROOTLING_SNAPSHOTS") == "write":
        kept.parent.mkdir(exist_ok=True)
        kept.write_text(shown, encoding="utf-8")
    assert shown == kept.read_text(encoding="utf-8")


def test_no_snapshot_is_left_over() -> None:
    assert {one.name for one in SHOTS.iterdir()} == {f"{kind}.{form}" for kind in KINDS for form in FORMS}
