"""A simulation plan as Python lists and small objects: what the rooms of the floor read in their inner loops.

Nothing is decided here. It is worked out once for a plan and shared by all its runs, which never change it.
"""

from __future__ import annotations

from weakref import WeakKeyDictionary

from shopsim.engine.plan import SimulationPlan


class FloorOperation:
    """What one operation asks of the shop, in numbers.

    ``able``: a bit for each worker who can do it; ``workers``: the same people in the order in which they are
    asked. ``needs``: clamps as (kinds that serve, smallest first; how many). ``is_gated``: it may have to wait
    for material, clean air or a rack. ``holds_clamps``: it may stay in clamps after the work.
    ``ends_with_work``: nothing of it goes on after the work.
    """

    __slots__ = (
        "able",
        "dusty",
        "ends_with_work",
        "hands",
        "holds_clamps",
        "is_gated",
        "keeps_station",
        "likely_setup_min",
        "needs",
        "number",
        "pausable",
        "rack",
        "spots",
        "station",
        "timed_hold",
        "unclamps",
        "wet",
        "workers",
    )

    def __init__(self, plan: SimulationPlan, number: int, is_gated: bool) -> None:
        self.number = number
        self.hands = int(plan.step_hands[number])
        self.workers: tuple[int, ...] = tuple(plan.step_workers.row(number).tolist())
        self.able = sum(1 << worker for worker in self.workers)
        self.station = int(plan.step_station[number])
        self.keeps_station = bool(plan.step_keeps_station[number])
        self.rack = int(plan.step_rack[number])
        self.spots = int(plan.step_spots[number])
        self.needs = tuple(
            (tuple(plan.need_kinds.row(need).tolist()), int(plan.need_count[need]))
            for need in plan.step_needs.row(number).tolist()
        )
        self.pausable = bool(plan.step_pausable[number])
        self.dusty = bool(plan.step_dusty[number])
        self.wet = bool(plan.step_wet[number])
        self.timed_hold = bool(plan.step_timed_hold[number])
        self.unclamps = bool(plan.step_unclamps[number])
        self.likely_setup_min = float(plan.step_likely_setup_min[number])
        self.holds_clamps = bool(self.needs) or self.timed_hold or self.unclamps
        self.ends_with_work = not (
            self.holds_clamps or self.wet or self.keeps_station or self.rack >= 0 or bool(plan.step_cures[number])
        )
        self.is_gated = is_gated or self.dusty or self.wet or self.rack >= 0


class Layout:
    """One plan, laid out; see ``SimulationPlan`` for what each list holds."""

    def __init__(self, plan: SimulationPlan) -> None:
        held_back = {int(plan.entry_step[entry]) for entry in plan.material_entries.members.tolist()}
        self.operations = [FloorOperation(plan, n, n in held_back) for n in range(plan.step_hands.size)]
        self.any_dusty = bool(plan.step_dusty.any())
        self.task_operation = [self.operations[n] for n in plan.task_step.tolist()]
        self.task_units = plan.task_units.tolist()
        self.task_entry = plan.task_entry.tolist()
        self.task_waits = plan.task_waits.tolist()
        self.task_groups = plan.task_groups.lists()
        self.task_ends_pieces = plan.task_ends_pieces.lists()
        self.group_size = plan.group_size.tolist()
        self.group_listeners = plan.group_listeners.lists()
        self.entry_operation = [self.operations[n] for n in plan.entry_step.tolist()]
        self.entry_units = plan.entry_units.tolist()
        self.entry_likely_min = plan.entry_likely_min.tolist()
        self.entry_setup = plan.entry_setup.tolist()
        self.entry_not_before_min = plan.entry_not_before_min.tolist()
        self.entry_stop: list[int] = plan.entry_stop.tolist()
        self.material_entries = plan.material_entries.lists()
        self.batch_opens_min = plan.batch_opens_min.tolist()
        self.batch_gate = plan.batch_gate.tolist()
        self.batch_first = plan.batch_first.tolist()
        self.batch_size = plan.batch_size.tolist()
        self.piece_waits = plan.piece_waits.tolist()
        self.piece_batch = plan.piece_batch.tolist()
        self.station_units = plan.station_units.lists()
        self.clamp_count = plan.clamp_count.tolist()
        self.rack_spots = plan.rack_spots.tolist()
        self.worker_calendar: list[int] = plan.worker_calendar.tolist()
        self.unclampers = tuple(plan.unclampers.tolist())


#: Tasks of a plan up to which its layout is kept from one run to the next; a larger one's would hold hundreds of megabytes.
MAX_TASKS_LAID = 200_000
_laid_out: WeakKeyDictionary[SimulationPlan, Layout] = WeakKeyDictionary()


def layout_of(plan: SimulationPlan) -> Layout:
    """The layout of a plan, made when it is first asked for."""
    found = _laid_out.get(plan)
    if found is None:
        found = Layout(plan)
        if plan.worklist.n_tasks <= MAX_TASKS_LAID:
            _laid_out[plan] = found
    return found
