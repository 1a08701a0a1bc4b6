"""What has been worked out, kept for as long as there is room, under names made of all that it depends on.

A name holds the hash of a whole scenario, orders and all. So a session finds here only what follows from what
it says itself; there is no way to ask what else is there.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from typing import Any

import pandas as pd

from shopsim.answers.answer import Answer
from shopsim.answers.learning import Lesson
from shopsim.answers.one_run import RunTables
from shopsim.study.accounts import Accounts
from shopsim.study.results import Outcome, Study

#: Bytes that all results together may take, about; and what anything takes beside its arrays.
MAX_BYTES, MIN_BYTES = 300_000_000, 20_000


class Store:
    """Results by name, the ones used longest ago let go first. Safe to use from several threads."""

    def __init__(self, most_bytes: int = MAX_BYTES) -> None:
        self.most_bytes = most_bytes
        self._lock = threading.Lock()
        self._held: OrderedDict[str, tuple[Any, int]] = OrderedDict()
        self._bytes = 0

    def get(self, name: str) -> Any:
        """What is held under a name, or None."""
        with self._lock:
            if name not in self._held:
                return None
            self._held.move_to_end(name)
            return self._held[name][0]

    def put(self, name: str, value: Any) -> None:
        """Hold a value, in place of what was there; one that is larger than all the room is not held."""
        size = measure_bytes(value)
        with self._lock:
            if name in self._held:
                self._bytes -= self._held.pop(name)[1]
            if size > self.most_bytes:
                return
            self._held[name] = (value, size)
            self._bytes += size
            while self._bytes > self.most_bytes:
                self._bytes -= self._held.popitem(last=False)[1][1]

    def __len__(self) -> int:
        return len(self._held)


def name_result(kind: str, *parts: object) -> str:
    """A name for a result: SHA-256 over its kind and all that it depends on."""
    return hashlib.sha256("\x1f".join([kind, *(str(part) for part in parts)]).encode()).hexdigest()


def measure_bytes(value: Any) -> int:
    """About how many bytes a result takes: its arrays and tables, and a sum for the rest."""
    size = MIN_BYTES
    if isinstance(value, Outcome):
        size += value.measured.nbytes + value.order_days.nbytes + value.clamp_peaks.nbytes + value.replications.nbytes
    elif isinstance(value, Study):
        size += sum(measure_bytes(outcome) for outcome in value.outcomes.values())
    elif isinstance(value, Answer):
        size += sum(measure_bytes(table) for table in (value.rows, *value.tables.values()))
        size += 0 if value.study is None else measure_bytes(value.study)
    elif isinstance(value, Lesson):
        size += measure_bytes(value.answer)
    elif isinstance(value, RunTables):
        size += sum(measure_bytes(table) for table in (*value.tables.values(), value.spans, value.closed))
    elif isinstance(value, Accounts):
        size += sum(measure_bytes(table) for table in vars(value).values() if isinstance(table, pd.DataFrame))
    elif isinstance(value, pd.DataFrame):
        size += int(value.memory_usage(deep=True).sum())
    return size
