"""Every limit of the cost of an interruption: planted in a log, it is said; else it is not."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from rearkit import cost_of_interruption, read_log
from rearkit.answers.interruption.answer import InterruptionAnswer
from tests.answers.planted import Ask, Planted, check_planted, own_keys
from tests.logs import Row, batch, day, write_log


def event(start: int, who: str = "A", what: str = "feed gap") -> Row:
    return {"started": day(start), "batch": who, "what": what}


def asked(
    deaths: Mapping[str, Mapping[int, int]],
    events: tuple[Row, ...] = (event(20),),
    *,
    looks: tuple[int, ...] = tuple(range(1, 36)),
    later: Mapping[str, int] | None = None,
    alive: int | None = None,
    sizes: tuple[Row, ...] = (),
    water: Mapping[str, str] | None = None,
    silent: tuple[str, ...] = (),
) -> Ask:
    """Ask about batches that are looked at every day, each with its deaths by age.

    ``later`` are the days after the others on which a batch began, ``alive`` is how many were
    counted in the first one at its last look, ``water`` the system of each, ``silent`` those whose
    dead were not written down.
    """

    def ask(folder: Path) -> InterruptionAnswer:
        begun = dict.fromkeys(deaths, 0) | dict(later or {})
        rows = [dict(batch(b, 40, hatched=day(n))) | {"started": day(n)} for b, n in begun.items()]
        rows = [row | {"water": (water or {}).get(str(row["batch"]), "")} for row in rows]
        daily = [
            {"date": day(begun[b] + d), "batch": b, "dead": dead.get(d, 0)}
            for b, dead in deaths.items()
            for d in looks
            if b not in silent
        ]
        if alive is not None:
            daily[len(looks) - 1]["alive"] = alive
        log = write_log(folder, batches=rows, daily=daily, events=events, sizes=sizes)
        return cost_of_interruption(read_log(log))

    return ask


ALONE = {"A": {18: 2, 22: 4}}
FOUR = {b: {18: 2, 22: 4} for b in "ABCD"}
BESIDE = asked(FOUR)
QUIET = asked({"A": {18: 2, 22: 4}} | {b: {3: 1} for b in "BCD"})
# four that were hit and lost four fry after it, four that were not and lost none
EIGHT_LOST = {b: {18: 2, 22: 4} for b in "ABCD"} | {b: {18: 2} for b in "EFGH"}
HIT_FOUR = tuple(event(20, b) for b in "ABCD")
WATER = {b: f"rack {'AB' if b < 'E' else 'CD'}{i % 2}" for i, b in enumerate("ABCDEFGH")}
EIGHT = asked(EIGHT_LOST, HIT_FOUR)
LENGTHS: tuple[Row, ...] = tuple(
    {"date": day(d), "batch": "A", "length_mm": 5 + d / 4} for d in (10, 18, 24, 30)
)
PLANTED = {
    "several_events": Planted(
        said=asked(ALONE, (event(20), event(33, what="cleaning"))), silent=asked(ALONE)
    ),
    "not_dealt_out": Planted(said=BESIDE, silent=asked(ALONE, ())),
    "no_controls.all": Planted(said=asked(FOUR, (event(20, "all"),)), silent=BESIDE),
    "no_controls.some": Planted(
        said=asked(FOUR, (event(33, "A"), event(33, "B")), later={"A": 10}),
        silent=BESIDE,
    ),
    "told_not_tested": Planted(said=BESIDE, silent=EIGHT),
    "other_reading": Planted(said=asked(EIGHT_LOST, HIT_FOUR, water=WATER), silent=EIGHT),
    "no_dead_written": Planted(
        said=asked(ALONE | {"B": {}}, (event(20, "all"),), silent=("B",)), silent=BESIDE
    ),
    "controls_on_other_days": Planted(
        said=asked(FOUR, later={"D": 7}, events=(event(20), event(20, "B"))), silent=BESIDE
    ),
    "controls_without_deaths": Planted(said=QUIET, silent=BESIDE),
    "deaths_shared": Planted(
        said=asked({"A": {18: 2, 23: 4}}, looks=(3, 8, 13, 18, 23, 28)), silent=asked(ALONE)
    ),
    "missing_around": Planted(
        said=asked({"A": {18: 2, 22: 2}}, looks=tuple(range(1, 26)), alive=20), silent=asked(ALONE)
    ),
    "one_container_holds_most": Planted(
        said=asked({"A": {18: 1, 22: 9}, "B": {18: 1, 22: 1}}, (event(20, "all"),)),
        silent=asked({b: {18: 1, 22: 2} for b in "AB"}, (event(20, "all"),)),
    ),
    "first_week": Planted(said=asked({"A": {9: 2, 12: 4}}, (event(10),)), silent=asked(ALONE)),
    "other_events_inside": Planted(
        said=asked(ALONE, (event(20), event(22, what="power cut"))), silent=asked(ALONE)
    ),
    "growth_not_measured": Planted(said=asked(ALONE), silent=asked(ALONE, sizes=LENGTHS)),
}


@pytest.mark.parametrize("key", PLANTED)
def test_what_is_planted_is_said_and_nothing_else(tmp_path: Path, key: str) -> None:
    check_planted(key, PLANTED, tmp_path)


def test_every_limit_of_this_question_is_planted() -> None:
    assert set(PLANTED) == own_keys(InterruptionAnswer)
