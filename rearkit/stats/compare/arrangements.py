"""Count, list or draw the relabellings of units that keep the arm sizes within every block.

Within a block of N units, k of them tested, the difference of arm means is a sum over the tested
units of ``weight * (value - block mean)`` with weight 1/k + 1/(N - k). Every question about
relabellings is therefore a question about subset sums, and those are counted by meeting in the
middle: all sums of one half of the units, all sums of the other, one search between them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from rearkit.stats.layout import FloatArray, Layout

Halves = list[tuple[FloatArray, FloatArray]]

_DRAWS_AT_A_TIME = 10_000


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
        As ``Layout.scores`` gives them.

    Returns
    -------
    list of pairs of sorted arrays
        Each relabelling is one element of the first plus one of the second array of one pair.
    """
    plan = _plan(layout)
    whole = [
        _join([subset_sums(scores[b], layout.n_tested[b])[-1] for b in side], np.zeros(1))
        for side in plan.sides
    ]
    n_chosen = layout.n_tested[plan.cut]
    middle = len(scores[plan.cut]) // 2
    first = subset_sums(scores[plan.cut][:middle], n_chosen)
    second = subset_sums(scores[plan.cut][middle:], n_chosen)
    halves = []
    for size, sums in enumerate(first):
        if 0 <= n_chosen - size < len(second):
            pair = (_join([whole[0]], sums), _join([whole[1]], second[n_chosen - size]))
            halves.append((np.sort(pair[0]), np.sort(pair[1])))
    return halves


def count_at_least(halves: Halves, threshold: float) -> int:
    """Count the relabellings whose contrast is at least the threshold."""
    return sum(
        int(first.size * second.size - np.searchsorted(second, threshold - first[::-1]).sum())
        for first, second in halves
    )


def count_at_most(halves: Halves, threshold: float) -> int:
    """Count the relabellings whose contrast is at most the threshold."""
    return sum(
        int(np.searchsorted(second, threshold - first[::-1], side="right").sum())
        for first, second in halves
    )


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
