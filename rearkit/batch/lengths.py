"""The lengths of a log, ready for curves: one unit, one kind, one set of rows a batch."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from rearkit.batch.lines import Line
from rearkit.batch.remark import Remark
from rearkit.logbook.account.ages import DAY
from rearkit.logbook.logbook import Logbook
from rearkit.stats.growth.daily_means import DailyMeans, daily_means
from rearkit.stats.growth.size_spread import DaySpread, day_spread, size_spread

TOO_SPREAD = 0.5  # a standard deviation above this share of the mean is a slip of the pen
STRANGERS = frozenset(["others_joined", "too_many_added"])  # from then on other fish are measured
SPREAD_COLUMNS = (
    "batch",
    "age_days",
    "n_fish",
    "mean_mm",
    "sd_mm",
    "cv",
    "skew",
    "largest_to_smallest",
    "percentile_10_mm",
)


@dataclass(frozen=True, kw_only=True, eq=False)
class MeasuredLengths:
    """What was measured in the batches that are asked about.

    Attributes
    ----------
    rows : DataFrame
        ``batch``, ``date``, ``age_days``, ``fish``, ``length_mm``, ``length_sd_mm``: one row a fish
        or a group.
    series : dict of DailyMeans
        Mean length of every measured batch by age.
    spreads : dict of DaySpread
        Spread among the fish of every measured batch by age.
    remarks : tuple of Remark
        What was done to the rows.
    """

    rows: pd.DataFrame
    series: dict[str, DailyMeans]
    spreads: dict[str, DaySpread]
    remarks: tuple[Remark, ...]

    def cv_of(self, batch: str) -> float:
        """Give the CV among the fish of a batch over all its days; nan if it is not known."""
        return self.spreads[batch].pooled_cv if batch in self.spreads else float("nan")

    def cv_near(self, batch: str, day: float) -> float:
        """Give the CV on the sampled day nearest to a day on which it is known; else nan."""
        if batch not in self.spreads:
            return float("nan")
        spread = self.spreads[batch]
        known = np.flatnonzero(np.isfinite(spread.cv))
        if not known.size:
            return float("nan")
        return float(spread.cv[known[np.argmin(np.abs(spread.days[known] - day))]])

    def smallest_near(self, batch: str, day: float) -> float:
        """Give the smallest fish of the last day up to a day; nan if only groups were measured."""
        mine = self.rows[(self.rows["batch"] == batch) & (self.rows["age_days"] <= day + 1e-9)]
        today = mine[mine["age_days"] == mine["age_days"].max()]
        single = len(today) > 0 and bool((today["fish"] == 1).all())
        return float(today["length_mm"].min()) if single else float("nan")

    def spread_table(self) -> pd.DataFrame:
        """Return one row a batch and day: CV, and for single fish skew, extremes and the tenth."""
        found = []
        for batch, spread in self.spreads.items():
            mine = self.rows[self.rows["batch"] == batch]
            for i, age in enumerate(spread.days):
                today = mine[mine["age_days"] == age]
                found.append(_one_day(batch, spread, i, today))
        return pd.DataFrame(found, columns=list(SPREAD_COLUMNS))


def measured_lengths(
    log: Logbook, batches: Iterable[str], *, lines: Mapping[str, Line] | None = None
) -> MeasuredLengths:
    """Gather the lengths of some batches of a log, or of some lines.

    Parameters
    ----------
    log : Logbook
        The log.
    batches : iterable of str
        The batches that are asked about, in order; names of lines where ``lines`` is given.
    lines : mapping of str to Line, optional
        Fish followed through the containers they were moved to: what was measured in any of them
        is of the line, at the line's own age, until other fish came in.

    Returns
    -------
    MeasuredLengths
        Batches without a length are not in ``series``. Lengths of the kind (total or standard)
        that fewer fish have are left out; so is a spread that cannot be. Each is remarked.
    """
    wanted = list(dict.fromkeys(batches))
    columns = ["batch", "date", "age_days", "fish", "length_mm", "length_sd_mm", "kind"]
    rows = log.sizes.loc[log.sizes["length_mm"].notna(), columns]
    if lines is not None:
        rows = _of_lines(rows, [lines[name] for name in wanted])
    known = rows["batch"].isin(wanted) & rows["age_days"].notna()
    rows = rows[known].sort_values(["age_days", "length_mm"], kind="stable")
    remarks: list[Remark] = []
    rows = _one_kind(rows, remarks)
    rows = _believable_spread(rows, remarks)
    by_batch = dict(iter(rows.groupby("batch", sort=False)))
    present = [b for b in wanted if b in by_batch]
    return MeasuredLengths(
        rows=rows.reset_index(drop=True),
        series={b: daily_means(*_columns(by_batch[b]), **_groups(by_batch[b])) for b in present},
        spreads={b: day_spread(*_columns(by_batch[b]), **_groups(by_batch[b])) for b in present},
        remarks=tuple(remarks),
    )


def _of_lines(rows: pd.DataFrame, lines: list[Line]) -> pd.DataFrame:
    """Write rows of every container of a line under its name and at its age."""
    found = []
    for line in lines:
        mine = rows[rows["batch"].isin(line.batches)]
        age = ((mine["date"] - line.age_zero) / DAY).astype(float)
        mine = mine.assign(batch=line.name, age_days=age)
        if STRANGERS & {*line.end_reasons}:
            mine = mine[mine["age_days"] <= line.end_age + 1e-9]
        if len(mine):
            found.append(mine)
    return pd.concat(found) if found else rows.iloc[:0]


def _columns(rows: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    return rows["age_days"].to_numpy(dtype=float), rows["length_mm"].to_numpy(dtype=float)


def _groups(rows: pd.DataFrame) -> dict[str, np.ndarray]:
    return {
        "n_fish": rows["fish"].to_numpy(dtype=float),
        "sd": rows["length_sd_mm"].to_numpy(dtype=float),
    }


def _one_kind(rows: pd.DataFrame, remarks: list[Remark]) -> pd.DataFrame:
    """Keep the kind of length that most fish have; rows that name none go along with it."""
    fish = rows.groupby(rows["kind"].fillna(""))["fish"].sum()
    named = fish.drop("", errors="ignore")
    if len(named) < 2:
        return rows
    kept = str(named.sort_index().idxmax())
    other = rows["kind"].notna() & (rows["kind"] != kept)
    remarks.append(
        Remark(
            code="two_kinds_of_length",
            values={
                "kept": kept,
                "n_fish": float(rows.loc[other, "fish"].sum()),
                "batches": sorted(rows.loc[other, "batch"].unique()),
            },
        )
    )
    return rows[~other]


def _believable_spread(rows: pd.DataFrame, remarks: list[Remark]) -> pd.DataFrame:
    """Leave out a spread that is too large for the mean it belongs to."""
    slip = rows["length_sd_mm"] > TOO_SPREAD * rows["length_mm"]
    if not slip.any():
        return rows
    remarks.append(
        Remark(
            code="spread_left_out",
            values={"n": int(slip.sum()), "batches": sorted(rows.loc[slip, "batch"].unique())},
        )
    )
    return rows.assign(length_sd_mm=rows["length_sd_mm"].mask(slip))


def _one_day(batch: str, spread: DaySpread, i: int, today: pd.DataFrame) -> dict[str, object]:
    single = bool((today["fish"] == 1).all()) and len(today) > 1
    fish = size_spread(today["length_mm"].to_numpy(dtype=float)) if single else None
    nan = float("nan")
    return {
        "batch": batch,
        "age_days": float(spread.days[i]),
        "n_fish": float(spread.n_fish[i]),
        "mean_mm": float(spread.means[i]),
        "sd_mm": float(spread.sd[i]),
        "cv": float(spread.cv[i]),
        "skew": nan if fish is None else fish.skew,
        "largest_to_smallest": nan if fish is None else fish.largest_to_smallest,
        "percentile_10_mm": nan if fish is None else fish.percentile_10,
    }
