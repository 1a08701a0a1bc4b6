"""Commands as processes of their own that are interrupted, and what Linux tells of them in /proc."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
#: Seconds after which a process that should have ended is taken to hang; generous, for machines that are busy.
MAX_WAIT_S = 120.0


def start(words: list[str], folder: Path, *, told_of_loading: bool = True) -> subprocess.Popen[str]:
    """``shopsim`` with these words, in a group of its own, as a shell would start it: Ctrl-C has its usual effect.

    ``told_of_loading``: each module that is loaded is told on standard error.
    """
    told = ["-X", "importtime"] if told_of_loading else []
    return subprocess.Popen(
        [sys.executable, *told, "-m", "shopsim.cli", *words],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(TOP), "OPENBLAS_NUM_THREADS": "1"},
        start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )


def wait_for_module(process: subprocess.Popen[str], module: str) -> None:
    """Until the module is loaded."""
    assert process.stderr is not None
    for line in process.stderr:
        if line.startswith("import time:") and line.rsplit("|", 1)[1].strip() == module:
            return
    raise AssertionError(f"ended before it loaded {module}")


def press_ctrl_c(process: subprocess.Popen[str]) -> None:
    """What a terminal does: the whole group is interrupted."""
    os.killpg(process.pid, signal.SIGINT)


def end_of(process: subprocess.Popen[str]) -> tuple[int, str, str]:
    """(exit code, output, complaints) when it has ended; what was told of loading is left out."""
    try:
        out, err = process.communicate(timeout=MAX_WAIT_S)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        process.communicate()
        raise
    told = [line for line in err.splitlines(keepends=True) if not line.startswith("import time:")]
    return process.returncode, out, "".join(told)


def facts_of(process: int) -> list[str]:
    """What Linux tells of a process after its name: state, parent, ...; empty when it is gone."""
    try:
        return (Path("/proc") / str(process) / "stat").read_text().rsplit(")", 1)[1].split()
    except OSError:
        return []


def is_running(process: int) -> bool:
    """Whether it is there and has not ended."""
    return facts_of(process)[:1] not in ([], ["Z"])


def processor_seconds(process: int) -> float:
    """Processor time it has had so far."""
    facts = facts_of(process)
    return (int(facts[11]) + int(facts[12])) / os.sysconf("SC_CLK_TCK") if facts else 0.0


def workers_of(parent: int) -> list[int]:
    """Worker processes of a program, by their numbers: its children that do its work."""
    numbers = [int(entry.name) for entry in Path("/proc").iterdir() if entry.name.isdigit()]
    children = [number for number in numbers if facts_of(number)[1:2] == [str(parent)]]
    return [number for number in children if b"spawn_main" in _words_of(number)]


def _words_of(process: int) -> bytes:
    try:
        return (Path("/proc") / str(process) / "cmdline").read_bytes()
    except OSError:
        return b""


def wait_until(holds: Callable[[], bool], what: str) -> None:
    """Look again and again; AssertionError, saying what never held, after a long while."""
    end = time.monotonic() + MAX_WAIT_S
    while not holds():
        assert time.monotonic() < end, f"never: {what}"
        time.sleep(0.01)


def use_processor(process: subprocess.Popen[str], seconds: float) -> None:
    """Until it has had so much more processor time."""
    until = processor_seconds(process.pid) + seconds
    wait_until(
        lambda: process.poll() is not None or processor_seconds(process.pid) >= until,
        f"{seconds} s of processor time",
    )
    assert process.poll() is None, f"ended by itself: {end_of(process)}"
