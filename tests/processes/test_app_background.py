"""It holds that a job ends in one of its states, keeps what it has when it is stopped, and tells faults in words."""

from __future__ import annotations

import gc
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shopsim.answers import compare_batch_sizes, find_holdups, forecast_delivery
from shopsim.answers.batch_size import BatchSizes
from shopsim.answers.clamps_plan import MoreClamps
from shopsim.answers.delivery import delivery_question, run_question
from shopsim.answers.holdups import Holdups
from shopsim.answers.one_run import OneRun
from shopsim.answers.promise_policy import PromisePolicy
from shopsim.answers.what_moves import WhatMoves
from shopsim.app.background import Job, JobSnapshot, _Handle
from shopsim.app.question_jobs import Asked
from shopsim.app.shared_pool import SharedPool
from shopsim.app.store import Store
from shopsim.errors import Cancelled, InputError
from shopsim.scenario import Scenario, change_scenario, load_scenario
from shopsim.study import extending
from shopsim.study.runner import run_range

Work = Callable[[Job], Iterator[Any]]
SIZES = {"sizes": (1, 2), "priority_rules": None}


@pytest.fixture(scope="module")
def workers() -> Iterator[SharedPool]:
    made = SharedPool(1)
    yield made
    made.close()


@pytest.fixture
def scenario(trays: Path) -> Scenario:
    return load_scenario(trays)


@pytest.fixture
def begin(workers: SharedPool) -> Callable[..., Job]:
    """Starts a job with a store of its own, unless one is handed in."""

    def start(work: Work, store: Store | None = None) -> Job:
        job = Job("key", work, workers.open_share(), Store() if store is None else store)
        job.start()
        return job

    return start


def end_of(job: Job) -> Job:
    job.wait(60)
    assert job.state != "running"
    return job


@pytest.fixture
def little_at_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """A first look is short, as where runs are large or nothing is compiled."""
    monkeypatch.setattr("shopsim.app.question_jobs.FIRST_TASKS", 1)


def test_results_come_one_after_the_other_and_the_last_stays(begin: Callable[..., Job]) -> None:
    job = end_of(begin(lambda job: iter([1, 2, 3])))
    assert (job.state, job.result, job.looks) == ("done", 3, 3)


def test_a_job_that_is_stopped_keeps_what_it_has(begin: Callable[..., Job]) -> None:
    def work(job: Job) -> Iterator[int]:
        yield 1
        while not job.should_stop():
            time.sleep(0.01)
        raise Cancelled("stopped")

    job = begin(work)
    job.wait_for_first(10)
    job.cancel()
    end_of(job)
    assert (job.state, job.result) == ("cancelled", 1)


def test_a_page_that_was_drawn_from_an_older_result_knows_it(begin: Callable[..., Job]) -> None:
    go_on = threading.Event()

    def work(job: Job) -> Iterator[int]:
        yield 1
        go_on.wait(30)
        yield 2

    job = begin(work)
    job.wait_for_first(10)
    early = JobSnapshot.at(job)
    assert (early.state, early.result, early.is_behind) == ("running", 1, False)
    go_on.set()
    end_of(job)
    assert early.is_behind
    assert early.result == 1
    late = JobSnapshot.at(job)
    assert (late.state, late.result, late.looks, late.is_behind) == ("done", 2, 2, False)


@pytest.mark.usefixtures("little_at_first")
def test_what_moves_the_date_is_not_told_from_too_few_runs(begin: Callable[..., Job], scenario: Scenario) -> None:
    seen: list[int] = []
    asked = Asked(WhatMoves, scenario, {}, 1, 300)

    def work(job: Job) -> Iterator[Any]:
        for answer in asked.work(job):
            seen.append(answer.replications)
            yield answer

    assert end_of(begin(work)).state == "done"
    assert seen == [200, 300]


def test_a_job_whose_worker_is_killed_again_and_again_fails_in_plain_words(begin: Callable[..., Job]) -> None:
    def work(job: Job) -> Iterator[int]:
        yield 1
        job.executor.submit(eval, "__import__('os').kill(__import__('os').getpid(), 9)").result()

    job = end_of(begin(work))
    assert (job.state, job.result) == ("failed", 1)
    assert "ended from outside" in job.message
    assert "Traceback" not in job.message
    assert end_of(begin(lambda job: iter([job.executor.submit(len, "abc").result()]))).result == 3


def test_a_refusal_is_told_in_its_own_words(begin: Callable[..., Job]) -> None:
    def work(job: Job) -> Iterator[int]:
        yield 1
        raise InputError("9 clamps are too many · take fewer")

    job = end_of(begin(work))
    assert (job.state, job.message, job.result) == ("failed", "9 clamps are too many · take fewer", 1)


def test_our_own_mistakes_are_told_plainly_and_logged_whole(
    begin: Callable[..., Job], caplog: pytest.LogCaptureFixture
) -> None:
    def work(job: Job) -> Iterator[int]:
        yield 1 // 0

    job = end_of(begin(work))
    assert job.state == "failed"
    assert "ZeroDivisionError" not in job.message
    assert "server's log" in job.message
    assert "ZeroDivisionError" in caplog.text


def test_too_little_memory_is_told_with_a_mend(begin: Callable[..., Job]) -> None:
    def work(job: Job) -> Iterator[int]:
        yield 1
        raise MemoryError

    assert "Ask for fewer" in end_of(begin(work)).message


def test_a_job_stops_when_its_session_is_gone(begin: Callable[..., Job]) -> None:
    stopped = threading.Event()

    def work(job: Job) -> Iterator[int]:
        yield 1
        while not job.should_stop():
            time.sleep(0.01)
        stopped.set()

    job = begin(work)
    handle = _Handle(job)
    job.wait_for_first(10)
    del handle
    gc.collect()
    assert stopped.wait(10)


def test_the_last_answer_is_that_of_the_command_line(begin: Callable[..., Job], scenario: Scenario) -> None:
    job = end_of(begin(Asked(BatchSizes, scenario, SIZES, 3, 40).work))
    assert job.state == "done"
    same = compare_batch_sizes(scenario, (1, 2), replications=40, seed=3)
    assert job.result.sentence == same.sentence
    assert job.result.rows.equals(same.rows)


@pytest.mark.parametrize("is_short", [True, False])
def test_delivery_comes_first_after_few_runs_if_all_would_take_long_and_ends_like_the_command_line(
    begin: Callable[..., Job], scenario: Scenario, request: pytest.FixtureRequest, is_short: bool
) -> None:
    if is_short:
        request.getfixturevalue("little_at_first")
    looks: list[int] = []
    asked = Asked(run_question, scenario, {}, 1, 300)

    def work(job: Job) -> Iterator[Any]:
        for answer in asked.work(job):
            looks.append(answer.replications)
            yield answer

    job = end_of(begin(work))
    assert looks == ([12, 48, 300] if is_short else [300])
    assert job.result.sentence == forecast_delivery(scenario, replications=300).sentence


def test_a_chance_that_few_runs_cannot_tell_waits_for_enough(begin: Callable[..., Job], scenario: Scenario) -> None:
    job = begin(Asked(run_question, scenario, {"service_level": 0.995}, 1, 600).work)
    assert end_of(job).result.replications == 600
    assert job.looks >= 1
    assert PromisePolicy.of(scenario, 0.8, 0.995).service_level == 0.995


def test_holdups_and_clamps_are_those_of_the_command_line(begin: Callable[..., Job], scenario: Scenario) -> None:
    answer = end_of(begin(Asked(Holdups, scenario, {}, 1, 30).work)).result
    assert answer.sentence == find_holdups(scenario, replications=30).sentence
    clamps = end_of(begin(Asked(MoreClamps, scenario, {}, 1, 30).work)).result
    assert clamps.title == "More clamps"


def test_clamps_that_were_asked_for_stand_foremost(begin: Callable[..., Job], scenario: Scenario) -> None:
    kind = scenario.shop.clamps[0].name
    answer = end_of(begin(Asked(MoreClamps, scenario, {"asked": {kind: 12}}, 1, 30).work)).result
    assert answer.sentence.startswith(f"With 12 more {kind}s")
    (row,) = answer.tables["clamps_that_were_asked_for"].to_dict("records")
    assert row["what"] == f"12 more {kind}s"
    if row["average_saved_days_low"] != row["average_saved_days_high"]:
        assert f"average order ships {abs(row['average_saved_days']):.1f} days" in answer.sentence


def test_what_was_run_before_is_not_run_again(
    begin: Callable[..., Job], scenario: Scenario, monkeypatch: pytest.MonkeyPatch
) -> None:
    run: list[range] = []

    def note(scenarios: Any, execution: Any, first: int, replications: int) -> Any:
        run.append(range(first, first + replications))
        return run_range(scenarios, execution, first, replications)

    monkeypatch.setattr(extending, "run_range", note)
    store = Store()
    asked = Asked(BatchSizes, scenario, SIZES, 1, 40)
    end_of(begin(asked.work, store))
    again = end_of(begin(asked.work, store))
    assert (again.state, again.done, again.total) == ("done", 0, 0)
    assert {number for numbers in run for number in numbers} == {*range(40)}
    run.clear()
    end_of(begin(replace(asked, replications=60).work, store))
    assert {number for numbers in run for number in numbers} == {*range(40, 60)}


@pytest.mark.usefixtures("little_at_first")
def test_a_study_that_is_stopped_says_so_and_stands_on_what_was_finished(
    begin: Callable[..., Job], scenario: Scenario
) -> None:
    job = begin(Asked(BatchSizes, scenario, SIZES, 1, 5000).work)
    job.wait_for_first(30)
    job.cancel()
    end_of(job)
    assert job.state == "cancelled"
    assert 2 <= job.result.replications < 5000
    assert len(np.unique([outcome.replications.size for outcome in job.result.study.outcomes.values()])) == 1


def test_numbers_of_orders_and_one_run_are_answered(begin: Callable[..., Job], scenario: Scenario) -> None:
    answer = end_of(begin(Asked(delivery_question, scenario, {"orders": range(1, 6)}, 1, 400).work)).result
    assert list(answer.rows["orders"]) == [1, 2, 3, 4, 5]
    run = end_of(begin(Asked(OneRun, scenario, {"likely": True}).work)).result
    assert len(run.pieces) == len(run.pieces["piece"].unique())
    assert run.sentence.startswith("One run with everything at its likely time")


def test_questions_are_told_apart_by_all_they_depend_on(scenario: Scenario) -> None:
    one = Asked(BatchSizes, scenario, SIZES, 1, 100)
    others = [
        Asked(MoreClamps, scenario, SIZES, 1, 100),
        Asked(BatchSizes, scenario, {"sizes": (2,)}, 1, 100),
        Asked(BatchSizes, change_scenario(scenario, {"run.batch": 1}), SIZES, 1, 100),
        Asked(BatchSizes, scenario, SIZES, 2, 100),
        Asked(BatchSizes, scenario, SIZES, 1, 200),
    ]
    assert len({asked.key for asked in [one, *others]}) == 6
    assert Asked(BatchSizes, scenario, dict(SIZES), 1, 100).key == one.key
