"""What went along with a method: shelves, pairs, water, dates, and how chance was let in."""

from __future__ import annotations

import pandas as pd

from rearkit.batch.remark import Remark

# Batches columns that may go along with the method: column -> what is compared
COMPANIONS = {
    "place": "shelf",
    "parents": "pair",
    "water": "water",
    "litres": "size of container",
    "count_how": "way of counting",
}


def values_in(batches: pd.DataFrame, compare: str) -> pd.Series:
    """Return a column of Batches as the words that tell methods apart: 8.0 litres is "8"."""
    column = batches[compare]
    if pd.api.types.is_datetime64_any_dtype(column):
        words = column.dt.strftime("%Y-%m-%d")
    elif pd.api.types.is_float_dtype(column):
        words = column.map(lambda x: f"{x:g}", na_action="ignore")
    else:
        words = column.map(str, na_action="ignore")
    return words.astype(object).where(column.notna(), None)


def how_assigned(batches: pd.DataFrame) -> str:
    """Return how the methods were dealt out: one way, ``mixed`` or ``unknown``."""
    ways = batches["how_assigned"].fillna("unknown").unique()
    return str(ways[0]) if len(ways) == 1 else "mixed"


def goes_with_method(batches: pd.DataFrame, units: pd.DataFrame, compare: str) -> tuple[str, ...]:
    """Return what goes along with the method: all units of one arm share it, the other has none."""
    picked = batches[batches["batch"].isin([b for bs in units["batches"] for b in bs])]
    arms = [group for _, group in picked.groupby("method_")]
    if len(arms) < 2:
        return ()
    found = []
    for column, name in COMPANIONS.items():
        if column != compare and _goes_along(arms, column):
            found.append(name)
    starts = [arm["started"] for arm in arms]
    apart = starts[0].max() < starts[1].min() or starts[1].max() < starts[0].min()
    if apart and max(map(len, starts)) > 1:
        found.append("start date")
    return tuple(found)


def _goes_along(arms: list[pd.DataFrame], column: str) -> bool:
    values = [arm[column].dropna() for arm in arms]
    if column == "place":  # "shelf 2, left" -> "shelf 2"
        values = [v.astype(str).str.split(",").str[0].str.strip() for v in values]
    if column == "water":
        values = [v[v != "own"] for v in values]
    sets = [set(v) for v in values]
    if any(len(v) < len(arm) for v, arm in zip(values, arms, strict=True)):
        return False
    return any(len(sets[i]) == 1 and len(arms[i]) > 1 and not sets[i] & sets[1 - i] for i in (0, 1))


def shared_water(batches: pd.DataFrame) -> list[Remark]:
    """Return a remark for every water system that several containers share."""
    shared = water_of(batches).value_counts()
    return [
        Remark(code="shared_water", values={"system": name, "n": int(n)})
        for name, n in sorted(shared.items())
        if n > 1
    ]


def water_of(batches: pd.DataFrame) -> pd.Series:
    """Return the water that batches have in common: a system, or one container at one time.

    Parameters
    ----------
    batches : DataFrame
        ``log.batches``, or some of its rows.

    Returns
    -------
    Series, indexed by batch
        The name of the system or of the container; batches with water of their own are not in it.
    """
    rows = batches.set_index("batch")
    water = rows["water"].dropna().astype(str)
    water = water[water.str.casefold() != "own"]
    alone = rows[rows["container"].notna() & ~rows.index.isin(water.index)]
    for name, part in alone.groupby("container"):
        if len(part) == 1:
            continue
        part = part.sort_values("started")
        ended = part["ended"].fillna(pd.Timestamp.max).cummax().shift()
        later = part["started"] < ended
        together = part[later | later.shift(-1, fill_value=False)]
        water = pd.concat([water, pd.Series(str(name), index=together.index, dtype=object)])
    return water.reindex([b for b in rows.index if b in water.index])
