"""Do the fry use a place? Its share of them against its share of the room, until which age."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
import pandas as pd

from rearkit.answers.answer import Answer
from rearkit.answers.place_use import tables, words
from rearkit.answers.place_use.scans import Scans, read_scans
from rearkit.answers.place_use.windows import WINDOWS, WindowUse, read_windows, use_by_window
from rearkit.batch.remark import Remark
from rearkit.logbook.logbook import Logbook
from rearkit.words.remarks import SENTENCES

if TYPE_CHECKING:
    from rearkit.pictures.picture import Picture

FAIR_UNITS = 6  # with fewer units flipping signs cannot go below p .05


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PlaceUseAnswer(Answer):
    """The use of one place, by age, against its share of the room.

    Attributes
    ----------
    scans : Scans
        The scans behind it.
    unit : str
        ``"container"``, or ``"day"`` where there is one container only: its days are told, not
        tested.
    windows : tuple of WindowUse
        One a window of age.
    by_unit : DataFrame
        One row a unit and window: ``share``, ``area``, ``excess``, and how far those not seen
        could move it.
    by_side : DataFrame
        Containers that were swapped: mean excess on either side.
    until : float or None
        End of the first run of windows in which the use is clear of the place's share of the room;
        infinite if it runs to the end; None if no window is clear.
    since : float or None
        Beginning of that run.
    level : int
        0 one container, 1 two, 2 three or more whose sides were not swapped, 3 swapped but too
        few, 4 swapped and six or more.
    """

    key: ClassVar[str] = "place_use"
    headline_words = staticmethod(words.headline)
    sentences = SENTENCES | words.SENTENCES
    prose_parts = words.PARTS
    table_parts = tables.TABLES

    @classmethod
    def picture_parts(cls) -> Mapping[str, Callable[[PlaceUseAnswer], Picture]]:
        """Return the pictures of this answer by name."""
        from rearkit.answers.place_use.pictures import PICTURES

        return PICTURES

    scans: Scans
    unit: str
    windows: tuple[WindowUse, ...]
    by_unit: pd.DataFrame
    by_side: pd.DataFrame
    until: float | None
    since: float | None
    level: int
    age_from: str

    @property
    def found(self) -> bool:
        """Whether the log holds scans that can be used."""
        return len(self.scans.table) > 0

    @property
    def run(self) -> tuple[WindowUse, ...]:
        """The windows of the first clear run; the first window with scans if none is clear."""
        clear = tuple(w for w in self.windows if w.clear)
        return clear or tuple(w for w in self.windows if w.n_units)[:1]

    def table(self) -> pd.DataFrame:
        """Return one row a unit and window."""
        return self.by_unit.copy()

    def facts(self) -> dict[str, Any]:
        """Return every number of the answer, full precision."""
        return {
            "place": self.scans.place,
            "places": list(self.scans.places),
            "unit": self.unit,
            "n_containers": int(self.scans.table["batch"].nunique()),
            "n_scans": len(self.scans.table),
            "age_from": self.age_from,
            "until": self.until,
            "runs_to_the_end": self.until is not None and not np.isfinite(self.until),
            "since": self.since,
            "claim_level": self.level,
            "swapped": {b: str(d.date()) for b, d in self.scans.swapped.items()},
            "windows": [w.facts() for w in self.windows],
            "by_unit": self.by_unit.to_dict("records"),
            "by_side": self.by_side.to_dict("records"),
            "remarks": [r.code for r in self.remarks],
        }


def use_of_place(
    log: Logbook,
    *,
    place: str | None = None,
    windows: str | Sequence[tuple[float, float | None]] = WINDOWS,
) -> PlaceUseAnswer:
    """Compare the share of the fry seen in a place with its share of the room, by age.

    Parameters
    ----------
    log : Logbook
        The log; scans are those of the Positions sheet.
    place : str, optional
        The place (default: the one called as the tested method, else the smallest).
    windows : str or sequence of (from, to)
        Windows of age in days; None as the end is the end of the record.

    Returns
    -------
    PlaceUseAnswer
        The answer; without scans it says so.

    Raises
    ------
    DesignError
        If no scan names the place, or a window cannot be used.

    Notes
    -----
    One value a container, its days averaged, a day its scans: fry swim in schools, so sightings
    are not separate proof, and what a school does on one day it does on the next, so one container
    is told and not tested. Fry that were moved stay one container. Null hypothesis: the share seen
    there is the place's share of the room. Windows are judged in order of age, no further than the
    first that is not clear. Sides are swapped where a column or an event of that kind says so.
    """
    scans = read_scans(log, place)
    edges = read_windows(windows)
    unit = "container" if scans.table["batch"].nunique() > 1 else "day"
    uses, by_unit = use_by_window(scans.table, edges, unit)
    since, until = _first_run(uses)
    by_side = _by_side(scans)
    answer_level = _level(scans)
    return PlaceUseAnswer(
        log_name=log.name,
        scans=scans,
        unit=unit,
        windows=uses,
        by_unit=by_unit,
        by_side=by_side,
        until=until,
        since=since,
        level=answer_level,
        age_from=log.age_from,
        remarks=tuple(_remarks(log, scans, uses, by_side)),
    )


def _first_run(windows: tuple[WindowUse, ...]) -> tuple[float | None, float | None]:
    """Return from when to when the use is clear of the share of the room."""
    clear = [w for w in windows if w.clear]
    if not clear:
        return None, None
    return clear[0].age_from, np.inf if clear[-1].age_to is None else clear[-1].age_to


def _level(scans: Scans) -> int:
    n = int(scans.table["batch"].nunique())
    if n < 3:
        return max(n - 1, 0)
    if set(scans.table["batch"]) - set(scans.swapped):
        return 2
    return 4 if n >= FAIR_UNITS else 3


def _by_side(scans: Scans) -> pd.DataFrame:
    """Mean excess on either side, for the containers that were swapped."""
    t = scans.table[scans.table["batch"].isin(list(scans.swapped)) & scans.table["side"].notna()]
    if t.empty or t["area"].isna().all():
        return pd.DataFrame(columns=["batch", "side", "share", "excess", "n_scans"])
    t = t.assign(excess=t["share"] - t["area"])
    grouped = t.groupby(["batch", "side"], sort=False)
    return grouped.agg(
        share=("share", "mean"), excess=("excess", "mean"), n_scans=("share", "size")
    ).reset_index()


def _remarks(
    log: Logbook,
    scans: Scans,
    windows: tuple[WindowUse, ...],
    by_side: pd.DataFrame,
) -> Iterator[Remark]:
    if scans.table.empty:
        return
    if scans.assumed:
        yield Remark(code="place_assumed", values={"place": scans.place})
    yield from _about_sides(scans, by_side)
    if scans.table["batch"].nunique() == 1:
        yield Remark(code="days_of_one", values={"batch": scans.table["batch"].iloc[0]})
    yield from _about_the_unseen(scans, windows)
    if scans.table["area"].isna().all():
        yield Remark(code="no_area", values={"place": scans.place})
    if scans.incomplete:
        yield Remark(code="scan_one_place", values={"n": scans.incomplete})
    if scans.empty:
        yield Remark(code="scan_nobody", values={"n": scans.empty})
    clutches = log.batches[log.batches["batch"].isin(scans.table["batch"])]["clutch"].dropna()
    shared = clutches[clutches.duplicated(keep=False)].unique()
    if len(shared):
        yield Remark(code="clutch_shared", values={"clutches": sorted(shared)})
    yield Remark(code="use_is_not_benefit", values={"place": scans.place})


def _about_sides(scans: Scans, by_side: pd.DataFrame) -> Iterator[Remark]:
    still = sorted(set(scans.table["batch"]) - set(scans.swapped))
    if scans.swapped:
        yield Remark(
            code="sides_swapped",
            values={"batches": sorted(scans.swapped), "place": scans.place},
        )
    if still:
        yield Remark(code="sides_not_swapped", values={"batches": still, "place": scans.place})
    if scans.bare_sides:
        yield Remark(code="bare_sides", values={"place": scans.place})
    turned = [b for b, t in by_side.groupby("batch") if t["excess"].min() < 0 < t["excess"].max()]
    if turned:
        yield Remark(code="followed_the_side", values={"batches": sorted(turned)})


def _about_the_unseen(scans: Scans, windows: tuple[WindowUse, ...]) -> Iterator[Remark]:
    unseen = float(scans.table["not_seen"].sum())
    if unseen <= 0:
        return
    share = unseen / float(scans.table["seen_in_all"].sum() + unseen)
    judged = [w for w in windows if w.clear]
    holds = "none" if not judged else ("holds" if all(w.holds for w in judged) else "turns")
    yield Remark(
        code="not_seen",
        values={"share": share, "place": scans.place},
        variant=holds,
    )
    if scans.counted_back:
        yield Remark(code="not_seen_counted_back")
