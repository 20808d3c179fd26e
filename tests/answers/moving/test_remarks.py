"""Every limit of the answer about moving: planted in a log, it is said; otherwise it is not."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

import pytest

from rearkit import read_log, when_to_move
from rearkit.answers.moving.answer import MovingAnswer
from tests.answers.growth_logs import line, size
from tests.answers.planted import Ask, Planted, check_planted, own_keys
from tests.logs import Row, batch, day, write_log

PACES = {"A": 0.25, "B": 0.24, "C": 0.27, "D": 0.22}
LIMITS = {"size_to_move_mm": 10, "most_fish_per_litre": 5}


def groups(
    names: Iterable[str] = PACES, days: tuple[int, ...] = (1, 7, 14, 21), *, spread: bool = True
) -> list[Row]:
    """Return groups of twelve along straight lines from 5 mm, with a CV of 10 % or none."""
    return [
        size(name, on, mm, fish=12, **({"length_sd_mm": 0.1 * mm} if spread else {}))
        for name in names
        for on in days
        for mm in [line(5, PACES[name])(on)]
    ]


def moving(
    sizes: Iterable[Row],
    *,
    trial: Mapping[str, object] | None = None,
    only: Iterable[str] = PACES,
    start: object = 40,
    litres: object = 20,
    ended: bool = False,
) -> Ask:
    """Ask about batches that run up to day 21, or ended on it."""

    def ask(folder: Path) -> MovingAnswer:
        over = (36,) if ended else ()
        rows = [
            batch(b, start, *over, days=21, litres=litres, container=f"tub {b}", hatched=day(0))
            for b in only
        ]
        looked = [{"date": day(21), "batch": b, "dead": 4, "alive": 36} for b in only]
        daily = looked if start == 40 else []
        fields = LIMITS | (trial or {})
        log = write_log(folder, batches=rows, daily=daily, sizes=list(sizes), trial=fields)
        return when_to_move(read_log(log), curve="line")

    return ask


ORDINARY = moving(groups())
PLANTED = {
    "no_size_limit": Planted(said=moving(groups(), trial={"size_to_move_mm": ""}), silent=ORDINARY),
    "no_crowd_limit": Planted(
        said=moving(groups(), trial={"most_fish_per_litre": ""}), silent=ORDINARY
    ),
    "moving_no_lengths": Planted(said=moving(groups("ABC")), silent=ORDINARY),
    "moving_no_curve": Planted(said=moving([*groups("ABC"), *groups("D", (21,))]), silent=ORDINARY),
    "moving_never": Planted(
        said=moving([*groups("ABC"), *(size("D", on, 9.0 - 0.05 * on) for on in (7, 14, 21))]),
        silent=ORDINARY,
    ),
    "moving_far": Planted(said=moving(groups(), trial={"size_to_move_mm": 25}), silent=ORDINARY),
    "moving_no_litres": Planted(said=moving(groups(), litres=""), silent=ORDINARY),
    "moving_extrapolated": Planted(
        said=ORDINARY, silent=moving(groups(), trial={"size_to_move_mm": 7})
    ),
    "moving_extrapolated_ended": Planted(said=moving(groups(), ended=True), silent=ORDINARY),
    "moving_few_containers": Planted(said=moving(groups("A"), only="A"), silent=ORDINARY),
    "moving_spread_borrowed": Planted(
        said=moving([*groups("ABC"), *groups("D", spread=False)]), silent=ORDINARY
    ),
    "moving_mean_fish": Planted(said=moving(groups(spread=False)), silent=ORDINARY),
    "moving_perhaps_crowded": Planted(
        said=moving([], start="20-50", litres=10, trial={"most_fish_per_litre": 4}),
        silent=ORDINARY,
    ),
}


@pytest.mark.parametrize("key", PLANTED)
def test_what_is_planted_is_said_and_nothing_else(tmp_path: Path, key: str) -> None:
    check_planted(key, PLANTED, tmp_path)


def test_every_limit_of_this_question_is_planted() -> None:
    assert set(PLANTED) == own_keys(MovingAnswer)
