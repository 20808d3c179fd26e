"""From the log file to the sentence: false alarms, ranges that hold, and claims that stay.

Promised, at a nominal 5 %, in every condition of ``conditions.py``: of 100 logs without a
difference at most 7 call the question settled on any page; of 100 ranges 93 or more hold the true
difference; of 100 logs that hide nothing and that the test alone settles 95 or more stay settled.
A finite number of logs only estimates these shares; each check allows three of its own standard
errors. The small run judges all conditions together, the full one each by itself and the ranges of
hidden trials with a difference too.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from tests.simulation import judging, table
from tests.simulation.conditions import (
    CONDITIONS,
    WITH_A_DIFFERENCE,
    WITHOUT_A_DIFFERENCE,
    Condition,
)
from tests.simulation.fry import LAST_DAY, LIVES_ON, Layout, raise_fry, true_difference
from tests.simulation.judging import Page, Tally, made_up, run

HOLDS_TODAY = False
"""Whether the small run belongs to every run of the tests; else it is asked for with -m slow."""
RUNS, FULL_RUNS, PROCESSES = 3, 1_000, 2
FALSE_ALARMS, COVERAGE, STAYS, SPEAKS = 0.07, 0.93, 0.95, 0.99

small = pytest.mark.slow if not HOLDS_TODAY else lambda test: test
ALIKE = [c.name for c in WITHOUT_A_DIFFERENCE]
DIFFERENT = [c.name for c in WITH_A_DIFFERENCE]


def allowance(share: float, n: int) -> float:
    return 3.0 * math.sqrt(share * (1.0 - share) / n)


def check_false_alarms(t: Tally) -> None:
    assert t.settled / t.runs <= FALSE_ALARMS + allowance(FALSE_ALARMS, t.runs)


def check_coverage(t: Tally, logs: int) -> None:
    """Ranges of one log hang together, so that only logs are counted in the allowance."""
    if t.ranges:
        assert t.held / t.ranges >= COVERAGE - allowance(COVERAGE, logs)


def check_stays_settled(t: Tally) -> None:
    assert t.alone > 0
    assert t.stayed / t.alone >= STAYS - allowance(STAYS, t.alone)


@pytest.fixture(scope="module")
def few() -> dict[str, Tally]:
    return run([c for c in CONDITIONS.values() if c.alike or c.fully_counted], RUNS)


def together(tallies: dict[str, Tally], wanted: Callable[[Condition], bool]) -> Tally:
    whole = Tally()
    for name, tally in tallies.items():
        if wanted(CONDITIONS[name]):
            whole.join(tally)
    return whole


@small
def test_no_log_ends_in_an_exception(few: dict[str, Tally]) -> None:
    assert {name: dict(t.errors) for name, t in few.items() if t.errors} == {}


@small
def test_false_alarms_of_all_conditions_together(few: dict[str, Tally]) -> None:
    check_false_alarms(together(few, lambda c: c.alike))


@small
def test_ranges_of_all_conditions_together(few: dict[str, Tally]) -> None:
    whole = together(few, lambda c: True)
    check_coverage(whole, whole.ranged)


@small
def test_it_still_speaks(few: dict[str, Tally]) -> None:
    whole = together(few, lambda c: c.fully_counted)
    assert whole.verdicts >= SPEAKS * whole.runs
    check_stays_settled(together(few, lambda c: c.fully_counted and not c.alike))


@pytest.fixture(scope="module")
def many() -> Callable[[str], Tally]:
    done: dict[str, Tally] = {}

    def of(name: str) -> Tally:
        if name not in done:
            done.update(run([CONDITIONS[name]], FULL_RUNS, processes=PROCESSES))
        return done[name]

    return of


@pytest.mark.slow
@pytest.mark.parametrize("name", ALIKE)
def test_false_alarms_in_full(name: str, many: Callable[[str], Tally]) -> None:
    check_false_alarms(many(name))


@pytest.mark.slow
@pytest.mark.parametrize("name", [*ALIKE, *DIFFERENT])
def test_ranges_hold_the_truth_in_full(name: str, many: Callable[[str], Tally]) -> None:
    check_coverage(many(name), many(name).ranged)


@pytest.mark.slow
@pytest.mark.parametrize("name", [*ALIKE, *DIFFERENT])
def test_every_log_gets_an_answer_in_full(name: str, many: Callable[[str], Tally]) -> None:
    assert dict(many(name).errors) == {}


@pytest.mark.slow
@pytest.mark.parametrize("name", [c.name for c in WITH_A_DIFFERENCE if c.fully_counted])
def test_what_hides_nothing_stays_settled_in_full(name: str, many: Callable[[str], Tally]) -> None:
    assert many(name).verdicts >= SPEAKS * many(name).runs
    check_stays_settled(many(name))


# The simulation itself is held against what it was told to make.


@pytest.mark.parametrize("layout", [Layout(), Layout(n_usual=3, n_tested=5), Layout(groups=2)])
def test_as_many_fry_live_as_they_should(layout: Layout) -> None:
    shares = []
    for seed in range(200):
        fry = raise_fry(layout, icc=0.08, detection=(0.9, 0.5), seed=seed)
        assert fry.tested.sum() == layout.n_tested
        assert (~fry.tested).sum() == layout.n_usual
        lives = fry.died == LIVES_ON
        shares.append([lives[fry.tub == i].mean() for i in range(fry.tested.size)])
    error = math.sqrt(0.6 * 0.4 * (0.08 + 0.92 / 50) / len(np.ravel(shares)))
    assert abs(np.mean(np.concatenate(shares)) - 0.6) < 4.0 * error


def test_bodies_are_found_as_often_as_each_arm_finds_them() -> None:
    found = {False: [0, 0], True: [0, 0]}
    for seed in range(100):
        fry = raise_fry(Layout(outbreaks=0.3), icc=0.08, detection=(0.9, 0.5), seed=seed)
        for arm, counted in found.items():
            dead = (fry.died < LIVES_ON) & (fry.tested[fry.tub] == arm)
            counted[0] += int((dead & fry.found).sum())
            counted[1] += int(dead.sum())
    assert found[False][0] / found[False][1] == pytest.approx(0.9, abs=0.01)
    assert found[True][0] / found[True][1] == pytest.approx(0.5, abs=0.02)


def test_the_true_difference_is_what_the_fish_show() -> None:
    layout = Layout(survival=(0.5, 0.8), n_usual=3, n_tested=3)
    assert true_difference(layout, 0.08, 0, LAST_DAY) == pytest.approx(0.3, abs=0.01)
    shown = {(0, 10): [], (7, LAST_DAY): []}
    for seed in range(400):
        fry = raise_fry(layout, icc=0.08, detection=(0.9, 0.9), seed=seed)
        for (first, last), differences in shown.items():
            at_risk = fry.died > first
            shares = [
                (fry.died[at_risk & (fry.tub == i)] > last).mean() for i in range(fry.tested.size)
            ]
            differences.append(np.mean(shares[3:]) - np.mean(shares[:3]))
    for (first, last), differences in shown.items():
        error = np.std(differences) / math.sqrt(len(differences))
        truth = true_difference(layout, 0.08, first, last)
        assert abs(np.mean(differences) - truth) < 4.0 * error + 0.003


@pytest.mark.parametrize("name", CONDITIONS)
def test_a_log_is_always_the_same_and_never_lists_more_than_there_was(name: str) -> None:
    one, other = (made_up(CONDITIONS[name], 4)[0] for _ in range(2))
    assert one == other
    assert made_up(CONDITIONS[name], 5)[0] != one
    keeping = (CONDITIONS[name].usual, CONDITIONS[name].tested)
    if any(k.start != "exact" or k.end != "exact" for k in keeping):
        return
    for row in one["batches"]:
        visits = [v for v in one["daily"] if v["batch"] == row["batch"]]
        gone = sum(int(v.get(key, 0)) for v in visits for key in ("dead", "removed"))
        assert gone + int(row["end_count"] or 0) <= int(row["start_count"])
        assert all(row["started"] <= v["date"] <= row["ended"] for v in visits)


def test_a_page_knows_what_it_says() -> None:
    page = Page(p_value=0.04, level=2, low=0.0, high=0.3, difference=0.1, truth=0.0,
                headline="", running=False)  # fmt: skip
    assert page.settled
    assert page.misled
    assert page.holds
    assert not page.claimed


def test_a_log_that_went_wrong_is_kept(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(judging, "_wrong", lambda condition, outcome: True)
    run([CONDITIONS["tidy, 3 v 3"]], 1, keep=tmp_path)
    (said,) = tmp_path.rglob("said.txt")
    assert "the test alone" in said.read_text()
    assert (said.parent / "look1" / "Batches.csv").exists()


def test_the_table_stands_between_its_markers() -> None:
    tallies = {"tidy, 3 v 3": Tally(runs=40, verdicts=40, settled=2, ranges=40, held=38)}
    made = table.table_of(tallies)
    assert "| tidy, 3 v 3 | 40 | 100.0 % |" in made
    assert "| 5.0 % |" in made
    text = f"before\n{table.BEGIN}\nOLD TABLE\n{table.END}\nafter\n"
    put = table.put_between_markers(text, made)
    assert put.startswith("before\n")
    assert put.endswith(f"{table.END}\nafter\n")
    assert "OLD TABLE" not in put
    assert table.put_between_markers(put, made) == put
    with pytest.raises(ValueError, match="no <!-- simulation table"):
        table.put_between_markers("nothing here", made)
