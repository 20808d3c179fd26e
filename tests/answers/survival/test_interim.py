"""A trial that still runs: the look is counted, the verdict withheld."""

from __future__ import annotations

from pathlib import Path

import pytest

from rearkit import compare_survival, read_log
from rearkit.answers.survival.answer import VERDICTS
from tests.logs import batch, day, trial_of, write_log


def running(folder: Path, *, n: int = 4, **trial: object):
    rows, daily = [], []
    for i in range(n):
        for arm, alive in (("open", 60 - i), ("shaded", 85 + i)):
            name = f"{arm}{i}"
            rows.append(batch(name, 100, clutch=name, method=arm, how_assigned="random draw"))
            daily += [
                {"date": day(5), "batch": name, "dead": 5},
                {"date": day(14), "batch": name, "dead": 95 - alive, "alive": alive},
            ]
    fields = {"usual": "open", "tested": "shaded", "judged_on_day": 28} | trial
    return read_log(write_log(folder, batches=rows, daily=daily, trial=fields))


def test_a_running_trial_gives_no_verdict(tmp_path: Path) -> None:
    answer = compare_survival(running(tmp_path / "l", looks_planned=2))
    f = answer.facts()
    assert f["interim"] is True
    assert f["day"] == 14
    assert f["p_value"] is None
    assert answer.headline.startswith("Interim look, no verdict")
    assert "judged on day 28" in answer.headline
    assert f["downgrades"] == []
    assert any("look 1 at the result, of 2 planned" in text for text in answer.limits)


@pytest.mark.parametrize(
    ("planned", "earlier", "costs"),
    [(None, 0, True), (1, 0, False), (2, 1, False), (2, 2, True)],
)
def test_looks_beyond_the_plan_cost_a_step(
    tmp_path: Path, planned: int | None, earlier: int, costs: bool
) -> None:
    more = {} if planned is None else {"looks_planned": planned}
    answer = compare_survival(running(tmp_path / "l", **more), earlier_looks=earlier)
    assert ("unplanned_look" in answer.facts()["downgrades"]) is costs


@pytest.mark.parametrize("n", [1, 2, 3, 4])
def test_no_fact_judges_before_the_planned_day(tmp_path: Path, n: int) -> None:
    look = compare_survival(running(tmp_path / "l", n=n)).facts()
    judging = {name for name in look if name.startswith("p_")} - {"p_min"}
    assert {look[name] for name in judging | VERDICTS & look.keys()} == {None}
    assert look["p_min"] is not None


def test_a_finished_trial_is_judged(tmp_path: Path) -> None:
    answer = compare_survival(trial_of(tmp_path / "l", [0.5, 0.5, 0.6, 0.6], [0.8, 0.9, 0.8, 0.9]))
    assert not answer.interim
    assert answer.facts()["p_value"] is not None
