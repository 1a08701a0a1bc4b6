"""The laws that every record must obey, whatever the scenario and the luck.

Each law is a function from a ``History`` to sentences that name its breaches; none
trusts the floor's own bookkeeping where the record can tell.
"""

from __future__ import annotations

import itertools
from bisect import bisect_left
from collections.abc import Callable, Iterator

import numpy as np

from shopsim.engine.history import History, Stretch
from shopsim.engine.pieces import piece_done, piece_made
from shopsim.engine.task_holdups import UNEXPLAINED, account_task, sum_piece, sum_task

#: Minutes by which sums over interrupted days may differ from what was drawn (rounding to the time grid).
SLACK_MIN = 1e-4


def _places(true: np.ndarray) -> list[int]:
    return [int(place) for place in np.flatnonzero(true)]


def law_every_task_is_done_once(history: History) -> Iterator[str]:
    """Ready, start, end of the work and done exist for every task and follow one another."""
    record = history.record
    for name in ("ready", "start", "end", "done"):
        for task in _places(~np.isfinite(getattr(record, name))):
            yield f"{history.work.task_name(task)} has no {name}"
    out_of_order = (record.ready > record.start) | (record.start > record.end) | (record.end > record.done)
    for task in _places(out_of_order):
        yield f"{history.work.task_name(task)} is done before it ends, ends before it starts, or starts before it is ready"


def law_nothing_is_over_held(history: History) -> Iterator[str]:
    """Never more clamps, spots, stations or workers in use than there are."""
    work = history.work
    for names, levels in (
        (work.clamp_names, history.clamps_free),
        (work.rack_names, history.spots_free),
        (work.station_names, history.units_free),
    ):
        for name, level in zip(names, levels, strict=True):
            if level.lowest < 0:
                yield f"{name} is short by {-level.lowest}"
    for worker, name in enumerate(work.worker_names):
        since, until, tasks, _ = history.busy_spans(worker)
        for n in _places(until[:-1] > since[1:]):
            yield f"{name} does two things at once: {work.task_name(int(tasks[n]))} and {work.task_name(int(tasks[n + 1]))}"
    for unit, (starts, _) in enumerate(history.unit_history):
        users = np.flatnonzero(history.record.station_unit == unit)
        ends = history.station_until[users][np.argsort(history.record.begun[users])]
        if (ends[:-1] > starts[1:]).any():
            yield f"station unit {unit} is used by two tasks at once"


def law_needs_are_met(history: History) -> Iterator[str]:
    """Every task has the hands, station, clamps and skill that its operation asks for."""
    work, record = history.work, history.record
    kinds = work.scenario.shop.clamps
    for task, n in enumerate(work.task_step):
        step = work.steps[n]
        operation = step.operation
        able = sum(1 << worker for worker in step.workers)
        for _, _, crew in _stretches(history, task):
            if crew.bit_count() != operation.hands or crew & ~able:
                yield f"{work.task_name(task)} is done by {crew.bit_count()} hands or by somebody who cannot"
        unit = int(record.station_unit[task])
        if (unit >= 0) != (step.station >= 0) or (unit >= 0 and unit not in work.station_units[step.station]):
            yield f"{work.task_name(task)} is done at the wrong station"
        taken = record.clamps[task]
        if taken.sum() != sum(need.count for need in operation.clamps):
            yield f"{work.task_name(task)} takes {taken.sum()} clamps"
        for need in operation.clamps:
            if need.kind is not None:
                fit = [k for k, kind in enumerate(kinds) if kind.name == need.kind]
                wanted = sum(other.count for other in operation.clamps if other.kind == need.kind)
            else:
                assert need.reach is not None
                fit = [k for k, kind in enumerate(kinds) if kind.reach is not None and kind.reach >= need.reach]
                wanted = sum(
                    other.count for other in operation.clamps if other.reach is not None and other.reach >= need.reach
                )
            if taken[fit].sum() < wanted:
                yield f"{work.task_name(task)} has clamps that do not reach"


def law_order_is_kept(history: History) -> Iterator[str]:
    """Nothing starts before all it comes after is done, its batch is open and its material is here."""
    work, record = history.work, history.record
    for task in range(work.n_tasks):
        gate = min(float(record.batch_opened[batch]) for batch in work.task_batches[task])
        latest = max([gate, *(history.group_done[group] for group in work.task_prior.row(task).tolist())])
        if record.ready[task] != latest:
            yield f"{work.task_name(task)} is ready at {record.ready[task]} where {latest} is due"
        for material in work.materials_of(task):
            if record.start[task] < history.draws.material_at[material]:
                yield f"{work.task_name(task)} starts before its material is here"


def law_times_are_kept(history: History) -> Iterator[str]:
    """Cures, holds and wet times last as drawn, and hands-on work takes its minutes within somebody's hours."""
    work, record, draws = history.work, history.record, history.draws
    cure, hold = np.asarray(draws.cure), np.asarray(draws.in_clamps)
    for task in _places(record.done < record.end + cure):
        yield f"{work.task_name(task)} is touched before it has cured"
    off = np.isfinite(record.clamps_off)
    for task in _places(off & (record.clamps_off < record.end + hold)):
        yield f"{work.task_name(task)} comes out of its clamps too early"
    for task in _places(off & (record.done < record.clamps_off)):
        yield f"{work.task_name(task)} is done while still in clamps"
    for task in _places(record.unclamp_worker >= 0):
        worked = sum(_minutes_worked(history, stretch, True) for stretch in _unclamp_stretches(history, task))
        if abs(worked - draws.unclamp[task]) > SLACK_MIN:
            yield f"{work.task_name(task)} comes out of its clamps in other than {draws.unclamp[task]:.3f} minutes of work"
    minutes = record.setup_min + record.work_min
    for task, n in enumerate(work.task_step):
        step = work.steps[n]
        start, end = float(record.start[task]), float(record.end[task])
        if step.operation.hands == 0:
            worked = end - start
        else:
            stretches = _stretches(history, task)
            worked = sum(_minutes_worked(history, stretch, step.pausable) for stretch in stretches)
            for since, _, crew in stretches:
                if not all(history.workers_here[w].at(np.array([since]))[0] for w in _members(crew)):
                    yield f"{work.task_name(task)} starts when somebody it needs is not at work"
        if abs(worked - minutes[task]) > SLACK_MIN:
            yield f"{work.task_name(task)} takes {minutes[task]:.3f} minutes but is worked on for {worked:.3f}"


def _members(crew: int) -> list[int]:
    return [worker for worker in range(crew.bit_length()) if crew >> worker & 1]


def _stretches(history: History, task: int) -> list[Stretch]:
    """When a task was worked on and by whom, nights of those who go on by themselves not taken out."""
    record = history.record
    whole = (float(record.start[task]), float(record.end[task]), int(record.workers[task]))
    return record.stretches.get(task, [whole])


def _unclamp_stretches(history: History, task: int) -> list[Stretch]:
    record = history.record
    whole = (float(record.unclamp_start[task]), float(record.unclamp_end[task]), 1 << int(record.unclamp_worker[task]))
    return record.unclamp_stretches.get(task, [whole])


def _minutes_worked(history: History, stretch: Stretch, pausable: bool) -> float:
    """Working minutes put into a task in one stretch, at the pace of its slowest worker, overtime included."""
    since, until, crew = stretch
    curves = [history.hours[history.plan.worker_calendar[w]] for w in _members(crew)]
    edges = {since, until}
    paces = [curve.pieces(since, until) for curve in curves]
    for pieces in paces:
        edges |= {a for a, _, _ in pieces} | {b for _, b, _ in pieces}
    total, last, late = 0.0, 0.0, False
    for a, b in itertools.pairwise(sorted(edges)):
        rate = min([next((rate for s, e, rate in pieces if s <= a and b <= e), 0.0) for pieces in paces], default=0.0)
        if late or (rate == 0.0 and not pausable):
            late, rate = True, last  # stays on past closing, at the last pace
        last = rate or last
        total += (b - a) * rate
    return total


def law_broken_off_work_goes_on(history: History) -> Iterator[str]:
    """It lies only while too few who can do it are here and free, and none of them begins anything new meanwhile."""
    work, record = history.work, history.record
    begun = sorted(
        [(start, crew) for start, crew in zip(record.start.tolist(), record.workers.tolist(), strict=True) if crew]
        + [
            (float(record.unclamp_start[t]), 1 << int(record.unclamp_worker[t]))
            for t in _places(record.unclamp_worker >= 0)
        ]
    )
    moments = [start for start, _ in begun]
    rows = []
    for task, spans in record.stretches.items():
        step = work.steps[work.task_step[task]]
        rows.append((task, spans, sum(1 << worker for worker in step.workers), step.operation.hands))
    everybody = (1 << len(work.worker_names)) - 1
    rows += [(task, spans, everybody, 1) for task, spans in record.unclamp_stretches.items()]
    for task, spans, able, hands in rows:
        for (_, left, _), (taken_up, _, _) in itertools.pairwise(spans):
            first, last = np.searchsorted(history.instants, [left, taken_up])
            now = history.instants[first:last]
            free = sum(
                ((history.workers_here[w].at(now) > 0) & (history.workers_busy[w].at(now) == 0)).astype(np.int64)
                for w in _members(able)
            )
            if (free >= hands).any():
                yield f"{work.task_name(task)} lies half done though {hands} who can do it are here and free"
            lo, hi = bisect_left(moments, left), bisect_left(moments, taken_up)
            if hands == 1 and any(crew & able for _, crew in begun[lo:hi]):
                yield f"{work.task_name(task)} lies half done while somebody who can do it begins something else"


def law_air_is_clean(history: History) -> Iterator[str]:
    """Nothing dusty starts while anything is wet, nor the reverse; work of no length at one moment is no matter."""
    work, record = history.work, history.record
    operations = [step.operation for step in work.steps]
    wet = np.array([t for t, n in enumerate(work.task_step) if operations[n].wet is not None], dtype=np.int64)
    wet_since, wet_until = record.start[wet], record.wet_until[wet]
    lasting = wet_until > wet_since
    every_since, lasting_since, lasting_until = (
        np.sort(moments) for moments in (wet_since, wet_since[lasting], wet_until[lasting])
    )
    for task, n in enumerate(work.task_step):
        if not operations[n].dusty:
            continue
        since, until = record.start[task], record.end[task]
        # counts tell quickly that there is none, which is the rule; which ones is only looked for when there are
        n_into_wet = np.searchsorted(lasting_since, since, "left") - np.searchsorted(lasting_until, since, "right")
        n_into_dust = np.searchsorted(every_since, until, "left") - np.searchsorted(every_since, since, "right")
        n_together = np.searchsorted(lasting_since, since, "right") - np.searchsorted(lasting_since, since, "left")
        if n_into_wet <= 0 and n_into_dust <= 0 and (n_together <= 0 or since == until):
            continue
        dust_into_wet = (wet_since < since) & (since < wet_until)
        wet_into_dust = (since < wet_since) & (wet_since < until)
        together = (since == wet_since) & (since < until) & (wet_since < wet_until)
        for other in wet[dust_into_wet | wet_into_dust | together]:
            yield f"{work.task_name(task)} makes dust beside {work.task_name(int(other))}"


def law_set_up_is_paid(history: History) -> Iterator[str]:
    """Set-up is paid when the station was last set for another operation, and only then."""
    work, record = history.work, history.record
    set_for: dict[int, int] = {}
    begun: set[tuple[int, int]] = set()
    setup = history.draws.setup
    for task in np.argsort(record.begun).tolist():
        n, unit = work.task_step[task], int(record.station_unit[task])
        if unit >= 0:
            due = set_for.get(unit) != n
            set_for[unit] = n
        else:
            due = (n, work.task_batch[task]) not in begun
            begun.add((n, work.task_batch[task]))
        if unit >= 0 and record.setup_min[task] != (setup[task] if due else 0.0):
            yield f"{work.task_name(task)} pays {record.setup_min[task]} minutes of set-up"


def law_batches_wait_their_turn(history: History) -> Iterator[str]:
    """A batch opens as soon as it may, all before it have opened, and it fits into the room or has it alone."""
    work, record = history.work, history.record
    made, batch_of = piece_made(work, record), np.asarray(work.piece_batch)
    for k, batch in enumerate(work.batches):
        earlier = np.sort(made[batch_of < k])[::-1]
        beside = max(work.pieces_open - batch.size, 0)
        fits = float(earlier[beside]) if beside < earlier.size else 0.0
        due = max(fits, batch.opens_at, 0.0, *record.batch_opened[:k])
        if record.batch_opened[k] != due:
            yield f"batch {k + 1} opens at {record.batch_opened[k]} where {due} is due"


def law_time_is_accounted_for(history: History) -> Iterator[str]:
    """The parts of every piece's elapsed time sum to the whole, and nothing is unexplained."""
    work, record = history.work, history.record
    finished = piece_done(work, record)
    for piece in range(work.n_pieces):
        elapsed = float(finished[piece] - record.batch_opened[work.piece_batch[piece]])
        total = sum(minutes for *_, minutes in sum_piece(history, piece))
        if total != elapsed:
            yield f"piece {piece + 1} took {elapsed} minutes but {total} are accounted for"
    for task in range(work.n_tasks):
        if not any(part == UNEXPLAINED for part, _, _ in sum_task(history, task)):
            continue
        for part, _, since, until in account_task(history, task):
            if part == UNEXPLAINED:
                yield f"{work.task_name(task)} waits from {since} to {until} for no reason"


LAWS: tuple[Callable[[History], Iterator[str]], ...] = (
    law_every_task_is_done_once,
    law_nothing_is_over_held,
    law_needs_are_met,
    law_order_is_kept,
    law_times_are_kept,
    law_broken_off_work_goes_on,
    law_air_is_clean,
    law_set_up_is_paid,
    law_batches_wait_their_turn,
    law_time_is_accounted_for,
)


def check_record(history: History) -> list[str]:
    """Every breach of every law, in words; empty for a sound record. Costs some ten runs."""
    return [breach for law in LAWS for breach in law(history)]
