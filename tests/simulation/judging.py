"""One log after another through the kit: what it said, and how often that was wrong."""

from __future__ import annotations

import math
import tempfile
import time
import warnings
import zlib
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from rearkit import compare_methods, compare_survival, read_log
from rearkit.stats.compare.permutation import permutation_test
from rearkit.stats.compare.unit_t import t_blocks, t_two
from tests.logs import write_log
from tests.simulation.conditions import CONDITIONS, Condition
from tests.simulation.fry import ICCS, LAST_DAY, raise_fry, true_difference
from tests.simulation.keeping import Sheets, as_of, write_down

LEVEL = 0.05
HINT = 3
"""The lowest level of claim that speaks of more than what went together."""
MEMORY = Path("/dev/shm")
FASTEST = MEMORY if MEMORY.is_dir() else None
"""Where logs are written before they are read: in memory, where there is such a place."""
AT_A_TIME = 10


@dataclass(frozen=True, kw_only=True)
class Page:
    """What one page says of its main outcome.

    Attributes
    ----------
    p_value : float or None
        The p that is shown.
    level : int
        The claim level.
    low, high : float or None
        The range that is shown; None where there is none, or one of its ends is nowhere.
    difference, truth : float or None
        What is shown, and what is so.
    headline : str
    running : bool
        Whether the trial still ran.
    """

    p_value: float | None
    level: int
    low: float | None
    high: float | None
    difference: float | None
    truth: float
    headline: str
    running: bool

    @property
    def settled(self) -> bool:
        """Whether the page calls its question settled: so it does wherever it shows such a p."""
        return self.p_value is not None and self.p_value <= LEVEL

    @property
    def claimed(self) -> bool:
        """Whether it is settled, and more than two things that went together."""
        return self.settled and self.level >= HINT

    @property
    def holds(self) -> bool | None:
        """Whether the range holds the truth; None where there is no range."""
        if self.low is None or self.high is None:
            return None
        return self.low - 1e-9 <= self.truth <= self.high + 1e-9

    @property
    def misled(self) -> bool:
        """Whether it settles on a difference that is not there, or on the wrong sign."""
        return self.settled and (self.difference or 0.0) * self.truth <= 0


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What became of one log: its pages, or why there are none.

    Attributes
    ----------
    pages : tuple of Page
        One a look, the last one of the finished trial.
    alone : bool or None
        Whether the test alone settles the trial by what was counted; None where not all was.
    error : str or None
        The exception that kept a page from being made.
    """

    pages: tuple[Page, ...]
    alone: bool | None
    error: str | None

    def told(self, level: int) -> bool:
        """Whether a page is settled at this level of claim."""
        return any(page.settled and page.level >= level for page in self.pages)


@dataclass(kw_only=True)
class Tally:
    """How often one condition went how; ``runs`` logs, each of one page or more."""

    runs: int = 0
    pages: int = 0
    verdicts: int = 0
    ranged: int = 0
    settled: int = 0
    settled_running: int = 0
    claimed: int = 0
    misled: int = 0
    ranges: int = 0
    held: int = 0
    alone: int = 0
    stayed: int = 0
    seconds: float = 0.0
    errors: Counter[str] = field(default_factory=Counter)

    def add(self, outcome: Outcome, level: int) -> None:
        """Count one log; a settled trial stays so if it is told at this level."""
        pages = outcome.pages
        self.runs += 1
        self.pages += len(pages)
        self.verdicts += any(p.p_value is not None for p in pages)
        self.ranged += any(p.holds is not None for p in pages)
        self.settled += any(p.settled for p in pages)
        self.settled_running += any(p.settled and p.running for p in pages)
        self.claimed += any(p.claimed for p in pages)
        self.misled += any(p.misled for p in pages)
        self.ranges += sum(p.holds is not None for p in pages)
        self.held += sum(p.holds is True for p in pages)
        self.alone += outcome.alone is True
        self.stayed += outcome.alone is True and outcome.told(level)
        if outcome.error is not None:
            self.errors[outcome.error] += 1

    def join(self, other: Tally) -> None:
        """Count what another tally counted."""
        for name, value in vars(other).items():
            setattr(self, name, getattr(self, name) + value)


def run(
    conditions: Sequence[Condition],
    runs: int,
    *,
    processes: int = 1,
    keep: Path | None = None,
) -> dict[str, Tally]:
    """Send logs of every condition through the kit.

    Parameters
    ----------
    conditions : sequence of Condition
    runs : int
        Logs a condition; the first ones are the same however many there are.
    processes : int
    keep : Path, optional
        A folder for the logs that went wrong: false alarms, ranges that miss, verdicts that are
        lost, and exceptions, with what was said.

    Returns
    -------
    dict of Tally
        By the names of the conditions, in their order.
    """
    tasks = [
        (c.name, range(first, min(first + AT_A_TIME, runs)), keep)
        for c in conditions
        for first in range(0, runs, AT_A_TIME)
    ]
    tallies = {c.name: Tally() for c in conditions}
    if processes == 1:
        done: Iterable[tuple[str, Tally]] = map(_share, tasks)
        for name, tally in done:
            tallies[name].join(tally)
        return tallies
    with ProcessPoolExecutor(processes) as pool:
        for name, tally in pool.map(_share, tasks):
            tallies[name].join(tally)
    return tallies


def _share(task: tuple[str, range, Path | None]) -> tuple[str, Tally]:
    name, indices, keep = task
    tally, began = Tally(), time.perf_counter()
    for index in indices:
        tally.add(judge(CONDITIONS[name], index, keep=keep), CONDITIONS[name].level)
    tally.seconds = time.perf_counter() - began
    return name, tally


def judge(condition: Condition, index: int, *, keep: Path | None = None) -> Outcome:
    """Make up one log of a condition, read it and ask it; warnings count as exceptions."""
    sheets, icc = made_up(condition, index)
    logs = [(d, as_of(sheets, d)) for d in condition.peeks] + [(None, sheets)]
    pages, error = [], None
    with tempfile.TemporaryDirectory(dir=FASTEST) as folder, warnings.catch_warnings():
        warnings.simplefilter("error")
        for i, (peek, log) in enumerate(logs):
            written = write_log(Path(folder) / f"look{i + 1}", **log)
            try:
                pages.append(_ask(condition, written, icc, peek))
            except Exception as wrong:
                text = str(wrong).splitlines()[0] if str(wrong) else ""
                error = error or f"{type(wrong).__name__}: {text[:90]}"
    outcome = Outcome(
        pages=tuple(pages),
        alone=_test_alone(sheets, condition) if condition.fully_counted else None,
        error=error,
    )
    if keep is not None and _wrong(condition, outcome):
        _keep(keep, condition, index, [log for _, log in logs], outcome)
    return outcome


def made_up(condition: Condition, index: int) -> tuple[Sheets, float]:
    """Make up the sheets of one log, always the same ones; the correlations take turns."""
    icc, seed = ICCS[index % len(ICCS)], zlib.crc32(condition.name.encode())
    keeping = condition.usual, condition.tested
    fry = raise_fry(
        condition.layout,
        icc=icc,
        detection=(keeping[0].detection, keeping[1].detection),
        seed=seed + index,
    )
    rng = np.random.default_rng([seed, index])
    return write_down(fry, keeping, condition.paper, rng), icc


def _ask(condition: Condition, folder: Path, icc: float, peek: int | None) -> Page:
    """Read a log and ask after its main outcome."""
    log = read_log(folder)
    outcome = condition.paper.main_outcome
    asked = {} if peek is None or not condition.peek_sets_day else {"day": float(peek)}
    answer = (compare_survival if outcome == "survival" else compare_methods)(log, **asked)
    facts = answer.facts()
    ends = [_finite(facts.get(name)) for name in ("conf_low", "conf_high")]
    low, high = (None, None) if None in ends else ends
    return Page(
        p_value=_finite(facts.get("p_value")),
        level=int(facts.get("claim_level") or 0),
        low=low,
        high=high,
        difference=_finite(facts.get("difference")),
        truth=_truth(condition, icc, facts),
        headline=answer.headline,
        running=peek is not None,
    )


def _finite(value: Any) -> float | None:
    return float(value) if value is not None and math.isfinite(value) else None


def _truth(condition: Condition, icc: float, facts: dict[str, Any]) -> float:
    """Return what is so over the days that the answer is about; only survival ever differs."""
    if condition.alike:
        return 0.0
    landmark, day = facts.get("landmark") or 0.0, facts.get("day") or LAST_DAY
    return true_difference(condition.layout, icc, float(landmark), float(day))


def _test_alone(sheets: Sheets, condition: Condition) -> bool:
    """Tell whether the test that the table names settles shares alive taken from exact counts."""
    start: dict[str, float] = {}
    alive: dict[str, float] = {}
    tubs: dict[str, dict[str, Any]] = {}
    for row in sheets["batches"]:
        tub = row["batch"].removesuffix("-big")
        tubs.setdefault(tub, row)
        if not row["batch"].endswith("-big"):
            start[tub] = float(row["start_count"])
        if row["end_reason"] != "moved":
            alive[tub] = float(row["end_count"])
    kept = [tub for tub, row in tubs.items() if not row.get("left_out")]
    split = condition.layout.split_clutches is not None
    units: dict[str, list[float]] = {}
    arm: dict[str, bool] = {}
    block: dict[str, str] = {}
    for tub in kept:
        row = tubs[tub]
        unit = tub if split else row["clutch"]
        units.setdefault(unit, []).append(alive[tub] / start[tub])
        arm[unit], block[unit] = row["method"] == "shaded", row["clutch"]
    y = np.array([np.mean(v) for v in units.values()])
    return _p_of(y, np.array(list(arm.values())), list(block.values()) if split else None) <= LEVEL


def _p_of(y: np.ndarray, tested: np.ndarray, blocks: list[str] | None) -> float:
    """Return the p of the decision table; 1 where it claims none."""
    n_tested, n_usual = int(tested.sum()), int((~tested).sum())
    if blocks is not None:
        n = len(set(blocks))
        if n < 3:
            return 1.0
        test = t_blocks if n < 6 else permutation_test
        return float(test(y, tested, blocks).p_value)
    if min(n_tested, n_usual) < 3:
        return 1.0
    if n_tested != n_usual:
        return max(permutation_test(y, tested).p_value, t_two(y, tested, welch=True).p_value)
    return float((t_two if n_usual == 3 else permutation_test)(y, tested).p_value)


def _wrong(condition: Condition, outcome: Outcome) -> bool:
    lost = outcome.alone is True and not outcome.told(condition.level)
    bad = any(p.misled or p.holds is False for p in outcome.pages)
    return outcome.error is not None or lost or bad


def _keep(
    keep: Path, condition: Condition, index: int, logs: Iterable[Sheets], outcome: Outcome
) -> None:
    """Write a log that went wrong, page by page, with what was said of it."""
    name = "".join(c if c.isalnum() else "_" for c in condition.name)
    folder = keep / name / f"{index:05d}"
    for i, sheets in enumerate(logs):
        write_log(folder / f"look{i + 1}", **sheets)
    (folder / "said.txt").write_text("\n".join(_told(outcome)) + "\n", encoding="utf-8")


def _told(outcome: Outcome) -> Iterator[str]:
    for page in outcome.pages:
        yield (
            f"{page.headline}\n  p {page.p_value}, level {page.level}, difference "
            f"{page.difference} ({page.low} to {page.high}), true {page.truth:.4f}"
        )
    if outcome.alone is not None:
        yield f"the test alone: {'settled' if outcome.alone else 'not settled'}"
    if outcome.error is not None:
        yield outcome.error
