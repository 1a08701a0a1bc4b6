"""The one door to the engines: a plan and the luck of one run in, the record of the run out.

Two engines keep to the rules in the README of this room: the SimPy model in ``floor/``, which is what the rules mean, and
the compiled floor in ``compiled/``, which makes many runs at once. A single run is made by the SimPy model.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from shopsim.engine import compiling
from shopsim.engine.calendars import CalendarEnds
from shopsim.engine.floor.dispatcher import Stalled
from shopsim.engine.floor.shop_floor import ShopFloor
from shopsim.engine.gc_pause import gc_paused
from shopsim.engine.luck import Draws, LuckBlock
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.record import RunRecord, StartingState
from shopsim.engine.unfinished import describe_long_run, describe_stall

_compiled_too: ContextVar[bool] = ContextVar("compiled_too", default=False)


@contextmanager
def single_runs_compiled() -> Iterator[None]:
    """In the block single runs are made by the compiled floor as well, where it can: for holding it to the rules one by one."""
    compiling.load_now()
    before = _compiled_too.set(True)
    try:
        yield
    finally:
        _compiled_too.reset(before)


def run(plan: SimulationPlan, draws: Draws, starting: StartingState | None = None) -> RunRecord:
    """Simulate one run, or what is left of one that is under way; the record follows from the arguments alone.

    ``starting``: where the run is, in place of what the plan says of it: one plan is so gone on with from many states.

    Python's garbage collector rests meanwhile, as a run leaves nothing for it. Raises StalledShop when tasks are
    open and nothing more can happen, with the time, a task, and what it waits for; RunError when the run takes
    more than twenty years.
    """
    if starting is None and _compiled_too.get() and (compiled := compiling.find_compiled(plan)) is not None:
        block = compiled.run_block(plan, LuckBlock.of(draws))
        for record in compiled.records_of(block).values():
            return record  # type: ignore[no-any-return]
    shop = ShopFloor(plan, draws, starting)
    log = shop.logbook
    try:
        with gc_paused():
            return shop.run()
    except CalendarEnds:
        raise describe_long_run(plan, draws, log.start, log.end, log.done) from None
    except Stalled:
        raise describe_stall(plan, log.ready, log.start, log.end, log.done) from None
