"""Ctrl-C in every command, at several moments: exit code 3, one plain sentence, no process left, nothing lost.

What comes before ``main`` is Python's own beginning, a hundredth of a second, and not ours to guard.
"""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest

from shopsim.cli import main
from shopsim.cli.stopping import Stop

from .processes import (
    end_of,
    is_running,
    press_ctrl_c,
    processor_seconds,
    start,
    use_processor,
    wait_for_module,
    wait_until,
    workers_of,
)

pytestmark = pytest.mark.slow

STUDY = ["--replications", "100000", "--jobs", "1", "--set", "run.orders=2", "--set", "run.batch=1"]
#: Runs that take a while each, for questions that end when enough is known.
LONG = ["--jobs", "1", "--set", "run.orders=150", "--set", "run.batch=10"]
#: Each command, and a module during whose loading or right after it the command is interrupted.
WHILE_LOADING = {
    "check": (["check", "trays.toml"], "numpy"),
    "schema": (["schema"], "shopsim.errors"),
    "once": (["once", "trays.toml"], "pandas"),
    "decide": (["decide", "trays.toml"], "datetime"),
    "batches": (["batches", "trays.toml"], "pydantic"),
    "clamps": (["clamps", "trays.toml"], "simpy"),
    "holdups": (["holdups", "trays.toml"], "shopsim.scenario.values"),
    "delivery": (["delivery", "trays.toml"], "scipy"),
    "times": (["times", "trays.toml"], "shopsim.cli.options"),
}
PARTIAL = r"stopped before the end: rests on [\d,]+ replications"
#: Each command that works for a while, what it says when it is interrupted then, and what it shows all the same.
AT_WORK = {
    "check": (["check", "trays.toml", "--set", "run.orders=9000", "--set", "run.batch=10"], r"stopped", None),
    "once": (["once", "trays.toml", "--set", "run.orders=9000", "--set", "run.batch=10"], r"stopped", None),
    "decide": (["decide", "trays.toml", *LONG], PARTIAL, "Batch size"),
    "clamps": (["clamps", "trays.toml", *LONG], PARTIAL, "clamp"),
    "holdups": (["holdups", "trays.toml", *LONG], PARTIAL, "Where"),
    "delivery": (["delivery", "trays.toml", *STUDY], PARTIAL, "order"),
    "times": (["times", "trays.toml", *STUDY], PARTIAL + "; nothing is written", "window"),
    "times --write": (
        ["times", "trays.toml", "log.csv", "--write", "--replications", "100000", "--jobs", "1"],
        PARTIAL + "; nothing is written",
        "typical time of",
    ),
}


#: Each command that makes many runs, and what it shows when it was stopped after some of them.
IN_THE_MIDDLE = {
    "check": (["check", "trays.toml", "--deep", "--replications", "100000"], None),
    "decide": (["decide", "trays.toml", *STUDY], "Batch size"),
    "batches": (["batches", "trays.toml", *STUDY], "Batch size"),
    "clamps": (["clamps", "trays.toml", *STUDY], "clamp"),
    "holdups": (["holdups", "trays.toml", *STUDY], "Where"),
    "delivery": (["delivery", "trays.toml", *STUDY], "order"),
    "delivery --orders": (["delivery", "trays.toml", "--orders", "2..6", *STUDY], "order"),
    "delivery --ship-by": (["delivery", "trays.toml", "--ship-by", "2027-03-01", *STUDY[:4]], None),
    "times": (["times", "trays.toml", *STUDY], "window"),
    "times of a log": (["times", "trays.toml", "log.csv", *STUDY], "window"),
}
#: Before which run it is stopped, counted from 0.
MOMENTS = (0, 1, 2, 5, 13, 34, 89, 233)


def last_module(command: str) -> str:
    """The module with which all is loaded that a command needs before it begins."""
    return f"shopsim.cli.{f'{command}_command' if command in ('check', 'once', 'times') else 'studies'}"


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
@pytest.mark.parametrize("command", IN_THE_MIDDLE)
def test_before_any_run_of_a_command(
    command: str, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """In this process, so that the moment is exact: too soon says so, and later on there is a result of what was run."""
    words, shown = IN_THE_MIDDLE[command]
    monkeypatch.chdir(folder)
    outputs = []
    for moment in MOMENTS:
        looks = iter(range(moment))
        monkeypatch.setattr(Stop, "asked", lambda _stop, looks=looks: next(looks, None) is None)
        assert main(words) == 3
        said = capsys.readouterr()
        assert re.fullmatch(r"stopped [^\n]+\n", said.err)
        assert ("rests on" in said.err) == bool(said.out)
        outputs.append(said.out)
    assert outputs[0] == ""
    assert shown is None or shown in outputs[-1]


@pytest.mark.parametrize("command", WHILE_LOADING)
def test_while_a_command_loads(command: str, folder: Path) -> None:
    words, module = WHILE_LOADING[command]
    with start(words, folder) as process:
        wait_for_module(process, module)
        press_ctrl_c(process)
        assert end_of(process) == (3, "", "stopped\n")


@pytest.mark.usefixtures("simpy_only")
@pytest.mark.parametrize("command", AT_WORK)
def test_while_a_command_is_at_work(command: str, folder: Path) -> None:
    words, told, shown = AT_WORK[command]
    interrupt_at_work(words, told, shown, folder)


def test_while_the_compiled_floor_is_at_work(folder: Path) -> None:
    words = ["delivery", "trays.toml", "--replications", "100000", "--jobs", "1", "--set", "run.orders=400"]
    interrupt_at_work(words, PARTIAL, "order", folder, "shopsim.engine.compiled.states")


def interrupt_at_work(words: list[str], told: str, shown: str | None, folder: Path, module: str = "") -> None:
    before = (folder / "trays.toml").read_bytes()
    with start(words, folder) as process:
        wait_for_module(process, module or last_module(words[0]))
        use_processor(
            process, 0.5 if shown is None else 8.0 if words[0] == "decide" else 4.0
        )  # last modules, first runs
        press_ctrl_c(process)
        code, out, err = end_of(process)
    assert code == 3
    assert re.fullmatch(told, err.rstrip("\n")), err
    if shown is None:
        assert out == ""
    else:
        assert shown in out
    assert (folder / "trays.toml").read_bytes() == before
    assert sorted(path.name for path in folder.iterdir()) == ["log.csv", "trays.toml"]


@pytest.mark.usefixtures("simpy_only")
def test_while_worker_processes_load(folder: Path) -> None:
    """A worker that is interrupted before it is told to leave that to its parent must not complain either."""
    words = ["batches", "trays.toml", "--replications", "100000", "--jobs", "2"]
    with start(words, folder, told_of_loading=False) as process:
        wait_until(lambda: process.poll() is not None or len(workers_of(process.pid)) == 2, "two workers")
        workers = workers_of(process.pid)
        assert len(workers) == 2
        wait_until(lambda: min(map(processor_seconds, workers)) >= 0.1, "the workers load")
        press_ctrl_c(process)
        code, out, err = end_of(process)
    assert code == 3
    assert re.fullmatch(r"stopped (after \d+ of \d+ replications, too few to say anything|before the end: .*)\n", err)
    assert bool(out) == ("before the end" in err)
    wait_until(lambda: not any(map(is_running, workers)), "the workers end")


def test_while_nobody_reads_the_output(folder: Path) -> None:
    """As in front of a pager: what is still to be written waits for ever, but a second Ctrl-C ends that too."""
    words = ["once", "trays.toml", "--json", "--set", "run.orders=300"]
    with start(words, folder, told_of_loading=False) as process:
        wait_until(lambda: has_stood_still(process.pid), "the pipe is full")
        assert process.poll() is None
        press_ctrl_c(process)
        time.sleep(0.3)
        press_ctrl_c(process)
        code, out, err = end_of(process)
    assert code == 3
    assert set(err.splitlines()) == {"stopped"}
    assert out.startswith("{")


def has_stood_still(process: int) -> bool:
    """Whether it has worked, and then not for a while."""
    before = processor_seconds(process)
    time.sleep(0.5)
    return before > 0.5 and processor_seconds(process) == before


def test_twice_in_a_row(folder: Path) -> None:
    with start(["batches", "trays.toml", *STUDY], folder) as process:
        wait_for_module(process, last_module("batches"))
        use_processor(process, 0.3)
        press_ctrl_c(process)
        press_ctrl_c(process)
        code, _, err = end_of(process)
    assert code == 3
    assert err.startswith("stopped")
    assert err.count("\n") == 1
