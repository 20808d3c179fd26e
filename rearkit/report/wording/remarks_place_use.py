"""What limits an answer about the use of a place."""

from typing import Any

SENTENCES: dict[str, str] = {
    "place_assumed": "The log does not say which place the question is about; '{place}' is taken.",
    "sides_swapped": "In {batches} the place '{place}' changed sides during the record, which "
    "tells a liking for the place from a liking for the side.",
    "sides_not_swapped": "In {batches} the place '{place}' stayed on one side, so a liking for "
    "that side would look the same. Swapping sides halfway would tell.",
    "bare_sides": "The scans name places by their side and a swap was noted, so what lay on "
    "'{place}' is followed to the other side from then on.",
    "followed_the_side": "In {batches} the fry were above the share on one side and below it on "
    "the other: they followed the side, not the place.",
    "days_of_one": "All scans come from {batch}: its days are compared, and the answer is about "
    "this container only.",
    "not_seen.holds": "About {share} of the fry were not seen in a scan. Wherever they were, the "
    "mean keeps to its side of the place's share.",
    "not_seen.turns": "About {share} of the fry were not seen in a scan. If all of them were on "
    "the other side of the line, the result would turn round.",
    "not_seen.none": "About {share} of the fry were not seen in a scan; the table shows how far "
    "they could move the shares.",
    "not_seen_counted_back": "Where nobody wrote down how many were not seen, it is worked out "
    "from the account of the fish, as at most those that were still alive.",
    "no_area": "How much of the container '{place}' takes up was not written down (area_percent), "
    "and a half is not assumed, so nothing is tested.",
    "scan_one_place": "Scans that name one place only are left out: {n}.",
    "scan_nobody": "Scans in which no fry was seen at all are left out: {n}.",
    "clutch_shared": "Several of the containers hold fry of one clutch ({clutches}), so they are "
    "not quite separate.",
    "use_is_not_benefit": "Where fry are is not what does them good: whether more of them live or "
    "grow with '{place}' is a question of its own.",
}


def variant(code: str, values: dict[str, Any]) -> str:
    """Return the key of the sentence where a code has more than one."""
    return f"{code}.{values['holds']}" if code == "not_seen" else code
