"""Every limit that several answers share: planted in a log, it is said; otherwise it is not."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rearkit import compare_effort, compare_growth, compare_survival, describe_trial, read_log
from rearkit.answers.answer import NO_LIMITS, Answer
from rearkit.words.remarks import SENTENCES
from tests.answers.planted import Planted, check_planted, keys_of
from tests.logs import day, fair_sheets, without, write_log

Change = Callable[[dict[str, Any]], None]
Question = Callable[..., Answer]
CLUTCHES = ("open0", "open1", "open2", "open3", "shaded0", "shaded1", "shaded2", "shaded3")


def nothing(sheets: dict[str, Any]) -> None:
    """Leave the trial as it is."""


def asked(folder: Path, change: Change, ask: Question, **options: object) -> Answer:
    sheets = fair_sheets()
    change(sheets)
    return ask(read_log(write_log(folder, **sheets)), **options)


FAIR: dict[Question, Answer] = {}


def fair(folder: Path, ask: Question) -> Answer:
    """Ask a trial in which nothing is planted; each question is worked out once."""
    if ask not in FAIR:
        FAIR[ask] = asked(folder, nothing, ask)
    return FAIR[ask]


def plant(change: Change, *, ask: Question = compare_survival, **options: object) -> Planted:
    """Change a fair trial; the same question is silent about the trial as it was."""
    return Planted(
        said=lambda folder: asked(folder, change, ask, **options),
        silent=lambda folder: fair(folder, ask),
    )


def the_trial(**fields: object) -> Change:
    """Set fields of the Trial sheet; None empties one."""

    def change(sheets: dict[str, Any]) -> None:
        sheets["trial"] |= {name: "" if v is None else v for name, v in fields.items()}

    return change


def every_batch(**cells: object) -> Change:
    """Set cells of every row of Batches."""

    def change(sheets: dict[str, Any]) -> None:
        for row in sheets["batches"]:
            row |= cells

    return change


def one_batch(name: str, **cells: object) -> Change:
    """Set cells of one row of Batches."""

    def change(sheets: dict[str, Any]) -> None:
        next(row for row in sheets["batches"] if row["batch"] == name).update(cells)

    return change


def dropped(*names: str) -> Change:
    """Leave batches out of the log."""
    return lambda sheets: without(sheets, *names)


def both(*changes: Change) -> Change:
    """Make several changes."""

    def change(sheets: dict[str, Any]) -> None:
        for one in changes:
            one(sheets)

    return change


def one_shelf_a_method(sheets: dict[str, Any]) -> None:
    for row in sheets["batches"]:
        row["place"] = f"{row['method']} shelf"


def bodies_found(arm: str, n: int) -> Change:
    """Let only so many bodies be found in each container of one method; the rest are missing."""

    def change(sheets: dict[str, Any]) -> None:
        for row in sheets["daily"]:
            row["dead"] = n if row["batch"].startswith(arm) else row["dead"]

    return change


def split_in_pairs(sheets: dict[str, Any]) -> None:
    """Let ``open0`` and ``shaded0`` come from one clutch, and so on."""
    for row in sheets["batches"]:
        row["clutch"] = row["clutch"].removeprefix("open").removeprefix("shaded")


def still_running(sheets: dict[str, Any]) -> None:
    """Count every batch on day 14, of a trial that is judged on day 28."""
    for row in sheets["batches"]:
        sheets["daily"].append({"date": day(14), "batch": row["batch"], "alive": row["end_count"]})
        row |= {"ended": "", "end_count": "", "end_reason": ""}
    sheets["sizes"] = []


def some_standard_lengths(sheets: dict[str, Any]) -> None:
    for i, row in enumerate(sheets["sizes"]):
        row["length_type"] = "SL" if i < 4 else "TL"


def too_wide_a_spread(sheets: dict[str, Any]) -> None:
    sheets["sizes"].append(
        {"date": day(28), "batch": "open0", "fish": 9, "length_mm": 12, "length_sd_mm": 11}
    )


def a_day_too_early(sheets: dict[str, Any]) -> None:
    """Count every batch but the last on day 27."""
    for row in sheets["batches"][:-1]:
        row["ended"] = day(27)


def no_bodies(sheets: dict[str, Any]) -> None:
    sheets["daily"] = []


def counted_in_unlike_ways(sheets: dict[str, Any]) -> None:
    for row in sheets["batches"]:
        row["count_how"] = "eye" if row["method"] == "open" else "photo"


def taken_out_without_a_reason(sheets: dict[str, Any]) -> None:
    for row in sheets["batches"]:
        if row["method"] == "shaded":
            row["end_count"] -= 14
            sheets["daily"].append({"date": day(6), "batch": row["batch"], "removed": 14})


def two_groups_an_arm(column: str) -> Change:
    """Let the clutches of a method share two pairs, or two systems of water, of their own."""

    def change(sheets: dict[str, Any]) -> None:
        for i, row in enumerate(sheets["batches"]):
            row[column] = f"{row['method']} {i // 2 % 2}"

    return change


def names_that_may_be_one(sheets: dict[str, Any]) -> None:
    """Name the clutches of one method K1 to K4 and those of the other k-1 to k-4."""
    for i, row in enumerate(sheets["batches"]):
        row["clutch"] = f"K{i // 2 + 1}" if row["method"] == "open" else f"K-{i // 2 + 1}"


def two_readings_that_meet(sheets: dict[str, Any]) -> None:
    """Bring the best open and the worst shaded tub near each other, each by a reading of its own.

    As counted 27 of 40 and 31 of 40 live. If the 2 that are missing in the first were never there,
    27 of 38 do; if the 3 that were taken out of the other had died, 28 of 40 do.
    """
    bodies = {row["batch"]: row for row in sheets["daily"]}
    counted_in_unlike_ways(sheets)
    bodies["open3"]["dead"] = 11
    one_batch("shaded0", end_count=28)(sheets)
    bodies["shaded0"]["dead"] = 9
    sheets["daily"].append({"date": day(6), "batch": "shaded0", "removed": 3})


def hardly_a_fish_left(sheets: dict[str, Any]) -> None:
    one_batch("open0", end_count=1)(sheets)
    sheets["daily"][0]["dead"] = 39


TWO_EACH = dropped("open2", "open3", "shaded2", "shaded3")
ONE_EACH = both(TWO_EACH, dropped("open1", "shaded1"))
CRACKED = one_batch("open0", ended=day(20), end_reason="accident", left_out="cracked")
NEVER_COUNTED = one_batch("open0", start_count="unknown", end_count="", ended="", end_reason="")

PLANTED = {
    "too_few_units.t": plant(dropped("open3", "shaded3")),
    "too_few_units.few": plant(TWO_EACH),
    "too_few_units.one": plant(ONE_EACH),
    "aliased": plant(one_shelf_a_method),
    "assigned_unknown": plant(every_batch(how_assigned="")),
    "not_random": plant(every_batch(how_assigned="my choice")),
    "unequal_clocks": plant(both(the_trial(age_from="hatch"), one_batch("open0", hatched=""))),
    "unplanned_look": plant(nothing, earlier_looks=1),
    "plan_before": Planted(
        said=lambda folder: fair(folder, describe_trial),
        silent=lambda folder: asked(folder, the_trial(plan_written_on=None), describe_trial),
    ),
    "plan_after_start": plant(the_trial(plan_written_on=day(3)), ask=describe_trial),
    "left_out_without_rule": plant(both(CRACKED, the_trial(exclusions=None))),
    "left_out_by_rule": plant(CRACKED),
    "smaller_arm_varies": plant(both(dropped("open3"), one_batch("open0", end_count=4))),
    "batch_stopped": plant(one_batch("open0", end_count=60)),
    "usual_assumed": plant(the_trial(usual=None, tested=None)),
    "mixed_layouts": plant(one_batch("shaded0", clutch="open0")),
    "one_clutch": plant(every_batch(clutch="c")),
    "no_clutch": plant(one_batch("open0", clutch="")),
    "shared_water": plant(
        both(one_batch("open0", water="sump"), one_batch("shaded1", water="sump"))
    ),
    "block_dropped": plant(both(split_in_pairs, NEVER_COUNTED)),
    "day_not_declared": plant(the_trial(judged_on_day=None)),
    "late_first_count": plant(one_batch("open0", started=day(4))),
    "no_plan": plant(the_trial(plan_written_on=None)),
    "looks.planned": plant(the_trial(looks_planned=2), earlier_looks=1),
    "looks.unplanned": plant(the_trial(looks_planned=None), earlier_looks=1),
    "looks.more": plant(nothing, earlier_looks=1),
    "never_counted": plant(NEVER_COUNTED),
    "still_running": plant(still_running),
    "missing_fish": plant(bodies_found("open", 12)),
    "missing_cannot_erase": plant(bodies_found("open", 13)),
    "missing_can_erase": plant(bodies_found("open", 2)),
    "nothing_to_compare": plant(dropped(*CLUTCHES[:4])),
    "which_methods": plant(
        both(one_batch("open0", method="moss"), the_trial(usual=None, tested=None))
    ),
    "day_set": plant(the_trial(judged_on_day=21), day=28),
    "day_before_declared": plant(a_day_too_early),
    "reading_open_units": plant(both(every_batch(end_count=""), no_bodies)),
    "reading_missing_by_arm.unlike": plant(both(counted_in_unlike_ways, no_bodies)),
    "reading_missing_by_arm.rough": plant(both(every_batch(start_count="38-42"), no_bodies)),
    "reading_taken_out": plant(taken_out_without_a_reason),
    "reading_pairs": plant(two_groups_an_arm("parents")),
    "reading_water": plant(two_groups_an_arm("water")),
    "reading_same_clutch": plant(names_that_may_be_one),
    "reading_put_back": plant(one_batch("open0", end_count=39, left_out="looked odd")),
    "reading_all_together": plant(two_readings_that_meet),
    "other_method": plant(one_batch("open0", method="floating plants")),
    "two_kinds_of_length": plant(some_standard_lengths, ask=compare_growth),
    "spread_left_out": plant(too_wide_a_spread, ask=compare_growth),
    "too_few_survivors": plant(hardly_a_fish_left, ask=compare_effort),
}


@pytest.mark.parametrize("code", PLANTED)
def test_what_is_planted_is_said_and_else_it_is_not(tmp_path: Path, code: str) -> None:
    check_planted(code, PLANTED, tmp_path)


def test_every_shared_limit_is_planted() -> None:
    assert set(PLANTED) == set(SENTENCES)


def test_a_fair_trial_has_nothing_to_confess(tmp_path: Path) -> None:
    answer = fair(tmp_path, compare_survival)
    assert keys_of(answer) == []
    assert answer.facts()["claim_level"] == 4
    assert answer.say("limits").paragraphs == (NO_LIMITS,)  # type: ignore[union-attr]


def test_what_several_answers_share_they_say_in_the_same_words(tmp_path: Path) -> None:
    sheets = fair_sheets()
    one_shelf_a_method(sheets)
    log = read_log(write_log(tmp_path, **sheets))
    said = [set(ask(log).limits) for ask in (compare_survival, compare_growth, compare_effort)]
    (shared,) = set.intersection(*said)
    assert "in common, and the others did not: shelf" in shared
