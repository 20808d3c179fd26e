"""The log of a trial with split clutches: half of each under a shading lid, half in the open."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np

from .fish import as_counted, beta_around, early_peak, rear
from .sheets import Log, Row, first

DAY = timedelta(days=1)
SWIMS = (
    date(2025, 2, 10),
    date(2025, 2, 17),
    date(2025, 3, 3),
    date(2025, 3, 9),
    date(2025, 3, 20),
    date(2025, 4, 2),
)
PAIRS = ("pair A", "pair B", "pair A", "pair C", "pair B", "pair C")
CRASH = (date(2025, 3, 14), date(2025, 3, 18))
TRIAL = {
    "title": "Shade for kribensis fry",
    "keeper": "",
    "species": "Pelvicachromis pulcher (kribensis)",
    "question": "Do more fry live to day 28 if a lid shades part of the tub?",
    "compare": "method",
    "usual": "open",
    "tested": "shaded",
    "main_outcome": "survival",
    "judged_on_day": 28,
    "age_from": "free_swimming",
    "smallest_useful_difference": 10,
    "plan_written_on": date(2025, 2, 2),
    "looks_planned": 1,
    "stop_rule": "more than half of a tub lost in two days: it leaves the trial and is nursed",
    "exclusions": "a tub without heat or air for more than 12 hours",
    "counted_blind": "no",
    "approval": "kept at home; the circle's welfare steward read the plan",
    "size_to_move_mm": 10,
    "most_fish_per_litre": 5,
    "date_order": "day first",
    "note": "white 8-litre tubs in pairs on one rack; a coin said which of a pair got the lid",
}
COLUMNS = {
    "Batches": "batch clutch parents method how_assigned container litres place water spawned "
    "hatched free_swimming started start_count count_how ended end_count end_reason note",
    "Daily": "date batch dead removed removed_why alive food feeds water_changed_percent temp_c "
    "minutes note",
    "Sizes": "date batch fish length_mm length_sd_mm weight_mg kind note",
    "Positions": "date time batch place seen not_seen area_percent note",
    "Events": "started ended batch what note",
}
NOTES = (
    "several on the bottom this morning",
    "thin one, never took food",
    "lid was crooked, put back",
    "bent spine",
    "bellies orange again, good",
    "found behind the sponge",
    "kept one for the club's microscope evening",
    "lots of leftover food, siphoned",
)


def shade_trial(truth: dict[str, Any], keeper: str) -> Log:
    """Make the log of the shade trial."""
    rng = np.random.default_rng(truth["seed"])
    log = Log(name="demo_shade_trial.xlsx", keeper=keeper)
    log.trial(TRIAL | {"keeper": keeper})
    dates = [SWIMS[0] + i * DAY for i in range(90)]
    away = {day for day in dates if rng.random() < 0.13}
    sheets: dict[str, list[Row]] = {name: [] for name in COLUMNS}
    for number, swim in enumerate(SWIMS, start=1):
        shift = rng.normal(0, truth["clutch_sd_logit"])
        lids = ("shaded", "open") if rng.random() < 0.5 else ("open", "shaded")
        for side, method in zip("ab", lids, strict=True):
            batch = _batch(number, side, method, swim)
            odds = np.exp(shift) / (1 / truth["survival_to_day_28"][method] - 1)
            survival = beta_around(rng, odds / (1 + odds), truth["icc"])
            for name, rows in _tub(rng, truth, batch, survival, away).items():
                sheets[name] += rows
    sheets["Events"] = [
        {"started": CRASH[0], "ended": CRASH[1], "batch": "all", "what": "culture crash"},
        {"started": SWIMS[4] + 16 * DAY, "batch": "K5-a", "what": "heater off"},
    ]
    sheets["Events"][0]["note"] = "both microworm tubs soured; powdered egg until the spare took"
    sheets["Events"][1]["note"] = "plug left out after cleaning, 5 hours, 22 degrees at worst"
    for name in ("Daily", "Sizes", "Positions"):
        sheets[name].sort(key=lambda row: (row["date"], row.get("time", "")))
    for name, columns in COLUMNS.items():
        title = "Day book of the back-room rack, spring 2025" if name == "Daily" else ""
        log.sheet(name, columns, sheets[name], title=title)
    _mess_up(log, away)
    return log


def _batch(number: int, side: str, method: str, swim: date) -> Row:
    return {
        "batch": f"K{number}-{side}",
        "clutch": f"K{number}",
        "parents": PAIRS[number - 1],
        "method": method,
        "how_assigned": "random draw",
        "container": f"tub {2 * number - (side == 'a')}",
        "litres": 8,
        "place": "upper shelf" if number % 2 else "lower shelf",
        "water": "own",
        "spawned": swim - 8 * DAY,
        "hatched": swim - 5 * DAY,
        "free_swimming": swim,
        "started": swim,
        "count_how": "photo" if number > 2 else "eye",
        "ended": swim + 28 * DAY,
        "end_reason": "planned end",
    }


def _tub(
    rng: np.random.Generator, truth: dict[str, Any], batch: Row, survival: float, away: set[date]
) -> dict[str, list[Row]]:
    start, fry = batch["started"], int(rng.integers(28, 41))
    hazards = early_peak(survival, 28, truth["worst_age"])
    for age in hazards:
        if _cultures_down(start + age * DAY, age):
            hazards[age] *= truth["crash_multiplies_deaths_by"]
    looks = {age for age in hazards if start + age * DAY not in away and rng.random() > 0.05} | {28}
    removed = {int(age): 1 for age in rng.integers(8, 27, size=rng.integers(0, 2))}
    share = truth["share_of_deaths_found"]
    days = rear(rng, fry, hazards, found=share, looks=looks, removed=removed)
    daily = []
    for day in days:
        if day.dead is None and not day.removed and rng.random() < 0.4:
            continue  # nobody came near the tub, so the log has no row at all
        row = {"date": start + day.age * DAY, "batch": batch["batch"], "dead": day.dead}
        if day.removed:
            why = str(rng.choice(["runt", "sick", "measured"]))
            row |= {"removed": day.removed, "removed_why": why}
        if day.age in (14, 28) or (day.age == 21 and rng.random() < 0.5):
            row["alive"] = day.alive
        daily.append(row | _care(rng, row["date"], day.age))
    batch |= {"start_count": as_counted(rng, fry), "end_count": days[-1].alive}
    alive = {day.age: day.alive for day in days}
    sizes = _sizes(rng, truth, batch, alive)
    positions = _positions(rng, truth, batch, alive) if batch["method"] == "shaded" else []
    return {"Batches": [batch], "Daily": daily, "Sizes": sizes, "Positions": positions}


def _cultures_down(day: date, age: int) -> bool:
    return CRASH[0] <= day <= CRASH[1] and age < 15


def _care(rng: np.random.Generator, day: date, age: int) -> Row:
    changed = int(rng.choice([10, 15, 20])) if age % 2 else None
    down = _cultures_down(day, age)
    return {
        "food": "powdered egg" if down else "microworm" if age < 10 else "brine shrimp",
        "feeds": 2 if down else 4 if age < 14 else 3,
        "water_changed_percent": changed,
        "temp_c": round(float(25.2 + rng.normal(0, 0.35)), 1),
        "minutes": int(rng.integers(4, 8)) + (3 if changed else 0),
    }


def _sizes(
    rng: np.random.Generator, truth: dict[str, Any], batch: Row, alive: dict[int, int]
) -> list[Row]:
    """Measure 10 to 15 fry once a week, one by one or, one time in eight, as a group."""
    rate = truth["growth_per_day"][batch["method"]]
    rate += rng.normal(0, truth["growth_sd_between_tubs"])
    rows = []
    for age in (7, 14, 21, 28):
        fish = min(alive[age], int(rng.integers(10, 16)))
        middle = truth["length_at_start_mm"] * np.exp(rate * age)
        lengths = middle * np.exp(rng.normal(0, 0.06 + 0.002 * age, size=fish))
        row = {"date": batch["started"] + age * DAY, "batch": batch["batch"], "kind": "total"}
        if fish > 2 and rng.random() < 0.125:
            group = {"fish": fish, "length_mm": round(float(lengths.mean()), 2)}
            group["length_sd_mm"] = round(float(lengths.std(ddof=1)), 2)
            rows.append(row | group | {"note": "all off one photo"})
            continue
        for length in lengths.round(1):
            milligrams = 0.009 * length**3.05 * np.exp(rng.normal(0, 0.06))
            weighed = {"weight_mg": round(float(milligrams), 1)} if age == 28 else {}
            rows.append(row | {"length_mm": float(length)} | weighed)
    return rows


def _positions(
    rng: np.random.Generator, truth: dict[str, Any], batch: Row, alive: dict[int, int]
) -> list[Row]:
    """Scan a shaded tub twice a day now and then: under the lid, in the open, not seen."""
    rows, share = [], truth["share_in_shade"]
    for age in (2, 4, 7, 9, 11, 14):
        turned = 1 / (1 + np.exp(-(age - share["turns_at_day"]) / 1.2))
        mean = share["early"] + (share["late"] - share["early"]) * turned
        for time in ("09:30", "17:00"):
            hidden = int(rng.binomial(alive[age], 0.08))
            shaded = int(rng.binomial(alive[age] - hidden, beta_around(rng, mean, 0.05)))
            scan = {"date": batch["started"] + age * DAY, "time": time, "batch": batch["batch"]}
            lid = {"place": "shaded", "seen": shaded, "not_seen": hidden, "area_percent": 40}
            light = {"place": "open", "seen": alive[age] - hidden - shaded, "area_percent": 60}
            rows += [scan | lid, scan | light]
    return rows


def _mess_up(log: Log, away: set[date]) -> None:
    """Plant what real logs have, where it does no harm."""
    daily = log.rows["Daily"]
    batch = next(b for b in log.rows["Batches"] if isinstance(b["start_count"], str))
    written = batch["start_count"]
    log.plant("Batches", batch, "NOTE", "counts as ranges", start_count=written)
    log.plant("Daily", first(daily, dead=2), "ASK", "words in a count", dead="2 dead?")
    log.plant("Daily", first(daily, batch="K2-a", dead=0), "", "a word for nought", dead="none")
    row = first(daily, batch="K3-b", dead=1)
    log.plant("Daily", row, "FIX", "a name with other letters and a space", batch="k3-B ")
    row = first(daily, batch="K4-a", dead=0)
    log.plant("Daily", row, "FIX", "a decimal comma", temp_c=str(row["temp_c"]).replace(".", ","))
    row = first(daily, batch="K5-b", dead=0)
    log.plant("Daily", row, "", "a date written as text", date=f"{row['date']:%d.%m.%Y}")
    notes = iter(NOTES)
    for row in daily:
        if row.get("removed") or row.get("dead") in (4, 5):
            row["note"] = next(notes, None)
    absence = max(day for day in away if day < date(2025, 3, 9))
    words = {"date": "away to see my sister, the neighbour only fed"}
    log.insert("Daily", first(daily, date=absence + DAY), words, "FIX", "a row of words only")
    log.insert("Daily", first(daily, date=date(2025, 4, 3)), {}, "", "an empty row")
    rounds = {"date": date(2025, 3, 12), "batch": "All", "water_changed_percent": 10, "minutes": 15}
    rounds["note"] = "topped up every tub after the meeting"
    log.insert("Daily", first(daily, date=date(2025, 3, 13)), rounds, "", "a row for every batch")
    total = sum(row["dead"] for row in daily if isinstance(row.get("dead"), int))
    log.append("Daily", {"date": "Total", "dead": total}, "FIX", "a row of totals")
