"""What did an interruption cost? Deaths a fry-day before and after, and what else was going on."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import pandas as pd

from rearkit.answers.answer import Answer
from rearkit.answers.interruption import tables, words
from rearkit.answers.interruption.before_and_after import (
    INTERRUPTIONS,
    Happening,
    Placebo,
    affected,
    controls,
    disturbed,
    fates_by_batch,
    growth_around,
    happenings,
    placebo_dates,
    window,
)
from rearkit.answers.interruption.timeline import death_rate_of, timeline_of
from rearkit.batch.remark import Remark
from rearkit.errors import DesignError
from rearkit.logbook.account.ages import DAY
from rearkit.logbook.logbook import Logbook
from rearkit.stats.compare.rates import RateRatio, RatioOfRatios, rate_ratio, ratio_of_ratios
from rearkit.words.remarks import SENTENCES

if TYPE_CHECKING:
    from rearkit.pictures.picture import Picture

WINDOW_DAYS = 5.0
FIRST_WEEK = 7.0  # losses are said to be heaviest in it: common practice, no source
MOST_IN_ONE = 0.5  # one container with a larger share of the deaths is named


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class InterruptionAnswer(Answer):
    """The change of the death rate around one event.

    Attributes
    ----------
    events : tuple of Happening
        All events of the log.
    event : Happening or None
        The one that is asked about; None if there is none.
    before_days, after_days : float
        Lengths of the windows; the one after runs from the start of the event to so many days
        after its end.
    by_batch : DataFrame
        One row a batch: ``role`` (``affected`` or ``control``), ``age``, deaths and fry-days.
    ratio, control_ratio : RateRatio or None
        Death rate after over before, in the affected batches and in the controls.
    contrast : RatioOfRatios or None
        The first over the second.
    expected, excess, excess_low, excess_high : float or None
        Deaths after, had the rate gone on as before (times the change of the controls, where there
        are any), and how many more there were.
    placebo : Placebo or None
        How unusual the date is.
    growth : DataFrame
        Growth a day before, across and after.
    timeline : DataFrame
        Everything that happened.
    death_rate : DataFrame
        Deaths found for every 100 fry, day by day, all batches together.
    level : int
        0 one container, 1 several, 2 beside unaffected ones of the same age. No lot was drawn, so
        never more.
    """

    key: ClassVar[str] = "interruption"
    headline_words = staticmethod(words.headline)
    sentences = SENTENCES | words.SENTENCES
    prose_parts = words.PARTS
    table_parts = tables.TABLES

    @classmethod
    def picture_parts(cls) -> Mapping[str, Callable[[InterruptionAnswer], Picture]]:
        """Return the pictures of this answer by name."""
        from rearkit.answers.interruption.pictures import PICTURES

        return PICTURES

    events: tuple[Happening, ...]
    event: Happening | None
    before_days: float
    after_days: float
    by_batch: pd.DataFrame
    ratio: RateRatio | None
    control_ratio: RateRatio | None
    contrast: RatioOfRatios | None
    expected: float | None
    excess: float | None
    excess_low: float | None
    excess_high: float | None
    placebo: Placebo | None
    growth: pd.DataFrame
    timeline: pd.DataFrame
    death_rate: pd.DataFrame
    level: int

    @property
    def found(self) -> bool:
        """Whether an event fell on batches that were watched on both sides of it."""
        return self.ratio is not None

    @property
    def affected(self) -> pd.DataFrame:
        """The affected batches."""
        return self.by_batch[self.by_batch["role"] == "affected"]

    @property
    def controls(self) -> pd.DataFrame:
        """The unaffected batches of the same age."""
        return self.by_batch[self.by_batch["role"] == "control"]

    def table(self) -> pd.DataFrame:
        """Return one row a batch."""
        return self.by_batch.copy()

    def facts(self) -> dict[str, Any]:
        """Return every number of the answer, full precision."""
        e, p = self.event, self.placebo
        facts: dict[str, Any] = {
            "event": e and e.number,
            "what": e and e.what,
            "event_started": e and str(e.started.date()),
            "event_ended": e and str(e.ended.date()),
            "before_days": self.before_days,
            "after_days": self.after_days,
            "n_affected": len(self.affected),
            "n_controls": len(self.controls),
            "claim_level": self.level,
            "expected_deaths": self.expected,
            "excess_deaths": self.excess,
            "excess_low": self.excess_low,
            "excess_high": self.excess_high,
            "placebo_dates": p and p.n_dates,
            "placebo_share": p and p.share,
            "by_batch": self.by_batch.to_dict("records"),
            "growth": self.growth.to_dict("records"),
            "remarks": [r.code for r in self.remarks],
        }
        for name, r in (
            ("rate_ratio", self.ratio),
            ("control_ratio", self.control_ratio),
            ("relative_ratio", self.contrast),
        ):
            facts[name] = r and r.ratio
            facts |= {f"{name}_{k}": r and getattr(r, k) for k in ("conf_low", "conf_high")}
            facts[f"{name}_p_value"] = r and r.p_value
        return facts


def cost_of_interruption(
    log: Logbook,
    *,
    event: int | None = None,
    window_days: float = WINDOW_DAYS,
    before_days: float | None = None,
) -> InterruptionAnswer:
    """Compare the death rate before and after an event, with controls or other dates beside it.

    Parameters
    ----------
    log : Logbook
        The log.
    event : int, optional
        Which event, counted from 1 in the order of the Events sheet (default: the first that
        interrupted feeding, heat, power or water, else the first).
    window_days : float
        The window after runs from the start of the event to so many days after its end. Choose it
        before looking.
    before_days : float, optional
        Length of the window before (default: the same number of days).

    Returns
    -------
    InterruptionAnswer
        Without an event, or with no fry watched on both sides of it, it says so.

    Raises
    ------
    DesignError
        If there is no event of that number, or a window is not above zero.

    Notes
    -----
    Null hypothesis: the death rate a fry-day is the same before and after (changes as in the
    controls, where there are any). Dead fish found on the day the event began count as before.
    Missing fish are not in the rates, since nobody knows when they died. The interval is exact
    if deaths fall independently of each other; in one container they seldom do.
    """
    before = window_days if before_days is None else before_days
    if not (window_days > 0 and before > 0):
        raise DesignError(
            "a window of no days holds no deaths",
            where="window_days",
            todo="Give a number of days above zero.",
        )
    events = happenings(log)
    chosen = _choose(events, event)
    table = _by_batch(log, chosen, before, window_days)
    rates = _rates(table)
    names = list(table.loc[table["role"] == "affected", "batch"])
    placebo = placebo_dates(log, chosen, names, before, window_days) if chosen and names else None
    growth = growth_around(log, chosen, names)
    return InterruptionAnswer(
        log_name=log.name,
        events=events,
        event=chosen,
        before_days=before,
        after_days=window_days,
        by_batch=table,
        placebo=placebo,
        growth=growth,
        timeline=timeline_of(log),
        death_rate=death_rate_of(log),
        level=2 if rates["contrast"] is not None else min(max(len(names) - 1, 0), 1),
        remarks=tuple(_remarks(log, events, chosen, table, growth, before, window_days)),
        **rates,
    )


def _choose(events: tuple[Happening, ...], number: int | None) -> Happening | None:
    if number is not None:
        if not 1 <= number <= len(events):
            raise DesignError(
                f"there is no event {number}; the log has {len(events)}",
                where="event",
                todo="Count from 1 in the order of the Events sheet.",
            )
        return events[number - 1]
    stops = [e for e in events if e.what in INTERRUPTIONS]
    return next(iter([*stops, *events]), None)


COLUMNS = ["batch", "role", "beside", "age"] + [
    f"{name}_{when}"
    for when in ("before", "after")
    for name in ("deaths", "deaths_low", "deaths_high", "missing", "fry_days", "alive")
]


def _by_batch(log: Logbook, event: Happening | None, before: float, after: float) -> pd.DataFrame:
    if event is None:
        return pd.DataFrame(columns=COLUMNS)
    hit = affected(log, event, before, after)
    beside = controls(log, event, hit, before, after) if hit else {}
    fates = fates_by_batch(log)
    rows = []
    for role, members in (
        ("affected", {b: (age, b) for b, age in hit.items()}),
        ("control", beside),
    ):
        for b, (age, other) in members.items():
            early = window(fates[b], age - before, age)
            late = window(fates[b], age, age + event.days + after)
            row: dict[str, object] = {"batch": b, "role": role, "beside": other, "age": age}
            for when, w in (("before", early), ("after", late)):
                row |= {f"{name}_{when}": value for name, value in vars(w).items()}
            rows.append(row)
    return pd.DataFrame(rows, columns=COLUMNS)


def _rates(table: pd.DataFrame) -> dict[str, Any]:
    """Rate ratio of the affected, of the controls, their contrast, and the excess deaths."""
    out: dict[str, Any] = dict.fromkeys(
        ("ratio", "control_ratio", "contrast", "expected", "excess", "excess_low", "excess_high")
    )
    sums = table.groupby("role").sum(numeric_only=True)
    if "affected" not in sums.index:
        return out
    counts = {role: _whole(sums.loc[role]) for role in sums.index}
    hit = counts["affected"]
    out["ratio"] = rate_ratio(*hit)
    base: RateRatio | RatioOfRatios = out["ratio"]
    if "control" in counts:
        out["control_ratio"] = rate_ratio(*counts["control"])
        if counts["control"][0] + counts["control"][2] > 0:
            out["contrast"] = base = ratio_of_ratios(*hit, *counts["control"])
    return out | _excess(
        hit, float(sums.loc["affected", "alive_after"]), base, out["control_ratio"]
    )


def _whole(row: pd.Series) -> tuple[int, float, int, float]:
    """Deaths after, fry-days after, deaths before, fry-days before; deaths as whole fish."""
    return (
        math.floor(float(row["deaths_after"]) + 0.5),
        float(row["fry_days_after"]),
        math.floor(float(row["deaths_before"]) + 0.5),
        float(row["fry_days_before"]),
    )


def _excess(
    hit: tuple[int, float, int, float],
    alive: float,
    base: RateRatio | RatioOfRatios,
    beside: RateRatio | None,
) -> dict[str, float | None]:
    """Deaths after, less what was expected; no more can be expected to die than were alive."""
    dead, time1, early, time0 = hit
    with_controls = beside is not None and isinstance(base, RatioOfRatios)
    change = beside.ratio if beside is not None and with_controls else 1.0
    expected = early / time0 * time1 * change
    if not math.isfinite(expected) or not early:  # nobody died before: no rate to expect by
        return {}
    expected = min(expected, alive)
    low = dead - min(dead / base.conf_low if base.conf_low > 0 else math.inf, alive)
    high = dead - (dead / base.conf_high if math.isfinite(base.conf_high) else 0.0)
    return {
        "expected": expected,
        "excess": dead - expected,
        "excess_low": low if dead else None,
        "excess_high": high if dead else None,
    }


def _remarks(
    log: Logbook,
    events: tuple[Happening, ...],
    event: Happening | None,
    table: pd.DataFrame,
    growth: pd.DataFrame,
    before: float,
    after: float,
) -> Iterator[Remark]:
    """Yield what keeps a change of the death rate from being the cost of the event."""
    if event is None:
        return
    if len(events) > 1:
        yield Remark(code="several_events", values={"n": len(events), "number": event.number})
    hit = table[table["role"] == "affected"]
    if hit.empty:
        return
    yield Remark(code="not_dealt_out")
    yield from _about_controls(log, event, table)
    yield from _about_the_deaths(hit)
    young = hit.loc[hit["age"] - before < FIRST_WEEK, "batch"]
    if len(young):
        yield Remark(code="first_week", values={"batches": list(young)})
    zero = log.batches.set_index("batch")["age_zero"]
    others = tuple(e for e in events if e.number != event.number)
    mixed = [
        b
        for b, age in zip(hit["batch"], hit["age"], strict=True)
        if disturbed(others, b, zero[b], age - before, age + event.days + after)
    ]
    if mixed:
        yield Remark(code="other_events_inside", values={"batches": mixed})
    if growth.empty:
        yield Remark(code="growth_not_measured")


def _about_controls(log: Logbook, event: Happening, table: pd.DataFrame) -> Iterator[Remark]:
    beside = table[table["role"] == "control"]
    if beside.empty:
        yield Remark(code="no_controls")
        return
    zero = log.batches.set_index("batch")["age_zero"]
    apart = [
        b
        for b, age in zip(beside["batch"], beside["age"], strict=True)
        if zero[b] + age * DAY != event.started
    ]
    if apart:
        yield Remark(code="controls_on_other_days", values={"batches": apart})
    if beside["deaths_before"].sum() + beside["deaths_after"].sum() < 0.5:
        yield Remark(code="controls_without_deaths")


def _about_the_deaths(hit: pd.DataFrame) -> Iterator[Remark]:
    shared = hit[[c for c in hit if c.startswith(("deaths_low", "deaths_high"))]].sum()
    loose = (shared["deaths_high_before"] - shared["deaths_low_before"]) + (
        shared["deaths_high_after"] - shared["deaths_low_after"]
    )
    if loose > 1e-6:
        yield Remark(code="deaths_shared", values={"n": float(loose)})
    missing = float(hit["missing_before"].sum() + hit["missing_after"].sum())
    if missing >= 0.5:
        yield Remark(code="missing_around", values={"missing": missing})
    total = float(hit["deaths_after"].sum())
    most = hit.loc[hit["deaths_after"].idxmax()]
    if len(hit) > 1 and total > 0 and most["deaths_after"] > MOST_IN_ONE * total:
        yield Remark(
            code="one_container_holds_most",
            values={"batch": most["batch"], "share": float(most["deaths_after"]) / total},
        )
