"""Windows for moving hold what they state, under every curve that fry may grow along."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from rearkit import read_log, when_to_move
from tests.answers.growth_logs import size
from tests.evidence.growing import TRUTHS, windows
from tests.logs import Row, batch, day, write_log

HELD = 0.75  # of windows that state 4 in 5


@pytest.mark.parametrize("curve", ["exponential", "von_bertalanffy"])
def test_windows_hold_what_they_state(curve: str) -> None:
    found = windows(curve, n_logs=6, seed=20)
    assert found.held >= HELD
    assert found.given > 0.5  # it still speaks


@pytest.mark.slow
@pytest.mark.parametrize("curve", TRUTHS)
def test_windows_hold_what_they_state_under_every_curve(curve: str) -> None:
    found = windows(curve, n_logs=250, seed=3)
    assert found.held >= HELD
    assert found.given > 0.5


def running(folder: Path, sizes: list[Row], names: tuple[str, ...] = ("A",)):
    """Read a log of running batches with a size to move."""
    rows = [batch(name, 40, hatched=day(0), litres=20) for name in names]
    trial = {"size_to_move_mm": 10}
    return when_to_move(read_log(write_log(folder, batches=rows, sizes=sizes, trial=trial)))


def along(name: str, days: tuple[int, ...], pace: float) -> list[Row]:
    """Return twelve fish a day along a straight line from 5 mm, with a CV of 10 %."""
    return [
        size(name, on, 5 + pace * on, fish=12, length_sd_mm=0.1 * (5 + pace * on)) for on in days
    ]


def test_a_date_further_ahead_than_half_the_days_seen_is_not_named(tmp_path: Path) -> None:
    # 21 days seen: up to day 28 + 10.5. All but the smallest tenth are 10 mm at a mean of 11.47,
    # at 0.16 mm a day on day 40, at 0.17 on day 38.
    days = (7, 14, 21, 28)
    far = running(tmp_path / "far", along("A", days, 0.16))
    near = running(tmp_path / "near", along("A", days, 0.17))
    assert far.by_batch["size"].tolist() == ["far"]
    assert any("Measure again in a week or two" in text for text in far.limits)
    assert near.by_batch["size"].tolist() == ["ahead"]
    assert not near.by_batch["size_day_high"].iloc[0] > 38.5
    assert "from about" in near.headline


def test_what_was_measured_says_whether_a_batch_is_long_enough(tmp_path: Path) -> None:
    # The mean of day 28 is 11.9 mm, past the 11.47 that are needed; every curve through 9.9 mm
    # on day 21 and before would run below it.
    rows = [*along("A", (7, 14, 21), 0.2), size("A", 28, 11.9, fish=12, length_sd_mm=1.19)]
    row = running(tmp_path / "l", rows).by_batch.iloc[0]
    assert row["size"] == "reached"
    assert row["length_now"] == pytest.approx(11.9)
    assert row["size_day"] <= 28


@pytest.mark.parametrize("start", ["", "unknown"])
@pytest.mark.parametrize("what", ["lengths", "weights", "one day", "died out"])
def test_odd_logs_end_in_plain_words(tmp_path: Path, start: str, what: str) -> None:
    rows: list[Row] = [
        batch(name, start if name == "A" else 40, hatched=day(0), litres=20) for name in "AB"
    ]
    sizes: list[Row] = [*along("A", (7, 14, 21), 0.25), *along("B", (7, 14, 21), 0.24)]
    if what == "weights":
        sizes = [size("A", on, "", weight_mg=5.0 + on) for on in (7, 14)]
    if what == "one day":
        sizes = sizes[:1] + sizes[3:]
    if what == "died out":
        rows[1] = dict(rows[1]) | {"ended": day(21), "end_count": 0, "end_reason": "all died"}
    log = write_log(tmp_path / "l", batches=rows, sizes=sizes, trial={"size_to_move_mm": 10})
    answer = when_to_move(read_log(log))
    said = [answer.headline, *answer.limits, *answer.say("plan").items, *answer.say("how").items]
    assert answer.headline.endswith(".")
    assert not [text for text in said if "nan" in text or "None" in text]
    assert np.isfinite(answer.by_batch["age_now"]).any()
