"""When does a batch need a bigger container? Two limits, and which of them binds first."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
import pandas as pd

from rearkit.answers.answer import Answer
from rearkit.answers.moving import tables, words
from rearkit.answers.moving.outgrown import (
    FEWEST_CONTAINERS,
    WINDOW_LEVEL,
    Crowding,
    SizeWindow,
    crowding_of,
    free_containers,
    share_out,
    size_window,
)
from rearkit.batch.growth import ContainerCurves, grow_containers
from rearkit.batch.lengths import MeasuredLengths, measured_lengths
from rearkit.batch.remark import Remark
from rearkit.errors import DesignError
from rearkit.logbook.account.ages import DAY
from rearkit.logbook.logbook import Logbook
from rearkit.words.remarks import SENTENCES

if TYPE_CHECKING:
    from rearkit.pictures.picture import Picture


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class MovingAnswer(Answer):
    """When each limit is reached in every batch.

    Attributes
    ----------
    as_of : Timestamp
        The last date of the log: what the log knows, it knows up to then.
    size_to_move_mm, most_fish_per_litre : float or None
        The two limits.
    measured, curves
        What was measured, and the curves of all containers.
    sizes : dict of SizeWindow
        When the smallest tenth of every batch reaches the size.
    crowding : dict of Crowding
        Fish per litre of every batch.
    by_batch : DataFrame
        One row a batch; running batches first, most urgent first.
    free : DataFrame
        Containers that stand free.
    plan : list of dict
        Which running batch could go where.
    """

    key: ClassVar[str] = "moving"
    headline_words = staticmethod(words.headline)
    sentences = SENTENCES | words.SENTENCES
    prose_parts = words.PARTS
    table_parts = tables.TABLES

    @classmethod
    def picture_parts(cls) -> Mapping[str, Callable[[MovingAnswer], Picture]]:
        """Return the pictures of this answer by name."""
        from rearkit.answers.moving.pictures import PICTURES

        return PICTURES

    as_of: pd.Timestamp
    size_to_move_mm: float | None
    most_fish_per_litre: float | None
    measured: MeasuredLengths
    curves: ContainerCurves
    sizes: dict[str, SizeWindow]
    crowding: dict[str, Crowding]
    by_batch: pd.DataFrame
    free: pd.DataFrame
    plan: list[dict[str, Any]]

    @property
    def running(self) -> pd.DataFrame:
        """Rows of the batches that have not ended."""
        return self.by_batch[self.by_batch["running"]]

    def table(self) -> pd.DataFrame:
        """Return one row a batch."""
        return self.by_batch.copy()

    def facts(self) -> dict[str, Any]:
        """Return every number of the answer, full precision."""
        return {
            "as_of": self.as_of,
            "size_to_move_mm": self.size_to_move_mm,
            "most_fish_per_litre": self.most_fish_per_litre,
            "window_level": WINDOW_LEVEL,
            "curve": self.curves.curve,
            "n_running": len(self.running),
            "binds": dict(zip(self.running["batch"], self.running["binds"], strict=True)),
            "by_batch": self.by_batch.to_dict("records"),
            "free": self.free.to_dict("records"),
            "plan": self.plan,
            "remarks": [r.code for r in self.remarks],
        }


def when_to_move(
    log: Logbook,
    *,
    size_to_move_mm: float | None = None,
    most_fish_per_litre: float | None = None,
    free_litres: str | None = None,
    curve: str | None = None,
    adult_length_mm: float | None = None,
) -> MovingAnswer:
    """Find when every batch reaches the size, or the crowding, at which it should be moved.

    Parameters
    ----------
    log : Logbook
        The log.
    size_to_move_mm : float, optional
        Length in mm that the smallest tenth of the fish should have (default: Trial sheet).
    most_fish_per_litre : float, optional
        The most fish a litre (default: Trial sheet).
    free_litres : str, optional
        Litres of the containers that are free, such as ``"40, 60"`` (default: those of the log
        whose batches have all ended).
    curve, adult_length_mm
        As for ``compare_growth``.

    Returns
    -------
    MovingAnswer
        Batches that have ended are shown too: when they would have had to move.

    Raises
    ------
    DesignError
        If a limit cannot be one, or no batch can be used.

    Notes
    -----
    Dates beyond the measured days are extrapolated, and none is given further ahead than half
    the measured days are long.
    """
    batches = log.batches[~log.batches["stopped"].astype(bool)]
    if batches.empty:
        raise DesignError(
            "no batch of this log can be analysed",
            where="Batches",
            todo="Run the check and settle what stopped them.",
        )
    size = _limit(log, "size_to_move_mm", size_to_move_mm)
    most = _limit(log, "most_fish_per_litre", most_fish_per_litre)
    measured = measured_lengths(log, batches["batch"])
    curves = grow_containers(measured, curve=curve, adult_length_mm=adult_length_mm)
    names = [b for b in batches["batch"] if b in set(log.account["batch"])]
    sizes = {b: size_window(b, curves, size, level=WINDOW_LEVEL) for b in names}
    litres = batches.set_index("batch")["litres"].astype(float)
    crowding = {
        b: crowding_of(log, b, litres=float(litres.at[b]), most_fish_per_litre=most) for b in names
    }
    table = _table(log, names, sizes, crowding)
    free = free_containers(log, free_litres)
    waiting = table[table["running"] & (table["binds"] != "none")]
    answer = MovingAnswer(
        log_name=log.name,
        as_of=_last_date(log),
        size_to_move_mm=size,
        most_fish_per_litre=most,
        measured=measured,
        curves=curves,
        sizes=sizes,
        crowding=crowding,
        by_batch=table,
        free=free,
        plan=share_out(
            waiting.rename(columns={"alive_best": "alive"}).to_dict("records"), free, most
        ),
    )
    return replace(answer, remarks=tuple(_remarks(answer)))


def _limit(log: Logbook, name: str, asked: float | None) -> float | None:
    value = asked if asked is not None else log.trial.get(name)
    if value is None:
        return None
    number = float(str(value))
    if not (math.isfinite(number) and number > 0):
        raise DesignError(
            f"{number:g} cannot be a limit", where=f"setting {name}", todo="Give one above 0."
        )
    return number


def _last_date(log: Logbook) -> pd.Timestamp:
    dates = [log.daily["date"], log.sizes["date"], log.batches["started"], log.batches["ended"]]
    return pd.Timestamp(pd.concat([d for d in dates if len(d)]).max())


def _table(
    log: Logbook,
    names: list[str],
    sizes: dict[str, SizeWindow],
    crowding: dict[str, Crowding],
) -> pd.DataFrame:
    info = log.batches.set_index("batch")
    last = log.account.set_index("batch")["age_last"]
    rows = []
    for b in names:
        size, room = sizes[b], crowding[b]
        zero = info.at[b, "age_zero"]
        ended = not pd.isna(info.at[b, "ended"])
        binds, first = _binds(size, room, ended=ended)
        dated = size.state in ("reached", "ahead")
        rows.append(
            {
                "batch": b,
                "method": info.at[b, "method"],
                "container": info.at[b, "container"],
                "running": not ended and room.alive_high > 0,
                "age_now": float(last.at[b]),
                "alive_low": room.alive_low,
                "alive_best": room.alive_best,
                "alive_high": room.alive_high,
                "litres": room.litres,
                "fish_per_litre": room.per_litre,
                "fish_per_litre_low": room.per_litre_low,
                "fish_per_litre_high": room.per_litre_high,
                "crowding": room.state,
                "crowded_since_day": room.since_day,
                "crowded_since": _date(zero, room.since_day),
                "crowded_until_day": room.until_day,
                "falls_below_day": room.falls_below_day,
                "falls_below": _date(zero, room.falls_below_day),
                "size": size.state,
                "length_now": size.length_now,
                "tenth_now": size.tenth_now,
                "last_measured_day": size.last_day,
                "cv": size.cv,
                "cv_from": size.cv_from,
                "mean_needed_mm": size.mean_needed_mm,
                "size_day": size.day,
                "size_day_low": size.low,
                "size_day_high": size.high,
                "size_date": _date(zero, size.day if dated else math.nan),
                "size_date_low": _date(zero, size.low),
                "size_date_high": _date(zero, size.high),
                "extrapolated": size.extrapolated,
                "spread_containers": size.n_containers,
                "binds": binds,
                "first_day": first,
                "first_date": _date(zero, first),
            }
        )
    table = pd.DataFrame(rows)
    urgent = table["first_date"].fillna(pd.Timestamp.max.normalize())
    table = table.assign(late_=~table["running"], urgent_=urgent)
    table = table.sort_values(["late_", "urgent_"], kind="stable", ignore_index=True)
    return table.drop(columns=["late_", "urgent_"])


def _binds(size: SizeWindow, room: Crowding, *, ended: bool) -> tuple[str, float]:
    """Return which limit comes first, and at what age; one of the past binds no running batch."""
    reached: dict[str, float] = {}
    if size.state in ("reached", "ahead"):
        reached["size"] = size.day if np.isfinite(size.day) else size.last_day
    if room.state == "over" or (ended and room.state == "was_over"):
        reached["crowding"] = room.since_day
    if not reached:
        return "none", math.nan
    first = min(reached, key=lambda name: reached[name])
    return first, reached[first]


def _date(zero: pd.Timestamp, day: float) -> pd.Timestamp:
    """Return the date of an age, to the day; missing where there is no such age."""
    if not np.isfinite(day) or pd.isna(zero) or abs(day) > 36_500:
        return pd.NaT
    return pd.Timestamp(zero) + round(day) * DAY


def _remarks(answer: MovingAnswer) -> Iterator[Remark]:
    table = answer.running if len(answer.running) else answer.by_batch
    if answer.size_to_move_mm is None:
        yield Remark(code="no_size_limit")
    if answer.most_fish_per_litre is None:
        yield Remark(code="no_crowd_limit")
    for state in ("no_lengths", "no_curve", "never", "far"):
        batches = table.loc[table["size"] == state, "batch"].tolist()
        if batches:
            yield Remark(
                code=f"moving_{state}",
                values={"batches": batches, "size": answer.size_to_move_mm},
            )
    no_litres = table.loc[table["crowding"] == "no_litres", "batch"].tolist()
    if no_litres and answer.most_fish_per_litre is not None:
        yield Remark(code="moving_no_litres", values={"batches": no_litres})
    ahead = table[table["extrapolated"] & (table["size"] == "ahead")]
    if len(ahead):
        going_on = "" if len(answer.running) else "_ended"
        values = {"batches": ahead["batch"].tolist()}
        yield Remark(code=f"moving_extrapolated{going_on}", values=values)
    if (ahead["spread_containers"] < FEWEST_CONTAINERS).any():
        yield Remark(code="moving_few_containers")
    yield from _about_the_fish(table)
    yield from answer.measured.remarks


def _about_the_fish(table: pd.DataFrame) -> Iterator[Remark]:
    borrowed = table.loc[table["cv_from"] == "others", "batch"].tolist()
    if borrowed:
        yield Remark(code="moving_spread_borrowed", values={"batches": borrowed})
    unknown = (table["cv_from"] == "none") & table["size"].isin(["reached", "ahead", "far"])
    if unknown.any():
        batches = table.loc[unknown, "batch"].tolist()
        yield Remark(code="moving_mean_fish", values={"batches": batches})
    perhaps = table.loc[table["crowding"] == "perhaps", "batch"].tolist()
    if perhaps:
        yield Remark(code="moving_perhaps_crowded", values={"batches": perhaps})
