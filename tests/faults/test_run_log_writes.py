"""The log of a run is only ever added to: a process that is killed loses one row at most, and two who write lose none."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

from shopsim.scenario.run_log import decode_log, read_run_log

TOP = Path(__file__).resolve().parents[2]
#: Adds rows without end, and says the number of each once it is on the disk.
WRITER = """\
import sys
from shopsim.scenario.appending import append_row
path, name, most = sys.argv[1], sys.argv[2], int(sys.argv[3])
for n in range(1, most + 1):
    append_row(path, {"when": "2027-02-03 21:00", "what": "done", "operation": name, "batch": str(n), "note": "x" * 300})
    print(n, flush=True)
"""
ROUNDS = 12


def start(path: Path, name: str, most: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), name, str(most)],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(TOP)},
    )


def numbers(path: Path, name: str) -> list[int]:
    log = read_run_log(decode_log(path.read_bytes()), "log.csv")
    assert not log.faults
    return [row.batch or 0 for row in log.rows if row.operation == name]


def test_killed_at_any_moment_every_row_that_was_told_is_there(tmp_path: Path) -> None:
    path, chance = tmp_path / "log.csv", random.Random(3)
    said_in_all = 0
    for number in range(ROUNDS):
        with start(path, f"round {number}", 100_000) as process:
            assert process.stdout is not None
            said = [process.stdout.readline()]
            time.sleep(chance.uniform(0.0, 0.05))
            process.send_signal(signal.SIGKILL)
            said += process.stdout.readlines()
        done = [int(line) for line in said if line.endswith("\n")]
        there = numbers(path, f"round {number}")
        assert there[: len(done)] == done
        assert len(done) <= len(there) <= len(done) + 1
        said_in_all += len(done)
    assert said_in_all > ROUNDS


def test_two_who_write_at_once_lose_nothing(tmp_path: Path) -> None:
    path, most = tmp_path / "log.csv", 150
    both = [start(path, name, most) for name in ("one", "other")]
    for process in both:
        out, _ = process.communicate()
        assert out.split() == [str(n) for n in range(1, most + 1)]
    for name in ("one", "other"):
        assert numbers(path, name) == list(range(1, most + 1))
    lines = path.read_text().splitlines()
    assert len(lines) == 2 * most + 1
    assert sum(line.startswith("when,") for line in lines) == 1  # whoever came first wrote the head
