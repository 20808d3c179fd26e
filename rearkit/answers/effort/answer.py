"""What did it cost the keeper? Minutes a container and a survivor, with the survivors beside."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import pandas as pd

from rearkit.answers.answer import Answer
from rearkit.answers.effort import tables, words
from rearkit.batch.remark import Remark
from rearkit.design.claims import Claim, beside_survival, claim
from rearkit.design.comparison import Comparison, compare_units
from rearkit.design.design import Design, find_design
from rearkit.design.downgrades import downgrades_of
from rearkit.design.judging_day import JudgingDay, choose_day
from rearkit.design.layout_remarks import about_the_claim, about_the_day, about_the_looks
from rearkit.design.readings import agree
from rearkit.design.too_few import TooFew, too_few
from rearkit.design.unit_minutes import UnitMinutes, unit_minutes
from rearkit.design.unit_survival import follow_batches
from rearkit.design.ways import weigh_survival, without_verdict
from rearkit.errors import DesignError
from rearkit.logbook.logbook import Logbook
from rearkit.words.remarks import SENTENCES

if TYPE_CHECKING:
    from rearkit.pictures.picture import Picture

HAND_FED = 1.0  # feeds a day; fry that were fed less often were not reared by hand


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
    own_feeds_a_day : float
        Feeds a day in this log.
    minutes_a_feed : float
        Minutes a feed in this log, over the visits that were timed and fed.
    minutes : float
        Minutes a container over the same days.
    own_minutes : float
        What this log has instead.
    """

    method: str | None
    every_hours: float
    rounds_a_day: float
    own_feeds_a_day: float
    minutes_a_feed: float
    minutes: float
    own_minutes: float


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
        Tested − usual: minutes a container, fry alive in it, minutes a survivor. That of the fry
        alive stands beside the others, without p and interval.
    survival : Comparison or None
        Survival, judged as in its own answer.
    small : TooFew or None
        How far chance reaches, where there are too few units to test; minutes.
    price : float or None
        Extra minutes for every extra survivor; None unless survival is settled.
    main : str
        The main outcome that the Trial sheet declares (survival where it declares none).
    claim : Claim
        How far the words may go.
    older : tuple of OlderWay
        The older way, for every method whose feeds were timed; empty unless it was asked for.
    not_older : tuple of str
        Methods that it is not compared with, such as broods left with their parents: no feed of
        theirs was timed, or there was fewer than one a day.
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
    survival: Comparison | None
    small: TooFew | None
    price: float | None
    main: str
    claim: Claim
    older: tuple[OlderWay, ...]
    not_older: tuple[str, ...]

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
            "interim": self.day.interim,
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
        facts["readings"] = [r.facts() for r in self.minutes.readings] if self.minutes else []
        if self.small is not None:
            facts |= {f"small_{name}": value for name, value in vars(self.small).items()}
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
    older_every_hours: float | None = None,
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
    older_every_hours : float, optional
        The older way to compare with: a feed and a water change every so many hours (default: it
        is not compared with).
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
    A p value is given only if minutes are the declared main outcome. Where the readings of the log
    do not agree on survival, nothing above an association is claimed of the work.
    """
    if older_every_hours is not None and not older_every_hours > 0:
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
    minutes, timed = work.minutes, work.design
    alive = None
    if minutes is not None:
        alive = without_verdict(compare_units(timed, work.by_unit.set_index("unit")["alive"]))
    survival = weigh_survival(log, design, chosen, by_batch, seed)
    main = str(log.trial.get("main_outcome") or "survival")
    level = beside_survival(
        claim(
            timed,
            downgrades_of(log, timed, chosen, earlier_looks),
            readings=() if minutes is None else minutes.readings,
            interim=chosen.interim,
        ),
        survival,
    )
    price = _price(minutes, alive, survival)
    older, not_older = _older(work, older_every_hours)
    remarks = [] if minutes is None else list(about_the_claim(timed, minutes, level))
    remarks += _about_survival(minutes, survival)
    remarks += [*timed.remarks, *about_the_day(log, design, chosen)]
    remarks += about_the_looks(log, design, chosen, earlier_looks)
    return EffortAnswer(
        log_name=log.name,
        design=timed if minutes is not None else design,
        day=chosen,
        work=work,
        minutes=minutes,
        alive=alive,
        per_survivor=work.per_survivor,
        survival=survival,
        small=_small(timed, work) if minutes is not None else None,
        price=price,
        main=main,
        claim=level,
        older=older,
        not_older=not_older,
        remarks=(*remarks, *_about_the_work(work, minutes, price, main)),
    )


def _small(design: Design, work: UnitMinutes) -> TooFew | None:
    if design.tier not in ("one", "few"):
        return None
    return too_few(design, work.by_unit.set_index("unit")["minutes"])


def _about_survival(minutes: Comparison | None, survival: Comparison | None) -> Iterator[Remark]:
    """Yield that survival, which the work stands beside, can be read in ways that differ."""
    if minutes is not None and survival is not None and not agree(survival.readings):
        yield Remark(code="survival_not_alike")


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


def _price(
    minutes: Comparison | None, alive: Comparison | None, survival: Comparison | None
) -> float | None:
    """Extra minutes over extra survivors, where survival is settled in that direction."""
    if minutes is None or alive is None or survival is None or not survival.settled:
        return None
    return minutes.estimate / alive.estimate if alive.estimate * survival.estimate > 0 else None


def _older(
    work: UnitMinutes, every_hours: float | None
) -> tuple[tuple[OlderWay, ...], tuple[str, ...]]:
    """Work out the older way for the methods that were fed by hand and timed; name the others."""
    if every_hours is None:
        return (), ()
    table = work.by_unit
    found, others = [], []
    for tested in (False, True):
        arm = table[table["tested"] == tested]
        timed = arm[(arm["feeds_timed"] > 0) & arm["minutes"].notna() & (arm["days"] > 0)]
        if len(timed) and float((timed["feeds"] / timed["days"]).mean()) >= HAND_FED:
            own = _own_minutes(work, timed, tested)
            found.append(_older_way(timed, every_hours, own))
        elif len(arm):
            others.append(str(arm["method"].iloc[0] or "this log"))
    return tuple(found), tuple(others)


def _own_minutes(work: UnitMinutes, timed: pd.DataFrame, tested: bool) -> float:
    """Return the minutes of a container as they are compared; their mean where nothing is."""
    if work.minutes is None:
        return float(timed["minutes"].mean())
    return work.minutes.mean_tested if tested else work.minutes.mean_usual


def _older_way(table: pd.DataFrame, every_hours: float, own: float) -> OlderWay:
    a_feed = float(table["minutes_of_fed"].sum() / table["feeds_timed"].sum())
    days = float(table["days"].mean())
    return OlderWay(
        method=table["method"].iloc[0],
        every_hours=every_hours,
        rounds_a_day=24.0 / every_hours,
        own_feeds_a_day=float((table["feeds"] / table["days"]).mean()),
        minutes_a_feed=a_feed,
        minutes=days * 24.0 / every_hours * a_feed,
        own_minutes=own,
    )
