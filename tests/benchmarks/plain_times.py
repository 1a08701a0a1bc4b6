"""Hours and durations of the plain model: calendars as lists of stretches, draws with numpy's own generator."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import numpy as np
from plain_tasks import Task

from shopsim.laws import Law
from shopsim.scenario.model import Scenario

DAY = 1440.0
N_DAYS = 1500


class Calendar:
    """Stretches of work of one worker, or of several at once, from midnight of the first day."""

    def __init__(self, stretches: list[tuple[float, float]]) -> None:
        self.stretches = stretches
        self.rates: list[float] = []
        self.at = 0

    def restart(self, rates: list[float]) -> None:
        """Goes back to the first day, with the share of each day that is left for work."""
        self.rates, self.at = rates, 0

    def stretch(self, now: float) -> tuple[float, float, float]:
        """Start, end and pace of the stretch that is under way or comes next; time only goes forward."""
        while self.stretches[self.at][1] <= now or self.rates[int(self.stretches[self.at][0] // DAY)] == 0.0:
            self.at += 1
        start, end = self.stretches[self.at]
        return start, end, self.rates[int(start // DAY)]


def lay_hours(scenario: Scenario) -> list[list[tuple[float, float]]]:
    """For every worker the stretches at work, the shop's hours cut by the worker's own."""
    shop = scenario.shop

    def lay(week: Any, *closed: tuple[dt.date, dt.date]) -> list[tuple[float, float]]:
        stretches = []
        for day in range(N_DAYS):
            date = scenario.day0 + dt.timedelta(days=day)
            if not any(first <= date <= last for first, last in closed):
                hours = ((0.0, DAY),) if week == "always" else week[date.weekday()]
                stretches += [(day * DAY + start, day * DAY + end) for start, end in hours]
        return stretches

    return [
        lay(shop.open, *shop.closed, *worker.closed)
        if worker.open in (None, "always")
        else overlap(lay(shop.open, *shop.closed), lay(worker.open, *worker.closed))
        for worker in shop.workers
    ]


def overlap(one: list[tuple[float, float]], other: list[tuple[float, float]]) -> list[tuple[float, float]]:
    both, i, j = [], 0, 0
    while i < len(one) and j < len(other):
        low, high = max(one[i][0], other[j][0]), min(one[i][1], other[j][1])
        if low < high:
            both.append((low, high))
        i, j = (i + 1, j) if one[i][1] <= other[j][1] else (i, j + 1)
    return both


class Durations:
    """Minutes of every task of one run: likely ones without ``rng``, else drawn with shared factors."""

    def __init__(self, scenario: Scenario, tasks: list[Task], rng: np.random.Generator | None) -> None:
        luck, self.rng = scenario.luck, rng
        n = len(tasks)
        self.setup, self.work, self.likely_work = [0.0] * n, [0.0] * n, [0.0] * n
        self.in_clamps, self.unclamp, self.cure, self.wet = [0.0] * n, [0.0] * n, [0.0] * n, [0.0] * n
        shared = clock = 1.0
        if rng is not None:
            shared = luck.bias * math.exp(rng.normal(0, luck.bias_spread) + rng.normal(0, luck.pace_spread))
            clock = math.exp(rng.normal(0, 0.1))
        by_operation: dict[int, list[Task]] = {}
        for task in tasks:
            by_operation.setdefault(id(task.operation), []).append(task)
        for mine in by_operation.values():
            self._draw_operation(scenario, mine, shared, clock)

    def _draw_operation(self, scenario: Scenario, mine: list[Task], shared: float, clock: float) -> None:
        operation, luck, rng = mine[0].operation, scenario.luck, self.rng
        spread = luck.hand_spread if operation.work_kind == "hand" else luck.machine_spread
        if rng is not None and operation.work.name == "range":
            low, _, high = operation.work.numbers
            guess = operation.basis == "guess"
            claimed = math.log(high / max(low, 1e-9)) / 2.5631 * (luck.guess_widening if guess else luck.timed_widening)
            least = luck.guess_spread if guess else luck.timed_spread
            shared *= math.exp(rng.normal(0, max(least, math.sqrt(max(0.0, claimed**2 - spread**2)))))
        n_units, n_tasks = mine[-1].units.stop, len(mine)
        learned = np.arange(1, n_units + 1) ** math.log2(operation.learning)
        likely = operation.work.likely * learned
        unit_min = self._draw(operation.work, n_units, shared, spread) * learned
        if operation.redo is not None and rng is not None:
            again = self._draw(operation.redo.work, n_units, shared, spread)
            unit_min = unit_min + np.where(rng.random(n_units) < operation.redo.chance, again, 0.0)
        setup = self._draw(operation.setup, n_tasks, shared, spread)
        unclamp = self._draw(operation.unclamp, n_tasks, shared, spread)
        in_clamps = self._draw(operation.in_clamps, n_tasks, None, 0.0) * clock
        cure = self._draw(operation.cure, n_tasks, None, 0.0) * clock
        wet = self._draw(operation.wet, n_tasks, None, 0.0) * clock
        for index, task in enumerate(mine):
            number, units = task.number, slice(task.units.start, task.units.stop)
            self.work[number], self.likely_work[number] = float(unit_min[units].sum()), float(likely[units].sum())
            self.setup[number], self.unclamp[number] = float(setup[index]), float(unclamp[index])
            self.in_clamps[number], self.cure[number] = float(in_clamps[index]), float(cure[index])
            self.wet[number] = float(wet[index])

    def _draw(self, law: Law | None, n: int, shared: float | None, spread: float) -> np.ndarray:
        if law is None:
            return np.zeros(n)
        if self.rng is None or not law.varies:
            return np.full(n, law.likely)
        if law.name != "range" or shared is None:
            return law.quantile(self.rng.random(n))
        return law.likely * shared * np.exp(spread * self.rng.standard_normal(n))
