"""What a study leaves: for each alternative, its measures and ship days, all on the same replications."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd

from shopsim.errors import Cancelled, InputError
from shopsim.scenario.model import Scenario
from shopsim.scenario.ways import put_ways
from shopsim.study.chunks import Chunk
from shopsim.study.measures import MEASURES
from shopsim.study.order_queue import OrderQueue
from shopsim.study.saving import write_study


@dataclass(frozen=True)
class Outcome:
    """What one alternative came to. Arrays in the order of ``replications`` (int64, shape (n,)).

    ``measured``: float64, shape (n, measures), columns of MEASURES. ``order_days``: int64,
    shape (n, orders), days from the day orders close. ``clamp_peaks``: int64, shape (n, clamp kinds).
    """

    scenario: Scenario
    scenario_hash: str
    replications: np.ndarray
    measured: np.ndarray
    order_days: np.ndarray
    clamp_peaks: np.ndarray

    @classmethod
    def of(cls, scenario: Scenario, scenario_hash: str, chunks: Sequence[Chunk]) -> Outcome:
        """The chunks of one alternative put together."""
        n_kinds = len(put_ways(scenario).shop.clamps)
        chunks = [chunk for chunk in chunks if chunk.replications.size]
        if not chunks:
            none = np.zeros(0, dtype=np.int64)
            n_orders = len(OrderQueue(scenario).orders)
            return cls(
                scenario, scenario_hash, none, np.zeros((0, len(MEASURES))), none.reshape(0, n_orders),
                none.reshape(0, n_kinds),
            )  # fmt: skip
        whole = Chunk.join(chunks)
        outcome = cls(
            scenario, scenario_hash, whole.replications, whole.rows, whole.order_days, whole.clamp_peaks
        )  # fmt: skip
        if (np.diff(whole.replications) > 0).all():
            return outcome
        return outcome.take(np.argsort(whole.replications, kind="stable"))

    def only(self, replications: np.ndarray) -> Outcome:
        """What these of its replications came to; nothing is copied where it has no others."""
        keep = np.isin(self.replications, replications)
        return self if keep.all() else self.take(keep)

    def take(self, which: np.ndarray) -> Outcome:
        """The rows that ``which`` picks: bool or int64, as an index of its arrays."""
        return replace(
            self,
            replications=self.replications[which],
            measured=self.measured[which],
            order_days=self.order_days[which],
            clamp_peaks=self.clamp_peaks[which],
        )

    def add(self, more: Outcome) -> Outcome:
        """This outcome with further replications of it, all in rising order; none may be in both."""
        numbers = np.concatenate((self.replications, more.replications))
        order = np.argsort(numbers, kind="stable")
        return replace(
            self,
            replications=numbers[order],
            measured=np.concatenate((self.measured, more.measured))[order],
            order_days=np.concatenate((self.order_days, more.order_days))[order],
            clamp_peaks=np.concatenate((self.clamp_peaks, more.clamp_peaks))[order],
        )

    @cached_property
    def queue(self) -> OrderQueue:
        """Its orders and the day they close."""
        return OrderQueue(self.scenario)


@dataclass(frozen=True)
class Study:
    """Alternatives run on the same luck: element r of every array is the same replication.

    ``outcomes``: name of each alternative -> what it came to, for the replications that all
    alternatives finished; after a search for the best, those that were dropped on the way have
    fewer than the rest. ``wanted``: how many were asked for; ``complete`` is False when
    fewer were finished because the user stopped. ``seed``, ``version``: what they were made with;
    ``first``: number of the first replication; ``own_rule``: under a priority rule of the user's own;
    ``sobol_block``: see ``run_study``.
    """

    outcomes: Mapping[str, Outcome]
    seed: int
    wanted: int
    version: str
    first: int = 0
    own_rule: bool = False
    sobol_block: int = 0

    @classmethod
    def of(
        cls,
        outcomes: Mapping[str, Outcome],
        *,
        seed: int,
        wanted: int,
        version: str,
        first: int = 0,
        own_rule: bool = False,
        sobol_block: int = 0,
    ) -> Study:
        """A study of the replications that every alternative has finished."""
        shared: np.ndarray | None = None
        for outcome in outcomes.values():
            shared = outcome.replications if shared is None else np.intersect1d(shared, outcome.replications, True)
        assert shared is not None
        kept = {name: outcome.only(shared) for name, outcome in outcomes.items()}
        return cls(kept, seed, wanted, version, first, own_rule, sobol_block)

    @property
    def names(self) -> tuple[str, ...]:
        """The alternatives, in the order given."""
        return tuple(self.outcomes)

    @property
    def replications(self) -> int:
        """How many replications every alternative has finished."""
        return min(outcome.replications.size for outcome in self.outcomes.values())

    @property
    def complete(self) -> bool:
        """Whether all that was asked for was finished."""
        return self.replications == self.wanted

    @property
    def order_days(self) -> dict[str, np.ndarray]:
        """For each alternative the ship days of its orders, int64, shape (replications, orders)."""
        return {name: outcome.order_days for name, outcome in self.outcomes.items()}

    @property
    def clamp_peaks(self) -> dict[str, np.ndarray]:
        """For each alternative the most clamps of each kind in use at once, int64, shape (replications, kinds)."""
        return {name: outcome.clamp_peaks for name, outcome in self.outcomes.items()}

    @property
    def scenario_hash(self) -> dict[str, str]:
        """For each alternative the SHA-256 of its scenario."""
        return {name: outcome.scenario_hash for name, outcome in self.outcomes.items()}

    @property
    def title(self) -> str:
        """The title of the first alternative's scenario."""
        return next(iter(self.outcomes.values())).scenario.title

    @cached_property
    def rows(self) -> pd.DataFrame:
        """One row for each alternative and replication: ``alternative``, ``replication``, then MEASURES."""
        tables = []
        for name, outcome in self.outcomes.items():
            table = pd.DataFrame(outcome.measured, columns=list(MEASURES))
            table.insert(0, "replication", outcome.replications)
            table.insert(0, "alternative", pd.Series([name] * outcome.replications.size, dtype="str"))
            tables.append(table)
        return pd.concat(tables, ignore_index=True)

    def values(self, name: str, measure: str) -> np.ndarray:
        """One measure of one alternative, float64, shape (replications,)."""
        return np.asarray(self.outcomes[name].measured[:, MEASURES.index(measure)])

    def head(self, replications: int) -> Study:
        """The first so many of its replications."""
        return self.only(next(iter(self.outcomes.values())).replications[:replications])

    def only(self, replications: np.ndarray) -> Study:
        """The study of these of its replications, as if no others had been asked for; int64, shape (n,)."""
        kept = {name: outcome.only(replications) for name, outcome in self.outcomes.items()}
        first = int(replications[0]) if replications.size else self.first
        return replace(self, outcomes=kept, wanted=min(int(replications.size), self.wanted), first=first)

    def pick(self, names: Iterable[str]) -> Study:
        """Only these alternatives, in this order."""
        return replace(self, outcomes={name: self.outcomes[name] for name in names})

    def extend(self, later: Study) -> Study:
        """This study with the replications of a later one of these alternatives added; InputError if any is in both."""
        self._check_same_luck(later)
        longer = {}
        for name, outcome in self.outcomes.items():
            more = later.outcomes[name]
            if np.intersect1d(outcome.replications, more.replications).size or more.scenario_hash != (
                outcome.scenario_hash
            ):
                raise InputError(f'"{name}" is not the same, or its replications overlap · extend by others')
            longer[name] = outcome.add(more)
        return replace(self, outcomes=longer, wanted=self.wanted + later.wanted)

    def save(self, path: str | Path) -> None:
        """Write the study to one file that ``open_study`` opens again, whole or not at all.

        Raises InputError, an old file then kept, where it cannot be written or a scenario follows a
        law of the user's own, which no file can hold.
        """
        write_study(self, path)

    def _check_same_luck(self, other: Study) -> None:
        if self.own_rule != other.own_rule:
            raise InputError("one of the studies is under a priority rule of your own · run both under the same one")
        if self.sobol_block != other.sobol_block:
            raise InputError(
                f"studies in even blocks of {self.sobol_block} and {other.sobol_block} are not on the same luck "
                "· run both with one sobol_block"
            )
        if self.seed != other.seed or self.version != other.version:
            raise InputError(
                f"studies of seed {self.seed} and {other.seed} (versions {self.version} and {other.version}) "
                "are not on the same luck · run both with one seed and version"
            )

    def join(self, other: Study) -> Study:
        """Both studies' alternatives on the replications they share; a name in both is taken from this one.

        Raises InputError if they were not run on the same luck.
        """
        self._check_same_luck(other)
        both = {**other.outcomes, **self.outcomes}
        names = [*self.outcomes, *(name for name in other.outcomes if name not in self.outcomes)]
        return Study.of(
            {name: both[name] for name in names},
            seed=self.seed,
            wanted=min(self.wanted, other.wanted),
            version=self.version,
            first=self.first,
            own_rule=self.own_rule,
            sobol_block=self.sobol_block,
        )


def need_replications(study: Study, least: int = 2) -> None:
    """Cancelled if a study that was stopped has too few replications to say anything."""
    if study.replications < least and not study.complete:
        raise Cancelled(f"stopped after {study.replications} of {study.wanted} replications, too few to say anything")
