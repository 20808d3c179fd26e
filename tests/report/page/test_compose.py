from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from rearkit.errors import RunFailed
from rearkit.report.page.compose import Composer, scrub

PNG = "data:image/png;base64,iVBORw0KGgo="


def clean(html: str) -> str:
    return Composer("tiny").clean(html)


class Tags(HTMLParser):
    """Lists what a browser would make elements of."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def tags(html: str) -> list[tuple[str, dict]]:
    parser = Tags()
    parser.feed(clean(html))
    return parser.found


@pytest.mark.parametrize(
    "hostile",
    [
        "<script>alert(1)</script>",
        "<SCRIPT src=//x.example/a.js></SCRIPT>",
        "<script>",
        "<scr<script>ipt>alert(1)</script>",
        '<iframe src="https://x.example"></iframe>',
        "<object data=x></object><embed src=x>",
        "<svg onload=alert(1)><circle/></svg>",
        "<math><mtext><img src=x onerror=alert(1)></mtext></math>".replace("<img", "<imx"),
        '<form action="https://x.example"><input><button>go</button></form>',
        '<meta http-equiv="refresh" content="0;url=https://x.example">',
        '<base href="https://x.example/">',
        '<link rel="stylesheet" href="https://x.example/a.css">',
        "<!--><script>alert(1)</script-->",
        "<![CDATA[<script>alert(1)</script>]]>",
        "<?php echo 1 ?>",
        "<template><script>alert(1)</script></template>",
        "<noscript><p title='</noscript><script>alert(1)</script>'></p></noscript>",
    ],
)
def test_nothing_active_becomes_an_element(hostile: str) -> None:
    assert {tag for tag, _ in tags(hostile)} <= {"p"}


@pytest.mark.parametrize(
    "hostile",
    [
        '<p onclick="alert(1)" style="position:fixed" id="report">x</p>',
        '<a href="javascript:alert(1)">x</a>',
        '<a href=" java\tscript:alert(1)">x</a>',
        '<a href="data:text/html,x">x</a>',
        '<div class="a" onmouseover=alert(1)>x</div>',
        '<td background="https://x.example/a.png">x</td>',
        '<p class="&quot;><script>">x</p>',
    ],
)
def test_no_attribute_can_act(hostile: str) -> None:
    for _, attributes in tags(hostile):
        assert set(attributes) <= {"class", "rel"}
        assert attributes.get("class", "a") == "a"


def test_the_words_of_refused_markup_can_still_be_read() -> None:
    assert clean("<script>alert(1 < 2)</script> 3 < 4 & 5") == (
        "&lt;script&gt;alert(1 &lt; 2)&lt;/script&gt; 3 &lt; 4 &amp; 5"
    )


def test_styles_are_dropped_with_what_is_in_them() -> None:
    assert clean("<style scoped>p {color: red}</style><p>x</p>") == "<p>x</p>"


def test_a_cell_cannot_close_what_it_did_not_open() -> None:
    assert clean("</div></main></body><p>x") == "&lt;/main&gt;&lt;/body&gt;<p>x</p>"
    assert clean("<ul><li>a<li>b</ul></ul>") == "<ul><li>a<li>b</li></li></ul>"


def test_links_lead_out_only_when_followed() -> None:
    assert clean('<a href="https://doi.org/10.1/x">x</a>') == (
        '<a href="https://doi.org/10.1/x" rel="noopener noreferrer">x</a>'
    )
    assert clean('<a href="#part">x</a>') == '<a href="#part">x</a>'


def test_headings_get_anchors_and_equal_ones_a_number() -> None:
    page = Composer("tiny")
    first = page.clean("<h1>How <em>many</em> lived</h1><h2>Été &amp; more</h2><h3>Batch</h3>")
    second = page.clean("<h2>Batch</h2><h2>鱼</h2><h4>Not listed</h4>")
    assert page.title == "How many lived"
    assert [(h.level, h.text, h.anchor) for h in page.headings] == [
        (2, "Été & more", "ete-more"),
        (3, "Batch", "batch"),
        (2, "Batch", "batch-2"),
        (2, "鱼", "part"),
    ]
    assert '<h2 id="ete-more">Été &amp; more</h2>' in first
    assert second == '<h2 id="batch-2">Batch</h2><h2 id="part">鱼</h2><h3>Not listed</h3>'


def test_a_page_has_one_first_level_heading() -> None:
    page = Composer("tiny")
    assert page.clean("<h1>One</h1>") == "<h1>One</h1>"
    assert page.clean("<h1>Two</h1>") == '<h2 id="two">Two</h2>'
    assert page.title == "One"


def test_no_level_of_headings_is_skipped() -> None:
    page = Composer("tiny")
    page.clean("<h1>T</h1>")
    html = page.clean("<h3>a</h3><h4>b</h4><h6>c</h6><h2>d</h2><h4>e</h4>")
    assert re.findall(r"</(h\d)>", html) == ["h2", "h3", "h4", "h2", "h3"]
    assert [(h.level, h.text) for h in page.headings] == [(2, "a"), (2, "d")]


def test_a_table_stands_in_a_named_region_with_scopes_and_marked_numbers() -> None:
    page = Composer("tiny")
    page.clean("<h2>Where they went</h2>")
    html = page.clean(
        "<table border=1><thead><tr><th></th><th>dead</th></tr></thead>"
        "<tbody><tr><th>tub 1</th><td>12.5 %</td></tr><tr><th>tub 2</th><td>30-36</td></tr></tbody>"
        "</table>"
    )
    assert html == (
        '<div class="table" role="region" tabindex="0" aria-label="Table 1: Where they went">'
        '<table><thead><tr><td></td><th scope="col">dead</th></tr></thead>'
        '<tbody><tr><th scope="row">tub 1</th><td class="number">12.5 %</td></tr>'
        '<tr><th scope="row">tub 2</th><td>30-36</td></tr></tbody></table></div>'
    )
    assert page.n_tables == 1


def test_a_caption_names_the_table() -> None:
    html = clean("<table><caption>Fry a tub</caption><tr><td>1</td></tr></table>")
    assert html.startswith('<div class="table" role="region" tabindex="0" aria-label="Fry a tub">')


@pytest.mark.parametrize("number", ["3", "-2.5", "−2.5", "1,234", "12 %", "<0.001", "≈ 4"])
def test_numbers_are_known_as_such(number: str) -> None:
    html = clean(f"<table><tr><td>{number.replace('<', '&lt;')}</td></tr></table>")
    assert ('class="number"' in html) == (number != "≈ 4")


def test_only_a_table_too_wide_for_the_page_is_marked_wide() -> None:
    def table(n_columns: int) -> str:
        return f"<table><tr>{'<td>twelve chars</td>' * n_columns}</tr></table>"

    assert 'class="table"' in clean(table(6))
    assert 'class="table wide"' in clean(table(8))
    assert 'class="table wide widest"' in clean(table(14))


def test_a_column_of_numbers_has_its_heading_on_the_same_side() -> None:
    html = clean(
        "<table><thead><tr><th>tub</th><th>dead</th><th>alive</th></tr></thead>"
        "<tr><td>a</td><td>3</td><td>30-36</td></tr><tr><td>b</td><td></td><td>4</td></tr></table>"
    )
    assert '<th scope="col">tub</th><th scope="col" class="number">dead</th>' in html
    assert '<th scope="col">alive</th>' in html


def test_only_a_long_cell_may_be_broken_into_lines() -> None:
    html = clean(f"<table><tr><td>{'a' * 26}</td><td>{'a ' * 14}</td></tr></table>")
    assert html.count('class="long"') == 1


def test_a_picture_keeps_its_description_and_size() -> None:
    page = Composer("tiny")
    html = f'<figure><img alt="A line" width="10" height="5" src="{PNG}"></figure>'
    assert page.clean(html) == html
    assert page.n_figures == 1


@pytest.mark.parametrize("alt", ["", 'alt=""', 'alt="  "'])
def test_a_picture_without_a_description_stops_the_page(alt: str) -> None:
    with pytest.raises(RunFailed, match="a picture has no description"):
        clean(f'<img {alt} src="{PNG}">')


@pytest.mark.parametrize(
    "source",
    ["https://x.example/a.png", "a.png", "data:image/svg+xml;base64,AAAA", "data:text/html,x", ""],
)
def test_a_picture_from_elsewhere_stops_the_page(source: str) -> None:
    with pytest.raises(RunFailed, match="a picture is not inside the page"):
        clean(f'<img alt="x" src="{source}">')


def test_printed_text_names_no_folder() -> None:
    assert scrub("/home/ann/log.xlsx and C:\\Users\\ann\\log.xlsx") == "log.xlsx and log.xlsx"
    assert scrub("1/2, and/or, 03/04/2025, a/b/c") == "1/2, and/or, 03/04/2025, a/b/c"
