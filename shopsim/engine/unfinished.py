"""The words for a run that cannot go on, or that would take too long."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shopsim.dates import moment
from shopsim.engine.luck import Draws
from shopsim.engine.plan import SimulationPlan
from shopsim.errors import RunError, StalledShop
from shopsim.limits import MAX_RUN_DAYS
from shopsim.units import MINUTES_PER_DAY, say_minutes


def describe_stall(
    plan: SimulationPlan, ready: Sequence[float], start: Sequence[float], end: Sequence[float], done: Sequence[float]
) -> StalledShop:
    """The last moment at which something happened, an open task, and who holds what."""
    work = plan.worklist
    now = max((when for when in [*start, *end, *done] if not math.isnan(when)), default=0.0)
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
    plan: SimulationPlan, draws: Draws, start: Sequence[float], end: Sequence[float], done: Sequence[float]
) -> RunError:
    """That a run takes more than the longest that is taken on, how far it came, and the task that takes longest."""
    work = plan.worklist
    kinds = (
        ("work", draws.work), ("set-up", draws.setup), ("taking off of clamps", draws.unclamp),
        ("time in clamps", draws.in_clamps), ("cure", draws.cure),
    )  # fmt: skip
    longest, what, task = max((times[task], what, task) for what, times in kinds for task in range(work.n_tasks))
    size = say_minutes(longest) if longest < MAX_RUN_DAYS * MINUTES_PER_DAY else "longer than that"
    n_open = sum(map(math.isnan, done))
    reached = max((when for when in [*start, *end] if when < MAX_RUN_DAYS * MINUTES_PER_DAY), default=0.0)
    return RunError(
        f"the run takes more than {MAX_RUN_DAYS // 365} years from {work.day0}: by "
        f"{moment(reached, work.day0):%Y-%m-%d} {n_open:,} of {work.n_tasks:,} tasks are still open; the longest time in it "
        f"is {size}, the {what} of {work.task_name(task)} "
        "· check the times and their units, open the shop for longer or make fewer pieces"
    )
