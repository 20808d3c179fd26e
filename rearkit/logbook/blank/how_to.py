"""The first page of a blank log: how to fill it in, for somebody who has never kept one."""

from __future__ import annotations

HOW_TO_SHEET = "How to"

# (heading, lines under it)
HOW_TO: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "How to fill in this log",
        (
            "Two sheets are enough: Batches (one row for the fry of one clutch in one container) "
            "and Daily (one row for one batch on one day). Fill in the others if you can.",
            "Point at a heading to see what goes under it. Dark headings must be filled in.",
            "Do not rename the headings. Your own columns are welcome in Batches, to the right.",
        ),
    ),
    (
        "Before the fry go in",
        (
            "Write down your question, the two methods and the day on which you will judge them "
            "in the sheet Trial. A plan written beforehand is worth far more than one written "
            "afterwards.",
            "Let a coin or a draw say which container gets which method, even if it feels silly. "
            "Where you can, split every clutch so that both methods get a share of it.",
            "Give every batch a short name and write it the same way everywhere.",
        ),
    ),
    (
        "Counting",
        (
            "Write what you know: 40, or 30-36, or ~40, or unknown for a start that nobody "
            "counted. An honest range is better than a made-up number.",
            "Dead fish: if you looked and found none, write 0. Leave it blank if you did not look. "
            "That is the most useful habit in this log.",
            "Fry you took out alive go under removed, with the reason. Count all that are alive "
            "(alive) now and then, and on the last day.",
            "Some fish will vanish without a trace. That is normal, and the kit reckons with it.",
        ),
    ),
    (
        "Dates and decimals",
        (
            "Write dates as 2025-04-03: that can never be misread. One date a cell.",
            "Lengths are in millimetres, weights in milligrams, temperatures in degrees Celsius.",
        ),
    ),
    (
        "The fish come first",
        (
            "Decide beforehand at which losses you would stop, and write it in the sheet Trial. "
            "Every batch gets food, warmth and clean water, whatever the trial says.",
            "For sick fish, medicines or putting a fish down ask a veterinarian and keep to the "
            "rules where you live. For a school, a fair or a university ask for permission first.",
        ),
    ),
    (
        "What you get",
        (
            "rearkit check THIS-FILE says what it could not read, cell by cell. "
            "rearkit report THIS-FILE writes the report. Neither ever changes your log.",
        ),
    ),
)


def how_to_text() -> str:
    """Return the page as plain text, for a folder of CSV files.

    Returns
    -------
    str
        Headings and lines, with line breaks.
    """
    parts = [
        "\n".join([heading, "-" * len(heading), *(f"* {line}" for line in lines)])
        for heading, lines in HOW_TO
    ]
    return "\n\n".join(parts) + "\n"
