"""A worker process that is killed in the middle of a study: the study says so, and is the same in the end or stops."""

from __future__ import annotations

import json
import os
import signal
from pathlib import Path

import pytest

from shopsim.cli import main

from .processes import end_of, is_running, processor_seconds, start, wait_until, workers_of

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("simpy_only")]  # worker processes are the SimPy model's

SAID = "a worker process was ended from outside; the runs it was at are made again"
WORDS = ["batches", "trays.toml", "--json", "--set", "run.orders=12"]


def test_one_that_is_killed_is_told_and_the_result_is_the_same(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    words = [*WORDS, "--replications", "300"]
    monkeypatch.chdir(folder)
    assert main([*words, "--jobs", "1"]) == 0
    undisturbed = json.loads(capsys.readouterr().out)
    with start([*words, "--jobs", "2"], folder, told_of_loading=False) as process:
        wait_until(lambda: process.poll() is not None or len(workers_of(process.pid)) == 2, "two workers")
        os.kill(workers_of(process.pid)[0], signal.SIGKILL)
        code, out, err = end_of(process)
    assert (code, err) == (0, f"{SAID}\n")
    assert json.loads(out) == undisturbed


def test_all_that_are_killed_again_and_again_end_the_study_with_a_mend(folder: Path) -> None:
    killed: set[int] = set()
    with start([*WORDS, "--replications", "20000", "--jobs", "2"], folder, told_of_loading=False) as process:

        def kill_them_or_see_the_end() -> bool:
            for worker in workers_of(process.pid):
                if processor_seconds(worker) > 0.1:
                    os.kill(worker, signal.SIGKILL)
                    killed.add(worker)
            return process.poll() is not None

        wait_until(kill_them_or_see_the_end, "the study ends")
        code, out, err = end_of(process)
    assert (code, out) == (1, "")
    assert err.splitlines() == [SAID] * 3 + [
        "worker processes were ended from outside 4 times · free some memory or use fewer jobs; "
        'a script of your own must start its work under if __name__ == "__main__":'
    ]
    assert len(killed) >= 4
    wait_until(lambda: not any(map(is_running, killed)), "the workers are gone")
