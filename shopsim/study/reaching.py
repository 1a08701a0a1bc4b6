"""Which smallest sets of levers reach a chance: searched on one part of the luck, confirmed on fresh luck.

Alternatives are sets of at most ``MAX_LEVERS`` levers. A set is left out of the search only by its own bound (Wilson 1927, 99 %,
below the asked chance) or because a set that it contains is confirmed to reach; more of something is never taken to reach because
less of it does (Graham 1966), nor is a lever struck out that does nothing alone. Sets that look the most promising are run
first: those whose levers alone save the most days, added up. How much is looked at is counted in sets and not in seconds,
so that the same seed gives the same answer on any machine, unless a limit of time or the user ends it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from shopsim.study.intervals import Interval, share_interval

#: The most levers in a set.
MAX_LEVERS = 3
#: Replications of a first look at a set, and of a set that may reach, on the luck of the search.
LOOK, SEARCH = 100, 400
#: Fresh replications that tell a chance of 80 % to within 2 in a hundred, and where the interval holds the asked chance.
CONFIRM, CONFIRM_MORE = 1537, 6148
#: How sure the bound is by which a set is left out, and the interval that is shown.
LEFT_OUT, SHOWN = 0.98, 0.9
#: Sets that are run together.
BLOCK = 12
#: Of all sets that may be run, the share that pairs may take where triples come after.
PAIRS = 2 / 3
REACHES, ABOUT, SHORT = "reaches", "about there", "falls short"

LeverSet = tuple[int, ...]
#: (sets, first replication, replications, fresh luck) -> days of each set, int64, shape (replications,); None: it cannot be run.
RunSets = Callable[[Sequence[LeverSet], int, int, bool], Mapping[LeverSet, np.ndarray | None]]


@dataclass(frozen=True)
class LeverSize:
    """What tells how levers stand to one another: of one ``group`` at most one is in a set.

    ``size``: how much of it, where more of it holds less of it (``ordered``); else it holds only itself.
    """

    group: str
    size: int
    ordered: bool


@dataclass(frozen=True)
class ConfirmedSet:
    """A set on fresh luck: ``chance`` with its interval, ``days`` of the replications it rests on, ``stands``: one of REACHES, ABOUT, SHORT."""

    levers: LeverSet
    chance: Interval
    days: np.ndarray
    stands: str


@dataclass
class SetSearch:
    """What a search came to: ``reached`` (none contained in another) and ``about``; ``nearest`` where none reaches.

    ``n_run``: sets that were run; ``n_bound``: of these, left out by their own bound; ``n_held``: not run or not confirmed as they hold one that
    reaches; ``n_left``: not run as the limit was met; ``n_failed``: fell short on fresh luck; ``n_impossible``: cannot be done
    together; ``stopped``: ended by the user or by time.
    """

    today: ConfirmedSet
    reached: list[ConfirmedSet] = field(default_factory=list)
    about: list[ConfirmedSet] = field(default_factory=list)
    nearest: ConfirmedSet | None = None
    n_run: int = 0
    n_bound: int = 0
    n_held: int = 0
    n_left: int = 0
    n_failed: int = 0
    n_impossible: int = 0
    stopped: bool = False


def holds_set(large: LeverSet, small: LeverSet, levers: Sequence[LeverSize]) -> bool:
    """Whether each lever of ``small`` stands in ``large`` at that size or more."""
    return all(any(_holds(levers[one], levers[other], one == other) for one in large) for other in small)


def _holds(one: LeverSize, other: LeverSize, same: bool) -> bool:
    return same or (one.ordered and one.group == other.group and one.size >= other.size)


def find_sets(
    levers: Sequence[LeverSize],
    run: RunSets,
    by_day: int,
    chance: float,
    most_sets: int,
    should_stop: Callable[[], bool] = lambda: False,
) -> SetSearch:
    """Search the smallest sets of levers with which a run is done by ``by_day`` with a chance of ``chance``.

    ``run``: see ``RunSets``; the empty set is today. ``most_sets``: sets that are run on the luck of the search at most.
    Nothing is searched where today reaches it. What is confirmed when it is stopped is the answer, marked as stopped.
    """
    search = _Search(levers, run, by_day, chance, most_sets, should_stop)
    today = search.confirm(())
    assert today is not None
    found = search.found = SetSearch(today)
    if today.stands == REACHES:
        return found
    search.look([()])
    for size in range(1, min(MAX_LEVERS, len(levers)) + 1):
        search.go_through(size)
        if found.stopped:
            break
    if not found.reached:
        found.nearest = search.confirm_nearest()
    return found


class _Search:
    def __init__(
        self,
        levers: Sequence[LeverSize],
        run: RunSets,
        by_day: int,
        chance: float,
        most_sets: int,
        should_stop: Callable[[], bool],
    ) -> None:
        self.levers, self.run, self.by_day, self.chance = levers, run, by_day, chance
        self.most_sets, self.should_stop = most_sets, should_stop
        self.days: dict[LeverSet, np.ndarray] = {}
        self.found: SetSearch

    def go_through(self, size: int) -> None:
        """Run all sets of so many levers that are worth it, the most promising first, then confirm what is left, the smallest first."""
        found = self.found
        sets = [one for one in itertools.combinations(range(len(self.levers)), size) if self._is_set(one)]
        worth = [one for one in sets if not self._holds_reached(one)]
        found.n_held += len(sets) - len(worth)
        worth.sort(key=lambda one: (self._promise(one), one))
        budget = self.most_sets - found.n_run
        if size == 2 and len(self.levers) > 2:
            budget = math.ceil(budget * PAIRS)
        found.n_left += max(0, len(worth) - budget)
        left: list[LeverSet] = []
        chosen = worth[: max(0, budget)]
        for start in range(0, len(chosen), BLOCK):
            if self.should_stop():
                found.stopped = True
                found.n_left += len(chosen) - start
                break
            left += self.look(chosen[start : start + BLOCK])
        for one in sorted(left, key=lambda one: (sum(self.levers[n].size for n in one), self._promise(one), one)):
            if found.stopped or self.should_stop():
                found.stopped = True
                break
            self._settle(one)

    def look(self, sets: Sequence[LeverSet]) -> list[LeverSet]:
        """Run sets on the luck of the search; those that may reach come back."""
        left: list[LeverSet] = list(sets)
        for first, last in ((0, LOOK), (LOOK, SEARCH)):
            if not left:
                break
            for one, days in self.run(left, first, last - first, False).items():
                if days is None:
                    self.found.n_impossible += 1
                else:
                    self.days[one] = np.concatenate((self.days.get(one, days[:0]), days))
            left = [one for one in left if one in self.days]
            kept = [one for one in left if self._may_reach(one)]
            self.found.n_bound += len(left) - len(kept)
            left = kept
        self.found.n_run += len(sets)
        return left

    def confirm(self, levers: LeverSet) -> ConfirmedSet | None:
        """A set on fresh luck, on more of it where the interval holds the asked chance; None where it cannot be run."""
        days = np.zeros(0, dtype=np.int64)
        for last in (CONFIRM, CONFIRM_MORE):
            more = self.run([levers], days.size, last - days.size, True)[levers]
            if more is None:
                return None
            days = np.concatenate((days, more))
            chance = share_interval(int((days <= self.by_day).sum()), days.size, SHOWN)
            if not chance.low < self.chance <= chance.high:
                break
        stands = REACHES if chance.low >= self.chance else SHORT if chance.high < self.chance else ABOUT
        return ConfirmedSet(levers, chance, days, stands)

    def confirm_nearest(self) -> ConfirmedSet | None:
        """Of all sets that were run, the one with the best chance on the luck of the search, then with the soonest day."""
        ran = [one for one, days in self.days.items() if days.size]
        best = min(ran, key=lambda one: (-self._share(one), self._late(one), len(one), one), default=())
        return self.confirm(best) if best else self.found.today

    def _settle(self, one: LeverSet) -> None:
        found = self.found
        if self._holds_reached(one):
            found.n_held += 1
            return
        confirmed = self.confirm(one)
        if confirmed is None or confirmed.stands == SHORT:
            found.n_failed += 1
        elif confirmed.stands == REACHES:
            found.reached.append(confirmed)
            found.about = [other for other in found.about if not holds_set(other.levers, one, self.levers)]
        else:
            found.about.append(confirmed)

    def _is_set(self, one: LeverSet) -> bool:
        groups = [self.levers[n].group for n in one]
        return len(set(groups)) == len(groups)

    def _holds_reached(self, one: LeverSet) -> bool:
        return any(holds_set(one, other.levers, self.levers) for other in self.found.reached)

    def _may_reach(self, one: LeverSet) -> bool:
        days = self.days[one]
        return share_interval(int((days <= self.by_day).sum()), days.size, LEFT_OUT).high >= self.chance

    def _share(self, one: LeverSet) -> float:
        return float((self.days[one][:LOOK] <= self.by_day).mean())

    def _late(self, one: LeverSet) -> float:
        """The mean day of the first look: sets and today on the same luck."""
        return float(self.days[one][:LOOK].mean())

    def _promise(self, one: LeverSet) -> float:
        """The day that a set would come to if its levers, or those pairs of them that were run, saved together what they save apart."""
        today = self._late(())
        saved = sum(today - self._late((n,)) for n in one if (n,) in self.days)
        pairs = [pair for pair in itertools.combinations(one, 2) if len(one) > 2 and pair in self.days]
        best = max((today - self._late(pair) for pair in pairs), default=0.0)
        return today - max(saved, best)
