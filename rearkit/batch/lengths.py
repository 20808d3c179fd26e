"""The lengths of a log, ready for curves: one unit, one kind, one set of rows a batch."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from rearkit.batch.remark import Remark
from rearkit.logbook.logbook import Logbook
from rearkit.stats.growth.daily_means import DailyMeans, daily_means
from rearkit.stats.growth.size_spread import DaySpread, day_spread, size_spread

NO_FRY_MM = 2.0  # no fry is shorter than this: lengths below it are centimetres
TOO_SPREAD = 0.5  # a standard deviation above this share of the mean is a slip of the pen
MM_PER_CM = 10.0
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

    def spread_table(self) -> pd.DataFrame:
        """Return one row a batch and day: CV, and for single fish skew, extremes and the tenth."""
        found = []
        for batch, spread in self.spreads.items():
            mine = self.rows[self.rows["batch"] == batch]
            for i, age in enumerate(spread.days):
                today = mine[mine["age_days"] == age]
                found.append(_one_day(batch, spread, i, today))
        return pd.DataFrame(found, columns=list(SPREAD_COLUMNS))


def measured_lengths(log: Logbook, batches: Iterable[str]) -> MeasuredLengths:
    """Gather the lengths of some batches of a log.

    Parameters
    ----------
    log : Logbook
        The log.
    batches : iterable of str
        The batches that are asked about, in order.

    Returns
    -------
    MeasuredLengths
        Batches without a length are not in ``series``. Lengths of the kind (total or standard)
        that fewer fish have are left out. A log whose lengths lie below what a fry can measure in
        millimetres is read as centimetres. Each of these is remarked.
    """
    wanted = list(dict.fromkeys(batches))
    rows = log.sizes[log.sizes["length_mm"].notna() & log.sizes["batch"].isin(wanted)]
    columns = ["batch", "date", "age_days", "fish", "length_mm", "length_sd_mm", "kind"]
    rows = rows[columns].sort_values(["age_days", "length_mm"], kind="stable")
    remarks: list[Remark] = []
    rows = _one_kind(rows, remarks)
    rows = _millimetres(rows, remarks)
    rows = _believable_spread(rows, remarks)
    by_batch = dict(iter(rows.groupby("batch", sort=False)))
    present = [b for b in wanted if b in by_batch]
    return MeasuredLengths(
        rows=rows.reset_index(drop=True),
        series={b: daily_means(*_columns(by_batch[b]), **_groups(by_batch[b])) for b in present},
        spreads={b: day_spread(*_columns(by_batch[b]), **_groups(by_batch[b])) for b in present},
        remarks=tuple(remarks),
    )


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


def _millimetres(rows: pd.DataFrame, remarks: list[Remark]) -> pd.DataFrame:
    """Read a log whose typical length is below what a fry can have as centimetres."""
    if rows.empty or float(np.median(rows["length_mm"])) >= NO_FRY_MM:
        return rows
    typical = float(np.median(rows["length_mm"]))
    remarks.append(Remark(code="lengths_in_cm", values={"typical": typical}))
    scaled = (rows[["length_mm", "length_sd_mm"]] * MM_PER_CM).round(9)
    return rows.assign(length_mm=scaled["length_mm"], length_sd_mm=scaled["length_sd_mm"])


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
