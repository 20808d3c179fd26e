"""The log check in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rearkit.words.numbers import count, listed

if TYPE_CHECKING:
    from rearkit.answers.log_check.answer import LogCheckAnswer

HEADLINES = {
    "clean": "The log adds up: {batches}, nothing to ask.",
    "asks": "The log can be used; {asks} should be settled first ({batches}).",
    "stops": "Part of the log cannot be used: {stopped}.",
}


def headline(answer: LogCheckAnswer) -> str:
    """Say in one sentence whether the log is fit to be asked anything."""
    severities = answer.findings["severity"]
    asks = int((severities == "ASK").sum())
    stops = int((severities == "STOP").sum())
    batches = count(len(answer.account), "batch", "batches")
    if answer.stopped or stops:
        parts = []
        if answer.stopped:
            names = listed(answer.stopped)
            parts.append(f"{'batch' if len(answer.stopped) == 1 else 'batches'} {names} left out")
        rows = stops - len(answer.stopped)
        if rows > 0:
            parts.append(f"{count(rows, 'row')} left out")
        if asks:
            parts.append(f"{count(asks, 'question')} to settle")
        return HEADLINES["stops"].format(stopped=listed(parts))
    if asks:
        asked = count(asks, "question")
        return HEADLINES["asks"].format(asks=asked, batches=batches)
    return HEADLINES["clean"].format(batches=batches)
