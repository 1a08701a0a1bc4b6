"""The one door to the engines: a plan and the luck of one run in, the record of the run out."""

from __future__ import annotations

from shopsim.engine.collecting import without_collector
from shopsim.engine.floor.dispatcher import Stalled
from shopsim.engine.floor.shop import ShopFloor
from shopsim.engine.hours import CalendarEnds
from shopsim.engine.luck import Draws
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.record import RunRecord
from shopsim.engine.unfinished import describe_long_run, describe_stall


def run(plan: SimulationPlan, draws: Draws) -> RunRecord:
    """Simulate one run, or what is left of one that is under way; the record follows from the arguments alone.

    Python's garbage collector rests meanwhile, as a run leaves nothing for it. Raises StalledShop when tasks are
    open and nothing more can happen, with the time, a task, and what it waits for; RunError when the run takes
    more than twenty years.
    """
    shop = ShopFloor(plan, draws)
    log = shop.logbook
    try:
        with without_collector():
            return shop.run()
    except CalendarEnds:
        raise describe_long_run(plan, draws, log.start, log.end, log.done) from None
    except Stalled:
        raise describe_stall(plan, log.ready, log.start, log.end, log.done) from None
