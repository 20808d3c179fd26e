"""Write the demo logs: three invented rearing logs with known true effects and planted mess.

Run ``python data_templates/make_demo_logs.py`` (``--out DIR`` for another place). It writes

``demo_shade_trial.xlsx``
    Six clutches of kribensis, each split over a shaded and an open tub by a random draw.
``demo_parents_or_hand.xlsx``
    Five broods left with their parents, counted from the day they hatch, and five reared by hand,
    first counted when they swim, five days later. The hazard at every age is THE SAME, so a
    comparison of each batch from its own first count flatters the hand; one from day 5 does not.
``demo_two_batches/``
    One keeper's diary as a folder of CSV files: two batches, nothing to compare.

The club, its members and every fish are invented. The truth behind the figures stands below, and
an analysis may be held against it. The seeds were CHOSEN, tried upwards from 1: for shade the first
with an estimate within 3 points of the true 21 and p below .05, because the demo is to show a
visible effect (of the first 30 seeds 28 can hold the mess, and 12 of those had p below .05); for
parents the first with no more than 3 points left from day 5, because it is to show the trap and the
way out. The logs show what the kit says of such logs; they are no evidence about shade, parents or
kribensis.

The mess is planted (title lines, a count turned into a date, "2 dead?" and so on), and listed cell
by cell in ``tests/reference/demo_findings.json``, which ``--findings FILE`` writes. A planted item
without a severity is one that a reader may pass over in silence, but must read rightly.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from demo_making.diary import two_batches
from demo_making.parents import parents_or_hand
from demo_making.shade import shade_trial
from demo_making.sheets import Log, write_folder, write_workbook

HERE = Path(__file__).resolve().parent
CLUB = "Quillmere Fish Circle (an invented club)"

# The truth of the three simulations. Ages are days on the clock of each log.
SHADE = {
    "seed": 8,
    "survival_to_day_28": {"open": 0.55, "shaded": 0.76},  # of an average clutch, without the crash
    "clutch_sd_logit": 0.5,  # clutches differ: standard deviation on the logit scale
    "icc": 0.08,  # two tubs of one clutch and method would still differ by this much
    "share_of_deaths_found": 0.9,
    "worst_age": 4.0,  # most are lost around first feeding, this many days after swimming
    "crash_multiplies_deaths_by": 2.5,  # while the cultures are down, in fry younger than 15 days
    "growth_per_day": {"open": 0.0325, "shaded": 0.0305},  # of the logarithm of length
    "growth_sd_between_tubs": 0.0008,
    "length_at_start_mm": 4.8,
    "share_in_shade": {"early": 0.74, "late": 0.34, "turns_at_day": 9.5},  # the lid covers 0.40
}
PARENTS = {
    "seed": 4,
    "survival_0_to_5": 0.42,  # hatching to free swimming, the same for both methods
    "survival_5_to_30": 0.60,  # the same for both methods
    "icc": 0.04,
    "share_of_deaths_found": {"parents": 0.25, "hand": 0.92},  # parents clear the dead away
}
DIARY = {"seed": 1, "survival_to_day_28": 0.70, "share_of_deaths_found": 0.85}


def make_logs() -> tuple[Log, Log, Log]:
    """Make the three logs in memory: shade trial, parents or hand, two batches."""
    return shade_trial(SHADE, CLUB), parents_or_hand(PARENTS, CLUB), two_batches(DIARY, CLUB)


def write_logs(folder: Path) -> list[dict[str, object]]:
    """Write the demo logs into a folder and return what was planted in them."""
    shade, parents, diary = make_logs()
    for log in (shade, parents):
        write_workbook(log, folder / log.name)
    write_folder(diary, folder / diary.name)
    return [finding for log in (shade, parents, diary) for finding in log.findings()]


def main() -> None:
    """Read the command line and write the files."""
    parser = argparse.ArgumentParser(description="Write the demo logs.")
    parser.add_argument("--out", type=Path, default=HERE, help="folder to write into")
    parser.add_argument("--findings", type=Path, help="JSON file for the list of planted mess")
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    planted = write_logs(options.out)
    if options.findings:
        text = json.dumps(planted, indent=1, ensure_ascii=False)
        options.findings.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
