"""Kills a process at every step of a write, and looks at what it leaves; prints one JSON object.

    python -m faults.stepping FOLDER        (in the folder tests)

A *step* is a line of the module that writes files, about to be carried out. The process is a fork of this one, so it
loads nothing and is killed as a power cut would end it: no ``finally``, no buffer written out. Further ones are
killed by the system in the middle of a write, at a moment chosen by chance, and two write at the same time.
"""

from __future__ import annotations

import json
import os
import random
import resource
import shutil
import signal
import sys
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

from shopsim.scenario import writing
from shopsim.scenario.writing import write_bytes_safely

from .writers import WRITERS, Writer

#: Functions of the module whose lines are no steps of a write: they only work out what is to be written.
_THINKING = ("edit_file", "_edited", "_refuse_other_file", "_put_item", "_item", "save_scenario")
#: A file so large that writing it takes the system some milliseconds.
LARGE = 2_000_000
ROUNDS = 30


def _end_at(step: int) -> Callable[[FrameType, str, Any], Any]:
    """A trace function that kills this process when it is about to take step number ``step`` of a write, from 1."""
    taken = 0

    def look(frame: FrameType, event: str, _value: Any) -> Any:
        nonlocal taken
        if frame.f_code.co_filename != writing.__file__ or frame.f_code.co_name in _THINKING:
            return None if event == "call" else look
        if event == "line":
            taken += 1
            if taken == step:
                os.kill(os.getpid(), signal.SIGKILL)
        return look

    return look


def in_child(work: Callable[[], object]) -> int:
    """Do something in a fork of this process; the number of the signal that killed it, 0 if it came to its end."""
    child = os.fork()
    if child == 0:
        try:
            work()
            os._exit(0)
        finally:
            os._exit(1)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return os.WTERMSIG(status)
    if os.WEXITSTATUS(status) != 0:
        raise RuntimeError("the process failed instead of being killed")
    return 0


def left_in(folder: Path, writer: Writer) -> list[str]:
    """Files of the folder that are neither the written one nor any that belongs beside it."""
    return sorted(path.name for path in folder.iterdir() if path.name not in (writer.name, *writer.beside))


def kill_at_steps(folder: Path, writer: Writer) -> dict[str, Any]:
    """Kill at each step of putting version 1 in place of version 0: how often which was there, and what was beside it."""
    found: Counter[int] = Counter()
    beside: set[str] = set()
    step = 0
    folder.mkdir(exist_ok=True)
    for path in folder.iterdir():
        path.unlink()
    writer.write(folder, 0)
    old = (folder / writer.name).read_bytes()
    while True:
        step += 1
        (folder / writer.name).write_bytes(old)

        def write(step: int = step) -> None:
            sys.settrace(_end_at(step))
            writer.write(folder, 1)
            sys.settrace(None)

        if in_child(write) == 0:
            break
        found[writer.read(folder)] += 1
        parts = left_in(folder, writer)
        beside.update(parts)
        if parts:
            writer.write(folder, 2)  # what was left beside it is in nobody's way
            assert writer.read(folder) == 2
            for part in parts:
                (folder / part).unlink()
    assert writer.read(folder) == 1
    return {"steps": step - 1, "old": found[0], "new": found[1], "beside": sorted(beside)}


def kill_within_a_write(folder: Path, writer: Writer) -> dict[str, Any]:
    """Have the system kill the process when it has written so many bytes: it counts, and stops in the middle.

    ``left``: the size of the part that was left each time; None where none was begun, as for a workbook, which is first
    put together elsewhere.
    """
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    writer.write(folder, 1)
    size = (folder / writer.name).stat().st_size
    writer.write(folder, 0)
    left = []
    for most in (0, 1, size // 3, size - 20):

        def write(most: int = most) -> None:
            sys.dont_write_bytecode = True
            signal.signal(signal.SIGXFSZ, signal.SIG_DFL)
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
            resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
            writer.write(folder, 1)

        assert in_child(write) == signal.SIGXFSZ
        assert writer.read(folder) == 0
        parts = left_in(folder, writer)
        left.append(max(((folder / part).stat().st_size for part in parts), default=None))
        for part in parts:
            (folder / part).unlink()
    return {"size": size, "left": left}


def _fill(path: Path, letters: str) -> None:
    while True:
        for letter in letters:
            write_bytes_safely(path, letter.encode() * LARGE)


def _look_at_large(path: Path) -> str:
    data = path.read_bytes()
    letter = data[:1]
    assert data == letter * LARGE, "a mixture, or cut short"
    return letter.decode()


def kill_at_any_moment(folder: Path) -> dict[str, int]:
    """Kill a process that writes one large file after the other, after a while chosen by chance."""
    rng = random.Random(5)
    path = folder / "large"
    write_bytes_safely(path, b"0" * LARGE)
    found: Counter[str] = Counter()
    for _ in range(ROUNDS):
        child = os.fork()
        if child == 0:
            try:
                _fill(path, "ab")
            finally:
                os._exit(1)
        time.sleep(rng.uniform(0.0, 0.05))
        os.kill(child, signal.SIGKILL)
        assert os.WIFSIGNALED(os.waitpid(child, 0)[1])
        found[_look_at_large(path)] += 1
    return dict(found)


def write_at_the_same_time(folder: Path) -> dict[str, int]:
    """Two processes put their own versions in place of one file; it is looked at all the while."""
    path = folder / "shared"
    write_bytes_safely(path, b"0" * LARGE)
    children = []
    for letter in "ab":
        child = os.fork()
        if child == 0:
            try:
                _fill(path, letter)
            finally:
                os._exit(1)
        children.append(child)
    found: Counter[str] = Counter()
    end = time.monotonic() + 60.0
    while (min(found["a"], found["b"]) < 5 or found.total() < ROUNDS) and time.monotonic() < end:
        found[_look_at_large(path)] += 1
    for child in children:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
    return dict(found)


def main(folder: Path) -> None:
    """Everything, each kind of file by itself."""
    steps = {name: kill_at_steps(folder / "steps", writer) for name, writer in WRITERS.items()}
    within = {name: kill_within_a_write(folder / "within", writer) for name, writer in WRITERS.items()}
    told = {"steps": steps, "within": within}
    print(json.dumps({**told, "any moment": kill_at_any_moment(folder), "together": write_at_the_same_time(folder)}))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
