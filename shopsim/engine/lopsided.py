"""A value that is uncertain to one side more than to the other, and by an even error besides: chances and quantiles, exact.

What is believed of an operation's typical time, and of a day's open share, is a normal score
stretched by one factor below its middle and by another above it, with normal uncertainty added
(bias, pace, the mean of few units). That sum is an even mixture of two skew normal laws
(Azzalini 1985, from memory), whose distribution function needs only the normal one and Owen's T.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

#: Even uncertainty is taken to be no less than this, so that no formula divides by nothing.
MIN_SD = 1e-9


@dataclass(frozen=True)
class Lopsided:
    """middle + (below if z < 0 else above) * z + sd * w, with z and w standard normal and independent.

    All on whatever scale the value is normal on (here logarithms or logits).
    """

    middle: float
    below: float
    above: float
    sd: float

    def cdf(self, value: float) -> float:
        """The chance of at most ``value``."""
        far, sd = value - self.middle, max(self.sd, MIN_SD)
        lower, upper = float(np.hypot(sd, self.below)), float(np.hypot(sd, self.above))
        under = special.ndtr(far / lower) + 2 * special.owens_t(far / lower, self.below / sd)
        over = special.ndtr(far / upper) - 2 * special.owens_t(far / upper, self.above / sd)
        return float(min(max((under + over) / 2, 0.0), 1.0))

    def quantile(self, share: float) -> float:
        """The value that is not passed with the chance ``share``, which is in (0, 1)."""
        from scipy import optimize  # a third of a second to load, and only wanted here

        reach = 12 * float(np.hypot(max(self.sd, MIN_SD), max(self.below, self.above)))
        return float(
            optimize.brentq(lambda value: self.cdf(value) - share, self.middle - reach, self.middle + reach, xtol=1e-12)
        )

    def log_density(self, value: float) -> float:
        """The logarithm of the density at ``value``."""
        far, sd = value - self.middle, max(self.sd, MIN_SD)
        logs = []
        for side in (-self.below, self.above):
            scale = float(np.hypot(sd, side))
            logs.append(
                -0.5 * (far / scale) ** 2 - np.log(scale) + special.log_ndtr(side / sd * far / scale)
            )  # half of it: the 2 of a skew normal density and the 1/2 of the mixture cancel
        return float(np.logaddexp(*logs) - 0.5 * np.log(2 * np.pi))

    def tail(self, value: float) -> float:
        """The chance of a value at least as far out on its side, twice over: 1 in the middle, near 0 far out."""
        mirrored = Lopsided(-self.middle, self.above, self.below, self.sd)
        return min(1.0, 2 * min(self.cdf(value), mirrored.cdf(-value)))

    @property
    def mean(self) -> float:
        """Its mean."""
        return self.middle + (self.above - self.below) / float(np.sqrt(2 * np.pi))

    @property
    def variance(self) -> float:
        """Its variance."""
        return (self.below**2 + self.above**2) / 2 - (self.above - self.below) ** 2 / (2 * float(np.pi)) + self.sd**2
