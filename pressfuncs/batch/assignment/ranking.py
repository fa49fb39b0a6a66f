"""The ranking: for each die the presses that pass, cheapest first, and for the others every failing check.

Works through the dies in pieces, so that memory follows the size of a piece and of the answer, not of the
whole table of pairs.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from pressfuncs.batch.assignment.checks import Pairs, names_of, pair_margins
from pressfuncs.batch.assignment.demand import die_demand
from pressfuncs.batch.assignment.figures import Columns
from pressfuncs.batch.assignment.profile import Profile
from pressfuncs.batch.assignment.registers import Register
from pressfuncs.batch.assignment.supply import press_supply
from pressfuncs.functions._checks import CHECKS, NOT_SUITABLE, PARTLY, SUITABLE, Check, verdict
from pressfuncs.limits import share

STATUSES = (SUITABLE, PARTLY, NOT_SUITABLE)

_PAIRS_AT_ONCE = 50_000  # arrays of this size stay near the processor

Progress = Callable[[int], None]


@dataclass(frozen=True)
class Pair:
    """One die with one press, as it is reported; figures in core units."""

    die: int
    press: int
    rank: int
    """1 for the best press of the die; 0 for a press that fails"""
    status: str
    utilisation: float
    """force of the stroke over the capacity at the working height; NaN if not known"""
    capacity: float
    part_rate: float
    cost: float
    margins: tuple[float, ...]
    """in the order of CHECKS; NaN where not checked"""
    failed: tuple[Check, ...]
    unchecked: tuple[Check, ...]
    declared: tuple[Check, ...]
    """not made, as the shop declares"""
    not_applying: tuple[Check, ...]

    def verdict(self, system: str) -> str:
        """Return the outcome in words, with every check that was not made."""
        margins = {check.name: None if m != m else m for check, m in zip(CHECKS, self.margins)}
        names = ([check.name for check in of] for of in (self.declared, self.not_applying))
        return verdict(margins, *names).shown(system)


@dataclass
class Assignment:
    """The outcome for two registers; the arrays are dies x presses."""

    dies: Register
    presses: Register
    demand: Columns
    supply: Columns
    profile: Profile
    top: int
    status: np.ndarray[Any, np.dtype[np.uint8]]
    """index into STATUSES"""
    first: np.ndarray[Any, np.dtype[np.int64]]
    """best press of each die, -1 if none passes"""
    unchecked: np.ndarray[Any, np.dtype[np.uint32]]
    """checks that were not made of each die on its best press, one bit each"""

    def best_count(self) -> dict[str, int]:
        """Return how many dies have each press as their best."""
        counts = np.bincount(self.first[self.first >= 0], minlength=len(self.presses))
        return dict(zip(self.presses.ids, counts.tolist()))

    def open_checks(self) -> dict[str, int]:
        """Return the checks that were not made, by label, and of how many dies on their best press."""
        counts = {check: int((self.unchecked >> number & 1).sum()) for number, check in enumerate(CHECKS)}
        return {check.label: count for check, count in counts.items() if count}

    def pieces(self, progress: Progress | None = None) -> Iterator[tuple[slice, Pairs]]:
        """Compute the pairs again, piece by piece, for whoever writes them out."""
        return _pieces(self.demand, self.supply, self.profile.not_checked, progress)

    def ranked(self, progress: Progress | None = None) -> Iterator[Pair]:
        """Yield the best `top` presses of each die, in order of rank."""
        for rows, pairs in self.pieces(progress):
            order = ranking(pairs, self.supply, self.presses.ids)
            for i in range(rows.stop - rows.start):
                for rank, press in enumerate(order[i, : self.top], start=1):
                    if self.status[rows.start + i, press] != 2:
                        yield self.pair(pairs, rows.start, i, int(press), rank)

    def failing(self, progress: Progress | None = None) -> Iterator[Pair]:
        """Yield every pair that fails."""
        for rows, pairs in self.pieces(progress):
            for i, press in np.argwhere(self.status[rows] == 2):
                yield self.pair(pairs, rows.start, int(i), int(press), 0)

    def pair(self, pairs: Pairs, start: int, i: int, press: int, rank: int) -> Pair:
        """Return one pair of a piece in the form that is reported."""
        capacity = float(pairs.capacity[i, press])
        applies = pairs.applies[:, i, press]
        margins = np.where(applies, pairs.margins[:, i, press], np.nan)
        return Pair(
            die=start + i,
            press=press,
            rank=rank,
            status=STATUSES[int(self.status[start + i, press])],
            utilisation=float(self.demand["stroke_force"][start + i]) / capacity,
            capacity=capacity,
            part_rate=float(pairs.part_rate[i, press]),
            cost=float(pairs.cost[i, press]),
            margins=tuple(margins.tolist()),
            failed=tuple(names_of(int(pairs.failed[i, press]))),
            unchecked=tuple(names_of(int(pairs.unchecked[i, press]))),
            declared=_those(pairs.declared & applies & np.isnan(margins)),
            not_applying=_those(~applies),
        )


def _those(flags: np.ndarray[Any, np.dtype[np.bool_]]) -> tuple[Check, ...]:
    return tuple(check for check, flag in zip(CHECKS, flags) if flag)


def assign(
    dies: Register,
    presses: Register,
    load_limit: float | None = None,
    top: int = 3,
    progress: Progress | None = None,
    profile: Profile | None = None,
) -> Assignment:
    """Match a die register against a press register.

    Arguments:
        dies: see `registers.read_register`
        presses: likewise
        load_limit: share of the capacity that may be used, of presses that state none; None goes by their frames
        top: how many presses to rank for each die
        progress: called with the number of dies done since the last call
        profile: what the shop declares

    Raises:
        OutOfRange: the load limit is not above 0 and at most 1
    """
    if load_limit is not None:
        share(load_limit=load_limit)
    profile = profile or Profile()
    profile.apply(dies)
    profile.apply(presses)
    demand, supply = die_demand(dies), press_supply(presses, load_limit)
    status = np.empty((len(dies), len(presses)), dtype=np.uint8)
    first = np.full(len(dies), -1, dtype=np.int64)
    unchecked = np.zeros(len(dies), dtype=np.uint32)
    for rows, pairs in _pieces(demand, supply, profile.not_checked, progress):
        status[rows] = statuses(pairs)
        best = ranking(pairs, supply, presses.ids)[:, 0]
        each = np.arange(len(best))
        passes = status[rows][each, best] != 2
        first[rows] = np.where(passes, best, -1)
        unchecked[rows] = np.where(passes, pairs.unchecked[each, best], 0)
    return Assignment(dies, presses, demand, supply, profile, top, status, first, unchecked)


def _pieces(
    demand: Columns, supply: Columns, declared: Collection[str], progress: Progress | None
) -> Iterator[tuple[slice, Pairs]]:
    count, presses = len(demand["die_height"]), len(supply["shut_height"])
    step = max(1, _PAIRS_AT_ONCE // max(1, presses))
    for start in range(0, count if presses else 0, step):
        rows = slice(start, min(start + step, count))
        yield rows, pair_margins({name: column[rows] for name, column in demand.items()}, supply, declared)
        if progress is not None:
            progress(rows.stop - rows.start)


def statuses(pairs: Pairs) -> np.ndarray[Any, np.dtype[np.uint8]]:
    """Return the status of each pair as an index into STATUSES."""
    return np.where(pairs.failed > 0, 2, np.where(pairs.unchecked > 0, 1, 0)).astype(np.uint8)


def ranking(pairs: Pairs, supply: Columns, ids: list[str]) -> np.ndarray[Any, np.dtype[np.int64]]:
    """Return the presses of each die in order: passing, fully checked, cheapest, smallest; then by name."""
    by_name = np.argsort(np.argsort(np.array(ids)))
    shape = pairs.part_rate.shape
    last = np.inf
    keys = (
        np.broadcast_to(by_name, shape),
        np.nan_to_num(np.broadcast_to(supply["rated_force"], shape), nan=last).astype(np.float32),
        np.nan_to_num(pairs.cost, nan=last).astype(np.float32),  # costs that differ by float noise are equal
        statuses(pairs),
    )
    return np.lexsort(keys, axis=1)


def shown(value: float, factor: float) -> float | None:
    """Return a core value in a shown unit; None where it is not known."""
    return None if np.isnan(value) else value / factor
