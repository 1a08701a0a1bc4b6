"""The shop floor as a SimPy model: one run of a worklist with one run's luck.

SimPy keeps the clock and the order of events; nothing of the shop is a SimPy process or
resource. A task costs one event when its hands-on work ends, and one more if it then
cures or stays in clamps. All that happens at one moment is taken in first; then the
dispatcher chooses, once, what starts. Starting takes everything a task needs at one
moment or nothing, so nothing can lock up; and whatever can start, does.

State lives in local variables of ``run_once`` and its inner functions rather than in an
object: the inner loop is the price of every answer, and this halves it.
"""

from __future__ import annotations

import math
from bisect import insort
from collections.abc import Sequence
from heapq import heappop, heappush

import numpy as np
import simpy
from simpy.events import Event, Timeout

from shopsim.engine.hours import Calendar, Hours, SharedHours
from shopsim.engine.luck import Draws, LuckPlan
from shopsim.engine.record import RunRecord
from shopsim.engine.work_order import Rule, look_at, tail_of
from shopsim.engine.worklist import Worklist, build_worklist
from shopsim.errors import StalledShop
from shopsim.scenario.model import Scenario
from shopsim.units import moment

#: Openings at which nothing starts and nothing is awaited, before a run is given up as stalled.
IDLE_OPENINGS = 3000


class FloorPlan:
    """A scenario made ready to run: worklist, luck plan, calendars, and the order of the queue. Build once, run often."""

    def __init__(self, scenario: Scenario, rule: Rule | None = None, worklist: Worklist | None = None) -> None:
        self.scenario = scenario
        self.worklist = worklist if worklist is not None else build_worklist(scenario)
        self.luck = LuckPlan(self.worklist)
        self.rule = rule
        work = self.worklist
        calendars: dict[object, int] = {}
        self.calendars: list[Calendar] = []
        self.worker_hours: list[int] = []
        for number, worker in enumerate(scenario.shop.workers):
            form = (worker.open, worker.closed)
            if form not in calendars:
                calendars[form] = len(self.calendars)
                self.calendars.append(Calendar(scenario.shop, number, work.day0, not self.luck.whole_days))
            self.worker_hours.append(calendars[form])
        self.shop_calendar = Calendar(scenario.shop, None, work.day0, not self.luck.whole_days)
        self.task_entry, self.entry_step, self.entry_batch, self.entry_units = self._order_entries()

    def _order_entries(self) -> tuple[list[int], list[int], list[int], list[int]]:
        """Entries renumbered so that a lower number goes first; under a rule of the user's own, one a task."""
        work = self.worklist
        if self.rule is not None:
            return list(range(work.n_tasks)), work.task_step, work.task_batch, work.task_units
        name = self.scenario.run.work_order
        keys = []
        for entry, (n, batch, units) in enumerate(
            zip(work.entry_step, work.entry_batch, work.entry_units, strict=True)
        ):
            step = work.steps[n]
            tail = tail_of(step, units)
            lead: tuple[float, ...] = {
                "glue first": (batch, 0 if step.early else 1),
                "oldest batch": (batch,),
                "longest tail": (-tail,),
                "nearest done": (tail,),
            }[name]
            keys.append((*lead, batch, n, entry))
        order = sorted(range(len(keys)), key=keys.__getitem__)
        rank = {entry: number for number, entry in enumerate(order)}
        return (
            [rank[entry] for entry in work.task_entry],
            [work.entry_step[entry] for entry in order],
            [work.entry_batch[entry] for entry in order],
            [work.entry_units[entry] for entry in order],
        )


def run_once(plan: FloorPlan, draws: Draws) -> RunRecord:
    """Run the shop once; a pure function of its arguments.

    Raises StalledShop when tasks are open and nothing more can happen, with the time,
    a task, and what it waits for.
    """
    work = plan.worklist
    n_tasks = work.n_tasks
    nan = math.nan
    env = simpy.Environment()
    peek = env.peek

    # ---- what the scenario says, by step
    steps = work.steps
    step_hands = [step.operation.hands for step in steps]
    step_able = [sum(1 << w for w in step.workers) for step in steps]
    step_workers = [step.workers for step in steps]
    step_station = [step.station for step in steps]
    step_stays = [step.operation.stays for step in steps]
    step_rack = [step.rack for step in steps]
    step_spots = [step.spots_a_unit for step in steps]
    step_clamps = [step.clamps for step in steps]
    step_pausable = [step.pausable for step in steps]
    step_dusty = [step.operation.dusty for step in steps]
    step_wet = [step.operation.wet is not None for step in steps]
    step_held = [bool(step.clamps) or step.operation.in_clamps is not None for step in steps]
    step_timed_hold = [step.operation.in_clamps is not None for step in steps]
    step_unclamp = [step.operation.unclamp is not None for step in steps]
    step_likely_work = [step.operation.work.likely for step in steps]
    step_likely_setup = [step.operation.setup.likely for step in steps]
    step_plain = [
        not (held or wet or step.rack >= 0 or step.operation.cure is not None or step.operation.stays)
        for held, wet, step in zip(step_held, step_wet, steps, strict=True)
    ]
    any_dusty = any(step_dusty)
    task_step, task_units = work.task_step, work.task_units
    task_entry, entry_step, entry_batch, entry_units = (
        plan.task_entry, plan.entry_step, plan.entry_batch, plan.entry_units,
    )  # fmt: skip
    task_groups, task_batches = work.task_groups, work.task_batches
    listeners = work.group_listeners
    batches = work.batches

    # ---- this run's luck
    work_min, setup_min, unclamp_min = draws.work, draws.setup, draws.unclamp
    hold_min, cure_min, wet_min = draws.in_clamps, draws.cure, draws.wet

    # ---- the record
    ready, start, end = [nan] * n_tasks, [nan] * n_tasks, [nan] * n_tasks
    paid_setup = [0.0] * n_tasks
    clamps_off, done = [nan] * n_tasks, [nan] * n_tasks
    unclamp_start, unclamp_end = [nan] * n_tasks, [nan] * n_tasks
    wet_until = [nan] * n_tasks
    used_workers, unclamp_worker, used_unit = [0] * n_tasks, [-1] * n_tasks, [-1] * n_tasks
    used_clamps: dict[int, list[tuple[int, int]]] = {}
    pauses: dict[int, list[tuple[float, float]]] = {}
    batch_opened, batch_done = [nan] * len(batches), [nan] * len(batches)

    # ---- the state of the shop
    hours = [Hours(calendar, draws.days) for calendar in plan.calendars]
    worker_hours = plan.worker_hours
    here_if = [sum(1 << w for w, h in enumerate(worker_hours) if h == n) for n in range(len(hours))]
    together: dict[tuple[int, ...], SharedHours] = {}
    free = (1 << len(worker_hours)) - 1
    available = 0
    unit_last = [-1] * sum(len(units) for units in work.station_units)
    unit_used = [-1.0] * len(unit_last)
    free_units = [list(units) for units in work.station_units]
    clamps_free = list(work.clamp_counts)
    spots_free = list(work.rack_spots)
    n_dusty = n_wet = 0
    group_left = list(work.group_size)
    waits = list(work.task_waits)
    heaps: list[list[int]] = [[] for _ in entry_step]
    active: list[int] = []
    n_handless = 0  # active entries that need nobody
    chores: list[tuple[float, int]] = []  # clamps to take off: (due, task)
    halted: list[tuple[int, float]] = []  # tasks of several hands left for now: (task, minutes left)
    outstanding = [0] * len(steps)  # materials still on the way, a step
    batch_left = [0] * len(batches)
    for covered in task_batches:
        for batch in covered:
            batch_left[batch] += 1
    n_opened = n_finished = 0
    n_done = 0
    wake_at = -1.0
    idle_wakes = 0
    closing_refused = False
    rule = plan.rule
    ranks: dict[int, tuple[object, int]] = {}
    once_setup: set[tuple[int, int]] = set()  # (step, batch) whose set-up without a station is paid

    # ---- tasks become ready, batches open and finish
    def arrive(task: int, now: float) -> None:
        nonlocal n_handless
        ready[task] = now
        entry = task_entry[task]
        heap = heaps[entry]
        if not heap:
            if rule is None:
                insort(active, entry)
            else:
                ranks[entry] = (rule(look_at(work, task, now)), task)
                insort(active, entry, key=ranks.__getitem__)
            if step_hands[entry_step[entry]] == 0:
                n_handless += 1
        heappush(heap, task)

    def let_go(group: int, now: float) -> None:
        for task in listeners[group]:
            waits[task] -= 1
            if not waits[task]:
                arrive(task, now)

    def open_batches(now: float) -> None:
        nonlocal n_opened
        while (
            n_opened < len(batches) and n_opened - n_finished < work.batches_open and batches[n_opened].opens_at <= now
        ):
            batch = n_opened
            n_opened += 1
            batch_opened[batch] = now
            group_left[work.batch_gate[batch]] = 0
            let_go(work.batch_gate[batch], now)

    def complete(task: int, now: float) -> None:
        nonlocal n_finished, n_done
        n_done += 1
        done[task] = now
        for group in task_groups[task]:
            left = group_left[group] - 1
            group_left[group] = left
            if not left:
                let_go(group, now)
        for batch in task_batches[task]:
            batch_left[batch] -= 1
            if not batch_left[batch]:
                batch_done[batch] = now
                n_finished += 1
                open_batches(now)

    def give_back(task: int, step: int, now: float) -> None:
        """Clamps are off and it is cured: what it still held is free, and it is done."""
        if step_rack[step] >= 0:
            spots_free[step_rack[step]] += step_spots[step] * task_units[task]
        if step_stays[step] and step_station[step] >= 0:
            free_units[step_station[step]].append(used_unit[task])
        complete(task, now)

    # ---- events
    def at(when: float, value: object, callback: object) -> None:
        Timeout(env, when - env.now, value).callbacks.append(callback)  # type: ignore[union-attr,arg-type]

    def settle(now: float) -> None:
        if peek() > now:
            dispatch(now)

    def on_end(event: Event) -> None:
        """The hands-on work of a task ends."""
        nonlocal free, n_dusty, n_wet
        task = event._value
        now = env.now
        free |= used_workers[task]
        step = task_step[task]
        station = step_station[step]
        if station >= 0 and not step_stays[step]:
            free_units[station].append(used_unit[task])
        if step_dusty[step]:
            n_dusty -= 1
        if step_plain[step]:
            complete(task, now)
        else:
            leave_to_itself(task, step, now)
        if peek() > now:
            dispatch(now)

    def leave_to_itself(task: int, step: int, now: float) -> None:
        """From the end of the hands-on work: clamps, cure, wetness."""
        nonlocal n_wet
        if step_wet[step]:
            wet_until[task] = now + wet_min[task]
            if wet_min[task] > 0 and any_dusty:
                at(wet_until[task], task, on_dry)
            else:
                n_wet -= 1
        cured = now + cure_min[task]
        if step_held[step]:
            if not step_timed_hold[step] and not step_unclamp[step]:
                free_clamps(task, now)
            else:
                due = now + hold_min[task]
                if step_unclamp[step] and unclamp_min[task] > 0:
                    if due > now:
                        at(due, task, on_due)
                    else:
                        heappush(chores, (due, task))
                    return
                off = min(curve.next_at_work(due) for curve in hours) if due > now else due
                if off > now:
                    at(off, task, on_clamps_off)
                    return
                free_clamps(task, now)
        if cured > now:
            at(cured, task, on_cured)
        else:
            give_back(task, step, now)

    def free_clamps(task: int, now: float) -> None:
        clamps_off[task] = now
        for kind, count in used_clamps.get(task, ()):
            clamps_free[kind] += count

    def on_due(event: Event) -> None:
        """A glue-up may come out of its clamps, as soon as somebody has the time."""
        heappush(chores, (env.now, event._value))  # type: ignore[arg-type]
        settle(env.now)

    def on_clamps_off(event: Event) -> None:
        now, task = env.now, event._value
        after_clamps(task, now)  # type: ignore[arg-type]
        settle(now)

    def after_clamps(task: int, now: float) -> None:
        free_clamps(task, now)
        cured = end[task] + cure_min[task]
        if cured > now:
            at(cured, task, on_cured)
        else:
            give_back(task, task_step[task], now)

    def on_unclamped(event: Event) -> None:
        nonlocal free
        now, task = env.now, event._value
        free |= 1 << unclamp_worker[task]  # type: ignore[index]
        after_clamps(task, now)  # type: ignore[arg-type]
        settle(now)

    def on_cured(event: Event) -> None:
        now, task = env.now, event._value
        give_back(task, task_step[task], now)  # type: ignore[arg-type,index]
        settle(now)

    def on_dry(_event: Event) -> None:
        nonlocal n_wet
        n_wet -= 1
        settle(env.now)

    def on_clock(_event: Event) -> None:
        """A batch may open, or somebody comes to work."""
        open_batches(env.now)
        settle(env.now)

    def on_material(event: Event) -> None:
        for step in event._value:  # type: ignore[attr-defined]
            outstanding[step] -= 1
        settle(env.now)

    # ---- starting a task
    def take_clamps(step: int) -> list[tuple[int, int]] | None:
        """The clamps a task of this step would take, smallest first; None if they are not free."""
        needs = step_clamps[step]
        if len(needs) == 1 and len(needs[0][0]) == 1:
            kind, count = needs[0][0][0], needs[0][1]
            return [(kind, count)] if clamps_free[kind] >= count else None
        left = clamps_free.copy()
        taken = []
        for kinds, count in needs:
            for kind in kinds:
                some = left[kind] if left[kind] < count else count
                if some > 0:
                    left[kind] -= some
                    count -= some
                    taken.append((kind, some))
            if count:
                return None
        return taken

    def choose_workers(step: int, likely: float, now: float) -> list[int] | None:
        """The workers who would do it; None if too few are free, or if it does not fit before they close."""
        nonlocal closing_refused
        hands = step_hands[step]
        chosen = []
        for worker in step_workers[step]:
            if available >> worker & 1:
                if not step_pausable[step]:
                    curve = hours[worker_hours[worker]]
                    if now + likely > curve.close[curve.at]:
                        closing_refused = True
                        continue
                chosen.append(worker)
                if len(chosen) == hands:
                    return chosen
        return None

    def try_begin(entry: int, step: int, now: float) -> bool:
        nonlocal free, available, n_dusty, n_wet, n_handless, idle_wakes
        if outstanding[step]:
            return False
        station = step_station[step]
        if station >= 0 and not free_units[station]:
            return False
        if (n_wet and step_dusty[step]) or (n_dusty and step_wet[step]):
            return False
        rack = step_rack[step]
        if rack >= 0 and spots_free[rack] < step_spots[step] * entry_units[entry]:
            return False
        clamps = None
        if step_clamps[step]:
            clamps = take_clamps(step)
            if clamps is None:
                return False
        if station >= 0:
            unit = pick_unit(station, step)
            pays = unit_last[unit] != step
        else:
            unit = -1
            pays = (step, entry_batch[entry]) not in once_setup
        hands = step_hands[step]
        chosen: list[int] = []
        if hands:
            likely = step_likely_work[step] * entry_units[entry] + (step_likely_setup[step] if pays else 0.0)
            found = choose_workers(step, likely, now)
            if found is None:
                return False
            chosen = found

        # all is there: take it
        idle_wakes = 0
        heap = heaps[entry]
        task = heappop(heap)
        if not heap:
            active.remove(entry)
            if not hands:
                n_handless -= 1
        minutes = work_min[task]
        if pays:
            paid_setup[task] = setup_min[task]
            minutes += setup_min[task]
        if station >= 0:
            free_units[station].remove(unit)
            unit_last[unit] = step
            unit_used[unit] = now
            used_unit[task] = unit
        elif pays:
            once_setup.add((step, entry_batch[entry]))
        if clamps is not None:
            used_clamps[task] = clamps
            for kind, count in clamps:
                clamps_free[kind] -= count
        if rack >= 0:
            spots_free[rack] -= step_spots[step] * task_units[task]
        if step_dusty[step]:
            n_dusty += 1
        if step_wet[step]:
            n_wet += 1
        start[task] = now
        if hands == 1:
            bit = 1 << chosen[0]
            used_workers[task] = bit
            free ^= bit
            available ^= bit
            curve = hours[worker_hours[chosen[0]]]
            finish = curve.finish(now, minutes) if step_pausable[step] else curve.finish_late(now, minutes)
            end[task] = finish
            at(finish, task, on_end)
        elif hands == 0:
            end[task] = now + minutes
            at(end[task], task, on_end)
        else:
            used_workers[task] = sum(1 << worker for worker in chosen)
            work_together(task, minutes, now)
        return True

    def pick_unit(station: int, step: int) -> int:
        """The free unit that is set for the step, else one never used, else the one used longest ago."""
        units = free_units[station]
        if len(units) == 1:
            return units[0]
        for unit in units:
            if unit_last[unit] == step:
                return unit
        return min(units, key=lambda unit: (unit_used[unit], unit))

    # ---- tasks of several hands
    def work_together(task: int, minutes: float, now: float) -> None:
        """Several workers begin or go on; if some go home before others, those who stay are let go meanwhile."""
        nonlocal free, available
        mask = used_workers[task]
        free &= ~mask
        available &= ~mask
        kinds = sorted({worker_hours[w] for w in range(len(worker_hours)) if mask >> w & 1})
        step = task_step[task]
        if len(kinds) == 1:
            curve: Hours = hours[kinds[0]]
        else:
            if tuple(kinds) not in together:
                together[tuple(kinds)] = SharedHours([hours[kind] for kind in kinds])
            curve = together[tuple(kinds)]
            curve.seek(now)
        if not step_pausable[step]:
            end[task] = curve.finish_late(now, minutes)
            at(end[task], task, on_end)
            return
        finish = curve.finish(now, minutes)
        first_close = min(hours[kind].close[hours[kind].at] for kind in kinds)
        if len(kinds) > 1 and finish > first_close:
            worked = sum((until - since) * rate for since, until, rate in curve.pieces(now, first_close))
            pauses.setdefault(task, []).append((now, first_close))
            at(first_close, (task, minutes - worked), on_halt)
            return
        if task in pauses:
            pauses[task].append((now, finish))
        end[task] = finish
        at(finish, task, on_end)

    def on_halt(event: Event) -> None:
        nonlocal free
        task, left = event._value  # type: ignore[misc]
        free |= used_workers[task]
        halted.append((task, left))
        settle(env.now)

    # ---- the dispatcher
    def dispatch(now: float) -> None:
        nonlocal free, available, closing_refused
        here = 0
        for n, curve in enumerate(hours):
            if curve.seek(now):
                here |= here_if[n]
        available = free & here
        closing_refused = False
        if available:
            if halted:
                resume(now)
            if chores:
                take_clamps_off(now)
        if active and (available or n_handless):
            begin_what_can(now)
        if active or chores or halted:
            wake_when_somebody_comes(now)

    def resume(now: float) -> None:
        for task, left in halted.copy():
            if used_workers[task] & ~available == 0:
                halted.remove((task, left))
                work_together(task, left, now)

    def take_clamps_off(now: float) -> None:
        nonlocal free, available
        for worker in plan_unclampers:
            if not chores:
                return
            if available >> worker & 1:
                _, task = heappop(chores)
                free ^= 1 << worker
                available ^= 1 << worker
                unclamp_worker[task] = worker
                unclamp_start[task] = now
                unclamp_end[task] = hours[worker_hours[worker]].finish(now, unclamp_min[task])
                at(unclamp_end[task], task, on_unclamped)

    plan_unclampers = sorted(range(len(worker_hours)), key=lambda w: (sum(able >> w & 1 for able in step_able), w))

    def is_set(step: int) -> bool:
        station = step_station[step]
        if station >= 0:
            for unit in free_units[station]:
                if unit_last[unit] == step:
                    return True
        return False

    def begin_what_can(now: float) -> None:
        """Tasks whose station is already set for them first, then all, in work order."""
        for set_only in (True, False):
            n = 0
            while n < len(active):
                entry = active[n]
                step = entry_step[entry]
                if (
                    (available & step_able[step] or not step_hands[step])
                    and (not set_only or is_set(step))
                    and try_begin(entry, step, now)
                ):
                    if not available and not n_handless:
                        return
                else:
                    n += 1

    def wake_when_somebody_comes(now: float) -> None:
        nonlocal wake_at, idle_wakes
        if peek() == math.inf:
            idle_wakes += 1
            if idle_wakes > IDLE_OPENINGS:
                raise _describe_stall(plan, now, ready, start, done)
        when = math.inf
        for curve in hours:
            if curve.start[curve.at] > now:
                when = min(when, curve.start[curve.at])
            elif closing_refused:
                when = min(when, curve.next_start(now))
        if when < math.inf and not now < wake_at <= when:
            wake_at = when
            at(when, None, on_clock)

    # ---- run
    for when in sorted({batch.opens_at for batch in batches}):
        at(max(0.0, when), None, on_clock)
    for covered_steps, when in zip(work.material_steps, draws.material_at, strict=True):
        if when > 0:
            for step in covered_steps:
                outstanding[step] += 1
            at(when, covered_steps, on_material)
    env.run()
    if n_done < n_tasks:
        raise _describe_stall(plan, env.now, ready, start, done)
    table = np.zeros((n_tasks, len(clamps_free)), dtype=np.int32)
    for task, taken in used_clamps.items():
        for kind, count in taken:
            table[task, kind] += count
    return RunRecord(
        ready=np.array(ready),
        start=np.array(start),
        end=np.array(end),
        setup_min=np.array(paid_setup),
        work_min=np.array(work_min),
        clamps_off=np.array(clamps_off),
        unclamp_start=np.array(unclamp_start),
        unclamp_end=np.array(unclamp_end),
        done=np.array(done),
        wet_until=np.array(wet_until),
        workers=np.array(used_workers, dtype=np.int64),
        unclamp_worker=np.array(unclamp_worker, dtype=np.int32),
        station_unit=np.array(used_unit, dtype=np.int32),
        clamps=table,
        batch_opened=np.array(batch_opened),
        batch_done=np.array(batch_done),
        pauses=pauses,
    )


def _describe_stall(
    plan: FloorPlan, now: float, ready: Sequence[float], start: Sequence[float], done: Sequence[float]
) -> StalledShop:
    """Simulated time, an open task, and who holds what."""
    work = plan.worklist
    open_tasks = [task for task in range(work.n_tasks) if math.isnan(done[task])]
    waiting = [task for task in open_tasks if math.isnan(start[task]) and not math.isnan(ready[task])]
    under_way = [task for task in open_tasks if not math.isnan(start[task])]
    first = (waiting or open_tasks)[0]
    step = work.steps[work.task_step[first]]
    needs = [f"{step.operation.hands} hands"]
    if step.station >= 0:
        needs.append(work.station_names[step.station])
    needs += [f"{count} of {' or '.join(work.clamp_names[kind] for kind in kinds)}" for kinds, count in step.clamps]
    if step.rack >= 0:
        needs.append(f"{step.spots_a_unit} spots of {work.rack_names[step.rack]}")
    held = "; ".join(work.task_name(task) for task in under_way[:5]) or "nothing"
    return StalledShop(
        f"at {moment(now, work.day0):%Y-%m-%d %H:%M} nothing can go on and {len(open_tasks)} tasks are open: "
        f"{work.task_name(first)} needs {', '.join(needs)}; still under way: {held}"
    )
