"""The conditions in which the kit must hold: what may be wrong with a trial, and what is not."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tests.simulation.fry import LAST_DAY, Layout
from tests.simulation.keeping import Keeping, Paper, Stop

ODDS_SD = 0.8
"""Spread of split clutches, of pairs and of water systems, in log odds of survival."""


SIX, CAREFUL, PLANNED = Layout(), Keeping(), Paper()


@dataclass(frozen=True, kw_only=True)
class Condition:
    """One kind of trial.

    Attributes
    ----------
    name : str
        What is said of it in the table; its logs are drawn from this name.
    layout : Layout
    usual, tested : Keeping
        How the tubs of each arm are kept.
    paper : Paper
    peeks : tuple of int
        Days of the calendar on which a page is made of the running trial, before the last one.
    peek_sets_day : bool
        Whether each such page sets the day it judges on.
    fully_counted : bool
        Whether all is written exactly, so that the log hides nothing that a verdict hangs on.
    level : int
        The claim level that the layout allows.
    """

    name: str
    layout: Layout = SIX
    usual: Keeping = CAREFUL
    tested: Keeping = CAREFUL
    paper: Paper = PLANNED
    peeks: tuple[int, ...] = ()
    peek_sets_day: bool = False
    fully_counted: bool = False
    level: int = 4

    @property
    def alike(self) -> bool:
        """Whether the methods make no difference."""
        return self.layout.survival[0] == self.layout.survival[1]


FINDS_HALF = Keeping(detection=0.5)
WEEKLY = Keeping(full_counts=(7, 14, 21))
PEEKS = (7, 14, 21, 28)
TIDY = (
    Condition(
        name="tidy, 3 v 3", layout=Layout(n_usual=3, n_tested=3), fully_counted=True, level=3
    ),
    Condition(name="tidy, 4 v 4", layout=Layout(n_usual=4, n_tested=4), fully_counted=True),
    Condition(name="tidy, 6 v 6", fully_counted=True),
    Condition(name="tidy, 3 v 5", layout=Layout(n_usual=3, n_tested=5), fully_counted=True),
    Condition(
        name="tidy, 6 split clutches",
        layout=Layout(n_usual=1, n_tested=1, split_clutches=6, group_sd=ODDS_SD),
        fully_counted=True,
    ),
    Condition(
        name="tidy, 4 v 4 clutches in two tubs each",
        layout=Layout(n_usual=8, n_tested=8, groups=4, group_sd=0.4),
        fully_counted=True,
    ),
)
HAZARDS = (
    Condition(name="bodies found .9 v .5, all counted at the end", tested=FINDS_HALF),
    Condition(
        name="bodies found .9 v .5, nobody counted at the end",
        usual=Keeping(end_counted=0.0),
        tested=replace(FINDS_HALF, end_counted=0.0),
    ),
    Condition(
        name="bodies found .9 v .5, half of the tubs counted at the end",
        usual=Keeping(end_counted=0.5),
        tested=replace(FINDS_HALF, end_counted=0.5),
    ),
    Condition(
        name="tubs of one method that do badly end early: welfare stop", tested=Keeping(stop=Stop())
    ),
    Condition(
        name="tubs of one method that do badly end early: called accident",
        tested=Keeping(stop=Stop(reason="accident")),
    ),
    Condition(
        name="tubs of one method that do badly end early: called moved",
        tested=Keeping(stop=Stop(reason="moved")),
    ),
    Condition(
        name="tubs of one method that do badly end early: accident, left out, plan not dated",
        tested=Keeping(stop=Stop(reason="accident", left_out="it leaked")),
        paper=Paper(plan_dated=False),
    ),
    Condition(
        name="one tub in six lost by chance, left out by a rule written before",
        usual=Keeping(stop=Stop(reason="accident", below=None, chance=1 / 6, left_out="leaked")),
        tested=Keeping(stop=Stop(reason="accident", below=None, chance=1 / 6, left_out="leaked")),
    ),
    Condition(name="all fry moved to bigger tubs on day 14", paper=Paper(move_on=14)),
    Condition(
        name="one method first counted on day 7, as was the other",
        usual=Keeping(full_counts=(7,)),
        tested=Keeping(first_count=7),
    ),
    Condition(
        name="one method first counted on day 7, the other on day 0", tested=Keeping(first_count=7)
    ),
    Condition(
        name="looked at daily v every third day, last counted on day 28 v 27",
        usual=Keeping(gaps=(1,)),
        tested=Keeping(gaps=(3,), last_look=LAST_DAY - 1),
    ),
    Condition(
        name="two pairs an arm under 6 v 6 clutches",
        layout=replace(SIX, groups=2, group_sd=ODDS_SD),
        paper=Paper(group_is="parents"),
    ),
    Condition(
        name="three pairs an arm under 6 v 6 clutches",
        layout=replace(SIX, groups=3, group_sd=ODDS_SD),
        paper=Paper(group_is="parents"),
    ),
    Condition(
        name="two water systems an arm under 6 v 6 tubs",
        layout=replace(SIX, groups=2, group_sd=ODDS_SD),
        paper=Paper(group_is="water"),
    ),
    Condition(
        name="first and last counts are ranges",
        usual=Keeping(start="range", end="range", count_how="eye"),
        tested=Keeping(start="range", end="range", count_how="eye"),
    ),
    Condition(
        name="first counts are 'about'",
        usual=Keeping(start="about", count_how="eye"),
        tested=Keeping(start="about", count_how="eye"),
    ),
    Condition(
        name="15 % overcount in one method, both by eye",
        usual=Keeping(count_how="eye"),
        tested=Keeping(count_how="eye", overcount=1.15),
    ),
    Condition(
        name="15 % overcount in one method by eye, the other counted",
        tested=Keeping(count_how="eye", overcount=1.15),
    ),
    Condition(
        name="half of the dying taken out as sick in one method", tested=Keeping(taken_out_sick=0.5)
    ),
    Condition(name="outbreaks in three tubs of ten", layout=replace(SIX, outbreaks=0.3)),
)
RUNNING = (
    Condition(name="a page a week, day declared", usual=WEEKLY, tested=WEEKLY, peeks=PEEKS),
    Condition(
        name="a page a week, no day declared",
        usual=WEEKLY,
        tested=WEEKLY,
        peeks=PEEKS[:-1],
        paper=Paper(day_declared=False, staggered=False),
    ),
    Condition(
        name="a page a week, each sets its day",
        usual=WEEKLY,
        tested=WEEKLY,
        peeks=PEEKS[:-1],
        peek_sets_day=True,
        paper=Paper(staggered=False),
    ),
)
OTHER_OUTCOMES = (
    Condition(name="length, tidy, 6 v 6", paper=Paper(main_outcome="length")),
    Condition(
        name="length, two pairs an arm under 6 v 6 clutches",
        layout=replace(SIX, groups=2),
        paper=Paper(main_outcome="length", group_is="parents", group_sd_mm=0.6),
    ),
    Condition(name="minutes, tidy, 6 v 6", paper=Paper(main_outcome="minutes")),
)
WITHOUT_A_DIFFERENCE = (
    *TIDY,
    *HAZARDS,
    *RUNNING,
    *OTHER_OUTCOMES,
)
"""The methods are alike: every sentence that settles is a false alarm."""


def _differ(condition: Condition, usual: float, tested: float) -> Condition:
    name = f"{condition.name}: {100 * usual:.0f} v {100 * tested:.0f} %"
    return replace(condition, name=name, layout=replace(condition.layout, survival=(usual, tested)))


EVEN_HANDED = (
    *TIDY,
    Condition(name="tidy, 8 v 8", layout=Layout(n_usual=8, n_tested=8), fully_counted=True),
    Condition(
        name="bodies found .5 in both methods",
        usual=FINDS_HALF,
        tested=FINDS_HALF,
        fully_counted=True,
    ),
    Condition(name="all counted every week", usual=WEEKLY, tested=WEEKLY, fully_counted=True),
    replace(next(c for c in HAZARDS if "left out by a rule" in c.name), fully_counted=True),
    replace(next(c for c in HAZARDS if "bigger tubs" in c.name), fully_counted=True),
    replace(next(c for c in HAZARDS if "every third day" in c.name), fully_counted=True),
)
WITH_A_DIFFERENCE = (
    *(_differ(c, 0.5, 0.8) for c in EVEN_HANDED),
    _differ(EVEN_HANDED[2], 0.6, 0.75),
    _differ(EVEN_HANDED[2], 0.2, 0.5),
    *(_differ(c, 0.6, 0.75) for c in HAZARDS),
)
"""The methods differ: the range must hold the truth, and what hides nothing must be told."""
CONDITIONS = {c.name: c for c in (*WITHOUT_A_DIFFERENCE, *WITH_A_DIFFERENCE)}
