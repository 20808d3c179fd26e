"""The use of a place: what a log says of sides and containers, from the file to the sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from rearkit import PlaceUseAnswer, read_log, use_of_place
from tests.logs import Row, batch, day, write_log


def scan(name: str, age: int, shaded: int, **more: object) -> list[Row]:
    """Return one scan of 20 fry: so many of them in the shade, 40 % of the container."""
    at: Row = {"date": day(age), "batch": name, "not_seen": 0}
    return [
        dict(at) | {"place": "shade", "seen": shaded, "area_percent": 40} | more,
        dict(at) | {"place": "open", "seen": 20 - shaded, "area_percent": 60},
    ]


def asked(
    folder: Path, positions: list[Row], events: tuple[Row, ...] = (), **more: object
) -> PlaceUseAnswer:
    rows = [batch(f"A{i}", 40, 30, clutch=f"c{i}") for i in range(6)]
    log = write_log(folder, batches=rows, positions=positions, events=events)
    return use_of_place(read_log(log), place="shade", **more)  # type: ignore[arg-type]


SIX = [row for i in range(6) for age in (2, 5) for row in scan(f"A{i}", age, 14 + i % 3)]
ON_DAY_4: Row = {"started": day(4), "batch": "all"}


@pytest.mark.parametrize(
    "event",
    [
        {"what": "cleaning", "note": "swapped the sponge filter"},
        {"what": "other", "note": "swap of lids"},
        {"what": "swapped the light bulb", "note": ""},
    ],
    ids=["filter", "other", "kind not known"],
)
def test_a_word_in_a_note_is_no_evidence(tmp_path: Path, event: Row) -> None:
    answer = asked(tmp_path / "a", SIX, (dict(ON_DAY_4) | event,))
    plain = asked(tmp_path / "b", SIX)
    assert answer.level == plain.level == 2
    assert answer.headline == plain.headline
    assert answer.scans.swapped == {}
    assert "the side it was on cannot be told" in answer.headline


def test_an_event_of_the_kind_and_a_column_say_that_sides_were_swapped(tmp_path: Path) -> None:
    kind = asked(tmp_path / "a", SIX, (dict(ON_DAY_4) | {"what": "Sides swapped"},))
    sided = [
        row | ({"side": "left" if row["date"] == day(2) else "right"} if i % 2 == 0 else {})
        for i, row in enumerate(SIX)
    ]
    column = asked(tmp_path / "b", sided)
    for answer in (kind, column):
        assert answer.level == 4
        assert set(answer.scans.swapped) == {f"A{i}" for i in range(6)}
        assert answer.windows[0].p_value == pytest.approx(2 / 2**6)
        assert answer.windows[0].excess == pytest.approx(0.75 - 0.4)
        assert answer.headline.startswith("The fry kept to the place 'shade'")


def test_two_places_that_share_a_word_are_not_one_that_changed_sides(tmp_path: Path) -> None:
    rows: list[Row] = []
    for i in range(6):
        for age in (2, 5):
            at = {"date": day(age), "batch": f"A{i}", "not_seen": 0}
            rows += [
                dict(at) | {"place": p, "seen": n, "area_percent": a}
                for p, n, a in (("shade left", 9, 20), ("shade right", 6, 20), ("open", 5, 60))
            ]
    folder = tmp_path / "l"
    batches = [batch(f"A{i}", 40, 30, clutch=f"c{i}") for i in range(6)]
    answer = use_of_place(
        read_log(write_log(folder, batches=batches, positions=rows)), place="shade left"
    )
    assert answer.scans.places == ("shade left", "shade right", "open")
    assert answer.scans.swapped == {}
    assert answer.level == 2
    assert answer.windows[0].share == pytest.approx(9 / 20)


def test_one_container_is_told_and_not_tested(tmp_path: Path) -> None:
    rows = [row for age in range(1, 7) for row in scan("A0", age, 16 + age % 2)]
    answer = asked(tmp_path, rows)
    assert answer.level == 0
    assert [(w.p_value, w.conf_low, w.clear) for w in answer.windows] == [(None, None, False)] * 3
    assert "told, not tested" in answer.headline
    assert "82\N{NO-BREAK SPACE}% of the fry" in answer.headline
    assert any("told and not tested" in text for text in answer.limits)


def test_fry_that_were_moved_are_one_container(tmp_path: Path) -> None:
    rows = [
        batch("A", 40, 38, days=4, end_reason="moved") | {"ended": day(4), "end_reason": "moved"},
        batch("A big", 38, 30, from_batch="A") | {"started": day(4)},
    ]
    positions = scan("A", 2, 15) + scan("A big", 6, 13)
    answer = use_of_place(read_log(write_log(tmp_path, batches=rows, positions=positions)))
    assert (answer.unit, answer.level) == ("day", 0)
    assert answer.scans.table["age_days"].tolist() == [2, 6]


def test_use_is_not_called_benefit(tmp_path: Path) -> None:
    assert any("not what does them good" in text for text in asked(tmp_path, SIX).limits)


@pytest.mark.parametrize(
    "positions",
    [
        scan("A0", 2, 15)[:1],
        scan("A0", 2, 15),
        scan("A0", 90, 15),
        [row | {"area_percent": ""} for row in scan("A0", 2, 15)],
        [row | {"seen": 0} for row in scan("A0", 2, 15)],
    ],
    ids=["one place", "one scan", "after the end", "no area", "nobody seen"],
)
def test_thin_logs_get_an_answer(tmp_path: Path, positions: list[Row]) -> None:
    answer = asked(tmp_path, positions)
    said = " ".join([answer.headline, *answer.limits, *answer.say("certainty").items])
    assert "nan" not in said
    assert "None" not in said
    answer.figure()
    for part in answer.parts()["readable"]:
        answer.readable(part)


def test_scans_of_a_batch_with_an_unknown_start(tmp_path: Path) -> None:
    rows = [{"batch": "A", "started": day(0), "start_count": ""}]
    log = write_log(tmp_path, batches=rows, positions=scan("A", 2, 15))
    assert "75\N{NO-BREAK SPACE}% of the fry" in use_of_place(read_log(log)).headline
