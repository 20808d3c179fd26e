"""Any log that can be read gives its answers: nothing falls over, nothing contradicts itself."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rearkit import (
    Logbook,
    check_log,
    compare_effort,
    compare_growth,
    compare_methods,
    compare_survival,
    cost_of_interruption,
    describe_trial,
    read_log,
    use_of_place,
    when_to_move,
)
from rearkit.answers.answer import Answer
from rearkit.errors import RearkitError
from tests.evidence.odd_logs import draw_log
from tests.logs import write_log

ASK: tuple[Callable[[Logbook], Answer], ...] = (
    compare_survival,
    compare_methods,
    compare_growth,
    when_to_move,
    cost_of_interruption,
    use_of_place,
    compare_effort,
    describe_trial,
    check_log,
)
METHODS = {"usual": "open", "tested": "shade"}
NO_NUMBER = re.compile(r"(?<![A-Za-z])(None(?! (had|of|were|was))|nan|NaN|NaT|inf)(?![A-Za-z])")
TAG = re.compile(r"<[^>]*>")


def texts(answer: Answer) -> Iterator[str]:
    """Yield everything that an answer says in words and tables."""
    yield answer.headline
    yield from answer.limits
    parts = answer.parts()
    for part in parts["say"]:
        yield TAG.sub(" ", answer.say(part)._repr_html_())
    for part in parts["readable"]:
        yield TAG.sub(" ", answer.readable(part)._repr_html_())


def doubts_of_account(log: Logbook) -> Iterator[str]:
    """Yield the batches that lose or make a fish, or lie outside their own bounds."""
    for row in log.account[log.account["adds_up"].astype(bool)].itertuples():
        there = row.start_best + row.added
        gone = row.alive_best + row.dead + row.removed + row.missing_best
        if not math.isclose(there, gone, abs_tol=1e-6):
            yield f"{row.batch}: {there} came, {gone} are accounted for"
        for name in ("alive", "missing"):
            low, best, high = (getattr(row, f"{name}_{e}") for e in ("low", "best", "high"))
            if not low - 1e-9 <= best <= high + 1e-9:
                yield f"{row.batch}: {name} {best} outside {low} to {high}"


def doubts_of_verdict(facts: dict[str, Any], headline: str) -> Iterator[str]:
    """Yield what contradicts itself in a comparison of survival."""
    p, low, high = facts["p_value"], facts["conf_low"], facts["conf_high"]
    if facts["interim"] and (p is not None or low is not None or facts["claim_level"] > 1):
        yield "a verdict in a running trial"
    if facts["difference"] is not None and low is not None:
        if not low - 1e-9 <= facts["difference"] <= high + 1e-9:
            yield "the difference lies outside its range"
        if p is not None and (p <= 0.05) == (low <= 0 <= high):
            yield f"p {p} beside {low} to {high}"
    if p is not None and p <= 0.05 and "not settled" in headline:
        yield "settled and not settled"
    for unit in facts["by_unit"]:
        if not -1e-9 <= unit["count_low"] - 1e-9 <= unit["survival"] <= unit["count_high"] + 1e-9:
            yield f"{unit['unit']}: {unit['survival']} outside its bounds"


def one_number(survival: dict[str, Any], methods: Any) -> Iterator[str]:
    """Yield the numbers that differ between the two answers that compare survival."""
    if methods.first is None or survival["difference"] is None:
        return
    other = methods.first.outcome("survival").comparison
    if other is None:
        return
    pairs = (("difference", "estimate"), ("p_value", "p_value"), ("conf_low", "conf_low"))
    for name, again in pairs:
        one, two = survival[name], getattr(other, again)
        if (one is None) != (two is None) or (one is not None and not math.isclose(one, two)):
            yield f"{name} {one} and {two}"


def try_log(folder: Path, seed: int) -> tuple[Counter[str], list[str]]:
    """Ask everything of one random log; give what answered, and what contradicts itself."""
    count: Counter[str] = Counter()
    doubts: list[str] = []
    try:
        log = read_log(write_log(folder / str(seed), **draw_log(np.random.default_rng(seed))))
    except RearkitError:
        return Counter(stopped=1), doubts
    doubts += doubts_of_account(log)
    answers: dict[str, Any] = {}
    for ask in ASK:
        try:
            answers[ask.__name__] = answer = ask(log)
        except RearkitError:
            continue
        count[ask.__name__] = 1
        for text in texts(answer):
            found = NO_NUMBER.search(text)
            if found:
                doubts.append(f"{ask.__name__}: …{text[max(0, found.start() - 60) : found.end()]}")
    survival = answers.get("compare_survival")
    if survival is not None:
        facts = survival.facts()
        doubts += doubts_of_verdict(facts, survival.headline)
        count["compared"] = int(facts["difference"] is not None)
        if "compare_methods" in answers:
            doubts += one_number(facts, answers["compare_methods"])
    return count, [f"log {seed}: {doubt}" for doubt in doubts]


def try_logs(folder: Path, seeds: range) -> Counter[str]:
    """Ask everything of many logs; fail with all that contradicts itself."""
    counts: Counter[str] = Counter()
    doubts: list[str] = []
    for seed in seeds:
        count, found = try_log(folder, seed)
        counts += count
        doubts += found
    assert not doubts, "\n".join(doubts)
    return counts


def test_some_odd_logs(tmp_path: Path) -> None:
    counts = try_logs(tmp_path, range(8))
    assert counts["compared"] >= 4


@pytest.mark.slow
def test_three_thousand_odd_logs(tmp_path: Path) -> None:
    counts = try_logs(tmp_path, range(3_000))
    assert counts["compare_survival"] >= 1_500


def survival_facts(folder: Path, sheets: dict[str, Any]) -> dict[str, float | None]:
    """Return the numbers of the survival answer of a log, without names."""
    facts = compare_survival(read_log(write_log(folder, **sheets))).facts()
    return {k: v for k, v in facts.items() if v is None or isinstance(v, int | float)}


@pytest.fixture(params=[2, 4, 8])
def sheets(request: pytest.FixtureRequest) -> dict[str, Any]:
    return draw_log(np.random.default_rng(request.param))


def test_the_order_of_rows_and_columns_changes_nothing(
    tmp_path: Path, sheets: dict[str, Any]
) -> None:
    rng = np.random.default_rng(1)
    again: dict[str, Any] = {"trial": sheets["trial"]}
    for name, rows in sheets.items():
        if name != "trial":
            dealt = [rows[i] for i in rng.permutation(len(rows))]
            again[name] = [{c: row[c] for c in reversed(row)} for row in dealt]
    expected = survival_facts(tmp_path / "a", sheets)
    assert survival_facts(tmp_path / "b", again) == pytest.approx(expected, nan_ok=True)


def test_exchanging_the_methods_turns_the_sign_and_nothing_else(
    tmp_path: Path, sheets: dict[str, Any]
) -> None:
    one = survival_facts(tmp_path / "a", sheets | {"trial": sheets["trial"] | METHODS})
    turned = {"usual": METHODS["tested"], "tested": METHODS["usual"]}
    two = survival_facts(tmp_path / "b", sheets | {"trial": sheets["trial"] | turned})
    assert one["difference"] is not None
    assert two["difference"] == pytest.approx(-one["difference"])
    assert two["p_value"] == pytest.approx(one["p_value"])
    assert two["claim_level"] == one["claim_level"]
    if one["conf_low"] is not None and one["conf_high"] is not None:
        assert two["conf_high"] == pytest.approx(-one["conf_low"])
        assert two["conf_low"] == pytest.approx(-one["conf_high"])
