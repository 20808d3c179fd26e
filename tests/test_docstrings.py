"""The examples in the docstrings give what they say."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
WITH_EXAMPLES = sorted(
    path.relative_to(ROOT).with_suffix("").as_posix().replace("/", ".").removesuffix(".__init__")
    for path in (ROOT / "rearkit").rglob("*.py")
    if ">>> " in path.read_text("utf-8")
)


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples_run_and_give_what_they_say(name: str) -> None:
    found = doctest.testmod(importlib.import_module(name))
    assert found.attempted > 0, "an example stands where nobody runs it"
    assert found.failed == 0


def test_there_are_examples() -> None:
    assert len(WITH_EXAMPLES) > 10
