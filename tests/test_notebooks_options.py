"""Every option by which an answer stays honest reaches every answer that a notebook asks for."""

from __future__ import annotations

import inspect
import json
import sys
from pathlib import Path
from typing import Any
from unittest.mock import MagicMock

import pytest

import rearkit
from rearkit.report.parameters import TAG

NOTEBOOKS = sorted((Path(__file__).resolve().parents[1] / "notebooks").glob("*.ipynb"))
# What was compared, on which day, which outcome was the main one, how often it was looked at.
HONEST = {"compare", "usual", "tested", "day", "main_outcome", "earlier_looks"}


def options_of(name: str) -> set[str]:
    """Return the honest options that a function of the kit takes."""
    return set(inspect.signature(getattr(rearkit, name)).parameters) & HONEST


def run_with_a_silent_kit(path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Any, set[str]]:
    """Run the cells with a kit that only notes what it is asked; every setting is its own name."""
    kit = MagicMock()
    monkeypatch.setitem(sys.modules, "rearkit", kit)
    known: dict[str, Any] = {}
    settings: set[str] = set()
    for cell in json.loads(path.read_text("utf-8"))["cells"]:
        if cell["cell_type"] != "code":
            continue
        exec("".join(cell["source"]), known)
        if TAG in cell["metadata"].get("tags", ()):
            settings = {name for name in known if not name.startswith("__")}
            known |= {name: f"the setting {name}" for name in settings}
    return kit, settings


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_every_honest_option_is_a_setting_and_is_handed_on(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    questions = [n for n in rearkit.__all__ if inspect.isfunction(getattr(rearkit, n))]
    taken = {name: options_of(name) for name in questions}
    kit, settings = run_with_a_silent_kit(path, monkeypatch)
    calls = [call for call in kit.method_calls if call[0] in taken]
    assert calls
    for name, _, handed in calls:
        assert taken[name] <= settings, name
        for option in taken[name]:
            assert handed.get(option) == f"the setting {option}", (name, option)


def test_some_answers_take_such_options() -> None:
    assert options_of("compare_methods") == HONEST
    assert options_of("compare_growth") >= {"day", "earlier_looks"}
