"""Lengths as keepers write them: other units, groups, too few, none."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rearkit import Logbook, compare_growth, read_log, when_to_move
from rearkit.answers.answer import json_safe
from tests.answers.growth_logs import DAYS, TRIAL, arms, random_fish, size
from tests.logs import Row, batch, write_log

LIMITS = {"size_to_move_mm": 10, "most_fish_per_litre": 3}
SINGLE_FISH_ONLY = ("spread", "runts_lost_low")  # the extremes of a group are not known
TEMPLATES = Path(__file__).parents[3] / "data_templates"


def log_of(folder: Path, sizes: list[Row], batches: list[Row] | None = None) -> Logbook:
    rows = batches or arms(4, 4, litres=10)
    return read_log(write_log(folder, batches=rows, sizes=sizes, trial=TRIAL | LIMITS))


def numbers(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """List every number of nested facts with its place."""
    if isinstance(value, dict):
        for key, part in value.items():
            yield from numbers(part, f"{path}/{key}")
    elif isinstance(value, list):
        for i, part in enumerate(value):
            yield from numbers(part, f"{path}/{i}")
    else:
        yield path, value


def same(a: dict, b: dict) -> None:
    """Check that two sets of facts are the same but for rounding."""
    mine, other = dict(numbers(json_safe(a))), dict(numbers(json_safe(b)))
    assert mine.keys() == other.keys()
    for path, value in mine.items():
        if isinstance(value, float):
            assert other[path] == pytest.approx(value, rel=1e-7, abs=1e-7), path
        else:
            assert other[path] == value, path


def without(facts: dict, *names: str) -> dict:
    return {key: value for key, value in facts.items() if key not in (*names, "remarks")}


def _whole(facts: dict) -> dict:
    """Leave out what is known of single fish only."""
    rows = [
        {k: v for k, v in row.items() if k not in SINGLE_FISH_ONLY}
        for name in ("by_container", "by_unit", "by_method")
        for row in facts[name]
    ]
    return without(facts, *SINGLE_FISH_ONLY, "by_container", "by_unit", "by_method") | {
        "rows": rows
    }


@pytest.fixture
def fish() -> dict[tuple[str, int], np.ndarray]:
    return random_fish(arms(4, 4), seed=11)


def single(fish: dict[tuple[str, int], np.ndarray], scale: float = 1.0) -> list[Row]:
    return [size(b, on, round(scale * x, 4)) for (b, on), many in fish.items() for x in many]


def test_centimetres_give_what_millimetres_give(tmp_path: Path, fish: dict) -> None:
    mm = log_of(tmp_path / "mm", single(fish))
    cm = log_of(tmp_path / "cm", single(fish, 0.1))
    same(without(compare_growth(mm).facts()), without(compare_growth(cm).facts()))
    same(without(when_to_move(mm).facts()), without(when_to_move(cm).facts()))
    assert "lengths-in-cm" in set(cm.findings["code"])


def test_a_row_a_group_gives_what_a_row_a_fish_gives(tmp_path: Path, fish: dict) -> None:
    groups = [
        size(b, on, round(x.mean(), 11), fish=len(x), length_sd_mm=round(x.std(ddof=1), 11))
        for (b, on), x in fish.items()
    ]
    a = compare_growth(log_of(tmp_path / "a", single(fish)))
    b = compare_growth(log_of(tmp_path / "b", groups))
    same(*(_whole(x.facts()) for x in (a, b)))
    assert a.headline == b.headline
    assert [r["cv"] for r in b.facts()["spread"]] == pytest.approx(
        [r["cv"] for r in a.facts()["spread"]]
    )


def test_the_order_of_the_rows_changes_nothing(tmp_path: Path, fish: dict) -> None:
    rows = single(fish)
    shuffled = list(rows)
    random.Random(5).shuffle(shuffled)
    a = compare_growth(log_of(tmp_path / "a", rows)).facts()
    same(a, compare_growth(log_of(tmp_path / "b", shuffled)).facts())


def test_ten_thousand_fish_in_a_group_are_one_container(tmp_path: Path) -> None:
    def log(folder: str, n: int) -> Logbook:
        rows = [
            size(str(b["batch"]), on, 5 + (0.2 + 0.02 * i) * on, fish=n, length_sd_mm=0.6)
            for i, b in enumerate(arms(4, 4))
            for on in DAYS
        ]
        return log_of(tmp_path / folder, rows)

    few, many = (compare_growth(log(str(n), n), curve="line").facts() for n in (10, 10_000))
    for name in ("difference", "p_value", "conf_low", "conf_high"):
        assert many[name] == pytest.approx(few[name])


TOO_LITTLE = {
    "nothing": [],
    "two lengths of one batch": [size("open1", 7, 6.0), size("open1", 28, 11.0)],
    "one length": [size("open1", 20, 9.0)],
    "one day for all": [size(str(b["batch"]), 28, 10.0 + i) for i, b in enumerate(arms(4, 4))],
    "all of one length": [
        size(str(b["batch"]), on, 8.0) for b in arms(4, 4) for on in DAYS for _ in range(3)
    ],
    "a mean that shrinks": [
        size(str(b["batch"]), on, 10.0 - 0.1 * on - 0.1 * i)
        for i, b in enumerate(arms(4, 4))
        for on in DAYS
    ],
    "lengths of no batch": [{"date": "2025-04-08", "batch": "", "length_mm": 6}],
    "lengths of an unknown batch": [size("somewhere else", 7, 6.0)],
    "weights alone": [size("open1", on, "", weight_mg=5.0 + on) for on in (7, 14)],
    "two days in a row": [size(str(b["batch"]), on, 5.0 + on) for b in arms(4, 4) for on in (0, 1)],
}


@pytest.mark.parametrize("case", TOO_LITTLE)
def test_little_or_odd_data_end_in_plain_words(tmp_path: Path, case: str) -> None:
    log = log_of(tmp_path / "l", list(TOO_LITTLE[case]))
    for answer in (compare_growth(log), when_to_move(log)):
        assert answer.headline.endswith(".")
        assert "nan" not in answer.headline + " ".join(answer.limits)
        assert answer.figure().alt
        assert answer.readable()._repr_html_()
        json_safe(answer.facts())


def test_one_day_is_compared_as_it_was_measured(tmp_path: Path) -> None:
    log = log_of(tmp_path / "l", list(TOO_LITTLE["one day for all"]))
    f = compare_growth(log).facts()
    assert f["curve"] is None
    assert f["difference"] == pytest.approx(4.0)  # 14, 15, 16, 17 against 10, 11, 12, 13
    assert f["p_value"] == pytest.approx(2 / 70)
    assert not any(row["extrapolated"] for row in f["by_unit"])


def test_equal_lengths_are_no_difference(tmp_path: Path) -> None:
    f = compare_growth(log_of(tmp_path / "l", list(TOO_LITTLE["all of one length"]))).facts()
    assert f["difference"] == pytest.approx(0.0, abs=1e-9)
    assert f["p_value"] == 1.0
    assert all(row["mm_per_day"] == pytest.approx(0.0, abs=1e-9) for row in f["by_unit"])


def test_a_shrinking_mean_never_comes_to_a_length(tmp_path: Path) -> None:
    answer = compare_growth(log_of(tmp_path / "l", list(TOO_LITTLE["a mean that shrinks"])))
    rows = answer.facts()["by_unit"]
    assert all(row["curve"] == "line" for row in rows)
    assert all(row["mm_per_day"] == pytest.approx(-0.1) for row in rows)
    assert all(np.isnan(row["day_reached"]) for row in rows)


def test_a_container_that_shrinks_among_others_gets_a_straight_line(tmp_path: Path) -> None:
    rows = [
        size(str(b["batch"]), on, round(5.0 * np.exp(0.03 * on) + up, 3))
        for b in arms(4, 4)[1:]
        for on in DAYS
        for up in (-0.4, 0.1, 0.3)
    ]
    rows += [size("open1", on, 9.0 - 0.05 * on) for on in DAYS]
    answer = compare_growth(log_of(tmp_path / "l", rows), curve="gompertz")
    curves = {row["unit"]: row["curve"] for row in answer.facts()["by_unit"]}
    assert curves.pop("open1") == "line"
    assert set(curves.values()) == {"gompertz"}
    assert any("did not rise in open1" in text for text in answer.limits)


def test_the_other_kind_of_length_is_left_out(tmp_path: Path) -> None:
    rows = [size("A", on, 5 + 0.25 * on, kind="total") for on in DAYS for _ in range(3)]
    odd = [size("A", on, 4 + 0.2 * on, kind="standard") for on in DAYS]
    batches = [batch("A", 40, 30)]
    answer = compare_growth(log_of(tmp_path / "l", rows + odd, batches))
    assert answer.facts()["by_unit"][0]["length_at"] == pytest.approx(12.0)
    assert any("4 fish that were not measured in total length" in t for t in answer.limits)


def test_a_spread_larger_than_half_the_mean_is_a_slip(tmp_path: Path) -> None:
    rows = [size("A", on, 5 + 0.25 * on, fish=10, length_sd_mm=0.8) for on in (7, 14, 21)]
    rows.append(size("A", 28, 12.0, fish=10, length_sd_mm=9.0))
    answer = compare_growth(log_of(tmp_path / "l", rows, [batch("A", 40, 30)]))
    assert answer.facts()["by_unit"][0]["cv"] < 0.13
    assert any("slip" in text for text in answer.limits)


@pytest.mark.parametrize(
    "name", ["demo_shade_trial.xlsx", "demo_parents_or_hand.xlsx", "demo_two_batches"]
)
def test_every_demo_has_its_page_with_sizes_or_without(name: str) -> None:
    log = read_log(TEMPLATES / name)
    bare = read_log(TEMPLATES / name)
    object.__setattr__(bare, "sizes", log.sizes.iloc[:0])
    assert compare_growth(log).facts()["curve"] is not None
    assert compare_growth(bare).headline == "This log holds no lengths, so growth cannot be seen."
    for which in ("main", "methods", "curves", "spread", "survival"):
        assert "none in this log" in compare_growth(bare).readable(which)._repr_html_()
    for which in ("main", "units", "spread"):
        assert "No lengths" in compare_growth(bare).figure(which).alt
    assert when_to_move(bare).figure().alt
