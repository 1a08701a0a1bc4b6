"""How the time of every worker, station, clamp kind and rack was spent in one run."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd

from shopsim.engine.history import Stretch
from shopsim.study.once import RunResult
from shopsim.units import MINUTES_PER_HOUR

#: Columns of the table and what they hold.
USE_COLUMNS = {
    "kind": "str", "name": "str", "state": "str", "hours": "float64", "share": "float64", "open_hours": "float64",
    "open_share": "float64",
}  # fmt: skip
WORKING, SET_UP, UNCLAMPING, IDLE, AWAY = "working", "set-up", "taking clamps off", "idle", "away"
#: Minutes below which a difference of sums is rounding.
ROUNDING_MIN = 1e-6
HELD, HALF_DONE, CLOSED = "held while curing", "held half done", "closed"


class _Clock:
    """Minutes of certain hours that lie in spans."""

    def __init__(self, open_spans: Sequence[tuple[float, float, float]]) -> None:
        edges = [edge for start, end, _ in open_spans for edge in (start, end)]
        self.edges = np.array(edges or [0.0, 0.0])
        lengths = np.array([end - start for start, end, _ in open_spans] or [0.0])
        self.passed = np.zeros(self.edges.size)
        self.passed[1::2] = np.cumsum(lengths)
        self.passed[2::2] = self.passed[1:-1:2]
        self.total = float(lengths.sum())

    def within(self, since: np.ndarray, until: np.ndarray, weight: np.ndarray) -> float:
        """Minutes of the spans that lie in these hours, each span counting ``weight``."""
        return float((np.interp(until, self.edges, self.passed) - np.interp(since, self.edges, self.passed)) @ weight)


class _Spans:
    """Spans with weights, as arrays."""

    def __init__(self) -> None:
        self.since: list[float] = []
        self.until: list[float] = []
        self.weight: list[float] = []

    def add(self, spans: Iterable[Stretch], weight: float) -> None:
        for since, until, _ in spans:
            self.since.append(since)
            self.until.append(until)
            self.weight.append(weight)

    def minutes(self, clock: _Clock | None = None) -> float:
        """Their minutes, or those within the hours of a clock."""
        since, until, weight = (np.array(values) for values in (self.since, self.until, self.weight))
        if not since.size:
            return 0.0
        return float((until - since) @ weight) if clock is None else clock.within(since, until, weight)


def measure_use(run: RunResult) -> pd.DataFrame:
    """Hours of each worker, station, clamp kind and rack by state, from the first day until the last piece is done.

    Columns ``kind`` ("worker", "station", "clamp", "rack"), ``name``, ``state``, ``hours`` and ``share`` (of the
    thing's time, 0..1), ``open_hours`` and ``open_share`` (the same of the hours that the shop was open);
    things and states in a fixed order, all states of a thing present and adding up to the
    whole. Two stations of one name, or ten clamps of a kind, have the hours of each.

    Worker: "working", "set-up", "taking clamps off", "idle" (at work with nothing in hand), "away" (not at
    work). Of a task that begins with set-up, its share of the clock time is that of its
    minutes. Other things: "working" (hands-on work goes on with it, or work that needs nobody),
    "held while curing" (kept while in clamps, curing or drying, until somebody has taken the
    clamps off), "idle" (free while the shop is open), "closed" (free while it is closed, or kept by
    work left half done until it opens), and "held half done" where half-done work kept it while
    the shop was open, a row of its own only where that happened.
    """
    rows = [*_worker_rows(run), *_thing_rows(run)]
    return pd.DataFrame(rows, columns=list(USE_COLUMNS)).astype(USE_COLUMNS)


Row = tuple[str, str, str, float, float, float, float]


def _share_out(kind: str, name: str, minutes: dict[str, tuple[float, float]]) -> list[Row]:
    """Rows of one thing from (all minutes, those while the shop was open) of each state."""
    whole = sum(part for part, _ in minutes.values()) or 1.0
    whole_open = sum(part for _, part in minutes.values()) or 1.0
    return [
        (kind, name, state, part / MINUTES_PER_HOUR, part / whole, opened / MINUTES_PER_HOUR, opened / whole_open)
        for state, (part, opened) in minutes.items()
    ]


def _worker_rows(run: RunResult) -> list[Row]:
    history, work, record = run.history, run.plan.worklist, run.record
    last = float(record.done.max(initial=0.0))
    drawn = record.setup_min + record.work_min
    setup_share = np.divide(record.setup_min, drawn, out=np.zeros_like(drawn), where=drawn > 0)
    n_workers = len(work.worker_names)
    hands = [_Spans() for _ in range(n_workers)]
    setting = [_Spans() for _ in range(n_workers)]
    unclamping = [_Spans() for _ in range(n_workers)]
    for task in range(work.n_tasks):
        for worker in range(n_workers):
            spans = [stretch for stretch in history.hands_on(task) if stretch[2] >> worker & 1]
            hands[worker].add(spans, 1.0)
            setting[worker].add(spans, float(setup_share[task]))
            unclamping[worker].add((stretch for stretch in history.unclamping(task) if stretch[2] >> worker & 1), 1.0)
    shop = _Clock(history.shop_hours.pieces(0.0, last))
    rows = []
    for worker, name in enumerate(work.worker_names):
        hours = history.hours[run.plan.worker_calendar[worker]].pieces(0.0, last)
        own = _Clock(hours)
        there = sum(end - start for start, end, _ in hours)
        spent = {
            WORKING: (hands[worker].minutes() - setting[worker].minutes(),
                      hands[worker].minutes(shop) - setting[worker].minutes(shop)),
            SET_UP: (setting[worker].minutes(), setting[worker].minutes(shop)),
            UNCLAMPING: (unclamping[worker].minutes(), unclamping[worker].minutes(shop)),
        }  # fmt: skip
        idle = max(0.0, there - hands[worker].minutes(own) - unclamping[worker].minutes(own))
        spent[IDLE] = (idle, idle)
        spent[AWAY] = (
            max(0.0, last - sum(part for part, _ in spent.values())),
            max(0.0, shop.total - sum(part for _, part in spent.values())),
        )
        rows += _share_out("worker", name, spent)
    return rows


def _thing_rows(run: RunResult) -> list[Row]:
    history, work, record = run.history, run.plan.worklist, run.record
    last = float(record.done.max(initial=0.0))
    clock = _Clock(history.shop_hours.pieces(0.0, last))
    station_of = {unit: s for s, units in enumerate(work.station_units) for unit in units}
    things = {
        "station": (work.station_names, [len(units) for units in work.station_units]),
        "clamp": (work.clamp_names, list(work.clamp_counts)),
        "rack": (work.rack_names, list(work.rack_spots)),
    }
    touched = {kind: [_Spans() for _ in names] for kind, (names, _) in things.items()}
    begun = {kind: [_Spans() for _ in names] for kind, (names, _) in things.items()}
    held = {kind: [_Spans() for _ in names] for kind, (names, _) in things.items()}
    for task, number in enumerate(work.task_step):
        step = work.steps[number]
        start, end = float(record.start[task]), float(record.end[task])
        uses: list[tuple[str, int, float, float]] = []
        if record.station_unit[task] >= 0:
            uses.append(
                ("station", station_of[int(record.station_unit[task])], float(history.station_until[task]), 1.0)
            )
        uses += [
            ("clamp", kind, float(record.clamps_off[task]), float(count))
            for kind, count in enumerate(record.clamps[task].tolist())
            if count
        ]
        if step.rack >= 0:
            uses.append(("rack", step.rack, float(record.done[task]), float(step.spots_a_unit * work.task_units[task])))
        if not uses:
            continue
        worked = [(start, end, 0)] if step.operation.hands == 0 else history.hands_on(task)
        unclamped = history.unclamping(task)
        for kind, which, until, weight in uses:
            touched[kind][which].add(worked, weight)
            begun[kind][which].add([(start, end, 0)], weight)
            if until > end:
                held[kind][which].add([(end, until, 0)], weight)
                off = [stretch for stretch in unclamped if stretch[1] <= until]
                held[kind][which].add(off, -weight)
                touched[kind][which].add(off, weight)
                begun[kind][which].add(off, weight)
    rows = []
    for kind, (names, counts) in things.items():
        for which, (name, count) in enumerate(zip(names, counts, strict=True)):
            working, started, kept = touched[kind][which], begun[kind][which], held[kind][which]
            half = max(0.0, started.minutes(clock) - working.minutes(clock))
            idle = max(0.0, count * clock.total - started.minutes(clock) - kept.minutes(clock))
            minutes = {
                WORKING: (working.minutes(), working.minutes(clock)),
                HELD: (kept.minutes(), kept.minutes(clock)),
                IDLE: (idle, idle),
            }
            if half > ROUNDING_MIN:
                minutes[HALF_DONE] = (half, half)
            minutes[CLOSED] = (max(0.0, count * last - sum(part for part, _ in minutes.values())), 0.0)
            rows += _share_out(kind, name, minutes)
    return rows
