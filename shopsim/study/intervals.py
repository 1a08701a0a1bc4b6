"""How sure a number is: intervals for means, paired differences, quantiles and shares; and how many replications."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import special  # not scipy.stats, which takes half a second to load

from shopsim.errors import InputError


@dataclass(frozen=True)
class Interval:
    """An estimate with its interval: ``low`` <= ``value`` <= ``high``, at ``confidence``.

    ``unseen``: every difference it rests on was nothing, so that its ends are bounds and no t interval.
    """

    value: float
    low: float
    high: float
    confidence: float
    unseen: bool = False

    @property
    def half_width(self) -> float:
        """Half of its length."""
        return (self.high - self.low) / 2

    @property
    def excludes_zero(self) -> bool:
        """Whether zero lies outside: the sign of the value is settled."""
        return self.low > 0 or self.high < 0


def _check_share(share: float, what: str) -> None:
    if not 0 < share < 1:
        raise InputError(f"{what} {share!r} is not between 0 and 1 · write 0.8 for 80 %, for instance")


def mean_interval(values: Sequence[float] | np.ndarray, confidence: float = 0.95, comparisons: int = 1) -> Interval:
    """Mean with its t interval (Student 1908); ``values`` independent, shape (n,).

    ``comparisons``: how many such intervals shall all hold together (Bonferroni). A
    single value gives an interval without bounds.
    """
    _check_share(confidence, "a confidence of")
    sample = np.asarray(values, dtype=np.float64)
    n = sample.size
    if n == 0:
        raise InputError("a mean of no values is asked for · take at least one replication")
    mean = float(sample.mean())
    if n == 1:
        return Interval(mean, -math.inf, math.inf, confidence)
    share = 1 - (1 - confidence) / (2 * comparisons)
    half = float(special.stdtrit(n - 1, share)) * float(sample.std(ddof=1)) / math.sqrt(n)
    return Interval(mean, mean - half, mean + half, confidence)


def paired_difference(
    values: Sequence[float] | np.ndarray,
    base: Sequence[float] | np.ndarray,
    confidence: float = 0.95,
    comparisons: int = 1,
) -> Interval:
    """Mean of ``values - base`` on the same replications, with its paired t interval.

    Both of shape (n,), element r from replication r. ``comparisons``: how many such
    differences are read together; their intervals then all hold with ``confidence``
    (Bonferroni).

    Where all differences seen are nothing, their spread is too, and a t interval would be exactly nothing. What then
    stands is a bound, ``unseen``: a difference shows in at most ``most_share(0, n)`` of replications, and none is taken
    to be larger than that between the least and the largest value of ``base`` seen (own assumption: a change on the
    same luck does no more than the worst luck in place of the best).
    """
    a, b = np.asarray(values, dtype=np.float64), np.asarray(base, dtype=np.float64)
    if a.shape != b.shape:
        raise InputError(
            f"a paired difference needs the same replications, got {a.size} and {b.size} · compare equally many"
        )
    difference = a - b
    if difference.size > 1 and not difference.any():
        _check_share(confidence, "a confidence of")
        bound = most_share(0, b.size, 1 - (1 - confidence) / comparisons) * float(np.ptp(b))
        return Interval(0.0, -bound, bound, confidence, unseen=True)
    return mean_interval(difference, confidence, comparisons)


def blocked_interval(
    values: Sequence[float] | np.ndarray, block: int, share: float | None = None, confidence: float = 0.95
) -> Interval:
    """Mean, or the ``share`` quantile, of replications run in even blocks: a t interval over what the blocks come to.

    ``values``: shape (n,), in the order of replications from the beginning of a block; a last block that is not
    whole is left out. Blocks are independent of one another, replications within one are not; each
    block's quantile is its ``quantile``, so that small blocks lean a little to the safe side. Raises InputError for
    fewer than two whole blocks.
    """
    sample = np.asarray(values, dtype=np.float64)
    n_blocks = sample.size // block if block > 0 else 0
    if n_blocks < 2:
        raise InputError(f"{sample.size} replications are {n_blocks} whole blocks of {block} · run at least two blocks")
    blocks = sample[: n_blocks * block].reshape(n_blocks, block)
    if share is None:
        return mean_interval(blocks.mean(axis=1), confidence)
    return mean_interval(np.sort(blocks, axis=1)[:, quantile_rank(block, share) - 1], confidence)


def quantile_rank(n: int, share: float) -> int:
    """Rank (from 1) of the order statistic that a new run stays at or below with chance ``share``: ceil((n + 1) share).

    Raises InputError if ``n`` replications are too few to promise so much.
    """
    _check_share(share, "a chance of")
    rank = math.ceil(round((n + 1) * share, 9))
    if rank > n:
        least = math.ceil(round(share / (1 - share), 9))
        raise InputError(
            f"{n} replications cannot tell a chance of {share:g} · take at least {least}, or ask for a smaller chance"
        )
    return rank


def quantile(values: Sequence[float] | np.ndarray, share: float) -> float:
    """The order statistic at ``quantile_rank``: an upper figure, never interpolated; ``values`` of shape (n,)."""
    sample = np.sort(np.asarray(values, dtype=np.float64))
    return float(sample[quantile_rank(sample.size, share) - 1])


def lower_quantile(values: Sequence[float] | np.ndarray, share: float) -> float:
    """The order statistic that a new run stays at or above with chance ``1 - share``, rounded outward.

    Its rank is floor((n + 1) share), and 1 where that is 0. ``values`` of shape (n,).
    """
    _check_share(share, "a chance of")
    sample = np.sort(np.asarray(values, dtype=np.float64))
    return float(sample[max(1, math.floor(round((sample.size + 1) * share, 9))) - 1])


@lru_cache(maxsize=256)
def quantile_interval_ranks(n: int, share: float, confidence: float = 0.95) -> tuple[int, int]:
    """Ranks (from 1) of the order statistics that bracket the ``share`` quantile with at least ``confidence``.

    The shortest such pair, of equally short ones the one most even about (n + 1) share; the
    chance that (l, u) brackets it is B(u - 1) - B(l - 1) with B of Binomial(n, share)
    (Hahn & Meeker 1991, ch. 5). 0 or n + 1 stands for no bound on that side, where n is
    too small for one.
    """
    _check_share(share, "a chance of")
    _check_share(confidence, "a confidence of")
    below = np.concatenate(([0.0], special.bdtr(np.arange(0, n + 1), n, share)))  # below[k] = B(k - 1)
    below[-1] = 1.0
    best: tuple[int, float, int, int] | None = None
    for low in range(1, n):
        need = below[low] + confidence
        high = int(np.searchsorted(below[: n + 1], need - 1e-12))
        if high > n:
            break
        high = max(high, low + 1)
        candidate = (high - low, abs((high + low) / 2 - (n + 1) * share), low, high)
        if best is None or candidate < best:
            best = candidate
    if best is not None:
        return best[2], best[3]
    tail = 1 - confidence
    if 1 - below[1] >= 1 - tail:  # the smallest value is below it surely enough
        low = int(np.searchsorted(below, tail, side="right")) - 1
        return max(low, 1), n + 1
    if below[n] >= confidence:
        return 0, int(np.searchsorted(below, confidence - 1e-12))
    return 0, n + 1


def quantile_interval(values: Sequence[float] | np.ndarray, share: float, confidence: float = 0.95) -> Interval:
    """The ``share`` quantile (rank ceil((n + 1) share)) with its order-statistic interval; infinite where n is too small."""
    sample = np.sort(np.asarray(values, dtype=np.float64))
    low, high = quantile_interval_ranks(sample.size, share, confidence)
    padded = np.concatenate(([-math.inf], sample, [math.inf]))
    return Interval(quantile(sample, share), float(padded[low]), float(padded[high]), confidence)


def least_n_for_bound(share: float, confidence: float = 0.95) -> int:
    """Smallest n whose largest value is above the ``share`` quantile with ``confidence`` (Wilks 1941)."""
    _check_share(share, "a chance of")
    _check_share(confidence, "a confidence of")
    return math.ceil(round(math.log(1 - confidence) / math.log(share), 9))


def share_interval(hits: int, n: int, confidence: float = 0.95) -> Interval:
    """The share ``hits / n`` with its interval by Wilson (1927)."""
    _check_share(confidence, "a confidence of")
    if not 0 <= hits <= n or n < 1:
        raise InputError(f"{hits} of {n} is not a share · count hits among at least one try")
    z = float(special.ndtri(1 - (1 - confidence) / 2))
    share = hits / n
    middle = (share + z * z / (2 * n)) / (1 + z * z / n)
    half = z / (1 + z * z / n) * math.sqrt(share * (1 - share) / n + z * z / (4 * n * n))
    low, high = min(share, max(0.0, middle - half)), max(share, min(1.0, middle + half))  # rounding aside
    return Interval(share, low, high, confidence)


def most_share(hits: int, n: int, confidence: float = 0.95) -> float:
    """The largest share that ``hits`` of ``n`` tries leave open: the exact upper bound of Clopper & Pearson (1934).

    For no hits 1 - (1 - confidence)^(1 / n): 5 % at 59 tries and 95 %, about 3 / n for many.
    """
    _check_share(confidence, "a confidence of")
    if not 0 <= hits <= n or n < 1:
        raise InputError(f"{hits} of {n} is not a share · count hits among at least one try")
    return 1.0 if hits == n else float(special.bdtri(hits, n, 1 - confidence))


def replications_for_chance(half_width: float, share: float = 0.8, confidence: float = 0.95) -> int:
    """How many replications tell a chance near ``share`` to within ``half_width``, fixed in advance.

    share (1 - share) (z / half_width)^2, rounded up: 1,537 for 0.80 to +-0.02 at 95 %.
    """
    _check_share(share, "a chance of")
    _check_share(half_width, "a half-width of")
    z = float(special.ndtri(1 - (1 - confidence) / 2))
    return math.ceil(round(share * (1 - share) * (z / half_width) ** 2, 9))


def common_rank(days: np.ndarray, share: float) -> int:
    """One rank (from 1) for all columns at which a row stays at or below all of them with chance ``share``.

    ``days``: shape (n replications, m orders). Take the rank of each element in its column
    (the first, among ties), the largest of these in each row, and of those the order statistic
    at ``quantile_rank`` (after the simultaneous bands of Besag, Green, Higdon & Mengersen 1995).
    The dates are then the elements of that rank in each sorted column.
    """
    table = np.asarray(days)
    ordered = np.sort(table, axis=0)
    ranks = np.empty(table.shape, dtype=np.int64)
    for column in range(table.shape[1]):
        ranks[:, column] = np.searchsorted(ordered[:, column], table[:, column], side="left") + 1
    worst = np.sort(ranks.max(axis=1))
    return int(worst[quantile_rank(table.shape[0], share) - 1])
