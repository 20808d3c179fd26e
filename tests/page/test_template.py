"""The template with everything on it that a notebook can show, in a real browser."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from axe_playwright_python.sync_playwright import Axe
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output

from rearkit.pictures.picture import Picture
from rearkit.report.page.render import render

pytestmark = pytest.mark.browser

SETTINGS = 'log: str = "demo.xlsx"  # the log\nday: int = 21  # day to judge at, days'
LONG_WORD = "a_very_long_name_without_any_place_to_break_" * 3
N_WIDE, N_LONG = 18, 120


def table(n_columns: int, n_rows: int, mark: str) -> str:
    head = "".join(f"<th>{mark} column {j}</th>" for j in range(n_columns))
    rows = "".join(
        f"<tr><th>{mark}r{i}</th>" + "".join(f"<td>{i}{mark}{j}</td>" for j in range(n_columns))
        for i in range(n_rows)
    )
    return f"<table><thead><tr><th></th>{head}</tr></thead><tbody>{rows}</tbody></table>"


def cell(source: str, *outputs: Any) -> Any:
    return new_code_cell(source, outputs=list(outputs))


@pytest.fixture(scope="module")
def everything(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page with every kind of output, a wide table, a long table and a long word."""
    picture = Picture(alt="A line that rises from 0 to 3.", caption="A line", width=9.0, height=5.0)
    picture.subplots().plot([0, 1, 3])
    answer = (
        '<div class="answer"><p class="headline">About 3 more of 20 lived.</p>'
        '<ul class="limits"><li>Not more than a hint.</li></ul></div>'
    )
    notebook = new_notebook(
        cells=[
            new_code_cell(SETTINGS, metadata={"tags": ["parameters"]}),
            new_markdown_cell(
                "# Everything\n\nWords, `code`, [a link](https://example.org/), *stress*.\n\n"
                "> A quotation.\n\n- one\n- two\n\n```python\nx = 1\n```\n"
            ),
            new_markdown_cell(f"## An answer\n\n{LONG_WORD}"),
            cell("answer", new_output("display_data", {"text/html": answer})),
            new_markdown_cell("## Wide"),
            cell("1", new_output("display_data", {"text/html": table(N_WIDE, 5, "w")})),
            new_markdown_cell("### Long"),
            cell("2", new_output("display_data", {"text/html": table(4, N_LONG, "l")})),
            new_markdown_cell("## Picture"),
            cell("3", new_output("display_data", {"text/html": picture.html()})),
            new_markdown_cell("## Printed"),
            cell(
                f"# {LONG_WORD}",
                new_output("stream", name="stdout", text=f"out {LONG_WORD}"),
                new_output("stream", name="stderr", text="careful"),
                new_output("execute_result", {"text/plain": "42"}, execution_count=1),
            ),
            new_markdown_cell("## Wide"),
        ]
    )
    html = render(
        notebook, name="everything", log_name="demo.xlsx", settings={"day": 21}, stamp="Made then."
    )
    path = tmp_path_factory.mktemp("page") / "everything.html"
    path.write_text(html, "utf-8")
    return path


def test_nothing_is_asked_for_and_nothing_is_complained_of(
    everything: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(everything)
    assert {url.partition(":")[0] for url in page.asked} <= {"file", "data"}
    assert [url for url in page.asked if url.startswith("file:")] == [everything.as_uri()]
    assert page.complaints == []
    assert page.title() == "Everything – demo.xlsx"


def test_a_script_that_got_in_would_not_run(
    tmp_path: Path, open_page: Callable[..., Any], everything: Path
) -> None:
    smuggled = tmp_path / "smuggled.html"
    html = everything.read_text("utf-8")
    extra = (
        "<script>document.title='in'</script><img src=x onerror=\"document.title='in'\">"
        '<img src="https://example.org/a.png">'
    )
    smuggled.write_text(html.replace("</main>", f"{extra}</main>"), "utf-8")
    page = open_page(smuggled)
    assert page.title() == "Everything – demo.xlsx"
    assert len(page.complaints) >= 3
    assert all("Content Security Policy" in complaint for complaint in page.complaints)
    assert page.answered == [smuggled.as_uri()]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1200])
def test_no_finding_by_an_accessibility_checker(
    scheme: str, width: int, everything: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(everything, scheme=scheme, width=width)
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.parametrize("width", [320, 390, 800, 1200])
def test_nothing_scrolls_sideways_but_wide_tables(
    width: int, everything: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(everything, width=width)
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert page.evaluate("document.scrollingElement.scrollWidth") <= width
    scrolls = "e => e.scrollWidth > e.clientWidth && getComputedStyle(e).overflowX === 'auto'"
    assert page.eval_on_selector(".table.wide", scrolls)


def test_a_wide_table_can_be_scrolled_with_the_keyboard(
    everything: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(everything, width=390)
    page.focus(".table.wide")
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "Table 1: Wide"
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    page.wait_for_function("document.activeElement.scrollLeft > 0")


def test_the_keyboard_reaches_the_report_first(
    everything: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(everything)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the report"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "report"


def test_every_line_of_the_contents_leads_to_its_heading(
    everything: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(everything)
    pairs = page.eval_on_selector_all(
        "nav a",
        "links => links.map(a => [a.textContent, document.querySelector(a.hash).innerText])",
    )
    assert [text for text, _ in pairs] == [
        "An answer",
        "Wide",
        "Long",
        "Picture",
        "Printed",
        "Wide",
    ]
    assert all(text == heading for text, heading in pairs)


def test_code_is_folded_away(everything: Path, open_page: Callable[..., Any]) -> None:
    page = open_page(everything)
    assert page.eval_on_selector_all("details", "all => all.length") == 6
    assert page.eval_on_selector_all("details[open]", "all => all.length") == 0


def test_pictures_keep_their_shape_and_stay_on_white(
    everything: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(everything, width=390, scheme="dark")
    size = page.eval_on_selector("figure img", "i => [i.clientWidth, i.clientHeight]")
    assert size[0] < 390
    assert size[0] / size[1] == pytest.approx(9.0 / 5.0, rel=0.02)
    white = page.eval_on_selector("figure img", "i => getComputedStyle(i).backgroundColor")
    assert white == "rgb(255, 255, 255)"


def test_colours_follow_the_reader(everything: Path, open_page: Callable[..., Any]) -> None:
    grounds = [
        open_page(everything, scheme=scheme).evaluate(
            "getComputedStyle(document.body).backgroundColor"
        )
        for scheme in ("light", "dark")
    ]
    light, dark = (sum(map(int, re.findall(r"\d+", ground))) for ground in grounds)
    assert light > 600
    assert dark < 150


def test_print_loses_no_cell_of_a_wide_or_long_table(
    everything: Path, open_page: Callable[..., Any], tmp_path: Path
) -> None:
    pdf = tmp_path / "page.pdf"
    open_page(everything).pdf(path=str(pdf), prefer_css_page_size=True)
    boxes = subprocess.run(
        ["pdftotext", "-bbox", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    space = {"h": "http://www.w3.org/1999/xhtml"}
    pages = ElementTree.fromstring(boxes).findall(".//h:page", space)
    shown: list[str] = []
    turned = []
    for page in pages:
        width, height = float(page.attrib["width"]), float(page.attrib["height"])
        words = page.findall("h:word", space)
        for word in words:
            assert 0 <= float(word.attrib["xMin"]) < float(word.attrib["xMax"]) <= width
            assert 0 <= float(word.attrib["yMin"]) < float(word.attrib["yMax"]) <= height
        texts = [str(word.text) for word in words]
        shown += texts
        turned += [width > height] if any(text.startswith("0w") for text in texts) else []
        assert ("lr5" in texts or "lr80" in texts) <= ("column" in texts)
    cells = {f"{i}w{j}" for i in range(5) for j in range(N_WIDE)}
    cells |= {f"{i}l{j}" for i in range(N_LONG) for j in range(4)}
    assert cells <= set(shown)
    assert turned == [True]
    assert "Contents" not in shown
    assert "rearkit" in shown
