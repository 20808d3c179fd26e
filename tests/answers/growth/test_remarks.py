"""Every limit of the growth answer: planted in a log, it is said; otherwise it is not."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np
import pytest

from rearkit import compare_growth, read_log
from rearkit.answers.growth.answer import GrowthAnswer
from rearkit.stats.growth.curves import GOMPERTZ
from tests.answers.growth_logs import DAYS, TRIAL, arms, grown, line, lines_log, size
from tests.answers.planted import Ask, Planted, check_planted, own_keys
from tests.logs import Row, batch, day, write_log

SLOPES = {f"open{i}": 0.20 + 0.01 * i for i in range(1, 5)}
SLOPES |= {f"shaded{i}": 0.26 + 0.01 * i for i in range(1, 5)}
CURVES = {name: line(5.0, slope) for name, slope in SLOPES.items()}


def fair(trial: dict[str, object] | None = None, **asked: object) -> Ask:
    """Ask about four against four clutches that grow along straight lines."""

    def ask(folder: Path) -> GrowthAnswer:
        log = lines_log(folder, SLOPES, **(trial or {}))
        return compare_growth(log, **asked)  # type: ignore[arg-type]

    return ask


def measured(
    sizes: Iterable[Row],
    batches: Iterable[Row] | None = None,
    trial: dict[str, object] | None = None,
    **asked: object,
) -> Ask:
    """Ask about a log with these lengths."""

    def ask(folder: Path) -> GrowthAnswer:
        rows = arms(4, 4, litres=10) if batches is None else list(batches)
        fields = TRIAL | (trial or {})
        log = read_log(write_log(folder, batches=rows, sizes=list(sizes), trial=fields))
        return compare_growth(log, **asked)  # type: ignore[arg-type]

    return ask


def sizes_but(name: str, days: tuple[int, ...] = (), curve: Callable | None = None) -> list[Row]:
    """Return the lengths of all batches, one of them measured on other days or grown otherwise."""
    rest = {b: c for b, c in CURVES.items() if b != name}
    return [*grown(rest), *grown({name: curve or CURVES[name]}, days=days)]


def died_out() -> Ask:
    """Let one of five open batches die out after its second measuring."""
    batches = [dict(row) for row in arms(5, 5)]
    batches[0] |= {"ended": day(10), "end_count": 0, "end_reason": "all died"}
    curves = {str(row["batch"]): line(5.0, 0.25) for row in batches[1:]}
    return measured([*grown(curves), *grown({"open1": line(5, 0.3)}, days=(5, 8))], batches)


def never_counted() -> Ask:
    """Let no fish be counted, neither at the start nor later."""
    batches = [dict(row) | {"start_count": "", "end_count": ""} for row in arms(4, 4)]
    return measured(grown(CURVES), batches)


def one_not_counted() -> Ask:
    """Let more fry live in every shaded batch, and nobody count the last of them at the end."""
    batches = [
        dict(row) | {"end_count": 10 if row["method"] == "open" else 35} for row in arms(4, 4)
    ]
    batches[-1]["end_count"] = ""
    return measured(grown(CURVES), batches)


def levelled_off() -> Ask:
    """Follow six batches until they no longer grow."""
    curves = {
        f"{arm}{i}": lambda on, up=up: float(GOMPERTZ.length(on, (60.0, 0.03, 40.0))) + up
        for arm, ups in (("open", (0.0, 1.0, 2.0)), ("shaded", (0.5, 1.5, 2.5)))
        for i, up in enumerate(ups, 1)
    }
    days = [10, 30, 50, 80, 120, 160, 200, 260, 320]
    sizes = grown(curves, days=days, offsets=(-3.0, -1.0, 1.0, 3.0))
    batches = [dict(row) | {"ended": day(330)} for row in arms(3, 3)]
    return measured(sizes, batches, {"judged_on_day": 300})


def crowded(open_left: int) -> Ask:
    """Leave so many fish in every open container, and 35 in every shaded one."""
    batches = [
        dict(row) | {"end_count": open_left if row["method"] == "open" else 35}
        for row in arms(4, 4, litres=10)
    ]
    return measured(grown(CURVES), batches)


def weighed(power: float) -> Ask:
    """Weigh fish of one batch whose weight goes with a power of their length."""
    sizes = [size("A", 28, x, weight_mg=x**power / 100) for x in (8.0, 9.0, 10.0, 11.0, 12.0)]
    return measured(sizes, [batch("A", 40, 30)])


def alone(left: int) -> Ask:
    """Measure one batch of which so many of 40 are left."""
    return measured(grown({"A": line(5.0, 0.25)}), [batch("A", 40, left)])


def stepped() -> Ask:
    """Let one batch leap from one length to another between two days, which no curve does."""
    step = {"open1": lambda on: 5.0 if on < 14 else 12.0}
    rest = {b: c for b, c in CURVES.items() if b != "open1"}
    sizes = [*grown(rest), *grown(step, days=(7, 14, 17, 21, 28), offsets=(0.0,))]
    return measured(sizes, curve="gompertz")


def speeding_up(on: float) -> float:
    return float(4.0 * np.exp(0.04 * on))


FAIR = fair()
NEARLY_ALL_LIVED = measured(grown(CURVES), arms(4, 4, end=39))
PLANTED = {
    "no_lengths": Planted(said=measured([]), silent=FAIR),
    "growth_one_arm": Planted(
        said=measured(grown({b: c for b, c in CURVES.items() if b.startswith("open")})),
        silent=FAIR,
    ),
    "length_day_not_declared": Planted(said=fair({"judged_on_day": ""}), silent=FAIR),
    "length_day_not_reached": Planted(said=fair({"judged_on_day": 60}), silent=FAIR),
    "length_extrapolated": Planted(said=fair(day=35.0), silent=FAIR),
    "second_outcome": Planted(said=fair({"main_outcome": "survival"}), silent=FAIR),
    "units_not_measured": Planted(said=measured(sizes_but("open1")), silent=FAIR),
    "units_no_fish_left": Planted(said=died_out(), silent=FAIR),
    "growth_without_survival": Planted(said=never_counted(), silent=FAIR),
    "survival_not_alike": Planted(said=one_not_counted(), silent=FAIR),
    "runts_lost_within": Planted(said=FAIR, silent=NEARLY_ALL_LIVED),
    "runts_lost_beyond": Planted(said=NEARLY_ALL_LIVED, silent=FAIR),
    "runts_lost_single": Planted(said=alone(30), silent=alone(40)),
    "crowding": Planted(said=crowded(10), silent=crowded(35)),
    "curve_one_day": Planted(said=measured(sizes_but("open1", (28,))), silent=FAIR),
    "curve_too_few_days": Planted(
        said=measured(sizes_but("open1", (7, 28)), curve="gompertz"),
        silent=measured(sizes_but("open1", (7, 28)), curve="line"),
    ),
    "curve_no_growth": Planted(
        said=measured(sizes_but("open1", DAYS, line(9.0, -0.05)), curve="gompertz"),
        silent=fair(curve="gompertz"),
    ),
    "curve_did_not_settle": Planted(said=stepped(), silent=FAIR),
    "curve_at_bound": Planted(
        said=measured(grown(dict.fromkeys(SLOPES, speeding_up)), curve="von_bertalanffy"),
        silent=fair(curve="line"),
    ),
    "curve_not_chosen": Planted(
        said=measured(grown(CURVES, days=(14, 28), offsets=(0.0,))), silent=FAIR
    ),
    "too_young": Planted(said=fair(curve="gompertz"), silent=levelled_off()),
    "adult_length_given": Planted(said=fair(adult_length_mm=90.0), silent=FAIR),
    "final_size_leans": Planted(said=levelled_off(), silent=FAIR),
    "length_never_reached": Planted(
        said=measured(sizes_but("open1", DAYS, line(9.0, -0.05)), length_mm=10.0),
        silent=fair(length_mm=10.0),
    ),
    "day_reached_extrapolated": Planted(said=fair(length_mm=13.0), silent=fair(length_mm=10.0)),
    "weight_exponent_unusual": Planted(said=weighed(4.0), silent=weighed(3.0)),
}


@pytest.mark.parametrize("key", PLANTED)
def test_what_is_planted_is_said_and_nothing_else(tmp_path: Path, key: str) -> None:
    check_planted(key, PLANTED, tmp_path)


def test_every_limit_of_this_question_is_planted() -> None:
    assert set(PLANTED) == own_keys(GrowthAnswer)
