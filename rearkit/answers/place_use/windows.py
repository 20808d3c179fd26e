"""The use of a place in every window of age: one value a unit, against the share of the room."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from rearkit.errors import DesignError
from rearkit.stats.compare.permutation import permutation_test
from rearkit.stats.compare.unit_t import t_one

# First week, then to day 11, then later: how long very young fry keep to the shade (common
# practice, no source).
WINDOWS: tuple[tuple[float, float | None], ...] = ((0.0, 7.0), (7.0, 11.0), (11.0, None))
ALPHA = 0.05
FEWEST_FOR_P = 3
FEWEST_FOR_FLIPS = 6


@dataclass(frozen=True, kw_only=True, eq=False)
class WindowUse:
    """The use of a place in one window of age.

    Attributes
    ----------
    age_from, age_to : float, float or None
        The window in days; None is the end of the record.
    n_units, n_scans : int
        What stands behind it.
    share, area, excess : float
        Means over units: share of the fry seen there, its share of the room, the difference.
    excess_low, excess_high : float
        The same if all that were not seen were elsewhere, or all there.
    conf_low, conf_high, method : float or None, str or None
        Interval of the excess and how it was made.
    p_value, p_min : float or None
        p, and the smallest that so many units can give.
    clear : bool
        Whether this window and every younger one that could be tested are at or below .05, all in
        one direction.
    """

    age_from: float
    age_to: float | None
    n_units: int
    n_scans: int
    share: float
    area: float
    excess: float
    excess_low: float
    excess_high: float
    conf_low: float | None = None
    conf_high: float | None = None
    method: str | None = None
    p_value: float | None = None
    p_min: float | None = None
    clear: bool = False

    @property
    def holds(self) -> bool:
        """Whether the sign of the excess holds wherever those not seen were."""
        return self.excess_low * self.excess > 0 and self.excess_high * self.excess > 0

    def facts(self) -> dict[str, Any]:
        """Return the numbers, flat."""
        return dict(vars(self))


def read_windows(
    windows: str | Sequence[tuple[float, float | None]],
) -> tuple[tuple[float, float | None], ...]:
    """Read windows of age from pairs or from text such as ``"0-7, 7-11, 11+"``.

    Raises
    ------
    DesignError
        If a window is not understood, ends before it begins, or overlaps the one before.

    Examples
    --------
    >>> read_windows("0-7, 7-11, 11+")
    ((0.0, 7.0), (7.0, 11.0), (11.0, None))
    """
    pairs: list[tuple[float, float | None]] = []
    if not isinstance(windows, str):
        pairs = [(float(a), None if b is None else float(b)) for a, b in windows]
    else:
        for text in windows.split(","):
            found = re.fullmatch(
                r"\s*(\d+(?:\.\d+)?)\s*(?:(?:-|–|to)\s*(\d+(?:\.\d+)?)|\+)\s*", text
            )
            if found is None:
                raise _wrong_window(text.strip())
            pairs.append((float(found[1]), None if found[2] is None else float(found[2])))
    last = -np.inf
    for a, b in pairs:
        if a < last or (b is not None and b <= a):
            raise _wrong_window(f"{a:g} to {b if b is not None else 'the end'}")
        last = np.inf if b is None else b
    if not pairs:
        raise _wrong_window("")
    return tuple(pairs)


def _wrong_window(text: str) -> DesignError:
    return DesignError(
        f"the window of age {text!r} cannot be used",
        where="windows",
        todo="Write ages in days, rising and apart, such as 0-7, 7-11, 11+.",
    )


def use_by_window(
    scans: pd.DataFrame, edges: Sequence[tuple[float, float | None]], unit: str
) -> tuple[tuple[WindowUse, ...], pd.DataFrame]:
    """Estimate the use of a place in every window.

    Parameters
    ----------
    scans : DataFrame
        ``Scans.table``.
    edges : sequence of (from, to)
        The windows; an age of ``to`` belongs to the next one.
    unit : str
        ``"container"`` or ``"day"``.

    Returns
    -------
    windows : tuple of WindowUse
    by_unit : DataFrame
        One row a unit and window.

    Notes
    -----
    Days of one container hang together (fry keep to a place for days), so they are told and never
    tested. Of containers: one is told; two give an interval by t; three to five t; six and more
    exact flips of sign, with their interval by inversion. This follows their number alone.
    Windows are judged in order of age and no further than the first that is not clear, so that
    all of them together raise no more false alarms than one.
    """
    uses, tables = [], []
    for a, b in edges:
        inside = (scans["age_days"] >= a) & (scans["age_days"] < (np.inf if b is None else b))
        table = _units(scans[inside], unit)
        uses.append(_window(a, b, int(inside.sum()), table, test=unit == "container"))
        tables.append(table.assign(age_from=a, age_to=np.nan if b is None else b))
    windows = _in_order(uses)
    full = [t for t in tables if len(t)]
    return windows, pd.concat(full, ignore_index=True) if full else tables[0]


def _in_order(uses: Sequence[WindowUse]) -> tuple[WindowUse, ...]:
    """Mark the windows that are clear, from the youngest on, up to the first that is not."""
    judged, going, sign = [], True, 0.0
    for use in uses:
        clear = going and use.p_value is not None and use.p_value <= ALPHA
        clear = clear and sign * use.excess >= 0
        going = going and (clear or use.p_value is None)
        sign = float(np.sign(use.excess)) if clear else sign
        judged.append(replace(use, clear=clear))
    return tuple(judged)


VALUES = ["share", "share_low", "share_high", "area"]


def _units(scans: pd.DataFrame, unit: str) -> pd.DataFrame:
    """One row a unit: scans averaged within a day and side, days within a side, then sides."""
    s = scans.assign(side=scans["side"].fillna(""), n_scans=1)
    days = s.groupby(["batch", "side", "date"], sort=False).agg(
        {**dict.fromkeys(VALUES, "mean"), "n_scans": "sum"}
    )
    if unit == "day":
        table = days.reset_index()
        table["unit"] = pd.to_datetime(table["date"]).dt.strftime("%Y-%m-%d")
        table = table.groupby("unit", sort=False).agg(
            {**dict.fromkeys(VALUES, "mean"), "n_scans": "sum"}
        )
    else:
        sides = days.groupby(level=["batch", "side"], sort=False).agg(
            {**dict.fromkeys(VALUES, "mean"), "n_scans": "sum"}
        )
        table = sides.groupby(level="batch", sort=False).agg(
            {**dict.fromkeys(VALUES, "mean"), "n_scans": "sum"}
        )
        table.index.name = "unit"
    table = table.reset_index()
    for end in ("", "_low", "_high"):
        table[f"excess{end}"] = table[f"share{end}"] - table["area"]
    return table


def _window(
    a: float, b: float | None, n_scans: int, table: pd.DataFrame, *, test: bool
) -> WindowUse:
    known = table[table["excess"].notna()]
    n = len(known)
    use = WindowUse(
        age_from=a,
        age_to=b,
        n_units=len(table),
        n_scans=n_scans,
        share=float(table["share"].mean()) if len(table) else float("nan"),
        area=float(known["area"].mean()) if n else float("nan"),
        excess=float(known["excess"].mean()) if n else float("nan"),
        excess_low=float(known["excess_low"].mean()) if n else float("nan"),
        excess_high=float(known["excess_high"].mean()) if n else float("nan"),
    )
    if n < 2 or not test:
        return use
    values = known["excess"].to_numpy(dtype=float)
    if n >= FEWEST_FOR_FLIPS:
        pairs = np.concatenate([values, np.zeros(n)])
        flips = permutation_test(pairs, np.arange(2 * n) < n, [*range(n), *range(n)])
        return replace(
            use,
            conf_low=flips.conf_low,
            conf_high=flips.conf_high,
            method="exact flips of sign",
            p_value=flips.p_value,
            p_min=flips.p_min,
        )
    t = t_one(values)
    finite = bool(np.isfinite(t.conf_low))
    return replace(
        use,
        conf_low=t.conf_low if finite else None,
        conf_high=t.conf_high if finite else None,
        method="t on units" if finite else None,
        p_value=t.p_value if n >= FEWEST_FOR_P and not np.isnan(t.p_value) else None,
    )
