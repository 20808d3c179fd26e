"""Turns the HTML of cells into what may stand on the page, and keeps its list of contents."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from html import escape, unescape
from html.parser import HTMLParser

from rearkit.errors import RunFailed

# ---- what a page may hold: elements and attributes that a cell's HTML can bring onto it

VOID = frozenset({"br", "col", "hr", "img", "wbr"})
_TEXT = ("a", "abbr", "b", "code", "del", "em", "i", "kbd", "mark", "s", "small", "span", "strong")
_TEXT_MORE = ("sub", "sup", "time", "u", "var")
_BLOCKS = ("aside", "blockquote", "details", "div", "figcaption", "figure", "h1", "h2", "h3", "h4")
_BLOCKS_MORE = ("h5", "h6", "p", "pre", "section", "summary")
_LISTS = ("dd", "dl", "dt", "li", "ol", "ul")
_TABLES = ("caption", "colgroup", "table", "tbody", "td", "tfoot", "th", "thead", "tr")
ELEMENTS = VOID.union(_TEXT, _TEXT_MORE, _BLOCKS, _BLOCKS_MORE, _LISTS, _TABLES)

_LINK = re.compile(r"(https?://|mailto:|#)[^\s]*", re.IGNORECASE)
_PNG = re.compile(r"data:image/png;base64,[A-Za-z0-9+/=]+")
_WORDS = re.compile(r"[\w -]*")
_NUMBER = re.compile(r"\d{1,4}")


def _any(value: str) -> bool:
    return True


def _matches(pattern: re.Pattern[str]) -> Callable[[str], bool]:
    return lambda value: pattern.fullmatch(value) is not None


ANYWHERE: dict[str, Callable[[str], bool]] = {
    "class": _matches(_WORDS),
    "title": _any,
    "lang": _matches(_WORDS),
    "aria-label": _any,
}
ATTRIBUTES: dict[str, dict[str, Callable[[str], bool]]] = {
    "a": {"href": _matches(_LINK)},
    "img": {
        "src": _matches(_PNG),
        "alt": _any,
        "width": _matches(_NUMBER),
        "height": _matches(_NUMBER),
    },
    "th": {"colspan": _matches(_NUMBER), "rowspan": _matches(_NUMBER)},
    "td": {"colspan": _matches(_NUMBER), "rowspan": _matches(_NUMBER)},
    "col": {"span": _matches(_NUMBER)},
    "ol": {"start": _matches(_NUMBER)},
    "time": {"datetime": _any},
    "details": {"open": _any},
}


def allowed_attributes(tag: str, given: list[tuple[str, str | None]]) -> dict[str, str]:
    """Keep the attributes of an element that can do no harm.

    Parameters
    ----------
    tag : str
        The element, in lower case.
    given : list of (name, value)

    Returns
    -------
    dict
        Name to value. No style, no id, no handler, no address but a link or a picture inside the
        page.
    """
    checks = {**ANYWHERE, **ATTRIBUTES.get(tag, {})}
    return {
        name: value or "" for name, value in given if name in checks and checks[name](value or "")
    }


# ---- the page itself

PORTRAIT_CHARACTERS = 96
LANDSCAPE_CHARACTERS = 170
SHORT_CELL = 26
_NUMERIC = re.compile(r"[-+−±<>≥≤~]?\s?[\d.,\s]*\d\s?%?")
_HEADING = re.compile(r"h[1-6]")
_ABSOLUTE = re.compile(r"(?<![\w/.])(?:[A-Za-z]:)?(?:[\\/][^\s:\\/'\"<>()]+){2,}")


@dataclass(frozen=True, kw_only=True)
class Heading:
    """One line of the list of contents."""

    level: int
    text: str
    anchor: str


class Composer:
    """What one page has had put on it so far: its title, headings, tables and figures.

    Parameters
    ----------
    title : str
        What to call the page if it holds no first-level heading.
    """

    def __init__(self, title: str) -> None:
        self.title = title
        self.titled = False
        self.headings: list[Heading] = []
        self.n_tables = 0
        self.n_figures = 0
        self._anchors: Counter[str] = Counter()
        self._level = 1

    def clean(self, html: str) -> str:
        """Give the HTML of one cell with everything active made into plain text.

        Parameters
        ----------
        html : str

        Returns
        -------
        str
            Balanced HTML of known elements. Headings have unique anchors, a table stands in a
            region that can be scrolled, cells with numbers are marked.

        Raises
        ------
        RunFailed
            If a picture has no description, or is not inside the page.
        """
        cleaner = _Cleaner(self)
        cleaner.feed(html)
        cleaner.close()
        return cleaner.finish()

    def level(self, tag: str) -> str:
        """Give the level a heading is written at: one title a page, and no level is skipped."""
        wanted = 2 if tag == "h1" and self.titled else int(tag[1])
        self.titled = self.titled or tag == "h1"
        self._level = min(wanted, self._level + 1)
        return f"h{self._level}"

    def anchor(self, text: str) -> str:
        """Make an anchor from a heading; equal headings get a number."""
        latin = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
        slug = re.sub(r"[^a-z0-9]+", "-", latin.lower()).strip("-") or "part"
        self._anchors[slug] += 1
        number = self._anchors[slug]
        return slug if number == 1 else f"{slug}-{number}"


def scrub(text: str) -> str:
    """Shorten the absolute paths in printed text to their last part.

    Examples
    --------
    >>> scrub("/tmp/a1/b.py:3: UserWarning: and/or 1/2")
    'b.py:3: UserWarning: and/or 1/2'
    """
    return _ABSOLUTE.sub(lambda match: re.split(r"[\\/]", match.group())[-1], text)


class _Table:
    """The table being written: where it began, how wide its columns are, which hold numbers."""

    def __init__(self, start: int) -> None:
        self.start = start
        self.in_head = False
        self.column = 0
        self.caption = ""
        self.widths: dict[int, int] = {}
        self.heads: dict[int, int] = {}
        self.words: set[int] = set()
        self.numbers: set[int] = set()

    @property
    def kind(self) -> str:
        """The classes of its region: how much room it takes on paper."""
        width = sum(width + 2 for width in self.widths.values())
        if width > LANDSCAPE_CHARACTERS:
            return "table wide widest"
        return "table wide" if width > PORTRAIT_CHARACTERS else "table"

    def take_in(self, text: str, *, head: bool, at: int) -> None:
        """Note one more cell of the row."""
        self.widths[self.column] = max(self.widths.get(self.column, 0), min(len(text), SHORT_CELL))
        if head:
            self.heads[self.column] = at
        elif text:
            (self.numbers if _NUMERIC.fullmatch(text) else self.words).add(self.column)
        self.column += 1

    def number_heads(self) -> list[int]:
        """Where the headings are whose columns hold numbers only."""
        return [self.heads[j] for j in sorted(self.numbers - self.words) if j in self.heads]


class _Cleaner(HTMLParser):
    """Rebuilds HTML from its tokens; whatever is not known comes out as text, styles not at all."""

    def __init__(self, page: Composer) -> None:
        super().__init__(convert_charrefs=True)
        self.page = page
        self.out: list[str] = []
        self.open: list[tuple[str, str, int]] = []
        self.table: _Table | None = None
        self.styling = False

    def finish(self) -> str:
        while self.open:
            self._close_last()
        return "".join(self.out)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "style":
            self.styling = True
            return
        if tag not in ELEMENTS or (tag == "table" and self.table is not None):
            self.out.append(escape(self.get_starttag_text() or f"<{tag}>"))
            return
        kept = allowed_attributes(tag, attrs)
        if tag == "img":
            self._check_picture(kept)
        written = self.page.level(tag) if _HEADING.fullmatch(tag) else tag
        if tag == "a" and not kept.get("href", "").startswith("#"):
            kept["rel"] = "noopener noreferrer"
        if tag == "table":
            self.table = _Table(len(self.out))
        elif tag == "thead" and self.table:
            self.table.in_head = True
        elif tag == "tr" and self.table:
            self.table.column = 0
        if tag not in VOID:
            self.open.append((tag, written, len(self.out)))
        self.out.append(_tag(written, kept))

    def handle_endtag(self, tag: str) -> None:
        if tag == "style":
            self.styling = False
        elif tag not in ELEMENTS:
            self.out.append(escape(f"</{tag}>"))
        elif any(tag == name for name, _, _ in self.open):
            while self.open[-1][0] != tag:
                self._close_last()
            self._close_last()

    def handle_data(self, data: str) -> None:
        if not self.styling:
            self.out.append(escape(data, quote=False))

    def unknown_decl(self, data: str) -> None:
        self.out.append(escape(f"<![{data}]>"))

    def _close_last(self) -> None:
        tag, written, start = self.open.pop()
        inner = self.out[start + 1 :]
        self.out.append(f"</{written}>")
        if _HEADING.fullmatch(tag):
            self._end_heading(tag, written, start, _text(inner))
        elif self.table is not None:
            self._end_in_table(self.table, tag, start, _text(inner))

    def _end_heading(self, tag: str, written: str, start: int, text: str) -> None:
        level = int(written[1])
        if level == 1:
            self.page.title = text
        elif tag <= "h3":
            anchor = self.page.anchor(text)
            self.out[start] = f'{self.out[start][:-1]} id="{anchor}">'
            self.page.headings.append(Heading(level=level, text=text, anchor=anchor))

    def _end_in_table(self, table: _Table, tag: str, start: int, text: str) -> None:
        if tag in {"th", "td"}:
            self._end_cell(table, tag, start, text)
        elif tag == "caption":
            table.caption = text
        elif tag == "thead":
            table.in_head = False
        elif tag == "table":
            self._end_table(table)

    def _end_table(self, table: _Table) -> None:
        self.page.n_tables += 1
        name = escape(table.caption or self._name_of_table())
        region = f'<div class="{table.kind}" role="region" tabindex="0" aria-label="{name}">'
        self.out[table.start] = region + self.out[table.start]
        self.out.append("</div>")
        for at in table.number_heads():
            self._classify(at, "number")
        self.table = None

    def _end_cell(self, table: _Table, tag: str, start: int, text: str) -> None:
        table.take_in(text, head=table.in_head, at=start)
        if tag == "th" and not text:
            self.out[start] = f"<td{self.out[start][3:]}"
            self.out[-1] = "</td>"
        elif tag == "th":
            scope = "col" if table.in_head else "row"
            self.out[start] = f'{self.out[start][:-1]} scope="{scope}">'
        elif _NUMERIC.fullmatch(text):
            self._classify(start, "number")
        if len(text) > SHORT_CELL:
            self._classify(start, "long")

    def _classify(self, at: int, kind: str) -> None:
        """Give an opening tag a class, unless it brought its own."""
        if " class=" not in self.out[at]:
            self.out[at] = f'{self.out[at][:-1]} class="{kind}">'

    def _name_of_table(self) -> str:
        under = f": {self.page.headings[-1].text}" if self.page.headings else ""
        return f"Table {self.page.n_tables}{under}"

    def _check_picture(self, kept: dict[str, str]) -> None:
        if not kept.get("alt", "").strip():
            raise RunFailed("a picture has no description (alt text) for readers who cannot see it")
        if "src" not in kept:
            raise RunFailed("a picture is not inside the page as PNG, so it would be missing")
        self.page.n_figures += 1


def _tag(name: str, attributes: dict[str, str]) -> str:
    written = "".join(f' {key}="{escape(value)}"' for key, value in attributes.items())
    return f"<{name}{written}>"


def _text(pieces: list[str]) -> str:
    words = "".join(piece for piece in pieces if not piece.startswith("<"))
    return " ".join(unescape(words).split())
