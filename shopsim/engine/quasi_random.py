"""Shared luck spread evenly over a block of replications: scrambled Sobol points in place of independent draws.

What a whole run shares (bias, pace, the errors of all estimates) is one point in many dimensions. Points of
I. M. Sobol (1967), direction numbers of Joe & Kuo (2008), fill that space evenly; each block of replications shifts all
its points, digit by digit, by a keyed number (the shift of Cranley & Patterson 1976 in base 2), so that every
replication by itself has the same law as ever, blocks are independent of one another, and a replication's luck
depends on seed and number alone. All other luck stays keyed as it is.
"""

from __future__ import annotations

import numpy as np
from scipy import special

from shopsim.engine.keyed import EVEN_SHIFT, draw_uniform, stable_key, unit_key
from shopsim.engine.luck import LuckPlan, SharedScores

#: Binary digits of a point.
BITS = 30


class QuasiRandomFactors:
    """The shared scores of replications in blocks of ``block``, a power of two; build once, draw often."""

    def __init__(self, plan: LuckPlan, block: int) -> None:
        if block < 2 or block & (block - 1):
            raise ValueError(f"a block of {block} replications is no power of two")
        from scipy.stats import qmc  # half a second to load, and only wanted here

        self.plan, self.block = plan, block
        # the dimensions that matter most come first: the first ones of the sequence are the most even
        names = [stable_key("bias"), stable_key("pace"), *(int(key) for key in plan.step_key)]
        points = qmc.Sobol(len(names), scramble=False, bits=BITS).random(block)
        self._points = np.rint(points * 2.0**BITS).astype(np.int64)
        self._key = np.array([int(unit_key(name, 0)) for name in names], dtype=np.uint64)

    def scores(self, seed: int, replication: int) -> SharedScores:
        """The shared scores of one replication; pure."""
        number, place = divmod(replication, self.block)
        shift = np.floor(draw_uniform(seed, number, EVEN_SHIFT, self._key) * 2.0**BITS).astype(np.int64)
        z = np.asarray(special.ndtri(((self._points[place] ^ shift) + 0.5) * 2.0**-BITS))
        return SharedScores(float(z[0]), float(z[1]), z[2:])
