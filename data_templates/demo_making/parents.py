"""The log of a comparison that is unfair by design: broods with parents against fry reared by hand.

Broods left with their parents are counted on the day they hatch. Fry reared by hand are counted for
the first time when they swim, five days later, so the losses of their first days are in no column.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np

from .fish import beta_around, early_peak, rear
from .sheets import Log, Row, first

DAY = timedelta(days=1)
FIRST_HATCH = date(2025, 3, 1)
LAST_AGE, SWIM_AGE = 30, 5
FULL_COUNTS = {"parents": (5, 12, 19, 30), "hand": (15, 30)}
TRIAL = {
    "title": "Leave the brood or take it?",
    "keeper": "",
    "species": "Pelvicachromis pulcher (kribensis)",
    "question": "Do more kribensis fry live if the eggs are taken from the parents?",
    "compare": "method",
    "usual": "parents",
    "tested": "hand",
    "main_outcome": "survival",
    "judged_on_day": LAST_AGE,
    "age_from": "hatch",
    "smallest_useful_difference": 15,
    "date_order": "day first",
    "note": "looked up afterwards from my notebook; I took the clutches when I had time for them",
}
COLUMNS = {
    "Batches": "batch clutch parents method how_assigned container litres place water hatched "
    "free_swimming started start_count count_how ended end_count end_reason note",
    "Daily": "date batch dead removed removed_why alive food feeds temp_c minutes note",
    "Sizes": "date batch fish length_mm length_sd_mm kind note",
    "Events": "started ended batch what note",
}


def parents_or_hand(truth: dict[str, Any], keeper: str) -> Log:
    """Make the log of the parents-or-hand comparison."""
    rng = np.random.default_rng(truth["seed"])
    log = Log(name="demo_parents_or_hand.xlsx", keeper=keeper)
    log.trial(TRIAL | {"keeper": f"a member of {keeper}"})
    sheets: dict[str, list[Row]] = {name: [] for name in COLUMNS}
    for number in range(10):
        method = "hand" if number % 2 else "parents"
        batch = _batch(number, method, FIRST_HATCH + int(8 * number + rng.integers(0, 4)) * DAY)
        sheets["Batches"].append(batch)
        sheets["Daily"] += _brood(rng, truth, batch)
        sheets["Sizes"] += _sizes(rng, batch)
    sheets["Daily"].sort(key=lambda row: row["date"])
    sheets["Sizes"].sort(key=lambda row: row["date"])
    cut = {"started": date(2025, 4, 22), "batch": "all", "what": "power cut", "note": "3 hours"}
    sheets["Events"].append(cut)
    for name, columns in COLUMNS.items():
        log.sheet(name, columns, sheets[name], title="My broods 2025" if name == "Batches" else "")
    _mess_up(log)
    return log


def _batch(number: int, method: str, hatched: date) -> Row:
    by_hand = method == "hand"
    return {
        "batch": f"{'H' if by_hand else 'P'}{number // 2 + 1}",
        "clutch": f"spawn {number + 1}",
        "parents": ("red pair", "old pair", "blue pair")[number % 3],
        "method": method,
        "how_assigned": "my choice",
        "container": f"tub {number // 2 + 1}" if by_hand else f"tank {number // 2 + 1}",
        "litres": 12 if by_hand else 60,
        "place": "window shelf" if by_hand else "floor rack",
        "water": "own",
        "hatched": hatched,
        "free_swimming": hatched + SWIM_AGE * DAY,
        "started": hatched + (SWIM_AGE * DAY if by_hand else 0 * DAY),
        "count_how": "counted" if by_hand else "photo",
        "ended": hatched + LAST_AGE * DAY,
        "end_reason": "planned end",
    }


def _brood(rng: np.random.Generator, truth: dict[str, Any], batch: Row) -> list[Row]:
    """Rear a brood from hatching; write down what a keeper of this method gets to see."""
    method, fry = batch["method"], int(rng.integers(45, 76))
    first_days = beta_around(rng, truth["survival_0_to_5"], truth["icc"])
    later = beta_around(rng, truth["survival_5_to_30"], truth["icc"])
    hazards = early_peak(first_days, SWIM_AGE, 2.0)
    hazards |= {SWIM_AGE + a: h for a, h in early_peak(later, LAST_AGE - SWIM_AGE, 5.0).items()}
    looks = {a for a in hazards if rng.random() < (0.93 if method == "hand" else 0.35)}
    looks |= {SWIM_AGE, LAST_AGE} | set(FULL_COUNTS[method])
    share = truth["share_of_deaths_found"][method]
    days = rear(rng, fry, hazards, found=share, looks=looks)
    batch["start_count"] = f"{fry - int(rng.integers(3, 9))}-{fry + int(rng.integers(3, 9))}"
    if method == "hand":  # nobody counted the eggs, nor what was thrown away before they swam
        fry = days[SWIM_AGE - 1].alive
        batch["start_count"] = fry
        if rng.random() < 0.4:
            batch |= {"start_count": f"{fry - 1}-{fry + 2}", "count_how": "eye"}
        days = days[SWIM_AGE:]
    batch["end_count"] = days[-1].alive
    rows = []
    for day in days:
        if day.dead is None:
            continue
        row = {"date": batch["hatched"] + day.age * DAY, "batch": batch["batch"], "dead": day.dead}
        if day.age in FULL_COUNTS[method]:
            row["alive"] = day.alive
        rows.append(row | _care(rng, method, day.age))
    return rows


def _care(rng: np.random.Generator, method: str, age: int) -> Row:
    row = {"temp_c": round(float(25.0 + rng.normal(0, 0.4)), 1)}
    if method == "hand":
        food = "microworm" if age < 14 else "brine shrimp"
        return row | {"food": food, "feeds": 4, "minutes": int(rng.integers(10, 19))}
    row |= {"food": "brine shrimp" if age >= SWIM_AGE else None, "minutes": int(rng.integers(3, 8))}
    return row | {"feeds": 2 if age >= SWIM_AGE else 0}


def _sizes(rng: np.random.Generator, batch: Row) -> list[Row]:
    """Measure eight fry at day 18 and at day 30; the methods do not differ in growth either."""
    rows, rate = [], 0.031 + rng.normal(0, 0.001)
    for age in (18, LAST_AGE):
        fish = min(8, batch["end_count"])
        lengths = 4.6 * np.exp(rate * (age - SWIM_AGE) + rng.normal(0, 0.1, size=fish))
        when = batch["hatched"] + age * DAY
        kept = {"date": when, "batch": batch["batch"], "kind": "total"}
        rows += [kept | {"length_mm": float(length)} for length in lengths.round(1)]
    return rows


def _mess_up(log: Log) -> None:
    """Plant what real logs have, where it does no harm."""
    daily = log.rows["Daily"]
    batch = next(b for b in log.rows["Batches"] if isinstance(b["start_count"], str))
    written = batch["start_count"]
    log.plant("Batches", batch, "NOTE", "counts as ranges", start_count=written)
    row = next(r for r in daily if 4 <= r.get("alive", 0) <= 11)
    low = row["alive"]  # typed as "7-8", which the spreadsheet made into a day of August
    as_date = date(2025, low + 1, low)
    log.plant("Daily", row, "ASK", "a count that the spreadsheet made a date", alive=as_date)
    row = first(daily, batch="H5", dead=0)
    log.plant("Daily", row, "ASK", "a batch that Batches lacks", batch="H6")
    row = first(daily, batch="P2", dead=0)
    log.plant("Daily", row, "FIX", "a name with spaces", batch=" P2 ")
    row = first(daily, batch="H2", dead=0)
    log.plant("Daily", row, "FIX", "a decimal comma", temp_c=str(row["temp_c"]).replace(".", ","))
    words = (("P1", "they moved the wrigglers to the left pot"), ("P3", "dad spat one out, alive"))
    for name, note in (*words, ("H1", "threw out the fungused eggs last week, did not count")):
        first(daily, batch=name)["note"] = note
