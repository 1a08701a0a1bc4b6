"""Keyed draws: (seed, replication, what for, which unit) -> a uniform number, whatever else is drawn.

No draw depends on the order in which things happen, nor on how many others are drawn.
So two alternatives that share seed and replication share their luck, and adding an
operation, a clamp or a batch changes no other draw.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

# What a draw is for. Numbers are part of the meaning of a seed: never reuse or renumber.
WORK, SETUP, UNCLAMP, REDO_CHANCE, REDO_WORK = 1, 2, 3, 4, 5
ESTIMATE_ERROR, PACE, BIAS = 6, 7, 8
IN_CLAMPS, CURE, WET, CLOCK_RUN = 9, 10, 11, 12
DAY_SHARE, DAY_LEVEL, LOST_DAY, LOST_LEVEL = 13, 14, 15, 16
LEAD, LATE, LATE_BY, MATERIAL_REST = 17, 18, 19, 20
TRANSIT = 21
DEMAND = 22
EVEN_SHIFT = 23

_GOLDEN = 0x9E3779B97F4A7C15
_MASK = (1 << 64) - 1


def stable_key(*names: str) -> int:
    """A 32-bit number that depends on the names alone (CRC-32), the same on every machine."""
    return zlib.crc32("\n".join(names).encode())


def _mix(x: int) -> int:
    """The splitmix64 finaliser (Steele, Lea & Flood 2014; constants from memory, checked by tests of uniformity)."""
    x = ((x ^ (x >> 30)) * 0xBF58476D1CE4E5B9) & _MASK
    x = ((x ^ (x >> 27)) * 0x94D049BB133111EB) & _MASK
    return x ^ (x >> 31)


def _mix_in_place(x: np.ndarray, spare: np.ndarray) -> None:
    """``_mix`` of every element; ``spare``: room of the same shape."""
    np.right_shift(x, _30, out=spare)
    x ^= spare
    x *= _FIRST
    np.right_shift(x, _27, out=spare)
    x ^= spare
    x *= _SECOND
    np.right_shift(x, _31, out=spare)
    x ^= spare


_30, _27, _31, _11 = np.uint64(30), np.uint64(27), np.uint64(31), np.uint64(11)
_FIRST, _SECOND = np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)


@lru_cache(maxsize=256)
def _seed_root(seed: int, purpose: int) -> int:
    return _mix((seed * _GOLDEN + purpose + 1) & _MASK)


def _root(seed: int, replication: int, purpose: int) -> int:
    return _mix((_seed_root(seed, purpose) + _GOLDEN * (replication + 1)) & _MASK)


def _roots(seed: int, numbers: np.ndarray, purpose: int) -> np.ndarray:
    """``_root`` of several replications, uint64."""
    roots = np.uint64(_GOLDEN) * (numbers.astype(np.uint64) + np.uint64(1)) + np.uint64(_seed_root(seed, purpose))
    _mix_in_place(roots, np.empty_like(roots))
    return np.asarray(roots)


def _uniform(root: np.ndarray | np.uint64, key: np.ndarray, spread_key: np.ndarray) -> np.ndarray:
    hashed = root + spread_key
    spare = np.empty_like(hashed)
    _mix_in_place(hashed, spare)
    hashed += key
    _mix_in_place(hashed, spare)
    hashed >>= _11
    drawn = hashed.astype(np.float64)
    drawn += 0.5
    drawn *= 2.0**-53
    return np.asarray(drawn)


def spread_out(key: np.ndarray) -> np.ndarray:
    """The first step of ``draw_for``: uint64 keys multiplied so that near ones lie far apart."""
    return np.asarray(np.uint64(_GOLDEN) * key)


def draw_uniform(seed: int, replication: int, purpose: int, key: np.ndarray) -> np.ndarray:
    """Uniform numbers in (0, 1), one for each element of ``key`` (uint64); the same call gives the same numbers."""
    return _uniform(np.uint64(_root(seed, replication, purpose)), key, spread_out(key))


def draw_block(seed: int, numbers: np.ndarray, purpose: int, key: np.ndarray) -> np.ndarray:
    """``draw_uniform`` of several replications (int64), shape (replications, keys)."""
    return _uniform(_roots(seed, numbers, purpose)[:, None], key, spread_out(key))


def draw_for(
    seed: int,
    numbers: np.ndarray,
    purposes: Sequence[int],
    purpose_of: np.ndarray,
    key: np.ndarray,
    spread_key: np.ndarray,
) -> np.ndarray:
    """``draw_block`` for many purposes at once: column n is drawn for ``purposes[purpose_of[n]]``.

    ``spread_key``: ``spread_out(key)``, worked out beforehand.
    """
    return _uniform(roots_for(seed, numbers, purposes)[:, purpose_of], key, spread_key)


def roots_for(seed: int, numbers: np.ndarray, purposes: Sequence[int]) -> np.ndarray:
    """From where the draws of each replication for each purpose start: uint64, shape (replications, purposes)."""
    roots = [_roots(seed, numbers, purpose) for purpose in purposes]
    return np.array(roots, dtype=np.uint64).reshape(len(purposes), numbers.size).T.copy()


def draw_at(
    seed: int, numbers: np.ndarray, purpose: int, rows: np.ndarray, key: np.ndarray, spread_key: np.ndarray
) -> np.ndarray:
    """Single elements of ``draw_block``: element n is that of replication ``numbers[rows[n]]`` at ``key[n]``."""
    return _uniform(_roots(seed, numbers, purpose)[rows], key, spread_key)


def draw_one(seed: int, replication: int, purpose: int, step_key: int = 0, unit: int = 0) -> float:
    """The one number that ``draw_uniform`` gives for ``unit_key(step_key, unit)``; faster for a single draw."""
    key = (step_key << 32) + unit + 1
    root = _root(seed, replication, purpose)
    hashed = _mix((_mix((root + _GOLDEN * key) & _MASK) + key) & _MASK)
    return ((hashed >> 11) + 0.5) * 2.0**-53


#: Up to so many single draws are made one by one, without arrays.
_FEW = 8


def draw_ones(seed: int, numbers: np.ndarray, purpose: int, step_key: int = 0, unit: int = 0) -> np.ndarray:
    """``draw_one`` of several replications, shape (replications,)."""
    if numbers.size <= _FEW:
        return np.array([draw_one(seed, number, purpose, step_key, unit) for number in numbers.tolist()])
    key = np.array([unit_key(step_key, unit)], dtype=np.uint64)
    return draw_block(seed, numbers, purpose, key)[:, 0]


def unit_key(step_key: int, unit: int | np.ndarray) -> np.ndarray:
    """The key of a unit of a step (or of a day, a material): 32 bits of what, 32 bits of which."""
    return (np.uint64(step_key) << np.uint64(32)) + np.asarray(unit, dtype=np.uint64) + np.uint64(1)
