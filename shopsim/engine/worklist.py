"""From a scenario to flat lists: every task, what it waits for, what it needs.

This is the one place that knows batches, parts and handfuls. Everything that the
engine reads in its inner loop is a plain list indexed by task, entry, operation,
station or clamp kind; nothing here depends on luck.

A *group* is a set of tasks that others wait for together ("operation 3 for piece 7",
"operation 3 for batch 2", "batch 2 is open"). When its last task is done it lets
its listeners go. A task is ready when all the groups it listens to have let go, so
the links between n tasks and their n batch-mates are 2 n, never n squared.

An *entry* of the queue is one operation in one batch; its tasks need the same things and
wait in it in order. Where handfuls come out uneven, so that tasks differ in what they need,
each task is an entry of its own.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from shopsim.engine.batches import Batch, build_batches
from shopsim.engine.steps import Step, build_steps
from shopsim.scenario.model import Line, Scenario


@dataclass
class Worklist:
    """A scenario as flat lists; see the module's text. Times in minutes from midnight of ``day0``."""

    scenario: Scenario
    day0: dt.date
    lines: tuple[Line, ...]
    line_orders: tuple[int, ...]  # pieces ordered, a line
    line_pieces: tuple[int, ...]  # pieces made, a line
    line_first: tuple[int, ...]  # first piece of each line
    batches: tuple[Batch, ...]
    batches_open: int
    steps: tuple[Step, ...]
    worker_names: tuple[str, ...]
    station_names: tuple[str, ...]  # one a station, whatever its count
    station_units: tuple[tuple[int, ...], ...]  # unit numbers of each station
    rack_names: tuple[str, ...]
    rack_spots: tuple[int, ...]
    clamp_names: tuple[str, ...]
    clamp_counts: tuple[int, ...]
    piece_batch: list[int]  # batch index of each piece
    piece_in_design: list[int]  # running number of each piece within its design (keys its luck)
    # one a task, in the order batch, operation, piece, unit
    task_step: list[int] = field(default_factory=list)
    task_batch: list[int] = field(default_factory=list)
    task_piece: list[int] = field(default_factory=list)  # -1: covers several pieces
    task_unit: list[int] = field(default_factory=list)  # first unit in its piece, from 0
    task_units: list[int] = field(default_factory=list)
    task_key_unit: list[int] = field(default_factory=list)  # running unit number within its step: keys its luck
    task_entry: list[int] = field(default_factory=list)
    task_groups: list[tuple[int, ...]] = field(default_factory=list)
    task_waits: list[int] = field(default_factory=list)  # groups it listens to
    task_prior: list[tuple[int, ...]] = field(default_factory=list)  # groups of work it listens to, for the accounts
    task_batches: list[tuple[int, ...]] = field(default_factory=list)  # batches it helps to finish
    # one a group
    group_size: list[int] = field(default_factory=list)
    group_listeners: list[list[int]] = field(default_factory=list)
    group_members: list[list[int]] = field(default_factory=list)
    batch_gate: list[int] = field(default_factory=list)  # group of "batch k is open"
    # one an entry
    entry_step: list[int] = field(default_factory=list)
    entry_batch: list[int] = field(default_factory=list)
    entry_units: list[int] = field(default_factory=list)
    # one a material: steps held back
    material_steps: list[tuple[int, ...]] = field(default_factory=list)

    @property
    def n_tasks(self) -> int:
        """How many tasks the run has."""
        return len(self.task_step)

    @property
    def n_pieces(self) -> int:
        """How many pieces the run makes, spares included."""
        return len(self.piece_batch)

    def task_name(self, task: int) -> str:
        """A task in a reader's words: ``"glue frame, batch 1, piece 2"``."""
        words = [self.steps[self.task_step[task]].operation.name, f"batch {self.task_batch[task] + 1}"]
        if self.task_piece[task] >= 0:
            words.append(f"piece {self.task_piece[task] + 1}")
            if self.steps[self.task_step[task]].units_a_piece > self.task_units[task]:
                words.append(f"unit {self.task_unit[task] + 1}")
        return ", ".join(words)


def build_worklist(scenario: Scenario) -> Worklist:
    """Flatten a checked scenario; costs about 10 microseconds a task, so build once and run often."""
    shop = scenario.shop
    lines = scenario.lines
    designs = scenario.all_designs
    day0 = scenario.day0
    design_number = {design.name: number for number, design in enumerate(designs)}
    stations, number = [], 0
    for station in shop.stations:
        stations.append(tuple(range(number, number + station.count)))
        number += station.count
    steps, first_step = build_steps(scenario, designs)
    batches, counts = build_batches(scenario, lines, design_number, day0)
    made = [count[1] for count in counts]
    line_first = [sum(made[:line]) for line in range(len(lines))]
    piece_batch = [0] * sum(made)
    piece_in_design = [0] * sum(made)
    seen: dict[int, int] = {}
    for line, first in enumerate(line_first):
        design = design_number[lines[line].design]
        for piece in range(first, first + made[line]):
            piece_in_design[piece] = seen.get(design, 0)
            seen[design] = piece_in_design[piece] + 1
    for index, batch in enumerate(batches):
        for piece in range(batch.first, batch.first + batch.size):
            piece_batch[piece] = index
    limit = scenario.run.batches_open
    if limit is None:
        limit = 2 if scenario.run.release == "when orders close" else len(batches)
    worklist = Worklist(
        scenario=scenario,
        day0=day0,
        lines=lines,
        line_orders=tuple(count[0] for count in counts),
        line_pieces=tuple(made),
        line_first=tuple(line_first),
        batches=batches,
        batches_open=limit,
        steps=steps,
        worker_names=tuple(worker.name for worker in shop.workers),
        station_names=tuple(station.name for station in shop.stations),
        station_units=tuple(stations),
        rack_names=tuple(rack.name for rack in shop.racks),
        rack_spots=tuple(rack.spots for rack in shop.racks),
        clamp_names=tuple(kind.name for kind in shop.clamps),
        clamp_counts=tuple(kind.count for kind in shop.clamps),
        piece_batch=piece_batch,
        piece_in_design=piece_in_design,
    )
    _add_tasks(worklist, first_step)
    _add_links(worklist)
    for material in scenario.materials:
        worklist.material_steps.append(
            tuple(n for n, step in enumerate(steps) if step.operation.name in material.needed_by)
        )
    return worklist


def _add_tasks(work: Worklist, first_step: list[int]) -> None:
    """Tasks in the order batch, operation, piece, unit; and the queue entries they stand in."""
    first_batch_of_line: dict[int, int] = {}
    entries: dict[tuple[int, int, int], int] = {}
    ends = [*first_step[1:], len(work.steps)]
    for index, batch in enumerate(work.batches):
        leads = batch.line not in first_batch_of_line
        first_batch_of_line.setdefault(batch.line, index)
        for n in range(first_step[batch.design], ends[batch.design]):
            step = work.steps[n]
            operation = step.operation
            count = step.units_a_piece
            if operation.per == "run":
                if leads:
                    first = work.line_first[batch.line]
                    _add_task(work, entries, n, index, -1, 0, 1, work.piece_in_design[first])
            elif operation.per == "batch":
                _add_task(work, entries, n, index, -1, 0, 1, work.piece_in_design[batch.first])
            elif operation.handful == "batch":
                key = work.piece_in_design[batch.first] * count
                _add_task(work, entries, n, index, -1, 0, batch.size * count, key)
            else:
                handful = count if operation.handful is None else int(operation.handful)
                for piece in range(batch.first, batch.first + batch.size):
                    key = work.piece_in_design[piece] * count
                    for unit in range(0, count, handful):
                        _add_task(work, entries, n, index, piece, unit, min(handful, count - unit), key + unit)


def _add_task(
    work: Worklist,
    entries: dict[tuple[int, int, int], int],
    step: int,
    batch: int,
    piece: int,
    unit: int,
    n_units: int,
    key_unit: int,
) -> None:
    units_a_piece, handful = work.steps[step].units_a_piece, work.steps[step].operation.handful
    uneven = isinstance(handful, int) and units_a_piece % handful > 0
    entry = entries.setdefault((batch, step, work.n_tasks if uneven else -1), len(entries))
    if entry == len(work.entry_step):
        work.entry_step.append(step)
        work.entry_batch.append(batch)
        work.entry_units.append(n_units)
    work.task_step.append(step)
    work.task_batch.append(batch)
    work.task_piece.append(piece)
    work.task_unit.append(unit)
    work.task_units.append(n_units)
    work.task_key_unit.append(key_unit)
    work.task_entry.append(entry)


class _Groups:
    """Numbers groups as they are first asked for."""

    def __init__(self) -> None:
        self.number: dict[tuple[str, int, int], int] = {}

    def of(self, kind: str, step: int, whose: int) -> int:
        return self.number.setdefault((kind, step, whose), len(self.number))


def _add_links(work: Worklist) -> None:
    """Which groups each task belongs to and listens to."""
    groups = _Groups()
    work.batch_gate = [groups.of("open", -1, k) for k in range(len(work.batches))]
    listens: list[tuple[int, ...]] = []
    covers_batch = [step.operation.per == "batch" or step.operation.handful == "batch" for step in work.steps]
    covers_run = [step.operation.per == "run" for step in work.steps]
    batches_of_line: dict[int, list[int]] = {}
    for index, batch in enumerate(work.batches):
        batches_of_line.setdefault(batch.line, []).append(index)
    for task, n in enumerate(work.task_step):
        step = work.steps[n]
        own_batch = work.task_batch[task]
        line = work.batches[own_batch].line
        mine: list[int] = []
        gated = True
        for before in step.after:
            if covers_run[before] or covers_run[n]:
                mine.append(groups.of("run", before, line))
                gated = gated and covers_run[before]
            elif covers_batch[before] or covers_batch[n] or step.operation.wait_for == "batch":
                mine.append(groups.of("batch", before, own_batch))
                gated = False
            else:
                mine.append(groups.of("piece", before, work.task_piece[task]))
                gated = False
        work.task_prior.append(tuple(mine))
        if gated:  # nothing it comes after tells that its batch is open
            mine.append(work.batch_gate[own_batch])
        listens.append(tuple(mine))
        work.task_batches.append(tuple(batches_of_line[line]) if covers_run[n] else (own_batch,))
    n_groups = len(groups.number)
    work.group_size = [0] * n_groups
    work.group_listeners = [[] for _ in range(n_groups)]
    work.group_members = [[] for _ in range(n_groups)]
    for gate in work.batch_gate:
        work.group_size[gate] = 1
    for task, mine_listened in enumerate(listens):
        work.task_waits.append(len(mine_listened))
        for group in mine_listened:
            work.group_listeners[group].append(task)
    known = groups.number
    for task, n in enumerate(work.task_step):
        own_batch = work.task_batch[task]
        named = (("run", n, work.batches[own_batch].line), ("batch", n, own_batch), ("piece", n, work.task_piece[task]))
        belongs = tuple(known[name] for name in named if name in known)
        work.task_groups.append(belongs)
        for group in belongs:
            work.group_size[group] += 1
            work.group_members[group].append(task)
