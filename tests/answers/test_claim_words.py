"""What is said of growth, methods, work, places and interruptions: nothing above its level."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from rearkit import (
    compare_effort,
    compare_methods,
    cost_of_interruption,
    read_log,
    use_of_place,
)
from rearkit.answers.effort import words as effort
from rearkit.answers.growth import words as growth
from rearkit.answers.interruption import words as interruption
from rearkit.answers.methods import words as methods
from rearkit.answers.place_use import words as place_use
from rearkit.words import comparisons
from tests.answers.claim_levels import NEVER, above
from tests.logs import batch, day, write_log

MODULES = (effort, growth, interruption, methods, place_use)  # survival has a test of its own
TEMPLATES = [
    (m.__name__.split(".")[-2], key, m.HEADLINES[key]) for m in MODULES for key in m.HEADLINES
]


def level_of(key: str) -> int:
    return int(key[0]) if key[0].isdigit() else 0


@pytest.mark.parametrize(("module", "key", "text"), TEMPLATES, ids=lambda x: str(x)[:24])
def test_no_headline_template_goes_above_its_level(module: str, key: str, text: str) -> None:
    text = text.replace("work for", "")
    level = level_of(key)
    if module == "effort":
        text = re.sub(r"\bwork\b", "", text)  # the work of the keeper
    assert not above(text, level), (module, key)


@pytest.mark.parametrize(
    ("module", "key", "text"),
    [t for t in TEMPLATES if t[1].endswith(".open")],
    ids=lambda x: str(x)[:24],
)
def test_what_is_open_says_that_it_is_not_settled(module: str, key: str, text: str) -> None:
    assert re.search(r"not settle|too little to go on", text.lower()), (module, key)


def test_claims_name_their_level_and_no_higher_one() -> None:
    for texts in (comparisons.CLAIMS, place_use.CLAIMS):
        for level, text in texts.items():
            assert not above(text, level), text
    assert set(comparisons.CLAIMS) == {0, 1, 2, 3, 4} == set(place_use.CLAIMS)


def test_other_templates_never_speak_of_causes() -> None:
    texts = [*place_use.AFTER.values(), interruption.EXPECTED, *effort.SURVIVORS.values()]
    texts += methods.TRAP.values()
    for text in texts:
        assert not re.search(NEVER, text.lower().replace(" work", "")), text


def test_facts_of_the_trade_carry_their_label() -> None:
    trade = [t for kind in ("feed", "any") for t in interruption.PRACTICE[kind]]
    trade += [interruption.PRACTICE["air"][0], place_use.PRACTICE, effort.OLDER["rule"]]
    trade.append(interruption.SENTENCES["first_week"])
    assert all("common practice, no source" in text for text in trade)


def test_names_from_a_log_are_escaped(tmp_path: Path) -> None:
    rows = [batch(f"A{i}", 40, 30, method=m) for i, m in enumerate(("<b>a</b>", "b"))]
    daily = [{"date": day(3), "batch": r["batch"], "dead": 1, "minutes": 5} for r in rows]
    positions = [
        {"date": day(3), "batch": "A0", "place": p, "seen": 5, "area_percent": 50}
        for p in ("<i>leaf</i>", "open")
    ]
    events = [{"started": day(3), "batch": "all", "what": "feed gap", "note": "<script>x</script>"}]
    log = read_log(
        write_log(tmp_path / "l", batches=rows, daily=daily, positions=positions, events=events)
    )
    place = use_of_place(log, place="<i>leaf</i>")
    for answer in (compare_methods(log), compare_effort(log), place, cost_of_interruption(log)):
        shown = answer._repr_html_() + answer.readable()._repr_html_() + answer.figure().html()
        assert not re.search(r"<(b|i|script)>", shown)
    assert "<script>" not in cost_of_interruption(log).readable("timeline")._repr_html_()
