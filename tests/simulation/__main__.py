"""Run the simulation of log files: ``python -m tests.simulation --runs 1000 --out FILE.md``."""

from __future__ import annotations

import argparse
from pathlib import Path

from tests.simulation.conditions import CONDITIONS
from tests.simulation.judging import run
from tests.simulation.table import table_of, write_table


def main() -> None:
    """Run every condition, or those whose names hold a word, and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.simulation", description=__doc__)
    parser.add_argument("--runs", type=int, default=1_000, help="logs a condition")
    parser.add_argument("--out", type=Path, help="a new file, or one that holds the two markers")
    parser.add_argument("--only", default="", help="conditions whose names hold this")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="a folder for the logs that went wrong")
    asked = parser.parse_args()
    conditions = [c for c in CONDITIONS.values() if asked.only in c.name]
    if not conditions:
        parser.error(f"no condition is called like {asked.only!r}: {'; '.join(CONDITIONS)}")
    tallies = {}
    for condition in conditions:  # one by one, so that a long run shows where it is
        tallies |= run([condition], asked.runs, processes=asked.processes, keep=asked.keep)
        tally = tallies[condition.name]
        print(
            f"{condition.name}: {tally.runs} logs, settled {tally.settled}, ranges that hold "
            f"{tally.held} of {tally.ranges}, exceptions {tally.errors.total()}, "
            f"{1000 * tally.seconds / tally.pages if tally.pages else 0:.0f} ms a page",
            flush=True,
        )
    table = table_of(tallies)
    print(table)
    if asked.out is not None:
        write_table(asked.out, table)


if __name__ == "__main__":
    main()
