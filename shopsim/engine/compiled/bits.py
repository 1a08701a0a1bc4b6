"""Sets of workers as numbers with a bit each."""

from __future__ import annotations

from shopsim.engine.compiled.jit import inlined


@inlined
def count_bits(bits: int) -> int:
    """How many are in the set."""
    n = 0
    while bits:
        bits &= bits - 1
        n += 1
    return n


@inlined
def first_bit(bits: int) -> int:
    """The lowest of a set that is not empty."""
    place = 0
    while not bits >> place & 1:
        place += 1
    return place
