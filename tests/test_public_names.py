"""The public names: each is there, is listed once, and costs nothing until it is used."""

from __future__ import annotations

import subprocess
import sys

import pytest

import rearkit


def test_every_listed_name_has_a_home_and_is_there() -> None:
    assert set(rearkit.__all__) == set(rearkit._HOME)
    assert dir(rearkit) == sorted(rearkit.__all__)
    for name in rearkit.__all__:
        assert getattr(rearkit, name) is not None


def test_a_name_that_is_not_there_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        rearkit.nonsense  # noqa: B018


def test_importing_the_kit_loads_nothing_heavy() -> None:
    code = "import sys, rearkit; print([m for m in ('pandas', 'matplotlib') if m in sys.modules])"
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "[]"
