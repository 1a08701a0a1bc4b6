"""The laws of a record: a sound run obeys them, and each kind of breach is noticed."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from shopsim import Scenario, parse_scenario, run_once
from shopsim.engine import record_laws
from shopsim.engine.history import History
from shopsim.engine.record import RunRecord
from shopsim.study.once import RunResult

SHOP = """
[shop]
open = { mon-fri = "08:00-12:00, 13:00-17:00" }
interrupted = "5 / 10 / 20 %"
lost_days = "5 %"
[[shop.workers]]
name = "maker"
[[shop.workers]]
name = "helper"
open = { wed = "09:00-11:00" }
can = ["sand", "hang"]
[[shop.stations]]
name = "saw"
[[shop.stations]]
name = "bench"
count = 2
[[shop.racks]]
name = "rack"
spots = 2
[[shop.clamps]]
name = "short"
reach = "12 in"
count = 3
[[shop.clamps]]
name = "long"
reach = "36 in"
count = 3
[design]
name = "wall cabinet"
operations = [
  { name = "cut", station = "saw", setup = "10 min", work = "10 / 20 / 40 min", dusty = true },
  { name = "glue", station = "bench", setup = "5 min", work = "10 / 15 / 25 min", clamps = [{ count = 2, reach = "10 in" }, { count = 1, reach = "30 in" }], in_clamps = "2 h", unclamp = "4 min", cure = "12 h" },
  { name = "sand", station = "bench", work = "20 / 30 / 50 min", dusty = true },
  { name = "hang", hands = 2, work = "30 / 45 / 80 min" },
  { name = "oil", work = "10 min", wet = "1 h", cure = "24 h", rest = "rack" },
]
[run]
orders = 4
batch = 2
pieces_open = 2
start = 2027-01-11
[[materials]]
name = "boards"
lead = "2 d"
needed_by = ["cut"]
"""


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    return parse_scenario(SHOP)


@pytest.fixture(scope="module")
def run(scenario: Scenario) -> RunResult:
    return run_once(scenario, seed=4)


@pytest.mark.parametrize("replication", range(8))
def test_real_runs_obey_every_law(scenario: Scenario, replication: int) -> None:
    assert run_once(scenario, seed=11, replication=replication).check() == []


def moved(run: RunResult, column: str, task: int, by: float) -> RunRecord:
    values = np.array(getattr(run.record, column), copy=True)
    values[task] += by
    return replace(run.record, **{column: values})


def task_of(run: RunResult, operation: str, number: int = 0) -> int:
    return int(np.flatnonzero(run.tasks["operation"].to_numpy() == operation)[number])


def breach(run: RunResult, record: RunRecord, law: Callable[[History], object]) -> list[str]:
    return list(law(History(run.plan, record, run.draws)))  # type: ignore[call-overload,no-any-return]


def test_a_task_that_starts_before_what_it_comes_after_is_noticed(run: RunResult) -> None:
    record = moved(run, "ready", task_of(run, "glue"), -1.0)
    assert "ready at" in breach(run, record, record_laws.law_order_is_kept)[0]


def test_a_start_before_the_material_is_here_is_noticed(run: RunResult) -> None:
    first = task_of(run, "cut")
    record = moved(run, "start", first, -run.record.start[first])
    assert any("material" in text for text in breach(run, record, record_laws.law_order_is_kept))


def test_a_cure_or_a_hold_cut_short_is_noticed(run: RunResult) -> None:
    glue = task_of(run, "glue")
    assert any("cured" in text for text in breach(run, moved(run, "done", glue, -1.0), record_laws.law_times_are_kept))
    early = moved(run, "clamps_off", glue, -200.0)
    assert any("clamps" in text for text in breach(run, early, record_laws.law_times_are_kept))


def test_work_that_takes_other_than_its_minutes_is_noticed(run: RunResult) -> None:
    record = moved(run, "end", task_of(run, "cut"), -3.0)
    assert any("worked on for" in text for text in breach(run, record, record_laws.law_times_are_kept))


def test_a_start_outside_somebodys_hours_is_noticed(run: RunResult) -> None:
    task = task_of(run, "hang")
    record = moved(run, "start", task, 1440.0 - run.record.start[task] % 1440.0)
    assert any("not at work" in text for text in breach(run, record, record_laws.law_times_are_kept))


def test_more_clamps_than_owned_are_noticed(run: RunResult) -> None:
    clamps = run.record.clamps.copy()
    clamps[task_of(run, "glue")] = [5, 0]
    short = breach(run, replace(run.record, clamps=clamps), record_laws.law_nothing_is_over_held)
    assert any(text.startswith("short is short by ") for text in short)


def test_a_clamp_that_does_not_reach_is_noticed(run: RunResult) -> None:
    clamps = run.record.clamps.copy()
    clamps[task_of(run, "glue")] = [3, 0]
    assert breach(run, replace(run.record, clamps=clamps), record_laws.law_needs_are_met)


def test_a_worker_who_cannot_is_noticed(run: RunResult) -> None:
    workers = run.record.workers.copy()
    workers[task_of(run, "cut")] = 2
    assert breach(run, replace(run.record, workers=workers), record_laws.law_needs_are_met)


def test_two_things_at_once_are_noticed(run: RunResult) -> None:
    first, second = task_of(run, "cut", 0), task_of(run, "cut", 1)
    record = moved(run, "start", second, run.record.start[first] - run.record.start[second])
    texts = breach(run, record, record_laws.law_nothing_is_over_held)
    assert any("two things at once" in text for text in texts)
    assert any("station unit" in text for text in texts)


def test_a_set_up_not_paid_is_noticed(run: RunResult) -> None:
    task = int(np.flatnonzero(run.record.setup_min > 0)[0])
    assert breach(run, moved(run, "setup_min", task, -run.record.setup_min[task]), record_laws.law_set_up_is_paid)


def test_dust_beside_wet_finish_is_noticed(run: RunResult) -> None:
    oil, sand = task_of(run, "oil"), task_of(run, "sand", 3)
    record = moved(run, "start", sand, run.record.start[oil] + 1 - run.record.start[sand])
    assert breach(run, record, record_laws.law_air_is_clean)


@pytest.mark.parametrize("begins", [-5.0, 0.0, 5.0])
@pytest.mark.parametrize(
    ("coat", "coated"), [(0, "batch 1, piece 1"), (1, "batch 1, piece 2"), (2, "batch 2, piece 3")]
)
def test_of_several_wet_finishes_only_the_one_that_dust_flies_beside_is_named(
    run: RunResult, coat: int, coated: str, begins: float
) -> None:
    # sanding begins a little before the coat, with it, or while it is wet, when those before have long dried
    oil, sand = task_of(run, "oil", coat), task_of(run, "sand", 3)
    by = run.record.start[oil] + begins - run.record.start[sand]
    until = run.record.start[oil] + begins + 20.0 - run.record.end[sand]
    record = replace(moved(run, "start", sand, by), end=moved(run, "end", sand, until).end)
    assert breach(run, record, record_laws.law_air_is_clean) == [
        f"sand, batch 2, piece 4 makes dust beside oil, {coated}"
    ]


def test_a_batch_that_opens_too_early_is_noticed(run: RunResult) -> None:
    opened = run.record.batch_opened.copy()
    opened[1] = 0.0
    assert breach(run, replace(run.record, batch_opened=opened), record_laws.law_batches_wait_their_turn)


def test_a_task_that_waits_for_nothing_is_noticed(run: RunResult) -> None:
    # Everything the last oil coat needs is there an hour before it starts: somebody stood idle.
    oil = int(np.argmax(np.where(run.tasks["operation"] == "oil", run.record.start, -1.0)))
    record = moved(run, "ready", oil, 0.0)
    later = moved(run, "start", oil, 30.0)
    shifted = replace(later, end=moved(run, "end", oil, 30.0).end, ready=record.ready)
    texts = breach(run, shifted, record_laws.law_time_is_accounted_for)
    assert any("for no reason" in text for text in texts)


def test_an_unfinished_task_is_noticed(run: RunResult) -> None:
    done = run.record.done.copy()
    done[3] = np.nan
    assert any(
        "has no done" in t for t in breach(run, replace(run.record, done=done), record_laws.law_every_task_is_done_once)
    )


def test_what_is_done_in_another_order_than_it_happens_is_noticed(run: RunResult) -> None:
    record = moved(run, "end", task_of(run, "cut"), 1e5)
    assert any("done before it ends" in text for text in breach(run, record, record_laws.law_every_task_is_done_once))


def test_a_task_at_no_station_or_at_another_is_noticed(run: RunResult) -> None:
    for unit in (-1, 1):
        stations = run.record.station_unit.copy()
        stations[task_of(run, "cut")] = unit
        texts = breach(run, replace(run.record, station_unit=stations), record_laws.law_needs_are_met)
        assert texts == ["cut, batch 1, piece 1 is done at the wrong station"]


def test_a_number_of_clamps_other_than_asked_for_is_noticed(run: RunResult) -> None:
    clamps = run.record.clamps.copy()
    clamps[task_of(run, "glue")] = [2, 2]
    texts = breach(run, replace(run.record, clamps=clamps), record_laws.law_needs_are_met)
    assert texts == ["glue, batch 1, piece 1 takes 4 clamps"]


def test_a_task_done_while_still_in_clamps_is_noticed(run: RunResult) -> None:
    glue = task_of(run, "glue")
    record = moved(run, "done", glue, run.record.clamps_off[glue] - run.record.done[glue] - 1.0)
    assert any("done while still in clamps" in text for text in breach(run, record, record_laws.law_times_are_kept))


def test_clamps_taken_off_in_other_than_their_time_are_noticed(run: RunResult) -> None:
    record = moved(run, "unclamp_end", task_of(run, "glue"), 2.0)
    texts = breach(run, record, record_laws.law_times_are_kept)
    assert any("comes out of its clamps in other than 4.000 minutes of work" in text for text in texts)


def test_a_batch_that_opens_before_it_may_is_noticed(run: RunResult) -> None:
    opened = run.record.batch_opened - 1.0
    texts = breach(run, replace(run.record, batch_opened=opened), record_laws.law_batches_wait_their_turn)
    due = run.record.batch_opened[1]
    assert texts == ["batch 1 opens at -1.0 where 0.0 is due", f"batch 2 opens at {due - 1} where {due} is due"]


def test_a_batch_that_stays_shut_although_there_is_room_is_noticed(run: RunResult) -> None:
    opened = run.record.batch_opened + np.array([0.0, 1.0])
    (text,) = breach(run, replace(run.record, batch_opened=opened), record_laws.law_batches_wait_their_turn)
    assert text == f"batch 2 opens at {opened[1]} where {opened[1] - 1} is due"


def test_time_that_is_counted_twice_is_noticed(run: RunResult) -> None:
    # The last coat is put down as ready half an hour before what it comes after is done: that half hour counts twice.
    oil = int(np.argmax(np.where(run.tasks["operation"] == "oil", run.record.done, -1.0)))
    texts = breach(run, moved(run, "ready", oil, -30.0), record_laws.law_time_is_accounted_for)
    assert any(re.fullmatch(r"piece \d took [0-9.]+ minutes but [0-9.]+ are accounted for", text) for text in texts)


def test_a_task_that_would_have_fitted_as_its_station_was_set_is_noticed(write_shop: Callable[..., str]) -> None:
    # Open 8:00-10:15. Planing 8:00-9:30, an hour of it set-up, the second 9:30-10:00 as the planer is set. Put down as
    # done next day at 8:00, it waited from 9:30 (570) to closing (615) though 45 min were left and no set-up was due.
    text = write_shop(
        '{ name = "plane", station = "planer", setup = "1 h", work = "30 min", pausable = false }',
        open='{ mon-fri = "08:00-10:15" }',
        shop='stations = [{ name = "planer" }]',
        run="orders = 2",
    )
    sound = run_once(parse_scenario(text), likely=True)
    assert sound.record.start.tolist() == [480.0, 570.0]
    late = {column: moved(sound, column, 1, 1440.0 - 90.0) for column in ("start", "end", "done")}
    record = replace(sound.record, **{column: getattr(shifted, column) for column, shifted in late.items()})
    texts = breach(sound, record, record_laws.law_time_is_accounted_for)
    assert "plane, batch 1, piece 2 waits from 570.0 to 615.0 for no reason" in texts
