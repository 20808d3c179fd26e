"""The page that lists the reports of a folder of logs."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from pathlib import Path
from typing import Protocol
from urllib.parse import quote

STYLE = Path(__file__).parent / "page" / "page.css"


class Listed(Protocol):
    """What the list needs to know of a log."""

    @property
    def log(self) -> str: ...  # noqa: D102
    @property
    def page(self) -> str | None: ...  # noqa: D102
    @property
    def headline(self) -> str: ...  # noqa: D102
    @property
    def claim(self) -> str: ...  # noqa: D102
    @property
    def batches(self) -> int | None: ...  # noqa: D102
    @property
    def failed(self) -> bool: ...  # noqa: D102


def index_page(title: str, logs: Iterable[Listed], stamp: str) -> str:
    """Write the list as one page that needs nothing from anywhere else.

    Parameters
    ----------
    title : str
        The name of the folder.
    logs : iterable
        What became of each log: ``log``, ``page`` (None if there is none), ``headline``,
        ``claim``, ``batches``, ``failed``.
    stamp : str
        The line that says when it was made.

    Returns
    -------
    str
        HTML; everything from the logs is escaped.
    """
    listed = list(logs)
    made = [entry for entry in listed if entry.page is not None]
    skipped = [entry for entry in listed if entry.page is None and not entry.failed]
    failed = [entry for entry in listed if entry.page is None and entry.failed]
    parts = [_made(made)] if made else []
    if skipped:
        parts.append(_left("Skipped: cannot be analysed as they are", skipped))
    if failed:
        parts.append(_left("Without a report: a run stopped", failed))
    heading = f"{len(made)} of {len(listed)} logs have a report"
    policy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta name="referrer" content="no-referrer">
<title>Reports – {escape(title)}</title>
<link rel="icon" href="data:,">
<style>
{STYLE.read_text(encoding="utf-8")}</style>
</head>
<body>
<header class="mast"><span class="kit">rearkit</span>
<span class="log">{escape(title)}</span></header>
<div class="sheet">
<main id="report">
<h1>{heading}</h1>
{"".join(parts)}
</main>
</div>
<footer><p class="stamp">{escape(stamp)}</p></footer>
</body>
</html>
"""


def _made(entries: list[Listed]) -> str:
    rows = "".join(
        f'<tr><td><a href="{escape(quote(str(entry.page)))}">{escape(entry.log)}</a></td>'
        f'<td class="number">{"" if entry.batches is None else entry.batches}</td>'
        f'<td class="long">{escape(entry.headline)}</td>'
        f'<td class="long">{escape(entry.claim)}</td></tr>\n'
        for entry in entries
    )
    return _table("Reports", ("log", "batches", "answer", "how far the words go"), rows)


def _left(title: str, entries: list[Listed]) -> str:
    rows = "".join(
        f'<tr><td>{escape(entry.log)}</td><td class="long">{escape(entry.headline)}</td></tr>\n'
        for entry in entries
    )
    return f"<h2>{title}</h2>\n" + _table(title, ("log", "why"), rows)


def _table(caption: str, heads: tuple[str, ...], rows: str) -> str:
    head = "".join(f'<th scope="col">{name}</th>' for name in heads)
    return (
        f'<div class="table" tabindex="0" role="region" aria-label="{caption}"><table>'
        f"<caption>{caption}</caption><thead><tr>{head}</tr></thead><tbody>\n{rows}</tbody>"
        "</table></div>\n"
    )
