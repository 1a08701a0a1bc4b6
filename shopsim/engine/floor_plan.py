"""A scenario made ready for the floor, and the words for a run that cannot go on."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shopsim.engine.collecting import without_collector
from shopsim.engine.hours import LONGEST_RUN_DAYS, Calendar
from shopsim.engine.luck import Draws, LuckPlan
from shopsim.engine.priority import Rule, tail_of
from shopsim.engine.worklist import Worklist, build_worklist
from shopsim.errors import RunError, StalledShop
from shopsim.scenario.model import Scenario
from shopsim.units import MINUTES_PER_DAY, moment, say_minutes


class StepTable:
    """What the floor asks of every step, as one list a question."""

    def __init__(self, work: Worklist) -> None:
        steps = work.steps
        operations = [step.operation for step in steps]
        held_back = {n for n, materials in zip(work.entry_step, work.entry_materials, strict=True) if materials}
        self.hands = [operation.hands for operation in operations]
        self.able = [sum(1 << worker for worker in step.workers) for step in steps]
        self.workers = [step.workers for step in steps]
        self.station = [step.station for step in steps]
        self.stays = [operation.stays and step.station >= 0 for operation, step in zip(operations, steps, strict=True)]
        self.rack = [step.rack for step in steps]
        self.spots = [step.spots_a_unit for step in steps]
        self.clamps = [step.clamps for step in steps]
        self.pausable = [step.pausable for step in steps]
        self.dusty = [operation.dusty for operation in operations]
        self.wet = [operation.wet is not None for operation in operations]
        self.timed_hold = [operation.in_clamps is not None for operation in operations]
        self.unclamp = [operation.unclamp is not None for operation in operations]
        self.likely_setup = [operation.setup.likely for operation in operations]
        self.any_dusty = any(self.dusty)
        #: it may stay in clamps after the work
        self.held = [
            bool(step.clamps) or timed or unclamp
            for step, timed, unclamp in zip(steps, self.timed_hold, self.unclamp, strict=True)
        ]
        #: it is done when its work ends
        self.plain = [
            not (held or wet or stays or step.rack >= 0 or step.operation.cure is not None)
            for held, wet, stays, step in zip(self.held, self.wet, self.stays, steps, strict=True)
        ]
        #: it may have to wait for material, clean air or a rack
        self.bound = [
            n in held_back or wet or dusty or step.rack >= 0
            for n, (wet, dusty, step) in enumerate(zip(self.wet, self.dusty, steps, strict=True))
        ]


class FloorPlan:
    """A scenario made ready to run: worklist, luck plan, calendars, and the order of the queue. Build once, run often."""

    @without_collector()
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
                self.calendars.append(Calendar(scenario.shop, number, work.day0, not self.luck.days.whole))
            self.worker_hours.append(calendars[form])
        self.shop_calendar = Calendar(scenario.shop, None, work.day0, not self.luck.days.whole)
        self.task_entry, self.entry_step, self.entry_batch, self.entry_units = self._order_entries()
        self.entry_likely = [
            work.steps[n].operation.work.likely * units
            for n, units in zip(self.entry_step, self.entry_units, strict=True)
        ]
        self.table = StepTable(work)
        setups = {
            key: number for number, key in enumerate(dict.fromkeys(zip(self.entry_step, self.entry_batch, strict=True)))
        }
        #: one an entry: which set-up it shares, if it has no station: that of its step in its batch
        self.entry_setup = [setups[key] for key in zip(self.entry_step, self.entry_batch, strict=True)]
        self.n_setups = len(setups)
        self.unclampers = sorted(
            range(len(self.worker_hours)), key=lambda worker: (sum(a >> worker & 1 for a in self.table.able), worker)
        )
        held: list[list[int]] = [[] for _ in scenario.materials]
        for task, entry in enumerate(self.task_entry):
            for material in work.materials_of(task):
                if not held[material] or held[material][-1] != entry:
                    held[material].append(entry)
        #: one a material: the entries it holds back
        self.material_entries = [tuple(dict.fromkeys(entries)) for entries in held]
        #: one a task: the pieces for which it is among the last that their design asks for
        self.ends_pieces = _list_ends(work)
        #: one a piece: how many such tasks it has; when all are done it is no longer under way
        self.piece_ends = [0] * work.n_pieces
        for pieces in self.ends_pieces:
            for piece in pieces:
                self.piece_ends[piece] += 1

    def _order_entries(self) -> tuple[list[int], list[int], list[int], list[int]]:
        """Entries renumbered so that a lower number goes first; under a rule of the user's own, one a task."""
        work = self.worklist
        if self.rule is not None:
            return list(range(work.n_tasks)), work.task_step, work.task_batch, work.task_units
        name = self.scenario.run.priority
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


def _list_ends(work: Worklist) -> list[tuple[int, ...]]:
    """For each task the pieces for which no other operation of their design comes after it: all others come before such tasks."""
    last = []
    for variant in work.variants:
        own = [step for step in variant.after if work.steps[step].of_design]
        last.append(set(own).difference(*(variant.after[step] for step in own)))
    in_cell: dict[int, list[int]] = {}
    for piece, cell in enumerate(work.piece_cell):
        in_cell.setdefault(cell, []).append(piece)
    ends: list[tuple[int, ...]] = []
    for step, piece, cells in zip(work.task_step, work.task_piece, work.task_cells, strict=True):
        if piece >= 0:
            ends.append((piece,) if step in last[work.piece_variant[piece]] else ())
        else:  # the pieces of a cell are of one variant
            closing = [cell for cell in cells if step in last[work.piece_variant[in_cell[cell][0]]]]
            ends.append(tuple(piece for cell in closing for piece in in_cell[cell]))
    return ends


def describe_stall(
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
        f"{work.task_name(first)} needs {', '.join(needs)}; still under way: {held} "
        "· look at what it needs, and at a priority rule of your own"
    )


def describe_long_run(
    plan: FloorPlan, draws: Draws, start: Sequence[float], end: Sequence[float], done: Sequence[float]
) -> RunError:
    """That a run takes more than the longest that is taken on, how far it came, and the task that takes longest."""
    work = plan.worklist
    kinds = (
        ("work", draws.work), ("set-up", draws.setup), ("taking off of clamps", draws.unclamp),
        ("time in clamps", draws.in_clamps), ("cure", draws.cure),
    )  # fmt: skip
    longest, what, task = max((times[task], what, task) for what, times in kinds for task in range(work.n_tasks))
    size = say_minutes(longest) if longest < LONGEST_RUN_DAYS * MINUTES_PER_DAY else "longer than that"
    n_open = sum(map(math.isnan, done))
    reached = max((when for when in [*start, *end] if when < LONGEST_RUN_DAYS * MINUTES_PER_DAY), default=0.0)
    return RunError(
        f"the run takes more than {LONGEST_RUN_DAYS // 365} years from {work.day0}: by "
        f"{moment(reached, work.day0):%Y-%m-%d} {n_open:,} of {work.n_tasks:,} tasks are still open; the longest time in it "
        f"is {size}, the {what} of {work.task_name(task)} "
        "· check the times and their units, open the shop for longer or make fewer pieces"
    )
