"""Boards cut on paper: which boards to buy and how to cut them so that the least length is bought, with a proven bound.

One-dimensional cutting stock (Kantorovich 1960; Gilmore and Gomory 1961): parts lie one behind another along a board, and each
cut takes the width of the saw. Every way of filling a board is a column of a whole-number program, which HiGHS solves to the
end; where there are too many ways, columns are made as they are wanted, and how far the plan may be from the best is said.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from shopsim.errors import InputError

#: Ways of filling boards that are all looked at; where there are more, columns are made as they are wanted.
MAX_WAYS = 20_000
#: Rounds in which columns are made, and seconds that the last step may take.
MAX_ROUNDS, MAX_SECONDS = 200, 20.0
#: Lengths are whole numbers of these, so that sums are exact.
GRID_MM = 0.01
_EPS = 1e-7


@dataclass(frozen=True)
class Cut:
    """``count`` lengths of one kind to be cut: ``name`` of what they are for, ``length_mm`` of each."""

    name: str
    length_mm: float
    count: int


@dataclass(frozen=True)
class CutBoard:
    """``boards`` boards of ``length_mm`` that are cut alike: ``counts`` of each cut, in their order; ``left_mm`` is left of each."""

    length_mm: float
    boards: int
    counts: tuple[int, ...]
    left_mm: float


@dataclass(frozen=True)
class CuttingPlan:
    """What to buy and how to cut it: ``boards``, the longest first; ``bought_mm`` in all; ``bound_mm``: no plan can buy less."""

    cuts: tuple[Cut, ...]
    boards: tuple[CutBoard, ...]
    bought_mm: float
    bound_mm: float

    @property
    def n_boards(self) -> int:
        """Boards that are bought."""
        return sum(board.boards for board in self.boards)

    @property
    def proven(self) -> bool:
        """Whether no plan can buy less length."""
        return self.bought_mm <= self.bound_mm + GRID_MM


def cut_boards(lengths_mm: Sequence[float], cuts: Sequence[Cut], saw_cut_mm: float = 0.0) -> CuttingPlan:
    """The plan that buys the least length of boards of these lengths, any number of each; pure, the same each time.

    ``saw_cut_mm``: between two parts, and before the offcut. A part may use up a board to its very end. InputError where a part
    is longer than every board. More parts than asked for may come out of a plan; they are left uncut.
    """
    wanted = [cut for cut in cuts if cut.count > 0]
    lengths = sorted({_grid(length) for length in lengths_mm}, reverse=True)
    kerf = _grid(saw_cut_mm)
    sizes = [_grid(cut.length_mm) + kerf for cut in wanted]
    for cut, size in zip(wanted, sizes, strict=True):
        if not lengths or size > lengths[0] + kerf:
            raise InputError(f"{cut.name} · is longer than every board that is sold · cut it from a longer one")
    if not wanted:
        return CuttingPlan((), (), 0.0, 0.0)
    demand = np.array([cut.count for cut in wanted], dtype=np.int64)
    room = [length + kerf for length in lengths]
    ways = _all_ways(room, sizes, demand)
    least = 0.0
    if ways is None:
        ways, least = _make_columns(room, lengths, sizes, demand)
    chosen, bound = _choose(ways, lengths, demand, known_bound=least)
    return _plan(tuple(wanted), ways, chosen, lengths, sizes, room, demand, bound)


def _grid(length_mm: float) -> int:
    return round(length_mm / GRID_MM)


#: A way of filling a board: the number of its length, and how many of each cut.
_Way = tuple[int, tuple[int, ...]]


def _all_ways(room: Sequence[int], sizes: Sequence[int], demand: np.ndarray) -> list[_Way] | None:
    """Every way of filling each length to which nothing can be added; None where there are more than MAX_WAYS."""
    order = sorted(range(len(sizes)), key=lambda n: -sizes[n])
    found: list[_Way] = []
    looked = 0
    for number, space in enumerate(room):
        for counts in _fill(space, [sizes[n] for n in order], [int(demand[n]) for n in order]):
            looked += 1
            if looked > MAX_WAYS:
                return None
            back = [0] * len(sizes)
            for place, n in enumerate(order):
                back[n] = counts[place]
            found.append((number, tuple(back)))
    return found


def _fill(space: int, sizes: Sequence[int], most: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Counts of each size, the largest first, that fit and leave no room for one more that is wanted."""
    n = len(sizes)
    counts = [0] * n

    def at(place: int, left: int) -> Iterator[tuple[int, ...]]:
        if place == n:
            full = all(counts[k] == most[k] or sizes[k] > left for k in range(n))
            if full and any(counts):
                yield tuple(counts)
            return
        for count in range(min(most[place], left // sizes[place]), -1, -1):
            counts[place] = count
            yield from at(place + 1, left - count * sizes[place])
        counts[place] = 0

    yield from at(0, space)


def _make_columns(
    room: Sequence[int], lengths: Sequence[int], sizes: Sequence[int], demand: np.ndarray
) -> tuple[list[_Way], float]:
    """Ways made as they are wanted (Gilmore and Gomory), and a length that no plan can go below.

    The bound after any round is that of Farley (1990): the value of the parts at their prices, over the dearest filling.
    """
    from scipy.optimize import linprog

    ways: list[_Way] = []
    for n, size in enumerate(sizes):
        number = max(k for k, space in enumerate(room) if space >= size)
        ways.append(
            (number, tuple(min(room[number] // size, int(demand[n])) if k == n else 0 for k in range(len(sizes))))
        )
    least = 0.0
    for _ in range(MAX_ROUNDS):
        matrix = np.array([counts for _, counts in ways], dtype=np.float64).T
        cost = np.array([lengths[number] for number, _ in ways], dtype=np.float64)
        solved = linprog(cost, A_ub=-matrix, b_ub=-demand.astype(np.float64), method="highs")
        prices = np.maximum(-solved.ineqlin.marginals, 0.0)
        dearest, added = 0.0, False
        for number, space in enumerate(room):
            counts = _best_filling(space, sizes, prices, demand)
            worth = float(prices @ np.array(counts)) / lengths[number]
            dearest = max(dearest, worth)
            if worth > 1 + _EPS and (number, counts) not in ways:
                ways.append((number, counts))
                added = True
        least = max(least, float(prices @ demand) / max(dearest, 1.0))
        if not added:
            break
    return ways, least


def _best_filling(space: int, sizes: Sequence[int], prices: np.ndarray, demand: np.ndarray) -> tuple[int, ...]:
    """The filling of one board that is worth most at these prices."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    most = np.minimum(demand, [space // size for size in sizes])
    solved = milp(
        -prices,
        constraints=LinearConstraint(np.array([sizes], dtype=np.float64), -np.inf, space),
        integrality=np.ones(len(sizes), dtype=np.int64),
        bounds=Bounds(0, most),
    )
    assert solved.x is not None  # to cut nothing always fits
    return tuple(round(value) for value in solved.x)


def _choose(
    ways: Sequence[_Way], lengths: Sequence[int], demand: np.ndarray, known_bound: float
) -> tuple[np.ndarray, float]:
    """How often each way is used, and a length below which no plan can go: the solver's own where all ways are there."""
    from scipy.optimize import LinearConstraint, milp

    unit = math.gcd(*(lengths[number] for number, _ in ways))  # so that the solver sees small whole numbers
    cost = np.array([lengths[number] // unit for number, _ in ways], dtype=np.float64)
    matrix = np.array([counts for _, counts in ways], dtype=np.float64).T
    solved = milp(
        cost,
        constraints=LinearConstraint(matrix, demand.astype(np.float64), np.inf),
        integrality=np.ones(len(ways), dtype=np.int64),
        options={"time_limit": MAX_SECONDS, "mip_rel_gap": 0.0},
    )
    if solved.x is None:
        raise InputError("the cutting plan was not found in time · give fewer lengths, or fewer kinds of parts")
    bound = math.ceil((known_bound / unit if known_bound else float(solved.mip_dual_bound)) - 1e-6) * unit
    return np.round(solved.x).astype(np.int64), float(bound)


def _plan(
    cuts: tuple[Cut, ...], ways: Sequence[_Way], chosen: np.ndarray, lengths: Sequence[int], sizes: Sequence[int],
    room: Sequence[int], demand: np.ndarray, bound: float,
) -> CuttingPlan:  # fmt: skip
    """The plan in words of the file; what is cut beyond the demand is taken off the last boards."""
    over = np.array([counts for _, counts in ways]).T @ chosen - demand
    single: dict[_Way, int] = {}
    for (number, counts), times in zip(ways, chosen.tolist(), strict=True):
        for _ in range(times):
            kept = []
            for n, count in enumerate(counts):
                less = min(count, int(over[n]))
                over[n] -= less
                kept.append(count - less)
            way = (number, tuple(kept))
            single[way] = single.get(way, 0) + 1
    boards = [
        CutBoard(
            lengths[number] * GRID_MM,
            times,
            counts,
            max(0, room[number] - sum(n * size for n, size in zip(counts, sizes, strict=True))) * GRID_MM,
        )
        for (number, counts), times in single.items()
    ]
    boards.sort(key=lambda board: (-board.length_mm, board.left_mm, board.counts))
    bought = sum(board.length_mm * board.boards for board in boards)
    return CuttingPlan(cuts, tuple(boards), bought, min(bought, bound * GRID_MM))
