"""The outcomes of a comparison in words: how a difference, a range and a mean of each are said."""

from __future__ import annotations

from dataclasses import dataclass

from rearkit.words.numbers import decimals, more_or_fewer, signed, signed_span, span_words


@dataclass(frozen=True, kw_only=True)
class Said:
    """How one outcome is said.

    Attributes
    ----------
    name : str
        What it is, as a heading of a row.
    unit : str
        The unit of the numbers in tables.
    scale, places : float, int
        What its values are multiplied by, and how they are rounded.
    up, down : str
        The words for more and for less of it.
    gap : str
        A clause with ``{n}`` (the difference with its word) and ``{days}``.
    """

    name: str
    unit: str
    scale: float = 1.0
    places: int = 1
    up: str = "more"
    down: str = "fewer"
    gap: str = ""

    def number(self, x: float | None) -> str:
        """Write a value."""
        return decimals(None if x is None else self.scale * x, self.places)

    def change(self, x: float) -> str:
        """Write a difference with a word for its direction."""
        return more_or_fewer(self.scale * x, self.places, self.up, self.down)

    def span(self, low: float | None, high: float | None) -> str:
        """Write a range of a difference in words."""
        return span_words(self._scaled(low), self._scaled(high), self.places, self.up, self.down)

    def signed(self, x: float | None) -> str:
        """Write a difference with its sign."""
        return signed(self._scaled(x), self.places)

    def signed_span(self, low: float | None, high: float | None) -> str:
        """Write a range of a difference with its signs."""
        return signed_span(self._scaled(low), self._scaled(high), self.places)

    def _scaled(self, x: float | None) -> float | None:
        return None if x is None else self.scale * x


SAID: dict[str, Said] = {
    "survival": Said(
        name="fry alive",
        unit="of 20",
        scale=20.0,
        gap="about {n} of 20 fry stayed alive {days}",
    ),
    "length": Said(
        name="length",
        unit="mm",
        up="mm longer",
        down="mm shorter",
        gap="the fry were about {n} on day {length_day}",
    ),
    "length_cv": Said(
        name="unevenness of length",
        unit="%",
        scale=100.0,
        up="points more uneven",
        down="points more even",
        gap="the fry were about {n} in length on day {length_day}",
    ),
    "long_enough": Said(
        name="fry alive and at least {long_mm} mm",
        unit="of 20",
        gap="about {n} of 20 fry started were alive and at least {long_mm} mm long",
    ),
    "minutes": Said(
        name="work",
        unit="minutes a container",
        places=0,
        gap="a container took about {n} minutes {days}",
    ),
    "minutes_per_survivor": Said(
        name="work",
        unit="minutes a survivor",
        gap="every fry alive at the end took about {n} minutes",
    ),
}


def said(name: str) -> Said:
    """Return how an outcome is said; mortality of a stage goes by its days."""
    if name in SAID:
        return SAID[name]
    days = name.removeprefix("deaths ").replace("–", " to ")
    return Said(name=f"deaths a day, day {days}", unit="per 100", places=2)
