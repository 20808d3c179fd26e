"""What a log cannot show of growth reaches no verdict: from the file to the sentence."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

import numpy as np
import pytest

from rearkit import Logbook, check_log, compare_growth, compare_methods, compare_survival, read_log
from rearkit.answers.growth.answer import GrowthAnswer
from rearkit.stats.growth.curves import CURVES
from tests.answers.growth_logs import size
from tests.evidence.trials import DAY, TRIAL, tub
from tests.logs import Row, day, write_log

MEASURED = (7, 14, 21, 28)
OFFSETS = (-1.0, -0.2, 0.3, 0.9)


def fish(name: str, at: Callable[[float], float], days: Iterable[int] = MEASURED) -> list[Row]:
    """Return four fish of one batch on every day, about its mean."""
    return [size(name, on, round(at(on) + off, 3)) for on in days for off in OFFSETS]


def read(folder: Path, batches: Sequence[Row], sizes: Sequence[Row], **more: object) -> Logbook:
    """Write a trial whose main outcome is length, and read it."""
    daily = more.pop("daily", ())
    trial = {k: v for k, v in (TRIAL | {"main_outcome": "length"} | more).items() if v != ""}
    path = write_log(folder / "log", batches=batches, daily=daily, sizes=sizes, trial=trial)
    return read_log(path)


def trial_of(
    folder: Path,
    n: int = 4,
    *,
    gain: float = 1.5,
    ends: tuple[object, object] = (30, 30),
    change: Callable[[list[dict]], object] = lambda rows: None,
    **more: object,
) -> Logbook:
    """Read ``n`` against ``n`` clutches of 40, the tested longer by so many mm on every day."""
    rows = [
        tub(f"{arm}{i}", arm, 40, end, clutch=f"{arm} clutch {i}")
        for arm, end in zip(("open", "shade"), ends, strict=True)
        for i in range(n)
    ]
    change(rows)
    sizes = [
        one
        for i in range(n)
        for arm, up in (("open", 0.0), ("shade", gain))
        for one in fish(f"{arm}{i}", lambda on, up=up, i=i: 4.0 + 0.25 * on + 0.1 * i + up)
    ]
    return read(folder, rows, sizes, **more)


def codes(answer: GrowthAnswer) -> list[str]:
    return [remark.code for remark in answer.remarks]


# ---- one unit of length for the sheet -------------------------------------------------------


def test_a_batch_that_grows_fivefold_is_not_read_as_centimetres(tmp_path: Path) -> None:
    rows = [tub("open0", "open", 40, 30, clutch="a"), tub("shade0", "shade", 40, 30, clutch="b")]
    quick = [size("open0", 14, 2.5), size("open0", 28, 12.9)]
    slow = [size("shade0", 14, 6.0), size("shade0", 28, 12.5)]
    log = read(tmp_path, rows, [*quick, *slow])
    assert log.sizes["length_mm"].tolist() == [2.5, 12.9, 6.0, 12.5]
    assert not {"cm-among-mm", "lengths-in-cm"} & {*log.findings["code"]}


def test_a_sheet_in_centimetres_is_asked_about_once(tmp_path: Path) -> None:
    rows = [tub("open0", "open", 40, 30, clutch="a"), tub("shade0", "shade", 40, 30, clutch="b")]
    cm = [size(b, on, x / 10) for b in ("open0", "shade0") for on, x in ((14, 6), (28, 12.5))]
    log = read(tmp_path, rows, cm)
    assert log.sizes["length_mm"].tolist() == [6.0, 12.5, 6.0, 12.5]
    asked = log.findings[log.findings["code"] == "lengths-in-cm"]
    assert asked["severity"].unique().tolist() == ["ASK"]
    assert "lengths-in-cm" in {*check_log(log).findings["code"]}


def test_short_lengths_count_as_centimetres_in_every_batch_or_in_none(tmp_path: Path) -> None:
    rows = [tub(f"open{i}", "open", 40, 30, clutch=f"a{i}") for i in range(2)]
    sizes = [size("open0", 14, x) for x in (5.5, 0.6, 6.2)] + [size("open1", 14, 0.7)]
    log = read(tmp_path, rows, sizes)
    assert log.sizes["length_mm"].tolist() == [5.5, 6.0, 6.2, 7.0]
    assert (log.findings["code"] == "cm-among-mm").any()


def test_weights_in_grams_are_asked_about(tmp_path: Path) -> None:
    rows = [tub("open0", "open", 40, 30, clutch="a")]
    sizes = [size("open0", 28, mm, weight_mg=mm**3 / 1e5) for mm in (10.0, 12.0, 14.0)]
    log = read(tmp_path, rows, sizes)
    assert log.sizes["weight_mg"].tolist() == pytest.approx([10.0, 17.28, 27.44])
    assert (log.findings["code"] == "weights-in-grams").any()


# ---- survival beside growth -----------------------------------------------------------------


@pytest.mark.parametrize(("died", "of_20"), [(1, "16 of 20"), (2, "12 of 20")])
def test_those_that_died_out_are_among_those_that_started(
    tmp_path: Path, died: int, of_20: str
) -> None:
    def change(rows: list[dict]) -> None:
        for row in rows[:died]:
            row |= {"ended": day(21), "end_count": 0, "end_reason": "all died"}

    log = trial_of(tmp_path, 5, ends=(40, 40), change=change)
    answer, survival = compare_growth(log), compare_survival(log)
    assert f"Alive by then: 20 of 20 with shade, {of_20} with open." in answer.headline
    assert answer.facts()["survival_usual"] == survival.facts()["survival_usual"]
    assert answer.facts()["units_usual"] == 5 - died


def test_a_tub_that_nobody_counted_at_the_end_is_told_at_best(tmp_path: Path) -> None:
    answer = compare_growth(trial_of(tmp_path, change=lambda rows: rows[0].update(end_count="")))
    assert "Alive by then, at best: " in answer.headline


# ---- one number on every page ---------------------------------------------------------------


@pytest.mark.parametrize("on", [28, 24])
def test_growth_and_methods_show_the_same_to_the_last_digit(tmp_path: Path, on: int) -> None:
    log = trial_of(tmp_path, gain=1.2, size_to_move_mm=10, judged_on_day=28)
    growth = compare_growth(log, day=on).facts()
    methods = compare_methods(log, day=on, main_outcome="length").facts()
    out = {o["outcome"]: o for o in methods["outcomes"]}
    for name, key in (
        ("length", "length"),
        ("length_cv", "cv"),
        ("long_enough", "long_enough_of_20"),
    ):
        for arm in ("usual", "tested"):
            assert growth[f"{key}_{arm}"] == out[name][f"mean_{arm}"]
    assert growth["conf_low"] == out["length"]["conf_low"]
    assert growth["p_value"] == out["length"]["p_value"]
    rows = {row["unit"]: row for row in growth["by_unit"]}
    for row in methods["by_unit"]:
        assert rows[row["unit"]]["length_at"] == row["length"]
        assert rows[row["unit"]]["cv"] == row["length_cv"]
        assert rows[row["unit"]]["long_enough_of_20"] == row["long_enough"]


def test_a_measured_day_has_the_measured_mean(tmp_path: Path) -> None:
    # The fish of day 28 are 12.0 mm on average; the line through all four days says otherwise.
    rows = [tub("open0", "open", 40, 30, clutch="a")]
    sizes = [size("open0", on, mm) for on, mm in ((7, 5.0), (14, 8.0), (21, 8.5), (28, 12.0))]
    answer = compare_growth(read(tmp_path, rows, sizes), curve="line")
    row = answer.facts()["by_unit"][0]
    assert row["length_at"] == 12.0
    assert "about 12 mm long" in answer.headline
    line = np.polyfit([7, 14, 21, 28], [5.0, 8.0, 8.5, 12.0], 1)
    between = compare_growth(read(tmp_path / "b", rows, sizes), curve="line", day=24)
    assert between.facts()["by_unit"][0]["length_at"] == pytest.approx(np.polyval(line, 24))


# ---- final lengths --------------------------------------------------------------------------


@pytest.mark.parametrize("curve", ["logistic", "gompertz", "von_bertalanffy"])
def test_from_fry_no_final_length_is_given(tmp_path: Path, curve: str) -> None:
    params = {
        "logistic": (60.0, 0.08, 35.0),
        "gompertz": (60.0, 0.04, 35.0),
        "von_bertalanffy": (60.0, 0.01, -8.0),
    }[curve]
    rng = np.random.default_rng(4)
    rows = [tub(f"open{i}", "open", 40, 30, clutch=f"a{i}") for i in range(4)]
    sizes = [
        size(f"open{i}", on, round(float(CURVES[curve].length(float(on), params)) * x, 2))
        for i in range(4)
        for on in (3, 7, 14, 21, 28)
        for x in 1.0 + 0.1 * rng.normal(size=10)
    ]
    answer = compare_growth(read(tmp_path, rows, sizes))
    assert answer.facts()["asymptote_reported"] is False
    assert any("too young to tell their final size" in text for text in answer.limits)


# ---- readings of the units ------------------------------------------------------------------


def of_pairs(rows: list[dict]) -> None:
    for i, row in enumerate(rows):
        row["parents"] = f"pair {row['method']} {i % 2}"


def of_water(rows: list[dict]) -> None:
    for i, row in enumerate(rows):
        row["water"] = f"system {row['method']} {i % 3}"


def of_names(rows: list[dict]) -> None:
    for i, row in enumerate(rows):
        row["clutch"] = f"K {i % 6}" if row["method"] == "open" else f"K-0{i % 6}"


@pytest.mark.parametrize(
    ("change", "reading", "level"),
    [(of_pairs, "pairs", 1), (of_water, "water", 3), (of_names, "same_clutch", None)],
)
def test_readings_that_change_the_units_bear_on_length(
    tmp_path: Path, change: Callable, reading: str, level: int | None
) -> None:
    plain = compare_growth(trial_of(tmp_path / "plain", 6, gain=0.6)).facts()
    answer = compare_growth(trial_of(tmp_path / "read", 6, gain=0.6, change=change))
    f = answer.facts()
    assert plain["claim_level"] == 4
    assert plain["p_value"] <= 0.05
    assert reading in {r["reading"] for r in f["readings"]}
    if level is None:
        assert f["p_value"] >= plain["p_value"]
        return
    assert f["claim_level"] <= level
    assert (f"reading_{reading}" in codes(answer)) == (level < 3)  # three systems can hint
    assert "fair test" not in answer.headline


def test_batches_left_out_without_a_rule_are_put_back(tmp_path: Path) -> None:
    def change(rows: list[dict]) -> None:
        rows[-1]["left_out"] = "looked odd"

    log = trial_of(tmp_path, 5, gain=0.5, change=change)
    answer = compare_growth(log)
    readings = {r["reading"]: r for r in answer.facts()["readings"]}
    assert answer.facts()["units_tested"] == 4
    assert readings["put_back"]["units_tested"] == 5


def test_where_survival_is_not_settled_alike_length_is_no_more_than_an_association(
    tmp_path: Path,
) -> None:
    def change(rows: list[dict]) -> None:
        rows[-1]["end_count"] = ""

    log = trial_of(tmp_path, ends=(10, 35), change=change)
    answer = compare_growth(log)
    assert answer.facts()["p_value"] == pytest.approx(2 / 70)
    assert answer.claim.level == 2
    assert "survival_not_alike" in codes(answer)
    assert codes(answer).index("survival_not_alike") < 2
    assert "one made the other cannot be told" in answer.headline
    methods = compare_methods(log)
    assert methods.facts()["claim_level"] == 2


# ---- running trials, and too few ------------------------------------------------------------


def test_a_day_below_the_declared_one_has_no_verdict(tmp_path: Path) -> None:
    answer = compare_growth(trial_of(tmp_path), day=21)
    f = answer.facts()
    assert answer.headline.startswith("Interim look, no verdict")
    assert f["p_value"] is None
    assert f["conf_low"] is None
    assert f["cv_conf_low"] is None
    assert f["claim_level"] <= 1
    assert "p =" not in " ".join(
        [answer.headline, *answer.limits, *answer.say("certainty").paragraphs]
    )


def test_two_against_two_is_too_few_to_tell(tmp_path: Path) -> None:
    # By hand: units of one method lie 0.1 mm apart, so the pooled variance is .1² / 2; chance
    # reaches t(2) = 4.302653 (table) times its root: 0.3 mm.
    answer = compare_growth(trial_of(tmp_path, 2, gain=1.5))
    f = answer.facts()
    assert f["p_value"] is None
    assert f["small_reach"] == pytest.approx(4.302653 * np.sqrt(0.1**2 / 2))
    assert answer.headline.startswith("Too few to tell: on day 28 fry were 12.6 mm long with shade")
    assert "The clutches with open lay 0.1 mm apart" in answer.headline
    assert "chance alone reaches 0.3 mm." in answer.headline


# ---- a log that the check passes gets its answer --------------------------------------------


def running_unknown(rows: list[dict]) -> None:
    for row in rows:
        row |= {"ended": "", "end_count": "", "end_reason": ""}
    rows[0]["start_count"] = "unknown"


def nobody_counted(rows: list[dict]) -> None:
    for row in rows:
        row |= {"start_count": "", "end_count": ""}


def one_died_out(rows: list[dict]) -> None:
    rows[0] |= {"ended": day(14), "end_count": 0, "end_reason": "all died"}


def moved(rows: list[dict]) -> None:
    """Move the fry of the first tub to a bigger one on day 18."""
    rows[0] |= {"ended": day(18), "end_count": "", "end_reason": "moved"}
    rows.append(
        tub("big0", "open", 35, 30, clutch=rows[0]["clutch"])
        | {"started": day(18), "from_batch": rows[0]["batch"]}
    )


ALL = ("open0", "open1", "open2", "open3", "shade0", "shade1", "shade2", "shade3")


def only(*names: str) -> Callable[[list[Row]], list[Row]]:
    return lambda sizes: [row for row in sizes if row["batch"] in names]


def once(sizes: list[Row]) -> list[Row]:
    return [r for r in sizes if r["batch"] != "open1" or r["date"] == day(14)]


def weights(sizes: list[Row]) -> list[Row]:
    return [dict(r) | {"length_mm": "", "weight_mg": 12.0} for r in sizes]


def as_it_is(sizes: list[Row]) -> list[Row]:
    return sizes


ODD = {
    "running, start unknown": (running_unknown, as_it_is),
    "nobody counted": (nobody_counted, as_it_is),
    "one method measured": (lambda rows: None, only(*ALL[:4])),
    "one batch measured": (lambda rows: None, only("shade1")),
    "weights alone": (lambda rows: None, weights),
    "one measured once": (lambda rows: None, once),
    "one died out": (one_died_out, as_it_is),
    "moved": (moved, as_it_is),
    "running, one method measured": (running_unknown, only(*ALL[:4])),
}


@pytest.mark.parametrize("case", ODD)
def test_odd_logs_end_in_plain_words(tmp_path: Path, case: str) -> None:
    change, pick = ODD[case]
    rows = [
        tub(f"{arm}{i}", arm, 40, 30, clutch=f"{arm} clutch {i}")
        for arm in ("open", "shade")
        for i in range(4)
    ]
    change(rows)
    sizes = pick([one for b in ALL for one in fish(b, lambda on: 4 + 0.25 * on)])
    daily = [{"date": day(on), "batch": b, "dead": 1} for on in (5, 12) for b in ALL]
    log = read(tmp_path, rows, sizes, daily=daily)
    answer = compare_growth(log)
    said = [answer.headline, *answer.limits]
    for part in ("curve", "rates", "certainty", "together", "warmth"):
        told = answer.say(part)
        said += [*told.paragraphs, *told.items]
    assert answer.headline.endswith(".")
    assert not [text for text in said if "nan" in text or "None" in text]
    for table in ("main", "methods", "curves", "spread", "survival"):
        assert answer.readable(table)._repr_html_()
    for picture in ("main", "units"):
        assert answer.figure(picture).alt
    assert answer.facts()["claim_level"] <= 4


def test_lengths_are_followed_into_the_tub_that_fry_were_moved_to(tmp_path: Path) -> None:
    rows = [
        tub(f"{arm}{i}", arm, 40, 30, clutch=f"{arm} clutch {i}")
        for arm in ("open", "shade")
        for i in range(4)
    ]
    moved(rows)
    sizes = [one for b in ALL for one in fish(b, lambda on: 4 + 0.25 * on)]
    sizes = [
        dict(r) | {"batch": "big0"} if r["batch"] == "open0" and r["date"] > day(18) else r
        for r in sizes
    ]
    answer = compare_growth(read(tmp_path, rows, sizes))
    row = next(r for r in answer.facts()["by_unit"] if r["unit"] == "open clutch 0")
    assert row["length_at"] == pytest.approx(11.0)
    assert row["last_day"] == DAY
    assert answer.facts()["units_usual"] == 4
