"""What a maker may wish for, and which alternatives may be the best for it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import CONFIDENCE, SAVED, common_values, compare, paired_mean, put_interval
from shopsim.study.choosing import find_survivors
from shopsim.study.intervals import Interval
from shopsim.study.results import Study
from shopsim.study.searching import Search

#: The wishes: the measure that is to be small, and how the wish is said.
WISHES = (
    ("first_ship_day", "The first {piece} is out soonest with"),
    ("average_ship_day", "The average {piece} is out soonest with"),
    ("last_ship_day", "All {pieces} are out soonest with"),
    ("hands_on_h_a_piece", "The fewest hours a piece are spent with"),
)


@dataclass(frozen=True)
class Best:
    """Which alternatives may be the best by a measure, the best by mean first; the next best; on how many
    replications; whether a search was made, and the smallest difference that mattered to it; whether all, or all that may be
    the best, came to the same in every run."""

    measure: str
    survivors: tuple[str, ...]
    second: str
    replications: int
    all_same: bool
    searched: bool
    matters: float = 0.0
    survivors_same: bool = False


def find_best(study: Study, runnable: Sequence[str], measure: str, search: Search | None) -> Best:
    """The best of the alternatives by a measure: by a search if there was one, else by all replications."""
    if not runnable:
        return Best(measure, (), "", study.replications, True, search is not None)
    means = {name: paired_mean(study, name, measure, runnable[0]) for name in runnable}
    values = common_values(study, runnable, measure)
    ordered = sorted(runnable, key=lambda name: means[name])
    if search is None:
        keep = dict(zip(runnable, find_survivors(values, CONFIDENCE).tolist(), strict=True))
        survivors = tuple(name for name in ordered if keep[name])
        replications = study.replications
    else:
        survivors = tuple(name for name in search.survivors(measure) if name in means)
        replications = search.choices[measure].replications
    second = next((name for name in ordered if name not in survivors[:1]), "")
    return Best(
        measure, survivors, second, replications, _are_same(values), search is not None,
        0.0 if search is None else search.deltas[measure], _are_same(values[:, [runnable.index(name) for name in survivors]]),
    )  # fmt: skip


def _are_same(values: np.ndarray) -> bool:
    """Whether the alternatives, a column each, came to the same in every replication."""
    return bool(np.all(values == values[:, :1]))


def lead_of_best(study: Study, best: Best, rivals: int) -> Interval | None:
    """By how much the best is better than the next best, of ``rivals`` comparisons read together; None where several may be best."""
    if len(best.survivors) != 1 or not best.second:
        return None
    return compare(study, best.second, best.survivors[0], best.measure, rivals)


def list_best(
    found: Mapping[str, Best], leads: Mapping[str, Interval | None], say: Callable[[str], str]
) -> pd.DataFrame:
    """A row a wish: ``measure``, ``best`` (all that may be), ``over`` (the next best), by how much, ``matters``, ``replications``.

    By how much stands in the column of the measure (``SAVED``), with its interval. ``matters``: the difference that mattered
    to a search, in days or hours; nan where none was made. ``say``: how an alternative is said.
    """
    rows = []
    for measure, best in found.items():
        row: dict[str, Any] = {"measure": measure, "best": "; ".join(say(name) for name in best.survivors), "over": ""}
        for own, saved in SAVED.items():
            if own in found:
                lead = leads[measure] if own == measure else None
                put_interval(row, saved, lead or Interval(math.nan, math.nan, math.nan, CONFIDENCE))
        if leads[measure] is not None:
            row["over"] = say(best.second)
        row["matters"] = best.matters if best.searched else math.nan
        row["replications"] = best.replications
        rows.append(row)
    return pd.DataFrame(rows)
