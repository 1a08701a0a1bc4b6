"""Takes a shop floor to where a run is that is under way: what has happened stays, and the rest goes on from there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shopsim.engine.record import StartingState

if TYPE_CHECKING:
    from shopsim.engine.floor.shop_floor import ShopFloor


def resume(shop: ShopFloor, state: StartingState) -> None:
    """Put a floor on which nothing has happened yet into a starting state, at its moment."""
    begun = np.flatnonzero(~np.isnan(state.record.start))
    in_order = begun[np.argsort(state.record.begun[begun])].tolist()
    shop.logbook.restore(state.record)
    shop.progress.restore(state.record, set(in_order), state.now_min)
    for task in in_order:
        _take_what_it_holds(shop, state, task)
    for task in in_order:
        shop.work.restore(task, state)


def _take_what_it_holds(shop: ShopFloor, state: StartingState, task: int) -> None:
    """Station, clamps, spots and air, as far as a task that has begun still has them."""
    record, layout = state.record, shop.layout
    operation = layout.task_operation[task]
    works, is_done = np.isnan(record.end[task]), not np.isnan(record.done[task])
    unit, setup = int(record.station_unit[task]), layout.entry_setup[layout.task_entry[task]]
    if unit >= 0 or shop.stations.needs_setup(operation, unit, setup):
        pays = shop.stations.needs_setup(operation, unit, setup)
        shop.stations.take(operation, unit, setup, pays, float(record.start[task]))
    if unit >= 0 and (is_done or not (works or operation.keeps_station)):
        shop.stations.give_back(operation, unit)
    clamps = tuple((kind, count) for kind, count in enumerate(record.clamps[task].tolist()) if count)
    if clamps:
        shop.clamps.take(task, clamps)
        if not np.isnan(record.clamps_off[task]):
            shop.clamps.give_back(task)
    if not is_done:
        shop.racks.fill(operation, layout.task_units[task])
    if works:
        shop.air.begin(operation)
