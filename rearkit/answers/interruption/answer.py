"""What did an interruption cost? Deaths before and after, beside others at the same ages."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
import pandas as pd

from rearkit.answers.answer import Answer
from rearkit.answers.interruption import tables, words
from rearkit.answers.interruption.before_and_after import (
    INTERRUPTIONS,
    NEAR,
    Brood,
    Happening,
    Passage,
    broods_of,
    growth_around,
    happenings,
    hit_by,
    others_at,
    overlaps,
)
from rearkit.answers.interruption.timeline import death_rate_of, timeline_of
from rearkit.answers.interruption.verdict import Verdict, judge_event, sides_of
from rearkit.batch.remark import Remark
from rearkit.errors import DesignError
from rearkit.logbook.logbook import Logbook
from rearkit.words.remarks import SENTENCES

if TYPE_CHECKING:
    from rearkit.pictures.picture import Picture

WINDOW_DAYS = 5.0
FIRST_WEEK = 7.0  # losses are said to be heaviest in it: common practice, no source
MOST_IN_ONE = 0.5  # one container with a larger share of the deaths is named


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class InterruptionAnswer(Answer):
    """Deaths around every event of a log, each batch for itself, and a verdict on one of them.

    Attributes
    ----------
    events : tuple of Happening
        All events of the log; rows of one event are joined.
    event : Happening or None
        The one that the headline is about; None if there is none.
    before_days, after_days : float
        Lengths of the windows; the one after runs from the start of the event to so many days
        after its end.
    by_event : DataFrame
        One row an event and batch that it fell on: age, deaths, fry-days, deaths a day per 100
        fry before and after, and the mean of the others at the same ages.
    by_batch : DataFrame
        The batches of the event asked about, ``affected`` at their own age and ``control`` over
        the ages of those that they stand beside.
    verdict : Verdict or None
        The test over containers; None where there are too few, so that all is told only.
    expected : float or None
        Deaths after, had those it fell on lost as many as the others at their ages; None where
        one of them has no others.
    growth : DataFrame
        Growth a day before, across and after.
    timeline : DataFrame
        Everything that happened.
    death_rate : DataFrame
        Deaths found for every 100 fry, day by day, all batches together.
    level : int
        0 one container, 1 several, 2 tested beside others of the same ages. No lot was drawn, so
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
    by_event: pd.DataFrame
    by_batch: pd.DataFrame
    verdict: Verdict | None
    expected: float | None
    growth: pd.DataFrame
    timeline: pd.DataFrame
    death_rate: pd.DataFrame
    level: int

    @property
    def found(self) -> bool:
        """Whether the event fell on batches that were watched on both sides of it."""
        return len(self.affected) > 0

    @property
    def affected(self) -> pd.DataFrame:
        """The batches it fell on."""
        return self.by_batch[self.by_batch["role"] == "affected"]

    @property
    def controls(self) -> pd.DataFrame:
        """The batches of the same ages that it did not fall on."""
        return self.by_batch[self.by_batch["role"] == "control"]

    def table(self) -> pd.DataFrame:
        """Return one row an event and batch."""
        return self.by_event.copy()

    def facts(self) -> dict[str, Any]:
        """Return every number of the answer, full precision."""
        e, v = self.event, self.verdict
        hit = self.affected
        return {
            "event": e and e.number,
            "what": e and e.what,
            "event_started": e and str(e.started.date()),
            "event_ended": e and str(e.ended.date()),
            "n_events": len(self.events),
            "before_days": self.before_days,
            "after_days": self.after_days,
            "n_affected": len(hit),
            "n_controls": len(self.controls),
            "deaths_before": float(hit["deaths_before"].sum()),
            "deaths_after": float(hit["deaths_after"].sum()),
            "per_100_before": words.pooled(hit, "before"),
            "per_100_after": words.pooled(hit, "after"),
            "expected_deaths": self.expected,
            "claim_level": self.level,
            "units_hit": v and v.n_hit,
            "units_beside": v and v.n_beside,
            "relative_ratio": v and v.ratio,
            "conf_low": v and v.conf_low,
            "conf_high": v and v.conf_high,
            "p_value": v and v.p_value,
            "p_method": v and v.p_method,
            "by_event": self.by_event.to_dict("records"),
            "by_batch": self.by_batch.to_dict("records"),
            "growth": self.growth.to_dict("records"),
            "remarks": [r.code for r in self.remarks],
        }


def cost_of_interruption(
    log: Logbook,
    *,
    event: int | None = None,
    window_days: float = WINDOW_DAYS,
    before_days: float | None = None,
) -> InterruptionAnswer:
    """Tell deaths before and after every event, beside other batches at the same ages.

    Parameters
    ----------
    log : Logbook
        The log.
    event : int, optional
        Which event the headline is about: a row of the Events sheet, counted from 1 (default: the
        earliest that interrupted feeding, heat, power or water while fry were watched, else the
        earliest).
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
    Deaths fall with age by themselves and come in outbreaks, so nothing is judged by counting
    fish: a verdict needs four clutches that were hit and four that passed all the same ages and
    were not (see ``judge_event``). Everything else is told. Dead fish found on the day the event
    began count as before. Missing fish are not in the rates, since nobody knows when they died.
    Fry that were moved stay one batch. The event is chosen by its kind and date, never by what
    came of it.
    """
    before = window_days if before_days is None else before_days
    if not (window_days > 0 and before > 0):
        raise DesignError(
            "a window of no days holds no deaths",
            where="window_days",
            todo="Give a number of days above zero.",
        )
    events, broods = happenings(log), broods_of(log)
    around = {e.number: _around(e, events, broods, before, window_days) for e in events}
    chosen = _choose(events, event, around, len(log.events))
    hit, beside = around[chosen.number] if chosen is not None else ({}, {})
    by_batch = _by_batch(hit, beside)
    growth = growth_around(log, chosen, list(hit))
    verdict = judge_event(log, hit, beside)
    return InterruptionAnswer(
        log_name=log.name,
        events=events,
        event=chosen,
        before_days=before,
        after_days=window_days,
        by_event=_by_event(events, around),
        by_batch=by_batch,
        verdict=verdict,
        expected=_expected(hit, beside),
        growth=growth,
        timeline=timeline_of(log),
        death_rate=death_rate_of(log),
        level=2 if verdict is not None else min(max(len(hit) - 1, 0), 1),
        remarks=tuple(
            _remarks(log, events, chosen, (hit, beside), by_batch, broods, growth, verdict)
        ),
    )


Beside = Mapping[str, Mapping[str, Passage]]
Around = tuple[Mapping[str, Passage], Beside]


def _around(
    event: Happening,
    events: tuple[Happening, ...],
    broods: Mapping[str, Brood],
    before: float,
    after: float,
) -> Around:
    """Return the broods an event fell on, and for each the others at its ages."""
    hit = hit_by(event, broods, before, after)
    beside = {
        name: others_at(p.age, p.brood.clock, event, events, broods, p.before_days, after)
        for name, p in hit.items()
    }
    return hit, beside


def _choose(
    events: tuple[Happening, ...],
    number: int | None,
    around: Mapping[int, Around],
    n_rows: int,
) -> Happening | None:
    if number is not None:
        found = next((e for e in events if number in e.numbers), None)
        if found is None:
            raise DesignError(
                f"there is no event {number}; the log has {n_rows}",
                where="event",
                todo="Count from 1 in the order of the Events sheet.",
            )
        return found

    def order(e: Happening) -> tuple[object, ...]:
        unwatched, minor = not around[e.number][0], e.what not in INTERRUPTIONS
        return (unwatched, minor, e.started, e.ended, str(e.what))

    return min(events, key=order, default=None)


EVENT_COLUMNS = ["event", "what", "started", "batch", "age"] + [
    f"{name}_{when}"
    for when in ("before", "after")
    for name in ("deaths", "fry_days", "per_100", "beside_per_100")
]


def _by_event(events: tuple[Happening, ...], around: Mapping[int, Around]) -> pd.DataFrame:
    rows = []
    for e in events:
        hit, beside = around[e.number]
        for name, p in hit.items():
            row: dict[str, object] = {
                "event": e.number,
                "what": e.what,
                "started": e.started,
                "batch": name,
                "age": p.age,
                "n_beside": len(beside[name]),
            }
            for when in ("before", "after"):
                w = getattr(p, when)
                row |= {
                    f"deaths_{when}": w.deaths,
                    f"fry_days_{when}": w.fry_days,
                    f"per_100_{when}": w.per_100,
                    f"beside_per_100_{when}": _mean_rate(beside[name].values(), when),
                }
            rows.append(row)
    return pd.DataFrame(rows, columns=[*EVENT_COLUMNS, "n_beside"])


def _mean_rate(passages: Any, when: str) -> float:
    rates = [getattr(p, when).per_100 for p in passages]
    return float(np.mean(rates)) if rates else float("nan")


BATCH_COLUMNS = ["batch", "role", "age"] + [
    f"{name}_{when}"
    for when in ("before", "after")
    for name in ("deaths", "deaths_low", "deaths_high", "missing", "fry_days", "per_100")
]


def _by_batch(hit: Mapping[str, Passage], beside: Beside) -> pd.DataFrame:
    """One row a brood; those beside are the mean over the ages that they stand for."""
    others = sorted({n for passed in beside.values() for n in passed})
    rows = [_row(name, "affected", [p]) for name, p in hit.items()]
    rows += [
        _row(n, "control", [passed[n] for passed in beside.values() if n in passed]) for n in others
    ]
    return pd.DataFrame(rows, columns=BATCH_COLUMNS)


def _row(name: str, role: str, passages: list[Passage]) -> dict[str, object]:
    ages = [p.age for p in passages]
    row: dict[str, object] = {"batch": name, "role": role, "age": float(np.mean(ages))}
    for when in ("before", "after"):
        windows = [getattr(p, when) for p in passages]
        for key in ("deaths", "deaths_low", "deaths_high", "missing", "fry_days", "per_100"):
            row[f"{key}_{when}"] = float(np.mean([getattr(w, key) for w in windows]))
    return row


def _expected(hit: Mapping[str, Passage], beside: Beside) -> float | None:
    """Deaths after, had every brood lost as many of 100 a day as the others at its ages."""
    if not hit or not all(beside[name] for name in hit):
        return None
    rates = {name: _mean_rate(beside[name].values(), "after") for name in hit}
    return float(sum(rates[name] * p.after.fry_days / 100.0 for name, p in hit.items()))


def _remarks(
    log: Logbook,
    events: tuple[Happening, ...],
    event: Happening | None,
    around: Around,
    by_batch: pd.DataFrame,
    broods: Mapping[str, Brood],
    growth: pd.DataFrame,
    verdict: Verdict | None,
) -> Iterator[Remark]:
    """Yield what keeps a change of the death rate from being the cost of the event."""
    if event is None:
        return
    hit, beside = around
    if not hit:
        yield from _unrecorded(log, event, broods)
        return
    yield from _about_the_verdict(hit, beside, verdict)
    yield Remark(code="not_dealt_out")
    yield from _about_controls(event, hit, beside)
    yield from _about_the_deaths(by_batch[by_batch["role"] == "affected"])
    young = [n for n, p in hit.items() if _start(p) < FIRST_WEEK]
    if young:
        yield Remark(code="first_week", values={"batches": young})
    others = [e for e in events if e.number != event.number and e.what in INTERRUPTIONS]
    mixed = [
        n for n, p in hit.items() if any(overlaps(e, p.brood, _start(p), _end(p)) for e in others)
    ]
    if mixed:
        yield Remark(code="other_events_inside", values={"batches": mixed})
    yield from _unrecorded(log, event, broods)
    if len(events) > 1:
        yield Remark(code="several_events", values={"n": len(events), "number": event.number})
    if growth.empty:
        yield Remark(code="growth_not_measured")


def _start(p: Passage) -> float:
    return p.age - p.before_days


def _end(p: Passage) -> float:
    return p.age + p.after_days


def _about_the_verdict(
    hit: Mapping[str, Passage], beside: Beside, verdict: Verdict | None
) -> Iterator[Remark]:
    if verdict is None:
        sides = sides_of(hit, beside)
        counts = {"n_hit": len(sides[True]), "n_beside": len(sides[False])}
        yield Remark(code="told_not_tested", values=counts)
    elif verdict.settled_by_bodies and not verdict.settled:
        yield Remark(code="other_reading")


def _about_controls(
    event: Happening, hit: Mapping[str, Passage], beside: Beside
) -> Iterator[Remark]:
    alone = [n for n in hit if not beside[n]]
    if len(alone) == len(hit):
        yield Remark(code="no_controls", variant="all")
        return
    if alone:
        yield Remark(code="no_controls", values={"batches": alone}, variant="some")
    passed = [(n, p) for ps in beside.values() for n, p in ps.items()]
    apart = sorted({n for n, p in passed if abs(p.brood.age_on(event.started) - p.age) > NEAR})
    if apart:
        yield Remark(code="controls_on_other_days", values={"batches": apart})
    if sum(p.before.deaths + p.after.deaths for _, p in passed) < 0.5:
        yield Remark(code="controls_without_deaths")


def _unrecorded(log: Logbook, event: Happening, broods: Mapping[str, Brood]) -> Iterator[Remark]:
    """Yield the batches that ran when it happened and of which no dead were written down."""
    known = {b for brood in broods.values() for b in brood.batches}
    silent = [
        str(b.batch)
        for b in log.batches.itertuples(index=False)
        if b.batch not in known
        and (event.everywhere or b.batch in event.batches)
        and pd.notna(b.started)
        and b.started <= event.ended
        and (pd.isna(b.ended) or b.ended >= event.started)
    ]
    if silent:
        yield Remark(code="no_dead_written", values={"batches": silent})


def _about_the_deaths(hit: pd.DataFrame) -> Iterator[Remark]:
    loose = sum(
        float((hit[f"deaths_high_{w}"] - hit[f"deaths_low_{w}"]).sum()) for w in ("before", "after")
    )
    if loose > 1e-6:
        yield Remark(code="deaths_shared", values={"n": loose})
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
