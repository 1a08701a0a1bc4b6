"""It holds that worker processes are shared fairly, that one that dies takes nobody with it, and that results are kept apart."""

from __future__ import annotations

import pickle
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import Future, wait
from pathlib import Path

import numpy as np
import pytest

from shopsim.app.shared_pool import FairExecutor, SharedPool
from shopsim.app.store import MIN_BYTES, Store, name_result
from shopsim.errors import RunError
from shopsim.scenario import Scenario, change_scenario, load_scenario
from shopsim.study import run_study
from shopsim.study.fingerprint import hash_scenario

#: Run in a worker process, which cannot load this file: dies; dies the first time; takes a moment and gives a number.
DIE = "__import__('os')._exit(3)"
DIE_ONCE = """
import os
if not os.path.exists(mark):
    open(mark, "w").close()
    os._exit(3)
"""


def slowly(share: FairExecutor, number: int) -> Future[int]:
    return share.submit(eval, f"(__import__('time').sleep(0.05), {number})[1]")


@pytest.fixture
def scenario(trays: Path) -> Scenario:
    return load_scenario(trays)


@pytest.fixture(scope="module")
def workers() -> Iterator[SharedPool]:
    made = SharedPool(1)
    yield made
    made.close()


def test_a_study_on_shared_workers_is_that_of_one_process_bit_for_bit(workers: SharedPool, scenario: Scenario) -> None:
    here = run_study({"now": scenario}, replications=30, seed=4)
    there = run_study({"now": scenario}, replications=30, seed=4, jobs=4, executor=workers.open_share())
    assert np.array_equal(here.outcomes["now"].measured, there.outcomes["now"].measured)
    assert np.array_equal(here.order_days["now"], there.order_days["now"])


def test_a_new_share_has_its_turn_while_another_has_much_to_do(workers: SharedPool) -> None:
    order: list[str] = []
    long, short = workers.open_share(), workers.open_share()
    slow = [slowly(long, n) for n in range(20)]
    quick = slowly(short, 99)
    for future, name in [*((one, "long") for one in slow), (quick, "short")]:
        future.add_done_callback(lambda _, name=name: order.append(name))
    assert quick.result(timeout=30) == 99
    wait(slow, timeout=30)
    assert order.index("short") <= 4
    assert sorted(order) == ["long"] * 20 + ["short"]


def test_first_looks_go_before_refinements(workers: SharedPool) -> None:
    order: list[str] = []
    refining, looking = workers.open_share(), workers.open_share()
    refining.urgent = False
    slow = [slowly(refining, n) for n in range(8)]
    quick = [slowly(looking, n) for n in range(4)]
    for future, name in [*((one, "refine") for one in slow), *((one, "look") for one in quick)]:
        future.add_done_callback(lambda _, name=name: order.append(name))
    wait([*slow, *quick], timeout=30)
    deadline = time.monotonic() + 5
    while len(order) < 12 and time.monotonic() < deadline:
        time.sleep(0.01)
    assert max(place for place, name in enumerate(order) if name == "look") <= 6


def test_a_piece_that_was_cancelled_is_not_begun(workers: SharedPool) -> None:
    share = workers.open_share()
    futures = [slowly(share, n) for n in range(10)]
    assert futures[-1].cancel()
    assert [future.result(timeout=30) for future in futures[:-1]] == list(range(9))


def test_a_worker_that_dies_fails_only_the_job_that_ended_it(workers: SharedPool) -> None:
    good, bad = workers.open_share(), workers.open_share()
    fine = [slowly(good, n) for n in range(6)]
    dead = bad.submit(eval, DIE)
    fine += [slowly(good, n) for n in range(6, 12)]
    with pytest.raises(RunError, match="ended from outside"):
        dead.result(timeout=60)
    assert [future.result(timeout=60) for future in fine] == list(range(12))


def test_a_worker_that_was_killed_once_is_replaced_and_its_work_done(workers: SharedPool, tmp_path: Path) -> None:
    share = workers.open_share()
    share.submit(exec, DIE_ONCE, {"mark": str(tmp_path / "mark")}).result(timeout=60)
    assert (tmp_path / "mark").exists()


def test_an_error_in_the_work_comes_back_as_it_is(workers: SharedPool) -> None:
    with pytest.raises(ZeroDivisionError):
        workers.open_share().submit(divmod, 1, 0).result(timeout=60)


def test_worker_processes_load_no_page(workers: SharedPool) -> None:
    loaded = "[name for name in ('streamlit', 'plotly', 'shopsim.app.main') if name in __import__('sys').modules]"
    assert workers.open_share().submit(eval, loaded).result(timeout=60) == []


def test_a_worker_whose_server_has_ended_ends_without_a_word() -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "shopsim.app.worker_process", "1000"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    assert process.stdin is not None
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    call = pickle.dumps((len, ("abc",), {}))
    process.stdin.write(len(call).to_bytes(8, "big") + call)
    process.stdin.close()
    assert process.wait(60) == 0
    assert process.stderr.read() == b""
    process.stderr.close()


def test_closing_cancels_what_waits() -> None:
    workers = SharedPool(1)
    share = workers.open_share()
    futures = [slowly(share, n) for n in range(30)]
    closer = threading.Thread(target=workers.close)
    closer.start()
    closer.join(timeout=60)
    assert futures[-1].cancelled()


def test_urgent_shares_are_counted_while_they_live(workers: SharedPool) -> None:
    before = workers.urgent_shares
    shares: list[FairExecutor] = [workers.open_share() for _ in range(3)]
    assert workers.urgent_shares == before + 3
    shares[0].urgent = False
    assert workers.urgent_shares == before + 2


def test_the_store_lets_the_longest_unused_go_and_never_holds_more_than_its_room() -> None:
    store = Store(most_bytes=MIN_BYTES * 3)
    for name in "abc":
        store.put(name, name)
    assert store.get("a") == "a"
    store.put("d", "d")
    assert store.get("b") is None
    assert [store.get(name) for name in "acd"] == ["a", "c", "d"]
    assert len(store) == 3


def test_what_is_larger_than_all_the_room_is_not_held(scenario: Scenario) -> None:
    store = Store(most_bytes=MIN_BYTES + 100)
    study = run_study({"now": scenario}, replications=10)
    store.put("study", study)
    store.put("small", 1)
    assert store.get("study") is None
    assert store.get("small") == 1


def test_names_of_results_tell_every_part_apart(scenario: Scenario) -> None:
    other = change_scenario(scenario, {"title": "another"})
    names = {
        name_result(kind, hash_scenario(one), seed)
        for kind in ("a", "b")
        for one in (scenario, other)
        for seed in (1, 2)
    }
    assert len(names) == 8
    assert name_result("a", "bc") != name_result("ab", "c")
