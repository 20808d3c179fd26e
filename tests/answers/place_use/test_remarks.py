"""Every limit of the use of a place: planted in a log, it is said; otherwise it is not."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pytest

from rearkit import read_log, use_of_place
from rearkit.answers.place_use.answer import PlaceUseAnswer
from tests.answers.planted import Ask, Planted, check_planted, own_keys
from tests.logs import Row, batch, day, write_log

ALL = range(6)
SWAPPED = {"started": day(4), "batch": "all", "what": "sides swapped"}


def scan(
    i: int,
    age: int,
    shaded: int,
    *,
    names: tuple[str, str] = ("shaded", "open"),
    area: object = 40,
    seen: int = 20,
    **more: object,
) -> list[Row]:
    """Return one scan of container i: so many of those seen in the shade."""
    rest = "" if area == "" else 100 - float(str(area))
    at: Row = {"date": day(age), "batch": f"A{i}"}
    return [
        dict(at) | {"place": names[0], "seen": shaded, "area_percent": area} | more,
        dict(at) | {"place": names[1], "seen": seen - shaded, "area_percent": rest},
    ]


def scans(*ages: int, shaded: int = 16, which: Iterable[int] = ALL, **more: object) -> list[Row]:
    """Scan containers on some ages, a little apart from each other."""
    return [row for i in which for age in ages for row in scan(i, age, shaded + i % 2, **more)]  # type: ignore[arg-type]


def used(
    positions: list[Row],
    *,
    clutch: str = "",
    place: str | None = "shaded",
    events: tuple[Row, ...] = (),
) -> Ask:
    """Ask about the use of a place in six containers of 40 fry."""

    def ask(folder: Path) -> PlaceUseAnswer:
        rows = [batch(f"A{i}", 40, 30, clutch=clutch or f"c{i}", hatched=day(0)) for i in ALL]
        log = write_log(folder, batches=rows, positions=positions, events=events)
        return use_of_place(read_log(log), place=place)

    return ask


def two_sides(before: int, after: int) -> list[Row]:
    """Scan every container with the shade on the left, then on the right."""
    return [
        row
        for age, side, k in ((2, "left", before), (3, "left", before), (5, "right", after))
        for row in scans(age, shaded=k, names=(f"shaded {side}", "open"), area=50)
    ]


SEEN_ALL = used(scans(2, not_seen=0))
LEFT = scans(2, 5, names=("left", "right"), area=50)
PLANTED = {
    "place_assumed": Planted(said=used(scans(2), place=None), silent=used(scans(2))),
    "sides_swapped": Planted(said=used(two_sides(16, 16)), silent=SEEN_ALL),
    "sides_not_swapped": Planted(said=SEEN_ALL, silent=used(two_sides(16, 16))),
    "bare_sides": Planted(
        said=used(LEFT, place="left", events=(SWAPPED,)), silent=used(LEFT, place="left")
    ),
    "followed_the_side": Planted(said=used(two_sides(16, 4)), silent=used(two_sides(16, 16))),
    "days_of_one": Planted(said=used(scans(2, 3, which=[0])), silent=SEEN_ALL),
    "not_seen.holds": Planted(said=used(scans(2, not_seen=1)), silent=SEEN_ALL),
    "not_seen.turns": Planted(said=used(scans(2, shaded=13, not_seen=30)), silent=SEEN_ALL),
    "not_seen.none": Planted(said=used(scans(2, shaded=8, not_seen=4)), silent=SEEN_ALL),
    "not_seen_counted_back": Planted(said=used(scans(2)), silent=used(scans(2, not_seen=4))),
    "no_area": Planted(said=used(scans(2, area="")), silent=SEEN_ALL),
    "scan_one_place": Planted(said=used([*scans(2), scan(0, 4, 5)[0]]), silent=SEEN_ALL),
    "scan_nobody": Planted(said=used([*scans(2), *scan(0, 4, 0, seen=0)]), silent=SEEN_ALL),
    "clutch_shared": Planted(said=used(scans(2), clutch="c"), silent=SEEN_ALL),
    "use_is_not_benefit": Planted(said=SEEN_ALL, silent=used([])),
}


@pytest.mark.parametrize("key", PLANTED)
def test_what_is_planted_is_said_and_nothing_else(tmp_path: Path, key: str) -> None:
    check_planted(key, PLANTED, tmp_path)


def test_every_limit_of_this_question_is_planted() -> None:
    assert set(PLANTED) == own_keys(PlaceUseAnswer)
