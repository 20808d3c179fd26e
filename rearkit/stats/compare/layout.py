"""Group units into blocks and arms, and refuse what cannot be compared."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rearkit.errors import DesignError

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Layout:
    """Hold which units share a block and which of them are tested.

    Attributes
    ----------
    members : tuple of (n_b,) int arrays
        Positions of the units of each block.
    tested : (n,) bool array
        The labels as they were.
    """

    members: tuple[NDArray[np.intp], ...]
    tested: NDArray[np.bool_]

    @property
    def n_tested(self) -> tuple[int, ...]:
        """Tested units in each block."""
        return tuple(int(self.tested[units].sum()) for units in self.members)

    @property
    def n_usual(self) -> tuple[int, ...]:
        """Usual units in each block."""
        return tuple(int((~self.tested[units]).sum()) for units in self.members)

    @property
    def balanced(self) -> bool:
        """Whether swapping all labels is itself one of the relabellings."""
        return self.n_tested == self.n_usual

    def scores(self, values: ArrayLike) -> list[FloatArray]:
        """Turn unit values into scores whose sum over the tested units is the contrast.

        Parameters
        ----------
        values : (n,) or (n, d) array
            One value, or d values, a unit.

        Returns
        -------
        list of (n_b,) or (n_b, d) arrays
            The scores of each block's units.
        """
        table = np.asarray(values, dtype=np.float64)
        n_blocks = len(self.members)
        out = []
        for units, k, m in zip(self.members, self.n_tested, self.n_usual, strict=True):
            block = table[units]
            out.append((block - block.mean(axis=0)) * ((1 / k + 1 / m) / n_blocks))
        return out

    def differences(self, values: FloatArray) -> FloatArray:
        """Take the difference of arm means, tested minus usual, in each block."""
        return np.array(
            [
                values[units][self.tested[units]].mean() - values[units][~self.tested[units]].mean()
                for units in self.members
            ]
        )


def read_layout(tested: ArrayLike, blocks: Sequence[Hashable] | None, n_units: int) -> Layout:
    """Group units into blocks, refusing a block that lacks an arm.

    Parameters
    ----------
    tested : (n,) bool array
        True for the tested method.
    blocks : sequence of n labels, or None
        The block of each unit; None puts all in one.
    n_units : int
        Number of values that were given.

    Returns
    -------
    Layout
        Blocks in the order in which they first appear.

    Raises
    ------
    DesignError
        If the lengths differ, or a block lacks an arm.
    """
    labels = np.asarray(tested)
    if labels.dtype != np.bool_:
        raise DesignError(f"Labels of type {labels.dtype} are not true or false")
    names: list[Hashable] = [""] * n_units if blocks is None else list(blocks)
    if labels.shape != (n_units,) or len(names) != n_units:
        raise DesignError(
            f"{n_units} values, {labels.size} labels and {len(names)} blocks do not match"
        )
    places: dict[Hashable, list[int]] = {}
    for position, name in enumerate(names):
        places.setdefault(name, []).append(position)
    for name, positions in places.items():
        n_tested = int(labels[positions].sum())
        if n_tested in (0, len(positions)):
            raise DesignError(
                "Only one of the two methods was used",
                where=f"block {name}" if blocks is not None else "",
                todo="A difference needs at least one unit of each method in every block.",
            )
    members = tuple(np.array(positions, dtype=np.intp) for positions in places.values())
    return Layout(members=members, tested=labels)


def read_values(values: ArrayLike) -> FloatArray:
    """Take one finite number a unit.

    Parameters
    ----------
    values : (n,) array
        One value a unit.

    Returns
    -------
    (n,) float array
        The same numbers.

    Raises
    ------
    DesignError
        If there is no unit, or a value is not a finite number.
    """
    numbers = np.asarray(values, dtype=np.float64)
    if numbers.ndim != 1 or numbers.size == 0 or not np.isfinite(numbers).all():
        raise DesignError(
            "A comparison needs one finite number a unit",
            todo="Leave out units without a value, and name them.",
        )
    return numbers
