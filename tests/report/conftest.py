from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from types import SimpleNamespace

import nbformat
import numpy as np
import pandas as pd
import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

SETTINGS = """\
log: str = "demo.xlsx"  # the log
day: int | None = None  # day to judge at, days
share: float = 0.1  # what about 40 may be off by
"""

ANSWER = """\
class Answer:
    def _repr_mimebundle_(self, include=None, exclude=None):
        facts = {"day": day, "third": 1 / 3}
        return {
            "text/html": '<div class="answer"><p class="headline">Five more of 20</p></div>',
            "text/plain": "an answer",
            "application/vnd.rearkit.answer+json": {"name": "tiny", "facts": facts},
        }
Answer()"""

PICTURE = """\
from rearkit.pictures.picture import Picture
picture = Picture(alt="A line that rises from 0 to 3.", caption="A line")
picture.subplots().plot([0, 1, 3])
picture"""

WriteNotebook = Callable[..., Path]


@pytest.fixture
def write_notebook(tmp_path: Path) -> WriteNotebook:
    """Write a notebook: the settings, then cells; text that begins with # is a heading."""

    def write(name: str, cells: Sequence[str], *, settings: str = SETTINGS) -> Path:
        made = [new_code_cell(settings, metadata={"tags": ["parameters"]})]
        made += [new_markdown_cell(c) if c.startswith("#") else new_code_cell(c) for c in cells]
        for number, cell in enumerate(made):
            cell["id"] = f"cell-{number}"
        notebook = new_notebook(cells=made)
        notebook.metadata = {
            "kernelspec": {
                "name": "python3",
                "display_name": "Python 3 (ipykernel)",
                "language": "python",
            },
            "language_info": {"name": "python"},
        }
        path = tmp_path / f"{name}.ipynb"
        nbformat.write(notebook, path)
        return path

    return write


@pytest.fixture
def tiny_log(tmp_path: Path) -> SimpleNamespace:
    """A log as the runner sees it, with things in it that must come out inert or in full."""
    daily = pd.DataFrame(
        {
            "date": pd.to_datetime(["2025-03-01", "2025-03-02", None]),
            "batch": ["=HYPERLINK(1)", "tub 2", None],
            "dead_best": [1.0, np.nan, 1 / 3],
            "alive_high": [np.inf, 12.0, -2.5],
            "dead_text": ["30-36", "-", "+3"],
        }
    )
    rows = pd.DataFrame({"sheet": ["Daily"], "n_read": [3], "stopped": [True]})
    frames = ("batches", "sizes", "positions", "events", "account", "fates", "findings")
    path = tmp_path / "club 7.xlsx"
    path.write_bytes(b"a log")
    return SimpleNamespace(
        name="club 7",
        path=path,
        sha256="ab" * 32,
        trial={"title": "=1+1", "aim": None, "tank_litres": 12},
        daily=daily,
        rows=rows,
        **{name: pd.DataFrame({"batch": ["a"]}) for name in frames},
    )


@pytest.fixture
def reads_tiny_log(tiny_log: SimpleNamespace, monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """Let the runner read the tiny log, whatever the path; keep what it was asked with."""
    tiny_log.asked = []

    def read_log(path: Path, **reading: object) -> SimpleNamespace:
        tiny_log.asked.append(reading)
        return tiny_log

    monkeypatch.setattr("rearkit.logbook.logbook.read_log", read_log)
    return tiny_log


@pytest.fixture
def answer_cell() -> str:
    """Code whose value is an answer."""
    return ANSWER


@pytest.fixture
def picture_cell() -> str:
    """Code that shows a picture."""
    return PICTURE
