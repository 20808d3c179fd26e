"""Every limit of a comparison of methods: planted in a log, it is said; otherwise it is not."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest

from rearkit import compare_methods, read_log
from rearkit.answers.methods.answer import MethodsAnswer
from tests.answers.planted import Ask, Planted, check_planted, own_keys
from tests.logs import batch, day, trial_of, write_log

TRIAL = {
    "usual": "open",
    "tested": "shaded",
    "main_outcome": "survival",
    "judged_on_day": 28,
    "plan_written_on": day(-3),
    "looks_planned": 1,
    "smallest_useful_difference": 5,
    "size_to_move_mm": 9,
}
COUNTS = {"open": (20, 24, 22, 26), "shaded": (30, 33, 31, 36)}
Change = Callable[[dict[str, Any]], None]


def compared(
    change: Change = lambda sheets: None,
    *,
    counts: Mapping[str, Sequence[int]] = COUNTS,
    trial: Mapping[str, object] | None = None,
    **settings: object,
) -> Ask:
    """Ask about whole clutches of 40 of which so many lived: looked at, measured and timed."""

    def ask(folder: Path) -> MethodsAnswer:
        sheets: dict[str, Any] = {"batches": [], "daily": [], "sizes": []}
        for method, alive in counts.items():
            for i, left in enumerate(alive):
                b = f"{method}{i + 1}"
                more = {"clutch": b, "how_assigned": "random draw", "hatched": day(0)}
                sheets["batches"].append(dict(batch(b, 40, left, method=method, **more)))
                for d in (7, 14, 21, 28):
                    dead = 40 - left if d == 7 else 0
                    row = {"date": day(d), "batch": b, "dead": dead, "minutes": 5 + i}
                    sheets["daily"].append(row)
                sheets["sizes"] += [
                    {"date": day(d), "batch": b, "length_mm": round(d / 2.8 + 0.2 * i + gap, 3)}
                    for d in (14, 28)
                    for gap in (-1.0, 0.0, 1.0)
                ]
        change(sheets)
        fields = {k: v for k, v in (TRIAL | dict(trial or {})).items() if v is not None}
        log = read_log(write_log(folder, trial=fields, **sheets))
        return compare_methods(log, **settings)  # type: ignore[arg-type]

    return ask


def bare(folder: Path) -> MethodsAnswer:
    """Ask about a trial with nothing but counts."""
    return compare_methods(trial_of(folder, [0.5, 0.6, 0.55, 0.65], [0.7, 0.8, 0.75, 0.85]))


def unmeasured(folder: Path) -> MethodsAnswer:
    """Ask about lengths that nobody measured."""
    log = trial_of(folder, [0.5, 0.6, 0.7], [0.7, 0.8, 0.75], main_outcome="length")
    return compare_methods(log)


def looked_at_less(sheets: dict[str, Any]) -> None:
    keep = (day(7), day(28))
    sheets["daily"] = [
        row for row in sheets["daily"] if row["batch"].startswith("open") or row["date"] in keep
    ]


def counted_late(sheets: dict[str, Any]) -> None:
    for row in sheets["batches"][4:]:
        row["started"] = day(5)


def never_together(sheets: dict[str, Any]) -> None:
    """Let the open batches have ended before the shaded ones were counted."""
    for row in sheets["batches"]:
        if row["method"] == "open":
            row["ended"] = day(10)
        else:
            row["started"] = day(14)
    sheets["daily"] = [row for row in sheets["daily"] if row["date"] in (day(7), day(21))]
    sheets["daily"] = [
        row for row in sheets["daily"] if (row["date"] == day(7)) == row["batch"].startswith("open")
    ]
    sheets["sizes"] = []


def not_measured(name: str) -> Change:
    def change(sheets: dict[str, Any]) -> None:
        sheets["sizes"] = [row for row in sheets["sizes"] if row["batch"] != name]

    return change


def last_measured_on(on: int) -> Change:
    def change(sheets: dict[str, Any]) -> None:
        for row in sheets["sizes"]:
            row["date"] = day(on) if row["date"] == day(28) else row["date"]

    return change


def one_measured_to(on: int) -> Change:
    def change(sheets: dict[str, Any]) -> None:
        for row in sheets["sizes"]:
            if row["batch"] == "open1" and row["date"] == day(28):
                row["date"] = day(on)

    return change


FIRM = {"open": (10, 11, 12, 13, 14, 12), "shaded": (30, 31, 32, 33, 34, 32)}
EVEN = {"open": (20, 24, 22, 26), "shaded": (21, 23, 22, 27)}
THREE = COUNTS | {"half": (25, 26, 28, 30)}
ORDINARY = compared()
PLANTED = {
    "several_methods": Planted(said=compared(counts=THREE), silent=ORDINARY),
    "methods_impossible": Planted(
        said=compared(never_together, trial={"age_from": "hatch", "judged_on_day": None}),
        silent=ORDINARY,
    ),
    "main_not_declared": Planted(said=compared(trial={"main_outcome": None}), silent=ORDINARY),
    "main_not_measured": Planted(said=unmeasured, silent=ORDINARY),
    "outcome_changed": Planted(said=compared(main_outcome="minutes"), silent=ORDINARY),
    "unequal_looking": Planted(said=compared(looked_at_less), silent=ORDINARY),
    "unseen_before_first": Planted(
        said=compared(counted_late, trial={"age_from": "hatch"}), silent=ORDINARY
    ),
    "no_margin": Planted(
        said=compared(trial={"smallest_useful_difference": None}), silent=ORDINARY
    ),
    "margin_not_before": Planted(said=compared(trial={"plan_written_on": day(3)}), silent=ORDINARY),
    "others_adjusted": Planted(said=ORDINARY, silent=bare),
    "length_of_survivors": Planted(said=ORDINARY, silent=bare),
    "length_extrapolated": Planted(said=compared(one_measured_to(21)), silent=ORDINARY),
    "length_on_other_day": Planted(said=compared(last_measured_on(21)), silent=ORDINARY),
    "long_enough_chosen": Planted(said=compared(trial={"size_to_move_mm": None}), silent=ORDINARY),
    "outcome_lacks_units": Planted(said=compared(not_measured("open1")), silent=ORDINARY),
    "sign_turns": Planted(said=compared(counts=EVEN), silent=compared(counts=FIRM)),
    "hangs_on_one.clear": Planted(
        said=compared(counts={"open": (18, 20, 22, 24, 31), "shaded": (26, 28, 30, 32, 34)}),
        silent=compared(counts=FIRM),
    ),
    "hangs_on_one.open": Planted(
        said=compared(counts={"open": (20, 21, 22, 30, 19), "shaded": (25, 26, 27, 28, 27)}),
        silent=compared(counts=FIRM),
    ),
}


@pytest.mark.parametrize("key", PLANTED)
def test_what_is_planted_is_said_and_nothing_else(tmp_path: Path, key: str) -> None:
    check_planted(key, PLANTED, tmp_path)


def test_every_limit_of_this_question_is_planted() -> None:
    assert set(PLANTED) == own_keys(MethodsAnswer)
