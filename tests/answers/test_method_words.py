"""What is said of methods, work, places and interruptions: nothing above the claim level."""

from __future__ import annotations

import re
from dataclasses import replace
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
from rearkit.batch.remark import Remark
from rearkit.words import comparisons
from rearkit.design.claims import Claim
from rearkit.words.remarks import sentence
from tests.logs import batch, day, write_log

MODULES = (effort, growth, interruption, methods, place_use)  # survival has a test of its own
TEMPLATES = [
    (m.__name__.split(".")[-2], key, m.HEADLINES[key]) for m in MODULES for key in m.HEADLINES
]

# words that no level allows, and words that need a level of at least so much
NEVER = (
    r"\b(because|caus\w+|effect|prov(es?|en|ed)|proof|significan\w+|due to|thanks to|improv\w+|"
    r"helps?|works?|leads? to|results? in|no difference|no effect|clearly|certainly)\b"
)
NEEDS = {
    1: r"\bpattern\b",
    2: r"\b(association|goes? together|goes with|go together)\b",
    3: r"\bhint\b",
    4: r"\b(fair test|kept to|kept away|no worse|neither better|better|worse)\b",
}


def level_of(key: str) -> int:
    return int(key[0]) if key[0].isdigit() else 0


def above(text: str, level: int) -> list[str]:
    """List the words of a sentence that its level does not allow."""
    found = re.findall(NEVER, text.lower())
    for needed, words in NEEDS.items():
        if needed > level:
            found += re.findall(words, text.lower())
    return [str(f) for f in found]


@pytest.mark.parametrize(("module", "key", "text"), TEMPLATES, ids=lambda x: str(x)[:24])
def test_no_headline_template_goes_above_its_level(module: str, key: str, text: str) -> None:
    text = text.replace("No pattern to speak of", "").replace("work for", "")
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
    assert re.search(r"not settle|a pattern, not more", text.lower()), (module, key)


def test_claims_name_their_level_and_no_higher_one() -> None:
    for texts in (comparisons.CLAIMS, place_use.CLAIMS):
        for level, text in texts.items():
            assert not above(text, level), text
    assert set(comparisons.CLAIMS) == {0, 1, 2, 3, 4} == set(place_use.CLAIMS)


@pytest.mark.parametrize("key", methods.MARGIN)
def test_only_a_fair_test_calls_methods_as_good_as_each_other(key: str) -> None:
    says_so = re.search(r"no worse|neither better nor worse", methods.MARGIN[key])
    assert bool(says_so) == key.endswith(".fair")
    assert not re.search(NEVER, methods.MARGIN[key])


def test_other_templates_never_speak_of_causes() -> None:
    texts = [*place_use.AFTER.values(), *interruption.CHANGE.values(), *effort.PARTS.values()]
    texts += [*interruption.EXCESS.values(), *interruption.PLACEBO.values(), *methods.TRAP.values()]
    for text in texts:
        assert not re.search(NEVER, text.lower().replace(" work", "")), text


def test_facts_of_the_trade_carry_their_label() -> None:
    trade = [t for kind in ("feed", "any") for t in interruption.PRACTICE[kind]]
    trade += [interruption.PRACTICE["air"][0], place_use.PRACTICE, effort.OLDER["rule"]]
    trade.append(remarks_interruption.SENTENCES["first_week"])
    assert all("common practice, no source" in text for text in trade)


# ---- every remark can be said ----------------------------------------------------------------

SAMPLES: dict[str, dict] = {
    "no_minutes": {"units": ["A"]},
    "minutes_partly": {"units": ["A"], "share": 0.5},
    "too_few_survivors": {"units": ["A"]},
    "no_price": {},
    "minutes_beside_main": {"main": "survival"},
    "place_assumed": {"place": "leaf"},
    "sides_swapped": {"batches": ["A"], "place": "leaf"},
    "sides_not_swapped": {"batches": ["A"], "place": "leaf"},
    "bare_sides": {"place": "left"},
    "followed_the_side": {"batches": ["A"]},
    "days_of_one": {"batch": "A"},
    "not_seen.holds": {"share": 0.1, "place": "leaf", "holds": "holds"},
    "not_seen.turns": {"share": 0.1, "place": "leaf", "holds": "turns"},
    "not_seen.none": {"share": 0.1, "place": "leaf", "holds": "none"},
    "not_seen_counted_back": {},
    "no_area": {"place": "leaf"},
    "scan_one_place": {"n": 2},
    "scan_nobody": {"n": 2},
    "clutch_shared": {"clutches": ["c"]},
    "use_is_not_benefit": {"place": "leaf"},
    "several_events": {"n": 2, "number": 1},
    "not_dealt_out": {},
    "no_controls": {},
    "controls_on_other_days": {"batches": ["A"]},
    "controls_without_deaths": {},
    "deaths_shared": {"n": 2.5},
    "missing_around": {"missing": 3.0},
    "one_container_holds_most": {"batch": "A", "share": 0.7},
    "first_week": {"batches": ["A"]},
    "other_events_inside": {"batches": ["A"]},
    "growth_not_measured": {},
    "several_methods": {"methods": ["a", "b"], "usual": "c"},
    "methods_impossible": {"methods": ["a"]},
    "main_not_declared": {"main": "survival"},
    "main_not_measured": {"outcome": "length", "tested": "a"},
    "outcome_changed": {},
    "unequal_looking": {"usual": "a", "tested": "b", "days_usual": 1.0, "days_tested": 3.0},
    "unseen_before_first": {"batches": ["A"]},
    "no_margin": {},
    "margin_not_before": {},
    "others_adjusted": {},
    "length_of_survivors": {},
    "length_on_other_day": {"day": 21.0, "judged": 28.0},
    "long_enough_chosen": {"mm": 9.5},
    "outcome_lacks_units": {"outcome": "length", "units": ["A"]},
    "sign_turns": {"ways": [("without", "A"), ("landmark", "7")]},
    "hangs_on_one.clear": {"units": ["A and B"], "clear": True},
    "hangs_on_one.open": {"units": ["A"], "clear": False},
}
OURS = (
    remarks_effort.SENTENCES
    | remarks_interruption.SENTENCES
    | remarks_methods.SENTENCES
    | remarks_place_use.SENTENCES
)


def test_every_remark_is_tried() -> None:
    assert set(SAMPLES) == set(OURS)


@pytest.mark.parametrize("key", SAMPLES)
def test_every_remark_is_a_sentence_without_causes(key: str) -> None:
    text = sentence(Remark(code=key.split(".")[0], values=SAMPLES[key]))
    assert text[0].isupper()
    assert text.endswith(".")
    assert not re.search(r"[{}]|None|nan|\[", text)
    assert not re.search(NEVER, text.lower())


# ---- answers forced to every level -----------------------------------------------------------


def fair_log(folder: Path, *, plant=None):
    """Write a fair 4 v 4 trial in which every death was found, and plant one thing in it."""
    rows, daily = [], []
    for i in range(4):
        for arm, left in (("open", 20), ("shaded", 31)):
            name = f"{arm}{i}"
            rows.append(
                dict(batch(name, 40, left + i, method=arm, clutch=name, hatched=day(0)))
                | {"how_assigned": "random draw", "place": f"shelf {i % 2}", "water": "own"}
            )
            for d in (5, 28):
                dead = 40 - left - i if d == 5 else 0
                daily.append({"date": day(d), "batch": name, "dead": dead, "minutes": 10 + i})
    trial = {"usual": "open", "tested": "shaded", "main_outcome": "survival", "judged_on_day": 28}
    trial |= {"plan_written_on": day(-2), "looks_planned": 1}
    if plant is not None:
        plant(rows, daily, trial)
    return read_log(write_log(folder, batches=rows, daily=daily, trial=trial))


@pytest.mark.parametrize("level", range(5))
@pytest.mark.parametrize("settled", [True, False])
def test_no_answer_speaks_above_a_level_it_is_held_to(
    tmp_path: Path, level: int, settled: bool
) -> None:
    log = fair_log(tmp_path / "l")
    held = Claim(level=level, before=4, downgrades=())
    answer = compare_methods(log)
    first = answer.contrasts[0]
    main = replace(first.main, p_value=0.01 if settled else 0.5)
    first = replace(first, claim=held, outcomes=(main, *first.outcomes[1:]))
    answer = replace(answer, contrasts=(first,))
    work = replace(compare_effort(log), claim=held)
    said = [answer.headline, *answer.say("certainty").paragraphs]
    said += [*answer.say("margin").paragraphs, answer.figure().alt]
    for text in said:
        text = re.sub(r"of 20 fry in the work.*|'no difference'|as good as each other", "", text)
        text = re.sub(r"work(, minutes)?", "", text)
        assert not above(text.replace("No pattern", ""), level), text
    assert not above(re.sub(r"\bwork\b", "", work.headline), level), work.headline


# ---- planted, and not otherwise --------------------------------------------------------------


def _shelf(rows, daily, trial) -> None:
    for row in rows:
        row["place"] = f"{row['method']} shelf"


def _choice(rows, daily, trial) -> None:
    for row in rows:
        row["how_assigned"] = "my choice"


def _bodies(rows, daily, trial) -> None:
    for entry in daily:
        if entry["batch"].startswith("open"):
            entry["dead"] = min(entry["dead"], 2)


def _clock(rows, daily, trial) -> None:
    trial["age_from"] = "hatch"
    rows[0]["hatched"] = ""
    rows[0]["started"] = day(0)


def _cut_short(rows, daily, trial) -> None:
    rows[0] |= {"ended": day(10), "end_reason": "accident"}
    daily[:] = [d for d in daily if d["batch"] != "open0" or d["date"] <= day(10)]


def _one_missing(rows, daily, trial) -> None:
    rows[0]["end_count"] = 18


PLANTS = {
    "aliased": (_shelf, "could not be told apart|cannot be told apart"),
    "not_random": (_choice, "not dealt out by a random draw"),
    "missing_differs": (_bodies, "vanished without a body differs"),
    "unequal_clocks": (_clock, "counted from another event"),
    "plan_after_start": (lambda r, d, t: t.update(plan_written_on=day(2)), "made to fit"),
    "left_out_without_rule": (_cut_short, "no rule for leaving out"),
    "missing_fish": (_one_missing, "vanished without a body; they are counted as dead"),
    "main_not_declared": (lambda r, d, t: t.pop("main_outcome"), "No main outcome was declared"),
}
ALONG = {("missing_differs", "missing_fish")}  # what is planted brings this with it
STEPS = ("missing_differs", "unequal_clocks", "plan_after_start", "left_out_without_rule")


@pytest.mark.parametrize("what", PLANTS)
def test_what_is_planted_is_said_and_nothing_else(tmp_path: Path, what: str) -> None:
    plant, words = PLANTS[what]
    answer = compare_methods(fair_log(tmp_path / "l", plant=plant))
    said = " ".join(answer.limits)
    assert re.search(words, said)
    for other, (_, others) in PLANTS.items():
        if other != what and (what, other) not in ALONG:
            assert not re.search(others, said), other
    c = answer.first
    assert c is not None
    assert (what in c.claim.downgrades) == (what in STEPS)
    if what in STEPS:
        assert comparisons.STEPS[what] in " ".join(answer.say("certainty").paragraphs)
        assert c.claim.level == 3


def test_a_fair_trial_takes_no_step_down(tmp_path: Path) -> None:
    answer = compare_methods(fair_log(tmp_path / "l"))
    said = " ".join(answer.limits)
    assert answer.facts()["claim_level"] == 4
    assert answer.facts()["downgrades"] == []
    assert not [code for code, (_, words) in PLANTS.items() if re.search(words, said)]
    assert "Taken down by" not in " ".join(answer.say("certainty").paragraphs)


@pytest.mark.parametrize("settings", [{"day": 14.0}, {"main_outcome": "minutes"}])
def test_another_outcome_or_day_costs_a_step(tmp_path: Path, settings: dict) -> None:
    answer = compare_methods(fair_log(tmp_path / "l"), **settings)
    assert answer.facts()["downgrades"] == ["outcome_changed"]
    assert answer.facts()["claim_level"] == 3
    assert "other than the declared one" in " ".join(answer.say("certainty").paragraphs)


def test_a_look_more_than_planned_costs_a_step(tmp_path: Path) -> None:
    log = fair_log(tmp_path / "l")
    answer = compare_methods(log, earlier_looks=1)
    assert answer.facts()["downgrades"] == ["unplanned_look"]
    assert any("look 2" in text for text in answer.limits)
    work = compare_effort(log, earlier_looks=1)
    assert work.facts()["downgrades"] == ["unplanned_look"]


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
