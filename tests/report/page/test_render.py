from __future__ import annotations

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output, new_raw_cell

from rearkit.errors import RunFailed
from rearkit.report.collect import ANSWER
from rearkit.report.page.render import prepared, render

SETTINGS = 'log: str = "demo.xlsx"  # the log\nday: int = 21  # day to judge at, days'


def notebook(*cells: nbformat.NotebookNode) -> nbformat.NotebookNode:
    settings = new_code_cell(SETTINGS, metadata={"tags": ["parameters"]})
    injected = new_code_cell(
        'log = "/home/ann/secret/a.xlsx"\nday = 28', metadata={"tags": ["injected-parameters"]}
    )
    return new_notebook(cells=[settings, injected, *cells])


def page(*cells: nbformat.NotebookNode, log_name: str = "a.xlsx", stamp: str = "Made then.") -> str:
    return render(
        notebook(*cells), name="tiny_one", log_name=log_name, settings={"day": 28}, stamp=stamp
    )


def shows(**data: str) -> nbformat.NotebookNode:
    mimes = {key.replace("_", "/"): value for key, value in data.items()}
    return new_code_cell("1", outputs=[new_output("display_data", mimes)])


def test_the_page_is_closed_to_everything_outside() -> None:
    html = page(new_markdown_cell("# Title"))
    assert (
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "img-src data:; style-src 'unsafe-inline'\">"
    ) in html
    assert html.startswith('<!DOCTYPE html><html lang="en">')
    assert "<script" not in html
    assert "http://" not in html
    assert "https://" not in html


def test_the_settings_in_force_are_shown_and_no_folder() -> None:
    html = page(new_markdown_cell("# Title"))
    assert "day: int = 28  # day to judge at, days" in html
    assert "log: str = &#x27;a.xlsx&#x27;  # the log" in html
    assert "secret" not in html


@pytest.mark.parametrize("kind", ["execute_result", "display_data"])
def test_results_and_displays_are_both_on_the_page(kind: str) -> None:
    extra = {"execution_count": 1} if kind == "execute_result" else {}
    output = new_output(
        kind, {"text/html": "<table><tr><td>31</td></tr></table>", "text/plain": "t"}, **extra
    )
    html = page(new_code_cell("1", outputs=[output]))
    assert '<td class="number">31</td>' in html
    assert 'class="printed"' not in html


def test_printed_words_and_plain_results_are_escaped_and_without_folders() -> None:
    cell = new_code_cell(
        "1",
        outputs=[
            new_output("stream", name="stdout", text="<b>out</b>"),
            new_output("stream", name="stderr", text="/tmp/ipykernel_7/3.py:1: UserWarning: <i>"),
            new_output("execute_result", {"text/plain": "<object at 1>"}, execution_count=1),
            new_output("error", ename="E<u>", evalue="v", traceback=[]),
        ],
    )
    html = page(cell)
    assert '<pre class="printed">&lt;b&gt;out&lt;/b&gt;</pre>' in html
    assert '<pre class="printed warned">3.py:1: UserWarning: &lt;i&gt;</pre>' in html
    assert '<pre class="printed">&lt;object at 1&gt;</pre>' in html
    assert '<pre class="printed warned">E&lt;u&gt;: v</pre>' in html


def test_markdown_is_rendered_and_its_html_is_tamed() -> None:
    html = page(
        new_markdown_cell("# T\n\n| a |\n|---|\n| 1 |\n\n<script>alert(1)</script> H<sub>2</sub>O"),
        shows(text_markdown="*so* <img src=x onerror=alert(1) alt='x'>".replace("<img", "<imx")),
        new_raw_cell("<u>raw</u>"),
    )
    assert "<script" not in html
    assert "&lt;script&gt;" in html
    assert "H<sub>2</sub>O" in html
    assert 'aria-label="Table 1"' in html
    assert "<em>so</em>" in html
    assert "<imx" not in html
    assert "&lt;u&gt;raw&lt;/u&gt;" in html


def test_contents_list_every_second_and_third_level_heading_once() -> None:
    html = page(new_markdown_cell("# T\n\n## One & two\n\n### Batch\n\n## Batch"))
    nav = html[html.index("<nav") : html.index("</nav>")]
    assert nav.count("<li") == 3
    for anchor in ("one-two", "batch", "batch-2"):
        assert f'href="#{anchor}"' in nav
        assert html.count(f'id="{anchor}"') == 1
    assert "One &amp; two</a>" in nav


def test_the_title_is_the_first_heading_or_the_name() -> None:
    assert "<title>My &lt;b&gt; – a.xlsx</title>" in page(new_markdown_cell("# My `<b>`"))
    untitled = page(new_markdown_cell("words"))
    assert "<title>Tiny one – a.xlsx</title>" in untitled
    assert untitled.count("<h1>Tiny one</h1>") == 1


def test_a_page_without_headings_has_no_empty_list_of_contents() -> None:
    assert "<nav" not in page(new_markdown_cell("words"))


def test_code_is_folded_and_comes_after_what_it_made() -> None:
    html = page(new_code_cell("x < 1", outputs=[new_output("stream", name="stdout", text="OUT")]))
    assert html.index("OUT") < html.index("x &lt; 1")
    assert '<details class="code"><summary>How this was worked out</summary>' in html
    assert "<details open" not in html
    assert html.count("<details") == 2


def test_the_name_of_the_log_is_inert() -> None:
    html = page(new_markdown_cell("# T"), log_name="<img src=x onerror=alert(1)>.xlsx")
    assert "<img" not in html


def test_facts_do_not_reach_the_page() -> None:
    output = new_output("display_data", {"text/html": "<p>x</p>", ANSWER: {"facts": "hidden"}})
    only = new_output("display_data", {ANSWER: {"facts": "hidden"}})
    assert "hidden" not in page(new_code_cell("1", outputs=[output, only]))


def test_a_picture_without_description_stops_the_page_and_names_the_notebook() -> None:
    with pytest.raises(RunFailed, match=r"has no description .*\(notebook tiny_one\)"):
        page(shows(text_html='<img src="data:image/png;base64,AAAA">'))


def test_only_the_stamp_differs_between_two_pages() -> None:
    cells = [new_markdown_cell("# T\n\n## A"), shows(text_html="<p>x</p>")]
    first, second = page(*cells, stamp="Made one."), page(*cells, stamp="Made two.")
    assert first != second
    assert first.replace("Made one.", "Made two.") == second
    assert '<p class="stamp">Made one.</p>' in first


def test_the_executed_notebook_is_not_changed() -> None:
    before = notebook(new_markdown_cell("# T"))
    after = prepared(before, log_name="a.xlsx", settings={"day": 28})
    assert len(before.cells) == 3
    assert len(after["cells"]) == 2
    assert before.cells[0].source == SETTINGS


def test_words_for_the_notebook_alone_stay_off_the_page() -> None:
    hint = new_markdown_cell("Run all cells.", metadata={"tags": ["notebook-only"]})
    assert "Run all cells" not in page(hint, new_markdown_cell("# T"))
