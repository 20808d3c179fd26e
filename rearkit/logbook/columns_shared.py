"""The columns that several sheets have in common."""

from __future__ import annotations

from rearkit.logbook.declare import Column

NOTE = Column(
    name="note",
    kind="text",
    help="Anything worth remembering, in your own words.",
    example="saw two swimming upside down",
    synonyms=("notes", "remark", "remarks", "comment", "comments"),
)
BATCH = Column(
    name="batch",
    kind="text",
    help="The name of the batch, spelled as in the sheet Batches.",
    example="K1-shade",
    required=True,
    synonyms=("batch id", "batch name", "batch no", "batch number", "group"),
    joined=True,
)
DATE = Column(
    name="date",
    kind="date",
    help="The day you looked; 2025-04-03 can never be misread.",
    example="2025-04-03",
    required=True,
    synonyms=("day", "when", "date of visit"),
)
