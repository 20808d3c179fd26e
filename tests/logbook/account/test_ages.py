"""Ages in days, and a day that has its unit."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from rearkit.logbook.account.ages import DAY, add_ages, choose_clock, set_clock

PACKAGE = Path(__file__).parents[3] / "rearkit"


def batches(**dates: list[str | None]) -> pd.DataFrame:
    known = {name: pd.to_datetime(pd.Series(days)) for name, days in dates.items()}
    return pd.DataFrame({"batch": ["A", "B"], **known})


@pytest.mark.parametrize(
    ("hatched", "free_swimming", "declared", "clock"),
    [
        (["2025-04-01", "2025-04-02"], [None, None], None, "hatch"),
        (["2025-04-01", None], ["2025-04-05", "2025-04-06"], None, "free_swimming"),
        (["2025-04-01", None], [None, "2025-04-06"], None, "start"),
        (["2025-04-01", None], [None, "2025-04-06"], "hatch", "hatch"),
    ],
)
def test_the_clock_is_the_declared_event_or_the_first_that_all_have(
    hatched: list, free_swimming: list, declared: str | None, clock: str
) -> None:
    started = ["2025-04-07", "2025-04-08"]
    table = batches(hatched=hatched, free_swimming=free_swimming, started=started)
    assert choose_clock(table, declared) == clock


def test_a_batch_without_the_event_is_counted_from_the_next_that_it_has() -> None:
    table = set_clock(
        batches(
            hatched=["2025-04-01", None],
            free_swimming=[None, None],
            started=["2025-04-04", "2025-04-08"],
        ),
        "hatch",
    )
    assert list(table["clock"]) == ["hatch", "start"]
    seen = pd.DataFrame({"batch": ["A", "B", "A"], "date": pd.to_datetime(["2025-04-11"] * 3)})
    assert list(add_ages(seen, table)["age_days"]) == [10.0, 3.0, 10.0]


def test_a_span_over_a_day_is_its_days_exactly() -> None:
    # every whole day of ten years, against the calendar of numpy
    dates = pd.Series(pd.date_range("2020-01-01", "2029-12-31", freq="D"))
    days = (dates - dates.iloc[0]) / DAY
    assert np.array_equal(days, np.arange(len(dates)))
    assert (dates.iloc[0] + days * DAY).equals(dates)
    assert np.isnan((pd.NaT - dates.iloc[0]) / DAY)


def test_no_span_of_time_is_made_without_its_unit() -> None:
    # pandas 2 makes Timedelta(days=1) of a numpy span without a unit, of which numpy 2.5 warns
    for module in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(module.read_text("utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "pd.Timedelta":
                assert not node.keywords, f"{module.name}, line {node.lineno}"
                assert len(node.args) == 2, f"{module.name}, line {node.lineno}"
