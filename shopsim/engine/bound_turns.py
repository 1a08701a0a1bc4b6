"""Turns in clamps, racks and stations: of n tasks of which m can stand at once, some place sees n / m one after the other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shopsim.engine.plan import SimulationPlan

if TYPE_CHECKING:
    from shopsim.engine.bound_tasks import BoundTasks

#: Until when a thing is held: the end of the hands-on work, the clamps are off, all is done.
END, OFF, DONE = "end", "off", "done"


def kinds_of_needs(plan: SimulationPlan) -> list[tuple[int, ...]]:
    """The kinds of clamps that serve each need, every set once."""
    return list(dict.fromkeys(tuple(sorted(plan.need_kinds.row(n).tolist())) for n in range(plan.need_count.size)))


def least_asked(plan: SimulationPlan, step: int, kinds: set[int]) -> int:
    """Clamps that one task of a step takes out of these kinds in any case."""
    return sum(
        int(plan.need_count[need])
        for need in plan.step_needs.row(step).tolist()
        if set(plan.need_kinds.row(need).tolist()) <= kinds
    )


def end_of_turns(tasks: BoundTasks, some: np.ndarray, turns: int, until: str) -> float:
    """When the hands-on work of the last of so many of these tasks ends at the earliest, one after the other in one place.

    Each takes the least that any of them takes, begins while somebody is there, and holds the place ``until``.
    """
    work, likely = float(tasks.work_min[some].min()), float(tasks.likely_min[some].min())
    in_clamps, unclamp = float(tasks.in_clamps_min[some].min()), float(tasks.unclamp_min[some].min())
    cure = float(tasks.cure_min[some].min())
    pausable = bool(tasks.plan.step_pausable[tasks.plan.task_step[some]].any())
    moment = end = float(tasks.start_min[some].min())
    for _ in range(turns):
        moment = tasks.anybody.next(moment)
        end = tasks.anybody.after(moment, work) if pausable else tasks.anybody.fits(moment, likely) + work
        moment = end
        if until != END:
            due = end + in_clamps
            moment = tasks.anybody.next(due) if in_clamps > 0 else due
            if unclamp > 0:
                moment = tasks.anybody.after(due, unclamp)
        if until == DONE:
            moment = max(moment, end + cure)
    return end


def end_of_stays(tasks: BoundTasks, some: np.ndarray, total_min: float, at_once: int) -> float:
    """When the hands-on work of the last glue-up ends at the earliest, if these take ``total_min`` of work and clamps together.

    Some place sees its share of them, one after the other, each begun and let go while somebody is there. So between two
    openings of the shop a place passes with one glue-up at the most, and gains no more than the longest of them stays in.
    """
    longest = float(tasks.in_clamps_min[some].max())
    begin = float(tasks.start_min[some].min())
    return tasks.anybody_late.after_gaps(begin, total_min / at_once - longest, longest)
