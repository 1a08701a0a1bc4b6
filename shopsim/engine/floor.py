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
from array import array
from bisect import insort
from collections.abc import Callable, Sequence
from heapq import heappop, heappush
from typing import Any

import numpy as np
import simpy
from simpy.events import NORMAL, URGENT, Event

from shopsim.engine.collecting import without_collector
from shopsim.engine.floor_plan import FloorPlan, describe_long_run, describe_stall
from shopsim.engine.hours import LONGEST_RUN_DAYS, ON_GRID, CalendarEnds, Hours, SharedHours
from shopsim.engine.luck import Draws
from shopsim.engine.priority import look_at
from shopsim.engine.record import RunRecord
from shopsim.units import MINUTES_PER_DAY, to_tick

#: What is called when a moment comes.
Callbacks = Sequence[Callable[[Any], None]]


class Moment(Event):
    """A SimPy event for ``what``; its callbacks are shared by all of a kind, not copied."""

    _ok = True
    _value = None

    def __init__(self, what: Any, callbacks: Callbacks) -> None:
        self.what = what
        self.callbacks = callbacks  # type: ignore[assignment]


#: What the events have for callbacks that the loop itself answers: a task goes on, and the end of the calendar.
TASK_GOES_ON: Callbacks = []
OVER: Callbacks = []
#: What a task goes on to when its event comes: by turns at most one of these is ahead of it.
WORK_ENDS, MAY_COME_OUT, UNCLAMPED, CLAMPS_OFF, CURED = range(5)
_moments: list[Moment] = []


def moment_of_each(n_tasks: int) -> list[Moment]:
    """The event at which each task goes on: made once for all runs, as nothing of it changes."""
    global _moments
    moments = _moments
    if len(moments) < n_tasks:
        moments = _moments = [Moment(task, TASK_GOES_ON) for task in range(n_tasks)]
    return moments


#: Openings at which nothing starts and nothing is awaited, before a run is given up as stalled.
IDLE_OPENINGS = 3000
#: Minutes after which a run is given up.
LONGEST_RUN_MIN = LONGEST_RUN_DAYS * MINUTES_PER_DAY


def run_once(plan: FloorPlan, draws: Draws) -> RunRecord:
    """Run the shop once; a pure function of its arguments.

    Raises StalledShop when tasks are open and nothing more can happen, with the time,
    a task, and what it waits for; RunError when it takes more than twenty years.
    """
    work = plan.worklist
    n_tasks = work.n_tasks
    nan = math.nan
    env = simpy.Environment()
    # SimPy's own queue and count of events: what Environment.schedule and step do, without a call for each
    queue: list[tuple[float, int, int, Moment]] = env._queue  # type: ignore[assignment]
    event_numbers = env._eid

    # ---- what the scenario says, by step
    table = plan.table
    step_hands, step_able, step_workers = table.hands, table.able, table.workers
    step_station, step_stays, step_rack, step_spots = table.station, table.stays, table.rack, table.spots
    step_clamps, step_pausable, step_dusty, step_wet = table.clamps, table.pausable, table.dusty, table.wet
    step_held, step_timed_hold, step_unclamp = table.held, table.timed_hold, table.unclamp
    step_plain, step_bound, step_likely_setup = table.plain, table.bound, table.likely_setup
    any_dusty = table.any_dusty
    task_step, task_units = work.task_step, work.task_units
    task_entry, entry_step = plan.task_entry, plan.entry_step
    entry_units, entry_likely = plan.entry_units, plan.entry_likely
    entry_setup = plan.entry_setup
    moments = moment_of_each(n_tasks)
    task_groups, ends_pieces = work.task_groups, plan.ends_pieces
    listeners = work.group_listeners
    batches = work.batches

    # ---- this run's luck
    work_min, setup_min, unclamp_min = draws.work, draws.setup, draws.unclamp
    hold_min, cure_min, wet_min = draws.in_clamps, draws.cure, draws.wet

    # ---- the record
    unknown = array("d", [nan]) * n_tasks
    ready, start, end, clamps_off, done = unknown[:], unknown[:], unknown[:], unknown[:], unknown[:]
    unclamp_start, unclamp_end, wet_until = unknown[:], unknown[:], unknown[:]
    paid_setup = array("d", bytes(8 * n_tasks))
    begun = array("q", bytes(8 * n_tasks))
    n_begun = 0
    used_workers = array("q", bytes(8 * n_tasks))
    unclamp_worker, used_unit = array("i", [-1]) * n_tasks, array("i", [-1]) * n_tasks
    used_clamps: dict[int, list[tuple[int, int]]] = {}
    stretches: dict[int, list[tuple[float, float, int]]] = {}
    unclamp_stretches: dict[int, list[tuple[float, float, int]]] = {}
    batch_opened = [nan] * len(batches)

    # ---- the state of the shop
    hours = [Hours(calendar, draws.days) for calendar in plan.calendars]
    worker_hours = plan.worker_hours
    here_if = [sum(1 << w for w, h in enumerate(worker_hours) if h == n) for n in range(len(hours))]
    together: dict[tuple[int, ...], SharedHours] = {}
    all_leave_at_once = len(hours) == 1  # and come at once: then everybody goes on with what they began
    free = (1 << len(worker_hours)) - 1
    available = here = 0
    here_until = next_coming = -1.0
    unit_last = [-1] * sum(len(units) for units in work.station_units)
    unit_used = [-1.0] * len(unit_last)
    free_units = [list(units) for units in work.station_units]
    n_set = [0] * len(step_hands)  # free units that are set for a step
    clamps_free = list(work.clamp_counts)
    spots_free = list(work.rack_spots)
    n_dusty = n_wet = 0
    group_left = list(work.group_size)
    waits = list(work.task_waits)
    heaps: list[list[int]] = [[] for _ in entry_step]
    active: list[int] = []
    n_handless = 0  # active entries that need nobody
    chores: list[tuple[float, int]] = []  # clamps to take off: (due, task)
    broken: list[
        tuple[float, int, int, float]
    ] = []  # left half done: (since when, place of its start, task, minutes left)
    outstanding = [0] * len(entry_step)  # materials still on the way, an entry
    piece_left, piece_batch = list(plan.piece_ends), work.piece_batch
    n_opened = n_under_way = 0
    n_done = 0
    wake_at = -1.0
    idle_wakes = 0
    closing_refused = False
    rule = plan.rule
    ranks: dict[int, tuple[object, int]] = {}
    ahead = bytearray(n_tasks)  # what each task goes on to next
    setup_paid = bytearray(plan.n_setups)  # set-ups without a station, which are paid once a batch

    # ---- tasks become ready, batches open, pieces are no longer under way
    def let_go(group: int, now: float) -> None:
        """A group is complete: those who waited only for it are ready."""
        nonlocal n_handless
        for task in listeners[group]:
            left = waits[task] - 1
            waits[task] = left
            if not left:
                ready[task] = now
                entry = task_entry[task]
                heap = heaps[entry]
                if not heap:
                    if rule is None:
                        insort(active, entry)
                    else:
                        ranks[entry] = (rule(look_at(work, task, now)), task)
                        insort(active, entry, key=ranks.__getitem__)
                    if not step_hands[entry_step[entry]]:
                        n_handless += 1
                heappush(heap, task)

    def open_batches(now: float) -> None:
        """The next batches in turn, as far as they may and there is room for their pieces."""
        nonlocal n_opened, n_under_way
        while n_opened < len(batches):
            batch = batches[n_opened]
            if batch.opens_at > now or (n_under_way and n_under_way + batch.size > work.pieces_open):
                return
            batch_opened[n_opened] = now
            # what is done once a run may be all that a piece needs, and be done already
            n_under_way += sum(map(bool, piece_left[batch.first : batch.first + batch.size]))
            n_opened += 1
            let_go(work.batch_gate[n_opened - 1], now)

    def complete(task: int, now: float) -> None:
        nonlocal n_under_way, n_done
        n_done += 1
        done[task] = now
        for group in task_groups[task]:
            left = group_left[group] - 1
            group_left[group] = left
            if not left:
                let_go(group, now)
        for piece in ends_pieces[task]:
            left = piece_left[piece] - 1
            piece_left[piece] = left
            if not left and piece_batch[piece] < n_opened:
                n_under_way -= 1
        if ends_pieces[task]:
            open_batches(now)

    def give_back(task: int, step: int, now: float) -> None:
        """Clamps are off and it is cured: what it still held is free, and it is done."""
        if step_rack[step] >= 0:
            spots_free[step_rack[step]] += step_spots[step] * task_units[task]
        if step_stays[step]:
            free_units[step_station[step]].append(used_unit[task])
            n_set[step] += 1
        complete(task, now)

    # ---- events
    def at(when: float, value: Any, callbacks: Callbacks) -> None:
        heappush(queue, (when, NORMAL, next(event_numbers), Moment(value, callbacks)))

    def go_on(when: float, task: int, to: int) -> None:
        """The task goes on to this at that moment."""
        ahead[task] = to
        heappush(queue, (when, NORMAL, next(event_numbers), moments[task]))

    def leave_to_itself(task: int, step: int, now: float) -> None:
        """From the end of the hands-on work: clamps, cure, wetness."""
        nonlocal n_wet
        if step_wet[step]:
            wet_until[task] = now + wet_min[task]
            if wet_min[task] > 0 and any_dusty:
                at(wet_until[task], task, when_dry)
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
                        go_on(due, task, MAY_COME_OUT)
                    else:
                        heappush(chores, (due, task))
                    return
                off = min(curve.next_at_work(due) for curve in hours) if due > now else due
                if off > now:
                    go_on(off, task, CLAMPS_OFF)
                    return
                free_clamps(task, now)
        if cured > now:
            go_on(cured, task, CURED)
        else:
            give_back(task, step, now)

    def free_clamps(task: int, now: float) -> None:
        clamps_off[task] = now
        for kind, count in used_clamps.get(task, ()):
            clamps_free[kind] += count

    def after_clamps(task: int, now: float) -> None:
        free_clamps(task, now)
        cured = end[task] + cure_min[task]
        if cured > now:
            go_on(cured, task, CURED)
        else:
            give_back(task, task_step[task], now)

    def go_on_to(task: int, to: int, now: float) -> None:
        """A task that was left to itself goes on."""
        nonlocal free
        if to == CURED:
            give_back(task, task_step[task], now)
        elif to == MAY_COME_OUT:  # as soon as somebody has the time
            heappush(chores, (now, task))
        else:
            if to == UNCLAMPED:
                free |= 1 << unclamp_worker[task]
            after_clamps(task, now)

    def on_dry(_event: Moment) -> None:
        nonlocal n_wet
        n_wet -= 1

    def on_clock(_event: Moment) -> None:
        """A batch may open, or somebody comes to work."""
        open_batches(env.now)

    def on_material(event: Moment) -> None:
        for entry in event.what:
            outstanding[entry] -= 1

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

    def is_free_to(step: int, entry: int) -> bool:
        """Material is here, the air is clean and the rack has room."""
        if outstanding[entry]:
            return False
        if (n_wet and step_dusty[step]) or (n_dusty and step_wet[step]):
            return False
        rack = step_rack[step]
        return rack < 0 or spots_free[rack] >= step_spots[step] * entry_units[entry]

    def choose_workers(step: int, likely: float, now: float) -> int:
        """The workers who would do it, a bit each; 0 if too few are free, or if it does not fit before they close."""
        nonlocal closing_refused
        wanted = step_hands[step]
        chosen = 0
        for worker in step_workers[step]:
            if available >> worker & 1:
                if not step_pausable[step]:
                    curve = hours[worker_hours[worker]]
                    if now + likely > curve.close[curve.at]:
                        closing_refused = True
                        continue
                chosen |= 1 << worker
                wanted -= 1
                if not wanted:
                    return chosen
        return 0

    def try_begin(place: int, entry: int, step: int, now: float) -> bool:
        """Start the first task of the entry at this place of the queue, if all it needs is there."""
        nonlocal free, available, n_dusty, n_wet, n_handless, idle_wakes, n_begun
        hands = step_hands[step]
        bound = step_bound[step]
        if bound and not is_free_to(step, entry):
            return False
        station = step_station[step]
        if station >= 0:
            units = free_units[station]
            if not units:
                return False
            unit = units[0] if len(units) == 1 else pick_unit(units, step)
            pays = unit_last[unit] != step
        else:
            unit = -1
            pays = not setup_paid[entry_setup[entry]]
        clamps = None
        if step_clamps[step]:
            clamps = take_clamps(step)
            if clamps is None:
                return False
        chosen = 0
        if hands == 1 and step_pausable[step]:
            for worker in step_workers[step]:
                if available >> worker & 1:
                    chosen = 1 << worker
                    break
            else:
                return False
        elif hands:
            likely = entry_likely[entry] + step_likely_setup[step] if pays else entry_likely[entry]
            chosen = choose_workers(step, likely, now)
            if not chosen:
                return False

        # all is there: take it
        idle_wakes = 0
        heap = heaps[entry]
        task = heappop(heap)
        if not heap:
            del active[place]
            if not hands:
                n_handless -= 1
        minutes = work_min[task]
        if pays:
            paid_setup[task] = setup_min[task]
            minutes += setup_min[task]
        if unit >= 0:
            units.remove(unit)
            if not pays:
                n_set[step] -= 1
            else:
                if unit_last[unit] >= 0:
                    n_set[unit_last[unit]] -= 1
                unit_last[unit] = step
            unit_used[unit] = now
            used_unit[task] = unit
        elif pays:
            setup_paid[entry_setup[entry]] = 1
        if clamps is not None:
            used_clamps[task] = clamps
            for kind, count in clamps:
                clamps_free[kind] -= count
        if bound:
            if step_rack[step] >= 0:
                spots_free[step_rack[step]] -= step_spots[step] * task_units[task]
            if step_dusty[step]:
                n_dusty += 1
            if step_wet[step]:
                n_wet += 1
        start[task] = now
        begun[task] = n_begun
        n_begun += 1
        used_workers[task] = chosen
        if hands == 1:
            free ^= chosen
            available ^= chosen
            curve = hours[worker_hours[chosen.bit_length() - 1]]
            piece = curve.at
            rate = curve.rate[piece]
            finish = now + minutes if rate == 1.0 else now + minutes / rate + ON_GRID - ON_GRID
            if finish > curve.end[piece]:
                put_hands_on(task, minutes, now)
            else:
                end[task] = finish
                heappush(queue, (finish, NORMAL, next(event_numbers), moments[task]))
        elif hands:
            put_hands_on(task, minutes, now)
        else:
            end[task] = now + minutes
            heappush(queue, (now + minutes, NORMAL, next(event_numbers), moments[task]))
        return True

    def pick_unit(units: list[int], step: int) -> int:
        """Of several free units the one that is set for the step, else one never used, else the one used longest ago."""
        best = units[0]
        for unit in units:
            if unit_last[unit] == step:
                return unit
            if unit_used[unit] < unit_used[best] or (unit_used[unit] == unit_used[best] and unit < best):
                best = unit
        return best

    # ---- hands on a task, past closing or by several
    def put_hands_on(task: int, minutes: float, now: float) -> None:
        """Its workers begin or go on, until it is done or the first of them leaves."""
        nonlocal free, available
        mask = used_workers[task]
        free &= ~mask
        available &= ~mask
        kinds = [n for n, members in enumerate(here_if) if mask & members]
        rate = min([hours[kind].rate[hours[kind].at] for kind in kinds])
        finish = now + minutes if rate == 1.0 else to_tick(now + minutes / rate)
        if finish > min([hours[kind].end[hours[kind].at] for kind in kinds]):
            curve = hours[kinds[0]] if len(kinds) == 1 else hours_of_all(tuple(kinds), now)
            if not step_pausable[task_step[task]]:
                finish = curve.finish_late(now, minutes)
            elif all_leave_at_once:
                finish = curve.finish(now, minutes)
            else:
                left = curve.left_at_close(now, minutes)
                if left:
                    break_off(task, left, stretches, (now, curve.close[curve.at], mask))
                    return
                finish = min(curve.finish(now, minutes), curve.close[curve.at])
        if task in stretches:
            stretches[task].append((now, finish, mask))
        end[task] = finish
        heappush(queue, (finish, NORMAL, next(event_numbers), moments[task]))

    def take_off(task: int, minutes: float, worker: int, now: float) -> None:
        """A worker begins to take its clamps off, or goes on with it, until they are off or the worker leaves."""
        nonlocal free, available
        free ^= 1 << worker
        available ^= 1 << worker
        unclamp_worker[task] = worker
        ahead[task] = UNCLAMPED
        curve = hours[worker_hours[worker]]
        if all_leave_at_once:
            finish = curve.finish(now, minutes)
        else:
            left = curve.left_at_close(now, minutes)
            if left:
                break_off(task, left, unclamp_stretches, (now, curve.close[curve.at], 1 << worker))
                return
            finish = min(curve.finish(now, minutes), curve.close[curve.at])
        if task in unclamp_stretches:
            unclamp_stretches[task].append((now, finish, 1 << worker))
        unclamp_end[task] = finish
        go_on(finish, task, UNCLAMPED)

    def break_off(
        task: int, left: float, spans: dict[int, list[tuple[float, float, int]]], stretch: tuple[float, float, int]
    ) -> None:
        """It is worked on for a stretch, and then so many minutes of it are left."""
        spans.setdefault(task, []).append(stretch)
        at(stretch[1], (task, left), when_broken)

    def on_broken(event: Moment) -> None:
        nonlocal free
        task, left = event.what
        free |= (unclamp_stretches if ahead[task] == UNCLAMPED else stretches)[task][-1][2]
        insort(broken, (env.now, begun[task], task, left))

    def hours_of_all(kinds: tuple[int, ...], now: float) -> SharedHours:
        if kinds not in together:
            together[kinds] = SharedHours([hours[kind] for kind in kinds])
        together[kinds].seek(now)
        return together[kinds]

    # ---- the dispatcher
    def look_who_is_here(now: float) -> None:
        """Who is at work, until when that stays so, and when somebody comes next."""
        nonlocal here, here_until, next_coming
        here, here_until, next_coming = 0, math.inf, math.inf
        for members, curve in zip(here_if, hours, strict=True):
            if curve.seek(now):
                here |= members
                if curve.end[curve.at] < here_until:
                    here_until = curve.end[curve.at]
            elif curve.start[curve.at] < next_coming:
                next_coming = curve.start[curve.at]
        if next_coming < here_until:
            here_until = next_coming

    def take_up(now: float) -> None:
        """Broken-off work goes on: first by those who began it, then what has lain longest by the first who can."""
        nonlocal idle_wakes
        for by_its_own in (True, False):
            for row in broken.copy():
                _, _, task, left = row
                unclamps = ahead[task] == UNCLAMPED
                spans = (unclamp_stretches if unclamps else stretches)[task]
                crew = spans[0][2]
                if crew & ~available:
                    if by_its_own:
                        continue
                    step = task_step[task]
                    hands, able = (1, plan.unclampers) if unclamps else (step_hands[step], step_workers[step])
                    crew = choose_successors(hands, able, crew, spans[-1][2])
                    if not crew:
                        continue
                broken.remove(row)
                idle_wakes = 0
                if unclamps:
                    take_off(task, left, crew.bit_length() - 1, now)
                else:
                    used_workers[task] = crew
                    put_hands_on(task, left, now)

    def choose_successors(wanted: int, able: Sequence[int], began: int, last: int) -> int:
        """Who goes on with it, a bit each, of those who are free: who began it, who had it last, then as always; 0 if too few."""
        chosen = 0
        for some in (began, last, -1):
            for worker in able:
                if available & some & ~chosen & 1 << worker:
                    chosen |= 1 << worker
                    wanted -= 1
                    if not wanted:
                        return chosen
        return 0

    def take_clamps_off(now: float) -> None:
        for worker in plan.unclampers:
            if not chores:
                return
            if available >> worker & 1:
                _, task = heappop(chores)
                unclamp_start[task] = now
                take_off(task, unclamp_min[task], worker, now)

    def wake_when_somebody_comes(now: float) -> None:
        nonlocal wake_at, idle_wakes
        when = next_coming
        if closing_refused:
            when = min(when, *(curve.next_start(now) for curve in hours if curve.start[curve.at] <= now))
        if when == math.inf or now < wake_at <= when:
            return
        if queue[0][0] >= LONGEST_RUN_MIN:
            idle_wakes += 1
            if idle_wakes > IDLE_OPENINGS:
                raise describe_stall(plan, now, ready, start, done)
        wake_at = when
        at(when, None, when_clock)

    when_dry, when_clock, when_material, when_broken = (on_dry,), (on_clock,), (on_material,), (on_broken,)

    # ---- the loop
    def work_through() -> None:
        """SimPy's ``step`` again and again until the end, and the dispatcher once for each moment.

        The same as ``env.run`` but for what our events never need: none of them fails, or is
        waited for by a process.
        """
        nonlocal free, available, closing_refused, n_dusty, n_done
        while True:
            now, _, _, event = heappop(queue)
            env._now = now
            callbacks = event.callbacks
            if callbacks is TASK_GOES_ON:
                task = event.what
                if ahead[task]:
                    go_on_to(task, ahead[task], now)
                else:  # hands-on work ends: most of all events
                    free |= used_workers[task]
                    step = task_step[task]
                    unit = used_unit[task]
                    if unit >= 0 and not step_stays[step]:
                        free_units[step_station[step]].append(unit)
                        n_set[step] += 1
                    if step_dusty[step]:
                        n_dusty -= 1
                    if not step_plain[step]:
                        leave_to_itself(task, step, now)
                    elif ends_pieces[task]:
                        complete(task, now)
                    else:  # what most tasks come to: the same, without the call
                        n_done += 1
                        done[task] = now
                        for group in task_groups[task]:
                            left = group_left[group] - 1
                            group_left[group] = left
                            if not left:
                                let_go(group, now)
            elif callbacks is OVER:
                return
            else:
                for callback in callbacks:
                    callback(event)
            if queue[0][0] <= now:  # never empty: the end is in it
                continue

            # all that happens at this moment is taken in: choose what starts
            if now >= here_until:
                look_who_is_here(now)
            available = free & here
            closing_refused = False
            if available:
                if broken:
                    take_up(now)
                if chores:
                    take_clamps_off(now)
            if active and (available or n_handless):
                # tasks whose station is already set for them first, then all, by the priority rule
                for only_set in (True, False) if len(active) > 1 else (False,):
                    place = 0
                    while place < len(active):
                        entry = active[place]
                        step = entry_step[entry]
                        if (
                            (n_set[step] or not only_set)
                            and (available & step_able[step]).bit_count() >= step_hands[step]
                            and try_begin(place, entry, step, now)
                        ):
                            if not available and not n_handless:
                                break
                        else:
                            place += 1
                    if not available and not n_handless:
                        break
            if (
                (active or chores or broken)
                and (next_coming < math.inf or closing_refused)
                and (closing_refused or not now < wake_at <= next_coming)
            ):
                wake_when_somebody_comes(now)

    # ---- run
    for when in sorted({batch.opens_at for batch in batches}):
        at(max(0.0, when), None, when_clock)
    for entries, when in zip(plan.material_entries, draws.material_at, strict=True):
        if when > 0:
            for entry in entries:
                outstanding[entry] += 1
            at(when, entries, when_material)
    try:
        # set-up and work are drawn apart: together they may still pass the calendar, which is noticed there
        if max(max(work_min), max(setup_min), max(unclamp_min)) > LONGEST_RUN_MIN:
            raise CalendarEnds
        heappush(queue, (LONGEST_RUN_MIN, URGENT, next(event_numbers), Moment(None, OVER)))
        with without_collector():
            work_through()
    except CalendarEnds:
        raise describe_long_run(plan, draws, start, end, done) from None
    if n_done < n_tasks:
        if queue:
            raise describe_long_run(plan, draws, start, end, done)
        last = max((moment for moment in [*start, *end, *done] if not math.isnan(moment)), default=0.0)
        raise describe_stall(plan, last, ready, start, done)
    for task, spans in stretches.items():
        used_workers[task] = spans[0][2]
    for task, spans in unclamp_stretches.items():
        unclamp_worker[task] = spans[0][2].bit_length() - 1
    clamps_taken = np.zeros((n_tasks, len(clamps_free)), dtype=np.int32)
    for task, taken in used_clamps.items():
        for kind, count in taken:
            clamps_taken[task, kind] += count
    return RunRecord(
        ready=np.frombuffer(ready),
        start=np.frombuffer(start),
        begun=np.frombuffer(begun, dtype=np.int64),
        end=np.frombuffer(end),
        setup_min=np.frombuffer(paid_setup),
        work_min=np.array(work_min),
        clamps_off=np.frombuffer(clamps_off),
        unclamp_start=np.frombuffer(unclamp_start),
        unclamp_end=np.frombuffer(unclamp_end),
        done=np.frombuffer(done),
        wet_until=np.frombuffer(wet_until),
        workers=np.frombuffer(used_workers, dtype=np.int64),
        unclamp_worker=np.frombuffer(unclamp_worker, dtype=np.intc),
        station_unit=np.frombuffer(used_unit, dtype=np.intc),
        clamps=clamps_taken,
        batch_opened=np.array(batch_opened),
        stretches=stretches,
        unclamp_stretches=unclamp_stretches,
    )
