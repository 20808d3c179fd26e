"""Looks over an executed notebook: did every cell run, and can the page show what came out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from html import unescape

from rearkit.errors import RunFailed
from rearkit.report.collect import ANSWER

SHOWN = ("text/html", "text/markdown", "text/plain")
_HEADING = re.compile(r"^#{1,6}\s+(.+?)\s*#*\s*$", re.MULTILINE)
_ANSI = re.compile(r"\x1b\[[0-?]*[ -/]*[@-~]")
_REFUSED = {
    "application/vnd.jupyter.widget-view+json": "a control to click on, which a page cannot hold",
    "application/javascript": "a script, which a page must not hold",
    "image/png": "a picture without a description",
    "image/jpeg": "a picture without a description",
    "image/svg+xml": "a picture without a description",
}


def heading_of(notebook: Mapping, index: int) -> str:
    """Give the heading that a cell stands under, in words.

    Parameters
    ----------
    notebook : mapping
    index : int
        The place of the cell.

    Returns
    -------
    str
        Empty if there is no heading before it.
    """
    found = [
        heading
        for cell in notebook["cells"][: index + 1]
        if cell["cell_type"] == "markdown"
        for heading in _HEADING.findall("".join(cell["source"]))
    ]
    return re.sub(r"[*_`]", "", unescape(found[-1])) if found else ""


def place_of(notebook: Mapping, index: int, *, name: str) -> str:
    """Say where in a notebook a cell is, as a message puts it."""
    heading = heading_of(notebook, index)
    return f"notebook {name}, under “{heading}”" if heading else f"notebook {name}"


def check_ran(notebook: Mapping, *, name: str) -> None:
    """Refuse a run in which a cell did not run to its end.

    Parameters
    ----------
    notebook : mapping
        As papermill hands it back.
    name : str

    Raises
    ------
    RunFailed
        Naming the first such cell. A cell that ends the program on purpose counts as one.
    """
    for index, cell in enumerate(notebook["cells"]):
        if cell["cell_type"] != "code" or not "".join(cell["source"]).strip():
            continue
        for output in cell["outputs"]:
            if output["output_type"] == "error":
                raise RunFailed(
                    f"a cell stopped: {in_one_line(output['ename'], output['evalue'])}",
                    where=place_of(notebook, index, name=name),
                    details=plain_traceback(output["traceback"]),
                )
        if cell["metadata"].get("papermill", {}).get("status") != "completed":
            raise RunFailed("a cell did not run", where=place_of(notebook, index, name=name))


def check_outputs(notebook: Mapping, *, name: str) -> None:
    """Refuse an output that a page cannot show to every reader.

    Parameters
    ----------
    notebook : mapping
    name : str

    Raises
    ------
    RunFailed
    """
    for index, output in _outputs(notebook):
        data = output.get("data", {})
        refused = next((mime for mime in _REFUSED if mime in data), None)
        if refused and not ("text/html" in data and refused.startswith("image/")):
            raise RunFailed(
                f"a cell shows {_REFUSED[refused]}", where=place_of(notebook, index, name=name)
            )
        if data and not any(mime in data for mime in (*SHOWN, ANSWER)):
            raise RunFailed(
                f"a cell shows something a page cannot hold: {', '.join(sorted(data))}",
                where=place_of(notebook, index, name=name),
            )


def in_one_line(kind: str, message: str) -> str:
    """Put an exception on one line, its colours taken off."""
    words = " ".join(_ANSI.sub("", message).split())
    return f"{kind}: {words}" if words else kind


def plain_traceback(lines: list[str]) -> str:
    """Join a traceback and take its colours off."""
    return _ANSI.sub("", "\n".join(lines)) + "\n"


def _outputs(notebook: Mapping) -> Iterator[tuple[int, Mapping]]:
    for index, cell in enumerate(notebook["cells"]):
        for output in cell.get("outputs", ()):
            yield index, output
