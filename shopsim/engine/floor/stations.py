"""Stations: which units are free, and for which operation each was last set."""

from __future__ import annotations

from shopsim.engine.floor.layout import FloorOperation, Layout

NO_UNIT = -1


class Stations:
    """The stations of the shop. A station may have several units; each does one task at a time.

    ``set_for``: the operation each unit was last set for, -1 for none yet. ``n_set``: for each operation how
    many free units are set for it.
    """

    __slots__ = ("_free", "_setups_paid", "_used_at", "n_set", "set_for")

    def __init__(self, layout: Layout, n_setups: int) -> None:
        n_units = sum(map(len, layout.station_units))
        self._free = [list(units) for units in layout.station_units]
        self.set_for = [NO_UNIT] * n_units
        self._used_at = [-1.0] * n_units
        self.n_set = [0] * len(layout.operations)
        self._setups_paid = bytearray(n_setups)

    def find(self, operation: FloorOperation) -> int | None:
        """The unit an operation would take; NO_UNIT if it needs none, None if none is free.

        Of several free units: one that is set for it, else one never used, else the one used longest ago.
        """
        if operation.station < 0:
            return NO_UNIT
        free = self._free[operation.station]
        if not free:
            return None
        if len(free) == 1:
            return free[0]
        candidates = free
        if self.n_set[operation.number]:
            candidates = [unit for unit in free if self.set_for[unit] == operation.number]
        return min(candidates, key=lambda unit: (self._used_at[unit], unit))

    def needs_setup(self, operation: FloorOperation, unit: int, setup: int) -> bool:
        """Whether set-up must be paid: the unit was last set for something else; without a unit, once a batch."""
        return not self._setups_paid[setup] if unit < 0 else self.set_for[unit] != operation.number

    def take(self, operation: FloorOperation, unit: int, setup: int, pays: bool, now: float) -> None:
        """The unit, if any, is taken and set for the operation."""
        if unit < 0:
            if pays:
                self._setups_paid[setup] = 1
            return
        self._free[operation.station].remove(unit)
        if not pays:
            self.n_set[operation.number] -= 1
        else:
            before = self.set_for[unit]
            if before >= 0:
                self.n_set[before] -= 1
            self.set_for[unit] = operation.number
        self._used_at[unit] = now

    def give_back(self, operation: FloorOperation, unit: int) -> None:
        """The unit is free again, and stays set."""
        self._free[operation.station].append(unit)
        self.n_set[operation.number] += 1
