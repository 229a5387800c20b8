"""Reports as a browser shows and prints them: quiet, alone, read by eye and ear, on a telephone and on paper."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import reports_made
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

WIDTHS = (360, 768, 1200)
# Pixels of CSS of an A4 page within its margins, as the look of a report has them, upright and across.
UPRIGHT, ACROSS = (210 - 2 * 14) * 96 / 25.4, (297 - 2 * 12) * 96 / 25.4
# Millimetres within which a sign may stand beside the margin; points of an inch; letters that a person reads.
SLACK, POINTS, SMALLEST = 2.0, 72.0, 11.0


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("pages")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    found = reports_made.program(*reports_made.BROWSERS)
    if found is None:
        pytest.skip("no Chromium is on this machine, so no page was looked at; on Debian: apt-get install chromium")
    with sync_playwright() as started:
        browser = started.chromium.launch(executable_path=found)
        yield browser
        browser.close()


class Seen:
    """A page that is open, and what it said and asked for."""

    def __init__(self, browser: Browser, path: Path, width: int, scheme: Any = "light") -> None:
        self.context = browser.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme)
        self.page: Page = self.context.new_page()
        self.said: list[str] = []
        self.wanted: list[str] = []
        self.page.on("console", lambda one: self.said.append(one.text))
        self.page.on("pageerror", lambda one: self.said.append(str(one)))
        self.page.on("dialog", lambda one: (self.said.append(one.message), one.dismiss()))
        self.page.on("request", lambda one: self.wanted.append(one.url))
        self.page.goto(path.as_uri())

    def __enter__(self) -> Seen:
        return self

    def __exit__(self, *_: object) -> None:
        self.context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", reports_made.SETS)
def test_a_page_is_quiet_and_read_by_eye_and_ear(name: str, scheme: str, browser: Browser, place: Path) -> None:
    path = reports_made.written(name, ".html", place)
    with Seen(browser, path, WIDTHS[-1], scheme) as seen:
        found = Axe().run(seen.page).response
        assert [(one["id"], [node["html"] for node in one["nodes"]]) for one in found["violations"]] == []
        # Of heads that lie under the column that stays in sight the contrast cannot be told; nothing else is open.
        open_ends = [node["html"] for one in found["incomplete"] for node in one["nodes"]]
        assert [html for html in open_ends if not html.startswith("<th")] == []
        # Rules that this page is about were among those that were asked.
        passed = {one["id"] for one in found["passes"]}
        assert {"color-contrast", "heading-order", "image-alt", "td-headers-attr", "document-title"} <= passed
        assert seen.said == []
        assert [url for url in seen.wanted if not url.startswith("data:")] == [path.as_uri()]
        alts = seen.page.eval_on_selector_all("img", "all => all.map(one => one.alt)")
        told = seen.page.eval_on_selector_all(".answer", "all => all.map(one => one.textContent.trim())")
        # Each tells its finding, and how many units stand behind it.
        assert len(alts) == len(told)
        assert all(any(alt.startswith(f"Figure: {one}") for alt in alts) for one in told)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", reports_made.SETS)
def test_a_page_fits_every_screen(name: str, width: int, browser: Browser, place: Path) -> None:
    with Seen(browser, reports_made.written(name, ".html", place), width) as seen:
        assert seen.page.evaluate("document.documentElement.scrollWidth") <= width
        # P stays in sight however wide its table is.
        cells = seen.page.eval_on_selector_all(
            "tbody .seen",
            "all => all.filter(one => one.textContent).map(one => one.getBoundingClientRect())"
            ".map(one => [one.left, one.right])",
        )
        assert all(left >= 0 and right <= width + 1 for left, right in cells)
        sizes = seen.page.eval_on_selector_all(
            "main *", "all => all.filter(one => one.innerText).map(one => parseFloat(getComputedStyle(one).fontSize))"
        )
        assert min(sizes) >= SMALLEST
        # The decisions come before anything else.
        tops = seen.page.eval_on_selector_all(".answer", "all => all.map(one => one.getBoundingClientRect().top)")
        figures = seen.page.eval_on_selector_all("figure", "all => all.map(one => one.getBoundingClientRect().top)")
        assert tops[0] < 400
        assert tops[0] < min(figures)


def test_a_keyboard_goes_everywhere(browser: Browser, place: Path) -> None:
    path = reports_made.written("two_strengths", ".html", place)
    with Seen(browser, path, WIDTHS[0]) as seen:
        stops = []
        for _ in range(60):
            seen.page.keyboard.press("Tab")
            stops.append(seen.page.evaluate("document.activeElement.outerHTML.slice(0, 60)"))
        assert stops[0].startswith('<a class="skip"')
        joined = "".join(stops)
        assert 'class="asked"' not in joined
        assert joined.count('href="#answer-') >= 2
        assert 'class="scroll"' in joined
        assert "<summary" in joined


@pytest.mark.parametrize("name", reports_made.SETS)
def test_paper_cuts_nothing(name: str, browser: Browser, place: Path) -> None:
    path = reports_made.written(name, ".html", place)
    with Seen(browser, path, round(UPRIGHT)) as seen:
        seen.page.emulate_media(media="print")
        seen.page.set_viewport_size({"width": int(UPRIGHT), "height": 1000})
        wide = seen.page.evaluate("[...document.querySelectorAll('main > *, section > *')].map(one => one.scrollWidth)")
        assert max(wide) <= ACROSS
        upright = seen.page.eval_on_selector_all(
            "table", "all => all.filter(one => !one.matches('.vast:not(.few) table')).map(one => one.scrollWidth)"
        )
        assert max(upright, default=0) <= UPRIGHT + 1
        whole = seen.page.eval_on_selector_all("tr", "all => all.map(one => getComputedStyle(one).breakInside)")
        assert set(whole) <= {"avoid"}
        entries = seen.page.eval_on_selector_all("tbody th, tbody td", "all => all.map(one => one.textContent)")
        printed = seen.page.pdf(prefer_css_page_size=True, print_background=True)
    _judge(printed, entries)


def _judge(printed: bytes, entries: list[str]) -> None:
    """All signs stand within the page and its margins, and every entry of a table is there."""
    paper = pypdfium2.PdfDocument(printed)
    told = []
    for page in paper:
        width, height = page.get_size()
        text = page.get_textpage()
        told.append(text.get_text_bounded())
        margin = (12 if width > height else 14) / 25.4 * POINTS - SLACK / 25.4 * POINTS
        for at in range(text.count_rects()):
            left, bottom, right, top = text.get_rect(at)
            assert left >= margin, text.get_text_bounded(left, bottom, right, top)
            assert right <= width - margin, text.get_text_bounded(left, bottom, right, top)
            assert bottom >= 0
            assert top <= height
    letters = re.sub(r"\s+", "", "".join(told))
    plain = [re.sub(r"\s+", "", one) for one in entries]
    # Text from right to left is read in the order in which it stands.
    lost = [one for one in plain if one.isascii() and one not in letters and not _parted(one, letters)]
    assert lost == []
    paper.close()


def _parted(entry: str, letters: str) -> bool:
    """True where all words of an entry are there, which other columns stand between when it takes several lines."""
    return all(entry[at : at + 4] in letters for at in range(0, len(entry), 4))


@pytest.mark.parametrize("name", ["two_strengths", "factorial", "seed_plates", "planned"])
def test_paper_keeps_together_what_belongs_together(name: str, browser: Browser, place: Path) -> None:
    """A short table stands on one page with its caption and its notes, a heading never last on one."""
    with Seen(browser, reports_made.written(name, ".html", place), round(UPRIGHT)) as seen:
        bare = "one => one.textContent.replace(/\\s+/g, '')"
        blocks: list[list[str]] = seen.page.eval_on_selector_all(
            ".whole",
            "all => all.map(one => ['.told', 'tbody tr:last-child', '.below'].flatMap("
            f"part => [...one.querySelectorAll(part)].map({bare})))",
        )
        heads: list[str] = seen.page.eval_on_selector_all("h2", f"all => all.map({bare})")
        printed = seen.page.pdf(prefer_css_page_size=True, print_background=True)
    paper = pypdfium2.PdfDocument(printed)
    pages = [re.sub(r"\s+", "", page.get_textpage().get_text_bounded()) for page in paper]
    paper.close()
    assert blocks
    for caption, *parts in blocks:
        held = next(page for page in pages if caption in page)
        # Entries that take several lines are read line by line over the columns; their beginnings are there.
        assert all(part[:8] in held for part in parts), caption
    assert not [(page[-60:], head) for page in pages for head in heads if page.endswith(head)]
