"""Logs drawn at random from the ways in which keepers fill in their cells, right and wrong."""

from __future__ import annotations

from typing import Any

import numpy as np

from tests.logs import day

STARTS = ("{n}", "~{n}", "{n}?", "{n}-{m}", "{n} to {m}", "unknown", "", "approx {n}", "{n}+")
DEADS = ("{n}", "{n}", "{n}", "0", "0", "", "{n}-{m}", "~{n}", "{n}+", "?", "none", "a few", "0?")
ALIVES = ("{n}", "{n}", "{n}", "~{n}", "{n}-{m}", "")
EVENTS = ("feed gap", "power cut", "heater off", "cleaning", "other", "culture crash", "moved")
CLUTCHES = ("K{i}", "K {i}", "K-{i}", "K0{i}", "k{i}", "clutch {i}")
LAST = 28


def typed(rng: np.random.Generator, ways: tuple[str, ...], n: int) -> str:
    """Write a number in one of the ways in which people write numbers."""
    return str(rng.choice(ways)).format(n=max(n, 0), m=max(n, 0) + int(rng.integers(1, 6)))


def draw_log(rng: np.random.Generator) -> dict[str, Any]:
    """Draw the sheets of one log; they are what ``write_log`` takes.

    Every habit is drawn once a log, so that many logs are tidy in most respects; within a habit
    the cells are drawn one by one.
    """
    odd = {name: bool(rng.random() < 0.3) for name in ("starts", "deads", "ends", "names")}
    rare = {
        name: bool(rng.random() < 0.12)
        for name in ("years", "no_day", "late_plan", "early_day", "third", "left_out", "all_dead")
    }
    moves = str(rng.choice(["none", "none", "none", "to", "from", "both", "together"]))
    split = bool(rng.random() < 0.4)
    per_arm = int(rng.choice([1, 2, 3, 4, 6, 6, 8]))
    effect = float(rng.choice([0.0, 0.2, 0.4]))
    methods = ["open", "shade", *(["tank"] if rare["third"] else [])]
    parents = str(rng.choice(["none", "own", "arm", "half"]))
    water = str(rng.choice(["none", "own", "arm", "mixed"]))
    equal = bool(rng.random() < 0.1)
    count_how = rng.choice(["", "eye", "photo", "scoop", "counted"], size=3)
    sheets: dict[str, Any] = {
        name: [] for name in ("batches", "daily", "sizes", "positions", "events")
    }
    for arm, method in enumerate(methods):
        for i in range(per_arm):
            clutch = i if split else i + arm * per_arm
            way = str(rng.choice(CLUTCHES)) if odd["names"] else "K{i}"
            name = f"{method}{i + 1}"
            start = int(rng.choice([3, 12, 20, 40, 60]))
            share = 0.6 if equal else float(np.clip(rng.normal(0.45 + effect * arm, 0.1), 0, 1))
            row: dict[str, object] = {
                "batch": name,
                "clutch": way.format(i=clutch + 1),
                "method": method,
                "how_assigned": rng.choice(["random draw", "random draw", "my choice", ""]),
                "litres": rng.choice(["10", "20", ""]),
                "count_how": count_how[arm],
                "started": day(int(rng.integers(0, 3))) if odd["starts"] else day(0),
                "hatched": day(0),
                "start_count": typed(rng, STARTS, start) if odd["starts"] else start,
            }
            if parents != "none" and not (parents == "half" and i % 2):
                row["parents"] = f"pair {method if parents == 'arm' else clutch}"
            if water != "none":
                row["water"] = {"own": "own", "arm": f"system {method}"}.get(
                    water, rng.choice(["own", "rack", ""])
                )
            if rare["years"] and rng.random() < 0.3:
                row["started"] = rng.choice(["0225-04-01", "", "9999-12-31", "2025-04-31"])
            keep(rng, sheets, row, start, share, odd, rare, moves, str(methods[0]))
    if moves == "together" and per_arm > 1:
        put_together(rng, sheets, methods)
    for _ in range(int(rng.integers(0, 3))):
        a = int(rng.integers(1, LAST))
        names = [r["batch"] for r in sheets["batches"]]
        sheets["events"].append(
            {
                "started": day(a),
                "ended": rng.choice([day(a + 1), ""]),
                "batch": rng.choice(["all", names[0], "shelf 2"]),
                "what": rng.choice(EVENTS),
                "note": rng.choice(["", "swapped the sponge filter"]),
            }
        )
    return sheets | {"trial": trial_fields(rng, rare)}


def trial_fields(rng: np.random.Generator, rare: dict[str, bool]) -> dict[str, object]:
    """Draw what the Trial sheet says."""
    trial: dict[str, object] = {"age_from": rng.choice(["start", "hatch"])}
    if rng.random() < 0.8:
        trial |= {"usual": "open", "tested": "shade"}
    if not rare["no_day"]:
        trial["judged_on_day"] = 3 if rare["early_day"] else LAST
    trial["plan_written_on"] = day(5) if rare["late_plan"] else day(-3)
    if rng.random() < 0.3:
        trial["exclusions"] = rng.choice(["leaks", "tubs that spoil it", "none"])
    if rng.random() < 0.3:
        trial["counted_blind"] = rng.choice(["yes", "no"])
    if rng.random() < 0.2:
        trial["main_outcome"] = rng.choice(["survival", "length", "minutes"])
    if rng.random() < 0.3:
        trial |= {"size_to_move_mm": 12, "most_fish_per_litre": 3}
    return trial


def keep(
    rng: np.random.Generator,
    sheets: dict[str, Any],
    row: dict[str, object],
    start: int,
    share: float,
    odd: dict[str, bool],
    rare: dict[str, bool],
    moves: str,
    usual: str,
) -> None:
    """Look after one batch to the end and write its rows."""
    name = str(row["batch"])
    alive = start
    leave = int(rng.integers(8, 20)) if moves in ("to", "from", "both") else LAST
    lengths = bool(rng.random() < 0.6)
    for age in range(4, LAST, int(rng.choice([4, 7, 9]))):
        died = int(rng.binomial(alive, max(1 - share, 0.0) / 4))
        gone = int(rng.binomial(alive - died, 0.1)) if rng.random() < 0.15 else 0
        found = died if rng.random() < 0.7 else int(rng.binomial(died, 0.5))
        alive -= died + gone
        where = name if age < leave or moves == "none" else f"{name} big"
        visit: dict[str, object] = {
            "date": day(age),
            "batch": where,
            "dead": typed(rng, DEADS, found) if odd["deads"] else found,
            "minutes": int(rng.integers(2, 9)),
        }
        if gone:
            why = ["sold", "runt", "sick", "measured", ""]
            visit |= {"removed": gone, "removed_why": rng.choice(why)}
        if rng.random() < 0.2:
            visit["alive"] = typed(rng, ALIVES, alive)
        if rng.random() < 0.02:
            visit["added"] = int(rng.integers(1, 10))
            alive += int(str(visit["added"]))
        sheets["daily"].append(visit)
        if moves == "none" and lengths:
            measure(rng, sheets, name, age, alive)
        scan(rng, sheets, where, age, alive)
    ended = ending(rng, alive, odd, rare)
    if rare["left_out"] and rng.random() < 0.2:
        row["left_out"] = rng.choice(["leaks", "fungus"])
    if moves in ("to", "from", "both"):
        move(rng, sheets, row, ended, leave, moves)
        return
    sheets["batches"].append(row | ended)


def measure(
    rng: np.random.Generator, sheets: dict[str, Any], name: str, age: int, alive: int
) -> None:
    """Measure four fish, or as many as are left."""
    mm = 5 + age * float(rng.normal(0.3, 0.02))
    sheets["sizes"] += [
        {"date": day(age), "batch": name, "length_mm": round(mm + float(e), 1)}
        for e in rng.normal(0, 0.4, size=min(4, alive))
    ]


def scan(
    rng: np.random.Generator, sheets: dict[str, Any], where: str, age: int, alive: int
) -> None:
    """Look now and then at how many fish are in the moss."""
    if alive and rng.random() < 0.2:
        seen = int(rng.integers(0, alive + 1))
        row = {"date": day(age), "batch": where, "place": "moss", "seen": seen}
        row |= {"not_seen": alive - seen, "area_percent": rng.choice(["20", ""])}
        sheets["positions"].append(row)


def ending(
    rng: np.random.Generator, alive: int, odd: dict[str, bool], rare: dict[str, bool]
) -> dict[str, object]:
    """Draw how and when a batch ended, and what was written of it."""
    end = int(rng.choice(["0", "0", "1"]))
    late = LAST + (end if rng.random() < 0.2 else 0)
    final = str(alive)
    if odd["ends"]:
        final = typed(rng, ALIVES, alive)
    ended: dict[str, object] = {"ended": day(late), "end_count": final, "end_reason": "planned end"}
    if odd["ends"] and rng.random() < 0.3:
        reasons = ["accident", "welfare stop", "rehomed", "all died", ""]
        ended |= {"end_reason": rng.choice(reasons), "ended": day(int(rng.integers(10, 27)))}
    elif odd["ends"] and rng.random() < 0.2:
        ended = {}  # still running
    if rare["all_dead"] and rng.random() < 0.4:
        ended |= {"end_count": rng.choice(["0", ""]), "end_reason": "all died", "ended": day(LAST)}
    return ended


def move(
    rng: np.random.Generator,
    sheets: dict[str, Any],
    row: dict[str, object],
    ended: dict[str, object],
    leave: int,
    moves: str,
) -> None:
    """Move what is left of a batch to a bigger tub, told at one end, at the other, or at both."""
    name = str(row["batch"])
    before = [v for v in sheets["daily"] if v["batch"] == name]
    lost = sum(int(v["dead"]) for v in before if str(v["dead"]).isdigit())
    lost += sum(int(v.get("removed", 0)) for v in before)
    start = str(row["start_count"])
    left = max(int(start) - lost, 0) if start.isdigit() else ""
    bigger = {k: v for k, v in row.items() if k != "hatched"}
    bigger |= {"batch": f"{name} big", "started": day(leave), "start_count": left}
    bigger |= ended | {"hatched": row["hatched"]}
    if moves in ("from", "both"):
        bigger["from_batch"] = name
    sheets["batches"] += [
        row
        | {"ended": day(leave), "end_reason": "moved", "end_count": rng.choice([str(left), ""])},
        bigger,
    ]
    if moves in ("to", "both"):
        sheets["daily"].append(
            {"date": day(leave), "batch": name, "removed": left, "removed_to": f"{name} big"}
        )


def put_together(rng: np.random.Generator, sheets: dict[str, Any], methods: list[str]) -> None:
    """Put the last fry of one tub in with those of another, of its own method or of another."""
    names = [str(r["batch"]) for r in sheets["batches"]]
    source, target = (str(x) for x in rng.choice(names, size=2, replace=False))
    n = int(rng.integers(1, 5))
    age = int(rng.integers(10, 25))
    sheets["daily"].append({"date": day(age), "batch": source, "removed": n, "removed_to": target})
    if rng.random() < 0.5:
        sheets["daily"].append({"date": day(age), "batch": target, "added": n})
    for row in sheets["batches"]:
        if row["batch"] == source and rng.random() < 0.5:
            row |= {"ended": day(age), "end_count": 0, "end_reason": "moved"}
