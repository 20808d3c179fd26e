from __future__ import annotations

import pytest

from rearkit.errors import SettingError
from rearkit.report.parameters import (
    Parameter,
    is_kind,
    parameters_index,
    read_parameters,
    source_index,
)


def notebook(source: str, *, n_tagged: int = 1) -> dict:
    tagged = {"cell_type": "code", "metadata": {"tags": ["parameters"]}, "source": source}
    words = {"cell_type": "markdown", "metadata": {}, "source": "# Words"}
    other = {"cell_type": "code", "metadata": {}, "source": "1"}
    return {"cells": [words, *([tagged] * n_tagged), other]}


def test_reads_name_types_default_and_comment_of_every_line() -> None:
    source = [
        'log: str = "a.xlsx"  # the log\n',
        "day: int | None = None  # day to judge at, days\n",
        "share: float = -0.5\n",
        'tested: str = "a # b"  # what is tested\n',
        "strict: bool = True",
    ]
    read = read_parameters(notebook(source), name="tiny")  # type: ignore[arg-type]
    assert [(p.name, p.kinds, p.default, p.comment) for p in read] == [
        ("log", ("str",), "a.xlsx", "the log"),
        ("day", ("int", "None"), None, "day to judge at, days"),
        ("share", ("float",), -0.5, ""),
        ("tested", ("str",), "a # b", "what is tested"),
        ("strict", ("bool",), True, ""),
    ]


@pytest.mark.parametrize(
    "line",
    [
        "day = 3",
        "day: int",
        "day: int = 2 + 3",
        "day: int = f()",
        "day: date = 3",
        "day: int = 'three'",
        "day: int = True",
        "import os",
        "log.day: int = 3",
    ],
)
def test_refuses_a_line_that_is_not_a_plain_setting(line: str) -> None:
    with pytest.raises(SettingError, match=r"line 2 is not a setting \(notebook tiny, cell"):
        read_parameters(notebook(f"share: float = 1\n{line}"), name="tiny")


def test_says_which_line_cannot_be_read() -> None:
    with pytest.raises(SettingError, match=r"line 2 cannot be read \(notebook tiny"):
        read_parameters(notebook("a: int = 1\nb: int = ("), name="tiny")


@pytest.mark.parametrize("n_tagged", [0, 2])
def test_wants_exactly_one_tagged_cell(n_tagged: int) -> None:
    with pytest.raises(SettingError, match=f"{n_tagged} cells are tagged 'parameters'"):
        parameters_index(notebook("a: int = 1", n_tagged=n_tagged), name="tiny")


def test_a_cell_after_the_settings_moves_down_by_one_when_it_runs() -> None:
    tiny = notebook("a: int = 1")
    assert [source_index(tiny, index, name="tiny") for index in (0, 1, 2, 3)] == [0, 1, 1, 2]


def test_writes_a_line_as_it_stands_in_the_notebook() -> None:
    day = Parameter(name="day", kinds=("int", "None"), default=None, comment="in days")
    assert day.line(28) == "day: int | None = 28  # in days"
    plain = Parameter(name="who", kinds=("str",), default="", comment="")
    assert plain.line('it\'s "so"') == "who: str = 'it\\'s \"so\"'"
    again = read_parameters(notebook(plain.line('it\'s "so"')), name="tiny")
    assert again[0].default == 'it\'s "so"'


@pytest.mark.parametrize(
    ("value", "kinds"),
    [
        (1, {"int", "float"}),
        (1.5, {"float"}),
        (True, {"bool"}),
        ("1", {"str"}),
        (None, {"None"}),
        (float("nan"), set()),
        ([1], set()),
    ],
)
def test_tells_the_kinds_of_plain_values_apart(value: object, kinds: set[str]) -> None:
    named = {kind for kind in ("str", "int", "float", "bool", "None") if is_kind(value, kind)}
    assert named == kinds
