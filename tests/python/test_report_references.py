"""References for programs that keep them: every one of the core is read in its parts, none is lost."""

from __future__ import annotations

import json
import re
from pathlib import Path

import every_kind
import pytest
import rootling as rl
from rootling._core.report import doi_of
from rootling.exceptions import ChoiceError
from rootling.report.document import document
from rootling.report.references import read

SOURCES = sorted((Path(__file__).resolve().parents[2] / "src" / "report").glob("references*.rs"))
CONSTANT = re.compile(r'pub const \w+: &str =\s*"((?:[^"\\]|\\.)*)";', re.DOTALL)


def lines() -> list[str]:
    """Every reference of the core, as it is written there."""
    found = [text for path in SOURCES for text in CONSTANT.findall(path.read_text(encoding="utf-8"))]
    return sorted({re.sub(r"\\\n\s*", "", text).replace('\\"', '"') for text in found})


def test_all_are_found() -> None:
    assert len(lines()) > 130


@pytest.mark.parametrize("line", lines())
def test_every_reference_has_its_parts(line: str) -> None:
    work = read(line)
    assert 1600 < work.year < 2100
    assert f"({work.year})" in line
    assert work.title
    assert not work.title.endswith(".")
    # All authors are people with initials, and together with the title they are what was written.
    assert ", ".join(f"{family} {initials}" for family, initials in work.authors) == line.split(" (")[0]
    assert all(family and initials for family, initials in work.authors)
    assert work.more.get("journal") or work.more.get("publisher")
    for part in (work.title, *work.more.values()):
        assert part in line
    if re.search(r" \d+: [A-Za-z]*\d[\d-]*\.$", line):
        assert work.kind == "article"
        assert re.fullmatch(r"[A-Z][^:]+", work.more["journal"])


def test_marks_on_letters_are_kept() -> None:
    work = read("Müller-Łącki JÖ, Ñandú B (1999). Über Würzeln & 5 % of them. Žurnal für Bäume 3: 1-9.")
    assert work.authors == (("Müller-Łącki", "JÖ"), ("Ñandú", "B"))
    assert work.title == "Über Würzeln & 5 % of them"
    assert work.key == "mulleracki1999"


def test_entries_of_results() -> None:
    asked = [every_kind.made("comparison"), every_kind.made("comparison"), every_kind.model()]
    told = rl.report.references(asked)
    cited = {line for one in asked for line in one.references}
    assert told.count("@") == len(cited)
    keys = re.findall(r"@\w+{(\w+),", told)
    assert len(set(keys)) == len(keys)
    assert told.count("{") == told.count("}")
    entries = json.loads(rl.report.references(asked, "csl-json"))
    assert [one["id"] for one in entries] == keys
    assert all(one["title"] and one["author"] and one["issued"]["date-parts"][0][0] > 1600 for one in entries)


def test_known_identifiers_go_along() -> None:
    """Of a work whose identifier is known: in the list of a report, in BibTeX and in CSL-JSON; as text, no link."""
    line = next(one for one in every_kind.made("comparison").references if one.startswith("Miettinen"))
    assert doi_of(line) == "10.1002/sim.4780040211"
    told = rl.report.references(every_kind.made("comparison"))
    assert "doi = {10.1002/sim.4780040211}" in told
    entries = json.loads(rl.report.references(every_kind.made("comparison"), "csl-json"))
    assert "10.1002/sim.4780040211" in [one.get("DOI") for one in entries]
    listed = document([every_kind.made("comparison")], None).references
    assert f"{line} doi:10.1002/sim.4780040211" in listed
    assert [one for one in listed if one.startswith("Fisher")] == [
        "Fisher RA (1935). The Design of Experiments. Oliver and Boyd, Edinburgh."
    ]


def test_identifiers_are_well_formed() -> None:
    known = {line: doi_of(line) for line in lines() if doi_of(line) is not None}
    assert len(known) > 100
    assert all(re.fullmatch(r"10\.\d{4,5}/[!-~]+[^.,;]", doi) for doi in known.values() if doi)
    assert len(set(known.values())) == len(known)


def test_what_has_no_references_is_refused() -> None:
    with pytest.raises(ChoiceError, match='write form="bibtex" or "csl-json"'):
        rl.report.references(every_kind.made("comparison"), "ris")  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match="'int' is none of these"):
        rl.report.references([3])
    with pytest.raises(ChoiceError, match="is no reference"):
        read("a note")
