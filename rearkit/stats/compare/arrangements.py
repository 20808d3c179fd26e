"""Count, list or draw the relabellings of units that keep the arm sizes within every block.

Within a block of N units, k of them tested, the difference of arm means is a sum over the tested
units of ``weight * (value - block mean)`` with weight 1/k + 1/(N - k). Every question about
relabellings is therefore a question about subset sums, and those are counted by meeting in the
middle: all sums of one half of the units, all sums of the other, one search between them. Units
with the same score need no telling apart: their sums are listed once, with the number of ways.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rearkit.stats.compare.layout import FloatArray, Layout

_DRAWS_AT_A_TIME = 10_000
_SAME_SUM = 1e-13  # of the largest score: rounding, far below what counts as a tie of contrasts


@dataclass(frozen=True, kw_only=True, eq=False)
class Sums:
    """Hold sorted sums and in how many ways each of them comes about.

    Attributes
    ----------
    value : (n,) array
        The sums, rising.
    ways : (n,) int array or None
        Ways to reach each; None where each is listed as often as it comes about.
    """

    value: FloatArray
    ways: NDArray[np.int64] | None


Halves = list[tuple[Sums, Sums]]


def subset_sums(scores: FloatArray, n_chosen: int) -> list[FloatArray]:
    """List the sums of all subsets of up to ``n_chosen`` units, by size of subset.

    Parameters
    ----------
    scores : (n,) or (n, d) array
        One score, or d scores, a unit.
    n_chosen : int
        The largest size of subset wanted.

    Returns
    -------
    list of arrays
        Element j has C(n, j) rows, the sums over subsets of j units.

    Examples
    --------
    >>> import numpy as np
    >>> [sums.tolist() for sums in subset_sums(np.array([1.0, 2.0, 4.0]), 2)]
    [[0.0], [1.0, 2.0, 4.0], [3.0, 5.0, 6.0]]
    """
    sums = [np.zeros((1, *scores.shape[1:]))]
    for score in scores:
        grown = [sums[0]]
        for size in range(1, min(len(sums), n_chosen) + 1):
            taken = sums[size - 1] + score
            grown.append(np.concatenate((sums[size], taken)) if size < len(sums) else taken)
        sums = grown
    return sums


def tied_subset_sums(
    scores: FloatArray, times: NDArray[np.int64], n_chosen: int
) -> list[tuple[FloatArray, NDArray[np.int64]]]:
    """List the sums of subsets once each where several units have the same score.

    Parameters
    ----------
    scores : (g,) array
        Distinct scores; may be none.
    times : (g,) int array
        How many units have each.
    n_chosen : int
        The largest size of subset wanted.

    Returns
    -------
    list of (sums, ways)
        Element j holds the sums over subsets of j units, rising, and how many subsets give each;
        shares of 20 fry have a few hundred sums where their subsets are millions.

    Examples
    --------
    >>> import numpy as np
    >>> tied = tied_subset_sums(np.array([0.0, 1.0]), np.array([3, 2]), 2)
    >>> [(sums.tolist(), ways.tolist()) for sums, ways in tied]
    [([0.0], [1]), ([0.0, 1.0], [3, 2]), ([0.0, 1.0, 2.0], [3, 6, 1])]
    """
    alike = _SAME_SUM * float(np.abs(scores).max(initial=0.0))
    listed = [(np.zeros(1), np.ones(1, dtype=np.int64))]
    for score, n_alike in zip(scores, times.tolist(), strict=True):
        grown = []
        for size in range(min(len(listed) - 1 + n_alike, n_chosen) + 1):
            taken = range(max(0, size - len(listed) + 1), min(n_alike, size) + 1)
            sums = np.concatenate([listed[size - j][0] + j * score for j in taken])
            ways = [listed[size - j][1] * math.comb(n_alike, j) for j in taken]
            grown.append(_merged(sums, np.concatenate(ways), alike))
        listed = grown
    return listed


def _merged(
    sums: FloatArray, ways: NDArray[np.int64], alike: float
) -> tuple[FloatArray, NDArray[np.int64]]:
    """List sums that agree but for rounding once, and add up their ways."""
    order = np.argsort(sums)
    sums = sums[order]
    first = np.flatnonzero(np.concatenate(([True], np.diff(sums) > alike)))
    return sums[first], np.add.reduceat(ways[order], first)


def _join(lists: Sequence[FloatArray], start: FloatArray) -> FloatArray:
    """Add every element of one list to every element of the next."""
    joined = start
    for extra in lists:
        joined = (joined[:, np.newaxis] + extra[np.newaxis]).reshape(-1, *extra.shape[1:])
    return joined


@dataclass(frozen=True, kw_only=True, eq=False)
class _Plan:
    """Say which blocks go whole to either side, and which one is cut in two."""

    cut: int
    sides: tuple[tuple[int, ...], tuple[int, ...]]
    longest: int


def _plan(layout: Layout) -> _Plan:
    """Cut the block with most relabellings; put the others on the shorter side in turn."""
    sizes = [math.comb(k + m, k) for k, m in zip(layout.n_tested, layout.n_usual, strict=True)]
    order = sorted(range(len(sizes)), key=lambda block: -sizes[block])
    cut = order[0]
    n_cut = len(layout.members[cut])
    lengths = [
        sum(math.comb(n, j) for j in range(min(n, layout.n_tested[cut]) + 1))
        for n in (n_cut // 2, n_cut - n_cut // 2)
    ]
    sides: tuple[list[int], list[int]] = ([], [])
    for block in order[1:]:
        side = 0 if lengths[0] <= lengths[1] else 1
        sides[side].append(block)
        lengths[side] *= sizes[block]
    return _Plan(cut=cut, sides=(tuple(sides[0]), tuple(sides[1])), longest=max(lengths))


def longest_half(layout: Layout) -> int:
    """Say how long the longer of the two half-lists is, which decides if counting is possible."""
    return _plan(layout).longest


def split_in_halves(layout: Layout, scores: Sequence[FloatArray]) -> Halves:
    """List the subset sums of both halves of the units so that every pair is a relabelling.

    Parameters
    ----------
    layout : Layout
        The blocks.
    scores : list of (n_b,) arrays
        As ``Layout.scores`` gives them. Where many units of the block that is cut are tied,
        their sums are listed once, with the number of ways.

    Returns
    -------
    list of pairs of sums
        Each relabelling is one element of the first plus one of the second of one pair.
    """
    plan = _plan(layout)
    whole = [
        _join([subset_sums(scores[b], layout.n_tested[b])[-1] for b in side], np.zeros(1))
        for side in plan.sides
    ]
    n_chosen = layout.n_tested[plan.cut]
    first, second = _cut(scores[plan.cut], n_chosen)
    halves = []
    for size, sums in enumerate(first):
        if 0 <= n_chosen - size < len(second):
            pair = (_sorted(whole[0], *sums), _sorted(whole[1], *second[n_chosen - size]))
            halves.append(pair)
    return halves


Listed = list[tuple[FloatArray, NDArray[np.int64] | None]]


def _cut(scores: FloatArray, n_chosen: int) -> tuple[Listed, Listed]:
    """List the subset sums of two halves of a block by size, and the ways where many units tie."""
    distinct, times = np.unique(scores, return_counts=True)
    lengths = np.cumsum(np.log2(times + 1))
    if lengths[-1] > scores.size - 2:  # a tie or two: the lists would hardly be shorter
        middle = scores.size // 2
        first, second = (subset_sums(s, n_chosen) for s in (scores[:middle], scores[middle:]))
        return [(sums, None) for sums in first], [(sums, None) for sums in second]
    middle = int(np.abs(lengths - lengths[-1] / 2).argmin()) + 1
    return (
        [*tied_subset_sums(distinct[:middle], times[:middle], n_chosen)],
        [*tied_subset_sums(distinct[middle:], times[middle:], n_chosen)],
    )


def _sorted(whole: FloatArray, sums: FloatArray, ways: NDArray[np.int64] | None) -> Sums:
    """Join the sums of whole blocks with those of a half, and sort them."""
    value = _join([whole], sums)
    if ways is None:
        return Sums(value=np.sort(value), ways=None)
    order = np.argsort(value)
    return Sums(value=value[order], ways=np.repeat(ways, whole.size)[order])


def count_at_least(halves: Halves, threshold: float) -> int:
    """Count the relabellings whose contrast is at least the threshold."""
    return sum(_pairs(first, second, "left", threshold, above=True) for first, second in halves)


def count_at_most(halves: Halves, threshold: float) -> int:
    """Count the relabellings whose contrast is at most the threshold."""
    return sum(_pairs(first, second, "right", threshold, above=False) for first, second in halves)


def _pairs(
    first: Sums, second: Sums, side: Literal["left", "right"], threshold: float, *, above: bool
) -> int:
    """Count pairs by where the rest to the threshold falls among the second sums."""
    place = np.searchsorted(second.value, threshold - first.value[::-1], side=side)
    if first.ways is None or second.ways is None:
        below, every = int(place.sum()), first.value.size * second.value.size
    else:
        up_to = np.concatenate(([0], np.cumsum(second.ways)))
        below = int((first.ways[::-1] * up_to[place]).sum())
        every = int(first.ways.sum() * up_to[-1])
    return every - below if above else below


def list_contrasts(layout: Layout, values: FloatArray) -> FloatArray:
    """List the contrasts of (n, d) values under every relabelling.

    Returns
    -------
    (arrangements, d) array
        In no particular order; the true labels are among them.
    """
    lists = [
        subset_sums(block, k)[-1]
        for block, k in zip(layout.scores(values), layout.n_tested, strict=True)
    ]
    return _join(lists[1:], lists[0])


def draw_contrasts(
    layout: Layout, values: FloatArray, n_random: int, rng: np.random.Generator
) -> FloatArray:
    """Draw the contrasts of (n, d) values under random relabellings.

    Returns
    -------
    (n_random, d) array
        The true labels are not added.
    """
    scores = layout.scores(values)
    return np.concatenate(list(_draw(layout, scores, n_random, rng)))


def _draw(
    layout: Layout, scores: Sequence[FloatArray], n_random: int, rng: np.random.Generator
) -> Iterator[FloatArray]:
    """Draw in portions, so that memory stays small."""
    for start in range(0, n_random, _DRAWS_AT_A_TIME):
        n_now = min(_DRAWS_AT_A_TIME, n_random - start)
        total = np.zeros((n_now, scores[0].shape[1]))
        for block, k in zip(scores, layout.n_tested, strict=True):
            order = rng.random((n_now, len(block))).argpartition(k - 1, axis=1)
            total += block[order[:, :k]].sum(axis=1)
        yield total
