"""The diary of one keeper with two batches and nothing to compare, as a folder of CSV files."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np

from .fish import Day, early_peak, rear
from .sheets import Log, Row, first

DAY = timedelta(days=1)
CAVE, PLANTS = date(2025, 6, 6), date(2025, 6, 14)
TRIAL = {
    "title": "Kribensis, summer",
    "keeper": "",
    "species": "Pelvicachromis pulcher (kribensis)",
    "question": "What became of my fry?",
    "age_from": "start",
    "size_to_move_mm": 11,
    "most_fish_per_litre": 2,
    "date_order": "day first",
}
COLUMNS = {
    "Batches": "batch clutch parents container litres place water hatched free_swimming started "
    "start_count count_how ended end_count end_reason note",
    "Daily": "date batch dead removed removed_why added alive food feeds water_changed_percent "
    "temp_c minutes weather note",
    "Sizes": "date batch fish length_mm length_sd_mm note",
    "Events": "started ended batch what note",
}
WEATHER = ("hot", "hot", "grey", "thunder", "grey")
HEADINGS = {"temp_c": "Temp C", "water_changed_percent": "Water changed percent", "batch": "Batch"}


def two_batches(truth: dict[str, Any], keeper: str) -> Log:
    """Make the diary."""
    rng = np.random.default_rng(truth["seed"])
    log = Log(name="demo_two_batches", keeper=keeper, headings=HEADINGS)
    log.trial(TRIAL | {"keeper": f"a member of {keeper}"})
    hazards = early_peak(truth["survival_to_day_28"], 28, 4.0)
    looks = {age for age in hazards if rng.random() < 0.7} | {7, 14, 21, 28}
    found = truth["share_of_deaths_found"]
    cave = rear(rng, 58, hazards, found=found, looks=looks, removed={24: 6})
    early = {age: h / 2 for age, h in hazards.items() if age <= 18}
    plants = rear(rng, 17, early, found=found, looks=looks)
    late = {age: h / 2 for age, h in hazards.items() if age > 18}
    plants += rear(rng, plants[-1].alive + 4, late, found=found, looks=looks)
    batches = _batches()
    batches[0]["end_count"] = cave[-1].alive
    daily = _daily(rng, "Cave tub", CAVE, cave) + _daily(rng, "Plant tank", PLANTS, plants)
    daily.sort(key=lambda row: row["date"])
    first(daily, date=PLANTS + 18 * DAY, batch="Plant tank")["added"] = 4
    first(daily, added=4)["note"] = "four more came out of the filter, put back"
    log.sheet("Batches", COLUMNS["Batches"], batches)
    log.sheet("Daily", COLUMNS["Daily"], daily)
    log.sheet("Sizes", COLUMNS["Sizes"], _sizes(rng))
    off = {"started": date(2025, 6, 27), "ended": date(2025, 6, 28), "batch": "Cave tub"}
    off |= {"what": "heater off", "note": "fuse; 21 degrees in the morning, all moving"}
    log.sheet("Events", COLUMNS["Events"], [off])
    _mess_up(log)
    return log


def _batches() -> list[Row]:
    cave = {"batch": "Cave tub", "clutch": "June spawn", "parents": "the pair", "litres": 40}
    cave |= {"container": "grey tub", "place": "kitchen", "water": "own", "start_count": "~60"}
    cave |= {"hatched": CAVE - 5 * DAY, "free_swimming": CAVE, "started": CAVE}
    cave |= {"count_how": "scoop", "ended": CAVE + 28 * DAY, "end_reason": "moved"}
    plants = {"batch": "Plant tank", "parents": "not known", "container": "planted tank"}
    plants |= {"litres": 25, "place": "living room", "water": "own", "started": PLANTS}
    plants |= {"start_count": "unknown", "note": "found swimming among the moss"}
    return [cave, plants]


def _daily(rng: np.random.Generator, batch: str, start: date, days: list[Day]) -> list[Row]:
    rows = []
    for day in days:
        if day.dead is None and not day.removed and day.age != 18:
            continue
        row = {"date": start + day.age * DAY, "batch": batch, "dead": day.dead}
        if day.removed:
            row |= {"removed": day.removed, "removed_why": "given"}
        if day.age in (7, 14, 28):
            row["alive"] = day.alive
        row["food"] = "microworm" if day.age < 12 else "brine shrimp"
        row["water_changed_percent"] = 25 if day.age % 3 == 0 else None
        row["temp_c"] = round(float(25 + rng.normal(0, 0.5)), 1)
        row["minutes"] = int(rng.integers(5, 15))
        rows.append(row | {"feeds": 3, "weather": WEATHER[row["date"].toordinal() % len(WEATHER)]})
    return rows


def _sizes(rng: np.random.Generator) -> list[Row]:
    rows = []
    for batch, start in (("Cave tub", CAVE), ("Plant tank", PLANTS)):
        for age in (10, 20, 28):
            mean = 4.8 * np.exp(0.03 * age + rng.normal(0, 0.03))
            row = {"date": start + age * DAY, "batch": batch, "fish": 8}
            row |= {"length_mm": round(float(mean), 1), "length_sd_mm": round(float(mean * 0.1), 1)}
            rows.append(row)
    return rows


def _mess_up(log: Log) -> None:
    """Plant what real diaries have, where it does no harm."""
    daily = log.rows["Daily"]
    log.plant("Batches", log.rows["Batches"][0], "NOTE", "about so many", start_count="~60")
    batch = log.rows["Batches"][1]
    log.plant("Batches", batch, "NOTE", "a start that is not known", start_count="unknown")
    log.planted.append(("Daily", None, "weather", "NOTE", "a column of the keeper's own"))
    row = first(daily, date=PLANTS + 7 * DAY, batch="Plant tank")
    low = row["alive"] - 3
    log.plant("Daily", row, "ASK", "a count that rises with none added", alive=low)
    row = first(daily, water_changed_percent=25)
    log.plant("Daily", row, "ASK", "a percentage as a fraction", water_changed_percent=0.25)
    row = first(daily, batch="Cave tub", dead=1)
    evening = row | {"dead": 0, "minutes": 4, "alive": None, "water_changed_percent": None}
    evening |= {"note": "second look after supper"}
    log.insert_after("Daily", row, evening, "NOTE", "two visits on one day")
    row = [r for r in daily if r["batch"] == "Plant tank" and r["dead"] == 0][5]
    log.insert_after("Daily", row, dict(row), "ASK", "the same row twice")
    row = [r for r in daily if r["batch"] == "Cave tub" and r["dead"] == 0][3]
    wrong = row["date"].replace(year=2052)
    log.plant("Daily", row, "STOP", "a year that cannot be", date=wrong)
    size = log.rows["Sizes"][1]
    in_cm = round(size["length_mm"] / 10, 2)
    log.plant("Sizes", size, "ASK", "centimetres among millimetres", length_mm=in_cm)
