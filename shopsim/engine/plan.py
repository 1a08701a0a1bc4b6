"""The simulation plan: a scenario as plain arrays, all that an engine reads.

A plan depends on no luck: build it once, run it often, in any process. What happens at one moment, and in
which order, is written in the README of this room; every engine keeps to it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shopsim.engine.calendars import Calendar
from shopsim.engine.gc_pause import gc_paused
from shopsim.engine.luck import LuckPlan
from shopsim.engine.planned_order import find_lines_of_entries, find_moments_of_lines, plan_in_use
from shopsim.engine.ragged import Ragged
from shopsim.engine.record import StartingState
from shopsim.engine.rule_view import look_at, look_at_entries
from shopsim.engine.worklist import Worklist, build_worklist
from shopsim.priority import PRIORITY_RULES, RULES, Rule
from shopsim.scenario.model import Scenario
from shopsim.scenario.ways import put_ways


@dataclass(frozen=True, eq=False)
class SimulationPlan:
    """One run of a shop, ready to be simulated. Times are minutes from midnight of day 0; -1 stands for none.

    Arrays, by the first word of their names; whole numbers unless a unit is named:

    - ``step_``: one an operation of a design, each version of it by itself. ``hands``, ``workers`` (able ones, in the
      order in which they are asked), ``station``, ``keeps_station`` (until done), ``rack``, ``spots`` (for one unit),
      ``needs`` (numbers of clamp needs), ``pausable``, ``dusty``, ``wet``, ``timed_hold`` (has a time in clamps),
      ``unclamps`` (taking clamps off takes time), ``cures``, ``likely_setup_min``.
    - ``need_``: one a need of clamps: ``kinds`` that serve it, smallest first, and ``count``.
    - ``task_``: one a task, in the order batch, operation, piece, unit: ``step``, ``units``, ``entry`` of the queue,
      ``waits`` (how many groups it waits for), ``groups`` it belongs to, ``ends_pieces`` (pieces of which it is one of
      the last tasks of their design).
    - ``group_``: ``size``, and ``listeners``, the tasks that wait for it.
    - ``entry_``: one a kind of task in the queue, numbered in the order in which they go first: ``step``, ``batch``,
      ``units``, ``likely_min`` of hands-on work, ``setup`` (which set-up it shares if it has no station),
      ``not_before_min``, a moment before which none of its tasks begins (0: none), and ``stop``, the number of the first
      entry after its equals: of equals, those go first whose station is set for them.
    - ``material_entries``: for each material the entries that it holds back.
    - ``batch_``: in the order of opening: ``opens_min``, ``gate`` (the group that opening completes), its ``first`` piece, and its
      ``size`` in pieces.
    - ``piece_``: ``batch``, and ``waits``, how many of its last tasks there are.
    - ``station_units`` (unit numbers of each station), ``clamp_count``, ``rack_spots``.
    - ``worker_calendar``: one a worker, a place in ``calendars``; ``unclampers``: who is asked first to take clamps off.

    ``room``: how many pieces may be under way at once. ``rank``: a rule of the user's own as a function of (task, minute
    at which it became ready), or None: then entries go in the order of their numbers. ``starting``: where the run is, if it is under way. ``worklist``, ``luck``,
    ``shop_calendar``: for draws, accounts and messages; no engine reads them.
    """

    scenario: Scenario
    worklist: Worklist
    luck: LuckPlan
    shop_calendar: Calendar
    step_hands: np.ndarray
    step_workers: Ragged
    step_station: np.ndarray
    step_keeps_station: np.ndarray
    step_rack: np.ndarray
    step_spots: np.ndarray
    step_needs: Ragged
    step_pausable: np.ndarray
    step_dusty: np.ndarray
    step_wet: np.ndarray
    step_timed_hold: np.ndarray
    step_unclamps: np.ndarray
    step_cures: np.ndarray
    step_likely_setup_min: np.ndarray
    need_kinds: Ragged
    need_count: np.ndarray
    task_step: np.ndarray
    task_units: np.ndarray
    task_entry: np.ndarray
    task_waits: np.ndarray
    task_groups: Ragged
    task_ends_pieces: Ragged
    group_size: np.ndarray
    group_listeners: Ragged
    entry_step: np.ndarray
    entry_batch: np.ndarray
    entry_units: np.ndarray
    entry_likely_min: np.ndarray
    entry_setup: np.ndarray
    entry_not_before_min: np.ndarray
    entry_stop: np.ndarray
    n_setups: int
    material_entries: Ragged
    batch_opens_min: np.ndarray
    batch_gate: np.ndarray
    batch_first: np.ndarray
    batch_size: np.ndarray
    piece_batch: np.ndarray
    piece_waits: np.ndarray
    room: int
    station_units: Ragged
    clamp_count: np.ndarray
    rack_spots: np.ndarray
    calendars: tuple[Calendar, ...]
    worker_calendar: np.ndarray
    unclampers: np.ndarray
    rank: Callable[[int, float], Any] | None
    starting: StartingState | None = None


def build_plan(scenario: Scenario, rule: Rule | None = None) -> SimulationPlan:
    """The plan of a checked scenario; about ten runs' worth of time.

    ``rule``: a priority rule of the user's own, asked about each task when it becomes ready. The plan's ``scenario`` is the
    one that the ways in use make of it (``put_ways``).
    """
    scenario = put_ways(scenario)
    work = build_worklist(scenario)
    return lay_out(scenario, work, LuckPlan(work), rule)


@gc_paused()
def lay_out(scenario: Scenario, work: Worklist, luck: LuckPlan, rule: Rule | None) -> SimulationPlan:
    """The plan of a scenario whose work list and luck are at hand."""
    calendars, worker_calendar = _calendars(scenario, work, luck)
    entries = _order_entries(scenario, work, rule)
    setups = {key: n for n, key in enumerate(dict.fromkeys(zip(entries.step, entries.batch, strict=True)))}
    ends_pieces = _ends_of_pieces(work)
    piece_waits = np.zeros(work.n_pieces, dtype=np.int64)
    np.add.at(piece_waits, ends_pieces.members, 1)
    steps, needs = work.steps, [need for step in work.steps for need in step.clamps]
    return SimulationPlan(
        scenario=scenario,
        worklist=work,
        luck=luck,
        shop_calendar=Calendar(scenario.shop, None, work.day0, not luck.days.whole),
        **_step_columns(work),
        need_kinds=Ragged.of([kinds for kinds, _ in needs]),
        need_count=_whole([count for _, count in needs]),
        task_step=_whole(work.task_step),
        task_units=_whole(work.task_units),
        task_entry=_whole(entries.of_task),
        task_waits=_whole(work.task_waits),
        task_groups=work.task_groups,
        task_ends_pieces=ends_pieces,
        group_size=_whole(work.group_size),
        group_listeners=work.group_listeners,
        entry_step=_whole(entries.step),
        entry_batch=_whole(entries.batch),
        entry_units=_whole(entries.units),
        entry_likely_min=np.array(
            [steps[n].operation.work.likely * units for n, units in zip(entries.step, entries.units, strict=True)]
        ),
        entry_setup=_whole([setups[key] for key in zip(entries.step, entries.batch, strict=True)]),
        entry_not_before_min=np.array(entries.not_before_min),
        entry_stop=_whole(entries.stop),
        n_setups=len(setups),
        material_entries=_material_entries(scenario, work, entries.of_task),
        batch_opens_min=np.array([batch.opens_at for batch in work.batches]),
        batch_gate=_whole(work.batch_gate),
        batch_first=_whole([batch.first for batch in work.batches]),
        batch_size=_whole([batch.size for batch in work.batches]),
        piece_batch=_whole(work.piece_batch),
        piece_waits=piece_waits,
        room=work.pieces_open,
        station_units=Ragged.of(work.station_units),
        clamp_count=_whole([kind.count for kind in scenario.shop.clamps]),
        rack_spots=_whole([rack.spots for rack in scenario.shop.racks]),
        calendars=calendars,
        worker_calendar=worker_calendar,
        unclampers=_unclampers(scenario, work),
        rank=None if rule is None else _Ranked(work, rule),
    )


def _whole(numbers: Sequence[int]) -> np.ndarray:
    return np.array(numbers, dtype=np.int64)


class _Ranked:
    """A rule of the user's own as a function of a task and the minute at which it became ready."""

    def __init__(self, work: Worklist, rule: Rule) -> None:
        self.work, self.rule = work, rule

    def __call__(self, task: int, ready_min: float) -> Any:
        return self.rule(look_at(self.work, task, ready_min))


def _calendars(scenario: Scenario, work: Worklist, luck: LuckPlan) -> tuple[tuple[Calendar, ...], np.ndarray]:
    """The different calendars of the workers, and which of them each worker has."""
    known: dict[object, int] = {}
    calendars: list[Calendar] = []
    own = []
    for number, worker in enumerate(scenario.shop.workers):
        form = (worker.open, worker.closed)
        if form not in known:
            known[form] = len(calendars)
            calendars.append(Calendar(scenario.shop, number, work.day0, not luck.days.whole))
        own.append(known[form])
    return tuple(calendars), _whole(own)


def _step_columns(work: Worklist) -> dict[str, Any]:
    """The columns of ``SimulationPlan`` that begin with ``step_``."""
    steps = work.steps
    operations = [step.operation for step in steps]
    first_need = np.cumsum([0, *(len(step.clamps) for step in steps)]).tolist()
    return {
        "step_hands": _whole([operation.hands for operation in operations]),
        "step_workers": Ragged.of([step.workers for step in steps]),
        "step_station": _whole([step.station for step in steps]),
        "step_keeps_station": np.array([step.operation.stays and step.station >= 0 for step in steps], dtype=bool),
        "step_rack": _whole([step.rack for step in steps]),
        "step_spots": _whole([step.spots_a_unit for step in steps]),
        "step_needs": Ragged.of([range(first_need[n], first_need[n + 1]) for n in range(len(steps))]),
        "step_pausable": np.array([step.pausable for step in steps], dtype=bool),
        "step_dusty": np.array([operation.dusty for operation in operations], dtype=bool),
        "step_wet": np.array([operation.wet is not None for operation in operations], dtype=bool),
        "step_timed_hold": np.array([operation.in_clamps is not None for operation in operations], dtype=bool),
        "step_unclamps": np.array([operation.unclamp is not None for operation in operations], dtype=bool),
        "step_cures": np.array([operation.cure is not None for operation in operations], dtype=bool),
        "step_likely_setup_min": np.array([operation.setup.likely for operation in operations], dtype=np.float64),
    }


@dataclass
class _Entries:
    """The entries of the queue, and which of them each task stands in; ``stop``: the first entry after the equals of each."""

    of_task: list[int]
    step: list[int]
    batch: list[int]
    units: list[int]
    not_before_min: list[float]
    stop: list[int]


def _order_entries(scenario: Scenario, work: Worklist, rule: Rule | None) -> _Entries:
    """Entries numbered so that a lower number goes first; under a rule of the user's own, one a task."""
    if rule is not None:
        n = work.n_tasks
        return _Entries(list(range(n)), work.task_step, work.task_batch, work.task_units, [0.0] * n, [n] * n)
    plan = plan_in_use(scenario)
    first_by = RULES[PRIORITY_RULES[0] if plan is not None else scenario.run.priority].key
    seen = look_at_entries(work)
    line = [0] * len(seen) if plan is None else find_lines_of_entries(plan, work)
    moments = [0.0] if plan is None else find_moments_of_lines(plan, work.day0)
    unplanned = -1 if plan is None else len(plan.order)  # under a rule, and of what no line is about, the rule decides
    first = [first_by(one) if plan is None or line[entry] == unplanned else 0 for entry, one in enumerate(seen)]
    order = sorted(
        range(len(seen)),
        key=lambda entry: (line[entry], first[entry], work.entry_batch[entry], work.entry_step[entry], entry),
    )
    rank = {entry: number for number, entry in enumerate(order)}
    ends = {line[entry]: number + 1 for number, entry in enumerate(order)}
    return _Entries(
        [rank[entry] for entry in work.task_entry],
        [work.entry_step[entry] for entry in order],
        [work.entry_batch[entry] for entry in order],
        [work.entry_units[entry] for entry in order],
        [moments[line[entry]] for entry in order],
        [ends[line[entry]] for entry in order],
    )


def _ends_of_pieces(work: Worklist) -> Ragged:
    """For each task the pieces for which no other operation of their design comes after it; all others come before such tasks."""
    last = []
    for variant in work.variants:
        own = [step for step in variant.after if work.steps[step].of_design]
        last.append(set(own).difference(*(variant.after[step] for step in own)))
    in_cell: dict[int, list[int]] = {}
    for piece, cell in enumerate(work.piece_cell):
        in_cell.setdefault(cell, []).append(piece)
    ends: list[list[int]] = []
    for step, piece, cells in zip(work.task_step, work.task_piece, work.task_cells, strict=True):
        covered = [piece] if piece >= 0 else [one for cell in cells for one in in_cell[cell]]
        ends.append([one for one in covered if step in last[work.piece_variant[one]]])
    return Ragged.of(ends)


def _material_entries(scenario: Scenario, work: Worklist, task_entry: Sequence[int]) -> Ragged:
    """For each material the entries it holds back, each once, in the order of their tasks."""
    held: list[dict[int, None]] = [{} for _ in scenario.materials]
    for task, entry in enumerate(task_entry):
        for material in work.materials_of(task):
            held[material][entry] = None
    return Ragged.of([list(entries) for entries in held])


def _unclampers(scenario: Scenario, work: Worklist) -> np.ndarray:
    """Workers, the one with the fewest skills first."""
    skills = [sum(worker in step.workers for step in work.steps) for worker in range(len(scenario.shop.workers))]
    return _whole(sorted(range(len(skills)), key=lambda worker: (skills[worker], worker)))


__all__ = ["Ragged", "SimulationPlan", "build_plan", "lay_out"]
