"""What limits an answer about an interruption."""

SENTENCES: dict[str, str] = {
    "several_events": "The log has {n} events; this page is about number {number} of the sheet "
    "Events.",
    "not_dealt_out": "Nobody drew lots for when the event came and on whom, so whatever else went "
    "on in those days may be behind a change.",
    "no_controls": "No container passed the same age without such an event, so what the age of the "
    "fry alone would have done cannot be told.",
    "controls_on_other_days": "Some containers it is compared with ({batches}) passed the same "
    "ages on other days, with whatever those days brought.",
    "controls_without_deaths": "In the containers of the same age nobody died in either window, so "
    "they cannot serve as a measure.",
    "deaths_shared": "Some dead fish were found in looks that reach over the edge of a window; "
    "they are shared out by days (deaths in such looks: {n}).",
    "missing_around": "Around the event {missing} vanished without a body; nobody knows when they "
    "died, so they are not in the rates.",
    "one_container_holds_most": "One container ({batch}) has {share} of the deaths after the "
    "event, so the range is too narrow: its deaths did not fall independently.",
    "first_week": "The days before the event lie in the first week of some batches ({batches}), "
    "when losses are said to be heaviest (common practice, no source): a fall was due anyway.",
    "other_events_inside": "Another interruption fell into the windows of {batches}.",
    "growth_not_measured": "No container was measured on both sides of the event.",
}
