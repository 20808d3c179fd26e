"""How keepers look, count, stop, move and write down: from fry to the sheets of a log."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.logs import day
from tests.simulation.fry import LAST_DAY, Fry

Sheets = dict[str, Any]
ARMS = ("open", "shaded")
"""The usual and the tested method."""
STAGGER = 3
"""The clutches of each arm hatch on so many days in turn."""


@dataclass(frozen=True, kw_only=True)
class Stop:
    """Tubs that end before their time.

    Attributes
    ----------
    on : int
        The age at which they end, all fry counted.
    reason : str
        What the keeper calls it.
    below : float, optional
        Those end of whose fry a smaller share is alive; None: those that chance picks.
    chance : float
        With what chance each tub ends, where chance picks.
    left_out : str
        The reason for leaving the batch out of the comparison, if one is written.
    """

    on: int = 14
    reason: str = "welfare stop"
    below: float | None = 0.62
    chance: float = 0.0
    left_out: str = ""


@dataclass(frozen=True, kw_only=True)
class Keeping:
    """How the tubs of one arm are looked after and counted.

    Attributes
    ----------
    gaps : tuple of int
        Days from one look to the next, drawn from these.
    detection : float
        With what chance a body is found.
    first_count : int
        The age at which the fry enter the log, counted.
    full_counts : tuple of int
        Further ages at which all fry are counted.
    last_look : int
        The age at which it ends.
    start, end : str
        How the first and the last count are written: ``exact``, ``range`` or ``about``.
    end_counted : float
        With what chance anybody counts at the end.
    overcount : float
        By what factor the first count is too high.
    count_how : str
        How the first count is made, as the log has it.
    stop : Stop, optional
        Which tubs end early.
    taken_out_sick : float
        Share of the bodies that are fry taken out as sick before they died.
    """

    gaps: tuple[int, ...] = (1, 2, 3)
    detection: float = 0.9
    first_count: int = 0
    full_counts: tuple[int, ...] = ()
    last_look: int = LAST_DAY
    start: str = "exact"
    end: str = "exact"
    end_counted: float = 1.0
    overcount: float = 1.0
    count_how: str = "counted"
    stop: Stop | None = None
    taken_out_sick: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Paper:
    """What was laid down for the whole trial.

    Attributes
    ----------
    day_declared, plan_dated : bool
        Whether the Trial sheet names the judging day, and when the plan was written.
    exclusions : str
        The rule for leaving out.
    main_outcome : str
        ``survival``, ``length`` or ``minutes``.
    group_is : str
        What the groups of the layout are: ``clutch``, ``parents`` or ``water``.
    group_sd_mm : float
        Standard deviation of the growth of groups, mm on the last day.
    move_on : int, optional
        The age at which all fry go to bigger tubs.
    staggered : bool
        Whether clutches hatch on days in turn, or all on one day.
    """

    day_declared: bool = True
    plan_dated: bool = True
    exclusions: str = "tubs that leak"
    main_outcome: str = "survival"
    group_is: str = "clutch"
    group_sd_mm: float = 0.0
    move_on: int | None = None
    staggered: bool = True


def write_down(
    fry: Fry, keeping: tuple[Keeping, Keeping], paper: Paper, rng: np.random.Generator
) -> Sheets:
    """Write the log of a finished trial: what ``tests.logs.write_log`` takes.

    Parameters
    ----------
    fry : Fry
    keeping : (Keeping, Keeping)
        Of the usual and of the tested arm.
    paper : Paper
    rng : Generator
        Draws the days of looks, the names of tubs and how counts are written.
    """
    n = fry.tested.size
    number = rng.permutation(n) + 1
    style = str(rng.choice(["from_batch", "removed_to", "both"]))
    growth = paper.group_sd_mm * rng.standard_normal(int(fry.group.max()) + 1)
    sheets: Sheets = {"batches": [], "daily": [], "sizes": []}
    rank = {False: 0, True: 0}
    first = {arm: int(fry.group[fry.tested == arm].min()) for arm in rank}
    for i in rng.permutation(n):
        tested = bool(fry.tested[i])
        tub = _Tub(
            name=f"T{number[i]}",
            hatched=int(fry.group[i] - first[tested]) % STAGGER if paper.staggered else 0,
            about=_about(fry, i, int(number[i]), rank[tested], paper),
            died=fry.died[fry.tub == i],
            found=fry.found[fry.tub == i],
            keeping=keeping[tested],
            rng=rng,
        )
        rank[tested] += 1
        _keep(tub, sheets, paper.move_on, style)
        if paper.main_outcome == "length":
            sheets["sizes"] += _measure(tub, growth[fry.group[i]])
        if paper.main_outcome == "minutes":
            usual = rng.normal(10.0, 2.0)
            for row in sheets["daily"]:
                if row["batch"] == tub.name:
                    row["minutes"] = max(1, round(rng.normal(usual, 3.0)))
    sheets["trial"] = _trial(paper)
    return sheets


def as_of(sheets: Sheets, calendar_day: int) -> Sheets:
    """Return the log as it stood on one day of the calendar: later rows and ends not yet there."""
    today = day(calendar_day)
    seen = {name: [r for r in sheets[name] if r["date"] <= today] for name in ("daily", "sizes")}
    batches = []
    for row in sheets["batches"]:
        if row["started"] <= today:
            running = row["ended"] > today
            open_end = dict.fromkeys(("ended", "end_count", "end_reason"), "")
            batches.append(row | (open_end if running else {}))
    return seen | {"batches": batches, "trial": sheets["trial"]}


@dataclass(frozen=True, kw_only=True, eq=False)
class _Tub:
    """One container: its fry, and who keeps it."""

    name: str
    hatched: int
    about: dict[str, object]
    died: np.ndarray
    found: np.ndarray
    keeping: Keeping
    rng: np.random.Generator

    def alive(self, age: int) -> int:
        """Return how many are alive at an age."""
        return int((self.died > age).sum())

    def bodies(self, since: int, age: int) -> int:
        """Return how many of those that died since a look are found."""
        return int((self.found & (self.died > since) & (self.died <= age)).sum())

    def date(self, age: int) -> str:
        return day(self.hatched + age)


def _about(fry: Fry, i: int, number: int, rank: int, paper: Paper) -> dict[str, object]:
    """Say what is known of a batch before anything happens in it."""
    group = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[fry.group[i]]
    of_group = {"clutch": f"K{group}", "parents": f"pair {group}", "water": f"system {group}"}
    about: dict[str, object] = {"clutch": f"C{number}", "parents": f"pair {number}", "water": "own"}
    about[paper.group_is] = of_group[paper.group_is]
    if paper.group_is == "clutch":
        about["parents"] = f"pair {group}"
    return about | {
        "method": ARMS[bool(fry.tested[i])],
        "how_assigned": "random draw",
        "place": f"shelf {rank % 2 + 1}",
    }


def _keep(tub: _Tub, sheets: Sheets, move_on: int | None, style: str) -> None:
    """Write the rows of one tub from its first count to its end."""
    k = tub.keeping
    last, reason = k.last_look, "planned end"
    at_start = tub.alive(k.first_count)
    left_out = ""
    if k.stop is not None and _stops(tub, k.stop, at_start):
        last, reason, left_out = k.stop.on, k.stop.reason, k.stop.left_out
    fixed = {last, *(a for a in (*k.full_counts, move_on or last) if k.first_count < a <= last)}
    name, since, big = tub.name, k.first_count, None
    first = _batch(tub, name, k.first_count, _written(round(k.overcount * at_start), k.start, tub))
    first["count_how"] = k.count_how
    row = first
    for age in _looks(k, last, fixed, tub.rng):
        visit = {"date": tub.date(age), "batch": name} | _bodies(tub, since, age)
        alive, since = tub.alive(age), age
        if age in k.full_counts and age < last:
            visit["alive"] = alive
        if alive == 0:
            last, reason = age, "all died"
        elif age == move_on and age < last:
            big = f"{tub.name}-big"
            sheets["daily"].append(visit)
            row |= _moved(visit, row, big, age, alive, tub, style)
            sheets["batches"].append(row)
            row = _batch(tub, big, age, str(alive)) | {"count_how": "counted", "litres": 40}
            row |= {} if style == "removed_to" else {"from_batch": name}
            name = big
            continue
        sheets["daily"].append(visit)
        if age == last:
            break
    row |= {"ended": tub.date(last), "end_reason": reason, "end_count": ""}
    if reason != "planned end" or tub.rng.random() < k.end_counted:
        row["end_count"] = _written(tub.alive(last), k.end, tub)
    if left_out:
        row["left_out"] = left_out
    sheets["batches"].append(row)


def _stops(tub: _Tub, stop: Stop, at_start: int) -> bool:
    if stop.below is None:
        return bool(tub.rng.random() < stop.chance)
    return tub.alive(stop.on) < stop.below * at_start


def _looks(k: Keeping, last: int, fixed: set[int], rng: np.random.Generator) -> list[int]:
    ages = k.first_count + rng.choice(k.gaps, size=LAST_DAY).cumsum()
    return sorted({int(a) for a in ages if a < last} | fixed)


def _batch(tub: _Tub, name: str, age: int, count: str) -> dict[str, object]:
    row: dict[str, object] = {"batch": name, "container": f"tub {name[1:]}", "litres": 8}
    return (
        row
        | tub.about
        | {
            "hatched": tub.date(0),
            "started": tub.date(age),
            "start_count": count,
        }
    )


def _bodies(tub: _Tub, since: int, age: int) -> dict[str, object]:
    found = tub.bodies(since, age)
    sick = int(tub.rng.binomial(found, tub.keeping.taken_out_sick))
    taken = {"removed": sick, "removed_why": "sick"} if sick else {}
    return {"dead": found - sick} | taken


def _moved(
    visit: dict[str, object],
    row: dict[str, object],
    big: str,
    age: int,
    alive: int,
    tub: _Tub,
    style: str,
) -> dict[str, object]:
    """Write a move: as an end with a count, as fish taken out to another batch, or as both."""
    ended = {"ended": tub.date(age), "end_reason": "moved"}
    if style == "from_batch":
        return ended | {"end_count": alive}
    visit |= {"removed": alive, "removed_why": "other", "removed_to": big}
    return ended | {"end_count": 0}


def _written(count: int, how: str, tub: _Tub) -> str:
    """Write a count as a keeper would: exactly, as a range that holds it, or as about so many."""
    if how == "exact":
        return str(count)
    if how == "about":
        return f"~{round(count * (1.0 + 0.05 * float(np.clip(tub.rng.normal(), -1.8, 1.8))))}"
    low = max(count - int(tub.rng.integers(0, 1 + round(0.12 * count))), 0)
    return f"{low}-{max(low + round(0.12 * count), count)}"


def _measure(tub: _Tub, of_group: float) -> Iterator[dict[str, object]]:
    """Measure some fry of a tub on four days; they grow evenly, tubs and groups unlike."""
    last = 12.0 + of_group + tub.rng.normal(0.0, 0.6)
    for age in (7, 14, 21, LAST_DAY):
        for _ in range(min(6, tub.alive(age))):
            mm = 5.0 + (last - 5.0) * age / LAST_DAY + tub.rng.normal(0.0, 0.05 * last)
            yield {"date": tub.date(age), "batch": tub.name, "length_mm": round(mm, 1)}


def _trial(paper: Paper) -> dict[str, object]:
    fields: dict[str, object] = {
        "title": "Shaded corner for kribensis fry",
        "keeper": "Willow Lane fish club",
        "species": "Pelvicachromis pulcher",
        "compare": "method",
        "usual": ARMS[0],
        "tested": ARMS[1],
        "main_outcome": paper.main_outcome,
        "age_from": "hatch",
        "looks_planned": 1,
        "counted_blind": "no",
        "exclusions": paper.exclusions,
    }
    if paper.day_declared:
        fields["judged_on_day"] = LAST_DAY
    if paper.plan_dated:
        fields["plan_written_on"] = day(-3)
    return fields
