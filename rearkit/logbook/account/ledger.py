"""The ledger of one batch: what the rows say happened between one look and the next."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from rearkit.logbook.account.ages import DAY
from rearkit.logbook.account.looks import Looks

Floats = NDArray[np.float64]
ENDS = ("low", "best", "high")
FLOWS = ("dead", "removed", "removed_ill", "added")
REASONS = ("sold", "given", "sick", "runt", "large", "measured", "other")
ILL = ("sick", "runt")


@dataclass(kw_only=True, eq=False)
class Ledger:
    """The intervals between looks at one batch; every array has shape (k, 3): low, best, high.

    ``alive`` is NaN where nobody counted all the fish at the end of that interval. ``rows`` holds
    the spreadsheet row of each interval's end (0 where it comes from the Batches sheet).
    ``dead_recorded`` tells whether anybody ever wrote down dead fish, if only a 0.
    """

    batch: str
    age_from: Floats
    age_to: Floats
    dead: Floats
    removed: Floats
    removed_ill: Floats
    added: Floats
    alive: Floats
    start: Floats
    start_known: bool
    rows: NDArray[np.int64]
    dead_recorded: bool
    by_reason: dict[str, float] = field(default_factory=dict)

    @property
    def days(self) -> Floats:
        """Length of every interval, days."""
        return self.age_to - self.age_from

    def looks(self) -> Looks:
        """Return the same as looks at the fish: fish that nobody counted are not known."""
        unknown = np.array([0.0, np.nan, np.inf])
        return Looks(
            age_start=float(self.age_from[0]),
            start=self.start if self.start_known else unknown,
            age=self.age_to,
            dead=self.dead,
            out=self.removed,
            ill=self.removed_ill,
            into=self.added,
            alive=np.where(np.isnan(self.alive[:, 1:2]), unknown, self.alive),
        )

    @property
    def counted(self) -> NDArray[np.bool_]:
        """Whether all the fish were counted at the end of each interval."""
        return ~np.isnan(self.alive[:, 1])


def write_ledger(batch: pd.Series, daily: pd.DataFrame) -> Ledger:
    """Sort the rows of one batch into the intervals between looks.

    Parameters
    ----------
    batch : Series
        The batch's row of the Batches frame, with ``age_zero``.
    daily : DataFrame
        The batch's Daily rows, with ``age_days``.

    Returns
    -------
    Ledger
        One interval a look. A look is a day on which the dead were counted (0 counts) or all the
        fish were. Fish removed or added between looks belong to the interval they fall into.
        Deaths found on the first day belong to the first interval.
    """
    visits = _visits(batch, daily)
    age_first = _age(batch, batch["started"])
    later = visits[visits["age"] > age_first]
    looks = np.unique(later.loc[later["look"], "age"].to_numpy(dtype=float))
    last = float(visits["age"].max()) if len(visits) else age_first
    one_day = last <= age_first
    if one_day:  # all in one day: it ends where the next day begins
        looks = np.array([age_first + 1.0])
    elif looks.size == 0 or last > looks[-1]:  # fish moved after the last look for the dead
        looks = np.append(looks, last)
    index = np.searchsorted(looks, visits["age"].to_numpy(dtype=float), side="left")
    k = looks.size
    flows = {name: np.zeros((k, 3)) for name in FLOWS}
    alive = np.full((k, 3), np.nan)
    rows = np.zeros(k, dtype=np.int64)
    for i, (_, visit) in zip(index, visits.iterrows(), strict=True):
        for name in FLOWS:
            flows[name][i] += np.nan_to_num([visit[f"{name}_{e}"] for e in ENDS], posinf=np.inf)
        at_end = visit["age"] == looks[i] or one_day
        if at_end and not np.isnan(visit["alive_best"]):
            alive[i] = [visit[f"alive_{e}"] for e in ENDS]
        rows[i] = int(visit["sheet_row"]) or rows[i]
    known, start = _start(batch, visits[visits["age"] <= age_first])
    return Ledger(
        batch=str(batch["batch"]),
        age_from=np.concatenate([[age_first], looks[:-1]]),
        age_to=looks,
        alive=alive,
        start=start,
        start_known=known,
        rows=rows,
        dead_recorded=bool(daily["dead_best"].notna().any()),
        by_reason=_by_reason(daily),
        **flows,
    )


def with_arrivals(daily: pd.DataFrame, batches: pd.DataFrame) -> pd.DataFrame:
    """Add the fish moved into a running batch that were told only where they came from.

    Parameters
    ----------
    daily, batches : DataFrame
        The frames, as read.

    Returns
    -------
    DataFrame
        ``daily``, and a row with ``added`` for every move whose target wrote nothing of it.
    """
    sent = daily[daily["removed_to"].notna() & (daily["removed_best"] > 0)]
    started = batches.drop_duplicates("batch").set_index("batch")["started"]
    told = daily[daily["added_best"] > 0]
    rows = []
    for target, day, *gone, row in sent[
        ["removed_to", "date", *(f"removed_{e}" for e in ENDS), "sheet_row"]
    ].itertuples(index=False):
        near = told.loc[told["batch"] == target, "date"]
        if target in started.index and day > started[target] and not (abs(near - day) <= DAY).any():
            arrived = dict(zip((f"added_{e}" for e in ENDS), gone, strict=True))
            rows.append({"batch": target, "date": day, "sheet_row": row} | arrived)
    if not rows:
        return daily
    more = pd.DataFrame(rows).reindex(columns=daily.columns).astype(daily.dtypes)
    return pd.concat([daily, more], ignore_index=True)


def _start(batch: pd.Series, first: pd.DataFrame) -> tuple[bool, Floats]:
    """Return whether the start was counted, and the count: the Batches sheet's, or day one's."""
    if bool(batch["start_known"]):
        return True, np.array([batch[f"start_count_{e}"] for e in ENDS], dtype=float)
    if len(first) and not np.isnan(first["alive_best"].iloc[-1]):
        day = first.iloc[-1]
        back = [
            day[f"alive_{e}"] + day[f"dead_{e}"] + day[f"removed_{e}"] - day[f"added_{e}"]
            for e in ENDS
        ]
        return True, np.array(back, dtype=float)
    return False, np.full(3, np.nan)


def _age(batch: pd.Series, date: pd.Timestamp) -> float:
    return float((date - batch["age_zero"]) / DAY)


def _visits(batch: pd.Series, daily: pd.DataFrame) -> pd.DataFrame:
    """One row a day: visits of one day added up, and the end count as the last of them."""
    ill = daily["removed_why"].isin(ILL) | daily["removed_why"].isna()
    frame = pd.DataFrame({"age": daily["age_days"].astype(float), "sheet_row": daily["sheet_row"]})
    for end in ENDS:
        for name in ("dead", "removed", "added", "alive"):
            frame[f"{name}_{end}"] = daily[f"{name}_{end}"].astype(float)
        frame[f"removed_ill_{end}"] = frame[f"removed_{end}"].where(ill)
    frame = pd.concat([frame, _end_row(batch, daily)], ignore_index=True)
    frame["look"] = frame["dead_best"].notna() | frame["alive_best"].notna()
    how: dict[str, str] = {f"{name}_{e}": "sum" for name in FLOWS for e in ENDS}
    how |= {f"alive_{e}": "last" for e in ENDS}  # the last count of the day
    how |= {"sheet_row": "max", "look": "max"}
    frame = frame.groupby("age", sort=True).agg(how).reset_index()
    return frame.assign(look=frame["look"].astype(bool))


def _end_row(batch: pd.Series, daily: pd.DataFrame) -> pd.DataFrame:
    """Return the end of the batch as one more visit; none while it runs uncounted."""
    ended = batch["ended"]
    count = [float(batch[f"end_count_{e}"]) for e in ENDS]
    if np.isnan(count[1]) and batch["end_reason"] == "all died":
        count = [0.0, 0.0, 0.0]
    if pd.isna(ended):
        if np.isnan(count[1]) or daily.empty:
            return pd.DataFrame()
        ended = daily["date"].max()
    moved = daily[(daily["date"] >= ended - DAY) & daily["removed_to"].notna()]
    if len(moved):
        gone = [float(moved[f"removed_{e}"].sum()) for e in ENDS]
        today = bool((moved["date"] == ended).all())
        if 0 < gone[0] <= count[2] and (today or count[0] <= gone[2]):  # counted before they went
            count = [max(c - g, 0.0) for c, g in zip(count, gone[::-1], strict=True)]
            count[1] = min(max(count[1], count[0]), count[2])
    row: dict[str, list[float]] = {"age": [_age(batch, ended)], "sheet_row": [0]}
    row |= {f"alive_{e}": [c] for e, c in zip(ENDS, count, strict=True)}
    row |= {f"{name}_{e}": [np.nan] for name in FLOWS for e in ENDS}
    return pd.DataFrame(row)


def _by_reason(daily: pd.DataFrame) -> dict[str, float]:
    """Fish removed for each reason given (best values); no reason is 'other'."""
    why = daily["removed_why"].fillna("other")
    taken = daily["removed_best"].astype(float).fillna(0.0).groupby(why).sum()
    return {str(reason): float(n) for reason, n in taken.items() if n > 0}
