"""The scans of a log: who was seen where, in how much of the room, and who was not seen."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import pandas as pd

from rearkit.batch.fates import fates_of, lines_of
from rearkit.errors import DesignError
from rearkit.logbook.account.ages import DAY
from rearkit.logbook.logbook import Logbook

OPPOSITE = {
    "left": "right",
    "front": "back",
    "top": "bottom",
    "upper": "lower",
    "north": "south",
    "east": "west",
}
SIDES = {**OPPOSITE, **{b: a for a, b in OPPOSITE.items()}}
SWAPPED = "sides swapped"  # the kind of event that says so
FILLER = {"side", "half", "end", "part", "the", "on", "at", "in", "of"}


@dataclass(frozen=True, kw_only=True, eq=False)
class Scans:
    """The scans of one place.

    Attributes
    ----------
    place : str or None
        The place that is asked about; None without scans.
    assumed : bool
        Whether the log had to be guessed at for it.
    places : tuple of str
        Every place that was scanned.
    table : DataFrame
        One row a scan: ``batch`` (fry that were moved keep the name of their first container),
        ``age_days``, ``date``, ``side``, ``seen``, ``seen_in_all``,
        ``not_seen``, ``share`` (of those seen), ``share_low`` and ``share_high`` (those not seen
        all elsewhere, or all there), ``area`` (share of the room; nan if not known).
    swapped : dict
        Batch to the date from which the place was on another side.
    counted_back : bool
        Whether those not seen were worked out from the account in some scan.
    incomplete, empty : int
        Scans left out: one place only, or nobody seen.
    bare_sides : bool
        Whether places are called by their side and a swap was written down.
    """

    place: str | None
    assumed: bool
    places: tuple[str, ...]
    table: pd.DataFrame
    swapped: dict[str, pd.Timestamp]
    counted_back: bool
    incomplete: int
    empty: int
    bare_sides: bool


def split_side(text: str) -> tuple[str, str | None]:
    """Part the name of a place into the place and the side it is on.

    Examples
    --------
    >>> split_side("shaded (left side)"), split_side("left half"), split_side("under the leaf")
    (('shaded', 'left'), ('left', None), ('under the leaf', None))
    """
    words = re.findall(r"[^\W_]+", text.casefold())
    sides = [w for w in words if w in SIDES]
    rest = [w for w in words if w not in SIDES and w not in FILLER]
    if not sides:
        return text.strip(), None
    return (" ".join(rest), sides[0]) if rest else (sides[0], None)


def read_scans(log: Logbook, place: str | None) -> Scans:
    """Gather the scans of a log for one place.

    Parameters
    ----------
    log : Logbook
        The log; stopped batches are left out.
    place : str or None
        The place asked about; by default the one called as the tested method, else the one that
        takes up least of the room.

    Returns
    -------
    Scans
        An empty table without usable scans.

    Raises
    ------
    DesignError
        If there is no such place in the log.
    """
    stopped = log.batches.loc[log.batches["stopped"].astype(bool), "batch"]
    rows = log.positions[~log.positions["batch"].isin(stopped)].copy()
    if rows.empty:
        return Scans(
            place=place,
            assumed=False,
            places=(),
            table=pd.DataFrame(columns=COLUMNS),
            swapped={},
            counted_back=False,
            incomplete=0,
            empty=0,
            bare_sides=False,
        )
    lines = {b: line.name for line in lines_of(log).values() for b in line.batches}
    zero = {line.name: line.age_zero for line in lines_of(log).values()}
    rows["batch"] = rows["batch"].map(lambda b: lines.get(str(b), str(b)))
    own = (rows["date"] - pd.to_datetime(rows["batch"].map(zero))) / DAY
    rows["age_days"] = own.where(own.notna(), rows["age_days"])
    rows = _with_sides(rows)
    swaps = _swaps(log, lines)
    bare = bool(rows["base"].str.casefold().isin(SIDES).all())
    rows = _with_swaps(rows, swaps, bare)
    places = tuple(dict.fromkeys(rows["base"]))
    chosen, assumed = _choose(log, rows, places, place)
    rows["scan"] = _scan_numbers(rows)
    rows["area"] = rows["area_percent"] / 100.0
    scans, incomplete, empty, counted_back = _by_scan(log, rows, chosen)
    mine = rows[rows["base"] == chosen]
    return Scans(
        place=chosen,
        assumed=assumed,
        places=places,
        table=_fill_area(scans),
        swapped=_swapped(mine),
        counted_back=counted_back,
        incomplete=incomplete,
        empty=empty,
        bare_sides=bare and bool(swaps),
    )


COLUMNS = [
    "batch",
    "age_days",
    "date",
    "side",
    "seen",
    "seen_in_all",
    "not_seen",
    "share",
    "share_low",
    "share_high",
    "area",
]


def _with_sides(rows: pd.DataFrame) -> pd.DataFrame:
    """Part places from sides; a place on two sides at once is two places, not one that moved."""
    parts = [split_side(str(p)) for p in rows["place"]]
    rows = rows.assign(base=[p for p, _ in parts], side_in_name=[s for _, s in parts])
    scans = rows.groupby(["batch", "date", rows["time"].fillna(""), "base"])["side_in_name"]
    twice = rows.loc[scans.transform("nunique") > 1, "base"].unique()
    whole = rows["base"].isin(twice)
    rows["base"] = rows["base"].mask(whole, rows["place"].astype(str).str.strip())
    named = rows["side_in_name"].mask(whole, None)
    rows["side"] = rows["side"].where(rows["side"].notna(), named)
    return rows


def _swaps(log: Logbook, lines: dict[str, str]) -> list[tuple[str, pd.Timestamp]]:
    """Return (line or "all", date) of every event of the kind that sides were swapped."""
    found = log.events[log.events["what"] == SWAPPED]
    return [
        (lines.get(str(b), str(b)), d)
        for b, d in zip(found["batch"], found["started"], strict=True)
    ]


def _with_swaps(
    rows: pd.DataFrame, swaps: list[tuple[str, pd.Timestamp]], bare: bool
) -> pd.DataFrame:
    """Give the rows after a swap another side, or the other name where places are bare sides."""
    if not swaps:
        return rows
    times = np.zeros(len(rows), dtype=int)
    for batch, date in swaps:
        times += ((rows["batch"] == batch) | (batch == "all")) & (rows["date"] >= date)
    odd = pd.Series(times % 2 == 1, index=rows.index)
    rows = rows.copy()
    if bare:
        rows["side"] = rows["base"]
        flipped = rows["base"].str.casefold().map(SIDES)
        rows["base"] = rows["base"].where(~odd, flipped)
        return rows
    noted = pd.Series(np.where(odd, "after the swap", "before the swap"), index=rows.index)
    rows["side"] = rows["side"].where(rows["side"].notna(), noted)
    return rows


def _choose(
    log: Logbook, rows: pd.DataFrame, places: tuple[str, ...], place: str | None
) -> tuple[str, bool]:
    by_name = {p.casefold(): p for p in places}
    if place is not None:
        whole, parted = place.strip().casefold(), split_side(place)[0].casefold()
        found = by_name.get(whole, by_name.get(parted))
        if found is None:
            raise DesignError(
                f"no scan names the place {place!r}",
                where="place",
                todo=f"The log has: {', '.join(places)}.",
            )
        return found, False
    tested = str(log.trial.get("tested") or "").casefold()
    if tested in by_name:
        return by_name[tested], False
    areas = rows.groupby("base")["area_percent"].mean().reindex(places)
    if areas.notna().any():
        return str(areas.idxmin()), True
    return sorted(places)[0], True


def _scan_numbers(rows: pd.DataFrame) -> pd.Series:
    """Tell the scans of a day apart: a place that comes again begins another one."""
    again = rows.groupby(["batch", "date", rows["time"].fillna(""), "base"]).cumcount()
    return rows["time"].fillna("") + "#" + again.astype(str)


def _by_scan(log: Logbook, rows: pd.DataFrame, place: str) -> tuple[pd.DataFrame, int, int, bool]:
    found, incomplete, empty, counted_back = [], 0, 0, False
    fates = fates_of(log)
    for (batch, _, _), scan in rows.groupby(["batch", "date", "scan"], sort=False):
        here, others = scan[scan["base"] == place], scan[scan["base"] != place]
        whole = here["area"].sum() >= 0.999 or others["area"].sum() >= 0.999
        if (here.empty or others.empty) and not whole:
            incomplete += 1
            continue
        if scan["seen_best"].sum() <= 0:
            empty += 1
            continue
        unseen, back = _unseen(scan, fates.get(str(batch)))
        counted_back |= back
        found.append(_one_scan(scan, here, others, unseen))
    return pd.DataFrame(found, columns=COLUMNS), incomplete, empty, counted_back


def _unseen(scan: pd.DataFrame, fates: pd.DataFrame | None) -> tuple[tuple[float, ...], bool]:
    """Return those not seen (low, best, high): as written down, else from the account."""
    names = ["not_seen_low", "not_seen_best", "not_seen_high"]
    if scan["not_seen_best"].notna().any():
        return tuple(float(scan[n].max()) for n in names), False
    if fates is None:
        return (0.0, 0.0, 0.0), False
    age = float(scan["age_days"].iloc[0])
    inside = fates[(fates["age_from"] <= age) & (age <= fates["age_to"])]
    if inside.empty:
        return (0.0, 0.0, 0.0), False
    at_risk = float(inside["at_risk"].iloc[0])
    if not np.isfinite(at_risk):
        return (0.0, 0.0, 0.0), False
    left = max(at_risk - float(scan["seen_best"].sum()), 0.0)
    return (0.0, left, left), True


def _one_scan(
    scan: pd.DataFrame, here: pd.DataFrame, others: pd.DataFrame, unseen: tuple[float, ...]
) -> dict[str, object]:
    seen, elsewhere = float(here["seen_best"].sum()), float(others["seen_best"].sum())
    most = unseen[2] if np.isfinite(unseen[2]) else unseen[1]
    low, high = float(here["seen_low"].sum()), float(here["seen_high"].sum())
    away_low, away_high = float(others["seen_low"].sum()), float(others["seen_high"].sum())
    high = high if np.isfinite(high) else seen
    away_high = away_high if np.isfinite(away_high) else elsewhere
    area = here["area"].sum() if here["area"].notna().all() and len(here) else np.nan
    if np.isnan(area) and len(others) and others["area"].notna().all():
        area = 1.0 - others["area"].sum()
    sides = here["side"].dropna()
    return {
        "batch": scan["batch"].iloc[0],
        "age_days": float(scan["age_days"].iloc[0]),
        "date": scan["date"].iloc[0],
        "side": str(sides.iloc[0]) if len(sides) else None,
        "seen": seen,
        "seen_in_all": seen + elsewhere,
        "not_seen": unseen[1],
        "share": seen / (seen + elsewhere),
        "share_low": low / (low + away_high + most) if low + away_high + most > 0 else 0.0,
        "share_high": (high + most) / (high + away_low + most) if high + most > 0 else 0.0,
        "area": float(area),
    }


def _fill_area(scans: pd.DataFrame) -> pd.DataFrame:
    """Take a blank share of the room from the other scans of the container, else of the log."""
    known = scans["area"].astype(float)
    if known.isna().any():
        known = known.fillna(known.groupby(scans["batch"]).transform("mean")).fillna(known.mean())
    return scans.assign(area=known)


def _swapped(mine: pd.DataFrame) -> dict[str, pd.Timestamp]:
    """Return the first date on which the place was on another side, by batch."""
    out = {}
    for batch, rows in mine[mine["side"].notna()].sort_values("date").groupby("batch"):
        other = rows[rows["side"] != rows["side"].iloc[0]]
        if len(other):
            out[str(batch)] = other["date"].iloc[0]
    return out
