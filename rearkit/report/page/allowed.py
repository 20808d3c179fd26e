"""What a page may hold: the elements and attributes that a cell's HTML can bring onto it."""

from __future__ import annotations

import re
from collections.abc import Callable

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
