"""The use of a place: one value a container or a day, against its share of the container."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binomtest

from rearkit import read_log, use_of_place
from rearkit.answers.answer import json_safe
from rearkit.answers.place_use.scans import split_side
from rearkit.answers.place_use.windows import read_windows, use_by_window
from rearkit.errors import DesignError
from tests.logs import batch, day, write_log


def scans(name: str, age: int, shaded: int, open_: int, *, area: object = 40, **more) -> list[dict]:
    """Write one scan of two places as two rows."""
    rest = "" if area == "" else 100 - float(str(area))
    names = more.pop("names", ("shaded", "open"))
    return [
        {"date": day(age), "batch": name, "place": names[0], "seen": shaded, "area_percent": area}
        | more,
        {"date": day(age), "batch": name, "place": names[1], "seen": open_, "area_percent": rest},
    ]


def place_log(tmp_path: Path, positions: list[dict], *, n: int = 6, **sheets):
    rows = [batch(f"A{i}", 40, 30, clutch=f"c{i}", hatched=day(0)) for i in range(n)]
    return read_log(write_log(tmp_path / "l", batches=rows, positions=positions, **sheets))


def six(shares: dict[int, int], n: int = 6) -> list[dict]:
    """Scan every container on some ages: so many of 20 in the shade, a little apart."""
    return [
        row
        for i in range(n)
        for age, k in shares.items()
        for row in scans(f"A{i}", age, k + i % 2, 20 - k - i % 2)
    ]


def test_shares_are_held_against_the_share_of_the_container_not_one_half(tmp_path: Path) -> None:
    # 8 or 9 of 20 in 40 %: means .40 and .45, excess .025; against one half it would be −.075
    f = use_of_place(place_log(tmp_path, six({2: 8}))).facts()
    first = f["windows"][0]
    assert first["share"] == pytest.approx(0.425)
    assert first["excess"] == pytest.approx(0.025)
    assert first["p_value"] == pytest.approx(2 * 2**3 / 2**6)  # three zeros flip freely


def test_until_which_age(tmp_path: Path) -> None:
    answer = use_of_place(place_log(tmp_path, six({2: 16, 5: 15, 8: 14, 13: 8, 20: 7})))
    f = answer.facts()
    assert (f["since"], f["until"]) == (0.0, 11.0)
    assert [w["clear"] for w in f["windows"]] == [True, True, False]
    assert "Until day 11" in answer.headline
    assert "from day 11 on that is not settled" in answer.headline


def test_no_window_is_clear_beyond_the_first_that_is_not(tmp_path: Path) -> None:
    answer = use_of_place(place_log(tmp_path, six({2: 8, 8: 16, 13: 16})))
    assert [w.clear for w in answer.windows] == [False, False, False]
    assert answer.until is None
    assert answer.windows[1].p_value == pytest.approx(1 / 32)


def test_too_few_containers_are_not_tested_and_one_tells_its_days(tmp_path: Path) -> None:
    two = use_of_place(place_log(tmp_path / "a", six({2: 16, 4: 15}, 2), n=2))
    assert (two.level, two.unit) == (1, "container")
    assert two.windows[0].p_value is None
    assert two.headline.startswith("Too little to go on")
    ages = {2: 16, 3: 15, 4: 17, 5: 16}
    rows = [row for age, k in ages.items() for row in scans("A0", age, k, 20 - k)]
    one = use_of_place(place_log(tmp_path / "b", rows, n=1))
    assert (one.level, one.unit) == (0, "day")
    assert one.windows[0].n_units == 4
    assert (one.windows[0].p_value, one.windows[0].conf_low) == (None, None)
    assert "told, not tested, and about these fish only" in one.headline
    assert any("about this container only" in text for text in one.limits)


def test_scans_of_a_day_are_averaged_before_days_are_compared(tmp_path: Path) -> None:
    rows = scans("A0", 2, 18, 2) + scans("A0", 2, 18, 2) + scans("A0", 2, 18, 2)
    rows += scans("A0", 3, 8, 12)
    answer = use_of_place(place_log(tmp_path, rows, n=1))
    assert answer.windows[0].n_scans == 4
    assert answer.windows[0].share == pytest.approx((0.9 + 0.4) / 2)


def test_those_not_seen_are_carried_as_a_range(tmp_path: Path) -> None:
    # 12 of 20 seen, 4 not seen: 12/24 if they were elsewhere, 16/24 if they were there
    answer = use_of_place(place_log(tmp_path, scans("A0", 2, 12, 8, not_seen=4)))
    row = answer.table().iloc[0]
    assert (row["share"], row["share_low"], row["share_high"]) == pytest.approx((0.6, 0.5, 2 / 3))
    assert any("not seen in a scan" in text for text in answer.limits)
    assert not any("worked out from the account" in text for text in answer.limits)


def test_without_a_note_those_not_seen_are_counted_back(tmp_path: Path) -> None:
    answer = use_of_place(place_log(tmp_path, scans("A0", 2, 12, 8)))
    row = answer.table().iloc[0]  # 40 at risk, 20 seen: 12/40 to 32/40
    assert (row["share_low"], row["share_high"]) == pytest.approx((0.3, 0.8))
    assert any("worked out from the account" in text for text in answer.limits)


def test_unseen_fish_that_could_turn_the_result_are_named(tmp_path: Path) -> None:
    rows = [r for i in range(6) for r in scans(f"A{i}", 2, 13 + i % 2, 7, not_seen=30)]
    answer = use_of_place(place_log(tmp_path, rows))
    assert answer.windows[0].clear
    assert any("would turn round" in text for text in answer.limits)


@pytest.mark.parametrize("how", ["in the name", "a column", "an event"])
def test_a_swap_of_sides_is_recognised(tmp_path: Path, how: str) -> None:
    rows, events = [], []
    for i in range(6):
        for age, side in ((2, "left"), (3, "left"), (4, "right"), (5, "right")):
            names = (f"shaded {side}", "open") if how == "in the name" else ("shaded", "open")
            more = {"side": side} if how == "a column" else {}
            rows += scans(f"A{i}", age, 15 + i % 2, 5 - i % 2, names=names, **more)
    if how == "an event":
        events = [{"started": day(4), "batch": "all", "what": "sides swapped"}]
    answer = use_of_place(place_log(tmp_path, rows, events=events))
    assert set(answer.scans.swapped) == {f"A{i}" for i in range(6)}
    assert {str(d.date()) for d in answer.scans.swapped.values()} == {day(4)}
    assert answer.scans.places[0] == "shaded"
    assert answer.level == 4
    assert "whichever side" in answer.headline
    assert any("changed sides" in text for text in answer.limits)
    assert not any("stayed on one side" in text for text in answer.limits)


def test_fish_that_follow_the_side_are_told_from_fish_that_follow_the_shade(tmp_path: Path) -> None:
    rows = []
    for i in range(6):
        for age, side, k in ((2, "left", 16), (3, "left", 16), (4, "right", 4), (5, "right", 4)):
            rows += scans(f"A{i}", age, k, 20 - k, names=(f"shaded {side}", "open"), area=50)
    answer = use_of_place(place_log(tmp_path, rows))
    assert not answer.windows[0].clear
    assert answer.windows[0].excess == pytest.approx(0.0)
    assert any("they followed the side" in text for text in answer.limits)


def test_places_called_by_their_side_are_followed_over_a_swap(tmp_path: Path) -> None:
    rows = []
    for i in range(6):
        for age, left in ((2, 16), (3, 16), (4, 4), (5, 4)):
            rows += scans(f"A{i}", age, left, 20 - left, names=("left", "right"), area=50)
    events = [{"started": day(4), "batch": "all", "what": "sides swapped"}]
    answer = use_of_place(place_log(tmp_path, rows, events=events), place="left")
    assert answer.windows[0].share == pytest.approx(0.8)
    assert any("name places by their side" in text for text in answer.limits)


def test_a_place_without_its_share_is_not_tested_against_one_half(tmp_path: Path) -> None:
    rows = [r for i in range(6) for r in scans(f"A{i}", 2, 15, 5, area="")]
    answer = use_of_place(place_log(tmp_path, rows), place="shaded")
    assert answer.windows[0].p_value is None
    assert "says nothing of liking" in answer.headline
    assert any("half is not assumed" in text for text in answer.limits)


def test_scans_of_one_place_and_of_nobody_are_left_out_and_counted(tmp_path: Path) -> None:
    rows = scans("A0", 2, 12, 8) + scans("A0", 3, 0, 0) + scans("A0", 4, 5, 5)[:1]
    answer = use_of_place(place_log(tmp_path, rows))
    assert len(answer.scans.table) == 1
    assert (answer.scans.incomplete, answer.scans.empty) == (1, 1)
    assert any("one place only are left out: 1" in text for text in answer.limits)
    assert any("no fry was seen at all are left out: 1" in text for text in answer.limits)


def test_the_place_asked_about(tmp_path: Path) -> None:
    log = place_log(tmp_path, six({2: 16}))
    assumed = use_of_place(log)
    assert assumed.scans.place == "shaded"  # the smaller part
    assert any("does not say which place" in text for text in assumed.limits)
    other = use_of_place(log, place="Open")
    assert other.windows[0].excess == pytest.approx(-assumed.windows[0].excess)
    assert not any("does not say which place" in text for text in other.limits)
    with pytest.raises(DesignError, match="no scan names the place 'cave'"):
        use_of_place(log, place="cave")


def test_use_is_not_called_benefit_and_a_log_without_scans_says_so(tmp_path: Path) -> None:
    answer = use_of_place(place_log(tmp_path / "a", six({2: 16})))
    assert any("not what does them good" in text for text in answer.limits)
    none = use_of_place(place_log(tmp_path / "b", []))
    assert none.headline.startswith("The log holds no scans")
    assert none.limits == ()
    for which in ("main", "units", "sides"):
        none.readable(which)
    none.figure()
    json.dumps(json_safe(none.facts()), allow_nan=False)


def test_fry_of_one_clutch_in_several_containers_are_named(tmp_path: Path) -> None:
    rows = [batch(f"A{i}", 40, 30, clutch="c") for i in range(2)]
    log = read_log(write_log(tmp_path / "l", batches=rows, positions=six({2: 12}, 2)))
    assert any("one clutch (c)" in text for text in use_of_place(log).limits)


@pytest.mark.parametrize("text", ["7-3", "0-7, 5-9", "seven", ""])
def test_windows_that_cannot_be_used(text: str) -> None:
    with pytest.raises(DesignError, match="cannot be used"):
        read_windows(text)


def test_windows_as_text_or_as_pairs() -> None:
    assert read_windows("0-7, 7 to 11, 11+") == read_windows([(0, 7), (7, 11), (11, None)])


def test_names_of_sides_are_parted_from_names_of_places() -> None:
    assert split_side("Shaded, left half") == ("shaded", "left")
    assert split_side("under the leaf") == ("under the leaf", None)
    assert split_side("right") == ("right", None)


def schools(rng: np.random.Generator, *, n: int, n_days: int, rho: float, area: float):
    """Sightings of n schools with no liking: a share of its own each, 5 scans of 10 fish a day."""
    shape = area * (1 / rho - 1), (1 - area) * (1 / rho - 1)
    own = rng.beta(*shape, n)
    share = rng.binomial(10, np.repeat(own, 5 * n_days)) / 10
    days = np.tile(np.repeat(np.arange(n_days), 5), n)
    return pd.DataFrame(
        {
            "batch": np.repeat([f"A{i}" for i in range(n)], 5 * n_days),
            "age_days": days.astype(float),
            "date": pd.Timestamp("2025-04-01") + pd.to_timedelta(days, "D"),
            "side": None,
            "share": share,
            "share_low": share,
            "share_high": share,
            "area": area,
        }
    )


def test_one_school_is_never_tested_by_its_days() -> None:
    table = schools(np.random.default_rng(5), n=1, n_days=20, rho=0.5, area=0.4)
    windows, by_unit = use_by_window(table, [(0.0, None)], "day")
    assert len(by_unit) == 20
    assert (windows[0].p_value, windows[0].conf_low, windows[0].clear) == (None, None, False)


@pytest.mark.parametrize("area", [0.5, 0.4])
def test_schools_without_liking_raise_few_false_alarms(area: float) -> None:
    """Six schools, correlation .1 within each, 6 days × 5 scans: pooled sightings alarm falsely."""
    rng = np.random.default_rng(4_711)
    trials, offered, pooled = 200, 0, 0
    for _ in range(trials):
        table = schools(rng, n=6, n_days=6, rho=0.1, area=area)
        windows, _ = use_by_window(table, [(0.0, 7.0)], "container")
        offered += windows[0].clear
        pooled += binomtest(round(10 * table["share"].sum()), 1_800, area).pvalue <= 0.05
    assert offered / trials <= 0.07
    assert pooled / trials > 0.18


def test_several_windows_raise_no_more_false_alarms_than_one() -> None:
    rng = np.random.default_rng(99)
    trials, alarms = 100, 0
    for _ in range(trials):
        table = schools(rng, n=6, n_days=9, rho=0.1, area=0.4)
        windows, _ = use_by_window(table, [(0.0, 3.0), (3.0, 6.0), (6.0, None)], "container")
        alarms += any(w.clear for w in windows)
    assert alarms / trials <= 0.07 + 2 * np.sqrt(0.07 * 0.93 / trials)
