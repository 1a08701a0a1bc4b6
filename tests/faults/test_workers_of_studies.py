"""Worker processes of a study that are killed, and what becomes of them when their program ends."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from multiprocessing import active_children
from pathlib import Path

import pytest

from shopsim.errors import RunError
from shopsim.scenario import Scenario, change_scenario, load_scenario
from shopsim.study import run_study

from .processes import MAX_WAIT_S, is_running, wait_until

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("simpy_only")]  # worker processes are the SimPy model's


@pytest.fixture
def alternatives(trays: Path) -> dict[str, Scenario]:
    scenario = change_scenario(load_scenario(trays), {"run.orders": 2})
    return {f"batches of {size}": change_scenario(scenario, {"run.batch": size}) for size in (1, 2)}


def test_a_killed_worker_is_replaced_and_the_result_is_the_same(alternatives: dict[str, Scenario]) -> None:
    killed: list[int] = []

    def kill_one(_done: int, _total: int) -> None:
        if not killed:
            worker = active_children()[0]
            assert worker.pid is not None
            killed.append(worker.pid)
            os.kill(worker.pid, signal.SIGKILL)

    study = run_study(alternatives, replications=300, jobs=2, on_progress=kill_one)
    assert killed
    assert study.complete
    assert study.rows.equals(run_study(alternatives, replications=300).rows)


def test_workers_killed_again_and_again_are_a_clear_error(alternatives: dict[str, Scenario]) -> None:
    def kill_all(_done: int, _total: int) -> None:
        for worker in active_children():
            worker.kill()

    with pytest.raises(RunError, match="ended from outside"):
        run_study(alternatives, replications=2000, jobs=2, on_progress=kill_all)
    assert not active_children()


SCRIPT = """
import multiprocessing, signal, sys
from shopsim.scenario import load_scenario
from shopsim.study import run_study

def tell(done, total):
    print(*[worker.pid for worker in multiprocessing.active_children()], flush=True)

if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.default_int_handler)  # also where whoever runs the tests has Ctrl-C ignored
    run_study({"a": load_scenario(sys.argv[1])}, replications=1_000_000, jobs=2, on_progress=tell)
"""


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_no_worker_outlives_the_program(how: signal.Signals, trays: Path, tmp_path: Path) -> None:
    (tmp_path / "study.py").write_text(SCRIPT)
    with subprocess.Popen(
        [sys.executable, str(tmp_path / "study.py"), str(trays)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=tmp_path,
    ) as program:
        assert program.stdout is not None
        workers = [int(pid) for pid in program.stdout.readline().split()]
        assert len(workers) == 2
        assert all(is_running(pid) for pid in workers)
        program.send_signal(how)
        program.communicate(timeout=MAX_WAIT_S)
    wait_until(lambda: not any(map(is_running, workers)), "the workers end")
