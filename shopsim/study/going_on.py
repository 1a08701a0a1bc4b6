"""A run under way, gone on with under luck: what has happened is fixed, what remains is drawn given what the log tells.

Beliefs are those that the log of this very run has updated: bias and estimate errors together with the run's own pace, which is not
drawn afresh. Keys are those of the whole run, so that what-ifs from one state share their luck.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from shopsim.dates import day_number
from shopsim.engine.compiling import find_compiled, want_compiled
from shopsim.engine.days import DayLuck
from shopsim.engine.half_done import Remainder, draw_remainder
from shopsim.engine.keyed import IN_CLAMPS, draw_block, unit_key
from shopsim.engine.luck import Draws, LuckBlock, LuckPlan, SharedLuck, draw_shared, likely_luck
from shopsim.engine.luck import draw_block as draw_luck_block
from shopsim.engine.pieces import piece_done, pieces_done
from shopsim.engine.plan import SimulationPlan, lay_out
from shopsim.engine.record import RunRecord, StartingState
from shopsim.engine.run import run
from shopsim.engine.task_times import KINDS
from shopsim.engine.worklist import build_worklist
from shopsim.scenario.model import Scenario
from shopsim.study.by_itself import ByItself
from shopsim.study.known_days import KnownDays, open_shares_of
from shopsim.study.order_queue import OrderQueue
from shopsim.study.run_state import RunState
from shopsim.study.starting import build_start
from shopsim.study.work_in_hand import HalfDone
from shopsim.units import to_tick

#: Replications that are drawn at once.
BLOCK = 64
#: Clamps that would be on longer than in this share of all cases are taken for forgotten in the log.
MAX_SHARE_BELOW = 0.999
#: Of work that takes its likely time, at least so much is left while it is not done.
LIKELY_LEFT = 0.1


@dataclass(frozen=True, eq=False)
class GoneOn:
    """What came of some replications: ``order_days`` (replications, orders) as in a study, ``finish_min`` (replications, orders) when
    the last piece of each was done, unrounded, and ``log_weight``, how well each agrees with what is half done."""

    order_days: np.ndarray
    finish_min: np.ndarray
    log_weight: np.ndarray

    @classmethod
    def join(cls, parts: Sequence[GoneOn]) -> GoneOn:
        """Several as one, one after the other."""
        return cls(*(np.concatenate([getattr(part, name) for part in parts]) for name in cls.__dataclass_fields__))


class GoingOn:
    """A run from its state at a moment on; made once, gone on with often.

    ``scenario``: with what the log teaches taken in. ``run_name``: under which name the times of this run stand there.
    """

    def __init__(self, scenario: Scenario, state: RunState, run_name: str) -> None:
        work = build_worklist(scenario)
        self.state, self.queue = state, OrderQueue(scenario)
        self.plan: SimulationPlan = lay_out(scenario, work, LuckPlan(work, run_name), None)
        self.start = build_start(self.plan, state)
        self.now = to_tick(state.now_min)
        self._by_itself = ByItself(self.plan, self.start, self.now)
        self._still_on = self._find_still_on()

    def go_on(self, seed: int, numbers: Sequence[int]) -> GoneOn:
        """These replications of a seed; the same call gives the same. About a millisecond each once the compiled floor is there,
        else as long as single runs of what is left."""
        want_compiled(len(numbers), self.plan.task_step.size)
        return GoneOn.join(
            [self._go_on_block(seed, numbers[at : at + BLOCK]) for at in range(0, max(1, len(numbers)), BLOCK)]
        )

    def _go_on_block(self, seed: int, numbers: Sequence[int]) -> GoneOn:
        plan = self.plan
        counted = np.array(numbers, dtype=np.int64)
        luck = draw_luck_block(plan.luck, seed, numbers)
        shared = [draw_shared(plan.luck, seed, number) for number in numbers]
        half = self._draw_half_done(seed, counted, shared, luck)
        self._draw_clamped(seed, counted, shared, luck)
        luck = replace(luck, material_at=self._draw_materials(seed, counted, luck))
        log_weight = np.zeros(counted.size)
        for _, remainder in half:
            log_weight += remainder.log_weight
        starts = []
        for row in range(counted.size):
            lefts = [(group, remainder.work[row], float(remainder.setup[row])) for group, remainder in half]
            starts.append(self._start_from(luck.view(row), lefts))
        return self._measure(self._finish(luck, starts), log_weight)

    def _finish(self, luck: LuckBlock, starts: Sequence[StartingState]) -> np.ndarray:
        """When every piece is done in each of these runs, shape (runs, pieces): by the compiled floor if it is there."""
        plan = self.plan
        done = np.empty((len(starts), plan.worklist.n_pieces))
        left_over: Sequence[int] = range(len(starts))
        compiled = find_compiled(plan)
        if compiled is not None:
            known = replace(luck, open_shares_of=open_shares_of(self.state, luck))
            block = compiled.run_block(plan, known, compiled.StartingStates.of(starts))
            for log in block.logs:
                done[log.places] = pieces_done(plan.worklist, log.done_min, log.batch_opened_min)
            left_over = block.left_over.tolist()
        for row in left_over:
            draws = luck.one(row)
            draws.days = self._know_days(draws)
            done[row] = piece_done(plan.worklist, run(plan, draws, starts[row]))
        return done

    def _know_days(self, draws: Draws) -> DayLuck | None:
        return None if draws.days is None else KnownDays(draws.days, self.state)

    def run_likely(self) -> RunRecord:
        """The record of the run to its end with everything left at its likely time; of what is half done at least a tenth is left."""
        plan = self.plan
        draws = likely_luck(plan.luck)
        draws.material_at = self._likely_materials(draws)
        lefts = []
        for group in self.state.half_done:
            work = np.array([draws.work[task] for task in group.tasks])
            setup = draws.setup[group.tasks[0]] * group.pays
            least = (1 + LIKELY_LEFT) * group.spent_min - setup
            if work.sum() < least:
                work *= max(least, 1e-9) / max(float(work.sum()), 1e-9)
            lefts.append((group, work, setup))
        return self._run(draws, lefts)

    def _measure(self, done: np.ndarray, log_weight: np.ndarray) -> GoneOn:
        state = self.state
        logs_shipping = bool(state.shipped)
        days = self.queue.ship_days_from(done, state.shipped, state.taken_out, self.now if logs_shipping else 0.0)
        return GoneOn(days, self.queue.finish_from(done, state.shipped, state.taken_out), log_weight)

    # ---- one run
    def _run(self, draws: Draws, half: Sequence[tuple[HalfDone, np.ndarray, float]]) -> RunRecord:
        starting = self._start_from(draws, half)
        draws.days = self._know_days(draws)
        return run(self.plan, draws, starting)

    def _start_from(self, draws: Draws, half: Sequence[tuple[HalfDone, np.ndarray, float]]) -> StartingState:
        """Where the run is, with these draws; what was spent on work of which less is left is taken from them."""
        plan, base = self.plan, self.start.record
        left = np.full(plan.worklist.n_tasks, math.nan)
        start, end, done, off, wet = (
            column.copy() for column in (base.start, base.end, base.done, base.clamps_off, base.wet_until)
        )
        begun = base.begun
        for group, work, setup in half:
            self._spend(group, work, setup, draws, left)
        for task in self.start.waiting.tolist():
            self._pass_time(task, draws, end, off, done)
            wet[task] = end[task] + draws.wet[task] if draws.wet[task] else math.nan
        if self.start.by_itself:
            begun = begun.copy()
            self._by_itself.begin(draws, start, end, done, off, left, begun)
        record = replace(base, start=start, begun=begun, end=end, done=done, clamps_off=off, wet_until=wet)
        return StartingState(self.now, record, left, np.full(left.size, math.nan))

    def _spend(self, group: HalfDone, work: np.ndarray, setup: float, draws: Draws, left: np.ndarray) -> None:
        """What was spent on tasks that were begun together went into them one after the other."""
        spent = group.spent_min
        handless = self.plan.worklist.steps[self.plan.worklist.task_step[group.tasks[0]]].operation.hands == 0
        for place, task in enumerate(group.tasks):
            minutes = float(work[place]) + (setup if place == 0 else 0.0)
            if handless:
                left[task] = max(to_tick(minutes - (self.now - group.begun_min)), 0.0)
                continue
            here = min(spent, minutes)
            spent -= here
            if place == 0:
                left[task] = to_tick(minutes - here)
            else:
                draws.work[task] = to_tick(minutes - here)

    def _pass_time(self, task: int, draws: Draws, end: np.ndarray, off: np.ndarray, done: np.ndarray) -> None:
        """Clamps that come off unasked and cures go on by themselves: what was over by now was over when it was, not now."""
        plan = self.plan
        step = int(plan.task_step[task])
        holds = bool(plan.step_timed_hold[step]) or bool(plan.step_unclamps[step]) or len(plan.step_needs.row(step)) > 0
        if holds and math.isnan(off[task]):
            due = end[task] + draws.in_clamps[task]
            if (plan.step_unclamps[step] and draws.unclamp[task] > 0) or due > self.now:
                return
            off[task] = self._next_at_work(due) if due > end[task] else due
            if off[task] > self.now:
                off[task] = math.nan
                return
        over = max(end[task] + draws.cure[task], off[task] if holds else end[task])
        if over <= self.now:
            done[task] = over

    def _next_at_work(self, due: float) -> float:
        """The first moment from ``due`` on at which somebody is at work; days that were lost left out."""
        day = day_number(due)
        opens = [
            (float(start), float(end))
            for calendar in self.plan.calendars
            for start, end, of_day in zip(*calendar.upto(day + 15), strict=True)
            if end > due and of_day not in self.state.lost
        ]
        return max(due, min((start for start, _ in opens), default=due))

    # ---- what is drawn otherwise than for a run that begins
    def _draw_half_done(
        self, seed: int, numbers: np.ndarray, shared: Sequence[SharedLuck], luck: LuckBlock
    ) -> list[tuple[HalfDone, Remainder]]:
        work = self.plan.worklist
        found = []
        for group in self.state.half_done:
            by_hand = work.steps[work.task_step[group.tasks[0]]].operation.hands > 0
            spent = group.spent_min if by_hand else 0.0
            remainder = draw_remainder(
                self.plan.luck, seed, numbers, shared, luck.minutes, group.tasks, spent, group.pays
            )
            found.append((group, remainder))
        return found

    def _find_still_on(self) -> list[tuple[int, float]]:
        """(task, minutes) of clamps that come off unasked and were seen to be still on: the log tells of those that came off, and
        somebody was at work so long after they were put on."""
        plan, state = self.plan, self.state
        moments = np.concatenate(
            [state.begun_min, state.ended_min, [span.last_span_min[1] for span in state.half_done]]
        )
        if not state.keeps_off or np.isnan(moments).all():
            return []
        seen = float(np.nanmax(moments))
        return [
            (task, seen - float(state.ended_min[task]))
            for task in self.start.waiting.tolist()
            if plan.step_timed_hold[plan.task_step[task]]
            and not plan.step_unclamps[plan.task_step[task]]
            and math.isnan(self.start.record.clamps_off[task])
            and seen > state.ended_min[task]
        ]

    def _draw_clamped(self, seed: int, numbers: np.ndarray, shared: Sequence[SharedLuck], luck: LuckBlock) -> None:
        """Times in clamps given that they were not over when somebody was there to see; so long that hardly any would be as long,
        somebody has forgotten to log them off."""
        row = KINDS.index(IN_CLAMPS)
        for task, passed in self._still_on:
            step = self.plan.worklist.steps[self.plan.worklist.task_step[task]]
            law = step.operation.in_clamps
            if law is None or not law.varies:
                continue
            drawn = luck.minutes[:, row, task]
            again = np.flatnonzero(drawn < passed)
            if not again.size:
                continue
            key = unit_key(step.key, self.plan.worklist.key_units(task)[0])
            u = draw_block(seed, numbers[again], IN_CLAMPS, np.array([key], dtype=np.uint64))[:, 0]
            gone = _share_below(law.quantile, passed)
            if gone > MAX_SHARE_BELOW:
                continue
            luck.minutes[again, row, task] = np.maximum(passed, law.quantile(gone + (1 - gone) * u))

    def _draw_materials(self, seed: int, numbers: np.ndarray, luck: LuckBlock) -> np.ndarray:
        """When each material may be used, shape (replications, materials): as it came, or given that it has not come."""
        here = luck.material_at.copy()
        for number, material in enumerate(self.plan.luck.materials):
            if material.on_shelf or self._is_in_use(number):
                here[:, number] = 0.0
            elif number in self.state.came_min:
                here[:, number] = material.draw_rested(seed, numbers, self.state.came_min[number])
            else:
                here[:, number] = material.draw_awaited(seed, numbers, self.now)
        return here

    def _likely_materials(self, draws: Draws) -> list[float]:
        """The like in the likely run: what is overdue comes now, and rests."""
        here = []
        for number, (material, likely) in enumerate(zip(self.plan.luck.materials, draws.material_at, strict=True)):
            rest = material.rest.likely
            if material.on_shelf or self._is_in_use(number):
                here.append(0.0)
            elif number in self.state.came_min:
                here.append(to_tick(self.state.came_min[number] + rest))
            else:
                here.append(max(likely, to_tick(self.now + rest)))
        return here

    def _is_in_use(self, material: int) -> bool:
        """Whether something has begun that needs it."""
        entries = set(self.plan.material_entries.row(material).tolist())
        begun = np.flatnonzero(~np.isnan(self.state.begun_min))
        return bool(entries & set(self.plan.task_entry[begun].tolist()))

    def list_awaited(self) -> list[str]:
        """Names of materials that something waits for, that are likely to have come, and of which the log does not say so."""
        overdue = []
        likely = likely_luck(self.plan.luck).material_at
        for number, material in enumerate(self.plan.scenario.materials):
            if material.on_shelf or self._is_in_use(number) or number in self.state.came_min:
                continue
            if likely[number] - self.plan.luck.materials[number].rest.likely <= self.now:
                overdue.append(material.name)
        return overdue


def _share_below(quantile: Callable[[np.ndarray], np.ndarray], value: float) -> float:
    """The share of a law at most ``value``, by halving."""
    low, high = 0.0, 1.0
    for _ in range(50):
        middle = (low + high) / 2
        under = float(quantile(np.array([middle]))[0]) <= value
        low, high = (middle, high) if under else (low, middle)
    return low
