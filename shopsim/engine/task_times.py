"""The times of tasks under luck: ranges, named laws, clock times, learning, work done again.

The model of hands-on times (log scale) for operation o, unit i, run k:

    log t = log likely + bias + pace_k + spread_o * zeta,   zeta = a z_o + b z_oi,  a^2 + b^2 = 1

with ``z_o`` the error of the estimate, drawn once a replication, and ``z_oi`` the unit's
own noise. The claimed spread of low / likely / high is widened (a guess more than a
timed value) and split between the two; the two-piece form keeps low and high on their
own sides. An operation whose times were logged follows instead the symmetric form of
learned.py, with bias and errors drawn from their joint posterior. Values stated by one number or by a named law are taken at their word: they
have neither bias, pace nor estimate error. Structure after Trietsch et al. 2012 (activity
times lognormal and linearly associated through a common factor); sizes of the cautious
set: own judgement, see README.md beside this file.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy import special

from shopsim.engine.keyed import (
    CURE,
    IN_CLAMPS,
    REDO_CHANCE,
    REDO_WORK,
    SETUP,
    UNCLAMP,
    WET,
    WORK,
    draw_at,
    draw_block,
    draw_for,
    roots_for,
    spread_out,
)
from shopsim.engine.learned import LearnedTimes
from shopsim.engine.spreads import Spread, clock_spread, learned_spread, spread_of
from shopsim.engine.worklist import Worklist
from shopsim.laws import Law, range_quantile
from shopsim.scenario.model import Operation

#: One value to draw: the task it belongs to, its key, its law, and what learning makes of it.
Cell = tuple[int, int, Law, float]
#: The kinds of time, in the order of the rows of ``TaskTimes``; hands-on ones first.
KINDS = (WORK, SETUP, UNCLAMP, IN_CLAMPS, CURE, WET)
HANDS_ON = (WORK, SETUP, UNCLAMP)
#: Of an operation with logged times, what takes the learned form; its set-up shares the learned error only.
LOGGED = (WORK, REDO_WORK)


class _RangeTimes:
    """Times stated as low / likely / high, of any kind, vectorised over their cells.

    Hands-on times follow the module's formula; half of the squared spread of a clock time
    is shared by the whole run (warmth, damp), and it has neither bias nor pace.
    """

    def __init__(self, worklist: Worklist, cells: list[tuple[int, Cell]], learned: LearnedTimes | None) -> None:
        """``cells``: each with the purpose it is drawn for."""
        beliefs = worklist.scenario.luck
        logged = {number: step for step in learned.steps for number in step.steps} if learned is not None else {}
        purposes, self.purpose_of = np.unique([purpose for purpose, _ in cells], return_inverse=True)
        self.purposes = [int(purpose) for purpose in purposes]
        self.task = np.array([task for _, (task, _, _, _) in cells], dtype=np.int64)
        self.key = np.array([key for _, (_, key, _, _) in cells], dtype=np.uint64)
        self.spread_key = spread_out(self.key)
        n_steps = len(worklist.steps)
        forms: dict[tuple[int, int], Spread] = {}  # a step has one law for a purpose
        spreads, shared = [], []
        for purpose, (task, _, law, _) in cells:
            n = worklist.task_step[task]
            clock = purpose not in (*HANDS_ON, REDO_WORK)
            shared.append(n_steps if clock else n)
            if (purpose, n) not in forms:
                operation = worklist.steps[n].operation
                if clock:
                    form = clock_spread(law)
                elif learned is not None and n in logged and purpose in LOGGED and law.numbers[1] > 0.0:
                    form = learned_spread(law, logged[n], learned.noise_factor)
                else:
                    form = spread_of(operation, law, beliefs)
                forms[purpose, n] = form
            spreads.append(forms[purpose, n])
        self.shared = np.array(shared, dtype=np.int64)
        self.shifted = (self.shared < n_steps).astype(np.float64)
        self.log_likely = np.array([spread.log_likely for spread in spreads])
        self.log_likely += np.log([factor for _, (_, _, _, factor) in cells])
        self.below = np.array([spread.below for spread in spreads])
        self.above = np.array([spread.above for spread in spreads])
        self.error = np.array([spread.error for spread in spreads])
        self.noise = np.array([spread.noise for spread in spreads])
        # a likely (or, on the clock, a low) of nought has no logarithm: those few go by straight pieces
        self.odd = {
            n: (law.numbers, factor)
            for n, (_, (_, _, law, factor)) in enumerate(cells)
            if law.numbers[1] == 0.0 or (shared[n] == n_steps and law.numbers[0] == 0.0)
        }

    def draw(
        self, seed: int, numbers: np.ndarray, z_shared: np.ndarray, shift: np.ndarray, kernels: Any = None
    ) -> np.ndarray:
        """Minutes of each cell in several replications, shape (replications, cells).

        ``z_shared``: the normal score of every step's error, then that of the run's clock, a row a replication;
        ``shift``: what bias and pace come to, shape (replications,). ``kernels``: see ``luck.draw_block``.
        """
        if kernels is None:
            u = draw_for(seed, numbers, self.purposes, self.purpose_of, self.key, self.spread_key)
            return self._minutes(u, z_shared[:, self.shared], shift[:, None], slice(None))
        z, minutes = np.empty((2, numbers.size, self.key.size))
        kernels.fill_uniform(roots_for(seed, numbers, self.purposes), self.purpose_of, self.key, self.spread_key, z)
        special.ndtri(z, out=z)
        kernels.scores_to_logs(
            z, z_shared, shift, self.shared, self.noise, self.error, self.below, self.above, self.log_likely,
            self.shifted, minutes,
        )  # fmt: skip
        np.exp(minutes, out=minutes)
        self._mend_odd(minutes, z, shift[:, None], slice(None))
        return minutes

    def draw_at(
        self,
        seed: int,
        numbers: np.ndarray,
        z_shared: np.ndarray,
        shift: np.ndarray,
        rows: np.ndarray,
        cells: np.ndarray,
    ) -> np.ndarray:
        """Single elements of ``draw``, all of one purpose: replications by their place in ``numbers``, and cells."""
        u = draw_at(seed, numbers, self.purposes[0], rows, self.key[cells], self.spread_key[cells])
        return self._minutes(u, z_shared[rows, self.shared[cells]], shift[rows], cells)

    def place_is(self, purpose: int, cells: np.ndarray) -> np.ndarray:
        """Which of the cells are drawn for a purpose."""
        return np.asarray(np.array(self.purposes)[self.purpose_of[cells]] == purpose)

    def minutes_at(self, cell: int, z_shared: np.ndarray, shift: np.ndarray) -> Callable[[np.ndarray], np.ndarray]:
        """Minutes of one hands-on cell as a function of its own normal scores, one a replication, given what each shares."""

        def minutes(z: np.ndarray) -> np.ndarray:
            total = z * self.noise[cell] + self.error[cell] * z_shared
            if cell in self.odd:
                (low, likely, high), factor = self.odd[cell]
                return np.asarray(
                    np.exp(self.shifted[cell] * shift) * factor * range_quantile(low, likely, high, total)
                )
            slope = np.where(total < 0, self.below[cell], self.above[cell])
            return np.asarray(np.exp(slope * total + self.log_likely[cell] + self.shifted[cell] * shift))

        return minutes

    def _minutes(self, u: np.ndarray, z_shared: np.ndarray, shift: np.ndarray, cells: slice | np.ndarray) -> np.ndarray:
        z = special.ndtri(u)
        z *= self.noise[cells]
        z += self.error[cells] * z_shared
        minutes = np.where(z < 0, self.below[cells], self.above[cells])
        minutes *= z
        minutes += self.log_likely[cells] + self.shifted[cells] * shift
        np.exp(minutes, out=minutes)
        self._mend_odd(minutes, z, shift, cells)
        return minutes

    def _mend_odd(self, minutes: np.ndarray, z: np.ndarray, shift: np.ndarray, cells: slice | np.ndarray) -> None:
        """The minutes of cells that have no logarithm, in place."""
        for n, ((low, likely, high), factor) in self.odd.items():
            at = (slice(None), n) if isinstance(cells, slice) else cells == n
            scores, by = z[at], shift[:, 0] if isinstance(cells, slice) else shift[at]
            shifted = np.array([math.exp(one) for one in by.tolist()]) if self.shifted[n] else 1.0
            minutes[at] = shifted * factor * range_quantile(low, likely, high, scores)


class _LawTimes:
    """Cells whose law is named: the law's own quantile, with nothing shared."""

    def __init__(self, cells: list[Cell]) -> None:
        self.task = np.array([task for task, _, _, _ in cells], dtype=np.int64)
        self.key = np.array([key for _, key, _, _ in cells], dtype=np.uint64)
        self.factor = np.array([factor for _, _, _, factor in cells])
        places: dict[Law, list[int]] = {}
        for place, (_, _, law, _) in enumerate(cells):
            places.setdefault(law, []).append(place)
        self.laws = [(law, np.array(which)) for law, which in places.items()]

    def minutes_at(self, cell: int) -> Callable[[np.ndarray], np.ndarray]:
        """Minutes of one cell as a function of normal scores."""
        law = next(law for law, which in self.laws if cell in which)
        return lambda z: np.asarray(law.quantile(special.ndtr(z)) * self.factor[cell])

    def draw(self, seed: int, numbers: np.ndarray, purpose: int) -> np.ndarray:
        """Minutes of each cell in several replications, shape (replications, cells)."""
        u = draw_block(seed, numbers, purpose, self.key)
        drawn = np.empty(u.shape)
        for law, which in self.laws:  # a law of the user's own is asked for a plain row of numbers
            drawn[:, which] = law.quantile(u[:, which].ravel()).reshape(numbers.size, which.size)
        return np.asarray(drawn * self.factor)


def _law_for(operation: Operation, purpose: int) -> Law | None:
    return {
        WORK: operation.work, SETUP: operation.setup, UNCLAMP: operation.unclamp,
        IN_CLAMPS: operation.in_clamps, CURE: operation.cure, WET: operation.wet,
    }[purpose]  # fmt: skip


class TaskTimes:
    """All kinds of time of all tasks: what never varies, the ranges, and the named laws. Rows in the order of KINDS."""

    def __init__(self, worklist: Worklist, learned: LearnedTimes | None = None) -> None:
        self.n = worklist.n_tasks
        self.still = np.zeros((len(KINDS), self.n))
        self.likely = np.zeros((len(KINDS), self.n))
        ranges: list[tuple[int, Cell]] = []
        named: dict[int, list[Cell]] = {}
        for row, purpose in enumerate(KINDS):
            laws = [_law_for(step.operation, purpose) for step in worklist.steps]
            likely, still = [0.0] * self.n, [0.0] * self.n
            for task, n in enumerate(worklist.task_step):
                law = laws[n]
                if law is None:
                    continue
                step, units, first = worklist.steps[n], worklist.key_units(task), worklist.task_nth_unit[task] + 1
                factors = [1.0]
                if purpose == WORK:
                    factors = [learning_factor(step.operation.learning, first + k) for k in range(len(units))]
                for unit, factor in zip(
                    units, factors, strict=False
                ):  # all else is drawn once a task, as its first unit
                    likely[task] += law.likely * factor
                    if not law.varies:
                        still[task] += law.numbers[0] * factor
                        continue
                    cell = (task, _cell_key(step.key, unit), law, factor)
                    if law.name == "range":
                        ranges.append((purpose, cell))
                    else:
                        named.setdefault(purpose, []).append(cell)
            self.likely[row], self.still[row] = likely, still
        self.ranges = _RangeTimes(worklist, ranges, learned) if ranges else None
        if self.ranges is not None:
            rows = np.array([KINDS.index(purpose) for purpose, _ in ranges], dtype=np.int64)
            self.place = rows * self.n + self.ranges.task
        self.named = [(KINDS.index(purpose), purpose, _LawTimes(cells)) for purpose, cells in named.items()]

    def draw(
        self, seed: int, numbers: np.ndarray, z_shared: np.ndarray, shift: np.ndarray, kernels: Any = None
    ) -> np.ndarray:
        """Minutes, shape (replications, kinds, tasks), not yet on the time grid; ``kernels``: see ``luck.draw_block``."""
        n, size = numbers.size, self.still.size
        if self.ranges is not None and kernels is not None:
            values = np.empty((n, size))
            minutes = self.ranges.draw(seed, numbers, z_shared, shift, kernels)
            kernels.add_to_tasks(minutes, self.place, self.still.ravel(), values)
        else:
            values = np.repeat(self.still.reshape(1, size), n, axis=0)
        if self.ranges is not None and kernels is None:
            minutes = self.ranges.draw(seed, numbers, z_shared, shift)
            place = (np.arange(n)[:, None] * size + self.place).ravel()
            values += np.bincount(place, weights=minutes.ravel(), minlength=values.size).reshape(values.shape)
        by_kind = values.reshape(n, len(KINDS), self.n)
        for row, purpose, laws in self.named:
            minutes = laws.draw(seed, numbers, purpose)
            place = (np.arange(n)[:, None] * self.n + laws.task).ravel()
            by_kind[:, row] += np.bincount(place, weights=minutes.ravel(), minlength=n * self.n).reshape(n, self.n)
        return by_kind


def _cell_key(step_key: int, unit: int) -> int:
    """``unit_key`` of one unit, without arrays."""
    return (step_key << 32) + unit + 1


class RedoTimes:
    """Units that may need work again: each with its chance, and what it then takes."""

    def __init__(self, worklist: Worklist, learned: LearnedTimes | None = None) -> None:
        cells: list[tuple[Cell, float]] = []
        for task, n in enumerate(worklist.task_step):
            step = worklist.steps[n]
            redo = step.operation.redo
            if redo is None or redo.chance == 0.0:
                continue
            cells += [
                ((task, _cell_key(step.key, unit), redo.work, 1.0), redo.chance) for unit in worklist.key_units(task)
            ]
        # ranges first, so that the minutes of both kinds can be laid end to end
        cells.sort(key=lambda cell: cell[0][2].name != "range")
        self.task = np.array([cell[0] for cell, _ in cells], dtype=np.int64)
        self.key = np.array([cell[1] for cell, _ in cells], dtype=np.uint64)
        self.chance = np.array([chance for _, chance in cells])
        ranges = [(REDO_WORK, cell) for cell, _ in cells if cell[2].name == "range"]
        self.ranges = _RangeTimes(worklist, ranges, learned)
        self.named = _LawTimes([cell for cell, _ in cells if cell[2].name != "range"])

    def draw(
        self, seed: int, numbers: np.ndarray, z_shared: np.ndarray, shift: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(places of replications in ``numbers``, tasks, minutes) of the units that need it."""
        rows, cells = np.nonzero(draw_block(seed, numbers, REDO_CHANCE, self.key) < self.chance)
        minutes = np.zeros(rows.size)
        in_range = cells < self.ranges.key.size
        if in_range.any():
            minutes[in_range] = self.ranges.draw_at(seed, numbers, z_shared, shift, rows[in_range], cells[in_range])
        if not in_range.all():
            named = self.named.draw(seed, numbers, REDO_WORK)
            minutes[~in_range] = named[rows[~in_range], cells[~in_range] - self.ranges.key.size]
        return rows, self.task[cells], minutes


def learning_factor(rate: float, unit: int) -> float:
    """Time of unit ``unit`` (from 1) over that of the first: unit^(log2 rate) (Crawford's unit curve)."""
    return 1.0 if rate == 1.0 or unit == 1 else float(unit) ** math.log2(rate)
