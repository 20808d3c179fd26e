"""When to move: windows by hand, which limit binds first, and who could go where."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from rearkit import Logbook, read_log, when_to_move
from rearkit.answers.moving import words
from rearkit.errors import DesignError
from rearkit.stats.growth.size_spread import SMALLEST_TENTH
from tests.answers.growth_logs import line, size
from tests.logs import Row, batch, day, write_log

TEMPLATES = Path(__file__).parents[3] / "data_templates"
PACES = {"A": 0.25, "B": 0.24, "C": 0.27, "D": 0.22}
DAYS = (1, 7, 14, 21)  # so no date is given after day 31


def sizes(paces: dict[str, float], days: tuple[int, ...] = DAYS) -> list[Row]:
    """Return groups of twelve with a CV of 10 % along straight lines from 5 mm."""
    return [
        size(name, on, line(5, pace)(on), fish=12, length_sd_mm=0.1 * line(5, pace)(on))
        for name, pace in paces.items()
        for on in days
    ]


def counted(names: dict[str, int], on: int = 21) -> list[Row]:
    return [
        {"date": day(on), "batch": name, "dead": 40 - n, "alive": n} for name, n in names.items()
    ]


def running_log(
    folder: Path, *, litres: float = 20.0, free: tuple[float, ...] = (), **trial: object
) -> Logbook:
    batches = [batch(b, 40, litres=litres, container=f"tub {b}", hatched=day(0)) for b in PACES]
    batches += [
        batch(f"old{i}", 30, 20, days=15, litres=x, container=f"tank {i}", hatched=day(0))
        for i, x in enumerate(free)
    ]
    rows = counted(dict.fromkeys(PACES, 36))
    return read_log(write_log(folder, batches=batches, daily=rows, sizes=sizes(PACES), trial=trial))


def test_the_age_by_hand(tmp_path: Path) -> None:
    # The smallest tenth are 1.2816 × 10 % below the mean: 10 mm when the mean is 11.47 mm
    log = running_log(tmp_path / "l", size_to_move_mm=10, most_fish_per_litre=5)
    answer = when_to_move(log, curve="line")
    row = answer.facts()["by_batch"]
    by = {r["batch"]: r for r in row}
    needed = 10 / (1 - SMALLEST_TENTH * 0.1)
    assert by["A"]["mean_needed_mm"] == pytest.approx(needed)
    for name, pace in PACES.items():
        expected = (needed - 5) / pace
        assert by[name]["size_day"] == pytest.approx(expected)
        assert by[name]["size_date"] == pd.Timestamp(day(round(expected)))
        assert by[name]["size_day_low"] < expected
        assert not by[name]["size_day_high"] <= expected  # or left open
        assert by[name]["extrapolated"]
        assert by[name]["binds"] == "size"
    assert answer.headline.startswith("C should be ready about ")
    assert "extrapolated" in answer.headline


def test_the_window_is_widened_by_the_spread_among_containers(tmp_path: Path) -> None:
    log = running_log(tmp_path / "l", size_to_move_mm=10)
    needed = 10 / (1 - SMALLEST_TENTH * 0.1)
    row = when_to_move(log, curve="line").by_batch.set_index("batch").loc["A"]
    now = line(5, PACES["A"])(21)
    takes = np.array([(needed - now) / pace for pace in PACES.values()])
    half = 1.637744 * takes.std(ddof=1)  # t(3) at 80 % (table)
    assert row["spread_containers"] == 4
    assert row["size_day"] - row["size_day_low"] >= min(half, row["size_day"] - 21) - 1e-9
    assert not row["size_day_high"] - row["size_day"] < half
    assert row["size_day_low"] >= 21


def test_no_end_of_a_window_lies_further_ahead_than_half_the_days_seen(tmp_path: Path) -> None:
    answer = when_to_move(running_log(tmp_path / "l", size_to_move_mm=10), curve="line")
    for row in answer.facts()["by_batch"]:
        assert row["size_day"] <= 31
        assert not row["size_day_high"] > 31
    told = next(r for _, r in answer.by_batch.iterrows() if r["batch"] == "D")
    assert np.isnan(told["size_day_high"])
    assert "from about" in words.batch_words(answer, told)


def test_one_container_alone_says_that_its_window_is_too_narrow(tmp_path: Path) -> None:
    rows = [batch("A", 40, litres=20, hatched=day(0))]
    log = read_log(
        write_log(
            tmp_path / "l",
            batches=rows,
            sizes=sizes({"A": 0.25}),
            trial={"size_to_move_mm": 10},
        )
    )
    answer = when_to_move(log)
    assert any("too narrow" in text for text in answer.limits)


def test_crowding_binds_first_where_it_is_passed_already(tmp_path: Path) -> None:
    # 40 fish in 10 litres from the start, 36 at the last look: over 3 to a litre all along
    log = running_log(tmp_path / "l", litres=10, size_to_move_mm=10, most_fish_per_litre=3)
    by = when_to_move(log).by_batch.set_index("batch")
    assert (by["crowding"] == "over").all()
    assert (by["binds"] == "crowding").all()
    assert (by["crowded_since_day"] == 0).all()
    assert by.at["A", "fish_per_litre"] == pytest.approx(3.6)
    assert "over 3 fish to a litre now" in when_to_move(log).headline


def test_a_number_that_fell_below_the_limit_is_no_reason_to_move(tmp_path: Path) -> None:
    log = running_log(tmp_path / "l", litres=10, size_to_move_mm=10, most_fish_per_litre=3.8)
    by = when_to_move(log).by_batch.set_index("batch")
    assert (by["crowding"] == "was_over").all()
    assert (by["binds"] == "size").all()


def test_a_rough_count_leaves_crowding_open(tmp_path: Path) -> None:
    rows = [batch("A", "20-50", litres=10)]
    log = read_log(
        write_log(tmp_path / "l", batches=rows, daily=[], trial={"most_fish_per_litre": 4})
    )
    answer = when_to_move(log)
    room = answer.crowding["A"]
    assert room.state == "perhaps"
    assert (room.alive_low, room.alive_best, room.alive_high) == (0, 35, 50)  # nobody counted
    assert answer.facts()["n_running"] == 1
    assert any("leaves open" in text for text in answer.limits)


def test_a_batch_whose_small_fish_are_long_enough_is_ready(tmp_path: Path) -> None:
    log = running_log(tmp_path / "l", size_to_move_mm=7)
    row = when_to_move(log, curve="line").by_batch.set_index("batch").loc["A"]
    assert row["size"] == "reached"
    assert row["size_day"] == pytest.approx((7 / (1 - SMALLEST_TENTH * 0.1) - 5) / 0.25)
    assert not row["extrapolated"]
    assert "C is ready" in when_to_move(log, curve="line").headline


def test_no_date_is_given_too_far_ahead(tmp_path: Path) -> None:
    log = running_log(tmp_path / "l", size_to_move_mm=25)
    answer = when_to_move(log, curve="line")
    assert (answer.by_batch["size"] == "far").all()
    assert answer.by_batch["size_date"].isna().all()
    assert any("too far to name a date" in text for text in answer.limits)


def test_the_most_urgent_batch_gets_the_smallest_container_that_does(tmp_path: Path) -> None:
    log = running_log(
        tmp_path / "l", free=(60.0, 13.0, 8.0), size_to_move_mm=10, most_fish_per_litre=3
    )
    answer = when_to_move(log, curve="line")
    assert list(answer.running["batch"]) == ["C", "A", "B", "D"]
    plan = answer.facts()["plan"]
    assert [p["batch"] for p in plan] == ["C", "A", "B", "D"]
    assert [p["litres"] for p in plan[:3]] == [13.0, 60.0, 8.0]
    assert [p["enough"] for p in plan] == [True, True, False, False]
    assert plan[0]["litres_needed"] == pytest.approx(12.0)
    assert plan[3]["container"] is None
    words = " ".join(answer.say("plan").items)
    assert "no free container is left" in words
    assert "split the batch" in words


def test_free_containers_can_be_named(tmp_path: Path) -> None:
    log = running_log(tmp_path / "l", size_to_move_mm=10)
    free = when_to_move(log, free_litres="40; 12,5").free
    assert free["litres"].tolist() == [5.0, 12.0, 40.0]
    with pytest.raises(DesignError, match="'big' is no number of litres"):
        when_to_move(log, free_litres="40, big")


@pytest.mark.parametrize("name", ["size_to_move_mm", "most_fish_per_litre"])
def test_a_limit_of_nothing_is_refused(tmp_path: Path, name: str) -> None:
    log = running_log(tmp_path / "l")
    with pytest.raises(DesignError, match="0 cannot be a limit"):
        when_to_move(log, **{name: 0.0})


def test_without_limits_it_asks_for_one(tmp_path: Path) -> None:
    answer = when_to_move(running_log(tmp_path / "l"))
    assert answer.headline.startswith("No limit is given")
    assert len(answer.limits) >= 2


def test_the_demo_diary_has_one_batch_to_move() -> None:
    answer = when_to_move(read_log(TEMPLATES / "demo_two_batches"))
    f = answer.facts()
    assert f["n_running"] == 1
    assert f["binds"] == {"Plant tank": "size"}
    assert f["plan"][0]["container"] == "grey tub"


def test_ended_batches_show_when_they_would_have_had_to_move() -> None:
    answer = when_to_move(read_log(TEMPLATES / "demo_shade_trial.xlsx"))
    assert answer.facts()["n_running"] == 0
    assert answer.headline.startswith("No batch is running any more")
    assert not any("before you act" in text for text in answer.limits)


def test_cautions_are_labelled_as_common_practice(tmp_path: Path) -> None:
    said = when_to_move(running_log(tmp_path / "l", size_to_move_mm=10)).say("cautions")
    assert said.paragraphs[0].startswith("Common practice")
    assert len(said.items) > 3


def test_headlines_have_no_loose_ends() -> None:
    assert set(words.BATCH) >= {"crowding", "size_reached", "size_ahead", "none"}
    assert all(text.endswith(".") for text in words.CAUTIONS)
    assert words.WINDOW_WORDS == "4 in 5"
