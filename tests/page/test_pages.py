"""Every notebook on every demo log, as a page in a real browser and on paper."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import openpyxl
import pytest
from axe_playwright_python.sync_playwright import Axe

from rearkit.errors import DesignError, SettingError
from rearkit.locate import notebook_paths, template_paths
from rearkit.report.page.render import prepared, render

pytestmark = pytest.mark.browser

Run = Callable[..., tuple[dict, dict]]
LOGS = [path for path in template_paths() if path.stem.startswith("demo_")]
FIRST = "demo_shade_trial"
PAIRS = [
    pytest.param(name, log, id=f"{name}-{log.stem}") for name in notebook_paths() for log in LOGS
]
HEAVIEST, TYPICAL = 600_000, 300_000
HOSTILE = '<script>document.title="in"</script><img src=x onerror=alert(1)>'


@dataclass(frozen=True, kw_only=True)
class Made:
    """A page, the notebook it was made from, and where it lies."""

    notebook: dict
    html: str
    path: Path


@pytest.fixture(scope="module")
def make(run_notebook: Run, tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Made]:
    """Run a notebook on a log once; a question that a log cannot be asked is skipped."""
    folder = tmp_path_factory.mktemp("pages")

    @cache
    def made(name: str, log: Path) -> Made:
        try:
            executed, settings = run_notebook(name, log)
        except (DesignError, SettingError) as refusal:
            if log.stem == FIRST:
                raise
            pytest.skip(f"{name} has no answer for {log.stem}: {refusal}")
        html = render(executed, name=name, log_name=log.name, settings=settings, stamp="Made then.")
        path = folder / f"{name}-{log.stem}.html"
        path.write_text(html, "utf-8")
        shown = prepared(executed, log_name=log.name, settings=settings)
        return Made(notebook=shown, html=html, path=path)

    return made


class Counted(HTMLParser):
    """The rows of every table and the descriptions of every picture."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tables: list[list[list[str]]] = []
        self.pictures: list[str] = []
        self.in_cell = False
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag in {"td", "th"}:
            self.tables[-1][-1].append("")
            self.in_cell = True
        elif tag == "img":
            self.pictures.append(dict(attrs).get("alt") or "")

    def handle_endtag(self, tag: str) -> None:
        self.in_cell = self.in_cell and tag not in {"td", "th"}

    def handle_data(self, data: str) -> None:
        if self.in_cell:
            self.tables[-1][-1][-1] += data


def outputs(notebook: dict) -> Iterator[dict]:
    for cell in notebook["cells"]:
        yield from cell.get("outputs", ())


def outputs_html(notebook: dict) -> str:
    return "".join(output.get("data", {}).get("text/html", "") for output in outputs(notebook))


def squeezed(text: str) -> str:
    return re.sub(r"\s", "", text)


on_every_pair = pytest.mark.parametrize(("name", "log"), PAIRS)


@on_every_pair
def test_it_asks_for_nothing_and_complains_of_nothing(
    name: str, log: Path, make: Callable[..., Made], open_page: Callable[..., Any]
) -> None:
    page = open_page(make(name, log).path)
    assert page.answered == [make(name, log).path.as_uri()]
    assert {url.partition(":")[0] for url in page.asked} <= {"file", "data"}
    assert page.complaints == []


@on_every_pair
def test_a_checker_finds_nothing_and_nothing_scrolls_sideways_on_a_phone(
    name: str, log: Path, make: Callable[..., Made], open_page: Callable[..., Any]
) -> None:
    for scheme in ("light", "dark"):
        page = open_page(make(name, log).path, width=390, scheme=scheme)
        page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        assert page.evaluate("document.scrollingElement.scrollWidth") <= 390
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()


@on_every_pair
def test_all_of_the_notebook_is_on_the_page(
    name: str, log: Path, make: Callable[..., Made]
) -> None:
    made = make(name, log)
    ran, shown = Counted(outputs_html(made.notebook)), Counted(made.html)
    assert ran.tables
    assert [[[c.strip() for c in row] for row in table] for table in shown.tables] == [
        [[c.strip() for c in row] for row in table] for table in ran.tables
    ]
    assert shown.pictures == ran.pictures
    assert all(len(words) > 20 for words in shown.pictures)
    assert made.html.count("<figcaption>") == made.html.count("<figure>") == len(shown.pictures)
    n_code = sum(c["cell_type"] == "code" for c in made.notebook["cells"])
    assert made.html.count('<details class="code">') == n_code


@on_every_pair
def test_nothing_was_printed_on_the_side_and_no_folder_is_named(
    name: str, log: Path, make: Callable[..., Made]
) -> None:
    made = make(name, log)
    assert not [out for out in outputs(made.notebook) if out["output_type"] == "stream"]
    assert str(log.parent) not in made.html
    assert len(made.html.encode()) <= HEAVIEST


@on_every_pair
def test_print_loses_nothing(
    name: str,
    log: Path,
    make: Callable[..., Made],
    open_page: Callable[..., Any],
    tmp_path: Path,
) -> None:
    pdf = tmp_path / "page.pdf"
    open_page(make(name, log).path).pdf(path=str(pdf), prefer_css_page_size=True)
    text = squeezed(pdf_text(pdf, "-raw"))
    for table in Counted(make(name, log).html).tables:
        for row in table:
            assert squeezed("".join(row)) in text
    space = {"h": "http://www.w3.org/1999/xhtml"}
    for page in ElementTree.fromstring(pdf_text(pdf, "-bbox")).findall(".//h:page", space):
        for word in page.findall("h:word", space):
            assert float(word.attrib["xMin"]) >= 0
            assert float(word.attrib["xMax"]) <= float(page.attrib["width"])


def pdf_text(pdf: Path, how: str) -> str:
    done = subprocess.run(
        ["pdftotext", how, str(pdf), "-"], capture_output=True, text=True, check=True
    )
    return done.stdout


def test_pages_are_light(make: Callable[..., Made]) -> None:
    sizes = [
        len(make(name, log).html.encode())
        for name in notebook_paths()
        for log in LOGS
        if log.stem == FIRST
    ]
    assert sorted(sizes)[len(sizes) // 2] <= TYPICAL


@pytest.mark.parametrize("name", notebook_paths())
def test_markup_in_a_log_is_read_as_the_words_it_is(
    name: str, run_notebook: Run, open_page: Callable[..., Any], tmp_path: Path
) -> None:
    log = hostile_log(tmp_path)
    executed, settings = run_notebook(name, log)
    html = render(executed, name=name, log_name=log.name, settings=settings, stamp="Made then.")
    path = tmp_path / "page.html"
    path.write_text(html, "utf-8")
    page = open_page(path)
    assert page.complaints == []
    assert page.title() != "in"
    active = (
        "script, iframe, object, embed, form, base, link[rel=stylesheet], img:not([src^='data:'])"
    )
    assert page.eval_on_selector_all(active, "all => all.length") == 0
    handlers = "all => all.flatMap(e => e.getAttributeNames()).filter(n => n.startsWith('on'))"
    assert page.eval_on_selector_all("*", handlers) == []
    assert '<script>document.title="in"' in page.inner_text("main")


def hostile_log(folder: Path) -> Path:
    """Write the first demo log again with markup in the names of its batches."""
    source = next(path for path in LOGS if path.stem == FIRST)
    book = openpyxl.load_workbook(source)
    batches = next(sheet for sheet in book if sheet.title.lower() == "batches")
    header = [str(cell.value).lower() for cell in batches[1]]
    column = header.index("batch")
    names = {row[column].value for row in batches.iter_rows(min_row=2) if row[column].value}
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.value in names:
                    cell.value = f"{HOSTILE}{cell.value}"
    log = folder / "hostile <b>.xlsx"
    book.save(log)
    return log
