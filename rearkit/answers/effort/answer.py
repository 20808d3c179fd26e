"""What did it cost the keeper? Minutes a container and a survivor, with the survivors beside."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import pandas as pd

from rearkit.answers.answer import Answer
from rearkit.answers.effort import tables, words
from rearkit.batch.remark import Remark
from rearkit.design.claims import Claim, claim
from rearkit.design.comparison import Comparison
from rearkit.design.design import Design, find_design
from rearkit.design.downgrades import downgrades_of
from rearkit.design.judging_day import JudgingDay, choose_day
from rearkit.design.layout_remarks import about_the_claim, about_the_day, about_the_looks
from rearkit.design.unit_minutes import NEAR_ZERO, UnitMinutes, unit_minutes
from rearkit.design.unit_survival import follow_batches
from rearkit.errors import DesignError
from rearkit.logbook.logbook import Logbook
from rearkit.words.remarks import SENTENCES

if TYPE_CHECKING:
    from rearkit.pictures.picture import Picture

OLDER_EVERY_HOURS = 2.0  # feeds and water changes every two hours: common practice, no source


@dataclass(frozen=True, kw_only=True)
class OlderWay:
    """What the same days would have taken in the older way.

    Attributes
    ----------
    method : str or None
        The method whose minutes and days these are.
    every_hours : float
        A feed and a water change every so many hours, day and night.
    rounds_a_day : float
        24 over that.
    own_rounds_a_day : float
        Feeds (or visits, where feeds were not written down) a day in this log.
    minutes_a_round : float
        Minutes a feed (or visit) in this log.
    round_is : str
        ``"feed"`` or ``"visit"``.
    minutes : float
        Minutes a container over the same days.
    minutes_per_survivor : float or None
        The same, if as many fry had lived as in this log; None where hardly any did.
    own_minutes, own_minutes_per_survivor : float
        What this log has instead.
    """

    method: str | None
    every_hours: float
    rounds_a_day: float
    own_rounds_a_day: float
    minutes_a_round: float
    round_is: str
    minutes: float
    minutes_per_survivor: float | None
    own_minutes: float
    own_minutes_per_survivor: float | None


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class EffortAnswer(Answer):
    """Minutes a container and a survivor from the landmark to the judging day.

    Attributes
    ----------
    design, day : Design, JudgingDay
        The layout, and the ages between which the work is counted.
    work : UnitMinutes
        One row a unit.
    minutes, alive, per_survivor : Comparison or None
        Tested − usual: minutes a container, fry alive in it, minutes a survivor.
    price : float or None
        Extra minutes for every extra survivor; None unless the difference of survivors is clear
        of zero.
    main : str
        The main outcome that the Trial sheet declares (survival where it declares none).
    claim : Claim
        How far the words may go.
    older : tuple of OlderWay
        The older way, for every method that was timed.
    """

    key: ClassVar[str] = "effort"
    headline_words = staticmethod(words.headline)
    sentences = SENTENCES | words.SENTENCES
    prose_parts = words.PARTS
    table_parts = tables.TABLES

    @classmethod
    def picture_parts(cls) -> Mapping[str, Callable[[EffortAnswer], Picture]]:
        """Return the pictures of this answer by name."""
        from rearkit.answers.effort.pictures import PICTURES

        return PICTURES

    design: Design
    day: JudgingDay
    work: UnitMinutes
    minutes: Comparison | None
    alive: Comparison | None
    per_survivor: Comparison | None
    price: float | None
    main: str
    claim: Claim
    older: tuple[OlderWay, ...]

    @property
    def timed(self) -> bool:
        """Whether any minutes were written down."""
        return bool(self.work.by_unit["minutes"].notna().any())

    @property
    def tested(self) -> bool:
        """Whether minutes were declared as the main outcome, and the planned day has come."""
        return self.main == "minutes" and not self.day.interim

    def table(self) -> pd.DataFrame:
        """Return one row a unit."""
        return self.work.by_unit.drop(columns=["minutes_of_fed", "feeds_timed"])

    def facts(self) -> dict[str, Any]:
        """Return every number of the answer, full precision."""
        facts: dict[str, Any] = {
            "compare": self.design.compare,
            "usual": self.design.usual,
            "tested": self.design.tested,
            "unit": self.design.unit,
            "units_usual": self.design.n_usual,
            "units_tested": self.design.n_tested,
            "landmark": self.day.landmark,
            "day": self.day.day,
            "main_outcome": self.main,
            "claim_level": self.claim.level,
            "downgrades": list(self.claim.downgrades),
            "minutes_per_extra_survivor": self.price,
            "no_minutes": list(self.work.untimed),
            "remarks": [r.code for r in self.remarks],
        }
        for name, c in (
            ("minutes", self.minutes),
            ("alive", self.alive),
            ("minutes_per_survivor", self.per_survivor),
        ):
            facts |= _comparison_facts(name, c)
        facts["p_value"] = self.minutes.p_value if self.minutes and self.tested else None
        facts["p_min"] = self.design.p_min
        facts["older_way"] = [vars(o) for o in self.older]
        facts["by_unit"] = self.table().drop(columns="tested").to_dict("records")
        return facts


def _comparison_facts(name: str, c: Comparison | None) -> dict[str, Any]:
    return {
        f"{name}_usual": c and c.mean_usual,
        f"{name}_tested": c and c.mean_tested,
        f"{name}_difference": c and c.estimate,
        f"{name}_conf_low": c and c.conf_low,
        f"{name}_conf_high": c and c.conf_high,
    }


def compare_effort(
    log: Logbook,
    *,
    compare: str | None = None,
    usual: str | None = None,
    tested: str | None = None,
    day: float | None = None,
    older_every_hours: float = OLDER_EVERY_HOURS,
    earlier_looks: int = 0,
    seed: int = 20_260,
) -> EffortAnswer:
    """Compare the minutes that two methods took, a container and a survivor.

    Parameters
    ----------
    log : Logbook
        The log; minutes are those of the Daily sheet.
    compare, usual, tested : str, optional
        The Batches column that tells methods apart and its two values (default: Trial sheet).
    day : float, optional
        Age in days up to which work is counted (default: the judging day).
    older_every_hours : float
        The older way to compare with: a feed and a water change every so many hours.
    earlier_looks, seed : int
        As in ``compare_survival``.

    Returns
    -------
    EffortAnswer
        The answer; without minutes it says so.

    Raises
    ------
    DesignError
        If a column or value is not in the log, or the hours are not above zero.

    Notes
    -----
    Work is counted from the first age at which all compared batches were watched, so a method is
    not charged for days on which the other had not begun. Visits without minutes are not guessed.
    A p value is given only if minutes are the declared main outcome.
    """
    if not older_every_hours > 0:
        raise DesignError(
            f"a round every {older_every_hours:g} hours is no round",
            where="older_every_hours",
            todo="Give a number of hours above zero.",
        )
    design = find_design(log, compare=compare, usual=usual, tested=tested)
    chosen = choose_day(log, design, day)
    design = design.restricted(chosen.reached, reason="never_counted")
    if design.units.empty:
        raise DesignError(
            f"no unit was watched from age {chosen.landmark:g} to {chosen.day:g} days",
            todo="Choose an earlier day.",
        )
    by_batch = follow_batches(log, design, chosen, seed)
    work = unit_minutes(log, design, chosen, by_batch)
    minutes = work.compared(design, "minutes")
    alive = work.compared(design, "alive") if minutes is not None else None
    main = str(log.trial.get("main_outcome") or "survival")
    level = claim(design, downgrades_of(log, design, chosen, earlier_looks), interim=chosen.interim)
    price = _price(minutes, alive)
    remarks = [] if minutes is None else list(about_the_claim(design, minutes, level))
    remarks += [*design.remarks, *about_the_day(log, design, chosen)]
    remarks += about_the_looks(log, design, chosen, earlier_looks)
    return EffortAnswer(
        log_name=log.name,
        design=design,
        day=chosen,
        work=work,
        minutes=minutes,
        alive=alive,
        per_survivor=work.compared(design, "minutes_per_survivor"),
        price=price,
        main=main,
        claim=level,
        older=_older(work, older_every_hours),
        remarks=(*_about_the_work(work, minutes, price, main), *remarks),
    )


def _about_the_work(
    work: UnitMinutes, minutes: Comparison | None, price: float | None, main: str
) -> Iterator[Remark]:
    if work.untimed:
        yield Remark(code="no_minutes", values={"units": list(work.untimed)})
    if work.partly:
        yield Remark(
            code="minutes_partly",
            values={"units": list(work.partly), "share": min(work.partly.values())},
        )
    if work.hollow:
        yield Remark(code="too_few_survivors", values={"units": list(work.hollow)})
    if minutes is None:
        return
    if price is None:
        yield Remark(code="no_price")
    if main != "minutes":
        yield Remark(code="minutes_beside_main", values={"main": main})


def _price(minutes: Comparison | None, alive: Comparison | None) -> float | None:
    """Extra minutes over extra survivors, where the latter are clear of zero."""
    if minutes is None or alive is None or alive.conf_low is None or alive.conf_high is None:
        return None
    clear = alive.conf_low > 0 or alive.conf_high < 0
    return minutes.estimate / alive.estimate if clear else None


def _older(work: UnitMinutes, every_hours: float) -> tuple[OlderWay, ...]:
    """Work out the older way for every method, at that method's own minutes a round."""
    timed = work.by_unit[work.by_unit["minutes"].notna() & (work.by_unit["days"] > 0)]
    return tuple(
        _older_way(timed[timed["tested"] == t], every_hours)
        for t in (False, True)
        if (timed["tested"] == t).any()
    )


def _older_way(table: pd.DataFrame, every_hours: float) -> OlderWay:
    n = table["containers"]
    days, total = float((table["days"] * n).sum()), float((table["minutes"] * n).sum())
    alive, feeds = float((table["alive"] * n).sum()), float((table["feeds"] * n).sum())
    fed, visits = float(table["feeds_timed"].sum()), float(table["visits_timed"].sum())
    a_round = float(table["minutes_of_fed"].sum()) / fed if fed > 0 else total / visits
    in_all = days * 24.0 / every_hours * a_round
    enough = alive >= NEAR_ZERO * float(n.sum())
    return OlderWay(
        method=table["method"].iloc[0],
        every_hours=every_hours,
        rounds_a_day=24.0 / every_hours,
        own_rounds_a_day=(feeds if fed > 0 else visits) / days,
        minutes_a_round=a_round,
        round_is="feed" if fed > 0 else "visit",
        minutes=in_all / float(n.sum()),
        minutes_per_survivor=in_all / alive if enough else None,
        own_minutes=total / float(n.sum()),
        own_minutes_per_survivor=total / alive if enough else None,
    )
