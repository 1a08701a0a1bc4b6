"""What is around the work: spots of the drying racks, clean air, and material that has come."""

from __future__ import annotations

from shopsim.engine.floor.layout import FloorOperation, Layout


class DryingRacks:
    """Free spots of each rack. A task keeps its spots from its start until it is done."""

    __slots__ = ("_free",)

    def __init__(self, layout: Layout) -> None:
        self._free = list(layout.rack_spots)

    def has_room(self, operation: FloorOperation, units: int) -> bool:
        """Whether so many units of an operation find their spots."""
        return operation.rack < 0 or self._free[operation.rack] >= operation.spots * units

    def fill(self, operation: FloorOperation, units: int) -> None:
        """So many units have their spots kept for them."""
        if operation.rack >= 0:
            self._free[operation.rack] -= operation.spots * units

    def empty(self, operation: FloorOperation, units: int) -> None:
        """They are taken from the rack."""
        if operation.rack >= 0:
            self._free[operation.rack] += operation.spots * units


class Air:
    """Keeps wet finish and dust apart across the whole shop; wet may go beside wet, and dust beside dust."""

    __slots__ = ("n_dusty", "n_wet")

    def __init__(self) -> None:
        self.n_dusty = self.n_wet = 0

    def lets(self, operation: FloorOperation) -> bool:
        """Whether an operation may begin as the air is now."""
        return not ((self.n_wet and operation.dusty) or (self.n_dusty and operation.wet))

    def begin(self, operation: FloorOperation) -> None:
        """Dust flies, or a finish is put on, from now on."""
        self.n_dusty += operation.dusty
        self.n_wet += operation.wet


class Materials:
    """What has not come yet, for each entry of the queue: how many materials it waits for."""

    __slots__ = ("_on_the_way",)

    def __init__(self, layout: Layout) -> None:
        self._on_the_way = [0] * len(layout.entry_operation)

    def are_here(self, entry: int) -> bool:
        """Whether all that an entry needs has come."""
        return not self._on_the_way[entry]

    def expect(self, entries: list[int]) -> None:
        """These entries wait for one material more."""
        for entry in entries:
            self._on_the_way[entry] += 1

    def come(self, entries: list[int]) -> None:
        """One material that these entries waited for has come."""
        for entry in entries:
            self._on_the_way[entry] -= 1
